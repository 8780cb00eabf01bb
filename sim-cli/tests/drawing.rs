//! The machine as it is drawn: measured in the SVG, against the rig's own lengths.

use crate::common::{json, program, run, text, text_width};
use serde_json::Value;
use std::collections::HashMap;
use tempfile::TempDir;

const RIGS: [&str; 3] = ["four", "six", "eight"];
const POSITIONS: [&str; 5] = ["rest", "touch", "first-fuel", "warm-idle", "full-load"];

/// A drawing's SVG and what the program says of it.
fn drawn(args: &[&str]) -> (String, Value) {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("machine.svg");
    let mut all = vec!["draw", "-o", path.to_str().unwrap(), "--quiet"];
    all.extend(args);
    let value = json(&all);
    (std::fs::read_to_string(&path).unwrap(), value)
}

/// The attributes of an element's start.
fn attributes(element: &str) -> HashMap<String, String> {
    let mut pieces = element.split('"');
    let mut found = HashMap::new();
    while let (Some(name), Some(value)) = (pieces.next(), pieces.next()) {
        let name = name.trim().trim_end_matches('=').rsplit(' ').next().unwrap_or_default();
        found.insert(name.to_string(), value.to_string());
    }
    found
}

/// The start of the element with an id, and where it begins.
fn element<'a>(svg: &'a str, id: &str) -> (&'a str, usize) {
    let at = svg.find(&format!("id=\"{id}\"")).unwrap_or_else(|| panic!("no {id}"));
    let start = svg[..at].rfind('<').unwrap();
    (&svg[start..at + svg[at..].find('>').unwrap()], start)
}

fn number(svg: &str, id: &str, attribute: &str) -> f64 {
    let found = attributes(element(svg, id).0);
    found.get(attribute).unwrap_or_else(|| panic!("{id} has no {attribute}")).parse().unwrap()
}

/// The numbers in an element's transform.
fn transform(svg: &str, id: &str) -> Vec<f64> {
    let found = attributes(element(svg, id).0);
    let inside = found["transform"].split(['(', ')']).nth(1).unwrap();
    inside.split(' ').map(|number| number.parse().unwrap()).collect()
}

/// What the drawing shows, measured with a ruler (mm).
struct Measured {
    plate_above_throat: f64,
    plate_lift: f64,
    slit: f64,
    gap: f64,
    plate_width: f64,
}

impl Measured {
    fn of(svg: &str) -> Measured {
        let root = attributes(&svg[..svg.find('>').unwrap()]);
        let px: f64 = root["data-px-per-mm"].parse().unwrap();
        let moved = |id: &str| transform(svg, id)[1];
        let rim = number(svg, "plate-rim", "y1") + moved("plate");
        let metering = number(svg, "metering-edge", "y1") + moved("plunger");
        let foot = number(svg, "plunger-foot", "y1") + moved("plunger");
        let [degrees, x, y] = transform(svg, "arm")[..] else { panic!("the arm turns") };
        // The roller's middle turned about the pivot: y is down, as degrees are clockwise.
        let (sin, cos) = degrees.to_radians().sin_cos();
        let (dx, dy) = (number(svg, "roller", "cx") - x, number(svg, "roller", "cy") - y);
        let top = y + dx * sin + dy * cos - number(svg, "roller", "r");
        // The plate's disc: the widest shape in its group.
        let (_, start) = element(svg, "plate");
        let group = &svg[start..start + svg[start..].find("</g>").unwrap()];
        let widths = group.split("points=\"").skip(1).map(|points| {
            let points = &points[..points.find('"').unwrap()];
            let x = |pair: &str| pair.split(',').next().unwrap().parse::<f64>().unwrap();
            let xs: Vec<f64> = points.split(' ').map(x).collect();
            xs.iter().cloned().fold(f64::MIN, f64::max)
                - xs.iter().cloned().fold(f64::MAX, f64::min)
        });
        Measured {
            plate_above_throat: (number(svg, "throat-edge", "y1") - rim) / px,
            plate_lift: -moved("plate") / px,
            slit: (number(svg, "slit-edge", "y1") - metering) / px,
            gap: (top - foot) / px,
            plate_width: widths.fold(0.0, f64::max) / px,
        }
    }
}

/// The lengths of a rig (mm), from its file.
fn rig(name: &str) -> impl Fn(&str) -> f64 {
    let toml = text(&run(&["rig", "show", name, "--format", "toml"]).stdout);
    let table: toml::Table = toml.parse().unwrap();
    move |key| {
        let found = table.values().find_map(|section| section.get(key)).unwrap();
        found.as_float().or(found.as_integer().map(|whole| whole as f64)).unwrap()
    }
}

fn close(found: f64, wanted: f64, what: &str) {
    assert!((found - wanted).abs() < 2e-3, "{what}: {found} mm drawn, {wanted} mm by the rig");
}

