//! The plant's fuel: the pressure it gets, and what passes lines and injectors at it.

use super::operating_state::{Lies, Plant};
use crate::conditions::Conditions;
use crate::fuel::injector::{Injectors, Lines, Needles};
use crate::fuel::leak::{Seeps, shut_slit_m3_s_pa};
use crate::fuel::slit::{CYLINDERS, jet_speed_m_s};
use crate::maths::BoundedVector;

impl Plant {
    /// System pressure that the pump keeps while so much is drawn (m3/s), at most what the
    /// regulator holds (Pa).
    pub fn kept_pa(&self, conditions: &Conditions, drawn_m3_s: f64) -> f64 {
        let supply = conditions.fuel_side.supply(&self.parts.supply);
        let check = conditions.fuel_side.check_valve;
        let leaks = supply.leaks(self.parts.pressures.plunger_m, check, &self.liquid).pump_on();
        let share = conditions.fuel_side.delivers(&supply);
        supply.kept_pa(self.holds_pa, share, drawn_m3_s, &leaks)
    }

    /// Gives the feed a pressure (Pa) that it has come up to; the lines that `shut` names pass
    /// nothing.
    pub fn feed(&mut self, system_pa: f64, shut: impl Fn(usize) -> bool) {
        let needles = self.injectors_behind(Needles::risen_to, system_pa);
        self.feed_behind(system_pa, needles, shut);
    }

    /// Gives the feed a pressure (Pa) that it has fallen to because more is drawn than the pump
    /// delivers.
    pub fn feed_fallen(&mut self, system_pa: f64) {
        let needles = self.injectors_behind(Needles::fallen_to, system_pa);
        self.feed_behind(system_pa, needles, |_| false);
    }

    /// The same behind injectors as they are now.
    pub fn feed_behind(&mut self, system_pa: f64, needles: Needles, shut: impl Fn(usize) -> bool) {
        self.parts.pressures.system_pa = system_pa;
        self.plate_drop_pa = self.parts.plate_drop_pa();
        self.upstream_pa = self.ambient_pa - self.plate_drop_pa;
        self.needles = needles;
        let (count, density) = (self.parts.slits.width_m.len(), self.liquid.density_kg_m3);
        self.lines = Lines::behind_needles(&needles, count, density, shut);
    }

    fn injectors_behind(
        &self,
        came: impl Fn(&Injectors, usize, f64, f64) -> Needles,
        feed_pa: f64,
    ) -> Needles {
        let count = self.parts.slits.width_m.len();
        came(&self.parts.injectors, count, self.first_injector_pa, feed_pa)
    }

    /// What seeps past the slits with the plunger at rest, with fuel of a viscosity (Pa s).
    pub fn seeps(&self, viscosity_pa_s: f64) -> Seeps {
        let (slits, gap_m) = (&self.parts.slits, self.parts.supply.plunger_gap_m);
        let count = slits.width_m.len();
        let mut seeps = Seeps { none: false, ..Seeps::NONE };
        for (line, width_m) in slits.width_m.iter().enumerate() {
            seeps.slit_m3_s_pa[line] =
                shut_slit_m3_s_pa(*width_m, gap_m, slits.overlap_m, viscosity_pa_s);
            let injectors = &self.parts.injectors;
            seeps.opens_pa[line] = injectors.opening_pa(line, count, self.first_injector_pa);
        }
        seeps
    }

    /// Drop over the slits (Pa) at a current, the mean of all lines.
    pub fn slit_drop_pa(&self, current_a: f64) -> f64 {
        let kept_pa = self.parts.pressures.slit_drop_pa(current_a);
        let kept_m_s = jet_speed_m_s(kept_pa, self.liquid.density_kg_m3);
        if kept_m_s <= self.lines.least_m_s() {
            return kept_pa;
        }
        let count = self.parts.slits.width_m.len();
        let squares: f64 = (0..count).map(|i| self.lines.jet_m_s(i, kept_m_s).powi(2)).sum();
        0.5 * self.liquid.density_kg_m3 * squares / count as f64
    }

    /// Pressure in the first line (Pa above ambient): what its injector holds it at while it
    /// sprays, else all that the feed has.
    pub fn line_pa(&self) -> f64 {
        self.needles.held_pa(0).min(self.parts.pressures.system_pa)
    }

    /// Flow of all lines (kg/s) at a lift and a jet that the valves keep.
    pub fn total_kg_s(&self, lift_m: f64, jet_m_s: f64) -> f64 {
        self.lines.total_kg_s(&self.parts.slits, lift_m, jet_m_s, &self.liquid)
    }

    /// Flow of each line (kg/s).
    pub fn lines_kg_s(&self, lift_m: f64, jet_m_s: f64) -> BoundedVector<CYLINDERS> {
        self.lines.each_kg_s(&self.parts.slits, lift_m, jet_m_s, &self.liquid)
    }

    /// The jet (m/s) that makes all lines together pass so much; `None` if none does.
    pub fn jet_for_total_m_s(&self, total_kg_s: f64, lift_m: f64) -> Option<f64> {
        self.lines.jet_for_total_m_s(&self.parts.slits, total_kg_s, lift_m, &self.liquid)
    }

    /// Ideal jet speed in the slits at an actuator current (m/s).
    pub fn jet_m_s(&self, current_a: f64) -> f64 {
        let drop_pa = self.parts.pressures.slit_drop_pa(current_a);
        jet_speed_m_s(drop_pa, self.liquid.density_kg_m3)
    }

    /// The current that gives a jet speed (A). Slits that are shut ask for infinitely much.
    pub fn current_a(&self, jet_m_s: f64) -> f64 {
        let drop_pa = 0.5 * self.liquid.density_kg_m3 * jet_m_s * jet_m_s;
        self.parts.pressures.current_for_drop_a(drop_pa)
    }

    /// Whether slits that open at a plate height (m) are open with the plate on its stop: fuel
    /// then runs into the ports of a standing engine.
    pub fn flows_at_rest(&self, opening_m: f64) -> bool {
        self.rest_height_m > opening_m
    }

    /// The current (A) on which the metered mixture is `lambda` at an air flow (kg/s) all of
    /// which is metered, at a screw position given by its opening height (m). `None` where the
    /// plate is outside its funnel or the slits are shut.
    pub fn current_for_a(&self, air_kg_s: f64, opening_m: f64, lambda: f64) -> Option<f64> {
        let (Lies::Afloat, height_m) = self.plate_height(air_kg_s) else { return None };
        let lift_m = (height_m - opening_m) * self.parts.lever.plunger_per_plate();
        let fuel_kg_s = air_kg_s / (self.air_for_fuel(air_kg_s) * lambda);
        let jet = self.jet_for_total_m_s(fuel_kg_s, lift_m)?;
        Some(self.current_a(jet))
    }
}
