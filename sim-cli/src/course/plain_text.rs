//! Text of the lessons as it stands on a sheet.

/// Markdown without its marks: emphasis, code, and links but for their words.
pub fn bare(text: &str) -> String {
    with_terms(text).replace("**", "")
}

/// The same, but the terms keep the stars that make them bold.
pub fn with_terms(text: &str) -> String {
    let mut rest = text.replace('`', "");
    let mut bare = String::new();
    while let Some(start) = rest.find('[') {
        let after = &rest[start + 1..];
        let Some(end) = after.find(']') else { break };
        bare += &rest[..start];
        match after[end + 1..].strip_prefix('(').and_then(|link| link.find(')')) {
            Some(close) => {
                bare += &after[..end];
                rest = after[end + 1 + 1 + close + 1..].to_string();
            }
            None => {
                bare += &format!("[{}]", &after[..end]);
                rest = after[end + 1..].to_string();
            }
        }
    }
    bare + &rest
}

/// A paragraph, or an item of a list.
pub struct Paragraph {
    /// The item's mark, empty before a paragraph.
    pub mark: String,
    /// The text, its terms between two stars.
    pub text: String,
}

/// A section's pieces, without the lines that lead to answers and quiz. Of a console block only
/// its command stands, behind the sentence that leads to it with a colon.
pub fn pieces(section: &str) -> Vec<Paragraph> {
    let mut pieces: Vec<Paragraph> = Vec::new();
    let mut code = false;
    for line in section.lines() {
        if line.starts_with("```") {
            code = !code;
            continue;
        }
        if let (true, Some(command)) = (code, line.strip_prefix("$ "))
            && let Some(Paragraph { text, .. }) = pieces.last_mut()
            && let Some(said) = text.strip_suffix(':')
        {
            *text = format!("{said} ({command}).");
        }
        let line = line.trim();
        let skipped = ["# ", "![", "Drawn by:", "Answers are in", "Then the quiz", "|"];
        if code || line.is_empty() || skipped.iter().any(|start| line.starts_with(start)) {
            continue;
        }
        let number = line.split_once(". ").filter(|(n, _)| n.parse::<u32>().is_ok());
        let (mark, text) = match (line.strip_prefix("- "), number) {
            (Some(item), _) => ("-".into(), item),
            (None, Some((number, item))) => (format!("{number}."), item),
            (None, None) => (String::new(), line),
        };
        pieces.push(Paragraph { mark, text: with_terms(text) });
    }
    pieces
}