/// Plate height, slit and play with a ruler, and by the law of the lever from the rig's file.
#[test]
fn plate_slit_and_play_are_drawn_as_the_rig_has_them() {
    for name in RIGS {
        let of = rig(name);
        let ratio = of("plunger_arm_mm") / of("plate_arm_mm");
        for (position, turns) in
            [("rest", 0.0), ("rest", -0.25), ("warm-idle", 0.0), ("full-load", 0.0)]
        {
            let screw = turns.to_string();
            let args = ["--rig", name, "--position", position, "--screw", &screw];
            let (svg, told) = drawn(&args);
            let found = Measured::of(&svg);
            let what = |of: &str| format!("rig {name}, {position}, {turns} turn: {of}");
            close(found.plate_width, 2.0 * of("plate_radius_mm"), &what("plate"));
            // How high the air holds it, another command says.
            let lift = match position {
                "rest" => 0.0,
                "warm-idle" => {
                    let same = ["predict", "--rig", name, "--change", "screw=0"];
                    json(&same)["before"]["plate_lift_mm"].as_f64().unwrap()
                }
                _ => {
                    let same = ["predict", "--rig", name, "--change", "screw=0"];
                    let load = ["--throttle-percent", "100", "--speed-rpm", "4000"];
                    json(&[&same[..], &load].concat())["before"]["plate_lift_mm"].as_f64().unwrap()
                }
            };
            let height = lift - of("rest_below_throat_mm");
            close(found.plate_lift, lift, &what("lift"));
            close(found.plate_above_throat, height, &what("height"));
            let turn = of("pitch_mm") * of("plate_arm_mm") / of("screw_arm_mm");
            let opens = of("zero_height_mm") - turns * turn;
            let beyond = (height - opens) * ratio;
            let slit = beyond.max(-of("slit_overlap_mm"));
            close(found.slit, slit, &what("slit"));
            let gap = (-of("slit_overlap_mm") - beyond).max(0.0);
            close(found.gap, gap, &what("gap under the plunger"));
            // The lever's angle is that of the plate, and the numbers told are those drawn.
            let [degrees, ..] = transform(&svg, "lever")[..] else { panic!("the lever turns") };
            let pin = -degrees.to_radians().sin() * of("plate_arm_mm");
            close(pin, height, &what("the lever's end"));
            close(number(&svg, "plate", "data-mm"), lift, &what("data-mm"));
            close(number(&svg, "slit", "data-mm"), slit.max(0.0), &what("data-mm"));
            close(told["slit_opening_mm"].as_f64().unwrap(), slit.max(0.0), &what("told"));
            close(
                told["felt_play_mm"].as_f64().unwrap(),
                opens - of("slit_overlap_mm") / ratio + of("rest_below_throat_mm"),
                &what("play told"),
            );
            let lowered = transform(&svg, "screw")[1] / number_of_root(&svg);
            close(lowered, turns * of("pitch_mm"), &what("screw"));
            for part in ["plate", "lever", "plunger", "screw", "stop", "slit"] {
                assert!(number(&svg, part, "data-mm").is_finite());
            }
        }
    }
}

fn number_of_root(svg: &str) -> f64 {
    attributes(&svg[..svg.find('>').unwrap()])["data-px-per-mm"].parse().unwrap()
}

/// Left, top, right, bottom of each text outside of groups that move, in the embedded font.
fn texts(svg: &str) -> Vec<([f64; 4], f64, String)> {
    svg.split("<text ")
        .skip(1)
        .map(|piece| {
            let (start, rest) = piece.split_once('>').unwrap();
            let words = rest.split("</text>").next().unwrap();
            let words = words.replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">");
            let found = attributes(start);
            let of = |name: &str| found[name].parse::<f64>().unwrap();
            let size = of("font-size");
            let wide = text_width(&words, size, found.contains_key("font-weight"));
            let left = of("x")
                - match found["text-anchor"].as_str() {
                    "start" => 0.0,
                    "middle" => 0.5 * wide,
                    _ => wide,
                };
            ([left, of("y") - 0.76 * size, left + wide, of("y") + 0.2 * size], size, words)
        })
        .collect()
}

/// Whether a straight line crosses a box.
fn crosses([left, top, right, bottom]: [f64; 4], from: (f64, f64), upto: (f64, f64)) -> bool {
    (0..=200).any(|i| {
        let share = f64::from(i) / 200.0;
        let (x, y) = (from.0 + share * (upto.0 - from.0), from.1 + share * (upto.1 - from.1));
        x > left && x < right && y > top && y < bottom
    })
}

