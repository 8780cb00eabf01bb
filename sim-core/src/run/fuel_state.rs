//! The fuel side of an engine in time: what the last stop and the standing left, the pump, the
//! pressure, and lines that are full or not. The equations are those of [`crate::bleed::feed`].

use crate::bleed::drive::HeldFeed;
use crate::bleed::feed::{Feed, STEPS};
use crate::bleed::volume_balance::VolumeBalance;
use crate::conditions::Conditions;
use crate::fuel::condition::LinesHold;
use crate::fuel::injector::{Injectors, Needles};
use crate::fuel::kind::viscosity_pa_s;
use crate::fuel::leak::{Leaks, Seeps};
use crate::fuel::slit::{CYLINDERS, Liquid, jet_speed_m_s};
use crate::fuel::supply::{Supply, vapour_pressure_pa};
use crate::operation::operating_state::Plant;
use crate::solve::rising_root;
use std::array;

/// How long the relay lets the pump run when the key is turned on (s). Source: common practice,
/// no source.
pub(super) const RUN_IN_S: f64 = 1.0;
/// So long the feed still makes good what evaporates from a line (s): a day. Source: our own.
const MADE_GOOD_S: f64 = 24.0 * 3600.0;
/// A feed below this pressure has none left (Pa): what evaporates from its lines is not made good.
/// About the weight of the fuel between tank and engine. Source: our own.
const FLAT_PA: f64 = 2000.0;
/// The pressure has to move by so much before the plate is told (Pa).
const TOLD_PA: f64 = 1.0;

/// What has gone where, by volume, since the fuel side was put together (m3).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FuelLedger {
    /// Delivered by the pump.
    pub pumped_m3: f64,
    /// Returned by the regulator.
    pub returned_m3: f64,
    /// Leaked back through the check valve, past the plunger and through the regulator's seat.
    pub leaked_m3: f64,
    /// Out of the lines and the start valve into the ports.
    pub into_ports_m3: f64,
    /// How much more the pressure holds.
    pub stored_m3: f64,
    /// How much more the lines hold.
    pub lines_m3: f64,
    /// How much more room vapour takes in the feed.
    pub vapour_m3: f64,
    /// Out of opened lines into glasses.
    pub glasses_m3: f64,
}

impl FuelLedger {
    /// What is missing (m3).
    pub fn missing_m3(&self) -> f64 {
        self.pumped_m3 + self.vapour_m3
            - self.returned_m3
            - self.leaked_m3
            - self.into_ports_m3
            - self.stored_m3
            - self.lines_m3
            - self.glasses_m3
    }
}

/// Fuel side in time.
#[derive(Clone, Copy, Debug)]
pub(super) struct FuelState {
    balance: VolumeBalance,
    supply: Supply,
    /// How it leaks while the engine turns.
    leaks: Leaks,
    /// Pressure that the regulator holds (Pa).
    holds_pa: f64,
    /// The feed where it was held last.
    held: Option<HeldFeed>,
    /// Room in each line that fuel has not filled (m3).
    short_m3: [f64; CYLINDERS],
    /// The injectors' needles, and the injectors they are those of.
    needles: Needles,
    fitted: (Injectors, f64),
    into_ports_m3: f64,
    /// What each opened line has given into its glass, all that it gave, and whether they are open.
    glasses_m3: [f64; CYLINDERS],
    all_glasses_m3: f64,
    open: bool,
    /// Stored in the beginning, room short and vapour then (m3).
    from: (f64, f64, f64),
    /// What the plate was last told (Pa).
    told_pa: f64,
    /// How much longer the pump runs without the engine turning (s).
    pub run_in_s: f64,
}

impl FuelState {
    /// The running engine's: at its pressure, the lines full.
    pub fn running(plant: &Plant, conditions: &Conditions) -> FuelState {
        let system_pa = plant.parts.pressures.system_pa;
        let supply = conditions.fuel_side.supply(&plant.parts.supply);
        FuelState {
            balance: VolumeBalance { pressure_pa: system_pa, ..VolumeBalance::default() },
            supply,
            leaks: leaks_of(&supply, plant, conditions),
            holds_pa: plant.holds_pa,
            held: None,
            short_m3: [0.0; CYLINDERS],
            needles: plant.needles,
            fitted: (plant.parts.injectors, plant.first_injector_pa),
            into_ports_m3: 0.0,
            glasses_m3: [0.0; CYLINDERS],
            all_glasses_m3: 0.0,
            open: false,
            from: (supply.stored_m3(system_pa), 0.0, 0.0),
            told_pa: system_pa,
            run_in_s: 0.0,
        }
    }

