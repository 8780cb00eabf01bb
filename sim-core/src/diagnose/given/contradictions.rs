//! Readings that cannot be of one car.

use super::{Fault, Given, Sheet};
use crate::diagnose::sheet::Taken;
use crate::engine::gas_balance::GasRead;
use crate::fuel::kind::Fuel;
use crate::units::Unit;

/// How far vacuum and manifold pressure may be off adding up (bar).
const VACUUM_OFF_BAR: f64 = 0.06;
/// How far the lower chamber may be above the system (bar).
const CHAMBER_OFF_BAR: f64 = 0.1;

impl Sheet {
    pub(super) fn contradictions(&self) -> Result<(), Fault> {
        let states: Vec<Taken> = self.given.iter().filter_map(|given| given.slot.taken()).fold(
            Vec::new(),
            |mut known, taken| {
                if !known.contains(&taken) {
                    known.push(taken);
                }
                known
            },
        );
        let contradict = |words: String| Err(Fault::Contradiction(words));
        for state in states {
            let read = |name: &str| {
                let here = |given: &&Given| {
                    given.slot.kind.name() == name && given.slot.taken() == Some(state)
                };
                self.given.iter().find(here).map(|given| given.value)
            };
            let when = state.words();
            if let (Some(vacuum), Some(manifold)) = (read("vacuum_bar"), read("manifold_bar")) {
                let altitude_m = self.asked.conditions.altitude_m;
                let ambient = 1e-5 * crate::air::atmosphere::standard_pressure_pa(altitude_m);
                if (vacuum + manifold - ambient).abs() > VACUUM_OFF_BAR {
                    return contradict(format!(
                        "{when} vacuum {vacuum} bar and manifold {manifold} bar absolute do not add up to {ambient:.2} bar of outside air"
                    ));
                }
            }
            if let (Some(system), Some(lower)) = (read("system_bar"), read("lower_chamber_bar"))
                && lower > system + CHAMBER_OFF_BAR
            {
                return contradict(format!(
                    "{when} the lower chamber ({lower} bar) stands above the system ({system} bar) that feeds it"
                ));
            }
            if let (Some(co), Some(co2), Some(o2)) =
                (read("co_percent"), read("co2_percent"), read("o2_percent"))
            {
                let share = |percent: f64| Some(Unit::Percent.to_si(percent));
                let gas = GasRead {
                    co: share(co),
                    co2: share(co2),
                    o2: share(o2),
                    hc: read("hc_ppm").map(|ppm| 1e-6 * ppm),
                };
                let fuel: Fuel = self.asked.conditions.petrol.fuel();
                if gas.balanced(&fuel).is_none_or(|found| !found.possible()) {
                    return contradict(format!(
                        "{when} CO {co} %, CO2 {co2} % and O2 {o2} % are no gas of an engine that burns petrol"
                    ));
                }
            }
        }
        let idles = |given: &Given| given.slot.taken() == Some(Taken::IDLE);
        if self.ear() == Some("dies")
            && let Some(given) = self.given.iter().find(|given| idles(given))
        {
            return contradict(format!(
                "by ear it dies, and {} is read of the idle",
                given.slot.name()
            ));
        }
        Ok(())
    }
}
