//! Every command and every figure of the lessons and the README, run and compared.
//!
//! To write outputs again after a change that is meant: `TRYCMD=overwrite` for the console
//! blocks, `FIGURES=overwrite` for the figures.

use crate::common::{program, text};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// Markdown files of the lessons and their answers, and the README.
fn pages() -> Vec<PathBuf> {
    let mut pages: Vec<PathBuf> = ["notebooks-md", "notebooks-md/answers"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(root().join(folder)).unwrap())
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.push(root().join("README.md"));
    pages.sort();
    pages
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// The lessons proper: pages whose name starts with two digits.
fn lessons() -> Vec<PathBuf> {
    let numbered = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let in_answers = path.parent().unwrap().ends_with("answers");
        name.as_bytes()[..2].iter().all(u8::is_ascii_digit) && !in_answers
    };
    pages().into_iter().filter(numbered).collect()
}

/// trycmd passes silently over an unknown program, an empty glob and a block without a
/// command, so all three are ruled out before it runs.
#[test]
fn the_commands_of_the_lessons_print_what_the_lessons_show() {
    let cases = trycmd::TestCases::new();
    // A slow machine would tell its progress.
    cases.env("QUARTERTURN_NO_PROGRESS", "1");
    for page in pages() {
        let mut commands = 0;
        let whole = read(&page);
        for block in whole.split("```console\n").skip(1) {
            let block = block.split("```").next().unwrap();
            let first = block.lines().next().unwrap_or_default();
            assert!(first.starts_with("$ quarterturn "), "{page:?}: {first}");
            assert!(!first.contains(['|', '>', '<']), "{page:?}: {first} needs a shell");
            assert!(block.lines().count() > 1, "{page:?}: {first} shows no output");
            assert!(!block.contains("\n...\n"), "{page:?}: {first} hides its output");
            commands += 1;
        }
        if lessons().contains(&page) {
            assert!(commands > 0, "{page:?} runs no command");
        }
        if commands > 0 {
            cases.case(&page);
        }
    }
    assert!(!lessons().is_empty());
    cases.run();
}

/// Each figure's line `Drawn by: ...` is run into another place and compared byte by byte.
#[test]
fn the_figures_of_the_lessons_are_what_their_commands_draw() {
    let folder = tempfile::TempDir::new().unwrap();
    let overwrite = std::env::var("FIGURES").is_ok_and(|value| value == "overwrite");
    let mut drawn = Vec::new();
    for page in lessons() {
        let whole = read(&page);
        for line in whole.lines().filter_map(|line| line.strip_prefix("Drawn by: `")) {
            let words: Vec<&str> = line.trim_end_matches('`').split_whitespace().collect();
            let flag = |word: &&str| ["--chart", "-o"].contains(word);
            let at = words.iter().position(flag).expect("a picture's file") + 1;
            let name = words[at];
            assert!(whole.contains(&format!("]({name})")), "{page:?} does not show {name}");
            let committed = root().join("notebooks-md").join(name);
            let fresh = folder.path().join(name.replace('/', "-"));
            let mut args = words[1..].to_vec();
            args[at - 1] = fresh.to_str().unwrap();
            let output = program().args(&args).output().unwrap();
            assert!(output.status.success(), "{line}: {}", text(&output.stderr));
            if overwrite {
                std::fs::copy(&fresh, &committed).unwrap();
            }
            let same = std::fs::read(&committed).unwrap() == std::fs::read(&fresh).unwrap();
            assert!(
                same,
                "{committed:?} is not what `{line} draws; FIGURES=overwrite writes it again"
            );
            drawn.push(name.to_string());
        }
        let shown = whole.matches("](figures/").count();
        let render = whole.matches("Drawn by: `").count();
        assert_eq!(shown, render, "{page:?} has a figure without its command");
    }
    let committed: Vec<_> =
        std::fs::read_dir(root().join("notebooks-md/figures")).unwrap().collect();
    assert_eq!(committed.len(), drawn.len(), "a figure that no lesson draws");
}

#[test]
fn every_lesson_follows_the_template_and_names_its_caution() {
    let headings = [
        "What it is about",
        "At the bench",
        "Try first",
        "Your prediction",
        "The command",
        "The figure",
        "Why",
        "Ask yourself",
        "What this model leaves out",
        "For the instructor",
    ];
    for page in lessons() {
        let whole = read(&page);
        let found: Vec<&str> = whole.lines().filter_map(|l| l.strip_prefix("## ")).collect();
        assert_eq!(found, headings, "{page:?}");
        assert!(whole.contains("Caution"), "{page:?} names no caution");
        assert!(whole.contains("vehicle maker's data"), "{page:?} does not defer to the maker");
        let answers = page.parent().unwrap().join("answers").join(page.file_name().unwrap());
        assert!(answers.exists(), "{page:?} has no answers");
    }
}