    /// What a stop and the standing since then have left.
    pub fn stood(plant: &Plant, conditions: &Conditions) -> FuelState {
        let mut state = FuelState::running(plant, conditions);
        state.stand(plant, conditions, conditions.fuel_side.stood_s);
        if conditions.fuel_side.lines == LinesHold::Air {
            state.short_m3 = state.lines_m3(plant);
        }
        state.begun_anew()
    }

    /// The same with its ledger begun anew.
    pub fn begun_anew(self) -> FuelState {
        let VolumeBalance { pressure_pa, vapour_m3, .. } = self.balance;
        FuelState {
            balance: VolumeBalance { pressure_pa, vapour_m3, ..VolumeBalance::default() },
            into_ports_m3: 0.0,
            all_glasses_m3: 0.0,
            from: (self.supply.stored_m3(pressure_pa), self.short_m3(), vapour_m3),
            ..self
        }
    }

    /// The same fuel side with parts or faults changed.
    pub fn refit(&mut self, plant: &Plant, conditions: &Conditions) {
        let before_m3 = self.supply.stored_m3(self.balance.pressure_pa);
        self.supply = conditions.fuel_side.supply(&plant.parts.supply);
        self.holds_pa = plant.holds_pa;
        self.held = None;
        self.leaks = leaks_of(&self.supply, plant, conditions);
        // What another spring holds at this pressure counts as there from the beginning.
        self.from.0 += self.supply.stored_m3(self.balance.pressure_pa) - before_m3;
        self.told_pa = f64::NAN;
        let fitted = (plant.parts.injectors, plant.first_injector_pa);
        if fitted != self.fitted {
            // Others are put in: the feed comes up to them.
            let count = plant.parts.slits.width_m.len();
            let feed_pa = self.pressure_pa();
            self.needles = Needles::risen_to(&fitted.0, count, fitted.1, feed_pa);
            self.fitted = fitted;
        }
    }

    /// Pressure of the feed (Pa above ambient).
    pub fn pressure_pa(&self) -> f64 {
        self.balance.pressure_pa
    }

    /// Whether a line is not filled.
    pub fn is_short(&self, line: usize) -> bool {
        self.short_m3[line] > 0.0
    }

    /// How many lines are not filled.
    pub fn short(&self) -> usize {
        self.short_m3.iter().filter(|short| **short > 0.0).count()
    }

    fn all_full(&self) -> bool {
        self.short_m3.iter().all(|short| *short <= 0.0)
    }

    /// What they lack (m3).
    pub fn short_m3(&self) -> f64 {
        self.short_m3.iter().sum()
    }

    fn lines_m3(&self, plant: &Plant) -> [f64; CYLINDERS] {
        let count = plant.parts.slits.width_m.len();
        array::from_fn(|line| if line < count { self.supply.line_m3(line) } else { 0.0 })
    }

    /// What has gone where.
    pub fn ledger(&self) -> FuelLedger {
        let balance = &self.balance;
        let (stored_m3, short_m3, vapour_m3) = self.from;
        FuelLedger {
            pumped_m3: balance.pumped_m3,
            returned_m3: balance.returned_m3,
            leaked_m3: balance.check_m3 + balance.plunger_m3 + balance.seat_m3,
            into_ports_m3: self.into_ports_m3,
            stored_m3: self.supply.stored_m3(balance.pressure_pa) - stored_m3,
            lines_m3: short_m3 - self.short_m3(),
            vapour_m3: balance.vapour_m3 - vapour_m3,
            glasses_m3: self.all_glasses_m3,
        }
    }

    /// The injectors follow the feed while the valves keep a drop (Pa). What a line gives through
    /// the tip as it falls from opening to closing is left out: with petrol's bulk modulus of
    /// 1.1 GPa (handbooks, from memory) 0.1 mm3 a line.
    fn move_needles(&mut self, plant: &Plant, kept_pa: f64) {
        let (count, first_pa) = (plant.parts.slits.width_m.len(), plant.first_injector_pa);
        let feed_pa = self.pressure_pa();
        self.needles.follow(&plant.parts.injectors, (count, first_pa), feed_pa, kept_pa);
    }

