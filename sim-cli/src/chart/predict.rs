//! The chart of a prediction: each reading that moved, before and after, on a scale of its
//! own.

use super::draw::{Anchor, Canvas, Drawing, Stroke, Type, svg};
use super::panels::{Axis, clauses, footer, footer_lines, heading, heading_height, plain, thin};
use super::picture::Picture;
use super::theme::{CURVE, INK, SMALL, SOFT, TEXT, Theme, WIDTH};
use crate::fonts::lines;
use crate::results::predict::Prediction;
use crate::text::{Direction, direction, fixed, typeset};
use sim_core::point::{READINGS, Reading};

/// Height of a row (px).
fn row_height() -> f64 {
    match Theme::now() {
        Theme::Print => 46.0,
        Theme::Projector => 38.0,
    }
}
/// Height of a line of text (px).
const LINE: f64 = 20.0;
/// Where the scales lie (px).
fn scale() -> (f64, f64) {
    match Theme::now() {
        Theme::Print => (300.0, 590.0),
        Theme::Projector => (335.0, 535.0),
    }
}
/// Readings that follow from others, or tell of the sum, and get no row.
const LEFT_OUT: [&str; 5] =
    ["residual", "metered_air_kg_h", "friction_band_percent", "residual_fraction", "wanted_ma"];

/// Where the words beside the scales start (px): right of the last number under them.
fn beside() -> f64 {
    scale().1 + 22.0 * Theme::now().enlarged()
}

/// A reading that moved.
struct ReadingRow {
    reading: &'static Reading,
    before: f64,
    after: f64,
    word: &'static str,
}

/// Draws a prediction.
pub fn picture(prediction: &Prediction) -> Picture {
    let rows = rows(prediction);
    let title = typeset(&title(prediction, &rows));
    let subtitle = typeset(&prediction.scenario.words());
    let top = heading_height(&title, &subtitle) + 30.0;
    let words = if rows.is_empty() { in_place_of_rows(prediction) } else { staying(&rows) };
    let gap = if rows.is_empty() { 0.0 } else { 14.0 };
    let words_at = top + row_height() * rows.len() as f64 + gap;
    let bottom = words_at + LINE * words.len() as f64 + 4.0;
    let height = (bottom + 16.0 * footer_lines(&prediction.command).len() as f64 + 22.0).ceil();
    let mut drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        let key_at = heading(canvas, &title, &subtitle) + 8.0;
        if !rows.is_empty() {
            draw_key(canvas, key_at);
        }
        for (i, line) in words.iter().enumerate() {
            let place = (18.0, words_at + LINE * i as f64);
            canvas.text(line, place, plain(TEXT, INK, Anchor::Start));
        }
        for (i, row) in rows.iter().enumerate() {
            row.draw(canvas, top + row_height() * (i as f64 + 0.5));
        }
        footer(canvas, &prediction.command, bottom + 4.0);
    });
    let (blank, blank_height) = blank(prediction);
    drawing.blank = blank.blank;
    (drawing.blank_top, drawing.blank_height) = (blank.blank_top, Some(blank_height));
    let description = rows.iter().map(ReadingRow::render).collect::<Vec<_>>().join(" ");
    Picture { width: WIDTH, top: 0.0, height, title, description, drawing }
}

fn rows(prediction: &Prediction) -> Vec<ReadingRow> {
    READINGS
        .iter()
        .filter(|reading| !LEFT_OUT.contains(&reading.name))
        // A slide has room for what is looked at first.
        .filter(|reading| Theme::now() == Theme::Print || ASKED.contains(&reading.name))
        .filter_map(|reading| {
            let (before, after) = prediction.pair.values(reading);
            match direction(reading, before, after) {
                Direction::Words(word) => {
                    Some(ReadingRow { reading, before: before?, after: after?, word })
                }
                Direction::Same => None,
            }
        })
        .collect()
}

fn title(prediction: &Prediction, rows: &[ReadingRow]) -> String {
    let change = &prediction.change;
    match (prediction.pair.before.state(), prediction.pair.after.state()) {
        (Some(_), None) => return format!("{change}: the engine no longer runs"),
        (None, Some(_)) => return format!("{change}: the engine runs again"),
        (None, None) => return format!("{change}: the engine runs neither before nor after"),
        (Some(_), Some(_)) => {}
    }
    match rows.iter().find(|row| ["lambda", "duty_percent"].contains(&row.reading.name)) {
        Some(row) => format!("{change}: {}", row.render().trim_end_matches('.')),
        None if rows.is_empty() => format!("{change}: no reading moves"),
        None => format!("{change}: lambda and duty stay"),
    }
}

/// Readings whose move is worth predicting, in the order they are looked at.
const ASKED: [&str; 9] = [
    "lambda",
    "cov_percent",
    "speed_rpm",
    "manifold_bar",
    "air_kg_h",
    "plate_lift_mm",
    "potentiometer_v",
    "actuator_ma",
    "duty_percent",
];

