//! What gauges and glasses show of a standing engine, without the way there.

use super::feed::STEPS;
use super::volume_balance::VolumeBalance;
use super::{BleedRequest, Bleeding, LEAK_DOWN_S, RUN_ON_S};
use crate::rig::keys::Setup;

/// What is read of a standing engine with the pump on the jumper, and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Flow of each line at the lift (m3/s).
    pub line_m3_s: Vec<f64>,
    /// Pressure with the pump running and the plate at rest (Pa), and flow at the return (m3/s);
    /// `None` where fuel would run with the plate at rest.
    pub running: Option<(f64, f64)>,
    /// Pressure 30 min after the pump has stopped (Pa), if it was asked for; `None` likewise.
    pub residual_pa: Option<f64>,
}

/// The same numbers as [`super::bleed`] gives, the pressure after the stand only if `left` to stand.
pub fn standing(setup: &Setup, request: &BleedRequest, left: bool) -> Standing {
    let bleeding = Bleeding::of(setup, request);
    let cold_k = setup.conditions.fuel_k;
    let up = bleeding.lifted(STEPS);
    let line_m3_s = bleeding.full_flow_m3_s(&up);
    if bleeding.rest_lift_m() > 0.0 {
        return Standing { line_m3_s, running: None, residual_pa: None };
    }
    let down = bleeding.feed(cold_k, 1.0, 0.0, STEPS);
    let residual_pa = left.then(|| {
        let last_s = bleeding.fill(&up).last_s;
        let mut balance = VolumeBalance::default();
        up.advance(&mut balance, last_s);
        down.advance(&mut balance, last_s + RUN_ON_S);
        let until_s = last_s + RUN_ON_S + LEAK_DOWN_S;
        let off = bleeding.feed(cold_k, 0.0, 0.0, STEPS);
        off.close(&mut balance, until_s);
        off.leak_down(&mut balance, until_s, bleeding.boils_at_pa(cold_k), bleeding.room_m3());
        balance.pressure_pa
    });
    Standing { line_m3_s, running: Some(bleeding.running(&down)), residual_pa }
}
