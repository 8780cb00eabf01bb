//! What a gas that was read means, by counting its atoms.
//!
//! Four gases are read and there are four unknowns: the mixture that burns, the share of cycles
//! that do not, the air that comes in after the burning, and whether the readings can belong to
//! one gas at all. Each has its own equation:
//!
//! - `CO/CO2` is the burnt gas's own: neither air nor lost cycles change it. It gives the mixture.
//! - `HC` beyond a sound engine's, over the burnt carbon, is the share of lost cycles.
//! - `O2` beyond what that mixture and those cycles leave is air.
//! - Oxygen found must be the oxygen that came with the nitrogen.
//!
//! ```
//! use sim_core::engine::exhaust::mixed_gas;
//! use sim_core::engine::gas_balance::{GasRead, Sign};
//! use sim_core::fuel::kind::Fuel;
//! let petrol = Fuel::petrol_with_ethanol(0.0);
//! // A rich idle with air let into the pipe, a tenth of what the engine breathes.
//! let gas = mixed_gas(&petrol, &[0.95], 0.0, 0.10);
//! let read = GasRead { co: Some(gas.co), co2: Some(gas.co2), o2: Some(gas.o2), hc: Some(gas.hc) };
//! let found = read.balanced(&petrol).unwrap();
//! assert!((found.added_air - 0.10).abs() < 1e-3 && found.signs.contains(&Sign::AirAdded));
//! ```

use super::exhaust::{Gas, HC_BASE, HEXANE_CARBON, gas_of, hydrogen_of, lambda_of, mixed_gas};
use crate::fuel::kind::{Fuel, OXYGEN_IN_AIR};
use crate::solve::root_between;

/// What a good tester may be off: shares by volume, or the share of the reading if that is
/// more. Source: OIML R 99-1:2008, class I, table of maximum permissible errors (from memory).
mod permitted {
    pub const CO: f64 = 0.06e-2;
    pub const CO2: f64 = 0.5e-2;
    pub const O2: f64 = 0.1e-2;
    pub const HC: f64 = 12e-6;
    pub const SHARE: f64 = 0.05;
}

/// Mixtures between which the one that burns is looked for.
const MIXTURES: (f64, f64) = (0.45, 1.3);
/// How far two halves of the cylinders may stand apart from their mean for CO and O2 to be
/// still called their own: with the spread from cycle to cycle twice the usual one. Our own.
const UNEVEN: f64 = 0.07;
/// Share of the oxygen that lost cycles bring which must be there for HC to be called theirs.
/// Our own: the fuel of a lost cycle burns on in a hot pipe, so some of both goes.
const OXYGEN_OF_LOST: f64 = 0.6;
/// Least share of lost cycles that is called a misfire: HC beyond two sound engines'. Our own.
const LOST_LEAST: f64 = 0.008;
/// Share of what the engine leaves that is left behind a catalyst that works. Our own.
const CATALYST_LEAVES: f64 = 0.25;
/// How many times what a good tester may be off the oxygen is beyond in a gas that cannot be:
/// a worn tester is off by more than a good one. Our own.
const IMPOSSIBLE: f64 = 2.0;
/// From what share of air on a sample is no gas of an engine that runs. Our own.
const NEARLY_AIR: f64 = 0.85;

/// What was read of a dry gas, shares by volume; HC as hexane.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GasRead {
    /// Carbon monoxide.
    pub co: Option<f64>,
    /// Carbon dioxide.
    pub co2: Option<f64>,
    /// Oxygen.
    pub o2: Option<f64>,
    /// Hydrocarbons.
    pub hc: Option<f64>,
}

