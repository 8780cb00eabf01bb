//! Every figure of the lessons, measured in its SVG: words apart from words and from curves,
//! what is lean told from what is rich without colour.

use crate::common::{json, luminance, run, text, text_width};
use tempfile::TempDir;

/// Left, top, right, bottom.
type Bounds = [f64; 4];

/// What is drawn, in the order in which it is.
enum Drawn {
    Text { bounds: Bounds, size: f64, words: String },
    Line { places: Vec<(f64, f64)>, colour: String },
    Area { bounds: Bounds, colour: String },
}

/// The curves, and the lines that a reader must tell from words.
const LINES: [&str; 3] = ["#004488", "#AA3333", "#1A1A1A"];
const LEAN: [&str; 2] = ["#DEEAF6", "#BED0E8"];
const RICH: [&str; 2] = ["#FAE7D4", "#EEC8A8"];
const HATCHED: &str = "#CDA580";

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    element.split(&format!(" {name}=\"")).nth(1)?.split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).unwrap_or_else(|| panic!("no {name}: {element}")).parse().unwrap()
}

fn drawn(svg: &str) -> Vec<Drawn> {
    let mut all = Vec::new();
    for piece in svg.split('<').skip(1) {
        let (start, rest) = piece.split_once('>').unwrap_or((piece, ""));
        if start.starts_with("text ") {
            let words = rest.trim().replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">");
            let size = number(start, "font-size");
            let wide = text_width(&words, size, start.contains("font-weight"));
            let (x, y) = (number(start, "x"), number(start, "y"));
            let left = match attribute(start, "text-anchor") {
                Some("middle") => x - 0.5 * wide,
                Some("end") => x - wide,
                _ => x,
            };
            // From the top of capitals down to the line that they stand on.
            let bounds = [left, y - 0.46 * size, left + wide, y + 0.3 * size];
            all.push(Drawn::Text { bounds, size, words });
        } else if start.starts_with("polyline ") {
            let points = attribute(start, "points").unwrap().split_whitespace();
            let place = |point: &str| {
                let (x, y) = point.split_once(',').unwrap();
                (x.parse().unwrap(), y.parse().unwrap())
            };
            let colour = attribute(start, "stroke").unwrap().to_string();
            all.push(Drawn::Line { places: points.map(place).collect(), colour });
        } else if start.starts_with("rect ") {
            let colour = attribute(start, "fill").unwrap_or("none").to_string();
            if colour != "none" {
                let of = |name: &str| number(start, name);
                let (left, top) = (of("x"), of("y"));
                let bounds = [left, top, left + of("width"), top + of("height")];
                all.push(Drawn::Area { bounds, colour });
            }
        }
    }
    all
}

/// Whether a straight line passes through a box (clipped against its sides in turn).
fn crosses(bounds: &Bounds, from: (f64, f64), upto: (f64, f64)) -> bool {
    let (dx, dy) = (upto.0 - from.0, upto.1 - from.1);
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    let sides = [
        (-dx, from.0 - bounds[0]),
        (dx, bounds[2] - from.0),
        (-dy, from.1 - bounds[1]),
        (dy, bounds[3] - from.1),
    ];
    for (along, room) in sides {
        if along == 0.0 {
            if room < 0.0 {
                return false;
            }
        } else if along < 0.0 {
            enters = enters.max(room / along);
        } else {
            leaves = leaves.min(room / along);
        }
    }
    enters < leaves
}

fn covers(area: &Bounds, box_: &Bounds) -> bool {
    area[0] <= box_[0] && area[1] <= box_[1] && area[2] >= box_[2] && area[3] >= box_[3]
}

/// What is wrong with the words of a drawing.
fn faults(name: &str, view: &[f64], all: &[Drawn]) -> Vec<String> {
    let mut faults = Vec::new();
    let texts: Vec<(usize, &Bounds, f64, &String)> = all
        .iter()
        .enumerate()
        .filter_map(|(i, one)| match one {
            Drawn::Text { bounds, size, words } => Some((i, bounds, *size, words)),
            _ => None,
        })
        .collect();
    for (n, (at, bounds, _, words)) in texts.iter().enumerate() {
        let inside = bounds[0] >= 0.0
            && bounds[1] >= view[1]
            && bounds[2] <= view[2]
            && bounds[3] <= view[1] + view[3];
        if !inside {
            faults.push(format!("{name}: \"{words}\" is clipped"));
        }
        for (_, other, _, others) in &texts[n + 1..] {
            let apart = bounds[2] <= other[0]
                || other[2] <= bounds[0]
                || bounds[3] <= other[1]
                || other[3] <= bounds[1];
            if !apart {
                faults.push(format!("{name}: \"{words}\" and \"{others}\" lie over each other"));
            }
        }
        for (i, line) in all.iter().enumerate() {
            let Drawn::Line { places, colour } = line else { continue };
            if !LINES.contains(&colour.as_str())
                || !places.windows(2).any(|pair| crosses(bounds, pair[0], pair[1]))
            {
                continue;
            }
            // Words on a ground of their own.
            let hidden = i < *at
                && all[i..*at].iter().any(
                    |one| matches!(one, Drawn::Area { bounds: area, .. } if covers(area, bounds)),
                );
            if !hidden {
                faults.push(format!("{name}: a line {colour} crosses \"{words}\""));
                break;
            }
        }
    }
    faults
}