/// The chart to draw on, and its height (px): each reading as it is before, on a scale without
/// numbers, for the mark and the value after.
fn blank(prediction: &Prediction) -> (Drawing, f64) {
    let asked = || READINGS.iter().filter(|reading| ASKED.contains(&reading.name));
    let subtitle = typeset(&format!("{}. {}", prediction.change, prediction.scenario.words()));
    let (top, rows) = (heading_height("", &subtitle) + 30.0, asked().count() as f64);
    let bottom = top + row_height() * rows + 4.0;
    let height = (bottom + 16.0 * footer_lines(&prediction.command).len() as f64 + 22.0).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.on_blank(|canvas| {
            heading(canvas, "", &subtitle);
            let middle = 0.5 * (scale().0 + scale().1);
            let small = |anchor| plain(SMALL, SOFT, anchor);
            canvas.text("falls", (scale().0, top - 8.0), small(Anchor::Start));
            canvas.text("before", (middle, top - 8.0), small(Anchor::Middle));
            canvas.text("rises", (scale().1, top - 8.0), small(Anchor::End));
            canvas.text("before \u{2192} after", (beside(), top - 8.0), small(Anchor::Start));
            for (i, reading) in asked().enumerate() {
                let y = top + row_height() * (i as f64 + 0.5);
                canvas.text(reading.label, (18.0, y), plain(TEXT, INK, Anchor::Start));
                canvas.line(&[(scale().0, y), (scale().1, y)], thin(SOFT));
                mark(canvas, middle, y, false);
                let before = prediction.pair.values(reading).0;
                let before = before.map_or("-".into(), |v| fixed(v, reading.decimals));
                let words = format!("{before} \u{2192} ________ {}", reading.unit.symbol());
                canvas.text(&words, (beside(), y), plain(TEXT, INK, Anchor::Start));
            }
        });
        footer(canvas, &prediction.command, bottom);
    });
    (drawing, height)
}

/// The readings worth predicting that do not move, in lines.
fn staying(rows: &[ReadingRow]) -> Vec<String> {
    let moved = |name: &&str| rows.iter().any(|row| row.reading.name == *name);
    let still = ASKED.iter().filter(|name| !moved(name)).filter_map(|name| Reading::find(name));
    let labels: Vec<&str> = still.map(|reading| reading.label).collect();
    if labels.is_empty() {
        return Vec::new();
    }
    lines(&format!("These stay: {}.", labels.join("; ")), TEXT, false, WIDTH - 36.0)
}

/// What is said where no reading has a before and an after that differ.
fn in_place_of_rows(prediction: &Prediction) -> Vec<String> {
    let mut words = Vec::new();
    for (when, point) in [("Before", &prediction.pair.before), ("After", &prediction.pair.after)] {
        if let Some(why) = point.stall() {
            words.extend(lines(&format!("{when}: {}.", why), TEXT, false, WIDTH - 36.0));
        }
    }
    if words.is_empty() {
        words.push("No reading moves by as much as its last decimal.".into());
    }
    words
}

/// What the two marks mean.
fn draw_key(canvas: &Canvas<'_>, y: f64) {
    mark(canvas, scale().0 + 6.0, y, false);
    canvas.text("before", (scale().0 + 18.0, y), plain(SMALL, SOFT, Anchor::Start));
    let after = match Theme::now() {
        Theme::Print => scale().0 + 90.0,
        Theme::Projector => scale().0 + 114.0,
    };
    mark(canvas, after, y, true);
    let words = "after, each on its own scale";
    canvas.text(words, (after + 12.0, y), plain(SMALL, SOFT, Anchor::Start));
}

/// A hollow mark before, a full one after.
fn mark(canvas: &Canvas<'_>, x: f64, y: f64, full: bool) {
    let r = 5.5;
    canvas.square((x, y), r, CURVE);
    if !full {
        canvas.square((x, y), r - 1.8, (255, 255, 255));
    }
}

impl ReadingRow {
    fn shown(&self, value: f64) -> String {
        fixed(value, self.reading.decimals)
    }

    fn render(&self) -> String {
        format!(
            "{} {} becomes {} {} ({}).",
            self.reading.label,
            self.shown(self.before),
            self.shown(self.after),
            self.reading.unit.symbol(),
            self.word
        )
        .replace("  ", " ")
    }

    fn draw(&self, canvas: &Canvas<'_>, y: f64) {
        let axis = Axis::round([self.before, self.after].into_iter(), 3);
        let place = |value: f64| {
            scale().0 + (scale().1 - scale().0) * (value - axis.low) / (axis.high - axis.low)
        };
        let label = clauses(self.reading.label, scale().0 - 40.0);
        canvas.text(label, (18.0, y), plain(TEXT, INK, Anchor::Start));
        canvas.line(&[(scale().0, y), (scale().1, y)], thin(SOFT));
        for (value, word) in &axis.ticks {
            let x = place(*value);
            canvas.line(&[(x, y - 4.0), (x, y + 4.0)], thin(SOFT));
            let first_or_last = [axis.low, axis.high]
                .iter()
                .any(|end| (end - value).abs() < 1e-9 * end.abs().max(1.0));
            if first_or_last {
                canvas.text(&typeset(word), (x, y + 16.0), plain(SMALL, SOFT, Anchor::Middle));
            }
        }
        let (from, to) = (place(self.before), place(self.after));
        canvas.line(&[(from, y), (to, y)], Stroke { colour: CURVE, width: 3.0, dash: None });
        mark(canvas, from, y, false);
        mark(canvas, to, y, true);
        let values = format!(
            "{} \u{2192} {} {}",
            self.shown(self.before),
            self.shown(self.after),
            self.reading.unit.symbol()
        );
        let bold = Type { size: TEXT, colour: INK, bold: true, anchor: Anchor::Start };
        canvas.text(&typeset(&values), (beside(), y - 8.0), bold);
        canvas.text(self.word, (beside(), y + 9.0), plain(SMALL, SOFT, Anchor::Start));
    }
}
