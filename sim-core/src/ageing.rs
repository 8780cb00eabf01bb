//! Many potentiometers over the years: how many have worn their idle bad by when.
//!
//! ```
//! use sim_core::ageing::Fleet;
//! let fleet = Fleet { parts: 1000, hours_a_year: 100.0, median_h: 800.0, spread: 0.5, seed: 1 };
//! let years = fleet.age(8, None);
//! assert!((years[8].share - 0.5).abs() < 0.06); // the median part by its median life
//! ```

use crate::maths::normal_share_below;
use crate::noise::Noise;

/// What a fleet goes through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fleet {
    /// How many cars.
    pub parts: usize,
    /// Idling hours of a car in a year (h).
    pub hours_a_year: f64,
    /// Idling hours after which the median part has a bad idle (h).
    pub median_h: f64,
    /// Deviation of the logarithm of that over parts.
    pub spread: f64,
    /// Seed of the draw.
    pub seed: u64,
}

/// What became of a fleet by a year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Year {
    /// Years since all were new.
    pub years: f64,
    /// Share of cars that have had a bad idle by then.
    pub share: f64,
    /// Share of cars whose part has a bad idle now.
    pub share_now: f64,
    /// Of the cars without one a year before, the share that got it within the year.
    pub risk: f64,
    /// The closed form of `share`.
    pub expected_share: f64,
}

impl Fleet {
    /// Idling hours after which part `nth` of a car has a bad idle (h).
    ///
    /// Equation: `t = t_m exp(s z)`, `z` standard normal. Source: our own: the wear rate of
    /// one part is a product of load, hardness, finish, dirt and lubricant, each with its own
    /// scatter, and the logarithm of such a product tends to the normal curve (central limit
    /// theorem); Archard's law makes the life its inverse, which is lognormal too.
    fn lives_h(&self, car: u64) -> impl FnMut() -> f64 {
        let mut noise = Noise::new(self.seed, car);
        let (median_h, spread) = (self.median_h, self.spread);
        move || median_h * (spread * noise.normal()).exp()
    }

    /// Share of parts with a bad idle after a time without change (years).
    ///
    /// Equation: `F(t) = Phi(ln(t/t_m)/s)`; a step at `t_m` for `s = 0`. Source: distribution
    /// function of the lognormal, any handbook of statistics.
    pub fn share_without_change(&self, years: f64) -> f64 {
        let ratio = years * self.hours_a_year / self.median_h;
        if ratio <= 0.0 {
            return 0.0;
        }
        if self.spread == 0.0 {
            return if ratio >= 1.0 { 1.0 } else { 0.0 };
        }
        normal_share_below(ratio.ln() / self.spread)
    }

    /// Share of cars that have had a bad idle by a time, parts changed every so often (years).
    ///
    /// Equation: `1 - (1 - F(T))^n (1 - F(t - n T))`, `n` the changes before `t`. Source: each
    /// part is drawn by itself, so the chances to be spared multiply.
    pub fn expected_share(&self, years: f64, change_years: Option<f64>) -> f64 {
        let Some(every) = change_years else { return self.share_without_change(years) };
        let changes = changes_before(years, every);
        let spared = (1.0 - self.share_without_change(every)).powi(changes as i32);
        1.0 - spared * (1.0 - self.share_without_change(years - changes as f64 * every))
    }

    /// Ages the fleet year by year, its parts changed every so often (years), or never.
    pub fn age(&self, years: u32, change_years: Option<f64>) -> Vec<Year> {
        let times: Vec<f64> = (0..=years).map(f64::from).collect();
        let mut had = vec![0usize; times.len()];
        let mut now = vec![0usize; times.len()];
        for car in 0..self.parts as u64 {
            let mut life_h = self.lives_h(car);
            let mut left_h = life_h();
            let (mut changed, mut bad_before) = (0, false);
            for (i, &time) in times.iter().enumerate() {
                let changes = change_years.map_or(0, |every| changes_before(time, every));
                while changed < changes {
                    let served_h = change_years.unwrap_or(0.0) * self.hours_a_year;
                    bad_before |= left_h <= served_h;
                    left_h = life_h();
                    changed += 1;
                }
                let fitted = changed as f64 * change_years.unwrap_or(0.0);
                let bad = left_h <= (time - fitted) * self.hours_a_year;
                had[i] += usize::from(bad || bad_before);
                now[i] += usize::from(bad);
            }
        }
        let share = |count: usize| count as f64 / self.parts as f64;
        let risk = |i: usize| match i {
            0 => 0.0,
            _ if had[i - 1] == self.parts => 0.0,
            _ => (had[i] - had[i - 1]) as f64 / (self.parts - had[i - 1]) as f64,
        };
        times
            .iter()
            .enumerate()
            .map(|(i, &years)| Year {
                years,
                share: share(had[i]),
                share_now: share(now[i]),
                risk: risk(i),
                expected_share: self.expected_share(years, change_years),
            })
            .collect()
    }
}

/// How many changes lie before a time (years): one that is due at it is still to come.
fn changes_before(years: f64, every: f64) -> usize {
    ((years / every - 1e-9).ceil() - 1.0).max(0.0) as usize
}