    fn feed<'a>(
        &'a self,
        plant: &'a Plant,
        leaks: &Leaks,
        pump_share: f64,
        drawn_m3_s: f64,
    ) -> Feed<'a> {
        feed_of((&self.supply, self.holds_pa), plant, leaks, (pump_share, drawn_m3_s))
    }

    /// Lets it stand with the pump off for a time (s): the regulator closes, the pressure leaks
    /// away, hot fuel boils, injectors drip.
    pub fn stand(&mut self, plant: &Plant, conditions: &Conditions, lasts_s: f64) {
        let fuel_side = &conditions.fuel_side;
        let bonnet_k = fuel_side.bonnet_k.unwrap_or(conditions.fuel_k);
        let liquid = Liquid {
            density_kg_m3: plant.liquid.density_kg_m3,
            viscosity_pa_s: viscosity_pa_s(bonnet_k),
        };
        let lines_m3 = self.lines_m3(plant);
        let mut balance = self.balance;
        let until_s = balance.time_s + lasts_s;
        let check = fuel_side.check_valve;
        let leaks = self.supply.leaks(plant.parts.pressures.plunger_m, check, &liquid);
        let seeps = plant.seeps(liquid.viscosity_pa_s);
        let feed = Feed { seeps, ..self.feed(plant, &leaks, 0.0, 0.0) };
        let boils_pa = vapour_pressure_pa(fuel_side.class_pa, bonnet_k) - plant.ambient_pa;
        balance.boils_at_s = None;
        feed.close(&mut balance, until_s);
        let before = balance;
        feed.leak_down(&mut balance, until_s, boils_pa, self.supply.feed_m3);
        let flat_s = match balance.pressure_pa < FLAT_PA && balance.boils_at_s.is_none() {
            true => until_s - flat_from_s(&feed, &before, until_s, boils_pa),
            false => 0.0,
        };
        self.into_ports_m3 += balance.seeped_m3 - self.balance.seeped_m3;
        self.balance = balance;
        self.move_needles(plant, 0.0);
        let boiling_s = balance.boils_at_s.map_or(0.0, |at| until_s - at);
        let evaporates_m3_s =
            fuel_side.evaporates_m3_s(bonnet_k, plant.ambient_pa, liquid.density_kg_m3);
        let lines = plant.parts.slits.width_m.len();
        for (line, short) in self.short_m3.iter_mut().enumerate().take(lines) {
            let room_m3 = lines_m3[line] - *short;
            let dripped = fuel_side.dripped_m3(line, lines, room_m3, boiling_s);
            let lost = dripped
                + (evaporates_m3_s * (flat_s - MADE_GOOD_S).max(0.0)).clamp(0.0, room_m3 - dripped);
            *short += lost;
            self.into_ports_m3 += lost;
        }
    }

    /// Goes on for a time (s), with the pump at a share of its delivery. `arrives_m3` has left
    /// lines and start valve meanwhile; lines that are short fill at a lift of the plunger and a
    /// drop over the slits (Pa).
    pub fn turn(
        &mut self,
        plant: &Plant,
        (lasts_s, pump_share): (f64, f64),
        arrives_m3: f64,
        (lift_m, kept_pa): (f64, f64),
    ) {
        if lasts_s <= 0.0 {
            return;
        }
        self.into_ports_m3 += arrives_m3;
        let mut drawn_m3 = arrives_m3;
        let full = self.all_full();
        if !full {
            let drop_pa = kept_pa.min(self.pressure_pa()).max(0.0);
            let density = plant.liquid.density_kg_m3;
            let jet = jet_speed_m_s(drop_pa, density);
            for line in 0..plant.parts.slits.width_m.len() {
                let flow = plant.parts.slits.flow_kg_s(line, lift_m, jet, &plant.liquid) / density;
                let fills = (flow * lasts_s).min(self.short_m3[line]);
                self.short_m3[line] -= fills;
                drawn_m3 += fills;
            }
        }
        let time = (lasts_s, pump_share);
        if full && self.held.is_some_and(|held| held.drive(&mut self.balance, time, drawn_m3)) {
            return self.move_needles(plant, kept_pa);
        }
        let drawn_m3_s = drawn_m3 / lasts_s;
        let until_s = self.balance.time_s + lasts_s;
        let holds = (&self.supply, self.holds_pa);
        let feed = feed_of(holds, plant, &self.leaks, (pump_share, drawn_m3_s));
        feed.drive(&mut self.balance, until_s);
        self.held = (pump_share > 0.0).then(|| HeldFeed::of(&feed));
        self.move_needles(plant, kept_pa);
    }

    /// Takes the lines off their injectors, each into an empty glass, or puts them back on.
    pub fn open_lines(&mut self, open: bool) {
        if open && !self.open {
            self.glasses_m3 = [0.0; CYLINDERS];
        }
        self.open = open;
    }

    /// Whether the lines are off their injectors.
    pub fn lines_open(&self) -> bool {
        self.open
    }

    /// What the glasses hold (m3), since the lines were opened last.
    pub fn glasses_m3(&self) -> [f64; CYLINDERS] {
        self.glasses_m3
    }

    /// Goes on for a time (s) with the lines open, the pump at a share of its delivery, the
    /// plunger at a lift and the valves keeping a drop (Pa): lines fill, what they do not hold runs
    /// into the glasses.
    pub fn fill_glasses(
        &mut self,
        plant: &Plant,
        (lasts_s, pump_share): (f64, f64),
        (lift_m, drop_pa): (f64, f64),
    ) {
        let mut balance = self.balance;
        let until_s = balance.time_s + lasts_s;
        let feed = Feed { lift_m, drop_pa, ..self.feed(plant, &self.leaks, pump_share, 0.0) };
        feed.drive(&mut balance, until_s);
        for line in 0..plant.parts.slits.width_m.len() {
            let passed = balance.lines_m3[line] - self.balance.lines_m3[line];
            let fills = passed.min(self.short_m3[line]);
            self.short_m3[line] -= fills;
            self.glasses_m3[line] += passed - fills;
            self.all_glasses_m3 += passed - fills;
        }
        self.balance = balance;
    }

    /// Tells the plant the pressure and which lines pass fuel, where that has changed.
    pub fn tell(&mut self, plant: &mut Plant) {
        let pressure_pa = self.pressure_pa().max(0.0);
        let same = (pressure_pa - self.told_pa).abs() < TOLD_PA;
        if same && self.all_full() && plant.lines.all_spray() {
            return;
        }
        self.told_pa = pressure_pa;
        plant.feed_behind(pressure_pa, self.needles, |line| self.is_short(line));
    }
}

