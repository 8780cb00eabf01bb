//! The chart of a meter: the last seconds of the voltage and of what is shown, and the face
//! of the instrument.

use super::draw::{Anchor, Canvas, Stroke, Type, svg};
use super::panels::{
    Axis, LEFT, OVER, RIGHT, clauses, footer, footer_lines, heading, heading_height, plain, thin,
    under,
};
use super::picture::Picture;
use super::theme::{CURVE, GRID, INK, LIMIT, SMALL, SOFT, SPREAD, TARGET, TEXT, Theme, WIDTH};
use crate::results::meter::MeterReading;
use crate::text::{idle_band, typeset};
use sim_core::run::voltmeter::{Figures, Moment, WINDOW_S};
use sim_core::sense::meter::Meter;
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Height of the panel over time (px).
fn panel_height() -> f64 {
    Theme::tall(200.0)
}
/// Height of the instrument's face (px).
const FACE: f64 = 160.0;
/// Width on the right that the curves' words take (px).
fn words_room() -> f64 {
    match Theme::now() {
        Theme::Print => 96.0,
        Theme::Projector => 140.0,
    }
}
/// A true voltage that moves less than this is a line, not a band (V).
const CALM_V: f64 = 0.5e-3;
/// Full scale that digits are drawn over (V).
const DIGITS_TO_V: f64 = 2.0;

/// Draws what a meter showed.
pub fn picture(reading: &MeterReading) -> Picture {
    let title = typeset(&reading.finding());
    let words = reading.scenario.words().replace("warm point", "running");
    let subtitle = typeset(&format!(
        "{words}. {}, {}.",
        reading.instrument(),
        if reading.options.torque_noise {
            format!(
                "pulsation {} %, torque noise, seed {}",
                crate::text::plain(100.0 * reading.options.pulsation),
                reading.options.seed
            )
        } else {
            "neither pulsation nor torque noise".into()
        }
    ));
    let top = heading_height(&title, &subtitle) + OVER;
    let figures = reading.found.figures;
    let bottom = if figures.is_some() { top + panel_height() + 66.0 + FACE } else { top + 30.0 };
    let height = (bottom + 20.0 + 16.0 * footer_lines(&reading.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        match &figures {
            Some(figures) => {
                draw_time(canvas, reading, figures, top);
                draw_face(canvas, reading, figures, top + panel_height() + 66.0);
            }
            None => {
                let face = plain(TEXT, INK, Anchor::Start);
                canvas.text("The engine stands: nothing is shown.", (18.0, top), face);
            }
        }
        footer(canvas, &reading.command, bottom);
    });
    Picture { width: WIDTH, top: 0.0, height, title, description: description(reading), drawing }
}

fn description(reading: &MeterReading) -> String {
    let Some(figures) = reading.found.figures else { return format!("{}.", reading.finding()) };
    format!(
        "Above, the voltage at the wiper and what the instrument shows over the last seconds; below, its scale with the band {} (common practice, no source) and the reading. {}. The load of the meter takes {:.2} mV.",
        idle_band(),
        reading.finding(),
        -1e3 * figures.loading_v
    )
}

