//! How a feed that is shut off loses its pressure: the gap around the plunger, the seats of
//! valves, an opening, and the pressure over time.

use crate::fuel::slit::CYLINDERS;
use std::f64::consts::PI;

/// Leakage through the concentric gap around a plunger (m3/s); `gap_m` is radial gap and
/// length.
///
/// Equation: `Q = pi d c^3 dp / (12 mu L)`. Symbols: `d` diameter (m), `c` radial gap (m),
/// `dp` pressure drop (Pa), `mu` viscosity (Pa s), `L` length (m). Valid range: `c << d`,
/// laminar (Re below about 1000; 0.01 here); a plunger to one side passes up to 2.5 times
/// that. Source: parallel plates, textbook on fluid mechanics (from memory).
///
/// ```
/// use sim_core::fuel::leak::annular_gap_m3_s;
/// let q = annular_gap_m3_s(0.010, (2e-6, 8e-3), 5e5, 0.5e-3);
/// assert!((q - 2.618e-9).abs() < 1e-12); // 0.16 ml/min
/// ```
pub fn annular_gap_m3_s(
    diameter_m: f64,
    gap_m: (f64, f64),
    drop_pa: f64,
    viscosity_pa_s: f64,
) -> f64 {
    let (c, length_m) = gap_m;
    PI * diameter_m * c * c * c * drop_pa / (12.0 * viscosity_pa_s * length_m)
}

/// Leakage of one shut slit (m3/(s Pa)): past the plunger's edge into its line.
///
/// Equation: `G = w c^3 / (12 mu L)`. Symbols: `w` width of the slit (m), `c` radial gap around the
/// plunger, `L` length over which the plunger covers the slit (m), `mu` viscosity (Pa s). Valid
/// range: laminar; `L` not below 0.01 mm, a worn edge. Source: parallel plates, textbook.
pub fn shut_slit_m3_s_pa(width_m: f64, gap_m: f64, overlap_m: f64, viscosity_pa_s: f64) -> f64 {
    width_m * gap_m * gap_m * gap_m / (12.0 * viscosity_pa_s * overlap_m.max(1e-5))
}

/// What seeps past shut slits and makes injectors drip, each from where its injector opens.
///
/// A line that seeps full is shut off by its injector: below the opening nothing seeps for long.
/// Equation: `Q_i = G_i (p - p_opens,i)`, not below 0. Source: balance of a full line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seeps {
    /// Each shut slit (m3/(s Pa)).
    pub slit_m3_s_pa: [f64; CYLINDERS],
    /// Where each injector opens (Pa).
    pub opens_pa: [f64; CYLINDERS],
    /// Whether nothing seeps at all.
    pub none: bool,
}

impl Seeps {
    /// Nothing seeps.
    pub const NONE: Seeps =
        Seeps { slit_m3_s_pa: [0.0; CYLINDERS], opens_pa: [f64::INFINITY; CYLINDERS], none: true };

    /// The injectors that drip all over a range of pressure above `low_pa`: `a` and `b` of their
    /// flow `b p - a` (m3/s, m3/(s Pa)).
    pub fn straight(&self, low_pa: f64) -> (f64, f64) {
        if self.none {
            return (0.0, 0.0);
        }
        let each = self.slit_m3_s_pa.iter().zip(&self.opens_pa);
        let dripping = each.filter(|(_, opens_pa)| **opens_pa <= low_pa);
        dripping.fold((0.0, 0.0), |(a, b), (slit, opens_pa)| (a + slit * opens_pa, b + slit))
    }

    /// Flow at a pressure (m3/s).
    pub fn flow_m3_s(&self, pressure_pa: f64) -> f64 {
        let (a, b) = self.straight(pressure_pa);
        b * pressure_pa - a
    }

    /// Pressure from which the first of them drips (Pa).
    pub fn from_pa(&self) -> f64 {
        self.opens_pa.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// The ways out with the pump off. Seats and gap leak as `G p`, an opening as `K sqrt(p)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leaks {
    /// Seat of the check valve (m3/(s Pa)).
    pub check_m3_s_pa: f64,
    /// Gap around the plunger (m3/(s Pa)).
    pub plunger_m3_s_pa: f64,
    /// Seat of the closed regulator (m3/(s Pa)).
    pub seat_m3_s_pa: f64,
    /// Opening in a faulty check valve (m3/s for each root of a pascal).
    pub opening_m3_s_root: f64,
}

impl Leaks {
    /// The laminar ways together (m3/(s Pa)).
    pub fn laminar_m3_s_pa(&self) -> f64 {
        self.check_m3_s_pa + self.plunger_m3_s_pa + self.seat_m3_s_pa
    }

