//! The chart of a run: speed, lambda, potentiometer and duty over time, with the actions.

use super::draw::{Anchor, Canvas, Stroke, svg};
use super::panels::{
    Axis, LEFT, OVER, Panel, RIGHT, footer, footer_lines, heading, heading_height, panel_height,
    plain, under,
};
use super::picture::Picture;
use super::theme::{INK, SMALL, Theme, WIDTH};
use crate::fonts::width;
use crate::results::procedure::action_words;
use crate::results::run::Run;
use crate::text::{idle_band, typeset};
use sim_core::point::READINGS;
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Height of a row of an action's words (px).
const ROW: f64 = 20.0;

/// Draws a run.
pub fn picture(run: &Run) -> Picture {
    let title = typeset(&run.finding());
    let subtitle = typeset(&run.scenario.words().replace("warm point", "running"));
    let lasts = run.procedure.lasts_s;
    let ticks = Axis::round([0.0, lasts].into_iter(), 8).ticks;
    let x = Axis {
        low: 0.0,
        high: lasts,
        ticks: ticks.into_iter().filter(|(at, _)| *at <= lasts).collect(),
    };
    let panels = panels(run);
    let marks = marks(run);
    let first = heading_height(&title, &subtitle) + ROW * (rows(&marks, &x) + 1) as f64;
    let tops: Vec<f64> =
        (0..panels.len()).map(|i| first + OVER + i as f64 * (panel_height() + OVER)).collect();
    let bottom = tops[panels.len() - 1] + panel_height();
    let height = (bottom + 58.0 + 16.0 * footer_lines(&run.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        let words_at = heading(canvas, &title, &subtitle) + 8.0;
        canvas.axes(|canvas| draw_marks(canvas, &marks, &x, words_at, tops[0]));
        for (panel, &top) in panels.iter().zip(&tops) {
            panel.draw(canvas, &x, top);
            for mark in &marks {
                let at = x.x(mark.at_s);
                canvas
                    .axes(|canvas| canvas.line(&[(at, top), (at, top + panel_height())], marker()));
            }
        }
        let end = under(canvas, &x, bottom, "time [s]");
        footer(canvas, &run.command, end);
    });
    Picture { width: WIDTH, top: 0.0, height, title, description: description(run), drawing }
}

fn marker() -> Stroke {
    Stroke { colour: INK, width: 1.0, dash: Some((3.0, 3.0)) }
}

/// What is done at a time: all of it, in words.
struct ActionMark {
    at_s: f64,
    words: String,
}

/// The procedure's actions, those of one time together.
fn marks(run: &Run) -> Vec<ActionMark> {
    let mut marks: Vec<ActionMark> = Vec::new();
    for step in &run.procedure.steps {
        let words = action_words(&step.action);
        match marks.last_mut() {
            Some(mark) if mark.at_s == step.at_s => mark.words += &format!(", {words}"),
            _ => marks.push(ActionMark { at_s: step.at_s, words }),
        }
    }
    for mark in &mut marks {
        mark.words = typeset(&format!("{} s: {}", mark.at_s, mark.words));
    }
    marks
}

/// Whether all marks' words have room to the right of their lines.
fn beside(marks: &[ActionMark], x: &Axis) -> bool {
    let fits =
        |mark: &ActionMark| x.x(mark.at_s) + 8.0 + width(&mark.words, SMALL, false) < WIDTH - 18.0;
    marks.iter().all(fits)
}

/// Rows that the marks' words take: a list on a slide stands in two columns.
fn rows(marks: &[ActionMark], x: &Axis) -> usize {
    match Theme::now() {
        Theme::Projector if !beside(marks, x) => marks.len().div_ceil(2),
        _ => marks.len(),
    }
}

