//! The chart of a sweep: lambda, roughness, potentiometer and duty over the screw, with the
//! rough zones, the static setting, the aim and the middle.

use super::draw::{Anchor, Canvas, Stroke, Type, svg};
use super::panels::{
    Axis, LEFT, OVER, Panel, RIGHT, footer, footer_lines, heading, heading_height, panel_height,
    plain, thin, under,
};
use super::picture::Picture;
use super::theme::{
    Colour, INK, LEAN, LIMIT, RICH, SMALL, SOFT, SPREAD, STALLED, TEXT, Theme, WIDTH,
};
use crate::fonts::width;
use crate::results::sweep::{Sweep, hazard_words};
use crate::text::{idle_band, plain as number, turns, turns_or, turns_typed, typeset};
use sim_core::conditions::Trim;
use sim_core::point::{Point, Reading, Zone};
use sim_core::sense::potentiometer::IDLE_BAND_V;
use sim_core::units::Unit;

/// Roughness above which the panel is cut off [%].
const ROUGH_TOP: f64 = 30.0;

/// A stretch of the screw with one word.
struct Band {
    from: f64,
    to: f64,
    zone: Zone,
}

/// A setting of note.
struct Marker {
    at: f64,
    word: String,
    dash: Option<(f64, f64)>,
    colour: Colour,
}

/// Draws a sweep.
pub fn picture(sweep: &Sweep) -> Picture {
    let title = typeset(&sweep.finding());
    let x = screw_axis(&sweep.points);
    let panels = panels(sweep);
    let bands = bands(sweep, &x);
    let mut subtitle = sweep.scenario.words();
    for band in bands.iter().filter(|band| word_that_fits(band, &x).is_none()) {
        let (colour, [word, _]) = band_look(band.zone);
        let name = colour.map_or("white", |colour| colour.1);
        let key = format!("; {name}: {word}");
        if !subtitle.contains(&key) {
            subtitle += &key;
        }
    }
    let shown = |turns: f64| turns > x.low && turns < x.high;
    if sweep.spread.is_some_and(|s| shown(s.middle.0) || shown(s.middle.1)) {
        subtitle +=
            "; violet between dots: the middle over flame laws, roughness and what makes it";
    }
    // On a slide the red line tells it, where there is one.
    if sweep.hazard < x.high && (Theme::now() == Theme::Print || sweep.hazard < x.low) {
        subtitle += &format!(". HAZARD {}", hazard_words(sweep.hazard.max(x.low)));
    }
    let subtitle = typeset(&subtitle);
    let markers = Markers::of(sweep, &x);
    let first = heading_height(&title, &subtitle) + 26.0 + ROW * markers.list.len() as f64;
    let tops: Vec<f64> =
        (0..panels.len()).map(|i| first + OVER + i as f64 * (panel_height() + OVER)).collect();
    let bottom = tops[panels.len() - 1] + panel_height();
    let footer_height = 16.0 * footer_lines(&sweep.command).len() as f64;
    let height = (bottom + 46.0 + footer_height + 12.0).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        let words_at = heading(canvas, &title, &subtitle) + 6.0;
        draw_words(canvas, &bands, &x, words_at);
        markers.draw_words(canvas, &x, words_at + 26.0, &panels[0], tops[0]);
        for (panel, &top) in panels.iter().zip(&tops) {
            draw_spread(canvas, sweep, &x, top);
            draw_bands(canvas, &bands, &x, top);
            panel.draw(canvas, &x, top);
            markers.draw_lines(canvas, &x, top);
        }
        let end = under(
            canvas,
            &x,
            bottom,
            "mixture screw from where the rig stands [turns], clockwise (richer) to the right",
        );
        footer(canvas, &sweep.command, end);
    });
    Picture { width: WIDTH, top: 0.0, height, title, description: description(sweep), drawing }
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

fn curve(sweep: &Sweep, name: &str) -> Vec<(f64, Option<f64>)> {
    let reading = Reading::find(name);
    sweep
        .curve
        .iter()
        .map(|point| {
            let value = reading.zip(point.state()).and_then(|(r, state)| r.value(state));
            (point.screw_turns, value)
        })
        .collect()
}

