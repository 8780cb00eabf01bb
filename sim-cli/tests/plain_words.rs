//! How long the sentences are that a person reads: README, the pages beside it, the lessons
//! and their answers.
//!
//! What is counted: prose and items of lists. What is not: code blocks, tables, headings,
//! pictures and the commands that draw them, comments. A piece of code within a sentence is
//! one word, a link its words. A sentence ends with `.`, `!` or `?` before a blank, or with
//! its paragraph or item; a semicolon and a colon end nothing.

use std::path::{Path, PathBuf};

/// Most words of a sentence, and the median that a page stays below.
const LONGEST: usize = 40;
const MEDIAN: usize = 16;
/// Most lines of the README.
const README_LINES: usize = 120;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// The pages of a folder, in their order.
fn pages_in(folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(root().join(folder)).unwrap();
    let mut pages: Vec<PathBuf> = entries
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.sort();
    pages
}

/// README, lessons, answers, and the other pages that are written for a technician.
fn pages() -> Vec<PathBuf> {
    // Measured values with their sources, and a list of terms, each a table for the most part.
    let left_out = ["evidence.md", "references.md", "names.md"];
    let beside = pages_in("notebooks-md").into_iter();
    let beside = beside.filter(|path| !left_out.iter().any(|name| path.ends_with(name)));
    // The answers to lessons 1 to 8: those that were gone through so far.
    let answers = pages_in("notebooks-md/answers").into_iter();
    [root().join("README.md")].into_iter().chain(beside).chain(answers).collect()
}

/// A text without what stands between two marks, the marks included; a piece that is taken
/// out leaves a word or a blank line.
fn without(text: &str, opens: &str, closes: &str, leaves: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(opens) {
        kept += &rest[..at];
        kept += leaves;
        let inside = &rest[at + opens.len()..];
        rest = inside.find(closes).map_or("", |end| &inside[end + closes.len()..]);
    }
    kept + rest
}

/// Links but for their words.
fn without_links(text: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    while let Some(at) = rest.find("](") {
        kept += &rest[..at];
        rest = rest[at..].split_once(')').map_or("", |(_, after)| after);
    }
    kept + rest
}

/// Paragraphs and items of a page, each in one line.
fn paragraphs(page: &str) -> Vec<String> {
    let page = without(page, "```", "```", "\n\n");
    let page = without(&page, "<!--", "-->", "");
    let mut found = vec![String::new()];
    for line in page.lines().map(str::trim) {
        let skipped = ["#", "|", "![", "Drawn by:"].iter().any(|start| line.starts_with(start));
        let number = line.split_once(". ").filter(|(n, _)| n.parse::<u32>().is_ok());
        let item = line.strip_prefix("- ").or(number.map(|(_, item)| item));
        if skipped || line.is_empty() || item.is_some() {
            found.push(String::new());
        }
        if !skipped {
            let last = found.last_mut().unwrap();
            *last += " ";
            *last += item.unwrap_or(line);
        }
    }
    found.iter().map(|text| without_links(&without(text, "`", "`", "code"))).collect()
}

/// Sentences with their counts of words.
fn sentences(page: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for paragraph in paragraphs(page) {
        let mut sentence: Vec<&str> = Vec::new();
        let words: Vec<&str> = paragraph.split_whitespace().collect();
        for (at, word) in words.iter().enumerate() {
            if word.contains(|c: char| c.is_alphanumeric()) {
                sentence.push(word);
            }
            let bare = word.trim_end_matches(['"', '\'', ')', '*']);
            let ends = bare.ends_with(['.', '!', '?']) || at + 1 == words.len();
            if ends && !sentence.is_empty() {
                found.push((sentence.len(), sentence.join(" ")));
                sentence.clear();
            }
        }
    }
    found
}

#[test]
fn the_words_of_a_sentence_are_counted_as_a_reader_counts_them() {
    let page = "# Not this title\n\n\
        Three words stand. Is this `quarterturn sweep --all` one [linked word](a.md)? **Yes.**\n\n\
        ```sh\nnot this\n```\n\n| not | this |\n\n![not this](a.svg)\n\n\
        Drawn by: `not this`\n\n\
        - An item; with a half, at 0.70<!--1 /a--> V: it goes on\n  over two lines\n\
        1. Another ______\n<!-- hidden words\n- hidden item\n-->\n";
    let counts: Vec<usize> = sentences(page).iter().map(|(count, _)| *count).collect();
    assert_eq!(counts, [3, 6, 1, 14, 1]);
}

#[test]
fn plain_words_count() {
    for page in pages() {
        let found = sentences(&std::fs::read_to_string(&page).unwrap());
        for (count, sentence) in &found {
            assert!(*count <= LONGEST, "{page:?}: {count} words: {sentence}");
        }
        let mut counts: Vec<usize> = found.iter().map(|(count, _)| *count).collect();
        counts.sort();
        let median = counts[counts.len() / 2];
        println!(
            "{page:?}: {} sentences, median {median}, longest {:?}",
            counts.len(),
            counts.last()
        );
        assert!(median < MEDIAN, "{page:?}: half of the sentences have {median} words or more");
    }
}

#[test]
fn the_readme_is_read_in_one_go() {
    let lines = std::fs::read_to_string(root().join("README.md")).unwrap().lines().count();
    assert!(lines <= README_LINES, "{lines} lines");
}
