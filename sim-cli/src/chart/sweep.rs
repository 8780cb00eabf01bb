//! The chart of a sweep: lambda, roughness, potentiometer and duty over the screw, with the
//! rough zones, the static setting, the aim and the middle.

use super::readings::{duty, lambda, potentiometer};
use crate::drawing::axes::{Axis, Curve, Frame, OVER};
use crate::drawing::canvas::{Anchor, Canvas, Stroke, bold, dashed, thin};
use crate::drawing::fonts::width;
use crate::drawing::page::Page;
use crate::drawing::panels::{Mark, Panel, Stack};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{
    Colour, HATCHED, INK, LEAN, LEFT, LIMIT, PAGE_EDGE, RICH, SMALL, SOFT, SPREAD, STALLED, TEXT,
    Theme, right_end,
};
use crate::results::interval::Intervals;
use crate::results::sweep::{Sweep, hazard_words};
use crate::text::{plain as number, turns, turns_or, turns_typed, typeset, with_unit};
use sim_core::conditions::Trim;
use sim_core::point::{Point, Reading, Zone};
use sim_core::sweep::Spread;
use sim_core::units::Unit;

/// Roughness above which the panel is cut off [%].
const ROUGH_TOP: f64 = 30.0;
/// The axis' title.
const SCREW: &str =
    "mixture screw from where the rig stands [turns], clockwise (richer) to the right";

/// A stretch of the screw with one word.
struct Band {
    from: f64,
    to: f64,
    zone: Zone,
}

/// Draws a sweep.
pub fn picture(sweep: &Sweep) -> Picture {
    let x = screw_axis(&sweep.points);
    let (panels, bands, markers) = (panels(sweep), bands(sweep, &x), Markers::of(sweep, &x));
    let page = Page::new(&sweep.finding(), &subtitle(sweep, &bands, &x), &sweep.command);
    let words_at = page.top() + 6.0;
    let rows = if markers.in_a_row { 1 } else { markers.list.len() };
    let top = page.top() + 26.0 + ROW * rows as f64;
    let stack = Stack { x: (&x, SCREW), panels: &panels, top };
    let words = |canvas: &Canvas<'_>| {
        let (up, down) = (words_at - 9.0, words_at + 9.0);
        draw_bands(canvas, &bands, &x, (up, down), true);
        canvas.outline((LEFT, up), (right_end(), down), thin(SOFT));
        markers.draw_words(canvas, &x, words_at + 26.0, &panels[0], stack.first());
    };
    let behind = |canvas: &Canvas<'_>, frame: &Frame<'_>| {
        draw_spread(canvas, sweep, frame);
        draw_bands(canvas, &bands, &x, (frame.top, frame.bottom()), false);
    };
    let lines = |canvas: &Canvas<'_>, frame: &Frame<'_>| {
        markers.list.iter().for_each(|mark| frame.upright(canvas, mark.at, mark.stroke));
    };
    stack.picture(page, description(sweep), words, behind, lines)
}

/// The conditions, and what the chart shows without a word beside it.
fn subtitle(sweep: &Sweep, bands: &[Band], x: &Axis) -> String {
    let mut subtitle = sweep.scenario.words();
    for band in bands.iter().filter(|band| word_that_fits(band, x).is_none()) {
        let (colour, [word, _]) = band_look(band.zone);
        let name = colour.map_or("white", |colour| colour.1);
        let key = format!("; {name}: {word}");
        if !subtitle.contains(&key) {
            subtitle += &key;
        }
    }
    if sweep.intervals.is_some() {
        subtitle += "; violet: in 90 of 100 cars that the readings fit";
    }
    let shown = |turns: f64| turns > x.low && turns < x.high;
    if middle_spread(sweep).is_some_and(|s| shown(s.middle.0) || shown(s.middle.1)) {
        subtitle += "; violet between dots: where the middle can lie under other laws of flame and roughness";
    }
    // On a slide the red line tells it, where there is one.
    if sweep.hazard < x.high && (Theme::now() == Theme::Print || sweep.hazard < x.low) {
        subtitle += &format!(". HAZARD {}", hazard_words(sweep.hazard.max(x.low)));
    }
    subtitle
}

/// How the middle spreads over the laws; a fitted car has its own spread.
fn middle_spread(sweep: &Sweep) -> Option<&Spread> {
    sweep.spread.as_ref().filter(|_| sweep.intervals.is_none())
}