fn panels(sweep: &Sweep) -> Vec<Panel> {
    let values = |curve: &[(f64, Option<f64>)]| {
        curve.iter().filter_map(|(_, value)| *value).collect::<Vec<_>>()
    };
    let lambda = curve(sweep, "lambda");
    let rough = curve(sweep, "cov_percent");
    let volts = curve(sweep, "potentiometer_v");
    let trim_on = sweep.scenario.setup.conditions.trim == Trim::On;
    let (duty, duty_title) = if trim_on {
        (curve(sweep, "duty_percent"), "duty [%], above 50 the controller adds fuel")
    } else {
        (
            curve(sweep, "wanted_duty_percent"),
            "duty wanted for lambda 1 [%], trim off; above 50 the controller would add fuel",
        )
    };
    let limit = Unit::Percent.from_si(sweep.scenario.setup.conditions.ear.cov);
    let most_rough = values(&rough).into_iter().fold(limit, f64::max).min(ROUGH_TOP);
    vec![
        Panel {
            title: "lambda of the burning mixture".into(),
            axis: Axis::round(values(&lambda).into_iter().chain([0.9, 1.1]), 4),
            curve: lambda,
            limit: Some((1.0, "dashed: lambda 1".into())),
            target: None,
        },
        Panel {
            title: "roughness: COV of imep [%]".into(),
            axis: Axis::round([0.0, most_rough.max(12.0)].into_iter(), 4),
            curve: rough,
            limit: Some((limit, format!("dashed: rough above {} %", number(limit)))),
            target: None,
        },
        Panel {
            title: "airflow potentiometer [V]".into(),
            axis: Axis::round(values(&volts).into_iter().chain([0.62, 0.78]), 4),
            curve: volts,
            limit: None,
            target: Some((
                IDLE_BAND_V.0,
                IDLE_BAND_V.1,
                format!("band: {}, common practice", idle_band()),
            )),
        },
        Panel {
            title: duty_title.into(),
            axis: Axis::stepped(-5.0, 105.0, 25.0),
            curve: duty,
            limit: Some((50.0, "dashed: 50 %".into())),
            target: None,
        },
    ]
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
        Zone::RoughRich => (Some((RICH, "orange")), ["rough, rich", "rich"]),
        Zone::Stalled => (Some((STALLED, "grey")), ["stalled", "stall"]),
    }
}

fn word_that_fits(band: &Band, x: &Axis) -> Option<&'static str> {
    let room = x.x(band.to) - x.x(band.from) - 8.0;
    band_look(band.zone).1.into_iter().find(|word| width(word, TEXT, true) < room)
}

/// The words of the bands, in a row over the panels.
fn draw_words(canvas: &Canvas<'_>, bands: &[Band], x: &Axis, y: f64) {
    let (up, down) = (y - 9.0, y + 9.0);
    for (i, band) in bands.iter().enumerate() {
        let (from, to) = (x.x(band.from), x.x(band.to));
        if let (Some((colour, _)), _) = band_look(band.zone) {
            canvas.fill((from, up), (to, down), colour);
        }
        if i > 0 {
            canvas.line(&[(from, up), (from, down)], thin(SOFT));
        }
        let face = Type { size: TEXT, colour: INK, bold: true, anchor: Anchor::Middle };
        if let Some(word) = word_that_fits(band, x) {
            canvas.text(word, (0.5 * (from + to), y), face);
        }
    }
    canvas.line(&[(LEFT, up), (RIGHT, up), (RIGHT, down), (LEFT, down), (LEFT, up)], thin(SOFT));
}

/// The bands behind a panel, with their edges.
fn draw_bands(canvas: &Canvas<'_>, bands: &[Band], x: &Axis, top: f64) {
    for (i, band) in bands.iter().enumerate() {
        let (from, to) = (x.x(band.from), x.x(band.to));
        if let (Some((colour, _)), _) = band_look(band.zone) {
            canvas.fill((from, top), (to, top + panel_height()), colour);
        }
        if i > 0 {
            canvas.line(&[(from, top), (from, top + panel_height())], thin(SOFT));
        }
    }
}

