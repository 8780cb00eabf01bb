//! What one firing sounds like: the only place of these numbers. A page that plays the beat
//! itself takes them from [`BEAT`].

use crate::run::Firing;
use std::f64::consts::PI;

/// A resonance of the tail pipe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resonance {
    /// Its pitch (Hz).
    pub pitch_hz: f64,
    /// Time in which it falls to 1/e (s).
    pub decay_s: f64,
    /// Its share of the sound.
    pub share: f64,
}

/// The sound of one firing: an impulse through a simple exhaust.
///
/// Equation: `p(t) = g (1 - exp(-t/t_r)) sum_m s_m exp(-t/d_m) sin(2 pi f_m t)`, `t` since the
/// firing, 0 before; `g = least + (1 - least) imep/imep_l`, at most `most`. Symbols: `t_r` rise
/// of the puff as the valve opens, `f_m`, `d_m`, `s_m` pitch, decay and share of a resonance,
/// `imep` indicated pressure of the cycle, `imep_l` the one that sounds at 1. Valid range: idle
/// and a little above. Firings add up. Source: pipe of 1.8 m closed at one end, gas at 300 degC
/// (470 m/s): `f_m = (2 m - 1) c/(4 L)`, 65, 196, 326 and 457 Hz (textbook acoustics, from memory);
/// decays, shares, rise and puff of a lost cycle are our own, so that a beat is over before the
/// next. A synthesis of computed work, compared with no recording. That the puff goes with the
/// work is a convention: in an engine a late burn makes less work and blows down harder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beat {
    /// Rise of the puff (s).
    pub rise_s: f64,
    /// What rings.
    pub resonances: [Resonance; 4],
    /// Loudness of a cycle without work.
    pub least: f64,
    /// Loudness at the most.
    pub most: f64,
    /// Indicated pressure that has the loudness 1 (Pa).
    pub loud_at_pa: f64,
    /// Full scale for each loudness of 1.
    pub level: f64,
}

/// The beat of `listen` and of the page.
pub const BEAT: Beat = Beat {
    rise_s: 0.001,
    resonances: [
        Resonance { pitch_hz: 65.0, decay_s: 0.008, share: 1.0 },
        Resonance { pitch_hz: 196.0, decay_s: 0.006, share: 0.6 },
        Resonance { pitch_hz: 326.0, decay_s: 0.004, share: 0.4 },
        Resonance { pitch_hz: 457.0, decay_s: 0.003, share: 0.3 },
    ],
    least: 0.1,
    most: 2.0,
    loud_at_pa: 2e5,
    level: 0.5,
};

/// What is left of a beat when it is cut off: below the last bit of a file.
const CUT_OFF: f64 = 1e-5;

impl Beat {
    /// Pressure of a firing of loudness 1, so long after it (s).
    ///
    /// ```
    /// use sim_core::sound::BEAT;
    /// assert_eq!(BEAT.pressure(0.0), 0.0);
    /// assert!(BEAT.pressure(0.002) > 0.3 && BEAT.pressure(BEAT.lasts_s()).abs() < 1e-4);
    /// ```
    pub fn pressure(&self, since_s: f64) -> f64 {
        if since_s < 0.0 {
            return 0.0;
        }
        let ring = |r: &Resonance| {
            r.share * (-since_s / r.decay_s).exp() * (2.0 * PI * r.pitch_hz * since_s).sin()
        };
        (1.0 - (-since_s / self.rise_s).exp()) * self.resonances.iter().map(ring).sum::<f64>()
    }

    /// The same from a time on (s), so many a second: `exp((-a + i b) t)` by one product a sample.
    fn pressures(&self, since_s: f64, rate_hz: f64) -> impl Iterator<Item = f64> {
        let waves = self.resonances.into_iter().flat_map(|r| {
            let (slow, fast) = (1.0 / r.decay_s, 1.0 / r.decay_s + 1.0 / self.rise_s);
            [(r.share, slow), (-r.share, fast)].map(|(share, falls)| {
                let wave = |t: f64| {
                    let (sin, cos) = (2.0 * PI * r.pitch_hz * t).sin_cos();
                    ((-falls * t).exp() * cos, (-falls * t).exp() * sin)
                };
                let (re, im) = wave(since_s);
                ((share * re, share * im), wave(1.0 / rate_hz))
            })
        });
        let mut waves: Vec<_> = waves.collect();
        std::iter::repeat_with(move || {
            let mut sum = 0.0;
            for ((re, im), (turns_re, turns_im)) in &mut waves {
                sum += *im;
                (*re, *im) = (*re * *turns_re - *im * *turns_im, *re * *turns_im + *im * *turns_re);
            }
            sum
        })
    }

    /// How loud a firing is.
    pub fn loudness(&self, firing: &Firing) -> f64 {
        let share = (firing.imep_pa / self.loud_at_pa).max(0.0);
        (self.least + (1.0 - self.least) * share).min(self.most)
    }

    /// How long a firing is heard (s).
    pub fn lasts_s(&self) -> f64 {
        let slowest = self.resonances.iter().fold(0.0_f64, |most, r| most.max(r.decay_s));
        -slowest * CUT_OFF.ln()
    }

    /// The samples of firings from time 0 on, of full scale 1, so many a second.
    pub fn samples(&self, firings: &[Firing], lasts_s: f64, rate_hz: f64) -> Vec<f32> {
        let count = (lasts_s * rate_hz).round() as usize;
        let mut sound = vec![0.0_f64; count];
        let rings = (self.lasts_s() * rate_hz) as usize;
        for firing in firings {
            let loud = self.level * self.loudness(firing);
            let first = (firing.time_s * rate_hz).ceil().max(0.0) as usize;
            let since_s = first as f64 / rate_hz - firing.time_s;
            let heard = sound.iter_mut().skip(first).take(rings);
            for (sample, pressure) in heard.zip(self.pressures(since_s, rate_hz)) {
                *sample += loud * pressure;
            }
        }
        sound.into_iter().map(|sample| sample.clamp(-1.0, 1.0) as f32).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_are_the_pressures_of_their_firings_added_up() {
        let firing = |time_s: f64, imep_pa: f64| Firing {
            time_s,
            cylinder: 0,
            work: 1.0,
            imep_pa,
            lost: false,
        };
        let firings = [firing(0.010_003, 1e5), firing(0.038_1, 2e5), firing(0.0661, 0.0)];
        let loud = [0.55, 1.0, 0.1];
        let samples = BEAT.samples(&firings, 0.2, 44_100.0);
        assert_eq!(samples.len(), 8820);
        for (i, sample) in samples.iter().enumerate() {
            let t = i as f64 / 44_100.0;
            let heard = firings.iter().zip(loud).map(|(f, l)| l * BEAT.pressure(t - f.time_s));
            let off = (f64::from(*sample) - BEAT.level * heard.sum::<f64>()).abs();
            assert!(off < 2e-5, "sample {i}: off by {off}");
        }
    }
}