/// Names of the charts; the machine in section has a test of its own.
fn names() -> Vec<String> {
    let list = json(&["chart", "list"]);
    let charts = list["charts"].as_array().unwrap().iter();
    charts
        .filter(|chart| !chart["draws"].as_str().unwrap().starts_with("quarterturn draw"))
        .map(|chart| chart["name"].as_str().unwrap().to_string())
        .collect()
}

fn svg(name: &str, theme: &str) -> String {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("chart.svg");
    let done = run(&["chart", name, "-o", place.to_str().unwrap(), "--theme", theme]);
    assert!(done.status.success(), "{name}: {}", text(&done.stderr));
    std::fs::read_to_string(place).unwrap()
}

#[test]
fn no_word_of_a_chart_is_clipped_or_lies_over_another_or_is_crossed_by_a_curve() {
    let mut found = Vec::new();
    for name in names() {
        for theme in ["print", "projector"] {
            let svg = svg(&name, theme);
            let view: Vec<f64> = attribute(&svg, "viewBox")
                .unwrap()
                .split(' ')
                .map(|number| number.parse().unwrap())
                .collect();
            let all = drawn(&svg);
            assert!(all.len() > 20, "{name}");
            let case = format!("{name} ({theme})");
            found.extend(faults(&case, &view, &all));
            if theme == "projector" {
                assert!((view[2] / view[3] - 16.0 / 9.0).abs() < 1e-3, "{case}: {view:?}");
                for one in &all {
                    let Drawn::Text { size, words, .. } = one else { continue };
                    let of_1080 = size / view[3] * 1080.0;
                    assert!(of_1080 >= 24.0, "{case}: \"{words}\" is {of_1080:.1} of 1080 px");
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A colour's luminance.
fn light(hex: &str) -> f64 {
    luminance([1, 3, 5].map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()))
}

#[test]
fn grey_keeps_lean_and_rich_apart() {
    // A chart, and what is lower than its panels or rows: the words' own row has no lines.
    for (i, (name, least)) in [("05-two-edges", 200.0), ("11-start-map", 0.0)].iter().enumerate() {
        let all = drawn(&svg(name, "print"));
        let crossed = |[left, top, right, bottom]: Bounds| {
            let within = [left + 3.0, top + 3.0, right - 3.0, bottom - 9.0];
            all.iter().any(|one| match one {
                Drawn::Line { places, colour } if colour == HATCHED => {
                    crosses(&within, places[0], places[1])
                }
                _ => false,
            })
        };
        let mut seen = [0, 0];
        for one in &all {
            let Drawn::Area { bounds, colour } = one else { continue };
            if bounds[2] - bounds[0] < 250.0 || bounds[3] - bounds[1] < *least {
                continue;
            }
            if *colour == RICH[i] {
                assert!(crossed(*bounds), "{name}: no line over what is rich: {bounds:?}");
                seen[0] += 1;
            } else if *colour == LEAN[i] {
                assert!(!crossed(*bounds), "{name}: a line over what is lean: {bounds:?}");
                seen[1] += 1;
            }
        }
        assert!(seen.iter().all(|count| *count >= 4), "{name}: {seen:?}");
        // The grounds hardly differ in grey; the lines do from theirs.
        assert!(light(RICH[i]) - light(HATCHED) > 0.1, "{name}");
    }
}

#[test]
fn the_measure_finds_words_that_are_clipped_covered_or_crossed() {
    let words = |x: u32, y: u32| {
        format!("<text x=\"{x}\" y=\"{y}\" text-anchor=\"start\" font-size=\"100\">\nlean\n</text>")
    };
    let line = "<polyline fill=\"none\" stroke=\"#004488\" points=\"0,0 400,400 \"/>";
    let area = "<rect x=\"150\" y=\"100\" width=\"400\" height=\"200\" fill=\"#FFFFFF\"/>";
    let found = |svg: String| faults("", &[0.0, 0.0, 1000.0, 1000.0], &drawn(&svg));
    assert_eq!(found(words(200, 200) + &words(600, 600)), [""; 0]);
    assert!(found(words(900, 200))[0].contains("clipped"));
    assert!(found(words(200, 200) + &words(300, 220))[0].contains("over each other"));
    assert!(found(format!("{line}{}", words(150, 200)))[0].contains("crosses"));
    assert_eq!(found(format!("{line}{area}{}", words(200, 200))), [""; 0]);
    assert!(found(format!("{line}{}{area}", words(200, 200)))[0].contains("crosses"));
}
