//! Roots and curves: a bracketed root, the first root along a line, the least value on
//! an interval, and a monotone curve through given points.

/// A root between `a` and `b`, whose values `fa`, `fb` must differ in sign.
///
/// Chandrupatla's method (Adv. Eng. Software 28, 145, 1997) with a linear first step:
/// inverse quadratic steps where they are safe, bisection elsewhere, so that it always
/// ends. Ends when the bracket is `4e-16` of its own size wide, or at an exact zero.
///
/// ```
/// let root = sim_core::solve::root_between(|x| x * x - 2.0, 1.0, -1.0, 2.0, 2.0);
/// assert!((root - 2.0_f64.sqrt()).abs() < 1e-15);
/// ```
pub fn root_between(f: impl FnMut(f64) -> f64, a: f64, fa: f64, b: f64, fb: f64) -> f64 {
    root_to(f, a, fa, b, fb, 0.0)
}

/// Where `f` rises through zero between `low` and `high`; an end if it does so beyond it.
///
/// ```
/// let at = |low: f64| sim_core::solve::rising_root(|x| x - 1.0, low, 4.0);
/// assert_eq!((at(0.0), at(2.0)), (1.0, 2.0));
/// ```
pub fn rising_root(mut f: impl FnMut(f64) -> f64, low: f64, high: f64) -> f64 {
    let (at_low, at_high) = (f(low), f(high));
    match (at_low >= 0.0, at_high <= 0.0) {
        (true, _) => low,
        (_, true) => high,
        _ => root_between(f, low, at_low, high, at_high),
    }
}

/// As [`root_between`], but a value is enough that is no larger than `enough` either way.
pub(crate) fn root_to(
    mut f: impl FnMut(f64) -> f64,
    a: f64,
    fa: f64,
    b: f64,
    fb: f64,
    enough: f64,
) -> f64 {
    debug_assert!(fa * fb <= 0.0, "no change of sign between {a} and {b}");
    // (a, fa): newest point; (b, fb): other side of the root; (c, fc): the point before.
    let (mut a, mut fa, mut b, mut fb) = (a, fa, b, fb);
    let mut share: f64 = if fa == fb { 0.5 } else { fa / (fa - fb) };
    for _ in 0..200 {
        let (best, f_best) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
        let limit = 2.0 * f64::EPSILON * best.abs() / (b - a).abs();
        if f_best.abs() <= enough || limit > 0.5 || !limit.is_finite() {
            return best;
        }
        let x = a + share.clamp(limit, 1.0 - limit) * (b - a);
        let fx = f(x);
        let (c, fc);
        if (fx < 0.0) == (fa < 0.0) {
            (c, fc) = (a, fa);
        } else {
            (c, fc, b, fb) = (b, fb, a, fa);
        }
        (a, fa) = (x, fx);
        let xi = (a - b) / (c - b);
        let phi = (fa - fb) / (fc - fb);
        let safe = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        share = if safe {
            fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        } else {
            0.5
        };
    }
    if fa.abs() < fb.abs() { a } else { b }
}

/// What a walk along a line met first.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub enum Crossing {
    /// The function rises through zero here.
    Root(f64),
    /// It stays below zero: the largest value met, and where.
    Below {
        /// Where the function is largest.
        at: f64,
        /// How large it is there: how far short of a root the line falls.
        value: f64,
    },
    /// It is above zero already at the start.
    AboveAtStart,
}

/// A line to walk along.
#[derive(Clone, Copy, Debug)]
pub struct Walk {
    /// Where it starts.
    pub start: f64,
    /// Where it ends.
    pub stop: f64,
    /// Factor of the first step, below 1 to walk down.
    pub ratio: f64,
    /// Factor that no step passes: each is the square of the one before up to here.
    pub widest: f64,
    /// A value this near to zero is a root.
    pub enough: f64,
}

