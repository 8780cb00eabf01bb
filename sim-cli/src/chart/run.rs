//! The chart of a run: speed, lambda, potentiometer and duty over time, with the actions.

use super::readings::{duty, lambda, potentiometer};
use crate::drawing::axes::{Axis, Curve, Frame, OVER};
use crate::drawing::canvas::{Anchor, Canvas, Stroke, dashed, plain, solid};
use crate::drawing::fonts::width;
use crate::drawing::page::Page;
use crate::drawing::panels::{Mark, Panel, Stack};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{EDGE, INK, LEFT, SMALL, page_width, right_end};
use crate::results::procedure::action_words;
use crate::results::run::{BANDED, Run};
use crate::text::{fixed, plain as number, typeset};
use sim_core::point::{READINGS, Reading};
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Height of a row of an action's words (px).
const ROW: f64 = 20.0;

/// Draws a run.
pub fn picture(run: &Run) -> Picture {
    let mut words = run.scenario.words().replace("warm point", "running");
    if run.intervals.is_some() {
        words += "; violet: in 90 of 100 cars that the readings fit";
    }
    let page = Page::new(&title(run), &words, &run.command);
    let (from_s, to_s) = shown_s(run);
    let x = Axis::between(from_s, to_s, 8);
    let (panels, marks) = (panels(run), marks(run));
    let under = match to_s < run.procedure.lasts_s {
        true => {
            format!(
                "time [s]; none of these moves from there to {} s",
                number(run.procedure.lasts_s)
            )
        }
        false => "time [s]".into(),
    };
    let words_at = page.top() + 8.0;
    let top = page.top() + ROW * (table(&marks, &x).1 + 1) as f64;
    let stack = Stack { x: (&x, &under), panels: &panels, top };
    let lines = |canvas: &Canvas<'_>, frame: &Frame<'_>| {
        let line = |mark: &Mark| frame.upright(canvas, mark.at, mark.stroke);
        canvas.axes(|_| marks.iter().for_each(line));
        let panel = panels.iter().position(|panel| std::ptr::eq(&panel.axis, frame.y));
        if let Some(at_s) = panel.and_then(|i| settled_at_s(run, WATCHED[i].0)) {
            draw_settled(canvas, frame, at_s);
        }
    };
    let words = |canvas: &Canvas<'_>| {
        canvas.axes(|canvas| draw_marks(canvas, &marks, &x, words_at, stack.first()));
    };
    stack.picture(page, description(run), words, |_, _| {}, lines)
}

/// The readings of the panels from above, and their words in the title.
const WATCHED: [(&str, &str); 4] = [
    ("speed_rpm", "speed"),
    ("lambda", "lambda"),
    ("potentiometer_v", "volts"),
    ("duty_percent", "duty"),
];
/// How much is shown before the first action and at least after the last (s).
const AROUND_S: (f64, f64) = (10.0, 30.0);
/// How much is shown after the last of the panels has settled (s).
const SETTLED_SHOWN_S: f64 = 5.0;

/// How long a reading took to settle after the last action (s).
fn settled_after_s(run: &Run, name: &str) -> Option<f64> {
    let at = READINGS.iter().position(|reading| reading.name == name)?;
    *run.record.settled_after_s.get(at)?
}

/// When a reading had settled (s), where that is told: something was done, and nothing shakes.
fn settled_at_s(run: &Run, name: &str) -> Option<f64> {
    let told = !run.shaken && !run.procedure.steps.is_empty();
    let after_s = settled_after_s(run, name).filter(|after_s| told && *after_s > 0.0)?;
    Some(run.procedure.last_action_s() + after_s)
}

/// What has settled when, the quickest first; the finding where not all has.
fn title(run: &Run) -> String {
    let waits = WATCHED.map(|(name, word)| Some((word, settled_after_s(run, name)?)));
    let mut waits: Vec<(&str, f64)> = waits.into_iter().flatten().collect();
    let told = !run.shaken && !run.procedure.steps.is_empty();
    if waits.len() < WATCHED.len() || !told || run.record.stalled_at_s.is_some() {
        return run.finding();
    }
    if run.procedure.steps.len() > FEW_ACTIONS {
        return from_to(run);
    }
    waits.sort_by(|a, b| a.1.total_cmp(&b.1));
    let waits: Vec<String> =
        waits.iter().map(|(word, after_s)| format!("{word} {after_s:.1} s")).collect();
    format!("Settled after the last action: {}", waits.join(", "))
}

