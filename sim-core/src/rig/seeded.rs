//! Plausible relatives of a rig, drawn by chance, so that no claim rests on one rig.
//!
//! ```
//! use sim_core::{rig::seeded::relative, rig::shipped::shipped};
//! let base = shipped("six").unwrap().rig;
//! let drawn = (0..5).filter_map(|item| relative(&base, 1, item, 5e-4));
//! assert!(drawn.count() > 0);
//! ```

use super::{Parts, Rig};
use crate::conditions::Conditions;
use crate::engine::flame::{FLAME_LAWS, FlameLaw};
use crate::noise::Noise;

/// A rig drawn by chance and how its plate rests.
#[derive(Clone, Copy, Debug)]
pub struct Relative {
    /// The engine.
    pub rig: Rig,
    /// The law of its flame speed.
    pub flame: FlameLaw,
    /// How much higher than its own stop the plate rests (m).
    pub rest_height_m: f64,
}

impl Relative {
    /// Conditions with this relative's flame law and rest height.
    pub fn conditions(&self) -> Conditions {
        Conditions { flame: self.flame, rest_height_m: self.rest_height_m, ..Conditions::default() }
    }
}

/// Draws item `item` of `seed`: every part normal about `base`, one sigma: lengths 2 %,
/// rim clearance 15 %, plate discharge 2 %, slit widths 1 % each, lateness, scatter
/// of burn and charge and burn angle 10 %, scatter of fuel 15 %, gas-fuel limit 3 %, friction
/// 5 %, overlap 20 %, spark 2 deg; rest height uniform within
/// `rest_m` either way; a flame law at random. The spreads are our judgement.
///
/// `None` if that draw does not make a rig that idles: it is counted, not replaced.
pub fn relative(base: &Rig, seed: u64, item: u64, rest_m: f64) -> Option<Relative> {
    let mut noise = Noise::new(seed, item);
    let mut parts = *base.parts();
    for (length, sigma) in lengths(&mut parts) {
        *length *= 1.0 + sigma * noise.normal();
    }
    for row in [&mut *parts.plate.profile_height_m, &mut *parts.plate.profile_gap_m] {
        let scale = 1.0 + 0.02 * noise.normal();
        row.iter_mut().for_each(|value| *value *= scale);
    }
    for width in parts.slits.width_m.iter_mut() {
        *width *= 1.0 + 0.01 * noise.normal();
    }
    parts.burn.spark_deg += 2.0 * noise.normal();
    let flame = FLAME_LAWS[(noise.uniform() * FLAME_LAWS.len() as f64) as usize];
    let rest_height_m = noise.between(-rest_m, rest_m);
    let rig = Rig::new_beyond_ranges(parts).ok()?;
    Some(Relative { rig, flame, rest_height_m })
}

fn lengths(parts: &mut Parts) -> [(&mut f64, f64); 21] {
    [
        (&mut parts.plate.radius_m, 0.02),
        (&mut parts.plate.rim_clearance_m, 0.15),
        (&mut parts.plate.discharge, 0.02),
        (&mut parts.plate.rest_below_throat_m, 0.02),
        (&mut parts.lever.plate_arm_m, 0.02),
        (&mut parts.lever.plunger_arm_m, 0.02),
        (&mut parts.lever.screw_arm_m, 0.02),
        (&mut parts.lever.screw_pitch_m, 0.02),
        (&mut parts.pressures.plunger_m, 0.02),
        (&mut parts.throttle.bore_m, 0.02),
        (&mut parts.idle_valve.gap_m, 0.02),
        (&mut parts.idle_valve.width_m, 0.02),
        (&mut parts.burn.lateness_per_deg2, 0.10),
        (&mut parts.burn.scatter_deg, 0.10),
        (&mut parts.burn.half_burnt_deg, 0.10),
        (&mut parts.burn.fuel_scatter, 0.15),
        (&mut parts.burn.charge_scatter, 0.10),
        (&mut parts.burn.gas_fuel_limit, 0.03),
        (&mut parts.rubbing_scale, 0.05),
        (&mut parts.accessories_pa, 0.05),
        (&mut parts.breathing.overlap_deg_m, 0.20),
    ]
}
