//! Panels of readings that more than one chart shows.

use crate::drawing::axes::{Axis, Curve};
use crate::drawing::panels::Panel;
use crate::text::idle_band;
use sim_core::sense::potentiometer::IDLE_BAND_V;

/// Lambda, with a line at 1.
pub fn lambda(title: &str, axis: Axis, curve: Curve) -> Panel {
    Panel::new(title, axis, curve).limit(1.0, "dashed: lambda 1".into())
}

/// The airflow potentiometer, with the idle's band; the axis holds `hold`, too.
pub fn potentiometer(curve: Curve, hold: (f64, f64)) -> Panel {
    let words = format!("band: {}, common practice", idle_band());
    let axis = Axis::of(&curve, [hold.0, hold.1], 4);
    Panel::new("airflow potentiometer [V]", axis, curve).target(IDLE_BAND_V, words)
}

/// The duty, with a line where nothing is trimmed.
pub fn duty(title: &str, curve: Curve) -> Panel {
    Panel::new(title, Axis::stepped(-5.0, 105.0, 25.0), curve).limit(50.0, "dashed: 50 %".into())
}