/// The screw's axis: fractions of a turn where they are simple.
fn screw_axis(points: &[Point]) -> Axis {
    let ends = || points.iter().map(|point| point.screw_turns);
    let (low, high) =
        (ends().fold(f64::INFINITY, f64::min), ends().fold(f64::NEG_INFINITY, f64::max));
    let (low, high) = if low < high { (low, high) } else { (low - 1.0 / 64.0, high + 1.0 / 64.0) };
    let step = [1.0 / 256.0, 1.0 / 128.0, 1.0 / 64.0, 1.0 / 32.0, 1.0 / 16.0, 0.125, 0.25, 0.5]
        .into_iter()
        .find(|step| (high - low) / step <= 12.5)
        .unwrap_or(1.0);
    let mut axis = Axis::stepped(low, high, step);
    for (value, word) in &mut axis.ticks {
        *word = typeset(&turns_typed(*value));
    }
    axis
}

fn curve(sweep: &Sweep, name: &str) -> Curve {
    let reading = Reading::find(name);
    let value = |point: &Point| reading.zip(point.state()).and_then(|(r, state)| r.value(state));
    sweep.curve.iter().map(|point| (point.screw_turns, value(point))).collect()
}

fn panels(sweep: &Sweep) -> [Panel; 4] {
    let (mixture, rough) = (curve(sweep, "lambda"), curve(sweep, "cov_percent"));
    let (name, title) = match sweep.scenario.setup.conditions.trim {
        Trim::On => ("duty_percent", "duty [%], above 50 the controller adds fuel"),
        Trim::Off => (
            "wanted_duty_percent",
            "duty wanted for lambda 1 [%], trim off; above 50 the controller would add fuel",
        ),
    };
    let limit = Unit::Percent.from_si(sweep.scenario.setup.conditions.ear.cov);
    let roughest = rough.iter().filter_map(|(_, value)| *value).fold(1.2 * limit, f64::max);
    let panels = [
        lambda("lambda of the burning mixture", Axis::of(&mixture, [0.9, 1.1], 4), mixture),
        Panel::new(
            "roughness: COV of imep [%]",
            Axis::round([0.0, roughest.min(ROUGH_TOP)].into_iter(), 4),
            rough,
        )
        .limit(limit, format!("dashed: rough above {} %", number(limit))),
        potentiometer(curve(sweep, "potentiometer_v"), (0.62, 0.78)),
        duty(title, curve(sweep, name)),
    ];
    let Some(intervals) = &sweep.intervals else { return panels };
    let mut names = ["lambda", "cov_percent", "potentiometer_v", name].into_iter();
    panels.map(|panel| {
        let name = names.next().unwrap_or_default();
        let band = |(point, ends): (&Point, &Intervals)| {
            let (low, high) = ends.reading(name)?;
            Some((point.screw_turns, low, high))
        };
        let band = sweep.curve.iter().zip(&intervals.curve).filter_map(band).collect();
        panel.within(curve(sweep, name), band)
    })
}

/// The zones of the screw within the axis: from the edges where they are known, from the
/// points where the engine stalls.
fn bands(sweep: &Sweep, x: &Axis) -> Vec<Band> {
    let edges = &sweep.edges;
    let mut bands: Vec<Band> = Vec::new();
    for pair in sweep.curve.windows(2) {
        let (from, to) = (pair[0].screw_turns, pair[1].screw_turns);
        let (a, b) = (pair[0].zone(), pair[1].zone());
        let edge =
            [edges.lean, edges.rich].into_iter().flatten().find(|edge| (from..=to).contains(edge));
        let cut = edge.unwrap_or(0.5 * (from + to));
        for (from, to, zone) in [(from, cut, a), (cut, to, b)] {
            match bands.last_mut() {
                Some(last) if last.zone == zone => last.to = to,
                _ => bands.push(Band { from, to, zone }),
            }
        }
    }
    bands.retain(|band| band.to > band.from && band.to > x.low && band.from < x.high);
    bands
}

/// Colour of a zone with its name, and its word, long and short.
fn band_look(zone: Zone) -> (Option<(Colour, &'static str)>, [&'static str; 2]) {
    match zone {
        Zone::RoughLean => (Some((LEAN, "blue")), ["rough, lean", "lean"]),
        Zone::Smooth => (None, ["smooth", "smooth"]),
        Zone::Rough => (Some((STALLED, "grey")), ["rough", "rough"]),
        Zone::RoughRich => (Some((RICH, "orange, hatched")), ["rough, rich", "rich"]),
        Zone::Stalled => (Some((STALLED, "grey")), ["stalled", "stall"]),
    }
}

