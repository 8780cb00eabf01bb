//! The chart of `valves`: speed after the pedal is let go, one curve a gap.

use crate::drawing::axes::{Axis, Frame, OVER, under};
use crate::drawing::canvas::{Canvas, Stroke, dashed, plain, solid};
use crate::drawing::fonts::width;
use crate::drawing::page::Page;
use crate::drawing::picture::Picture;
use crate::drawing::theme::{CURVE, INK, LEFT, LIMIT, SMALL, SOFT, right_end};
use crate::results::valves::{GapOutcome, Valves};
use crate::text::{plain as typed, typeset};
use sim_core::units::Unit;

/// How long is shown after the release (s).
const SHOWN_S: f64 = 8.0;
/// Distance between labels (px).
const ROW: f64 = 17.0;

/// Draws the releases.
pub fn picture(valves: &Valves) -> Picture {
    let words = format!(
        "{}; pedal let go from {:.0} rpm",
        valves.scenario.words().replace("warm point", "running"),
        Unit::Rpm.from_si(valves.from_rad_s)
    );
    let page = Page::new(&valves.finding(), &words, &valves.command);
    let (x, y) = (Axis::stepped(0.0, SHOWN_S, 1.0), Axis::stepped(0.0, 1400.0, 200.0));
    let top = page.top() + OVER + 8.0;
    let labels = labels(valves);
    let high = page.room(330.0, top, 54.0 + ROW * labels.len() as f64);
    let frame = Frame { x: &x, y: &y, right: right_end(), top, height: high };
    let labels_at = frame.bottom() + 58.0;
    let under_labels = frame.bottom() + 54.0 + ROW * labels.len() as f64;
    page.picture((under_labels, 16.0), labels.join(". "), |canvas| {
        canvas.axes(|canvas| draw_axes(canvas, &frame, valves));
        for (i, outcome) in valves.outcomes.iter().enumerate() {
            draw(canvas, &frame, outcome, i);
        }
        under(canvas, &x, frame.bottom(), "time since the pedal was let go [s]");
        for (i, (outcome, words)) in valves.outcomes.iter().zip(&labels).enumerate() {
            let at = labels_at + ROW * i as f64;
            canvas.line(&[(LEFT, at), (LEFT + 60.0, at)], stroke(outcome, i));
            canvas.text(words, (LEFT + 70.0, at), plain(SMALL, INK));
        }
    })
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
        solid(CURVE, (3.2 - 0.35 * i as f64).max(1.0))
    } else {
        let rhythm = (i % 4) as f64;
        dashed(LIMIT, 1.8, 2.0 + 2.5 * rhythm, 3.0 + 1.5 * rhythm)
    }
}

fn draw_axes(canvas: &Canvas<'_>, frame: &Frame<'_>, valves: &Valves) {
    frame.grid(canvas);
    let stall = Unit::Rpm.from_si(valves.scenario.setup.rig.parts().controller.stall_rad_s);
    frame.level(canvas, stall, dashed(SOFT, 1.2, 6.0, 4.0));
    let words = format!("stalled below {stall:.0} rpm");
    let right = right_end() - 8.0 - width(&words, SMALL, false);
    canvas.text(&words, (right, frame.y(stall) + 12.0), plain(SMALL, SOFT));
    frame.outline(canvas, "speed [rpm]");
}

fn draw(canvas: &Canvas<'_>, frame: &Frame<'_>, outcome: &GapOutcome, i: usize) {
    let rows = outcome.release.rows.iter().map(|(t, speed)| (*t, Unit::Rpm.from_si(*speed)));
    let points: Vec<(f64, f64)> = rows
        .filter(|(t, rpm)| (0.0..=SHOWN_S).contains(t) && *rpm <= frame.y.high)
        .map(|point| frame.place(point))
        .collect();
    if points.len() > 1 {
        canvas.line(&points, stroke(outcome, i));
    }
    if let (false, Some(&(x, y))) = (outcome.release.caught, points.last()) {
        let arm = 5.0;
        for way in [arm, -arm] {
            canvas.line(&[(x - arm, y - way), (x + arm, y + way)], solid(LIMIT, 1.8));
        }
    }
}