#[test]
fn no_word_is_clipped_or_lies_over_another_or_under_a_leader() {
    let mut cases: Vec<Vec<String>> = Vec::new();
    for rig in RIGS {
        for position in POSITIONS {
            for theme in ["print", "projector"] {
                for sheet in ["metering", "fuel"] {
                    let words =
                        ["--rig", rig, "--position", position, "--theme", theme, "--sheet", sheet];
                    cases.push(words.map(String::from).to_vec());
                }
            }
        }
    }
    for case in &cases {
        let args: Vec<&str> = case.iter().map(String::as_str).collect();
        let (svg, _) = drawn(&args);
        let root = attributes(&svg[..svg.find('>').unwrap()]);
        let view: Vec<f64> =
            root["viewBox"].split(' ').map(|number| number.parse().unwrap()).collect();
        let all = texts(&svg);
        assert!(all.len() > 12, "{case:?}");
        for (i, (bounds, size, words)) in all.iter().enumerate() {
            let [left, top, right, bottom] = *bounds;
            let inside = left >= 8.0 && top >= 4.0 && right <= view[2] - 8.0 && bottom <= view[3];
            assert!(inside, "{case:?}: \"{words}\" is clipped: {bounds:?} of {view:?}");
            if case.contains(&"projector".to_string()) {
                assert!((view[2] / view[3] - 16.0 / 9.0).abs() < 1e-3, "{case:?}: {view:?}");
                let of_1080 = size / view[3] * 1080.0;
                assert!(of_1080 >= 24.0, "{case:?}: \"{words}\" is {of_1080:.1} of 1080 px");
            } else {
                // On a sheet a picture is 510 pt wide.
                let points = size / view[2] * 510.0;
                assert!(points >= 9.0, "{case:?}: \"{words}\" is {points:.1} pt");
            }
            for (other, _, others) in &all[i + 1..] {
                let apart = right <= other[0] + 0.5
                    || other[2] <= left + 0.5
                    || bottom <= other[1] + 2.0
                    || other[3] <= top + 2.0;
                assert!(apart, "{case:?}: \"{words}\" and \"{others}\" lie over each other");
            }
        }
        for path in svg.split("class=\"leader\" d=\"").skip(1) {
            let path = &path[1..path.find('"').unwrap()];
            let places: Vec<(f64, f64)> = path
                .split('L')
                .map(|place| {
                    let (x, y) = place.split_once(' ').unwrap();
                    (x.parse().unwrap(), y.parse().unwrap())
                })
                .collect();
            for pair in places.windows(2) {
                for (bounds, _, words) in &all {
                    assert!(
                        !crosses(*bounds, pair[0], pair[1]),
                        "{case:?}: a leader crosses \"{words}\""
                    );
                }
            }
        }
    }
}

#[test]
fn an_engine_that_stalls_is_told_and_drawn_at_rest() {
    let (svg, told) = drawn(&["--screw", "-1"]);
    for key in [
        "plate_above_rest_mm",
        "plate_above_throat_mm",
        "plunger_mm",
        "slit_opening_mm",
        "system_bar",
        "lower_chamber_bar",
        "slit_drop_bar",
    ] {
        assert!(
            told.as_object().unwrap().contains_key(key) && told[key].is_null(),
            "{key}: {told}"
        );
    }
    assert_eq!(told["screw_turns"], -1.0);
    assert!(told["play_mm"].as_f64().unwrap() > 0.0);
    assert!(told["reason"].as_str().unwrap().len() > 20);
    assert!(told["says"].as_str().unwrap().contains("does not run"));
    assert_eq!(Measured::of(&svg).plate_lift, 0.0);
    let (_, fuel) = drawn(&["--screw", "-1", "--sheet", "fuel"]);
    assert!(fuel["slit_drop_bar"].is_null());
}

/// The pressures drawn are those that another command tells, and the drawing says its numbers.
#[test]
fn the_fuel_sheet_tells_the_pressures_of_the_moment() {
    for rig in RIGS {
        let (svg, told) = drawn(&["--rig", rig, "--sheet", "fuel", "--trim", "on"]);
        let same = ["predict", "--rig", rig, "--change", "screw=0", "--trim", "on"];
        let point = json(&same);
        for key in ["system_bar", "lower_chamber_bar", "slit_drop_bar", "line_bar"] {
            let (here, there) =
                (told[key].as_f64().unwrap(), point["before"][key].as_f64().unwrap());
            assert!((here - there).abs() < 1e-9, "{rig} {key}: {here} {there}");
        }
        let system = format!("{:.2} bar", told["system_bar"].as_f64().unwrap());
        assert!(svg.contains(&format!(">{system}</text>")), "{system}");
        let description = svg.split("<desc id=\"d\">").nth(1).unwrap();
        let description = description.split("</desc>").next().unwrap();
        assert!(description.contains(&system) && description.contains("not to scale"));
        // What the pump gives either passes the slits or returns.
        let flow = |key: &str| told[key].as_f64().unwrap();
        let sum = flow("lines_ml_min") + flow("returns_ml_min");
        assert!((flow("pump_ml_min") - sum).abs() < 1e-9);
    }
}

#[test]
fn png_and_pdf_are_drawn_too() {
    let folder = TempDir::new().unwrap();
    for (file, start) in [("machine.png", &b"\x89PNG"[..]), ("machine.pdf", b"%PDF")] {
        let path = folder.path().join(file);
        let done = program().args(["draw", "--quiet", "-o"]).arg(&path).output().unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
        assert!(std::fs::read(&path).unwrap().starts_with(start));
    }
}