impl Walk {
    /// The first place on the line where `f` rises through zero.
    ///
    /// A hump between two steps is not overlooked: where three neighbours show a largest
    /// value below zero, it is refined, and its near flank searched if it reaches zero.
    pub fn first_crossing(&self, mut f: impl FnMut(f64) -> f64) -> Crossing {
        let &Walk { start, stop, mut ratio, widest, enough } = self;
        let up = ratio > 1.0;
        let beyond = |x: f64| if up { x >= stop } else { x <= stop };
        let (mut x, mut fx) = (start, f(start));
        if fx >= 0.0 {
            return Crossing::AboveAtStart;
        }
        let mut before: Option<(f64, f64)> = None;
        let mut largest = (x, fx);
        while !beyond(x) {
            let next = if beyond(x * ratio) { stop } else { x * ratio };
            let f_next = f(next);
            if f_next >= 0.0 {
                return Crossing::Root(root_to(f, x, fx, next, f_next, enough));
            }
            if let Some((x_before, f_before)) = before
                && fx >= f_before
                && fx >= f_next
            {
                let (top, f_top) = largest_between(&mut f, x_before, next, 0.0);
                if f_top >= 0.0 {
                    return Crossing::Root(root_to(f, x_before, f_before, top, f_top, enough));
                }
                if f_top > largest.1 {
                    largest = (top, f_top);
                }
            }
            if f_next > largest.1 {
                largest = (next, f_next);
            }
            before = Some((x, fx));
            (x, fx) = (next, f_next);
            ratio = if up { (ratio * ratio).min(widest) } else { (ratio * ratio).max(widest) };
        }
        Crossing::Below { at: largest.0, value: largest.1 }
    }
}

/// Where `f` is largest between `a` and `b`, and its value there: golden-section search,
/// stopping early at a value that is `enough`, else to about 1e-8 of the interval.
fn largest_between(f: impl FnMut(f64) -> f64, a: f64, b: f64, enough: f64) -> (f64, f64) {
    let mut left = 40;
    let (at, value, _) = golden_section(f, a, b, |_, best| {
        left -= 1;
        left >= 0 && best < enough
    });
    (at, value)
}

/// Golden section for a function with one hill between `a` and `b`: narrows the interval
/// while `goes_on`, which is given its width and the largest value found. The best place of
/// the last two, its value, and the middle of the interval.
fn golden_section(
    mut f: impl FnMut(f64) -> f64,
    mut a: f64,
    mut b: f64,
    mut goes_on: impl FnMut(f64, f64) -> bool,
) -> (f64, f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fc, mut fd) = (f(c), f(d));
    while goes_on(b - a, fc.max(fd)) {
        if fc > fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = f(d);
        }
    }
    let (at, value) = if fc > fd { (c, fc) } else { (d, fd) };
    (at, value, 0.5 * (a + b))
}

/// Where `f` is least between `a` and `b`, to about 1e-8 of the interval, for a function
/// with one valley.
pub fn least_between(mut f: impl FnMut(f64) -> f64, a: f64, b: f64) -> f64 {
    largest_between(|x| -f(x), a, b, f64::INFINITY).0
}

/// As [`least_between`], to about `within` of the place.
pub fn least_to(mut f: impl FnMut(f64) -> f64, a: f64, b: f64, within: f64) -> f64 {
    golden_section(|x| -f(x), a, b, |width, _| width > within).2
}

/// A smooth curve through points that rises and falls only where they do.
///
/// Piecewise cubic with the slopes of Fritsch & Butland (SIAM J. Sci. Stat. Comput. 5,
/// 300, 1984): weighted harmonic means, zero at a turning point. Outside its ends it
/// keeps the end value.
#[derive(Clone, Copy, Debug)]
pub struct MonotoneCurve<const N: usize> {
    x: [f64; N],
    /// Value, slope and further coefficients of each piece, by the distance from its start.
    pieces: [[f64; 4]; N],
}

