//! The chart of a worn track: shares of cars over the years, and below what the idle does
//! over the voltage lost.

use super::readings::potentiometer;
use crate::drawing::axes::{Axis, Curve, Frame, OVER, UNDER, under};
use crate::drawing::canvas::{Canvas, Stroke, Type, plain};
use crate::drawing::fonts::width;
use crate::drawing::page::{Page, UNDER_FOOTER};
use crate::drawing::panels::{PANEL, Panel};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{CURVE, LEFT, SMALL, right_end};
use crate::results::wear::Ageing;
use crate::text::plain as typed;
use sim_core::run::idle_wear::{BAD_RATIO, Disturbance, Search};

/// Height of the panel over the years in print (px).
const TALL: f64 = 240.0;
/// Space between the panels, for the first one's axis (px).
const BETWEEN: f64 = 72.0;
/// Least distance of two labels (px).
const APART: f64 = 17.0;
/// Dash and gap of each curve (px), in their order; the first is solid.
const DASHES: [Option<(f64, f64)>; 5] =
    [None, Some((9.0, 5.0)), Some((3.0, 3.0)), Some((14.0, 4.0)), Some((6.0, 10.0))];

/// Draws the wear of a track.
pub fn picture(ageing: &Ageing) -> Picture {
    let words = ageing.scenario.words().replace("warm point", "running");
    let parts = ageing.fleet.map_or(String::new(), |fleet| {
        format!(
            " {} cars, {} h of idling a year, spread {}, seed {}.",
            fleet.parts,
            typed(fleet.hours_a_year),
            typed(fleet.spread),
            fleet.seed
        )
    });
    let words = format!("{words}; pulsation 10 %, torque noise.{parts}");
    let page = Page::new(&ageing.finding(), &words, &ageing.command);
    let years_at = page.top() + OVER;
    let parts = [!ageing.curves.is_empty(), ageing.found.is_some()];
    let [years, idle] = [(0, TALL), (1, PANEL)].map(|(i, high)| if parts[i] { high } else { 0.0 });
    let words = if parts[0] { BETWEEN } else { 0.0 } + if parts[1] { UNDER } else { 0.0 };
    // Both panels as high as in print, or in that proportion.
    let larger = (page.room(years + idle + words, years_at, 0.0) - words) / (years + idle).max(1.0);
    let [years, idle] = [years * larger, idle * larger];
    let idle_at = years_at + years + if parts[0] { BETWEEN } else { 0.0 };
    let bottom = idle_at + idle + if parts[1] { UNDER } else { 0.0 };
    page.picture((bottom, UNDER_FOOTER), description(ageing), |canvas| {
        if !ageing.curves.is_empty() {
            draw_years(canvas, ageing, (years_at, years));
        }
        if let Some((_, search)) = &ageing.found {
            draw_idle(canvas, search, (idle_at, idle));
        }
    })
}

fn description(ageing: &Ageing) -> String {
    let below = match &ageing.found {
        Some((_, search)) if by_voltage(search) => "the mean voltage at idle",
        _ => "the unrest of lambda or speed",
    };
    let mut text = format!(
        "Above, the share of cars that have had a bad idle over the years; below, {below} over the voltage lost. {}.",
        ageing.finding()
    );
    for curve in &ageing.curves {
        if let Some(row) = curve.rows.last() {
            let share = 100.0 * row.share;
            text += &format!(" After {} years, {}: {share:.1} %.", row.years, curve.word());
        }
    }
    text
}

/// Whether the shallowest bad pit is bad by its mean voltage alone.
fn by_voltage(search: &Search) -> bool {
    let bad = search.tried.iter().filter(|one| one.is_bad());
    let shallowest = bad.min_by(|a, b| a.lost_v.total_cmp(&b.lost_v));
    shallowest.is_some_and(|one| one.stalls == 0 && one.unrest() < BAD_RATIO)
}

/// Shares over the years, each curve with its words at its end.
fn draw_years(canvas: &Canvas<'_>, ageing: &Ageing, (top, height): (f64, f64)) {
    let curves = ageing.curves.iter();
    let words = curves.map(|curve| {
        let share = curve.rows.last().map_or(0.0, |row| 100.0 * row.share);
        format!("{}: {share:.1} %", curve.word())
    });
    let words: Vec<String> = words.collect();
    let widest = words.iter().map(|word| width(word, SMALL, false)).fold(0.0, f64::max);
    let right = right_end() - widest - 12.0;
    let lasts = ageing.curves[0].rows.last().map_or(1.0, |row| row.years);
    // Longer than the curves, so that words stand beside their ends.
    let mut x = Axis::between(0.0, lasts, 8);
    x.high = lasts * (right_end() - LEFT) / (right - LEFT);
    x.ticks.retain(|(at, _)| at.fract() == 0.0);
    // All cars, always: the chart to draw on tells nothing, and rigs can be compared.
    let y = Axis::stepped(0.0, 100.0, 20.0);
    let frame = Frame { x: &x, y: &y, right, top, height };
    frame.grid(canvas);
    for (curve, dash) in ageing.curves.iter().zip(DASHES) {
        let points = curve.rows.iter().map(|row| frame.place((row.years, 100.0 * row.share)));
        canvas.line(&points.collect::<Vec<_>>(), Stroke { colour: CURVE, width: 2.2, dash });
    }
    frame.outline(canvas, "cars that have had a bad idle [%]");
    let last = ageing.curves.iter().map(|c| c.rows.last().map_or(0.0, |row| 100.0 * row.share));
    let ends = spaced(last.map(|percent| frame.y(percent)).collect(), frame.bottom());
    for ((word, at), dash) in words.iter().zip(ends).zip(DASHES) {
        let face = Type { bold: dash.is_none(), ..plain(SMALL, CURVE) };
        canvas.text(word, (right + 8.0, at), face);
    }
    under(canvas, &x, frame.bottom(), "years since all parts were new");
}

/// Heights (px) moved apart so that words do not touch, none below `bottom`.
fn spaced(heights: Vec<f64>, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..heights.len()).collect();
    order.sort_by(|a, b| heights[*b].total_cmp(&heights[*a]));
    let mut placed = heights.clone();
    let mut free = bottom - 4.0;
    for i in order {
        placed[i] = heights[i].min(free);
        free = placed[i] - APART;
    }
    placed
}

/// What makes the idle bad over the voltage lost: the mean voltage where the pit takes it out of
/// its band first, else the unrest of lambda or speed.
fn draw_idle(canvas: &Canvas<'_>, search: &Search, (top, high): (f64, f64)) {
    let curve = |value: fn(&Disturbance) -> f64| -> Curve {
        search.tried.iter().map(|one| (1e3 * one.lost_v, Some(value(one)))).collect()
    };
    let unrest = curve(Disturbance::unrest);
    let x = Axis::round(unrest.iter().map(|(at, _)| *at).chain([0.0, 50.0]), 8);
    let panel = if by_voltage(search) {
        potentiometer(curve(|one| one.potentiometer_v.0), (0.62, 0.78))
    } else {
        let title = "unrest as a multiple of a sound track's, of lambda or of speed";
        Panel::new(title, Axis::of(&unrest, [0.0, 2.5], 5), unrest)
            .limit(BAD_RATIO, format!("dashed: {BAD_RATIO} times, a bad idle"))
    };
    panel.draw(canvas, &panel.frame(&x, top, high));
    under(canvas, &x, top + high, "voltage lost at the deepest of the worn place [mV]");
}