/// A thing that a gas tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// More oxygen, free and bound, than came with the nitrogen.
    TooMuchOxygen,
    /// Less than came with it.
    TooLittleOxygen,
    /// Air, or hardly anything else.
    NearlyAir,
    /// CO and HC burnt behind the engine.
    Catalyst,
    /// Cycles lost on a lean mixture.
    LeanMisfire,
    /// Cycles lost on a mixture that is not lean.
    Misfire,
    /// Hydrocarbons without the oxygen that should have burnt them.
    UnburntWithoutOxygen,
    /// Air let in after the burning, since CO says that it burnt rich or near lambda 1.
    AirAdded,
    /// CO and O2 side by side, as of cylinders that get unequal mixtures.
    Uneven,
    /// Oxygen and hardly any CO: lean, or air let in. The gas is the same.
    LeanOrAir,
    /// CO and CO2 together below what is left where no air is added.
    SumLow,
    /// The balance is off by more than a good tester is, but not by so much that the gas cannot
    /// be.
    Doubtful,
    /// All is as a mixture leaves it.
    Fits,
}

/// A gas and what its atoms tell.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct GasBalance {
    /// The gas: what was not read is from the balance of oxygen, or as a sound engine has it.
    pub gas: Gas,
    /// Lambda of all that went in, added air too.
    pub lambda: f64,
    /// Lambda of what burnt, from `CO/CO2`; nothing where there is hardly any CO.
    pub burnt_lambda: Option<f64>,
    /// Share of the cycles lost.
    pub lost: f64,
    /// Air added after the burning, share of the air breathed. Where there is hardly any CO:
    /// all the air that was not needed.
    pub added_air: f64,
    /// CO and CO2 together (share), and what they would be without added air.
    pub sum: f64,
    /// See `sum`.
    pub sum_without_air: f64,
    /// Oxygen found less the oxygen that came with the nitrogen, share of the dry gas.
    pub oxygen_beyond: f64,
    /// How much of that a good tester may be off.
    pub doubt: f64,
    /// What it tells, the most important first.
    pub signs: Vec<Sign>,
}

impl GasBalance {
    /// Whether it can be the gas of an engine.
    pub fn possible(&self) -> bool {
        use Sign::{NearlyAir, TooLittleOxygen, TooMuchOxygen};
        !self.signs.iter().any(|sign| [NearlyAir, TooLittleOxygen, TooMuchOxygen].contains(sign))
    }
}

/// Oxygen found in a dry gas less the oxygen that came with its nitrogen, share of the dry gas.
///
/// Equation: `e = CO2 + CO/2 + O2 + H2O/2 - o/2 (CO + CO2) - N2 x/(1 - x)`, with
/// `H2O = h/2 (CO + CO2) - H2`, `N2 = 1 - CO - CO2 - O2 - H2 - HC`. Symbols: shares of the dry
/// gas; `h`, `o` hydrogen and oxygen atoms of the fuel for each carbon; `x` oxygen in air.
/// Valid range: any gas of air and a CHO fuel, thinned with air or not; argon counts as
/// nitrogen. Hydrocarbons are fuel that did not burn: their hydrogen and oxygen stand in no other
/// gas, so that only their room counts. A tester tells their carbon as hexane, `C6`, whatever
/// their hydrogen; molecules of eight carbon atoms leave `e` at 0.0005 at the most where a fifth
/// of the charges is lost. Source: balance of carbon, hydrogen, oxygen and nitrogen.
pub fn oxygen_beyond(gas: &Gas, fuel: &Fuel) -> f64 {
    let burnt = gas.co + gas.co2;
    let water = 0.5 * fuel.h_per_c * burnt - gas.h2;
    let nitrogen = 1.0 - burnt - gas.o2 - gas.h2 - gas.hc;
    let found = gas.co2 + 0.5 * gas.co + gas.o2 + 0.5 * water - 0.5 * fuel.o_per_c * burnt;
    found - nitrogen * OXYGEN_IN_AIR / (1.0 - OXYGEN_IN_AIR)
}

