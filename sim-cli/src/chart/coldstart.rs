//! The chart of a start: speed, mixture and current over the first seconds.

use super::readings::lambda;
use crate::drawing::axes::{Axis, Curve};
use crate::drawing::page::Page;
use crate::drawing::panels::{Panel, Stack};
use crate::drawing::picture::Picture;
use crate::results::coldstart::{ColdStart, StartRow, scenario_words};
use sim_core::units::Unit;

/// How long is shown (s).
const SHOWN_S: f64 = 12.0;

/// Draws a start.
pub fn picture(cold: &ColdStart) -> Picture {
    let page = Page::new(&cold.finding(), &scenario_words(&cold.scenario), &cold.command);
    let x = Axis::stepped(0.0, SHOWN_S, 1.0);
    let curve = |get: fn(&StartRow) -> Option<f64>| -> Curve {
        let shown = cold.trace.iter().filter(|row| row.time_s <= SHOWN_S);
        shown.map(|row| (row.time_s, get(row))).collect()
    };
    let panel = |title: &str, hold: [f64; 2], get: fn(&StartRow) -> Option<f64>| {
        let curve = curve(get);
        Panel::new(title, Axis::of(&curve, hold, 4), curve)
    };
    let caught = Unit::Rpm.from_si(cold.scenario.setup.rig.parts().starting.caught_rad_s);
    let panels = [
        panel("speed [rpm]", [0.0, 1200.0], |row| Some(row.speed_rpm))
            .limit(caught, format!("dashed: caught, {caught:.0} rpm")),
        lambda(
            "lambda of what evaporates of the charge drawn in",
            Axis::stepped(0.0, 2.0, 0.5),
            curve(|row| row.lambda),
        ),
        panel("manifold pressure [bar]", [0.3, 1.0], |row| Some(row.manifold_bar)),
        panel("actuator current [mA]", [0.0, 150.0], |row| Some(row.actuator_ma)),
    ];
    let description =
        format!("Four panels over time: speed, lambda, manifold, current. {}.", page.title);
    Stack { x: (&x, "time since the key [s]"), panels: &panels, top: page.top() }
        .plain_picture(page, description)
}
