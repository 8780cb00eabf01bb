//! The lambda sensor: voltage of an oxygen cell whose tip brings the gas to equilibrium.

use crate::fuel::kind::{Fuel, OXYGEN_IN_AIR};
use crate::solve::root_to;
use crate::units::GAS_J_MOL_K;

/// Faraday constant (C/mol), 2019 SI.
const FARADAY_C_MOL: f64 = 96_485.332_12;

/// Shift of the reading to lean for each misfired share: 0.010 of lambda per percent.
pub const LEAN_PER_MISFIRE: f64 = 1.0;
/// Shift of the reading to lean for each share of leak air: 0.010 of lambda per percent.
pub const LEAN_PER_LEAK: f64 = 1.0;

/// The sensor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LambdaSensor {
    /// Temperature of the tip (K).
    pub tip_k: f64,
    /// The most a real tip shows in rich gas (V).
    pub rich_cap_v: f64,
}

impl LambdaSensor {
    /// What the sensor takes for lambda.
    ///
    /// Equation: `lambda + 1.0 misfire + 1.0 leak`, shares. Valid range: a few percent, near
    /// lambda 1. Source: oxygen balance: leak air is air beside that breathed, and the air of a
    /// lost charge goes out as it came.
    pub fn reads(lambda: f64, misfire: f64, leak: f64) -> f64 {
        lambda + LEAN_PER_MISFIRE * misfire + LEAN_PER_LEAK * leak
    }
}

/// An oxygen cell at one temperature, with its equilibrium constants worked out once.
#[derive(Clone, Copy, Debug)]
pub struct OxygenCell {
    temperature_k: f64,
    /// `sqrt(p_O2) CO/CO2`, pressures in atm.
    carbon: f64,
    /// `sqrt(p_O2) H2/H2O`.
    hydrogen: f64,
    /// `CH4 H2O / (CO H2^3)`, pressures in atm.
    methane: f64,
}

/// Methane below this share of the carbon is left out: less than a microvolt.
const METHANE_SHOWS: f64 = 1e-6;

/// Burnt gas for each atom of the fuel's carbon: hydrogen molecules, nitrogen, and oxygen beyond
/// the demand.
#[derive(Clone, Copy)]
struct Burnt {
    half_h: f64,
    nitrogen: f64,
    short: f64,
}

impl OxygenCell {
    /// A cell at a tip temperature (K), 600 to 1500.
    pub fn at(temperature_k: f64) -> Self {
        let g = |species: &[[f64; 7]; 2]| gibbs_over_rt(species, temperature_k);
        let oxygen = 0.5 * g(&O2);
        OxygenCell {
            temperature_k,
            carbon: (g(&CO2) - g(&CO) - oxygen).exp(),
            hydrogen: (g(&H2O) - g(&H2) - oxygen).exp(),
            methane: (g(&CO) + 3.0 * g(&H2) - g(&CH4) - g(&H2O)).exp(),
        }
    }

    /// Equilibrium constants at the tip: `sqrt(p_O2) CO/CO2` and `sqrt(p_O2) H2/H2O`, in
    /// sqrt(atm). Their ratio is that of the water-gas reaction.
    pub fn constants(&self) -> (f64, f64) {
        (self.carbon, self.hydrogen)
    }

