//! The chart of a run: speed, lambda, potentiometer and duty over time, with the actions.

use super::readings::{duty, lambda, potentiometer};
use crate::drawing::canvas::{Anchor, Canvas, Stroke, dashed, plain};
use crate::drawing::fonts::width;
use crate::drawing::page::Page;
use crate::drawing::panels::{Axis, Curve, Frame, Mark, OVER, Panel, Stack};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{INK, LEFT, RIGHT, SMALL, Theme, WIDTH};
use crate::results::procedure::action_words;
use crate::results::run::Run;
use crate::text::typeset;
use sim_core::point::READINGS;
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Height of a row of an action's words (px).
const ROW: f64 = 20.0;

/// Draws a run.
pub fn picture(run: &Run) -> Picture {
    let words = run.scenario.words().replace("warm point", "running");
    let page = Page::new(&run.finding(), &words, &run.command);
    let x = Axis::between(0.0, run.procedure.lasts_s, 8);
    let (panels, marks) = (panels(run), marks(run));
    let words_at = page.top() + 8.0;
    let top = page.top() + ROW * (rows(&marks, &x) + 1) as f64;
    let stack = Stack { x: (&x, "time [s]"), panels: &panels, top };
    let lines = |canvas: &Canvas<'_>, frame: &Frame<'_>| {
        let line = |mark: &Mark| frame.upright(canvas, mark.at, mark.stroke);
        canvas.axes(|_| marks.iter().for_each(line));
    };
    let words = |canvas: &Canvas<'_>| {
        canvas.axes(|canvas| draw_marks(canvas, &marks, &x, words_at, stack.top_of(0)));
    };
    stack.picture(page, description(run), words, |_, _| {}, lines)
}

/// The line of an action.
const MARKER: Stroke = dashed(INK, 1.0, 3.0, 3.0);

/// The procedure's actions, those of one time together.
fn marks(run: &Run) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    for step in &run.procedure.steps {
        let words = action_words(&step.action);
        match marks.last_mut() {
            Some(mark) if mark.at == step.at_s => mark.words += &format!(", {words}"),
            _ => marks.push(Mark { at: step.at_s, words, stroke: MARKER }),
        }
    }
    for mark in &mut marks {
        mark.words = typeset(&format!("{} s: {}", mark.at, mark.words));
    }
    marks
}

/// Whether all marks' words have room to the right of their lines.
fn beside(marks: &[Mark], x: &Axis) -> bool {
    let fits = |mark: &Mark| x.x(mark.at) + 8.0 + width(&mark.words, SMALL, false) < WIDTH - 18.0;
    marks.iter().all(fits)
}

/// Rows that the marks' words take: a list on a slide stands in two columns.
fn rows(marks: &[Mark], x: &Axis) -> usize {
    match Theme::now() {
        Theme::Projector if !beside(marks, x) => marks.len().div_ceil(2),
        _ => marks.len(),
    }
}

/// Each mark's words in a row of their own. Where all have room to the right of their lines
/// they stand there, the earliest highest, so that no line crosses words; else each line has
/// a letter over it, and the words are a list.
fn draw_marks(canvas: &Canvas<'_>, marks: &[Mark], x: &Axis, y: f64, top: f64) {
    let (beside, rows) = (beside(marks, x), rows(marks, x).max(1));
    for (i, (mark, letter)) in marks.iter().zip('a'..='z').enumerate() {
        let y = y + ROW * (i % rows) as f64;
        if beside {
            mark.draw(canvas, x, (y, top - OVER + 4.0), true);
        } else {
            let words = format!("{letter}  {}", mark.words);
            let column = LEFT + 0.5 * (RIGHT - LEFT) * (i / rows) as f64;
            canvas.text(&words, (column, y), plain(SMALL, INK));
            let place = (x.x(mark.at), top - OVER - 4.0);
            canvas.text(&letter.to_string(), place, plain(SMALL, INK).at(Anchor::Center));
        }
    }
}

/// Parts of a px of the time axis, of each of which a curve keeps up to four points.
const PARTS_OF_A_PX: f64 = 8.0;

/// A reading over time. Of more points than a panel can show, those of one part of a px leave
/// the first, the least, the largest and the last, so that the curve keeps its shape.
fn curve(run: &Run, name: &str) -> Curve {
    let at = READINGS.iter().position(|reading| reading.name == name).unwrap_or(READINGS.len());
    let columns = PARTS_OF_A_PX * (RIGHT - LEFT);
    let column = |time_s: f64| (columns * time_s / run.procedure.lasts_s) as usize;
    let thins = run.trace.count > 4 * columns as usize;
    let mut curve: Curve = Vec::new();
    let mut of_one: Curve = Vec::new();
    let read = run.trace.each(|row| {
        let new = of_one.first().is_some_and(|first| column(first.0) != column(row.time_s));
        if new || !thins {
            curve.extend(ends_and_extremes(&of_one));
            of_one.clear();
        }
        of_one.push((row.time_s, row.reading(at)));
        Ok(())
    });
    // A trace that cannot be read back is drawn as far as it goes.
    drop(read);
    curve.extend(ends_and_extremes(&of_one));
    curve
}

/// The first, the least, the largest and the last of some points, in their order.
fn ends_and_extremes(points: &[(f64, Option<f64>)]) -> Curve {
    let there = || (0..points.len()).filter_map(|i| Some((i, points[i].1?)));
    let least = there().min_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i);
    let most = there().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i);
    let mut kept: Vec<usize> =
        [Some(0), least, most, points.len().checked_sub(1)].into_iter().flatten().collect();
    kept.sort_unstable();
    kept.dedup();
    kept.into_iter().filter_map(|i| points.get(i).copied()).collect()
}

fn panels(run: &Run) -> [Panel; 4] {
    let (speed, mixture) = (curve(run, "speed_rpm"), curve(run, "lambda"));
    let mut title = "lambda of the charge drawn in".to_string();
    let mut axis = Axis::of(&mixture, [0.95, 1.05], 4);
    // A mixture cut off in the overrun leaves the panel at the top.
    if axis.high > 2.0 {
        axis = Axis::stepped(0.6, 1.6, 0.2);
        title += ", in overrun beyond the panel";
    }
    [
        Panel::new("speed [rpm]", Axis::of(&speed, [650.0, 750.0], 4), speed),
        lambda(&title, axis, mixture),
        potentiometer(curve(run, "potentiometer_v"), IDLE_BAND_V),
        duty("duty [%], above 50 the controller adds fuel", curve(run, "duty_percent")),
    ]
}

fn description(run: &Run) -> String {
    let mut text = format!(
        "Four panels over time: speed, lambda, airflow potentiometer, duty. {}.",
        run.finding()
    );
    for step in &run.procedure.steps {
        text += &format!(" At {} s: {}.", step.at_s, action_words(&step.action));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_of_one_place_leave_their_ends_and_extremes_in_order() {
        let points = [(0.0, Some(2.0)), (1.0, Some(5.0)), (2.0, Some(1.0)), (3.0, Some(3.0))];
        assert_eq!(ends_and_extremes(&points), points);
        let points = [(0.0, Some(1.0)), (1.0, Some(2.0)), (2.0, Some(4.0)), (3.0, None)];
        assert_eq!(ends_and_extremes(&points), [points[0], points[2], points[3]]);
        assert_eq!(ends_and_extremes(&[(0.0, None)]), [(0.0, None)]);
    }
}