/// The voltage and what is shown, over time.
fn draw_time(canvas: &Canvas<'_>, reading: &MeterReading, figures: &Figures, top: f64) {
    let window = &reading.found.window;
    let lasts = reading.procedure.lasts_s;
    let from = (lasts - WINDOW_S).max(0.0);
    let right = RIGHT - words_room();
    let ticks = Axis::round([from, lasts].into_iter(), 8).ticks;
    let within = |at: &f64| (from - 1e-9..=lasts + 1e-9).contains(at);
    // Narrower than the common axis, so that words stand beside the curves' ends.
    let to = lasts + (lasts - from) * words_room() / (right - LEFT);
    let x = Axis {
        low: from,
        high: to,
        ticks: ticks.into_iter().filter(|(at, _)| within(at)).collect(),
    };
    let values = window.iter().flat_map(|m| [m.true_v, m.shown_v]);
    let axis = Axis::round(values.chain([IDLE_BAND_V.0, IDLE_BAND_V.1]), 6);
    let bottom = top + panel_height();
    let y = |volts: f64| bottom - panel_height() * (volts - axis.low) / (axis.high - axis.low);
    canvas.fill((LEFT, y(IDLE_BAND_V.1)), (right, y(IDLE_BAND_V.0)), TARGET);
    canvas.axes(|canvas| {
        for (value, word) in &axis.ticks {
            canvas.line(&[(LEFT, y(*value)), (right, y(*value))], thin(GRID));
            canvas.text(word, (LEFT - 7.0, y(*value)), plain(SMALL, INK, Anchor::End));
        }
    });
    for edge in [IDLE_BAND_V.0, IDLE_BAND_V.1] {
        canvas.line(&[(LEFT, y(edge)), (right, y(edge))], edge_stroke());
    }
    // Within a px the voltage swings many times: its least and largest.
    let columns = extremes(window, from, lasts, (right - LEFT) as usize);
    for &(at, (least, most)) in &columns {
        let stroke = Stroke { colour: SPREAD, width: 1.2, dash: None };
        canvas.line(&[(LEFT + at, y(least) + 0.4), (LEFT + at, y(most) - 0.4)], stroke);
    }
    if figures.true_v.1 < CALM_V {
        let middle =
            |&(at, (least, most)): &(f64, (f64, f64))| (LEFT + at, y(0.5 * (least + most)));
        let points: Vec<_> = columns.iter().map(middle).collect();
        canvas.line(&points, Stroke { colour: INK, width: 1.6, dash: Some((7.0, 5.0)) });
    }
    let shown: Vec<(f64, f64)> = window.iter().map(|m| (x.x(m.time_s), y(m.shown_v))).collect();
    canvas.line(&shown, Stroke { colour: CURVE, width: 2.2, dash: None });
    let frame = [(LEFT, top), (right, top), (right, bottom), (LEFT, bottom), (LEFT, top)];
    let face = plain(TEXT, INK, Anchor::Start);
    canvas.axes(|canvas| {
        canvas.line(&frame, thin(SOFT));
        canvas.text("voltage at the wiper [V]", (LEFT, top - 9.0), face);
    });
    let small = plain(SMALL, SOFT, Anchor::End);
    let (band, end) = match Theme::now() {
        Theme::Print => (
            format!("green band, dashed edges: {}, common practice, no source", idle_band()),
            right,
        ),
        Theme::Projector => (format!("band: {}, common practice", idle_band()), RIGHT),
    };
    canvas.text(&band, (end, top - 9.0), small);
    draw_words(canvas, reading, figures, &y, right);
    under(canvas, &x, bottom, "time [s]");
}

/// Which curve is which, beside its end.
fn draw_words(
    canvas: &Canvas<'_>,
    reading: &MeterReading,
    figures: &Figures,
    y: &dyn Fn(f64) -> f64,
    right: f64,
) {
    let most = reading.found.window.iter().map(|m| m.true_v).fold(f64::MIN, f64::max);
    let shown_at = y(figures.shown_v.0);
    let above = (y(most) + 8.0).min(shown_at - 32.0);
    // Where the curve runs along the panel's upper edge, the words stand below it.
    let true_at = if above > y(most.max(IDLE_BAND_V.1)) - 12.0 { above } else { shown_at + 20.0 };
    let bold = Type { size: SMALL, colour: CURVE, bold: true, anchor: Anchor::Start };
    canvas.text(
        if reading.has_needle() { "needle" } else { "digits" },
        (right + 8.0, shown_at),
        bold,
    );
    let soft = plain(SMALL, INK, Anchor::Start);
    if figures.true_v.1 < CALM_V {
        canvas.text("true voltage", (right + 8.0, y(figures.true_v.0).min(shown_at - 16.0)), soft);
        return;
    }
    canvas.text("true voltage,", (right + 8.0, true_at), soft);
    canvas.text("each stroke", (right + 8.0, true_at + 14.0), soft);
}

fn edge_stroke() -> Stroke {
    Stroke { colour: LIMIT, width: 1.0, dash: Some((5.0, 4.0)) }
}

