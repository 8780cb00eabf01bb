//! The chart of a start: speed, mixture and current over the first seconds.

use super::draw::svg;
use super::panels::{
    Axis, OVER, Panel, footer, footer_lines, heading, heading_height, panel_height, under,
};
use super::picture::Picture;
use super::theme::WIDTH;
use crate::results::coldstart::{ColdStart, StartRow, scenario_words};
use crate::text::typeset;
use sim_core::units::Unit;

/// How long is shown (s).
const SHOWN_S: f64 = 12.0;

/// Draws a start.
pub fn picture(cold: &ColdStart) -> Picture {
    let title = typeset(&cold.finding());
    let subtitle = typeset(&scenario_words(&cold.scenario));
    let x = Axis::stepped(0.0, SHOWN_S, 1.0);
    let panel = |title: &str, hold: [f64; 2], get: fn(&StartRow) -> f64| {
        let curve: Vec<(f64, Option<f64>)> =
            cold.trace.iter().map(|row| (row.time_s, Some(get(row)))).collect();
        let shown = curve.iter().filter(|(t, _)| *t <= SHOWN_S).filter_map(|(_, v)| *v);
        let axis = Axis::round(shown.chain(hold), 4);
        Panel { title: title.into(), axis, curve, limit: None, target: None }
    };
    let mut panels = [
        panel("speed [rpm]", [0.0, 1200.0], |row| row.speed_rpm),
        panel("lambda of what evaporates of the charge drawn in", [0.4, 2.0], |row| row.lambda),
        panel("manifold pressure [bar]", [0.3, 1.0], |row| row.manifold_bar),
        panel("actuator current [mA]", [0.0, 150.0], |row| row.actuator_ma),
    ];
    panels[1].axis = Axis::stepped(0.0, 2.0, 0.5);
    panels[1].limit = Some((1.0, "dashed: lambda 1".into()));
    let caught = Unit::Rpm.from_si(cold.scenario.setup.rig.parts().starting.caught_rad_s);
    panels[0].limit = Some((caught, format!("dashed: caught, {caught:.0} rpm")));
    let first = heading_height(&title, &subtitle);
    let tops: Vec<f64> =
        (0..panels.len()).map(|i| first + OVER + i as f64 * (panel_height() + OVER)).collect();
    let bottom = tops[panels.len() - 1] + panel_height();
    let height = (bottom + 58.0 + 16.0 * footer_lines(&cold.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        for (panel, &top) in panels.iter().zip(&tops) {
            panel.draw(canvas, &x, top);
        }
        let end = under(canvas, &x, bottom, "time since the key [s]");
        footer(canvas, &cold.command, end);
    });
    let description = format!("Four panels over time: speed, lambda, manifold, current. {title}.");
    Picture { width: WIDTH, top: 0.0, height, title, description, drawing }
}
