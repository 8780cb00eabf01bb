//! Numbers of a lesson's text, each bound to the command that works it out.
//!
//! Behind a number stands a mark that a reader of the page does not see:
//! `35<!--1 /before/duty_percent--> %`: the first command of the lesson, counted through its
//! page and its answers, and where in its JSON the number stands. Command 0 is the rig itself,
//! `quarterturn rig show`. More than one word is worked out from left to right as on a
//! calculator with a stack: `/after/air_kg_h /before/air_kg_h - 100 *`, with `+ - * / abs`.
//! So the same text gives another rig's numbers, and a test holds it against the program.

use crate::text::{fixed, signed};
use serde_json::Value;

const OPENS: &str = "<!--";
const CLOSES: &str = "-->";

/// A piece of text.
#[derive(Debug, PartialEq)]
pub enum TextPart<'a> {
    /// Words, and numbers that are bound to nothing.
    Words(&'a str),
    /// A number as it stands on the page, and its mark.
    Number(&'a str, Binding<'a>),
}

/// What works a number out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binding<'a> {
    /// Which command of the lesson, counted from 1; 0 is the rig.
    pub command: usize,
    /// From where in its JSON, and how.
    pub formula: &'a str,
}

/// A text in pieces. A comment that is no mark stays with the words.
pub fn pieces(text: &str) -> Vec<TextPart<'_>> {
    let mut pieces = Vec::new();
    let (mut from, mut look) = (0, 0);
    while let Some(open) = text[look..].find(OPENS).map(|at| look + at) {
        let Some(close) = text[open..].find(CLOSES).map(|at| open + at) else { break };
        look = close + CLOSES.len();
        let inside = text[open + OPENS.len()..close].trim();
        let mark = inside
            .split_once(' ')
            .and_then(|(command, formula)| Some((command.parse().ok()?, formula.trim())));
        let Some((command, formula)) = mark else { continue };
        let number = number_before(text, open);
        pieces.push(TextPart::Words(&text[from..number]));
        pieces.push(TextPart::Number(&text[number..open], Binding { command, formula }));
        from = look;
    }
    pieces.push(TextPart::Words(&text[from..]));
    pieces
}

/// Where the number that ends at a place begins: digits, a point, and a sign of its own.
fn number_before(text: &str, end: usize) -> usize {
    let digits = text[..end].trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
    match digits.strip_suffix(['+', '-']) {
        Some(before) if !before.ends_with(|c: char| c.is_ascii_alphanumeric()) => before.len(),
        _ => digits.len(),
    }
}

impl Binding<'_> {
    /// The value in a command's JSON, or what is wrong with the mark.
    pub fn value(&self, found: &Value) -> Result<f64, String> {
        let mut stack: Vec<f64> = Vec::new();
        for word in self.formula.split_whitespace() {
            let value = if word.len() > 1 && word.starts_with('/') {
                let value = found.pointer(word).and_then(Value::as_f64);
                value.ok_or_else(|| format!("{word} is no number there"))?
            } else if let Ok(number) = word.parse() {
                number
            } else {
                let mut pop = || stack.pop().ok_or_else(|| format!("nothing left for {word}"));
                let last = pop()?;
                match word {
                    "abs" => last.abs(),
                    "+" => pop()? + last,
                    "-" => pop()? - last,
                    "*" => pop()? * last,
                    "/" => pop()? / last,
                    _ => {
                        return Err(format!("{word} is neither a place, a number nor + - * / abs"));
                    }
                }
            };
            stack.push(value);
        }
        match stack[..] {
            [value] => Ok(value),
            _ => Err(format!("{} leaves {} numbers", self.formula, stack.len())),
        }
    }
}

/// A value with the decimals and the sign of a number that stands on a page.
pub fn worded_like(shown: &str, value: f64) -> String {
    let decimals = shown.split_once('.').map_or(0, |(_, after)| after.len());
    if shown.starts_with('+') { signed(value, decimals) } else { fixed(value, decimals) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_number_is_found_before_its_mark_with_its_own_sign_only() {
        let of = |text: &'static str| match pieces(text)[1] {
            TextPart::Number(shown, mark) => (shown, mark.command, mark.formula),
            TextPart::Words(_) => panic!("{text}"),
        };
        assert_eq!(of("at 35<!--1 /a--> %"), ("35", 1, "/a"));
        assert_eq!(of("at -0.05<!--2 /a /b - 100 *--> turn"), ("-0.05", 2, "/a /b - 100 *"));
        assert_eq!(of("3-4<!--1 /a-->"), ("4", 1, "/a"));
        assert_eq!(pieces("a <!-- remark --> b"), [TextPart::Words("a <!-- remark --> b")]);
    }

    #[test]
    fn a_formula_is_worked_out_from_left_to_right() {
        let found = json!({"a": 4.0, "b": [1.0, 3.0]});
        let of = |formula| Binding { command: 1, formula }.value(&found);
        assert_eq!(of("/a"), Ok(4.0));
        assert_eq!(of("/a /b/1 - 100 *"), Ok(100.0));
        assert_eq!(of("/b/0 /a - abs /b/1 /"), Ok(1.0));
        assert!(of("/c").is_err() && of("/a /a").is_err() && of("+").is_err());
    }

    #[test]
    fn a_value_takes_the_decimals_and_the_plus_of_what_stands_there() {
        assert_eq!(worded_like("0.70", 0.7049), "0.70");
        assert_eq!(worded_like("+0.000", -0.0001), "+0.000");
        assert_eq!(worded_like("-3.5", 2.04), "2.0");
        assert_eq!(worded_like("12", 12.6), "13");
    }
}