    /// The same while the pump runs: fuel passes the check valve forwards only.
    pub fn pump_on(&self) -> Leaks {
        Leaks { check_m3_s_pa: 0.0, opening_m3_s_root: 0.0, ..*self }
    }

    /// Leakage (m3/s) at a pressure: `Q = G p + K sqrt(p)`. Source: laminar gap, Torricelli.
    pub fn flow_m3_s(&self, pressure_pa: f64) -> f64 {
        self.laminar_m3_s_pa() * pressure_pa + self.opening_m3_s_root * pressure_pa.sqrt()
    }
}

/// Pressure that leaks away from a constant compliance: the exact solution of
/// `C p' = -(G p + K sqrt(p))`.
///
/// With `s = sqrt(p)` the equation is linear, `2 C s' = -(G s + K)`. Symbols: `C`
/// compliance (m3/Pa), `G` laminar leak (m3/(s Pa)), `K` leak of an opening (m3/(s
/// sqrt(Pa))), `x = G t/(2 C)`. Valid range: as long as `s >= 0`, and `C` and `G` above 0.
/// Source: closed form of the two laws.
///
/// ```
/// use sim_core::fuel::leak::LeakDown;
/// let pure = LeakDown { compliance_m3_pa: 2.0, laminar: 1.0, root: 0.0 };
/// assert!((pure.root_after(3.0, 4.0) - 3.0 * (-1.0_f64).exp()).abs() < 1e-15);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakDown {
    /// Compliance (m3/Pa).
    pub compliance_m3_pa: f64,
    /// Laminar leak (m3/(s Pa)).
    pub laminar: f64,
    /// Leak of an opening (m3/s for each root of a pascal).
    pub root: f64,
}

impl LeakDown {
    fn x(&self, time_s: f64) -> f64 {
        self.laminar * time_s / (2.0 * self.compliance_m3_pa)
    }

    /// Root of the pressure after a time: `s_0 e^-x - K t/(2 C) (1 - e^-x)/x`.
    pub fn root_after(&self, root_0: f64, time_s: f64) -> f64 {
        let x = self.x(time_s);
        let fall = self.root * time_s / (2.0 * self.compliance_m3_pa);
        root_0 * (-x).exp() - fall * decays(x)[0]
    }

    /// Time until the root of the pressure has fallen (s):
    /// `2 C/G ln((G s_0 + K)/(G s + K))`; infinite if it never does.
    pub fn time_to_s(&self, root_0: f64, root: f64) -> f64 {
        let end = self.laminar * root + self.root;
        if end <= 0.0 {
            return f64::INFINITY;
        }
        let share = (self.laminar * (root_0 - root) / end).ln_1p();
        2.0 * self.compliance_m3_pa / self.laminar * share
    }

    /// Integrals over a time of the pressure (Pa s) and of its root (s sqrt(Pa)): what has
    /// leaked, for each `G` and `K`.
    pub fn integrals(&self, root_0: f64, time_s: f64) -> (f64, f64) {
        let x = self.x(time_s);
        let k = self.root / (2.0 * self.compliance_m3_pa);
        let [one, two, three] = decays(x);
        let t = time_s;
        let root = t * (root_0 * one - k * t * two);
        let square = root_0 * root_0 * decays(2.0 * x)[0] - root_0 * k * t * one * one
            + k * k * t * t * three;
        (t * square, root)
    }
}

/// `(1 - e^-x)/x`, `(x - 1 + e^-x)/x^2` and `(x - 2(1 - e^-x) + (1 - e^-2x)/2)/x^3`, by
/// their series where the closed forms lose digits.
fn decays(x: f64) -> [f64; 3] {
    if x > 1.0 {
        let (one, two) = (-(-x).exp_m1(), -(-2.0 * x).exp_m1());
        return [one / x, (x - one) / (x * x), (x - 2.0 * one + 0.5 * two) / (x * x * x)];
    }
    let mut sums = [0.0; 3];
    let (mut power, mut factorial, mut double) = (1.0, 1.0, 1.0);
    for n in 0..28 {
        // x^n with (n+1)!, (n+2)!, (n+3)! below it, signs in turn, 2^(n+2) - 2 for the third.
        let n = f64::from(n);
        factorial *= n + 1.0;
        sums[0] += power / factorial;
        sums[1] += power / (factorial * (n + 2.0));
        sums[2] += power * (4.0 * double - 2.0) / (factorial * (n + 2.0) * (n + 3.0));
        power *= -x;
        double *= 2.0;
    }
    sums
}
