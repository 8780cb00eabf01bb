//! Charts by name, and sheets for a class.

use crate::common::{json, luminance, program, run, text};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// Name and command of every figure that the lessons tell.
fn render() -> Vec<(String, Vec<String>)> {
    let mut render = Vec::new();
    let mut pages: Vec<PathBuf> = std::fs::read_dir(root().join("notebooks-md"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    pages.sort();
    for page in pages {
        let Ok(page) = std::fs::read_to_string(&page) else { continue };
        for line in page.lines().filter_map(|line| line.strip_prefix("Drawn by: `quarterturn ")) {
            let words: Vec<&str> = line.trim_end_matches('`').split_whitespace().collect();
            let at = words.iter().position(|word| ["--chart", "-o"].contains(word)).unwrap();
            let name = Path::new(words[at + 1]).file_stem().unwrap().to_str().unwrap();
            let rest = words[..at].iter().chain(&words[at + 2..]);
            render.push((name.to_string(), rest.map(|word| word.to_string()).collect()));
        }
    }
    render
}

/// A figure whose drawing takes no more than a moment.
fn quick() -> String {
    let mut render = render().into_iter();
    render.find(|(_, words)| words[0] == "predict").expect("a prediction among the figures").0
}

#[test]
fn every_figure_of_the_lessons_has_a_name_and_is_told_in_the_list() {
    let list = json(&["chart", "list"]);
    let charts = list["charts"].as_array().unwrap();
    let render = render();
    assert!(!render.is_empty());
    assert_eq!(charts.len(), render.len());
    for (chart, (name, words)) in charts.iter().zip(&render) {
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
    for (name, words) in render().iter().filter(|(_, words)| !words.contains(&"--map".into())) {
        let (one, two) = (at(&format!("{name}.svg")), at(&format!("{name}-own.svg")));
        assert!(run(&["chart", name, "-o", &one]).status.success(), "{name}");
        let mut own: Vec<&str> = words.iter().map(String::as_str).collect();
        own.extend([if words[0] == "draw" { "-o" } else { "--chart" }, &two]);
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
    for (name, _) in render().iter().filter(|(_, words)| !words.contains(&"--map".into())) {
        let place = folder.path().join(format!("{name}.svg"));
        let place = place.to_str().unwrap();
        let done = run(&["chart", name, "-o", place, "--theme", "projector"]);
        assert!(done.status.success(), "{}", text(&done.stderr));
        let svg = std::fs::read_to_string(place).unwrap();
        let view = attribute(&svg, "viewBox").unwrap();
        let side = |at: usize| view.split(' ').nth(at).unwrap().parse::<f64>().unwrap();
        let (across, down) = (side(2), side(3));
        // It fills a slide of 16 by 9, 1080 px high.
        assert!((across / down - 16.0 / 9.0).abs() < 1e-3, "{name}: {view}");
        let slide = 1080.0 / down;
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
            let shown = size * slide;
            assert!(shown >= 24.0, "{name}: text of {shown} px on a slide: {element}");
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

fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|e| (e.file_name().into_string().unwrap(), std::fs::read(e.path()).unwrap()))
        .collect();
    files.sort();
    files
}

/// The lesson that the quick figure belongs to.
fn lesson() -> String {
    quick()[..2].parse::<u32>().unwrap().to_string()
}

#[test]
fn a_class_is_the_same_files_twice_and_a_trainee_gets_no_curve_and_no_data() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let made = |name: &str, whom: &str| {
        let place = at(name);
        let args = ["--lesson", &lesson(), "--for", whom, "--rig", "four", "--quiet"];
        let output = run(&[&["class", "-o", place.to_str().unwrap()], &args[..]].concat());
        assert!(output.status.success(), "{}", text(&output.stderr));
        files(&place)
    };
    let trainee = made("one", "trainee");
    assert!(trainee == made("two", "trainee"), "the same bytes twice");
    let stem = &quick()[..2];
    let names = |files: &[(String, Vec<u8>)]| {
        files.iter().map(|(name, _)| name[3..].to_string()).collect::<Vec<_>>()
    };
    let few = [
        "what-to-print.txt",
        "blank.pdf",
        "blank.png",
        "blank.svg",
        "quiz.pdf",
        "worksheet.pdf",
        "es.pdf",
    ];
    assert_eq!(names(&trainee), few);
    let instructor = made("three", "instructor");
    let all = [
        "what-to-print.txt",
        "blank.pdf",
        "blank.png",
        "blank.svg",
        "chart.csv",
        "chart.pdf",
        "chart.png",
        "chart.svg",
        "key.pdf",
        "machine.pdf",
        "machine.png",
        "machine.svg",
        "quiz-answers.pdf",
        "quiz.pdf",
        "worksheet.pdf",
        "es.pdf",
    ];
    assert_eq!(names(&instructor), all);
    let of = |files: &[(String, Vec<u8>)], name: &str| {
        let name = format!("{stem}-{name}");
        files.iter().find(|(known, _)| *known == name).unwrap().1.clone()
    };
    for (name, bytes) in &instructor {
        if name.ends_with("worksheet.pdf") {
            // PDF 32000-1:2008, 12.5.6.5 and 12.6.4.7: a link annotation with an URI action.
            let whole = String::from_utf8_lossy(bytes);
            assert!(whole.contains("/Link") && whole.contains("names.pdf"), "{name}");
        }
        if name.ends_with(".pdf") {
            assert!(bytes.starts_with(b"%PDF-"), "{name}");
            let whole = String::from_utf8_lossy(bytes);
            assert!(whole.contains("DejaVuSans"), "{name} has no font inside");
            for word in ["CreationDate", "ModDate"] {
                assert!(!whole.contains(word), "{name} has a date");
            }
        }
    }
    // Curves are drawn in one colour, and nothing else is drawn as a line in it.
    let curves = |svg: &[u8]| {
        let svg = text(svg);
        svg.split("<polyline")
            .skip(1)
            .filter(|line| line.split('>').next().unwrap().contains("#004488"))
            .count()
    };
    assert!(curves(&of(&instructor, "chart.svg")) > 0);
    assert_eq!(curves(&of(&trainee, "blank.svg")), 0);
    let chart = text(&of(&instructor, "chart.svg"));
    let title = chart.split("<title id=\"t\">").nth(1).unwrap().split('<').next().unwrap();
    assert!(!text(&of(&trainee, "blank.svg")).contains(title));
}

#[test]
fn each_pupil_gets_a_sheet_of_their_own_and_the_same_seed_the_same_bytes() {
    let folder = TempDir::new().unwrap();
    let made = |name: &str, more: &[&str]| {
        let place = folder.path().join(name);
        let args = ["class", "--lesson", "1", "-o", place.to_str().unwrap(), "--pupils", "3"];
        let output = run(&[&args[..], more].concat());
        assert!(output.status.success(), "{}", text(&output.stderr));
        files(&place)
    };
    let sheets = |files: &[(String, Vec<u8>)]| {
        let sheets = files.iter().filter(|(name, _)| name.starts_with("01-worksheet-"));
        sheets.map(|(_, bytes)| bytes.clone()).collect::<Vec<_>>()
    };
    let one = made("one", &["--seed", "5"]);
    assert!(one == made("two", &["--seed", "5"]), "the same bytes twice");
    let other = made("three", &["--seed", "6"]);
    let (one, other) = (sheets(&one), sheets(&other));
    assert_eq!(one.len(), 3);
    assert!(one[0] != one[1] && one[1] != one[2] && one[0] != one[2]);
    assert!(one != other, "another seed, other numbers");
    let whole = made("four", &["--seed", "5", "--for", "instructor"]);
    assert!(sheets(&whole) == one, "the instructor has the pupils' very sheets");
    assert!(whole.iter().any(|(name, _)| name == "01-pupils.pdf"));
    let args = ["class", "-o", "/tmp/never-made", "--pupils", "0"];
    assert_eq!(run(&args).status.code(), Some(4));
}

#[test]
fn no_blank_chart_of_the_course_holds_a_curve() {
    let folder = TempDir::new().unwrap();
    let render = render();
    for (name, _) in render.iter().filter(|(_, words)| !words.contains(&"--map".into())) {
        let place = folder.path().join(name);
        let number = name[..2].parse::<u32>().unwrap().to_string();
        let output = run(&["class", "--lesson", &number, "-o", place.to_str().unwrap()]);
        assert!(output.status.success(), "{}", text(&output.stderr));
        let blanks = files(&place).into_iter().filter(|(file, _)| file.ends_with("svg"));
        for (file, svg) in blanks.filter(|(file, _)| file.contains("blank")) {
            for line in text(&svg).split("<polyline").skip(1) {
                let line = line.split('>').next().unwrap();
                assert!(!line.contains("#004488"), "{name}, {file}: {line}");
            }
        }
    }
}

#[test]
fn a_class_refuses_what_is_there_and_what_is_not() {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("class");
    let place = place.to_str().unwrap();
    let number = lesson();
    let made = |more: &[&str]| run(&[&["class", "-o", place, "--lesson", &number], more].concat());
    std::fs::create_dir(place).unwrap();
    let output = made(&[]);
    assert_eq!(output.status.code(), Some(5));
    assert!(text(&output.stderr).contains("--force") && files(Path::new(place)).is_empty());
    assert_eq!(made(&["--force"]).status.code(), Some(0));
    let nowhere = folder.path().join("no/such");
    let args = ["class", "--lesson", &number, "-o", nowhere.to_str().unwrap()];
    assert_eq!(run(&args).status.code(), Some(5));
    let code =
        |args: &[&str]| run(&[&["class", "-o", "/tmp/never-made"], args].concat()).status.code();
    assert_eq!(code(&["--lesson", "99"]), Some(4));
    assert_eq!(code(&["--lesson", "x"]), Some(2));
    assert_eq!(code(&["--for", "me"]), Some(2));
    assert_eq!(code(&["--rig", "sixx", "--lesson", "99"]), Some(3));
    assert_eq!(run(&["class"]).status.code(), Some(2));
}