/// What CO alone tells of a mixture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LambdaOfCo {
    /// Lambda at which an engine of the usual spread leaves so much; nothing for less CO than a
    /// tester can tell.
    pub lambda: Option<f64>,
    /// The richest that may leave so much: each charge alike.
    pub richest: f64,
    /// The leanest: cylinders far apart. Nothing where lean engines, too, leave so much.
    pub leanest: Option<f64>,
}

/// Most CO that a mixture leaves which burns (share of the dry gas).
pub fn most_co(fuel: &Fuel) -> f64 {
    gas_of(fuel, MIXTURES.0).co
}

/// The mixture that leaves so much CO (share of the dry gas), no air added and no cycle lost;
/// `None` for more CO than any mixture leaves. It says nothing about how lean a mixture is:
/// from lambda 1 on there is hardly any CO.
///
/// ```
/// use sim_core::{engine::gas_balance::lambda_of_co, fuel::kind::Fuel};
/// let found = lambda_of_co(&Fuel::petrol_with_ethanol(0.0), 0.012).unwrap();
/// assert!((0.96..0.99).contains(&found.lambda.unwrap()) && found.leanest.is_some());
/// ```
pub fn lambda_of_co(fuel: &Fuel, co: f64) -> Option<LambdaOfCo> {
    let at = |of: &dyn Fn(f64) -> Gas| {
        let f = |lambda: f64| of(lambda).co - co;
        let (low, high) = (f(MIXTURES.0), f(MIXTURES.1));
        (low >= 0.0 && high < 0.0).then(|| root_between(f, MIXTURES.0, low, MIXTURES.1, high))
    };
    if co > most_co(fuel) {
        return None;
    }
    let even = at(&|lambda| gas_of(fuel, lambda)).unwrap_or(1.0).min(1.0);
    let usual = at(&|lambda| mixed_gas(fuel, &[lambda], 0.0, 0.0));
    let apart = at(&|lambda| uneven(fuel, lambda));
    // What a mixture of lambda 1 leaves, a lean one may leave, too.
    let apart = apart.filter(|_| co > mixed_gas(fuel, &[1.0], 0.0, 0.0).co);
    Some(LambdaOfCo {
        lambda: usual.filter(|_| co > permitted::CO),
        // Very rich, where CO grows less and less with fuel, a spread asks for a richer mean.
        richest: apart.map_or(even, |apart| apart.min(even)),
        leanest: apart.map(|apart| apart.max(even)),
    })
}

/// The lambda at which a mixture leaves the `CO/CO2` of a gas.
fn burning(gas: &Gas, of: impl Fn(f64) -> Gas) -> Option<f64> {
    let f = |lambda: f64| {
        let own = of(lambda);
        own.co * gas.co2 - gas.co * own.co2
    };
    let (low, high) = (f(MIXTURES.0), f(MIXTURES.1));
    (low > 0.0 && high < 0.0).then(|| root_between(f, MIXTURES.0, low, MIXTURES.1, high))
}

/// Half of the cylinders so much richer than the mean, half so much leaner.
fn uneven(fuel: &Fuel, lambda: f64) -> Gas {
    mixed_gas(fuel, &[lambda / (1.0 + UNEVEN), lambda / (1.0 - UNEVEN)], 0.0, 0.0)
}

fn permitted_of(reading: f64, least: f64) -> f64 {
    least.max(permitted::SHARE * reading)
}

