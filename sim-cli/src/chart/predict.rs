//! The chart of a prediction: each reading that moved, before and after, on a scale of its
//! own.

use super::draw::{Anchor, Canvas, Stroke, Type, svg};
use super::panels::{Axis, footer, footer_lines, heading, heading_height, plain, thin};
use super::picture::Picture;
use super::theme::{CURVE, INK, SMALL, SOFT, TEXT, WIDTH};
use crate::commands::Prediction;
use crate::fonts::lines;
use crate::words::{Direction, direction, stall, typeset};
use sim_core::point::{READINGS, Reading};

/// Height of a row (px).
const ROW: f64 = 46.0;
/// Height of a line of text (px).
const LINE: f64 = 20.0;
/// Where the scales lie (px).
const SCALE: (f64, f64) = (300.0, 590.0);
/// Readings that follow from others, or tell of the sum, and get no row.
const LEFT_OUT: [&str; 5] =
    ["residual", "metered_air_kg_h", "friction_band_percent", "residual_fraction", "wanted_ma"];

/// A reading that moved.
struct Row {
    reading: &'static Reading,
    before: f64,
    after: f64,
    word: &'static str,
}

/// Draws a prediction.
pub fn picture(prediction: &Prediction) -> Picture {
    let rows = rows(prediction);
    let title = typeset(&title(prediction, &rows));
    let subtitle = typeset(&prediction.conditions);
    let top = heading_height(&title, &subtitle) + 30.0;
    let words = if rows.is_empty() { in_place_of_rows(prediction) } else { Vec::new() };
    let bottom = top + ROW * rows.len() as f64 + LINE * words.len() as f64 + 4.0;
    let height = (bottom + 16.0 * footer_lines(&prediction.command).len() as f64 + 22.0).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        let key_at = heading(canvas, &title, &subtitle) + 8.0;
        if !rows.is_empty() {
            draw_key(canvas, key_at);
        }
        for (i, line) in words.iter().enumerate() {
            canvas.text(line, (18.0, top + LINE * i as f64), plain(TEXT, INK, Anchor::Start));
        }
        for (i, row) in rows.iter().enumerate() {
            row.draw(canvas, top + ROW * (i as f64 + 0.5));
        }
        footer(canvas, &prediction.command, bottom + 4.0);
    });
    let description = rows.iter().map(Row::told).collect::<Vec<_>>().join(" ");
    Picture { width: WIDTH, height, title, description, drawing }
}

fn rows(prediction: &Prediction) -> Vec<Row> {
    READINGS
        .iter()
        .filter(|reading| !LEFT_OUT.contains(&reading.name))
        .filter_map(|reading| {
            let (before, after) = prediction.pair.values(reading);
            match direction(reading, before, after) {
                Direction::Words(word) => {
                    Some(Row { reading, before: before?, after: after?, word })
                }
                Direction::Same => None,
            }
        })
        .collect()
}

fn title(prediction: &Prediction, rows: &[Row]) -> String {
    let change = &prediction.change;
    match (prediction.pair.before.state(), prediction.pair.after.state()) {
        (Some(_), None) => return format!("{change}: the engine no longer runs"),
        (None, Some(_)) => return format!("{change}: the engine runs again"),
        (None, None) => return format!("{change}: the engine runs neither before nor after"),
        (Some(_), Some(_)) => {}
    }
    match rows.iter().find(|row| ["lambda", "duty_percent"].contains(&row.reading.name)) {
        Some(row) => format!("{change}: {}", row.told().trim_end_matches('.')),
        None if rows.is_empty() => format!("{change}: no reading moves"),
        None => format!("{change}: lambda and duty stay"),
    }
}

/// What is said where no reading has a before and an after that differ.
fn in_place_of_rows(prediction: &Prediction) -> Vec<String> {
    let mut words = Vec::new();
    for (when, point) in [("Before", &prediction.pair.before), ("After", &prediction.pair.after)] {
        if let Some(why) = point.stall() {
            words.extend(lines(&format!("{when}: {}.", stall(why)), TEXT, false, WIDTH - 36.0));
        }
    }
    if words.is_empty() {
        words.push("No reading moves by as much as its last decimal.".into());
    }
    words
}

/// What the two marks mean.
fn draw_key(canvas: &Canvas<'_>, y: f64) {
    mark(canvas, SCALE.0 + 6.0, y, false);
    canvas.text("before", (SCALE.0 + 18.0, y), plain(SMALL, SOFT, Anchor::Start));
    mark(canvas, SCALE.0 + 90.0, y, true);
    canvas.text("after", (SCALE.0 + 102.0, y), plain(SMALL, SOFT, Anchor::Start));
}

/// A hollow mark before, a full one after.
fn mark(canvas: &Canvas<'_>, x: f64, y: f64, full: bool) {
    let r = 5.5;
    canvas.fill((x - r, y - r), (x + r, y + r), CURVE);
    if !full {
        canvas.fill((x - r + 1.8, y - r + 1.8), (x + r - 1.8, y + r - 1.8), (255, 255, 255));
    }
}

impl Row {
    fn shown(&self, value: f64) -> String {
        format!("{value:.*}", self.reading.decimals)
    }

    fn told(&self) -> String {
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
            SCALE.0 + (SCALE.1 - SCALE.0) * (value - axis.low) / (axis.high - axis.low)
        };
        canvas.text(self.reading.label, (18.0, y), plain(TEXT, INK, Anchor::Start));
        canvas.line(&[(SCALE.0, y), (SCALE.1, y)], thin(SOFT));
        for (value, word) in &axis.ticks {
            let x = place(*value);
            canvas.line(&[(x, y - 4.0), (x, y + 4.0)], thin(SOFT));
            let first_or_last = [axis.low, axis.high]
                .iter()
                .any(|end| (end - value).abs() < 1e-9 * end.abs().max(1.0));
            if first_or_last {
                canvas.text(word, (x, y + 16.0), plain(SMALL, SOFT, Anchor::Middle));
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
        canvas.text(&typeset(&values), (SCALE.1 + 22.0, y - 8.0), bold);
        canvas.text(self.word, (SCALE.1 + 22.0, y + 9.0), plain(SMALL, SOFT, Anchor::Start));
    }
}
