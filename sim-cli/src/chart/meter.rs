//! The chart of a meter: the last seconds of the voltage and of what is shown, and the scale
//! of the instrument.

use crate::drawing::axes::{Axis, Frame, OVER, clauses, under};
use crate::drawing::canvas::{Anchor, Canvas, Stroke, bold, dashed, plain, solid, thin};
use crate::drawing::page::Page;
use crate::drawing::picture::Picture;
use crate::drawing::theme::{
    CURVE, INK, LEFT, LIMIT, PAGE_EDGE, SMALL, SOFT, SPREAD, TARGET, TEXT, right_end,
};
use crate::results::meter::MeterReading;
use crate::text::{idle_band, plain as typed, typeset};
use sim_core::run::voltmeter::{Figures, Moment, WINDOW_S};
use sim_core::sense::meter::Meter;
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Height of the panel over time in print (px).
const PANEL_HEIGHT: f64 = 200.0;
/// Height of the instrument's scale (px).
const SCALE_HEIGHT: f64 = 160.0;
/// Width on the right that the curves' words take (px).
const WORDS_ROOM: f64 = 150.0;
/// A true voltage that moves less than this is a line, not a band (V).
const CALM_V: f64 = 0.5e-3;
/// Full scale that digits are drawn over (V).
const DIGITS_TO_V: f64 = 2.0;

/// Edges of the band.
const BAND_EDGE: Stroke = dashed(LIMIT, 1.0, 5.0, 4.0);

/// Ends of the stated error.
const STATED_EDGE: Stroke = dashed(CURVE, 1.4, 2.0, 3.0);

/// Between what voltages the true one lies by the meter's stated error (V).
fn stated_v(figures: &Figures) -> (f64, f64) {
    (figures.reading_v - figures.stated_error_v, figures.reading_v + figures.stated_error_v)
}

/// Draws what a meter showed.
pub fn picture(reading: &MeterReading) -> Picture {
    let words = reading.scenario.words().replace("warm point", "running");
    let options = &reading.options;
    let shaken = if options.torque_noise {
        let percent = typed(100.0 * options.pulsation);
        format!("pulsation {percent} %, torque noise, seed {}", options.seed)
    } else {
        "neither pulsation nor torque noise".into()
    };
    let words = format!("{words}. {}, {shaken}.", reading.instrument());
    let page = Page::new(&title(reading), &words, &reading.command);
    let top = page.top() + OVER;
    let Some(figures) = &reading.found.figures else {
        return page.picture((top + 30.0, 20.0), description(reading), |canvas| {
            let words = "The engine stands: nothing is shown.";
            canvas.text(words, (PAGE_EDGE, top), plain(TEXT, INK));
        });
    };
    let high = page.room(PANEL_HEIGHT, top, 66.0 + SCALE_HEIGHT);
    let scale_at = top + high + 66.0;
    page.picture((scale_at + SCALE_HEIGHT, 12.0), description(reading), |canvas| {
        draw_time(canvas, reading, figures, (top, high));
        draw_scale(canvas, reading, figures, scale_at);
    })
}

