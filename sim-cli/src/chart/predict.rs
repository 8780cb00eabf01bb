//! The chart of a prediction: each reading that moved, before and after, on a scale of its
//! own.

use crate::drawing::canvas::{Anchor, Canvas, bold, plain, solid, thin};
use crate::drawing::fonts::lines;
use crate::drawing::page::Page;
use crate::drawing::panels::{Axis, clauses};
use crate::drawing::picture::{Drawing, Picture};
use crate::drawing::theme::{CURVE, INK, PAGE_EDGE, SMALL, SOFT, TEXT, Theme, WHITE, WIDTH};
use crate::results::predict::Prediction;
use crate::text::{fixed, typeset};
use sim_core::point::{READINGS, Reading};

/// Height of a row (px).
fn row_height() -> f64 {
    Theme::choose(46.0, 38.0)
}
/// Height of a line of text (px).
const LINE: f64 = 20.0;
/// Where the scales lie (px).
fn scale() -> (f64, f64) {
    Theme::choose((300.0, 590.0), (335.0, 535.0))
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
    let words = prediction.scenario.words();
    let page = Page::new(&title(prediction, &rows), &words, &prediction.command);
    let (key_at, top) = (page.top() + 8.0, page.top() + 30.0);
    let (words, gap) = match rows.is_empty() {
        true => (in_place_of_rows(prediction), 0.0),
        false => (staying(&rows), 14.0),
    };
    let words_at = top + row_height() * rows.len() as f64 + gap;
    let bottom = words_at + LINE * words.len() as f64 + 8.0;
    let description = rows.iter().map(ReadingRow::render).collect::<Vec<_>>().join(" ");
    let mut picture = page.picture((bottom, 18.0), description, |canvas| {
        if !rows.is_empty() {
            draw_key(canvas, key_at);
        }
        for (i, line) in words.iter().enumerate() {
            canvas.text(line, (PAGE_EDGE, words_at + LINE * i as f64), plain(TEXT, INK));
        }
        for (i, row) in rows.iter().enumerate() {
            row.draw(canvas, top + row_height() * (i as f64 + 0.5));
        }
    });
    picture.drawings[1] = blank(prediction);
    picture
}

fn rows(prediction: &Prediction) -> Vec<ReadingRow> {
    READINGS
        .iter()
        .filter(|reading| !LEFT_OUT.contains(&reading.name))
        // A slide has room for what is looked at first.
        .filter(|reading| Theme::now() == Theme::Print || ASKED.contains(&reading.name))
        .filter_map(|reading| {
            let (before, after) = prediction.pair.values(reading);
            let word = prediction.pair.direction(reading)?;
            Some(ReadingRow { reading, before: before?, after: after?, word })
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

/// The chart to draw on: each reading as it is before, on a scale without
/// numbers, for the mark and the value after.
fn blank(prediction: &Prediction) -> Drawing {
    let asked = || READINGS.iter().filter(|reading| ASKED.contains(&reading.name));
    let words = format!("{}. {}", prediction.change, prediction.scenario.words());
    let page = Page::new("", &words, &prediction.command);
    let top = page.top() + 30.0;
    let bottom = top + row_height() * asked().count() as f64 + 4.0;
    let [_, blank] = page.drawing((bottom, 22.0), |canvas, _| {
        canvas.on_blank(|canvas| {
            page.heading(canvas);
            let (low, high) = scale();
            for (words, x, anchor) in [
                ("falls", low, Anchor::Left),
                ("before", 0.5 * (low + high), Anchor::Center),
                ("rises", high, Anchor::Right),
                ("before \u{2192} after", beside(), Anchor::Left),
            ] {
                canvas.text(words, (x, top - 8.0), plain(SMALL, SOFT).at(anchor));
            }
            for (i, reading) in asked().enumerate() {
                let y = top + row_height() * (i as f64 + 0.5);
                canvas.text(reading.label, (PAGE_EDGE, y), plain(TEXT, INK));
                canvas.line(&[(low, y), (high, y)], thin(SOFT));
                mark(canvas, 0.5 * (low + high), y, false);
                let before = prediction.pair.values(reading).0;
                let before = before.map_or("-".into(), |v| fixed(v, reading.decimals));
                let words = format!("{before} \u{2192} ________ {}", reading.unit.symbol());
                canvas.text(&words, (beside(), y), plain(TEXT, INK));
            }
        });
    });
    blank
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
    let left = scale().0;
    mark(canvas, left + 6.0, y, false);
    canvas.text("before", (left + 18.0, y), plain(SMALL, SOFT));
    let after = left + Theme::choose(90.0, 114.0);
    mark(canvas, after, y, true);
    canvas.text("after, each on its own scale", (after + 12.0, y), plain(SMALL, SOFT));
}

/// A hollow mark before, a full one after.
fn mark(canvas: &Canvas<'_>, x: f64, y: f64, full: bool) {
    let r = 5.5;
    canvas.square((x, y), r, CURVE);
    if !full {
        canvas.square((x, y), r - 1.8, WHITE);
    }
}

impl ReadingRow {
    /// Before and after, with what stands between.
    fn values(&self, between: &str) -> String {
        let [before, after] =
            [self.before, self.after].map(|value| fixed(value, self.reading.decimals));
        format!("{before} {between} {after} {}", self.reading.unit.symbol())
    }

    fn render(&self) -> String {
        let values = self.values("becomes");
        format!("{} {values} ({}).", self.reading.label, self.word).replace("  ", " ")
    }

    fn draw(&self, canvas: &Canvas<'_>, y: f64) {
        let axis = Axis::round([self.before, self.after].into_iter(), 3);
        let (low, high) = scale();
        let place = |value: f64| low + (high - low) * axis.share(value);
        let label = clauses(self.reading.label, low - 40.0);
        canvas.text(label, (PAGE_EDGE, y), plain(TEXT, INK));
        canvas.line(&[(low, y), (high, y)], thin(SOFT));
        for (value, word) in &axis.ticks {
            let x = place(*value);
            canvas.line(&[(x, y - 4.0), (x, y + 4.0)], thin(SOFT));
            let is = |end: f64| (end - value).abs() < 1e-9 * end.abs().max(1.0);
            if is(axis.low) || is(axis.high) {
                let face = plain(SMALL, SOFT).at(Anchor::Center);
                canvas.text(&typeset(word), (x, y + 16.0), face);
            }
        }
        let (from, to) = (place(self.before), place(self.after));
        canvas.line(&[(from, y), (to, y)], solid(CURVE, 3.0));
        mark(canvas, from, y, false);
        mark(canvas, to, y, true);
        let values = typeset(&self.values("\u{2192}"));
        canvas.text(&values, (beside(), y - 8.0), bold(TEXT, INK));
        canvas.text(self.word, (beside(), y + 9.0), plain(SMALL, SOFT));
    }
}
