//! Laminar flame speed, and what residual gas does to it.

use crate::solve::EvenCurves;
use crate::units::ATMOSPHERE_PA;
use std::sync::LazyLock;

/// Which published law of the laminar flame speed is used. The rich side is the least
/// certain part of the whole model, so every claim is printed over all three.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlameLaw {
    /// Gasoline: Rhodes & Keck 1985.
    Gasoline,
    /// Iso-octane: Metghalchi & Keck 1982.
    IsoOctane,
    /// Iso-octane that stays fast when rich: our own, after Lawes et al. 2005.
    FlatRich,
    /// Iso-octane: Gulder 1984.
    Gulder,
}

/// All flame laws, in the order of [`FlameLaw`].
pub const FLAME_LAWS: [FlameLaw; 4] =
    [FlameLaw::Gasoline, FlameLaw::IsoOctane, FlameLaw::FlatRich, FlameLaw::Gulder];

/// Logarithm of the speed below which no flame is let fall, 0.01 m/s: keeps burn angles finite.
const LN_SLOWEST: f64 = -4.605_170_185_988_091;

/// Charge at the time of the spark, with what all mixtures share worked out once.
#[derive(Clone, Copy, Debug, Default)]
pub struct Charge {
    ln_temperature: f64,
    ln_pressure: f64,
    ln_dilution: f64,
}

impl Charge {
    /// Charge at a temperature (K), pressure (Pa) and residual mass share.
    ///
    /// Equation of the dilution: `(1 - x_r)^4.4`. Source: our own form; close to the
    /// published `1 - 2.06 x^0.77` (Rhodes & Keck 1985) up to 0.25, which turns negative
    /// above 0.39.
    pub fn new(temperature_k: f64, pressure_pa: f64, residual_fraction: f64) -> Self {
        let ln_temperature = (temperature_k / 298.0).ln();
        Charge { ln_temperature, ..Charge::default() }.at(pressure_pa, residual_fraction)
    }

    /// The same at another pressure (Pa) and residual mass share.
    pub fn at(&self, pressure_pa: f64, residual_fraction: f64) -> Self {
        Charge {
            ln_pressure: (pressure_pa / ATMOSPHERE_PA).ln(),
            ln_dilution: 4.4 * (1.0 - residual_fraction).max(1e-30).ln(),
            ..*self
        }
    }

    /// Laminar flame speed (m/s) in this charge, never below 0.01 m/s.
    ///
    /// Equation: `S = S0 (T/298 K)^a (p/atm)^b (1 - x_r)^4.4`, phi = 1/lambda;
    /// gasoline `S0 = 30.5 - 54.9 (phi - 1.21)^2` cm/s, `a = 2.4 - 0.271 phi^3.51`,
    /// `b = -0.357 + 0.14 phi^2.77` (Rhodes & Keck, SAE 850047);
    /// iso-octane `S0 = 26.3 - 84.7 (phi - 1.13)^2`, `a = 2.18 - 0.8 (phi - 1)`,
    /// `b = -0.16 + 0.22 (phi - 1)` (Metghalchi & Keck, Combust. Flame 48, 191, 1982);
    /// flat-rich: iso-octane to phi 1.1, constant to 1.75, then less by 3 of itself for
    /// each unit of phi, floor 0.2 of itself (our own law, after Lawes et al., Combust.
    /// Flame 141, 2005: turbulent flames stay fast to phi 2);
    /// gulder `S0 = 46.58 phi^-0.326 exp(-4.48 (phi - 1.075)^2)` cm/s, `a = 1.56`,
    /// `b = -0.22`, its temperature over 300 K (Gulder, SAE 841000, 1984; constants as open
    /// engine codes have them).
    /// Valid range: phi 0.6 to 1.6 in the sources, 298 to 700 K, 0.4 to 50 atm.
    /// Source: as named, all constants from memory (Heywood 1988, table 9.3).
    pub fn laminar_speed_m_s(&self, law: FlameLaw, phi: f64) -> f64 {
        self.ln_laminar_speed(law, phi).exp()
    }

    /// Natural logarithm of [`Charge::laminar_speed_m_s`].
    pub fn ln_laminar_speed(&self, law: FlameLaw, phi: f64) -> f64 {
        self.ln_speed(law_at(law, phi))
    }

    /// The same by the law's [`Tabled`] form, for many mixtures.
    pub fn ln_tabled_speed(&self, law: &Tabled, phi: f64) -> f64 {
        self.ln_speed(law.at(phi))
    }

    fn ln_speed(&self, [s0_m_s, a, b]: [f64; 3]) -> f64 {
        if s0_m_s <= 0.0 {
            return LN_SLOWEST;
        }
        let state = a * self.ln_temperature + b * self.ln_pressure + self.ln_dilution;
        (s0_m_s.ln() + state).max(LN_SLOWEST)
    }
}

/// Speed at 298 K and 1 atm (m/s), and the exponents of temperature and pressure.
fn law_at(law: FlameLaw, phi: f64) -> [f64; 3] {
    match law {
        FlameLaw::Gasoline => {
            let ln_phi = phi.ln();
            [
                0.305 - 0.549 * (phi - 1.21) * (phi - 1.21),
                2.4 - 0.271 * (3.51 * ln_phi).exp(),
                -0.357 + 0.14 * (2.77 * ln_phi).exp(),
            ]
        }
        FlameLaw::IsoOctane => iso_octane(phi),
        FlameLaw::FlatRich => {
            let [s0, a, b] = iso_octane(phi.min(1.1));
            [s0 * (1.0 - 3.0 * (phi - 1.75)).clamp(0.2, 1.0), a, b]
        }
        FlameLaw::Gulder => {
            // Its temperature is over 300 K.
            let at_298_k = (298.0_f64 / 300.0).powf(1.56);
            let away = phi - 1.075;
            let s0 = at_298_k * 0.4658 * phi.powf(-0.326) * (-4.48 * away * away).exp();
            [s0, 1.56, -0.22]
        }
    }
}

/// Mixtures of a [`Tabled`] law: least phi, step, count.
const PHI_LEAST: f64 = 0.10;
const PHI_STEP: f64 = 0.02;
const PHI_COUNT: usize = 161;

/// A flame law at steps of 0.02 of phi, with cubics between: within 1e-5 of the law but at its
/// corners.
pub struct Tabled {
    law: FlameLaw,
    curves: EvenCurves<3, PHI_COUNT>,
}

impl Tabled {
    /// The tabled form of a law.
    pub fn of(law: FlameLaw) -> &'static Tabled {
        static TABLES: LazyLock<Box<[Tabled; FLAME_LAWS.len()]>> = LazyLock::new(|| {
            Box::new(FLAME_LAWS.map(|law| {
                let values = std::array::from_fn(|i| law_at(law, PHI_LEAST + PHI_STEP * i as f64));
                Tabled { law, curves: EvenCurves::new(&values) }
            }))
        });
        &TABLES[law as usize]
    }

    fn at(&self, phi: f64) -> [f64; 3] {
        let place = (phi - PHI_LEAST) / PHI_STEP;
        if (0.0..(PHI_COUNT - 1) as f64).contains(&place) {
            self.curves.at(place)
        } else {
            law_at(self.law, phi)
        }
    }
}

fn iso_octane(phi: f64) -> [f64; 3] {
    [
        0.263 - 0.847 * (phi - 1.13) * (phi - 1.13),
        2.18 - 0.8 * (phi - 1.0),
        -0.16 + 0.22 * (phi - 1.0),
    ]
}
