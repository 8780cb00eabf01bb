//! Exhaust gas before the catalyst.

use crate::fuel::kind::{Fuel, OXYGEN_IN_AIR};
use crate::maths::{normal_density, normal_share_below};

/// Water-gas constant `CO H2O / (CO2 H2)` at which the gas freezes (Heywood 1988,
/// sect. 4.9, from memory).
pub const WATER_GAS: f64 = 3.5;
/// Cycle-to-cycle spread of the fuel in the gas, rms share. It lets CO and O2 stand side
/// by side at lambda 1. Source: our own; gives the 0.4-1.2 % CO of common practice there.
pub const MIXING_SPREAD: f64 = 0.04;
/// Unburnt hydrocarbons of a sound engine, volume share as hexane. Common practice, no source.
pub const HC_BASE: f64 = 200e-6;
/// Dry composition by volume share.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Gas {
    /// Carbon monoxide.
    pub co: f64,
    /// Carbon dioxide.
    pub co2: f64,
    /// Oxygen.
    pub o2: f64,
    /// Hydrogen.
    pub h2: f64,
    /// Unburnt hydrocarbons as hexane.
    pub hc: f64,
}

/// Composition of the formula's own mean fuel: H/C and O/C (Brettschneider 1979).
pub const FORMULA_FUEL: (f64, f64) = (1.7261, 0.0175);
/// Carbon atoms of a molecule of hexane.
pub(super) const HEXANE_CARBON: f64 = 6.0;

/// Lambda from dry exhaust readings.
///
/// Equation: `lambda = [CO2 + CO/2 + O2 + (h/4 K/(K + CO/CO2) - o/2)(CO2 + CO)] /
/// [(1 + h/4 - o/2)(CO2 + CO + 6 HC)]`, shares by volume, HC as hexane, `K = 3.5`.
/// Symbols: `h`, `o` hydrogen and oxygen atoms for each carbon of the fuel.
/// Valid range: burnt gas with some CO2; nitrogen oxides are left out (1000 ppm of them
/// would add about 0.003). `None` without CO2. Source: Brettschneider 1979 (formula and
/// constants from memory).
///
/// ```
/// use sim_core::engine::exhaust::{FORMULA_FUEL, Gas, lambda_of};
/// let gas = Gas { co: 0.005, co2: 0.147, o2: 0.005, h2: 0.0, hc: 100e-6 };
/// assert!((lambda_of(&gas, FORMULA_FUEL).unwrap() - 1.00468).abs() < 2e-5);
/// ```
pub fn lambda_of(gas: &Gas, (h_per_c, o_per_c): (f64, f64)) -> Option<f64> {
    if gas.co2 <= 0.0 {
        return None;
    }
    let burnt = gas.co2 + gas.co;
    let water = 0.25 * h_per_c * WATER_GAS / (WATER_GAS + gas.co / gas.co2);
    let oxygen = gas.co2 + 0.5 * gas.co + gas.o2 + (water - 0.5 * o_per_c) * burnt;
    let demand = 1.0 + 0.25 * h_per_c - 0.5 * o_per_c;
    Some(oxygen / (demand * (burnt + HEXANE_CARBON * gas.hc)))
}

/// Hydrogen that goes with the CO of a gas in water-gas equilibrium, dry share.
pub fn hydrogen_of(co: f64, co2: f64, h_per_c: f64) -> f64 {
    if co <= 0.0 {
        return 0.0;
    }
    0.5 * h_per_c * (co + co2) * co / (co + WATER_GAS * co2)
}

/// Moles for each mole of oxygen breathed: fuel carbon, carbon monoxide, hydrogen, and
/// oxygen left over.
struct Moles {
    carbon: f64,
    co: f64,
    h2: f64,
    o2: f64,
}

/// Gas of one mixture, no spread.
///
/// Equation: element balance; rich: CO, CO2, H2, H2O in water-gas equilibrium at 3.5;
/// lean: complete combustion. Symbols: lambda; fuel `CHhOo`. Valid range: lambda from
/// about 0.4 (where all carbon is CO) up. Source: Heywood 1988, sect. 4.9 (from memory).
///
/// ```
/// use sim_core::{engine::exhaust::gas_of, fuel::kind::Fuel};
/// let rich = gas_of(&Fuel::petrol_with_ethanol(0.0), 0.9);
/// assert!((100.0 * rich.co - 3.686).abs() < 0.003);
/// ```
pub fn gas_of(fuel: &Fuel, lambda: f64) -> Gas {
    let phi = 1.0 / lambda;
    let rich = (phi - 1.0).max(0.0);
    let co = rich * co_for_excess(fuel, rich);
    let moles = Moles {
        carbon: phi / fuel.oxygen_demand(),
        co,
        h2: 2.0 * rich - co,
        o2: (1.0 - phi).max(0.0),
    };
    dry(&moles, 0.0, 0.0)
}