impl GasRead {
    /// The balance of what was read. `None` where CO2 is 0, or where neither CO2 nor what gives
    /// it (O2 beside CO) was read.
    pub fn balanced(&self, fuel: &Fuel) -> Option<GasBalance> {
        let gas = self.completed(fuel)?;
        let lambda = lambda_of(&gas, (fuel.h_per_c, fuel.o_per_c))?;
        let sum = gas.co + gas.co2;
        let oxygen_beyond = oxygen_beyond(&gas, fuel);
        let doubt = doubt(&gas, fuel);
        // What burnt. Added air and lost cycles leave CO/CO2 as it was.
        let burnt_lambda = self.burnt_lambda(&gas, fuel);
        let own = |of: &dyn Fn(f64) -> Gas| burnt_lambda.map_or_else(|| gas_of(fuel, 1.0), of);
        let alone = own(&|lambda| mixed_gas(fuel, &[lambda], 0.0, 0.0));
        let free = |gas: &Gas| gas.o2 / (gas.co + gas.co2);
        // Fuel and oxygen of lost cycles, for each burnt carbon.
        let hc_beyond = self.hc.map_or(0.0, |hc| (hc - HC_BASE).max(0.0));
        let lost_carbon = HEXANE_CARBON * hc_beyond / sum;
        let lost = lost_carbon / (1.0 + lost_carbon);
        let demand = fuel.oxygen_demand() * burnt_lambda.unwrap_or(1.0);
        let lost_oxygen = lost_carbon * demand;
        let beyond = free(&gas) - free(&alone);
        let lost_shows = lost >= LOST_LEAST;
        let has_oxygen = beyond > OXYGEN_OF_LOST * lost_oxygen;
        let charged = if lost_shows && has_oxygen { lost_oxygen } else { 0.0 };
        let lost = if charged > 0.0 { lost } else { 0.0 };
        let added_air = ((beyond - charged) * (1.0 - lost) / demand).max(0.0);
        let sum_without_air = (1.0 - lost) * (alone.co + alone.co2);
        let mut found = GasBalance {
            gas,
            lambda,
            burnt_lambda,
            lost,
            added_air,
            sum,
            sum_without_air,
            oxygen_beyond,
            doubt,
            signs: Vec::new(),
        };
        found.signs = self.signs(&found, fuel, (lost_shows, beyond - charged));
        Some(found)
    }

    /// The gas with what was not read.
    fn completed(&self, fuel: &Fuel) -> Option<Gas> {
        let hc = self.hc.unwrap_or(0.0);
        let co = self.co.unwrap_or(0.0);
        let of = |co2: f64, o2: f64| {
            let h2 = hydrogen_of(co, co2, fuel.h_per_c);
            Gas { co, co2, o2, h2, hc }
        };
        match (self.co2, self.o2) {
            (Some(co2), Some(o2)) => Some(of(co2, o2)),
            // Rising straight with O2.
            (Some(co2), None) => {
                let none = oxygen_beyond(&of(co2, 0.0), fuel);
                let slope = oxygen_beyond(&of(co2, 1.0), fuel) - none;
                Some(of(co2, (-none / slope).max(0.0)))
            }
            (None, Some(o2)) if self.co.is_some() => {
                let f = |co2: f64| oxygen_beyond(&of(co2, o2), fuel);
                let (low, high) = (1e-6, 0.25);
                let (f_low, f_high) = (f(low), f(high));
                let co2 =
                    if f_low >= 0.0 { low } else { root_between(f, low, f_low, high, f_high) };
                Some(of(co2, o2))
            }
            _ => None,
        }
    }

    /// The mixture that burns, from `CO/CO2`: nothing where CO is no more than what a tester
    /// may be off.
    fn burnt_lambda(&self, gas: &Gas, fuel: &Fuel) -> Option<f64> {
        self.co.filter(|co| *co > permitted::CO)?;
        burning(gas, |lambda| mixed_gas(fuel, &[lambda], 0.0, 0.0))
    }