fn word_that_fits(band: &Band, x: &Axis) -> Option<&'static str> {
    let room = x.x(band.to) - x.x(band.from) - 8.0;
    band_look(band.zone).1.into_iter().find(|word| width(word, TEXT, true) < room)
}

/// The bands between two heights (px), with their edges, and their words if wanted.
fn draw_bands(canvas: &Canvas<'_>, bands: &[Band], x: &Axis, (up, down): (f64, f64), words: bool) {
    for (i, band) in bands.iter().enumerate() {
        let (from, to) = (x.x(band.from), x.x(band.to));
        if let (Some((colour, _)), _) = band_look(band.zone) {
            canvas.fill((from, up), (to, down), colour);
            // The words' own row stays free of it.
            if band.zone == Zone::RoughRich && !words {
                canvas.hatch((from, up), (to, down), HATCHED);
            }
        }
        if i > 0 {
            canvas.line(&[(from, up), (from, down)], thin(SOFT));
        }
        if let Some(word) = word_that_fits(band, x).filter(|_| words) {
            let middle = (0.5 * (from + to), 0.5 * (up + down));
            canvas.text(word, middle, bold(TEXT, INK).at(Anchor::Center));
        }
    }
}

/// The spread of the middle behind a panel.
fn draw_spread(canvas: &Canvas<'_>, sweep: &Sweep, frame: &Frame<'_>) {
    let Some(spread) = middle_spread(sweep) else { return };
    let (low, high) = (spread.middle.0.max(frame.x.low), spread.middle.1.min(frame.x.high));
    if low < high {
        let (left, right) = (frame.x.x(low), frame.x.x(high));
        canvas.fill((left, frame.top), (right, frame.bottom()), SPREAD);
        for at in [low, high] {
            frame.upright(canvas, at, dashed(SOFT, 0.8, 1.0, 3.0));
        }
    }
}

/// Height of a row of a marker's words (px).
const ROW: f64 = 20.0;

/// The settings of note within the axis, and the side their words stand on: a line whose
/// words are in a high row must not have other lines pass through them, so the highest row
/// belongs to the leanest line with words to the right, or to the richest with words to
/// the left.
struct Markers {
    list: Vec<Mark>,
    /// On which side each has its words.
    right: Vec<bool>,
    /// Whether all words stand in one row: on a slide, which is low.
    in_a_row: bool,
}

/// On which side of its line each mark has its words, so that in one row none lies over
/// another or over another's line; `None` if there is no such way.
fn sides(list: &[Mark], x: &Axis) -> Option<Vec<bool>> {
    const AWAY: f64 = 6.0;
    let words = |mark: &Mark, right: bool| {
        let (at, wide) = (x.x(mark.at), width(&mark.words, SMALL, false));
        if right { (at + AWAY, at + AWAY + wide) } else { (at - AWAY - wide, at - AWAY) }
    };
    let fit = |right: &Vec<bool>| {
        let boxes: Vec<_> = list.iter().zip(right).map(|(mark, side)| words(mark, *side)).collect();
        boxes.iter().enumerate().all(|(i, (from, to))| {
            let clear = |at: f64| at < from - 3.0 || at > to + 3.0;
            let lines = list.iter().enumerate().all(|(j, other)| i == j || clear(x.x(other.at)));
            let apart = |(a, b): &(f64, f64)| *b < from - AWAY || *a > to + AWAY;
            let others = boxes.iter().enumerate().all(|(j, other)| i == j || apart(other));
            *from >= PAGE_EDGE && *to <= right_end() && lines && others
        })
    };
    (0..1_usize << list.len())
        .map(|ways| (0..list.len()).map(|i| ways >> i & 1 == 0).collect())
        .find(fit)
}