/// Place (px) and least and largest true voltage of each column of a panel.
fn extremes(window: &[Moment], from: f64, to: f64, columns: usize) -> Vec<(f64, (f64, f64))> {
    let mut found = vec![(f64::INFINITY, f64::NEG_INFINITY); columns];
    for moment in window {
        let share = (moment.time_s - from) / (to - from);
        let column = ((share * columns as f64) as usize).min(columns - 1);
        let (least, most) = &mut found[column];
        *least = least.min(moment.true_v);
        *most = most.max(moment.true_v);
    }
    let there = found.into_iter().enumerate().filter(|(_, (least, most))| least <= most);
    there.map(|(i, pair)| (i as f64 + 0.5, pair)).collect()
}

/// The instrument's scale, the trade's band on it, and where the reading stands.
fn draw_face(canvas: &Canvas<'_>, reading: &MeterReading, figures: &Figures, top: f64) {
    let (full_v, division_v) = match reading.found.meter {
        Meter::Needle(needle) => (needle.range_v, needle.division_v()),
        Meter::Digital(_) => (DIGITS_TO_V, 0.05),
    };
    let x = |volts: f64| LEFT + (RIGHT - LEFT) * (volts / full_v).clamp(0.0, 1.0);
    let base = top + 0.62 * FACE;
    let high = top + 24.0;
    let (low_v, high_v) = (figures.shown_range_v.0, figures.shown_range_v.1);
    let title = match reading.found.meter {
        Meter::Needle(_) => {
            format!("the scale, one division {} V", crate::text::plain(division_v))
        }
        Meter::Digital(_) => "the digits' place from 0 to 2 V".into(),
    };
    canvas.axes(|canvas| canvas.text(&title, (LEFT, top), plain(TEXT, INK, Anchor::Start)));
    if IDLE_BAND_V.1 <= full_v {
        canvas.fill((x(IDLE_BAND_V.0), high + 22.0), (x(IDLE_BAND_V.1), base), TARGET);
        for edge in [IDLE_BAND_V.0, IDLE_BAND_V.1] {
            canvas.line(&[(x(edge), high + 22.0), (x(edge), base)], edge_stroke());
        }
    }
    canvas.axes(|canvas| canvas.line(&[(LEFT, base), (RIGHT, base)], thin(INK)));
    let count = (full_v / division_v + 1e-9).floor() as usize;
    // Numbers stand at every tenth division where it is round, else at every fifth.
    let numbered = if count > 30 { 10 } else { 5 };
    for i in 0..=count {
        let at = x(i as f64 * division_v);
        let long = if i % numbered == 0 {
            14.0
        } else if i % 5 == 0 {
            11.0
        } else {
            7.0
        };
        canvas.axes(|canvas| {
            canvas.line(&[(at, base), (at, base + long)], thin(INK));
            if i % numbered == 0 {
                let word = crate::text::plain(i as f64 * division_v);
                canvas.text(&word, (at, base + 24.0), plain(SMALL, INK, Anchor::Middle));
            }
        });
    }
    // The bounce: from the least to the largest shown.
    canvas.fill((x(low_v), high + 22.0), (x(high_v).max(x(low_v) + 1.0), base), SPREAD);
    let pointer = x(figures.shown_v.0);
    canvas.line(
        &[(pointer, high + 10.0), (pointer, base)],
        Stroke { colour: CURVE, width: 1.6, dash: None },
    );
    let words = format!(
        "reads {:.*} V, from {:.3} to {:.3} V while it bounces",
        reading.decimals(),
        figures.reading_v,
        low_v,
        high_v
    );
    let (anchor, away) =
        if pointer < 0.5 * (LEFT + RIGHT) { (Anchor::Start, 8.0) } else { (Anchor::End, -8.0) };
    let bold = Type { size: TEXT, colour: CURVE, bold: true, anchor };
    let room = if away > 0.0 { RIGHT - pointer } else { pointer - LEFT };
    // Bold letters are wider.
    let words = clauses(&words, 0.85 * room);
    canvas.text(words, (pointer + away, high + 12.0), bold);
    let words = format!(
        "load of the meter {:+.2} mV, stated error \u{b1}{:.1} mV, half of the green band \u{b1}50 mV",
        1e3 * figures.loading_v,
        1e3 * figures.stated_error_v
    );
    let words = typeset(&words);
    canvas.text(
        clauses(&words, RIGHT - LEFT),
        (LEFT, base + 46.0),
        plain(SMALL, SOFT, Anchor::Start),
    );
}
