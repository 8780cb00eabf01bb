//! Competing explanations of the same anchors: what makes an idle rough.

use crate::assembly::Parts;
use crate::engine::flame::FlameLaw;
use crate::rig::Rig;
use crate::steady::with_cov_at_lambda_one;

/// A set of mechanisms that meets the anchors of roughness about as well as the shipped one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mechanisms {
    /// Those of the rig file.
    Own,
    /// Fuel that differs from cycle to cycle, work by volume; ignition by a fixed lambda.
    Scatter,
    /// A dilution limit; the fuel is the same in every cycle, a late burn loses by a parabola.
    Dilution,
    /// A scatter that grows steeply with the burn, alone.
    Growth,
}

/// All of them.
pub const MECHANISMS: [Mechanisms; 4] =
    [Mechanisms::Own, Mechanisms::Scatter, Mechanisms::Dilution, Mechanisms::Growth];

/// A value that switches a limit of lambda off, and one of gas-fuel ratio.
const NO_LIMIT: (f64, f64) = (2.5, 100.0);

impl Mechanisms {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Mechanisms::Own => "own",
            Mechanisms::Scatter => "scatter",
            Mechanisms::Dilution => "dilution",
            Mechanisms::Growth => "growth",
        }
    }

    /// Parts whose roughness comes from these mechanisms. Their scatter of the burn has still to
    /// be set, so that lambda 1 is as rough as before.
    pub fn of(self, parts: &Parts) -> Parts {
        let mut changed = *parts;
        let burn = &mut changed.burn;
        match self {
            Mechanisms::Own => {}
            Mechanisms::Scatter => {
                burn.fuel_scatter = 0.05;
                (burn.ignition_limit, burn.gas_fuel_limit) = (1.55, NO_LIMIT.1);
            }
            Mechanisms::Dilution => {
                (burn.fuel_scatter, burn.charge_scatter) = (0.0, 0.016);
                (burn.volume_work, burn.lateness_per_deg2) = (0.0, 3.2e-4);
                (burn.ignition_limit, burn.gas_fuel_limit) = (NO_LIMIT.0, 26.0);
            }
            Mechanisms::Growth => {
                (burn.fuel_scatter, burn.charge_scatter) = (0.0, 0.016);
                (burn.volume_work, burn.lateness_per_deg2) = (0.0, 2.33e-4);
                burn.scatter_exponent = 4.5;
                (burn.ignition_limit, burn.gas_fuel_limit) = (1.55, NO_LIMIT.1);
            }
        }
        changed
    }
}

/// A rig with its roughness from a set of mechanisms, the scatter of its burn set so that it
/// idles at lambda 1 with a COV of imep under a flame law. `None` if no scatter does.
pub fn with_mechanisms(
    rig: &Rig,
    mechanisms: Mechanisms,
    flame: FlameLaw,
    cov: f64,
) -> Option<Rig> {
    if mechanisms == Mechanisms::Own {
        return Some(*rig);
    }
    Rig::new(with_cov_at_lambda_one(&mechanisms.of(rig.parts()), flame, cov)?).ok()
}
