//! Charts by name, questions and sheets for a class.

mod common;

use common::{json, program, run, text};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// Name and command of every figure that the lessons tell.
fn told() -> Vec<(String, Vec<String>)> {
    let mut told = Vec::new();
    let mut pages: Vec<PathBuf> = std::fs::read_dir(root().join("notebooks-md"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    pages.sort();
    for page in pages {
        let Ok(page) = std::fs::read_to_string(&page) else { continue };
        for line in page.lines().filter_map(|line| line.strip_prefix("Drawn by: `quarterturn ")) {
            let words: Vec<&str> = line.trim_end_matches('`').split_whitespace().collect();
            let at = words.iter().position(|word| *word == "--chart").unwrap();
            let name = Path::new(words[at + 1]).file_stem().unwrap().to_str().unwrap();
            let rest = words[..at].iter().chain(&words[at + 2..]);
            told.push((name.to_string(), rest.map(|word| word.to_string()).collect()));
        }
    }
    told
}

/// A figure whose drawing takes no more than a moment.
fn quick() -> String {
    let mut told = told().into_iter();
    told.find(|(_, words)| words[0] == "predict").expect("a prediction among the figures").0
}

#[test]
fn every_figure_of_the_lessons_has_a_name_and_is_told_in_the_list() {
    let list = json(&["chart", "list"]);
    let charts = list["charts"].as_array().unwrap();
    let told = told();
    assert!(!told.is_empty());
    assert_eq!(charts.len(), told.len());
    for (chart, (name, words)) in charts.iter().zip(&told) {
        assert_eq!(chart["name"], name.as_str());
        assert_eq!(chart["draws"], format!("quarterturn {}", words.join(" ")));
        assert!(chart["lesson"].as_u64().unwrap() >= 1);
        assert!(chart["shows"].as_str().unwrap().len() > 20, "{chart}");
    }
}

#[test]
fn a_chart_for_print_is_what_its_command_draws() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    for (name, words) in told().iter().filter(|(_, words)| !words.contains(&"--map".into())) {
        let (one, two) = (at(&format!("{name}.svg")), at(&format!("{name}-own.svg")));
        assert!(run(&["chart", name, "-o", &one]).status.success(), "{name}");
        let mut own: Vec<&str> = words.iter().map(String::as_str).collect();
        own.extend(["--chart", &two]);
        assert!(run(&own).status.success(), "{name}");
        let (one, two) = (std::fs::read(one).unwrap(), std::fs::read(two).unwrap());
        assert!(one == two, "{name}");
        let svg = text(&one);
        assert!(svg.contains("<title") && svg.contains("<desc"));
    }
    let data = at("data.csv");
    let name = quick();
    let done = run(&["chart", &name, "-o", &at("one.png"), "--data", &data]);
    assert!(done.status.success(), "{}", text(&done.stderr));
    assert!(run(&["chart", &name, "-o", &at("two.csv")]).status.success());
    assert_eq!(std::fs::read(data).unwrap(), std::fs::read(at("two.csv")).unwrap());
}

/// Relative luminance of a colour (WCAG 2.2, relative luminance).
fn luminance(colour: [u8; 3]) -> f64 {
    let share = |byte: u8| {
        let value = f64::from(byte) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * share(colour[0]) + 0.7152 * share(colour[1]) + 0.0722 * share(colour[2])
}

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    element.split(&format!(" {name}=\"")).nth(1)?.split('"').next()
}

fn colour(hex: &str) -> [u8; 3] {
    let hex = hex.trim_start_matches('#');
    [0, 2, 4].map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
}

#[test]
fn a_chart_for_the_projector_is_read_from_the_back_of_a_room() {
    let folder = TempDir::new().unwrap();
    for (name, _) in told().iter().filter(|(_, words)| !words.contains(&"--map".into())) {
        let place = folder.path().join(format!("{name}.svg"));
        let place = place.to_str().unwrap();
        let done = run(&["chart", name, "-o", place, "--theme", "projector"]);
        assert!(done.status.success(), "{}", text(&done.stderr));
        let svg = std::fs::read_to_string(place).unwrap();
        let view = attribute(&svg, "viewBox").unwrap();
        let across: f64 = view.split(' ').nth(2).unwrap().parse().unwrap();
        // Grounds that words stand on: white, and the fills of bands.
        let fills = svg.split("<rect ").skip(1).filter_map(|e| attribute(e, "fill"));
        let grounds: Vec<[u8; 3]> = fills
            .filter(|fill| *fill != "none")
            .map(colour)
            .filter(|c| luminance(*c) > 0.5)
            .collect();
        assert!(!grounds.is_empty());
        let mut texts = 0;
        for element in svg.split("<text ").skip(1) {
            let element = &element[..element.find('>').unwrap()];
            let element = format!(" {element}");
            let size: f64 = attribute(&element, "font-size").unwrap().parse().unwrap();
            let shown = size * 820.0 / across;
            assert!(shown >= 18.0, "{name}: text of {shown} px at 820 px: {element}");
            let ink = luminance(colour(attribute(&element, "fill").unwrap()));
            for ground in &grounds {
                // WCAG 2.2, success criterion 1.4.3: 4.5 to 1.
                let contrast = (luminance(*ground) + 0.05) / (ink + 0.05);
                assert!(contrast >= 4.5, "{name}: contrast {contrast} on {ground:?}: {element}");
            }
            texts += 1;
        }
        assert!(texts > 5, "{name}");
    }
}

#[test]
fn a_chart_refuses_what_it_cannot_draw() {
    let name = quick();
    let refused = |args: &[&str], code: i32, words: &str| {
        let output = run(args);
        assert_eq!(output.status.code(), Some(code), "{args:?}: {}", text(&output.stderr));
        let said = text(&output.stderr);
        assert!(said.contains(words), "{args:?}: {said}");
    };
    refused(&["chart", "no-such", "-o", "x.svg"], 2, "no-such");
    refused(&["chart", &name[..name.len() - 1], "-o", "x.svg"], 2, "did you mean");
    refused(&["chart", &name], 2, "-o FILE");
    refused(&["chart", "list", "-o", "x.svg"], 2, "--output");
    refused(&["chart", &name, "-o", "x.doc"], 2, ".svg");
    refused(&["chart", &name, "-o", "x.svg", "--data", "x.txt"], 2, ".csv");
    refused(&["chart", &name, "-o", "x.svg", "--rig", "sixx"], 3, "did you mean");
    let folder = TempDir::new().unwrap();
    let there = folder.path().join("there.svg");
    std::fs::write(&there, "mine").unwrap();
    refused(&["chart", &name, "-o", there.to_str().unwrap()], 5, "--force");
    let args = ["chart", &name, "-o", there.to_str().unwrap(), "--force", "--rig", "four"];
    let output = program().args(args).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(std::fs::read_to_string(&there).unwrap().contains("Rig four"));
}