/// The feed with its pump at a share of its delivery, so much drawn from it (m3/s).
fn feed_of<'a>(
    (supply, holds_pa): (&'a Supply, f64),
    plant: &'a Plant,
    leaks: &Leaks,
    (pump_share, drawn_m3_s): (f64, f64),
) -> Feed<'a> {
    Feed {
        supply,
        slits: &plant.parts.slits,
        liquid: plant.liquid,
        leaks: if pump_share > 0.0 { leaks.pump_on() } else { *leaks },
        set_pa: if pump_share > 0.0 { holds_pa } else { supply.closes_pa(holds_pa) },
        pump_share,
        lift_m: 0.0,
        drop_pa: 0.0,
        back_pa: 0.0,
        drawn_m3_s,
        to_fill_m3: [0.0; CYLINDERS],
        seeps: Seeps::NONE,
        steps: STEPS,
    }
}

/// When a feed that leaks down has no pressure left (s).
fn flat_from_s(feed: &Feed<'_>, from: &VolumeBalance, until_s: f64, boils_pa: f64) -> f64 {
    if from.pressure_pa < FLAT_PA {
        return from.time_s;
    }
    let above_pa = |time_s: f64| {
        let mut then = *from;
        feed.leak_down(&mut then, time_s, boils_pa, 0.0);
        FLAT_PA - then.pressure_pa
    };
    rising_root(above_pa, from.time_s, until_s)
}

fn leaks_of(supply: &Supply, plant: &Plant, conditions: &Conditions) -> Leaks {
    let check = conditions.fuel_side.check_valve;
    supply.leaks(plant.parts.pressures.plunger_m, check, &plant.liquid)
}