/// What is read, and how far that can be trusted beside half of the band.
fn title(reading: &MeterReading) -> String {
    let Some(figures) = &reading.found.figures else { return reading.finding() };
    let what = if reading.has_needle() { "The needle reads" } else { "The digits read" };
    let half_v = 0.5 * (IDLE_BAND_V.1 - IDLE_BAND_V.0);
    let wide = if figures.stated_error_v > half_v { "wider" } else { "narrower" };
    format!(
        "{what} {:.*} V \u{b1} {:.1} mV: its stated error is {wide} than half of the band",
        reading.decimals(),
        figures.reading_v,
        1e3 * figures.stated_error_v
    )
    .replace("its", if reading.has_needle() { "its" } else { "their" })
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
fn draw_time(
    canvas: &Canvas<'_>,
    reading: &MeterReading,
    figures: &Figures,
    (top, height): (f64, f64),
) {
    let window = &reading.found.window;
    let lasts = reading.procedure.lasts_s;
    let from = (lasts - WINDOW_S).max(0.0);
    let right = right_end() - WORDS_ROOM;
    // Longer than the curves, so that words stand beside their ends.
    let mut x = Axis::between(from, lasts, 8);
    x.high = lasts + (lasts - from) * WORDS_ROOM / (right - LEFT);
    let (low_v, high_v) = stated_v(figures);
    let values = window.iter().flat_map(|m| [m.true_v, m.shown_v]).chain([low_v, high_v]);
    let axis = Axis::round(values.chain([IDLE_BAND_V.0, IDLE_BAND_V.1]), 6);
    let frame = Frame { x: &x, y: &axis, right, top, height };
    frame.band(canvas, IDLE_BAND_V, TARGET);
    frame.levels(canvas);
    for edge in [IDLE_BAND_V.0, IDLE_BAND_V.1] {
        frame.level(canvas, edge, BAND_EDGE);
    }
    // Within a px the voltage swings many times: its least and largest.
    let columns = extremes(window, from, lasts, (right - LEFT) as usize);
    for &(at, (least, most)) in &columns {
        let (low, high) = (frame.y(least) + 0.4, frame.y(most) - 0.4);
        canvas.line(&[(LEFT + at, low), (LEFT + at, high)], solid(SPREAD, 1.2));
    }
    if figures.true_v.1 < CALM_V {
        let middles = columns.iter().map(|(at, (least, most))| (at, 0.5 * (least + most)));
        let points: Vec<_> = middles.map(|(at, volts)| (LEFT + at, frame.y(volts))).collect();
        canvas.line(&points, dashed(INK, 1.6, 7.0, 5.0));
    }
    let shown: Vec<_> = window.iter().map(|m| frame.place((m.time_s, m.shown_v))).collect();
    canvas.line(&shown, solid(CURVE, 2.2));
    for edge in [low_v, high_v] {
        frame.level(canvas, edge, STATED_EDGE);
    }
    frame.outline(canvas, "voltage at the wiper [V]");
    let band = format!("band with dashed edges: {}, common practice, no source", idle_band());
    canvas.text(&band, (right, top - 9.0), plain(SMALL, SOFT).at(Anchor::Right));
    draw_words(canvas, reading, figures, &frame);
    under(canvas, &x, frame.bottom(), "time [s]");
}

/// Which curve is which, beside its end; where two ends lie close their words move apart.
fn draw_words(canvas: &Canvas<'_>, reading: &MeterReading, figures: &Figures, frame: &Frame<'_>) {
    const APART: f64 = 15.0;
    let (low_v, high_v) = stated_v(figures);
    let moved_v = 1e3 * figures.true_v.1;
    let word = if reading.has_needle() { "needle" } else { "digits" };
    let mut words = vec![
        (frame.y(figures.shown_v.0), bold(SMALL, CURVE), vec![word.to_string()]),
        (frame.y(high_v), plain(SMALL, CURVE), vec!["stated error, over".into()]),
        (frame.y(low_v), plain(SMALL, CURVE), vec!["stated error, under".into()]),
    ];
    let told = match figures.true_v.1 < CALM_V {
        true => vec!["true voltage".into()],
        false => vec![
            "true voltage: shaken".into(),
            format!("by {moved_v:.1} mV, its"),
            "standard deviation".into(),
        ],
    };
    let most = reading.found.window.iter().map(|m| m.true_v).fold(f64::MIN, f64::max);
    words.push((frame.y(most), plain(SMALL, INK), told));
    words.sort_by(|a, b| a.0.total_cmp(&b.0));
    // From below upwards, then from above downwards: none leaves the panel.
    let mut free = frame.bottom() + APART;
    for (y, _, lines) in words.iter_mut().rev() {
        *y = y.min(free - APART * lines.len() as f64);
        free = *y;
    }
    let mut free = frame.top;
    for (y, face, lines) in words {
        for (i, line) in lines.iter().enumerate() {
            free = if i == 0 { y.max(free) } else { free };
            canvas.text(line, (frame.right + 8.0, free), face);
            free += APART;
        }
    }
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
fn draw_scale(canvas: &Canvas<'_>, reading: &MeterReading, figures: &Figures, top: f64) {
    let (full_v, division_v) = match reading.found.meter {
        Meter::Needle(needle) => (needle.range_v, needle.division_v()),
        Meter::Digital(_) => (DIGITS_TO_V, 0.05),
    };
    let x = |volts: f64| LEFT + (right_end() - LEFT) * (volts / full_v).clamp(0.0, 1.0);
    let base = top + 0.62 * SCALE_HEIGHT;
    let high = top + 24.0;
    let (low_v, high_v) = (figures.shown_range_v.0, figures.shown_range_v.1);
    let title = match reading.found.meter {
        Meter::Needle(_) => format!("the scale, one division {} V", typed(division_v)),
        Meter::Digital(_) => "the digits' place from 0 to 2 V".into(),
    };
    canvas.axes(|canvas| canvas.text(&title, (LEFT, top), plain(TEXT, INK)));
    if IDLE_BAND_V.1 <= full_v {
        canvas.fill((x(IDLE_BAND_V.0), high + 22.0), (x(IDLE_BAND_V.1), base), TARGET);
        for edge in [IDLE_BAND_V.0, IDLE_BAND_V.1] {
            canvas.line(&[(x(edge), high + 22.0), (x(edge), base)], BAND_EDGE);
        }
    }
    canvas.axes(|canvas| canvas.line(&[(LEFT, base), (right_end(), base)], thin(INK)));
    let count = (full_v / division_v + 1e-9).floor() as usize;
    // Numbers stand at every tenth division where it is round, else at every fifth.
    let numbered = if count > 30 { 10 } else { 5 };
    for i in 0..=count {
        let at = x(i as f64 * division_v);
        let long = match i {
            _ if i % numbered == 0 => 14.0,
            _ if i % 5 == 0 => 11.0,
            _ => 7.0,
        };
        canvas.axes(|canvas| {
            canvas.line(&[(at, base), (at, base + long)], thin(INK));
            if i % numbered == 0 {
                let word = typed(i as f64 * division_v);
                canvas.text(&word, (at, base + 24.0), plain(SMALL, INK).at(Anchor::Center));
            }
        });
    }
    // The bounce: from the least to the largest shown.
    canvas.fill((x(low_v), high + 22.0), (x(high_v).max(x(low_v) + 1.0), base), SPREAD);
    let pointer = x(figures.shown_v.0);
    canvas.line(&[(pointer, high + 10.0), (pointer, base)], solid(CURVE, 1.6));
    let words = format!(
        "reads {:.*} V, from {low_v:.3} to {high_v:.3} V while it bounces",
        reading.decimals(),
        figures.reading_v
    );
    let (anchor, away, room) = if pointer < 0.5 * (LEFT + right_end()) {
        (Anchor::Left, 8.0, right_end() - pointer)
    } else {
        (Anchor::Right, -8.0, pointer - LEFT)
    };
    // Bold letters are wider.
    let words = clauses(&words, 0.85 * room);
    canvas.text(words, (pointer + away, high + 12.0), bold(TEXT, CURVE).at(anchor));
    let words = typeset(&format!(
        "line with ends: stated error \u{b1}{:.1} mV; half of the band \u{b1}50 mV; load of the meter {:+.2} mV",
        1e3 * figures.stated_error_v,
        1e3 * figures.loading_v
    ));
    // The stated error, about the reading.
    let y = high + 34.0;
    let ends = stated_v(figures);
    canvas.line(&[(x(ends.0), y), (x(ends.1), y)], solid(CURVE, 2.2));
    for end in [ends.0, ends.1] {
        canvas.line(&[(x(end), y - 5.0), (x(end), y + 5.0)], solid(CURVE, 2.2));
    }
    let place = (LEFT, base + 46.0);
    canvas.text(clauses(&words, right_end() - LEFT), place, plain(SMALL, SOFT));
}
