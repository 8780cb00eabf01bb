//! The idle speed control as the linear engine sees it.

use super::sloped::{Sloped, mean_over};
use crate::conditions::{Conditions, IdleAir};
use crate::operation::operating_state::Plant;
use crate::run::options::TICK_S;
use crate::sense::faults::ThrottleSwitch;
use nalgebra::Complex;

/// The idle speed control as the linear engine sees it: duty of the valve for a
/// speed above the target (s/rad).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Control {
    /// Proportional part (s/rad).
    pub kp: f64,
    /// Integral part (1/rad).
    pub ki: f64,
    /// Lead on the slope (s2/rad).
    pub lead: f64,
    /// Lag of that slope (s).
    pub lead_lag_s: f64,
    /// Lag of the valve (s).
    pub valve_lag_s: f64,
    /// Effective area of the valve for each share of its duty (m2).
    pub full_m2: f64,
}

/// What the control does at a complex frequency, each with its slope over the frequency.
pub(super) struct LoopAt {
    /// Opening of the valve (m2) for a speed (rad/s), times the poles.
    pub cleared: Sloped,
    /// What it is multiplied by.
    pub poles: Sloped,
}

impl Control {
    /// The loop at a complex frequency.
    ///
    /// Equation: `K = [kp + ki T/(z - 1) + (lead/lag)(z - 1)/(z - 1 + c)] (1 - 1/z)/(s T)
    /// / (1 + s valve)`, `z = exp(s T)`, `c = 1 - exp(-T/lag)`. Symbols: `T` tick. Valid
    /// range: turns far slower than the ticks. Source: z transform of the control's own
    /// difference equations, held from tick to tick.
    #[inline(always)]
    pub(super) fn at(&self, s: Complex<f64>) -> LoopAt {
        let z = (s * TICK_S).exp();
        let (ahead, smooths) = (z - 1.0, 1.0 - (-TICK_S / self.lead_lag_s).exp());
        let (both, lead, sum) =
            (ahead * (ahead + smooths), self.lead / self.lead_lag_s, self.ki * TICK_S);
        let (by_ahead, moves) = (ahead * 2.0 + smooths, z * TICK_S);
        let own = both * self.kp + (ahead + smooths) * sum + ahead * ahead * lead;
        let own_slope = (by_ahead * self.kp + sum + ahead * (2.0 * lead)) * moves;
        let held = mean_over(s, TICK_S, z.inv());
        let lags = s * self.valve_lag_s + 1.0;
        LoopAt {
            cleared: Sloped {
                value: own * held.value * self.full_m2,
                slope: (own_slope * held.value + own * held.slope) * self.full_m2,
            },
            poles: Sloped {
                value: both * lags,
                slope: by_ahead * moves * lags + both * self.valve_lag_s,
            },
        }
    }
}

/// The idle speed control, where it holds the speed.
pub(super) fn control(plant: &Plant, conditions: &Conditions, at_limit: bool) -> Option<Control> {
    let switch_closed = conditions.faults.throttle_switch != ThrottleSwitch::NoIdle
        && plant.released_m2 < plant.parts.throttle.idle_switch_opens_m2();
    if at_limit || !switch_closed || conditions.idle_air != IdleAir::Held {
        return None;
    }
    let moving = &plant.parts.dynamics;
    Some(Control {
        kp: plant.parts.gains.idle_kp,
        ki: plant.parts.gains.idle_ki,
        lead: plant.parts.idle.lead,
        lead_lag_s: plant.parts.idle.lead_lag_s,
        valve_lag_s: moving.valve_lag_s,
        full_m2: plant.parts.idle_valve.opening_by_duty
            * plant.parts.idle_valve.full_effective_m2(),
    })
}
