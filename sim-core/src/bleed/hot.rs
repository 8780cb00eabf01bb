//! The hot engine stands, its fuel boils, and it is started again.

use super::volume_balance::VolumeBalance;
use super::{Bleeding, LONGEST_S};
use crate::operation::operating_state::Plant;

/// What the hot engine does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hot {
    /// Pressure above ambient at which the fuel boils (Pa); below 0 it does not.
    pub boils_at_pa: f64,
    /// Pressure after the stand (Pa).
    pub residual_pa: f64,
    /// When the fuel began to boil (s after stopping), if it did.
    pub boils_after_s: Option<f64>,
    /// Room that vapour takes after the stand (m3).
    pub vapour_m3: f64,
    /// Lift of the plunger while cranking (m).
    pub cranking_lift_m: f64,
    /// Cranking until the system pressure is back and the lines are full (s), if within
    /// [`LONGEST_S`].
    pub cranking_s: Option<f64>,
}

impl Bleeding<'_> {
    /// Lift of the plunger while the starter turns the hot engine (m): the air of that
    /// speed with the manifold at ambient, on the plate that the full system pressure
    /// loads. A plate that would leave its funnel is at the top.
    fn cranking_lift_m(&self) -> f64 {
        let Plant { parts, ambient_pa, density_kg_m3, plate_drop_pa, .. } = &self.plant;
        let (plate, speed) = (&parts.plate, self.supply.hot_cranking_rad_s);
        let air_kg_s = parts.breathing.air_kg_s(*ambient_pa, *ambient_pa, speed);
        let area_m2 = air_kg_s / plate.flow_kg_s(1.0, *density_kg_m3, *plate_drop_pa);
        let height_m = if area_m2 <= plate.least_area_m2() {
            0.0
        } else {
            plate.height_m(area_m2).unwrap_or(plate.top_m())
        };
        self.plunger_lift_m(height_m).max(0.0)
    }

    /// The hot stand from the running pressure, and the restart.
    pub(super) fn hot(&self, steps: u32) -> Hot {
        let hot_k = self.request.hot_k;
        let running = self.feed(hot_k, 1.0, 0.0, steps);
        let mut balance =
            VolumeBalance { pressure_pa: self.running(&running).0, ..VolumeBalance::default() };
        let off = self.feed(hot_k, 0.0, 0.0, steps);
        let (floor_pa, room_m3) = (self.boils_at_pa(hot_k), self.room_m3());
        off.close(&mut balance, self.request.stand_s);
        off.leak_down(&mut balance, self.request.stand_s, floor_pa, room_m3);
        let cranking_lift_m = self.cranking_lift_m();
        Hot {
            boils_at_pa: floor_pa,
            residual_pa: balance.pressure_pa,
            boils_after_s: balance.boils_at_s,
            vapour_m3: balance.vapour_m3,
            cranking_lift_m,
            cranking_s: self.restart(&balance, cranking_lift_m, steps),
        }
    }

    /// Cranking until the pressure is back and the lines are full (s).
    ///
    /// Vapour goes back into the fuel at its vapour pressure: first the pump puts its room in
    /// the feed back at that pressure, then the pressure rises and the slits put back what the
    /// injectors have let drip out of the lines since they boil.
    fn restart(&self, stood: &VolumeBalance, lift_m: f64, steps: u32) -> Option<f64> {
        let share = self.supply.pump.cranking_share;
        let delivers = share * self.conditions.fuel_side.delivers(&self.supply);
        let mut feed = self.feed(self.request.hot_k, share, lift_m, steps);
        let start_pa = stood.pressure_pa;
        let surplus =
            self.supply.pump.delivery_m3_s(start_pa, delivers) - feed.leaks.flow_m3_s(start_pa);
        let refilled_s = match stood.vapour_m3 {
            0.0 => 0.0,
            _ if surplus <= 0.0 => return None,
            room_m3 => room_m3 / surplus,
        };
        feed.back_pa = start_pa;
        let boiling_s = stood.boils_at_s.map_or(0.0, |at| self.request.stand_s - at);
        let lines = self.lines();
        for (line, volume) in feed.to_fill_m3.iter_mut().enumerate().take(lines) {
            let fuel_side = &self.conditions.fuel_side;
            *volume = fuel_side.dripped_m3(line, lines, *volume, boiling_s);
        }
        let mut balance =
            VolumeBalance { time_s: refilled_s, pressure_pa: start_pa, ..VolumeBalance::default() };
        feed.advance(&mut balance, LONGEST_S.max(refilled_s));
        let full = balance.full_s[..self.lines()].iter().copied();
        let last_s =
            full.chain([balance.at_set_s]).try_fold(0.0, |last: f64, t| Some(last.max(t?)));
        last_s.filter(|last| *last <= LONGEST_S)
    }
}