impl Markers {
    fn of(sweep: &Sweep, x: &Axis) -> Markers {
        let edges = &sweep.edges;
        let shaded = middle_spread(sweep).map_or(String::new(), |spread| {
            format!(" (shaded: {} to {})", turns(spread.middle.0), turns(spread.middle.1))
        });
        let (aim, middle) = (edges.lambda_one, edges.middle());
        let aim_word = match sweep.aim_word() {
            "lambda 1" => "lambda 1, duty 50 %",
            _ => "duty 50 %, the sensor reads lambda 1",
        };
        let hazard = format!("HAZARD from {}: fuel runs at rest", turns(sweep.hazard));
        let around = format!("middle of the edges {}{shaded}", turns_or(middle, ""));
        let solid = Stroke { colour: INK, width: 1.4, dash: None };
        let dash = |dash, gap| Stroke { dash: Some((dash, gap)), ..solid };
        let marks = [
            (Some(0.0), ["0: as the rig stands".into(), "0".into(), "0".into()], dash(2.0, 3.0)),
            (
                aim,
                [
                    format!("aim {}: {aim_word}", turns_or(aim, "")),
                    "aim".into(),
                    format!("aim {}", turns_or(aim, "")),
                ],
                solid,
            ),
            (
                middle,
                [around, "middle".into(), format!("middle {}", turns_or(middle, ""))],
                dash(9.0, 4.0),
            ),
            (
                Some(sweep.hazard),
                [hazard.clone(), "HAZARD".into(), hazard],
                Stroke { colour: LIMIT, ..solid },
            ),
        ];
        let marker = |short: usize| {
            move |(at, words, stroke): &(Option<f64>, [String; 3], Stroke)| {
                Some(Mark { at: (*at)?, words: typeset(&words[short]), stroke: *stroke })
            }
        };
        // A line on the frame is no line.
        let room = 0.004 * (x.high - x.low);
        let within = |marker: &Mark| (x.low + room..=x.high - room).contains(&marker.at);
        let wide = |marker: &Mark| 8.0 + width(&marker.words, SMALL, false);
        if Theme::now() == Theme::Projector {
            let mut list: Vec<Mark> = marks.iter().filter_map(marker(2)).filter(within).collect();
            list.sort_by(|a, b| a.at.total_cmp(&b.at));
            if let Some(right) = sides(&list, x) {
                return Markers { list, right, in_a_row: true };
            }
        }
        let rows = |list: Vec<Mark>, right: bool| Markers {
            right: vec![right; list.len()],
            list,
            in_a_row: false,
        };
        for short in [0, 1] {
            let mut list: Vec<Mark> =
                marks.iter().filter_map(marker(short)).filter(within).collect();
            list.sort_by(|a, b| a.at.total_cmp(&b.at));
            if list.iter().all(|marker| x.x(marker.at) + wide(marker) <= right_end()) {
                return rows(list, true);
            }
            list.reverse();
            if list.iter().all(|marker| x.x(marker.at) - wide(marker) >= PAGE_EDGE) {
                return rows(list, false);
            }
        }
        rows(Vec::new(), true)
    }

    /// Words in rows from `y` down, each with its line down to the first panel, which
    /// leaves room for that panel's title.
    fn draw_words(&self, canvas: &Canvas<'_>, x: &Axis, y: f64, panel: &Panel, top: f64) {
        for (i, (marker, right)) in self.list.iter().zip(&self.right).enumerate() {
            let i = if self.in_a_row { 0 } else { i };
            let covered = panel.title_covers(x.x(marker.at));
            let end = if covered { top - OVER + 4.0 } else { top };
            marker.draw(canvas, x, (y + ROW * i as f64, end), *right);
        }
    }
}

fn description(sweep: &Sweep) -> String {
    let edges = &sweep.edges;
    let mut text = format!(
        "Four panels over the mixture screw: lambda, roughness, airflow potentiometer, duty. {}. Lean edge {} turn, rich edge {} turn, aim {} turn, middle {} turn.",
        sweep.finding(),
        turns_or(edges.lean, "none"),
        turns_or(edges.rich, "none"),
        turns_or(edges.lambda_one, "none"),
        turns_or(edges.middle(), "none"),
    );
    let shown = ["lambda", "cov_percent", "potentiometer_v"];
    let labelled = sweep.points.iter().step_by((sweep.points.len() / 6).max(1));
    for point in labelled {
        text += &format!(" At {} turn: ", turns(point.screw_turns));
        match point.state() {
            None => text += "stalled.",
            Some(state) => {
                let readings = shown.iter().filter_map(|name| Reading::find(name));
                let parts = readings.filter_map(|reading| {
                    let value = with_unit(reading, reading.value(state)?);
                    Some(format!("{} {value}", reading.short_label()))
                });
                text += &format!("{}.", parts.collect::<Vec<_>>().join(", "));
            }
        }
    }
    text
}