/// Gas of several cylinders with equal air, each with the cycle-to-cycle spread
/// [`MIXING_SPREAD`] of its fuel, a share of misfired cycles, and a share of leak air
/// (of the air breathed) let in before the probe.
///
/// The CO of a mixture is the fuel's excess times a slowly changing factor; its mean
/// over the spread takes that factor at the two Gauss points of the excess' own distribution,
/// whose moments are those of a truncated normal. Fuel, carbon and oxygen balance exactly.
pub fn mixed_gas(fuel: &Fuel, lambdas: &[f64], misfire: f64, leak: f64) -> Gas {
    // E[(phi-1)^n] over phi > 1.
    let mut m = [0.0; 5];
    let weight = 1.0 / lambdas.len() as f64;
    let mut phi_mean = 0.0;
    for phi in lambdas.iter().map(|lambda| 1.0 / lambda) {
        phi_mean += weight * phi;
        let (x, s) = (phi - 1.0, MIXING_SPREAD * phi);
        let (share, density) = if x > 8.5 * s {
            (1.0, 0.0)
        } else {
            (normal_share_below(x / s), normal_density(x / s))
        };
        let mut own = [share, x * share + s * density, 0.0, 0.0, 0.0];
        for n in 2..5 {
            own[n] = x * own[n - 1] + (n - 1) as f64 * s * s * own[n - 2];
        }
        for (sum, one) in m.iter_mut().zip(own) {
            *sum += weight * one;
        }
    }
    let co = mean_co(fuel, &m);
    let moles = Moles {
        carbon: phi_mean / fuel.oxygen_demand(),
        co,
        h2: 2.0 * m[1] - co,
        o2: (1.0 - phi_mean + m[1]).max(0.0),
    };
    let mut gas = dry(&moles, misfire, leak);
    gas.hc += HC_BASE;
    gas
}

/// `E[u f(u)]` for the excess `u`, by the two-point Gauss rule of the weight `u`.
fn mean_co(fuel: &Fuel, m: &[f64; 5]) -> f64 {
    if m[1] < 1e-12 {
        return 0.0;
    }
    let spread = m[1] * m[3] - m[2] * m[2];
    let (p, q) = ((m[2] * m[3] - m[1] * m[4]) / spread, (m[2] * m[4] - m[3] * m[3]) / spread);
    let half = (0.25 * p * p - q).sqrt();
    let (low, high) = (-0.5 * p - half, -0.5 * p + half);
    let weight_high = (m[2] - low * m[1]) / (high - low);
    (m[1] - weight_high) * co_for_excess(fuel, low) + weight_high * co_for_excess(fuel, high)
}

/// Moles of CO for each unit of fuel excess `u = phi - 1` and mole of oxygen breathed.
fn co_for_excess(fuel: &Fuel, excess: f64) -> f64 {
    let phi = 1.0 + excess;
    // Of each fuel carbon: oxygen short d = 2 a (1 - 1/phi), shared between CO and H2.
    let a = fuel.oxygen_demand();
    let short_per_excess = 2.0 * a / phi;
    let d = short_per_excess * excess;
    let b = WATER_GAS * (1.0 + d) + 0.5 * fuel.h_per_c - d;
    let root = (b * b - 4.0 * (WATER_GAS - 1.0) * WATER_GAS * d).max(0.0).sqrt();
    2.0 * WATER_GAS * short_per_excess / (b + root) * phi / a
}

/// Dry shares of a gas of which some of the charges went through unburnt: their air and fuel
/// (told as hexane) thin the rest, 0.22 % of oxygen and 255 ppm for each percent at lambda 1.
fn dry(moles: &Moles, unburnt: f64, leak: f64) -> Gas {
    let burnt = 1.0 - unburnt;
    let nitrogen = (1.0 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR * (1.0 + leak);
    let o2 = burnt * moles.o2 + unburnt + leak;
    let hc = unburnt * moles.carbon / HEXANE_CARBON;
    let total = burnt * (moles.carbon + moles.h2) + o2 + hc + nitrogen;
    Gas {
        co: burnt * moles.co / total,
        co2: burnt * (moles.carbon - moles.co) / total,
        o2: o2 / total,
        h2: burnt * moles.h2 / total,
        hc: hc / total,
    }
}