/// Up to so many actions, a title tells what has settled when; of more, where they lead.
const FEW_ACTIONS: usize = 2;

/// Where many actions lead: what moves furthest over its panel first.
fn from_to(run: &Run) -> String {
    let first_s = run.procedure.steps.first().map_or(0.0, |step| step.at_s);
    let mut moves: Vec<(f64, String)> = Vec::new();
    for ((name, word), panel) in WATCHED.into_iter().zip(panels(run)) {
        let Some(reading) = Reading::find(name) else { continue };
        let (mean, _) = averaged(&curve(run, name), mean_s(run));
        let before = mean.iter().rfind(|(at, value)| *at <= first_s && value.is_some());
        let after = mean.iter().rfind(|(_, value)| value.is_some());
        let (Some((_, Some(from))), Some((_, Some(to)))) = (before, after) else { continue };
        let words = [from, to].map(|value| fixed(*value, reading.decimals));
        let share = (to - from).abs() / (panel.axis.high - panel.axis.low);
        if share > SWINGS_SHARE {
            let unit = reading.unit.symbol();
            let told = format!("{word} from {} to {} {unit}", words[0], words[1]);
            moves.push((share, told.trim_end().into()));
        }
    }
    moves.sort_by(|a, b| b.0.total_cmp(&a.0));
    let moves: Vec<String> = moves.into_iter().map(|(_, words)| words).collect();
    format!("{}: {}", run.procedure.name, moves.join(", "))
}

/// The stretch of time that is shown (s): without what lies before the first action, and
/// without what lies after all panels have settled.
fn shown_s(run: &Run) -> (f64, f64) {
    let lasts_s = run.procedure.lasts_s;
    let settled: Vec<f64> =
        WATCHED.iter().filter_map(|(name, _)| settled_after_s(run, name)).collect();
    let Some(first) = run.procedure.steps.first() else { return (0.0, lasts_s) };
    if run.shaken || settled.len() < WATCHED.len() || run.record.stalled_at_s.is_some() {
        return (0.0, lasts_s);
    }
    let slowest_s = settled.iter().fold(0.0, |a: f64, b| a.max(*b)) + SETTLED_SHOWN_S;
    let to_s = run.procedure.last_action_s() + AROUND_S.1.max((slowest_s / 10.0).ceil() * 10.0);
    ((first.at_s - AROUND_S.0).max(0.0), to_s.min(lasts_s))
}

/// Where a panel's reading has settled: a flag on an upright line.
fn draw_settled(canvas: &Canvas<'_>, frame: &Frame<'_>, at_s: f64) {
    frame.upright(canvas, at_s, solid(EDGE, 1.8));
    let x = frame.x.x(at_s);
    canvas.fill((x, frame.top), (x + 9.0, frame.top + 7.0), EDGE);
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
    let fits =
        |mark: &Mark| x.x(mark.at) + 8.0 + width(&mark.words, SMALL, false) < page_width() - 18.0;
    marks.iter().all(fits)
}

/// Columns and rows of the marks' words: a list stands in as many columns as have room.
fn table(marks: &[Mark], x: &Axis) -> (usize, usize) {
    if beside(marks, x) {
        return (1, marks.len());
    }
    let words = marks.iter().map(|mark| width(&mark.words, SMALL, false));
    let column = words.fold(0.0, f64::max) + 40.0;
    let columns = (((right_end() - LEFT) / column) as usize).max(1);
    (columns, marks.len().div_ceil(columns))
}