#[test]
fn every_term_and_every_source_of_a_lesson_is_explained() {
    let names = read(&root().join("notebooks-md/names.md")).to_lowercase();
    let references = read(&root().join("notebooks-md/references.md"));
    for page in lessons() {
        let whole = read(&page);
        let terms: Vec<&str> = whole.split("**").skip(1).step_by(2).collect();
        assert!(!terms.is_empty(), "{page:?} explains nothing");
        for term in terms {
            assert!(
                names.contains(&format!("**{}**", term.to_lowercase())),
                "{page:?}: {term} is not in names.md"
            );
        }
        for part in whole.split('[').skip(1) {
            let key = part.split(']').next().unwrap();
            let cites = key.ends_with(|c: char| c.is_ascii_digit())
                && key.starts_with(|c: char| c.is_ascii_lowercase());
            if cites && !part.starts_with(&format!("{key}](")) {
                assert!(
                    references.contains(&format!("| [{key}] |")),
                    "{page:?}: [{key}] is not in references.md"
                );
            }
        }
    }
}

/// The `sh` blocks of a page.
fn shell_blocks(page: &str) -> Vec<&str> {
    let blocks = page.split("```sh\n").skip(1);
    blocks.map(|block| block.split("```").next().unwrap().trim()).collect()
}

/// Runs each line of `quarterturn ...` in a folder of its own, one after another.
fn run_each(blocks: &[&str]) {
    let folder = tempfile::TempDir::new().unwrap();
    for line in blocks.iter().flat_map(|block| block.lines()) {
        let words = line.strip_prefix("quarterturn ");
        let words = words.unwrap_or_else(|| panic!("`{line}` is not run"));
        let output =
            program().current_dir(&folder).args(words.split_whitespace()).output().unwrap();
        assert!(output.status.success(), "{line}: {}", text(&output.stderr));
    }
}

/// The first two `sh` blocks of the README hold one command each: the job, and the tests.
#[test]
fn the_readme_starts_with_the_job_and_the_tests() {
    let readme = read(&root().join("README.md"));
    let blocks = shell_blocks(&readme);
    assert!(blocks.len() >= 2);
    assert!(blocks[..2].iter().all(|block| block.lines().count() == 1), "{blocks:?}");
    let job = blocks[0].split(" -- ").nth(1).unwrap();
    assert!(job.starts_with("sweep") && job.contains("sweep.svg"), "{job}");
    assert!(blocks[1].starts_with("cargo test --release"), "{}", blocks[1]);
    let folder = tempfile::TempDir::new().unwrap();
    let output = program().current_dir(&folder).args(job.split_whitespace()).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(folder.path().join("sweep.svg").exists());
    run_each(&blocks[2..]);
}

#[test]
fn every_command_of_the_pages_beside_the_readme_runs() {
    let mut ran = 0;
    for page in pages().iter().filter(|page| **page != root().join("README.md")) {
        let page = read(page);
        let blocks = shell_blocks(&page);
        run_each(&blocks);
        ran += blocks.len();
    }
    assert!(ran >= 2, "the list of commands and the rig of one's own");
}

/// Every command of the program has its line in the list of commands.
#[test]
fn every_command_stands_in_the_list_of_commands() {
    let list = read(&root().join("notebooks-md/commands.md"));
    let help = text(&program().arg("--help").output().unwrap().stdout);
    let indented = help.lines().filter_map(|line| line.strip_prefix("    "));
    let names: Vec<&str> = indented
        .filter(|line| line.starts_with(|c: char| c.is_ascii_lowercase()))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(names.len() > 15, "{names:?}");
    for name in names {
        assert!(list.contains(&format!("\n- `{name}")), "{name}");
    }
}

/// Links within the pages lead somewhere.
#[test]
fn no_page_links_to_what_is_not_there() {
    for page in pages() {
        let whole = read(&page);
        // What waits in a comment is not shown.
        let shown: String = whole
            .split("<!--")
            .enumerate()
            .map(|(at, part)| if at == 0 { part } else { part.split_once("-->").unwrap().1 })
            .collect();
        for part in shown.split("](").skip(1) {
            let link = part.split(')').next().unwrap().split('#').next().unwrap();
            if link.is_empty() || link.contains("://") || link.contains(' ') {
                continue;
            }
            assert!(page.parent().unwrap().join(link).exists(), "{page:?}: {link}");
        }
    }
}