    /// Thermodynamic voltage (V) of the cell in burnt gas at 1 atm, against air.
    ///
    /// Equation: Nernst, `E = R T / (4 F) ln(0.2095 atm / p_O2)`, with `p_O2` of the gas
    /// re-equilibrated at the tip: C, H and O balances with `CO2 = CO + 1/2 O2`,
    /// `H2O = H2 + 1/2 O2` and `CO + 3 H2 = CH4 + H2O`. Symbols: `T` tip temperature (K).
    /// Valid range: lambda 0.4 up, 550 to 1200 degC without dissociation of O2 and H2O to
    /// radicals. Uncapped.
    /// Source: Nernst; NASA seven-term polynomials (NASA TM-4513, as in the GRI-Mech 3.0
    /// thermodynamic data); agrees with Cantera equilibrium within 3 mV.
    ///
    /// ```
    /// use sim_core::{fuel::kind::Fuel, sense::lambda_sensor::OxygenCell};
    /// let cell = OxygenCell::at(973.15);
    /// let fuel = Fuel::petrol_with_ethanol(0.0);
    /// assert!(cell.voltage_v(&fuel, 0.95) > 0.85 && cell.voltage_v(&fuel, 1.05) < 0.08);
    /// ```
    pub fn voltage_v(&self, fuel: &Fuel, lambda: f64) -> f64 {
        let demand = fuel.oxygen_demand();
        let burnt = Burnt {
            half_h: 0.5 * fuel.h_per_c,
            nitrogen: lambda * demand * (1.0 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR,
            short: demand * (lambda - 1.0),
        };
        let (mut s, makes) = self.root_oxygen(&burnt, 0.0);
        if burnt.short < 0.0 && makes > METHANE_SHOWS {
            let most = 0.999 * f64::min(1.0, 0.5 * burnt.half_h);
            let excess = |methane: f64| self.root_oxygen(&burnt, methane).1 - methane;
            let methane = root_to(excess, 0.0, makes, most, excess(most), 1e-9);
            s = self.root_oxygen(&burnt, methane).0;
        }
        let scale = GAS_J_MOL_K * self.temperature_k / (4.0 * FARADAY_C_MOL);
        scale * (0.2095_f64.ln() - 2.0 * s.ln())
    }

    /// `sqrt(p_O2 / atm)` of burnt gas with some methane in it, and the methane that the gas
    /// would then be in equilibrium with, both for each carbon of the fuel.
    fn root_oxygen(&self, burnt: &Burnt, methane: f64) -> (f64, f64) {
        // Methane takes its carbon and hydrogen away, and leaves the oxygen they would bind.
        let carbon = 1.0 - methane;
        let half_h = burnt.half_h - 2.0 * methane;
        let short = burnt.short + 2.0 * methane;
        let gases = carbon + half_h + methane + burnt.nitrogen;
        // Oxygen left over at a root pressure s, less what that pressure stands for; and its
        // derivative with ln s. Falls with s all the way.
        let excess = |s: f64| {
            let (c, h) = (s + self.carbon, s + self.hydrogen);
            let (co, h2) = (carbon * self.carbon / c, half_h * self.hydrogen / h);
            let oxygen = short + 0.5 * (co + h2);
            let oxygen_slope = -0.5 * s * (co / c + h2 / h);
            let gas = gases + oxygen;
            let s2 = s * s;
            (oxygen - s2 * gas, oxygen_slope - s2 * (2.0 * gas + oxygen_slope))
        };
        // Newton in ln s, kept inside a bracket that every step narrows.
        let (mut low, mut high) = (1e-26_f64, 1.0_f64);
        let mut s = self.start(burnt.half_h, burnt.nitrogen, burnt.short).clamp(low, high);
        for _ in 0..200 {
            let (value, slope) = excess(s);
            if value > 0.0 {
                low = s
            } else {
                high = s
            }
            let step = -value / slope;
            if step.abs() < 1e-13 {
                break;
            }
            let next = s * (1.0 + step.clamp(-0.9, 9.0));
            s = if next > low && next < high { next } else { (low * high).sqrt() };
        }
        let co = carbon * self.carbon / (s + self.carbon);
        let h2 = half_h * self.hydrogen / (s + self.hydrogen);
        let water = half_h - h2;
        (s, self.methane * co * h2.powi(3) / (water.max(1e-12) * gases * gases))
    }

    /// A root pressure near the solution: exact far from lambda 1 on either side.
    fn start(&self, half_h: f64, nitrogen: f64, short: f64) -> f64 {
        let gas = 1.0 + half_h + nitrogen;
        let even = ((self.carbon + half_h * self.hydrogen) / (2.0 * gas)).cbrt();
        if short >= 0.0 {
            return even.max((short / gas).sqrt());
        }
        // Rich: CO + H2 = 2 a (1 - lambda) with no oxygen left, a quadratic in s.
        let d = (-2.0 * short).min(0.999 * (1.0 + half_h));
        let b = d * (self.carbon + self.hydrogen) - self.carbon - half_h * self.hydrogen;
        let c = (d - 1.0 - half_h) * self.carbon * self.hydrogen;
        let root = -2.0 * c / (b + (b * b - 4.0 * d * c).sqrt());
        even.min(root.abs())
    }
}

/// Gibbs energy over `R T` at 1 atm, from the seven-term polynomial.
fn gibbs_over_rt(species: &[[f64; 7]; 2], t: f64) -> f64 {
    let [a1, a2, a3, a4, a5, a6, a7] = species[usize::from(t > 1000.0)];
    let enthalpy = a1 + t * (a2 / 2.0 + t * (a3 / 3.0 + t * (a4 / 4.0 + t * a5 / 5.0))) + a6 / t;
    let entropy = a1 * t.ln() + t * (a2 + t * (a3 / 2.0 + t * (a4 / 3.0 + t * a5 / 4.0))) + a7;
    enthalpy - entropy
}

/// Polynomials below and above 1000 K: NASA TM-4513 form, GRI-Mech 3.0 data.
type Polynomial = [[f64; 7]; 2];
#[rustfmt::skip]
const O2: Polynomial = [
    [3.78245636, -0.00299673416, 9.84730201e-06, -9.68129509e-09, 3.24372837e-12, -1063.94356, 3.65767573],
    [3.28253784, 0.00148308754, -7.57966669e-07, 2.09470555e-10, -2.16717794e-14, -1088.45772, 5.45323129],
];
#[rustfmt::skip]
const H2: Polynomial = [
    [2.34433112, 0.00798052075, -1.9478151e-05, 2.01572094e-08, -7.37611761e-12, -917.935173, 0.683010238],
    [3.3372792, -4.94024731e-05, 4.99456778e-07, -1.79566394e-10, 2.00255376e-14, -950.158922, -3.20502331],
];
#[rustfmt::skip]
const H2O: Polynomial = [
    [4.19864056, -0.0020364341, 6.52040211e-06, -5.48797062e-09, 1.77197817e-12, -30293.7267, -0.849032208],
    [3.03399249, 0.00217691804, -1.64072518e-07, -9.7041987e-11, 1.68200992e-14, -30004.2971, 4.9667701],
];
#[rustfmt::skip]
const CO: Polynomial = [
    [3.57953347, -0.00061035368, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -14344.086, 3.50840928],
    [2.71518561, 0.00206252743, -9.98825771e-07, 2.30053008e-10, -2.03647716e-14, -14151.8724, 7.81868772],
];
#[rustfmt::skip]
const CO2: Polynomial = [
    [2.35677352, 0.00898459677, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13, -48371.9697, 9.90105222],
    [3.85746029, 0.00441437026, -2.21481404e-06, 5.23490188e-10, -4.72084164e-14, -48759.166, 2.27163806],
];
#[rustfmt::skip]
const CH4: Polynomial = [
    [5.14987613, -0.0136709788, 4.91800599e-05, -4.84743026e-08, 1.66693956e-11, -10246.6476, -4.64130376],
    [0.074851495, 0.0133909467, -5.73285809e-06, 1.22292535e-09, -1.0181523e-13, -9468.34459, 18.437318],
];
