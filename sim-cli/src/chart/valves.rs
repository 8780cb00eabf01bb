//! The chart of `valves`: speed after the pedal is let go, one curve a gap.

use super::draw::{Anchor, Canvas, Stroke, Type, svg};
use super::panels::{
    Axis, LEFT, OVER, RIGHT, footer, footer_lines, heading, heading_height, plain, thin, under,
};
use super::picture::Picture;
use super::theme::{CURVE, GRID, INK, LIMIT, SMALL, SOFT, TEXT, Theme, WIDTH};
use crate::fonts::width;
use crate::results::valves::{GapOutcome, Valves};
use crate::text::{plain as typed, typeset};
use sim_core::units::Unit;

/// Height of the panel (px).
fn tall() -> f64 {
    Theme::tall(330.0)
}
/// How long is shown after the release (s).
const SHOWN_S: f64 = 8.0;
/// Distance between labels (px).
const ROW: f64 = 17.0;

/// Draws the releases.
pub fn picture(valves: &Valves) -> Picture {
    let title = typeset(&valves.finding());
    let subtitle = typeset(&format!(
        "{}; pedal let go from {:.0} rpm",
        valves.scenario.words().replace("warm point", "running"),
        Unit::Rpm.from_si(valves.from_rad_s)
    ));
    let x = Axis::stepped(0.0, SHOWN_S, 1.0);
    let y = Axis::stepped(0.0, 1400.0, 200.0);
    let top = heading_height(&title, &subtitle) + OVER + 8.0;
    let bottom = top + tall();
    let labels = labels(valves);
    let under_labels = bottom + 54.0 + ROW * labels.len() as f64;
    let height = (under_labels + 16.0 + 16.0 * footer_lines(&valves.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        canvas.axes(|canvas| frame(canvas, &x, &y, top, valves));
        for (i, outcome) in valves.outcomes.iter().enumerate() {
            draw(canvas, outcome, &x, &y, top, i);
        }
        let end = under(canvas, &x, bottom, "time since the pedal was let go [s]") + 12.0;
        for (i, (outcome, words)) in valves.outcomes.iter().zip(&labels).enumerate() {
            let at = end + ROW * i as f64;
            canvas.line(&[(LEFT, at), (LEFT + 60.0, at)], stroke(outcome, i));
            canvas.text(words, (LEFT + 70.0, at), plain(SMALL, INK, Anchor::Start));
        }
        footer(canvas, &valves.command, under_labels);
    });
    let description = labels.join(". ");
    Picture { width: WIDTH, top: 0.0, height, title, description, drawing }
}

/// What each gap's curve means, in words.
fn labels(valves: &Valves) -> Vec<String> {
    valves
        .outcomes
        .iter()
        .map(|outcome| {
            let release = &outcome.release;
            let gap = typed((release.gap_m * 1e6).round() / 1e3);
            typeset(&match (&release.no_idle, release.stalled_after_s) {
                (Some(_), _) => format!("{gap} mm: does not even idle"),
                (None, Some(s)) => format!("{gap} mm: lost, stalls after {s:.1} s (cross)"),
                (None, None) => format!(
                    "{gap} mm: caught, lowest {:.0} rpm",
                    Unit::Rpm.from_si(release.lowest_rad_s)
                ),
            })
        })
        .collect()
}

/// Caught: solid, thinner the smaller. Lost: dashed, each in a rhythm of its own.
fn stroke(outcome: &GapOutcome, i: usize) -> Stroke {
    if outcome.release.caught {
        Stroke { colour: CURVE, width: (3.2 - 0.35 * i as f64).max(1.0), dash: None }
    } else {
        let gap = 3.0 + 1.5 * (i % 4) as f64;
        Stroke { colour: LIMIT, width: 1.8, dash: Some((2.0 + 2.5 * (i % 4) as f64, gap)) }
    }
}

fn frame(canvas: &Canvas<'_>, x: &Axis, y: &Axis, top: f64, valves: &Valves) {
    let bottom = top + tall();
    for (value, word) in &y.ticks {
        let at = place(y, top, *value);
        canvas.line(&[(LEFT, at), (RIGHT, at)], thin(GRID));
        canvas.text(word, (LEFT - 7.0, at), plain(SMALL, INK, Anchor::End));
    }
    for (value, _) in &x.ticks {
        canvas.line(&[(x.x(*value), top), (x.x(*value), bottom)], thin(GRID));
    }
    let stall = Unit::Rpm.from_si(valves.scenario.setup.rig.parts().controller.stall_rad_s);
    let at = place(y, top, stall);
    canvas.line(
        &[(LEFT, at), (RIGHT, at)],
        Stroke { colour: SOFT, width: 1.2, dash: Some((6.0, 4.0)) },
    );
    let words = format!("stalled below {stall:.0} rpm");
    let right = RIGHT - 8.0 - width(&words, SMALL, false);
    canvas.text(&words, (right, at + 12.0), plain(SMALL, SOFT, Anchor::Start));
    let around = [(LEFT, top), (RIGHT, top), (RIGHT, bottom), (LEFT, bottom), (LEFT, top)];
    canvas.line(&around, thin(SOFT));
    let title = Type { size: TEXT, colour: INK, bold: false, anchor: Anchor::Start };
    canvas.text("speed [rpm]", (LEFT, top - 9.0), title);
}

fn place(y: &Axis, top: f64, value: f64) -> f64 {
    top + tall() * (1.0 - (value - y.low) / (y.high - y.low))
}

fn draw(canvas: &Canvas<'_>, outcome: &GapOutcome, x: &Axis, y: &Axis, top: f64, i: usize) {
    let rows = outcome.release.rows.iter().map(|(t, speed)| (*t, Unit::Rpm.from_si(*speed)));
    let points: Vec<(f64, f64)> = rows
        .filter(|(t, rpm)| (0.0..=SHOWN_S).contains(t) && *rpm <= y.high)
        .map(|(t, rpm)| (x.x(t), place(y, top, rpm)))
        .collect();
    if points.len() > 1 {
        canvas.line(&points, stroke(outcome, i));
    }
    if let (false, Some(&(px, py))) = (outcome.release.caught, points.last()) {
        let arm = 5.0;
        let pen = Stroke { colour: LIMIT, width: 1.8, dash: None };
        canvas.line(&[(px - arm, py - arm), (px + arm, py + arm)], pen);
        canvas.line(&[(px - arm, py + arm), (px + arm, py - arm)], pen);
    }
}
