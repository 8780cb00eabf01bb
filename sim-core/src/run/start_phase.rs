//! Where a start has got to: starter, start valve, first fire.

use crate::conditions::Conditions;
use crate::control::starting::Starting;

/// Where a start has got to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct StartPhase {
    /// When it fired first, and when it had caught (s).
    pub fired_at_s: Option<f64>,
    pub caught_at_s: Option<f64>,
    /// Since when it has been fast enough to have caught (s).
    pub above_since_s: Option<f64>,
    /// Since when the starter carries one that had caught (s).
    pub carried_since_s: Option<f64>,
    /// When the driver let go of the starter (s).
    pub let_go_at_s: Option<f64>,
    /// Whether the starter turns.
    pub engaged: bool,
    /// Share of the fuel that is vapour.
    pub vapour: f64,
    /// When the plant was last warmed (s).
    pub warmed_at_s: f64,
}

impl StartPhase {
    /// A start that begins at a time (s), with a share of the fuel as vapour.
    pub fn new(from_s: f64, vapour: f64) -> StartPhase {
        let started = StartPhase { warmed_at_s: from_s, ..StartPhase::default() };
        StartPhase { engaged: true, vapour, ..started }
    }

    /// Starter as it turns now (its torque 0 once it is off).
    pub fn starter(&self, parts: &Starting, conditions: &Conditions) -> Starting {
        let starter = parts.at(conditions.ambient_k).on_battery(conditions.battery);
        Starting { stall_nm: if self.engaged { starter.stall_nm } else { 0.0 }, ..starter }
    }

    /// Fuel of the start valve (kg/s), its switch closed or not. It hangs on the feed itself: its flow goes with
    /// the root of the feed's pressure, here as a share of the pressure held.
    pub fn start_valve_kg_s(&self, parts: &Starting, closed: bool, pressure: f64) -> f64 {
        if self.engaged && closed { parts.start_valve_kg_s * pressure.max(0.0).sqrt() } else { 0.0 }
    }
}