/// Each mark's words in a row of their own. Where all have room to the right of their lines
/// they stand there, the earliest highest, so that no line crosses words; else each line has
/// a letter over it, and the words are a list.
fn draw_marks(canvas: &Canvas<'_>, marks: &[Mark], x: &Axis, y: f64, top: f64) {
    let (beside, (columns, rows)) = (beside(marks, x), table(marks, x));
    for (i, (mark, letter)) in marks.iter().zip('a'..='z').enumerate() {
        let y = y + ROW * (i % rows.max(1)) as f64;
        if beside {
            mark.draw(canvas, x, (y, top - OVER + 4.0), true);
        } else {
            let words = format!("{letter}  {}", mark.words);
            let wide = (right_end() - LEFT) / columns as f64;
            let column = LEFT + wide * (i / rows.max(1)) as f64;
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
    let columns = PARTS_OF_A_PX * (right_end() - LEFT);
    let (from_s, to_s) = shown_s(run);
    let column = |time_s: f64| (columns * (time_s - from_s) / (to_s - from_s)) as usize;
    let thins = run.trace.count > 4 * columns as usize;
    let mut curve: Curve = Vec::new();
    let mut of_one: Curve = Vec::new();
    let read = run.trace.each(|row| {
        if !(from_s..=to_s).contains(&row.time_s) {
            return Ok(());
        }
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

/// How long a mean is taken over (s), about: the whole number of swings nearest, as settling
/// counts them.
const MEAN_S: f64 = 2.0;
/// A curve that swings over less than this share of its panel is drawn as it is.
const SWINGS_SHARE: f64 = 0.04;

/// The mean of a curve over the time up to each point, and its least and largest there.
fn averaged(curve: &Curve, over_s: f64) -> (Curve, Vec<(f64, f64, f64)>) {
    let (mut mean, mut band) = (Vec::new(), Vec::new());
    let mut from = 0;
    for (i, &(at, _)) in curve.iter().enumerate() {
        while curve[from].0 < at - over_s {
            from += 1;
        }
        let there = || curve[from..=i].iter().filter_map(|(at, value)| Some((*at, (*value)?)));
        let least = there().map(|(_, value)| value).fold(f64::INFINITY, f64::min);
        let most = there().map(|(_, value)| value).fold(f64::NEG_INFINITY, f64::max);
        // Points need not be evenly apart: each counts for the time to the next.
        let (mut sum, mut lasts) = (0.0, 0.0);
        for ((a, before), (b, after)) in there().zip(there().skip(1)) {
            sum += 0.5 * (before + after) * (b - a);
            lasts += b - a;
        }
        if lasts > 0.0 {
            mean.push((at, Some(sum / lasts)));
            band.push((at, least, most));
        } else {
            mean.push((at, curve[i].1));
        }
    }
    (mean, band)
}

/// Over how long the means of a run are taken (s).
fn mean_s(run: &Run) -> f64 {
    run.record.swing_s.map_or(MEAN_S, |s| s * (MEAN_S / s).round().max(1.0))
}

/// A panel with its mean and the band of its swing, where it swings.
fn swinging(run: &Run, panel: Panel, curve: &Curve) -> Panel {
    let (mean, band) = averaged(curve, mean_s(run));
    let high = panel.axis.high - panel.axis.low;
    let ends = [run.procedure.steps.first().map_or(0.0, |step| step.at_s), run.procedure.lasts_s];
    let swing = ends.map(|end| {
        let before = band.iter().rfind(|(at, ..)| *at <= end);
        before.map_or(0.0, |(_, least, most)| most - least)
    });
    match swing[0].max(swing[1]) > SWINGS_SHARE * high {
        true => panel.swings(mean, band, "mean, its swing shaded"),
        false => panel,
    }
}

fn panels(run: &Run) -> [Panel; 4] {
    let (speed, mixture) = (curve(run, "speed_rpm"), curve(run, "lambda"));
    let (volts, share) = (curve(run, "potentiometer_v"), curve(run, "duty_percent"));
    let mut title = "lambda of the charge drawn in".to_string();
    let mut axis = Axis::of(&mixture, [0.95, 1.05], 4);
    // A mixture cut off in the overrun leaves the panel at the top.
    if axis.high > 2.0 {
        axis = Axis::stepped(0.6, 1.6, 0.2);
        title += ", in overrun beyond the panel";
    }
    let panels = [
        Panel::new("speed [rpm]", Axis::of(&speed, [650.0, 750.0], 4), speed.clone()),
        lambda(&title, axis, mixture.clone()),
        potentiometer(volts.clone(), IDLE_BAND_V),
        duty("duty [%], above 50 adds fuel", share.clone()),
    ];
    let curves = [speed, mixture, volts, share];
    let mut i = 0;
    panels.map(|panel| {
        let (name, curve) = (WATCHED[i].0, &curves[i]);
        i += 1;
        let mut panel = match &run.intervals {
            Some(intervals) => {
                let place = BANDED.iter().position(|banded| *banded == name);
                let band = curve.iter().filter_map(|(at, _)| {
                    let row = intervals.rows.get((at / intervals.every_s).round() as usize)?;
                    row[place?].map(|(low, high)| (*at, low, high))
                });
                panel.within(curve.clone(), band.collect())
            }
            None => swinging(run, panel, curve),
        };
        if settled_at_s(run, name).is_some() {
            let after_s = settled_after_s(run, name).unwrap_or_default();
            panel.title += &format!("; flag: settled after {after_s:.1} s");
        }
        panel
    })
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
