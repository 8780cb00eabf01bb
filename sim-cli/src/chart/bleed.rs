//! The chart of a bleeding: pressure over time while the pump runs, when each line flows,
//! and the leak-down of the next half hour.

use crate::drawing::axes::{Axis, Curve, OVER, UNDER, under};
use crate::drawing::canvas::{Anchor, Canvas, dashed, plain, solid, thin};
use crate::drawing::fonts::width;
use crate::drawing::page::{Page, UNDER_FOOTER};
use crate::drawing::panels::{PANEL, Panel};
use crate::drawing::picture::Picture;
use crate::drawing::theme::{CURVE, INK, LEFT, SMALL, SOFT, WHITE, right_end};
use crate::results::bleed::{Bled, Bleeding, Line};
use sim_core::units::Unit;

/// Height of a line's row (px).
const ROW: f64 = 16.0;

/// Draws a bleeding.
pub fn picture(bleeding: &Bleeding, bled: &Bled) -> Picture {
    let settings = &bleeding.settings;
    let (engine, faults) = (bleeding.engine_words(), settings.faults());
    let faults = match faults.as_str() {
        "" => "; no fault set".into(),
        told if engine.contains(told) => String::new(),
        more => format!("; {more}"),
    };
    let lift = crate::text::plain(settings.lift_mm);
    let words = format!("{engine}; pump on the jumper, plate {lift} mm up{faults}");
    let page = Page::new(&bled.finding(), &words, &bleeding.command);
    let first = page.top() + OVER;
    let rows = ROW * bled.lines.len() as f64;
    let between = 2.0 * OVER + rows + UNDER;
    let high = 0.5 * (page.room(2.0 * PANEL + between, first, UNDER) - between);
    let rows_top = first + high + OVER;
    let rows_bottom = rows_top + rows;
    let second = rows_bottom + UNDER + OVER;
    let bottom = second + high;
    let (seconds, minutes) =
        (Axis::between(0.0, bled.pump_stops_s, 8), Axis::stepped(0.0, 30.0, 5.0));
    let (build_up, stands) = panels(bleeding, bled);
    page.picture((bottom + UNDER, UNDER_FOOTER), description(bled), |canvas| {
        build_up.draw(canvas, &build_up.frame(&seconds, first, high));
        draw_lines(canvas, bled, &seconds, rows_top, rows_bottom);
        under(canvas, &seconds, rows_bottom, "time from the pump's start [s]");
        stands.draw(canvas, &stands.frame(&minutes, second, high));
        under(canvas, &minutes, bottom, "time from the pump's stop [min]");
    })
}

/// The pressure while the pump runs, and after.
fn panels(bleeding: &Bleeding, bled: &Bled) -> (Panel, Panel) {
    let setup = &bleeding.scenario.setup;
    let system_bar = Unit::Bar.from_si(setup.rig.parts().pressures.system_pa);
    let degc = Unit::Celsius.from_si(setup.conditions.fuel_k);
    let curve = |time: &dyn Fn(f64) -> f64| -> Curve {
        bled.trace.iter().map(|row| (time(row.time_s), Some(row.pressure_bar))).collect()
    };
    let (least, most) = bled.residual_band_bar;
    let words =
        format!("band: {least:.1} bar (common practice) to the injectors' opening, {most:.1}");
    let build_up = panel("pressure [bar] while the pump runs", curve(&|time_s| time_s))
        .limit(system_bar, format!("dashed: regulator opens, {system_bar:.1} bar"));
    let title = format!("pressure [bar] after the stop, fuel at {degc:.0} °C");
    let stands = panel(&title, curve(&|time_s| (time_s - bled.pump_stops_s) / 60.0))
        .limit(least, words)
        .target((least, most), String::new());
    (build_up, stands)
}

/// A panel of pressure, up to a whole bar above the curve and no less than 6 bar.
fn panel(title: &str, curve: Curve) -> Panel {
    let top = curve.iter().filter_map(|(_, value)| *value).fold(6.0, f64::max).ceil();
    Panel::new(title, Axis::stepped(0.0, top, 1.0), curve)
}

/// A bar for each line: air first (thin), then fuel (thick), with the time in words.
fn draw_lines(canvas: &Canvas<'_>, bled: &Bled, x: &Axis, top: f64, bottom: f64) {
    let height = |i: usize| top + ROW * (i as f64 + 0.5);
    canvas.axes(|canvas| {
        let title = "lines: dashed while air comes, thick when fuel flows";
        canvas.text(title, (LEFT, top - 9.0), plain(SMALL, INK));
        for i in 0..bled.lines.len() {
            let place = (LEFT - 7.0, height(i));
            canvas.text(&(i + 1).to_string(), place, plain(SMALL, INK).at(Anchor::Right));
        }
        canvas.outline((LEFT, top), (right_end(), bottom), thin(SOFT));
    });
    for (i, line) in bled.lines.iter().enumerate() {
        let after = line.flows_after_s;
        let y = height(i);
        let air_to = after.map_or(right_end(), |after| x.x(after));
        canvas.line(&[(LEFT, y), (air_to, y)], dashed(SOFT, 1.0, 3.0, 3.0));
        let words = after.map_or("no fuel".into(), |after| format!("{after:.1} s"));
        // The words stand on the air's side if they fit, else on white over the fuel's.
        let wide = width(&words, SMALL, false);
        let over_air = air_to - LEFT > wide + 16.0;
        let at = if over_air { air_to - 6.0 - wide } else { air_to + 8.0 };
        if after.is_some() {
            canvas.line(&[(air_to, y), (right_end(), y)], solid(CURVE, 5.0));
        }
        canvas.fill((at - 3.0, y - 7.0), (at + wide + 3.0, y + 7.0), WHITE);
        canvas.text(&words, (at, y), plain(SMALL, INK));
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