/// The spread of the middle behind a panel.
fn draw_spread(canvas: &Canvas<'_>, sweep: &Sweep, x: &Axis, top: f64) {
    let Some(spread) = &sweep.spread else { return };
    let (low, high) = (spread.middle.0.max(x.low), spread.middle.1.min(x.high));
    if low < high {
        canvas.fill((x.x(low), top), (x.x(high), top + panel_height()), SPREAD);
        for edge in [low, high] {
            let stroke = Stroke { colour: SOFT, width: 0.8, dash: Some((1.0, 3.0)) };
            canvas.line(&[(x.x(edge), top), (x.x(edge), top + panel_height())], stroke);
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
    list: Vec<Marker>,
    to_the_right: bool,
}

impl Markers {
    fn of(sweep: &Sweep, x: &Axis) -> Markers {
        let edges = &sweep.edges;
        let shaded = sweep.spread.map_or(String::new(), |spread| {
            format!(" (shaded: {} to {})", turns(spread.middle.0), turns(spread.middle.1))
        });
        let (aim, middle) = (edges.lambda_one, edges.middle());
        let aim_word = match sweep.aim_word() {
            "lambda 1" => "lambda 1, duty 50 %",
            _ => "duty 50 %, the sensor reads lambda 1",
        };
        let marks = [
            (Some(0.0), ["0: the screw as the rig stands".into(), "0".into()], Some((2.0, 3.0))),
            (aim, [format!("aim {}: {aim_word}", turns_or(aim, "")), "aim".into()], None),
            (
                middle,
                [format!("middle of the edges {}{shaded}", turns_or(middle, "")), "middle".into()],
                Some((9.0, 4.0)),
            ),
            (
                Some(sweep.hazard),
                [
                    format!("HAZARD from {}: fuel runs at rest", turns(sweep.hazard)),
                    "HAZARD".into(),
                ],
                None,
            ),
        ];
        let marker = |short: usize| {
            move |(at, words, dash): &(Option<f64>, [String; 2], Option<(f64, f64)>)| {
                let word = typeset(&words[short]);
                let colour = if word.starts_with("HAZARD") { LIMIT } else { INK };
                Some(Marker { at: (*at)?, word, dash: *dash, colour })
            }
        };
        // A line on the frame is no line.
        let room = 0.004 * (x.high - x.low);
        let within = |marker: &Marker| (x.low + room..=x.high - room).contains(&marker.at);
        let wide = |marker: &Marker| 8.0 + width(&marker.word, SMALL, false);
        for short in [0, 1] {
            let mut list: Vec<Marker> =
                marks.iter().filter_map(marker(short)).filter(within).collect();
            list.sort_by(|a, b| a.at.total_cmp(&b.at));
            if list.iter().all(|marker| x.x(marker.at) + wide(marker) <= RIGHT) {
                return Markers { list, to_the_right: true };
            }
            list.reverse();
            if list.iter().all(|marker| x.x(marker.at) - wide(marker) >= 18.0) {
                return Markers { list, to_the_right: false };
            }
        }
        Markers { list: Vec::new(), to_the_right: true }
    }

    /// Words in rows from `y` down, each with its line down to the first panel, which
    /// leaves room for that panel's title.
    fn draw_words(&self, canvas: &Canvas<'_>, x: &Axis, y: f64, panel: &Panel, top: f64) {
        for (i, marker) in self.list.iter().enumerate() {
            let (at, y) = (x.x(marker.at), y + ROW * i as f64);
            let (anchor, away) =
                if self.to_the_right { (Anchor::Start, 6.0) } else { (Anchor::End, -6.0) };
            canvas.text(&marker.word, (at + away, y), plain(SMALL, marker.colour, anchor));
            let end = if panel.title_covers(at) { top - OVER + 4.0 } else { top };
            canvas.line(&[(at, y - 6.0), (at, end)], marker.stroke());
        }
    }

    /// The lines through a panel.
    fn draw_lines(&self, canvas: &Canvas<'_>, x: &Axis, top: f64) {
        for marker in &self.list {
            let at = x.x(marker.at);
            canvas.line(&[(at, top), (at, top + panel_height())], marker.stroke());
        }
    }
}

impl Marker {
    fn stroke(&self) -> Stroke {
        Stroke { colour: self.colour, width: 1.4, dash: self.dash }
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
                let parts: Vec<String> = shown
                    .iter()
                    .filter_map(|name| Reading::find(name))
                    .filter_map(|reading| {
                        let value = reading.value(state)?;
                        Some(
                            format!(
                                "{} {value:.*} {}",
                                reading.label,
                                reading.decimals,
                                reading.unit.symbol()
                            )
                            .trim_end()
                            .to_string(),
                        )
                    })
                    .collect();
                text += &format!("{}.", parts.join(", "));
            }
        }
    }
    text
}
