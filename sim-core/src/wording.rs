//! What sentences are made of: numbers without tails, and the words nearest to misspelt ones.

/// The word nearest to a misspelt one, if one is near.
pub fn nearest_word(
    found: &str,
    words: impl IntoIterator<Item = &'static str>,
) -> Option<&'static str> {
    best_above(0.78, words.into_iter().map(|word| (likeness(word, found), word)))
}

/// The longest word that is held against names (bytes): no name of ours is nearly so long.
const WORD_MOST: usize = 100;

/// How alike two words are, from 0 to 1. Comparing takes the product of their lengths: what is
/// far too long for a name is like none.
pub(crate) fn likeness(a: &str, b: &str) -> f64 {
    if a.len().max(b.len()) > WORD_MOST { 0.0 } else { strsim::jaro_winkler(a, b) }
}

/// What has the best score, if that is above a least one.
pub(crate) fn best_above<T>(least: f64, scored: impl Iterator<Item = (f64, T)>) -> Option<T> {
    scored.filter(|(score, _)| *score > least).max_by(|a, b| a.0.total_cmp(&b.0)).map(|best| best.1)
}

/// A value rid of the last digits that conversion between units leaves: 12 figures.
pub fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// A number as a person writes it, without the tail that conversion of units leaves.
pub fn plain(value: f64) -> String {
    if value.is_finite() { tidy(value).to_string() } else { value.to_string() }
}

/// What helps with a text that a reader writes for a number and that is none: a decimal comma, or
/// something between thousands. Nothing where neither is what is wrong.
///
/// ```
/// use sim_core::wording::number_hint;
/// assert_eq!(number_hint("5 000"), "; write nothing between thousands");
/// assert!(number_hint("0,67").contains("not a comma") && number_hint("5 0").is_empty());
/// ```
pub fn number_hint(text: &str) -> &'static str {
    let between = |c: char| c.is_whitespace() || "'\u{2019}_".contains(c);
    let bare: String = text.trim().replace(between, "");
    let thousands = |part: &str| part.bytes().take_while(u8::is_ascii_digit).count() == 3;
    match bare.replacen(',', ".", 1).parse::<f64>() {
        Err(_) if bare.replace(',', "").parse::<f64>().is_err() => "",
        Ok(_) if bare.contains(',') => "; write a decimal point, not a comma",
        _ if text.trim().split(between).skip(1).all(thousands) => {
            "; write nothing between thousands"
        }
        _ => "",
    }
}

/// A question for the end of a sentence about a name that does not exist.
pub fn did_you_mean(nearest: Option<&str>) -> String {
    did_you_mean_one_of(nearest.as_slice())
}

/// The same where more than one name may be meant.
///
/// ```
/// let asked = sim_core::wording::did_you_mean_one_of(&["a", "b", "c"]);
/// assert_eq!(asked, " (did you mean `a`, `b` or `c`?)");
/// ```
pub fn did_you_mean_one_of(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => format!(" (did you mean {last}?)"),
        Some((last, before)) => format!(" (did you mean {} or {last}?)", before.join(", ")),
    }
}
