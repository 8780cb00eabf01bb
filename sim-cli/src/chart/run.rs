//! The chart of a run: speed, lambda, potentiometer and duty over time, with the actions.

use super::draw::{Anchor, Canvas, Stroke, svg};
use super::panels::{
    Axis, LEFT, OVER, Panel, RIGHT, footer, footer_lines, heading, heading_height, panel_height,
    plain, under,
};
use super::picture::Picture;
use super::theme::{INK, SMALL, Theme, WIDTH};
use crate::commands::{Run, action_words};
use crate::fonts::width;
use crate::text::typeset;
use sim_core::point::Reading;

/// Height of a row of an action's words (px).
const ROW: f64 = 20.0;

/// Draws a run.
pub fn picture(run: &Run) -> Picture {
    let title = typeset(&run.finding());
    let subtitle = typeset(&run.engine.words().replace("warm point", "running"));
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

fn curve(run: &Run, name: &str) -> Vec<(f64, Option<f64>)> {
    let reading = Reading::find(name);
    run.record
        .rows
        .iter()
        .map(|row| {
            let value = reading.zip(row.state.as_ref()).and_then(|(r, state)| r.value(state));
            (row.time_s, value)
        })
        .collect()
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
        panel("airflow potentiometer [V]", "potentiometer_v", [0.65, 0.75]),
        panel("duty [%], above 50 the controller adds fuel", "duty_percent", [0.0, 100.0]),
    ];
    // A mixture cut off in the overrun leaves the panel at the top.
    if panels[1].axis.high > 2.0 {
        panels[1].axis = Axis::stepped(0.6, 1.6, 0.2);
        panels[1].title += ", in overrun beyond the panel";
    }
    panels[1].limit = Some((1.0, "dashed: lambda 1".into()));
    panels[2].target = Some((0.65, 0.75, "band: 0.65-0.75 V, common practice".into()));
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