impl<const N: usize> MonotoneCurve<N> {
    /// Through `(x, y)`, with `x` strictly rising.
    pub const fn new(x: [f64; N], y: [f64; N]) -> Self {
        let mut slope = [0.0; N];
        let mut i = 1;
        while i + 1 < N {
            let (h0, h1) = (x[i] - x[i - 1], x[i + 1] - x[i]);
            let (s0, s1) = ((y[i] - y[i - 1]) / h0, (y[i + 1] - y[i]) / h1);
            if s0 * s1 > 0.0 {
                let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
                slope[i] = (w0 + w1) / (w0 / s0 + w1 / s1);
            }
            i += 1;
        }
        slope[0] = (y[1] - y[0]) / (x[1] - x[0]);
        slope[N - 1] = (y[N - 1] - y[N - 2]) / (x[N - 1] - x[N - 2]);
        let mut pieces = [[0.0; 4]; N];
        let mut i = 0;
        while i + 1 < N {
            let h = x[i + 1] - x[i];
            let mean = (y[i + 1] - y[i]) / h;
            let bends = (3.0 * mean - 2.0 * slope[i] - slope[i + 1]) / h;
            let turns = (slope[i] + slope[i + 1] - 2.0 * mean) / (h * h);
            pieces[i] = [y[i], slope[i], bends, turns];
            i += 1;
        }
        pieces[N - 1] = [y[N - 1], 0.0, 0.0, 0.0];
        MonotoneCurve { x, pieces }
    }

    /// The curve's value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        if x <= self.x[0] {
            return self.pieces[0][0];
        }
        if x >= self.x[N - 1] {
            return self.pieces[N - 1][0];
        }
        let mut i = match x {
            x if x >= self.x[N / 2] => N / 2,
            x if x >= self.x[N / 4] => N / 4,
            _ => 0,
        };
        while self.x[i + 1] <= x {
            i += 1;
        }
        horner(&self.pieces[i], x - self.x[i])
    }
}

/// Rows of `M` values at even places, with cubics between them.
///
/// Each piece goes through its ends with the slopes of central differences (Catmull & Rom
/// 1974); beyond an end the straight line through the last two takes the place of the missing
/// one.
///
/// ```
/// use sim_core::solve::EvenCurves;
/// let squares = EvenCurves::new(&[[0.0], [1.0], [4.0], [9.0], [16.0]]);
/// assert_eq!(squares.at(2.5), [6.25]); // between the inner ones a parabola is itself
/// ```
#[derive(Clone, Debug)]
pub struct EvenCurves<const M: usize, const N: usize> {
    pieces: [[[f64; M]; 4]; N],
}

impl<const M: usize, const N: usize> EvenCurves<M, N> {
    /// Through the rows at 0, 1, 2 and so on.
    pub fn new(rows: &[[f64; M]; N]) -> Self {
        let mut pieces = [[[0.0; M]; 4]; N];
        for j in 0..M {
            for (i, piece) in pieces.iter_mut().enumerate() {
                let coefficients = piece_of(|i| rows[i][j], i.min(N - 2), N);
                for (to, from) in piece.iter_mut().zip(coefficients) {
                    to[j] = from;
                }
            }
        }
        EvenCurves { pieces }
    }

    /// The values at a place from 0 to `N - 1`.
    pub fn at(&self, place: f64) -> [f64; M] {
        let i = (place as u32 as usize).min(N - 2);
        let t = place - i as f64;
        let [a, b, c, d] = &self.pieces[i];
        std::array::from_fn(|j| a[j] + t * (b[j] + t * (c[j] + t * d[j])))
    }
}

/// As [`EvenCurves`] of one value, for a row that is looked at a few times only.
pub fn even_curve_at<const N: usize>(row: &[f64; N], place: f64) -> f64 {
    let i = (place as u32 as usize).min(N - 2);
    horner(&piece_of(|i| row[i], i, N), place - i as f64)
}

/// Coefficients of the piece from one of `count` values to the next.
fn piece_of(value: impl Fn(usize) -> f64, i: usize, count: usize) -> [f64; 4] {
    let (b, c) = (value(i), value(i + 1));
    let a = if i == 0 { 2.0 * b - c } else { value(i - 1) };
    let d = if i + 2 == count { 2.0 * c - b } else { value(i + 2) };
    [b, 0.5 * (c - a), a - 2.5 * b + 2.0 * c - 0.5 * d, 0.5 * (d - a) + 1.5 * (b - c)]
}

/// A polynomial by its coefficients (Horner's scheme).
fn horner(&[a, b, c, d]: &[f64; 4], t: f64) -> f64 {
    a + t * (b + t * (c + t * d))
}
