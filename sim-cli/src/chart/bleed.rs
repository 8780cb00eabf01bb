//! The chart of a bleeding: pressure over time while the pump runs, when each line flows,
//! and the leak-down of the next half hour.

use super::draw::{Anchor, Canvas, Stroke, svg};
use super::panels::{
    Axis, LEFT, OVER, Panel, RIGHT, footer, footer_lines, heading, heading_height, panel_height,
    plain, under,
};
use super::picture::Picture;
use super::theme::{CURVE, INK, SMALL, SOFT, WIDTH};
use crate::fonts::width;
use crate::results::bleed::{Bled, Bleeding, LEAST_RESIDUAL_BAR, Line};
use crate::text::typeset;
use sim_core::units::Unit;

/// Height of a line's row (px).
const ROW: f64 = 18.0;
/// Height of the ticks and title under a panel (px).
const UNDER: f64 = 46.0;

/// Draws a bleeding.
pub fn picture(bleeding: &Bleeding, bled: &Bled) -> Picture {
    let title = typeset(&bled.finding());
    let settings = &bleeding.settings;
    let faults = Some(settings.faults()).filter(|faults| !faults.is_empty());
    let subtitle = typeset(&format!(
        "{}; pump on the jumper, plate {} mm up; {}",
        bleeding.engine_words(),
        crate::text::plain(settings.lift_mm),
        faults.as_deref().unwrap_or("no fault set")
    ));
    let lines = bled.lines.len() as f64;
    let first = heading_height(&title, &subtitle) + OVER;
    let rows_top = first + panel_height() + OVER;
    let rows_bottom = rows_top + ROW * lines;
    let second = rows_bottom + UNDER + OVER;
    let bottom = second + panel_height();
    let height = (bottom + 58.0 + 16.0 * footer_lines(&bleeding.command).len() as f64).ceil();
    let (seconds, minutes) = (pump_axis(bled.pump_stops_s), minute_axis());
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        let limit = bleeding.scenario.setup.rig.parts().pressures.system_pa;
        let mut build_up = panel("pressure [bar] while the pump runs", pump_curve(bled));
        let system = Unit::Bar.from_si(limit);
        build_up.limit = Some((system, format!("dashed: regulator opens, {system:.1} bar")));
        build_up.draw(canvas, &seconds, first);
        draw_lines(canvas, bled, &seconds, rows_top, rows_bottom);
        under(canvas, &seconds, rows_bottom, "time from the pump's start [s]");
        let degc = Unit::Celsius.from_si(bleeding.scenario.setup.conditions.fuel_k);
        let title = format!("pressure [bar] after it has stopped, fuel at {degc:.0} °C");
        let mut stands = panel(&title, stand_curve(bled));
        let words = format!(
            "band from {LEAST_RESIDUAL_BAR} bar (dashed) to 5.6 bar: after 30 min, common practice"
        );
        stands.limit = Some((LEAST_RESIDUAL_BAR, words));
        stands.target = Some((LEAST_RESIDUAL_BAR, 5.6, String::new()));
        stands.draw(canvas, &minutes, second);
        let end = under(canvas, &minutes, bottom, "time from the pump's stop [min]");
        footer(canvas, &bleeding.command, end);
    });
    Picture { width: WIDTH, top: 0.0, height, title, description: description(bled), drawing }
}

fn panel(title: &str, curve: Vec<(f64, Option<f64>)>) -> Panel {
    Panel {
        title: title.into(),
        axis: Axis::stepped(0.0, pressure_top(&curve), 1.0),
        curve,
        limit: None,
        target: None,
    }
}

/// A whole bar above the curve, and no less than 6 bar.
fn pressure_top(curve: &[(f64, Option<f64>)]) -> f64 {
    curve.iter().filter_map(|(_, value)| *value).fold(6.0, f64::max).ceil()
}

fn pump_axis(stops_s: f64) -> Axis {
    let ticks = Axis::round([0.0, stops_s].into_iter(), 8).ticks;
    let ticks = ticks.into_iter().filter(|(at, _)| *at <= stops_s).collect();
    Axis { low: 0.0, high: stops_s, ticks }
}

fn minute_axis() -> Axis {
    Axis::stepped(0.0, 30.0, 5.0)
}

fn pump_curve(bled: &Bled) -> Vec<(f64, Option<f64>)> {
    bled.trace.iter().map(|row| (row.time_s, Some(row.pressure_bar))).collect()
}

fn stand_curve(bled: &Bled) -> Vec<(f64, Option<f64>)> {
    let stops_s = bled.pump_stops_s;
    pump_curve(bled).into_iter().map(|(at, value)| ((at - stops_s) / 60.0, value)).collect()
}

/// A bar for each line: air first (thin), then fuel (thick), with the time in words.
fn draw_lines(canvas: &Canvas<'_>, bled: &Bled, x: &Axis, top: f64, bottom: f64) {
    let height = |i: usize| top + ROW * (i as f64 + 0.5);
    canvas.axes(|canvas| {
        let title = "lines: dashed while air comes, thick when fuel flows";
        canvas.text(title, (LEFT, top - 9.0), plain(SMALL, INK, Anchor::Start));
        for i in 0..bled.lines.len() {
            let number = format!("{}", i + 1);
            canvas.text(&number, (LEFT - 7.0, height(i)), plain(SMALL, INK, Anchor::End));
        }
        let frame = [(LEFT, top), (RIGHT, top), (RIGHT, bottom), (LEFT, bottom), (LEFT, top)];
        canvas.line(&frame, super::panels::thin(SOFT));
    });
    for (i, line) in bled.lines.iter().enumerate() {
        let after = line.flows_after_s;
        let y = height(i);
        let air_to = after.map_or(RIGHT, |after| x.x(after));
        let air = Stroke { colour: SOFT, width: 1.0, dash: Some((3.0, 3.0)) };
        canvas.line(&[(LEFT, y), (air_to, y)], air);
        let words = match after {
            Some(after) => format!("{after:.1} s"),
            None => "no fuel".into(),
        };
        // The words stand on the air's side if they fit, else on white over the fuel's.
        let wide = width(&words, SMALL, false);
        let over_air = air_to - LEFT > wide + 16.0;
        let at = if over_air { air_to - 6.0 - wide } else { air_to + 8.0 };
        if after.is_some() {
            let fuel = Stroke { colour: CURVE, width: 5.0, dash: None };
            canvas.line(&[(air_to, y), (RIGHT, y)], fuel);
        }
        canvas.fill((at - 3.0, y - 7.0), (at + wide + 3.0, y + 7.0), (255, 255, 255));
        canvas.text(&words, (at, y), plain(SMALL, INK, Anchor::Start));
    }
}

fn description(bled: &Bled) -> String {
    let mut text = format!(
        "Two panels of the pressure over time, while the pump runs and for 30 min after; between them when each line flows. {}.",
        bled.finding()
    );
    for Line { line, flows_after_s, .. } in &bled.lines {
        text += &match flows_after_s {
            Some(after) => format!(" Line {line} flows after {after:.1} s."),
            None => format!(" Line {line} does not flow."),
        };
    }
    text
}