    fn signs(
        &self,
        found: &GasBalance,
        fuel: &Fuel,
        (lost_shows, air_oxygen): (bool, f64),
    ) -> Vec<Sign> {
        let GasBalance { gas, lambda, burnt_lambda, sum, .. } = found;
        if found.oxygen_beyond > IMPOSSIBLE * found.doubt {
            return vec![Sign::TooMuchOxygen];
        }
        if found.oxygen_beyond < -IMPOSSIBLE * found.doubt {
            return vec![Sign::TooLittleOxygen];
        }
        if gas.o2 > NEARLY_AIR * OXYGEN_IN_AIR {
            return vec![Sign::NearlyAir];
        }
        if self.behind_a_catalyst(gas, *lambda, fuel) {
            return vec![Sign::Catalyst];
        }
        let mut signs = Vec::new();
        if lost_shows {
            let rich = burnt_lambda.is_some_and(|burnt| burnt < 1.0);
            let lean = !rich && *lambda > 1.0 + 0.5 * UNEVEN;
            signs.push(match (found.lost > 0.0, lean) {
                (true, true) => Sign::LeanMisfire,
                (true, false) => Sign::Misfire,
                (false, _) => Sign::UnburntWithoutOxygen,
            });
        }
        // What the tester may be off in O2, twice: it is told from the mixture's own.
        let off = 2.0 * permitted_of(gas.o2, permitted::O2) / sum;
        let own = |of: &dyn Fn(f64) -> Gas| {
            burnt_lambda.map(of).map_or(0.0, |own| own.o2 / (own.co + own.co2))
        };
        let usual = own(&|lambda| mixed_gas(fuel, &[lambda], 0.0, 0.0));
        let rich = burnt_lambda.is_some_and(|burnt| burnt < 1.01);
        let unequal = self.unequal_oxygen(gas, fuel).unwrap_or(0.0) - usual;
        match air_oxygen > off {
            true if rich && air_oxygen > unequal + off => signs.push(Sign::AirAdded),
            true if rich => signs.push(Sign::Uneven),
            true => signs.push(Sign::LeanOrAir),
            false => {}
        }
        let sum_off = permitted::CO + permitted::CO2;
        if found.sum < found.sum_without_air - sum_off {
            signs.push(Sign::SumLow);
        }
        if found.oxygen_beyond.abs() > found.doubt {
            signs.push(Sign::Doubtful);
        }
        if signs.is_empty() {
            signs.push(Sign::Fits);
        }
        signs
    }

    /// Free oxygen for each burnt carbon of cylinders far apart that leave the same `CO/CO2`.
    fn unequal_oxygen(&self, gas: &Gas, fuel: &Fuel) -> Option<f64> {
        let own = uneven(fuel, burning(gas, |lambda| uneven(fuel, lambda))?);
        Some(own.o2 / (own.co + own.co2))
    }

    /// Whether an engine on the same mixture would leave far more of CO and HC.
    fn behind_a_catalyst(&self, gas: &Gas, lambda: f64, fuel: &Fuel) -> bool {
        let engine = mixed_gas(fuel, &[lambda], 0.0, 0.0);
        let (Some(co), Some(hc)) = (self.co, self.hc) else { return false };
        let most = CATALYST_LEAVES * engine.co;
        // Only where the engine's own could be told from nothing.
        most > 0.5 * permitted::CO
            && co <= most
            && hc <= CATALYST_LEAVES * HC_BASE
            && gas.o2 < engine.o2 + permitted_of(gas.o2, permitted::O2)
    }
}

/// How much [`oxygen_beyond`] may be off where each reading is as much off as a good tester may
/// be, all of them the same way.
fn doubt(gas: &Gas, fuel: &Fuel) -> f64 {
    let here = oxygen_beyond(gas, fuel);
    let moved = |co: f64, co2: f64, o2: f64, hc: f64| {
        let (co, co2) = (gas.co + co, gas.co2 + co2);
        let h2 = hydrogen_of(co, co2, fuel.h_per_c);
        let gas = Gas { co, co2, o2: gas.o2 + o2, h2, hc: gas.hc + hc };
        (oxygen_beyond(&gas, fuel) - here).abs()
    };
    moved(permitted_of(gas.co, permitted::CO), 0.0, 0.0, 0.0)
        + moved(0.0, permitted_of(gas.co2, permitted::CO2), 0.0, 0.0)
        + moved(0.0, 0.0, permitted_of(gas.o2, permitted::O2), 0.0)
        + moved(0.0, 0.0, 0.0, permitted_of(gas.hc, permitted::HC))
}
