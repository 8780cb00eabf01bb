//! Petrol and its blends: composition, air demand, heat, density, viscosity.

use crate::units::ZERO_CELSIUS_K;

/// Molar masses (kg/kmol): carbon, hydrogen, oxygen (CIAAW abridged values).
const MOLAR_C: f64 = 12.011;
/// See `MOLAR_C`.
const MOLAR_H: f64 = 1.008;
/// See `MOLAR_C`.
const MOLAR_O: f64 = 15.999;
/// Molar mass of dry air (kg/kmol), ISO 2533:1975.
const MOLAR_AIR: f64 = 28.9647;
/// Oxygen in dry air by volume.
pub const OXYGEN_IN_AIR: f64 = 0.20946;

/// What the fuel is made of and carries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fuel {
    /// Hydrogen atoms for each carbon atom.
    pub h_per_c: f64,
    /// Oxygen atoms for each carbon atom.
    pub o_per_c: f64,
    /// Density at 15 degC (kg/m3).
    pub density_15c_kg_m3: f64,
    /// Lower heating value (J/kg).
    pub heating_j_kg: f64,
}

/// Petrol without alcohol: CH1.85.
const PETROL: Fuel =
    Fuel { h_per_c: 1.85, o_per_c: 0.0, density_15c_kg_m3: 745.0, heating_j_kg: 43.0e6 };
/// Ethanol: CH3O0.5.
const ETHANOL: Fuel =
    Fuel { h_per_c: 3.0, o_per_c: 0.5, density_15c_kg_m3: 794.0, heating_j_kg: 26.8e6 };

/// Pure fuels and blends by name: formula from chemistry, density at 15 degC and heating
/// value rounded from handbooks (from memory); only the formula enters the gas.
pub const NAMED: &[(&str, Fuel)] = &[
    (
        "iso-octane",
        Fuel { h_per_c: 2.25, o_per_c: 0.0, density_15c_kg_m3: 696.0, heating_j_kg: 44.3e6 },
    ),
    (
        "n-heptane",
        Fuel { h_per_c: 16.0 / 7.0, o_per_c: 0.0, density_15c_kg_m3: 688.0, heating_j_kg: 44.6e6 },
    ),
    (
        "toluene",
        Fuel { h_per_c: 8.0 / 7.0, o_per_c: 0.0, density_15c_kg_m3: 872.0, heating_j_kg: 40.6e6 },
    ),
    ("ethanol", ETHANOL),
    (
        "methanol",
        Fuel { h_per_c: 4.0, o_per_c: 1.0, density_15c_kg_m3: 796.0, heating_j_kg: 19.9e6 },
    ),
];

impl Fuel {
    /// A fuel of its composition alone, with petrol's density and heating value.
    pub fn of_formula(h_per_c: f64, o_per_c: f64) -> Fuel {
        Fuel { h_per_c, o_per_c, ..PETROL }
    }

    /// Petrol with a share of ethanol by volume at 15 degC, mixed without change of volume.
    ///
    /// ```
    /// let e10 = sim_core::fuel::kind::Fuel::petrol_with_ethanol(0.10);
    /// assert!((e10.air_fuel_ratio() - 13.98).abs() < 0.02); // 4 % less air than e0
    /// ```
    pub fn petrol_with_ethanol(share: f64) -> Fuel {
        let (p, e) = (PETROL, ETHANOL);
        let (mass_p, mass_e) = ((1.0 - share) * p.density_15c_kg_m3, share * e.density_15c_kg_m3);
        let density = mass_p + mass_e;
        let (carbon_p, carbon_e) = (mass_p / p.molar_mass(), mass_e / e.molar_mass());
        let carbon = carbon_p + carbon_e;
        Fuel {
            h_per_c: (carbon_p * p.h_per_c + carbon_e * e.h_per_c) / carbon,
            o_per_c: (carbon_p * p.o_per_c + carbon_e * e.o_per_c) / carbon,
            density_15c_kg_m3: density,
            heating_j_kg: (mass_p * p.heating_j_kg + mass_e * e.heating_j_kg) / density,
        }
    }

    /// Mass for each kmol of carbon (kg/kmol).
    pub fn molar_mass(&self) -> f64 {
        MOLAR_C + self.h_per_c * MOLAR_H + self.o_per_c * MOLAR_O
    }

    /// Oxygen molecules for each carbon atom in complete combustion.
    pub fn oxygen_demand(&self) -> f64 {
        1.0 + self.h_per_c / 4.0 - self.o_per_c / 2.0
    }

    /// Stoichiometric air-fuel ratio by mass.
    ///
    /// Equation: `(1 + h/4 - o/2) M_air / (x_O2 M_fuel)`, `h`, `o` atoms for each carbon.
    /// Valid range: any CHO fuel. Source: element balance; Heywood 1988 eq. 3.6.
    ///
    /// ```
    /// let e0 = sim_core::fuel::kind::Fuel::petrol_with_ethanol(0.0);
    /// assert!((e0.air_fuel_ratio() - 14.575).abs() < 0.003);
    /// ```
    pub fn air_fuel_ratio(&self) -> f64 {
        self.oxygen_demand() * MOLAR_AIR / (OXYGEN_IN_AIR * self.molar_mass())
    }

    /// Density at a temperature (kg/m3).
    ///
    /// Equation: `rho = rho15 exp(-a dT (1 + 0.8 a dT))`, `a = (K0 + K1 rho15) / rho15^2`,
    /// `dT = T - 15 degC`, `K0 = 346.4228`, `K1 = 0.4388` (gasolines).
    /// Valid range: 653 to 770 kg/m3 and -18 to 95 degC; used slightly outside for blends.
    /// Source: ASTM D1250-80 (constants from memory).
    pub fn density_kg_m3(&self, temperature_k: f64) -> f64 {
        let rho = self.density_15c_kg_m3;
        let a = (346.4228 + 0.4388 * rho) / (rho * rho);
        let warmer = a * (temperature_k - ZERO_CELSIUS_K - 15.0);
        rho * (-warmer * (1.0 + 0.8 * warmer)).exp()
    }
}

/// Dynamic viscosity of petrol (Pa s).
///
/// Equation: `mu = 0.55e-3 exp(1000 K (1/T - 1/293.15 K))`. Valid range: -40 to 80 degC.
/// Source: Andrade's law (Guzman 1913), with the slope of iso-octane between 20 and 50 degC
/// (0.504 and 0.367 mPa s, NIST, from memory) through a handbook's 0.55 mPa s at 20 degC; the
/// blend's alcohol is left out.
pub fn viscosity_pa_s(temperature_k: f64) -> f64 {
    0.55e-3 * (1000.0 * (1.0 / temperature_k - 1.0 / 293.15)).exp()
}
