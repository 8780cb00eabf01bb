//! The chart of a worn track: shares of cars over the years, and below what the idle does
//! over the voltage lost.

use super::draw::{Anchor, Canvas, Stroke, Type, svg};
use super::panels::{
    Axis, LEFT, OVER, Panel, RIGHT, footer, footer_lines, heading, heading_height, panel_height,
    plain, thin, under,
};
use super::picture::Picture;
use super::theme::{CURVE, GRID, INK, SMALL, SOFT, TEXT, Theme, WIDTH};
use crate::fonts::width;
use crate::results::wear::Ageing;
use crate::text::typeset;
use sim_core::run::idle_wear::{BAD_RATIO, Search};

/// Height of the panel over the years (px).
fn tall() -> f64 {
    Theme::tall(240.0)
}
/// Space between the panels, for the first one's axis (px).
const BETWEEN: f64 = 72.0;
/// Least distance of two labels (px).
const APART: f64 = 17.0;
/// Dash and gap of each curve (px), in their order; the first is solid.
const DASHES: [Option<(f64, f64)>; 5] =
    [None, Some((9.0, 5.0)), Some((3.0, 3.0)), Some((14.0, 4.0)), Some((6.0, 10.0))];

/// Draws the wear of a track.
pub fn picture(ageing: &Ageing) -> Picture {
    let title = typeset(&ageing.finding());
    let words = ageing.scenario.words().replace("warm point", "running");
    let parts = ageing.fleet.map_or(String::new(), |fleet| {
        format!(
            " {} cars, {} h of idling a year, spread {}, seed {}.",
            fleet.parts,
            crate::text::plain(fleet.hours_a_year),
            crate::text::plain(fleet.spread),
            fleet.seed
        )
    });
    let subtitle = typeset(&format!("{words}; pulsation 10 %, torque noise.{parts}"));
    let mut top = heading_height(&title, &subtitle) + OVER;
    let years_at = top;
    if !ageing.curves.is_empty() {
        top += tall() + BETWEEN;
    }
    let idle_at = top;
    if ageing.found.is_some() {
        top += panel_height() + 58.0;
    }
    let bottom = top;
    let height = (bottom + 20.0 + 16.0 * footer_lines(&ageing.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        if !ageing.curves.is_empty() {
            draw_years(canvas, ageing, years_at);
        }
        if let Some((_, search)) = &ageing.found {
            draw_idle(canvas, search, idle_at);
        }
        footer(canvas, &ageing.command, bottom);
    });
    Picture { width: WIDTH, top: 0.0, height, title, description: description(ageing), drawing }
}

fn description(ageing: &Ageing) -> String {
    let mut text = format!(
        "Above, the share of cars that have had a bad idle over the years; below, the unrest of lambda or speed over the voltage lost. {}.",
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

/// Shares over the years, each curve with its words at its end.
fn draw_years(canvas: &Canvas<'_>, ageing: &Ageing, top: f64) {
    let curves = ageing.curves.iter();
    let words = curves.map(|curve| {
        let share = curve.rows.last().map_or(0.0, |row| 100.0 * row.share);
        format!("{}: {share:.1} %", curve.word())
    });
    let words: Vec<String> = words.collect();
    let widest = words.iter().map(|word| width(word, SMALL, false)).fold(0.0, f64::max);
    let right = RIGHT - widest - 12.0;
    let lasts = ageing.curves[0].rows.last().map_or(1.0, |row| row.years);
    let ticks = Axis::round([0.0, lasts].into_iter(), 8).ticks;
    let x = Axis {
        low: 0.0,
        high: lasts * (RIGHT - LEFT) / (right - LEFT),
        ticks: ticks.into_iter().filter(|(at, _)| *at <= lasts && at.fract() == 0.0).collect(),
    };
    // All cars, always: the chart to draw on tells nothing, and rigs can be compared.
    let axis = Axis::stepped(0.0, 100.0, 20.0);
    let bottom = top + tall();
    let y = |percent: f64| bottom - tall() * (percent - axis.low) / (axis.high - axis.low);
    canvas.axes(|canvas| {
        for (value, word) in &axis.ticks {
            canvas.line(&[(LEFT, y(*value)), (right, y(*value))], thin(GRID));
            canvas.text(word, (LEFT - 7.0, y(*value)), plain(SMALL, INK, Anchor::End));
        }
        for (value, _) in &x.ticks {
            canvas.line(&[(x.x(*value), top), (x.x(*value), bottom)], thin(GRID));
        }
    });
    for (curve, dash) in ageing.curves.iter().zip(DASHES) {
        let points: Vec<_> =
            curve.rows.iter().map(|row| (x.x(row.years), y(100.0 * row.share))).collect();
        canvas.line(&points, Stroke { colour: CURVE, width: 2.2, dash });
    }
    let frame = [(LEFT, top), (right, top), (right, bottom), (LEFT, bottom), (LEFT, top)];
    canvas.axes(|canvas| {
        canvas.line(&frame, thin(SOFT));
        let title = "cars that have had a bad idle [%]";
        canvas.text(title, (LEFT, top - 9.0), plain(TEXT, INK, Anchor::Start));
    });
    let ends = ageing.curves.iter().map(|c| c.rows.last().map_or(0.0, |row| y(100.0 * row.share)));
    for ((word, at), shift) in words.iter().zip(spaced(ends.collect(), bottom)).zip(DASHES) {
        let face =
            Type { size: SMALL, colour: CURVE, bold: shift.is_none(), anchor: Anchor::Start };
        canvas.text(word, (right + 8.0, at), face);
    }
    under(canvas, &x, bottom, "years since all parts were new");
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

/// The unrest of the idle over the voltage lost.
fn draw_idle(canvas: &Canvas<'_>, search: &Search, top: f64) {
    let curve: Vec<(f64, Option<f64>)> = search
        .tried
        .iter()
        .map(|one| (1e3 * one.lost_v, Some(one.lambda_ratio.max(one.speed_ratio))))
        .collect();
    let values = search.tried.iter().map(|one| one.lambda_ratio.max(one.speed_ratio));
    let x = Axis::round(curve.iter().map(|(at, _)| *at).chain([0.0, 50.0]), 8);
    let panel = Panel {
        title: "unrest as a multiple of a sound track's, of lambda or of speed".into(),
        axis: Axis::round(values.chain([0.0, 2.5]), 5),
        curve,
        limit: Some((BAD_RATIO, format!("dashed: {BAD_RATIO} times, a bad idle"))),
        target: None,
    };
    panel.draw(canvas, &x, top);
    under(canvas, &x, top + panel_height(), "voltage lost at the deepest of the worn place [mV]");
}
