//! How near the idle speed control is to hunting.

use super::Linear;
use nalgebra::Complex;
use std::f64::consts::PI;

/// Frequencies at which margins are read: from and to (rad/s), and how many.
const MARGIN_RAD_S: (f64, f64, usize) = (0.05, 60.0, 500);

/// How near the closed idle speed control is to hunting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// By how much its gain may rise (dB), infinite if by any.
    pub gain_up_db: f64,
    /// By how much it may fall (dB), infinite if to nothing.
    pub gain_down_db: f64,
    /// By how much its phase may lag more (deg), 180 if it never reaches gain 1.
    pub phase_deg: f64,
    /// Largest sensitivity: what the control makes of a disturbance, at the worst frequency.
    pub sensitivity: f64,
}

impl Linear {
    /// Its margins. They are those of a loop that stands; `None` without a loop.
    pub fn margins(&self) -> Option<Margins> {
        let (from, to, count) = MARGIN_RAD_S;
        let mut found = Margins {
            gain_up_db: f64::INFINITY,
            gain_down_db: f64::INFINITY,
            phase_deg: 180.0,
            sensitivity: 1.0,
        };
        let mut before: Option<Complex<f64>> = None;
        for i in 0..count {
            let turn = from * (to / from).powf(i as f64 / (count - 1) as f64);
            let gain = self.loop_gain(turn)?;
            let distance = (gain + 1.0).norm();
            found.sensitivity = found.sensitivity.max(1.0 / distance);
            if let Some(last) = before {
                // Crossing the negative axis: the gain there may change by its inverse.
                if last.im * gain.im < 0.0 && 0.5 * (last.re + gain.re) < 0.0 {
                    let at = last.re - last.im * (gain.re - last.re) / (gain.im - last.im);
                    let db = -20.0 * at.abs().log10();
                    if db >= 0.0 {
                        found.gain_up_db = found.gain_up_db.min(db);
                    } else {
                        found.gain_down_db = found.gain_down_db.min(-db);
                    }
                }
                if (last.norm() - 1.0) * (gain.norm() - 1.0) < 0.0 {
                    let phase = (PI - gain.arg().abs()).to_degrees();
                    found.phase_deg = found.phase_deg.min(phase);
                }
            }
            before = Some(gain);
        }
        Some(found)
    }
}