/// Each mark's words in a row of their own. Where all have room to the right of their lines
/// they stand there, the earliest highest, so that no line crosses words; else each line has
/// a letter over it, and the words are a list.
fn draw_marks(canvas: &Canvas<'_>, marks: &[ActionMark], x: &Axis, y: f64, top: f64) {
    let (beside, rows) = (beside(marks, x), rows(marks, x).max(1));
    for (i, (mark, letter)) in marks.iter().zip('a'..='z').enumerate() {
        let (at, y) = (x.x(mark.at_s), y + ROW * (i % rows) as f64);
        if beside {
            canvas.text(&mark.words, (at + 6.0, y), plain(SMALL, INK, Anchor::Start));
            canvas.line(&[(at, y - 6.0), (at, top - OVER + 4.0)], marker());
        } else {
            let words = format!("{letter}  {}", mark.words);
            let column = LEFT + 0.5 * (RIGHT - LEFT) * (i / rows) as f64;
            canvas.text(&words, (column, y), plain(SMALL, INK, Anchor::Start));
            let place = (at, top - OVER - 4.0);
            canvas.text(&letter.to_string(), place, plain(SMALL, INK, Anchor::Middle));
        }
    }
}

/// Parts of a px of the time axis, of each of which a curve keeps up to four points.
const PARTS_OF_A_PX: f64 = 8.0;

/// A reading over time. Of more points than a panel can show, those of one part of a px leave
/// the first, the least, the largest and the last, so that the curve keeps its shape.
fn curve(run: &Run, name: &str) -> Vec<(f64, Option<f64>)> {
    let at = READINGS.iter().position(|reading| reading.name == name).unwrap_or(READINGS.len());
    let columns = PARTS_OF_A_PX * (RIGHT - LEFT);
    let column = |time_s: f64| (columns * time_s / run.procedure.lasts_s) as usize;
    let thins = run.trace.count > 4 * columns as usize;
    let mut curve: Vec<(f64, Option<f64>)> = Vec::new();
    let mut of_one: Vec<(f64, Option<f64>)> = Vec::new();
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
fn ends_and_extremes(points: &[(f64, Option<f64>)]) -> Vec<(f64, Option<f64>)> {
    let there = || (0..points.len()).filter_map(|i| Some((i, points[i].1?)));
    let least = there().min_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i);
    let most = there().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i);
    let mut kept: Vec<usize> =
        [Some(0), least, most, points.len().checked_sub(1)].into_iter().flatten().collect();
    kept.sort_unstable();
    kept.dedup();
    kept.into_iter().filter_map(|i| points.get(i).copied()).collect()
}

fn panels(run: &Run) -> Vec<Panel> {
    let panel = |title: &str, name: &str, hold: [f64; 2]| {
        let curve = curve(run, name);
        let values = curve.iter().filter_map(|(_, value)| *value);
        let axis = Axis::round(values.chain(hold), 4);
        Panel { title: title.into(), axis, curve, limit: None, target: None }
    };
    let mut panels = vec![
        panel("speed [rpm]", "speed_rpm", [650.0, 750.0]),
        panel("lambda of the charge drawn in", "lambda", [0.95, 1.05]),
        panel("airflow potentiometer [V]", "potentiometer_v", [IDLE_BAND_V.0, IDLE_BAND_V.1]),
        panel("duty [%], above 50 the controller adds fuel", "duty_percent", [0.0, 100.0]),
    ];
    // A mixture cut off in the overrun leaves the panel at the top.
    if panels[1].axis.high > 2.0 {
        panels[1].axis = Axis::stepped(0.6, 1.6, 0.2);
        panels[1].title += ", in overrun beyond the panel";
    }
    panels[1].limit = Some((1.0, "dashed: lambda 1".into()));
    panels[2].target =
        Some((IDLE_BAND_V.0, IDLE_BAND_V.1, format!("band: {}, common practice", idle_band())));
    panels[3].axis = Axis::stepped(-5.0, 105.0, 25.0);
    panels[3].limit = Some((50.0, "dashed: 50 %".into()));
    panels
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
