//! The feed in time: pressure and what has gone where, piece by piece between the pressures
//! at which a law changes. Where the laws are straight the piece is solved in closed form;
//! where they are not, by `ode::advance` up to the piece's end.

use super::volume_balance::VolumeBalance;
use crate::fuel::leak::{LeakDown, Leaks, Seeps};
use crate::fuel::slit::{CYLINDERS, Liquid, Slits, jet_speed_m_s};
use crate::fuel::supply::Supply;
use crate::ode::{Method, OdeSystem, advance};
use std::array;

/// Fixed steps for each local time constant of a piece whose laws are not straight.
pub const STEPS: u32 = 16;
/// A net flow this small against what flows through is none.
const BALANCED: f64 = 1e-12;
/// A pressure that moves by no more than this share of it in a time constant stands.
const STANDS: f64 = 16.0 * f64::EPSILON;
/// Time constants after which it stands in any case: forty each would do.
const PIECES_MOST: u32 = 4000;
/// Bar and millilitres, in which the integrated states are of order 1.
const BAR: f64 = 1e5;
/// See [`BAR`].
const ML: f64 = 1e-6;
/// Pressure, its integral, its root's, the lines.
const STATES: usize = 3 + CYLINDERS;

/// The feed under one set of circumstances.
#[derive(Clone, Copy, Debug)]
pub struct Feed<'a> {
    /// Pump to lines, the accumulator as it is now.
    pub supply: &'a Supply,
    /// Slits.
    pub slits: &'a Slits,
    /// Fuel at the slits.
    pub liquid: Liquid,
    /// Ways out.
    pub leaks: Leaks,
    /// Opening pressure of the regulator (Pa).
    pub set_pa: f64,
    /// Share of the pump's delivery; 0 with the pump off.
    pub pump_share: f64,
    /// Lift of the plunger over the slits' opening (m); 0 or less with the slits shut.
    pub lift_m: f64,
    /// Drop over the slits that the differential-pressure valves keep (Pa).
    pub drop_pa: f64,
    /// Pressure at the other end of the slits (Pa).
    pub back_pa: f64,
    /// What an engine draws besides (m3/s).
    pub drawn_m3_s: f64,
    /// Volume of each line that fuel has to fill (m3).
    pub to_fill_m3: [f64; CYLINDERS],
    /// What seeps past slits that are shut.
    pub seeps: Seeps,
    /// Steps for each local time constant.
    pub steps: u32,
}

/// A range of pressure in which every law keeps its form.
struct PressureRange {
    low_pa: f64,
    high_pa: f64,
    compliance_m3_pa: f64,
}

impl Feed<'_> {
    fn count(&self) -> usize {
        self.slits.width_m.len()
    }

    /// Flow of a slit by volume (m3/s) at a pressure of the feed.
    ///
    /// The valves keep the drop once the feed stands that far above the other end; below
    /// that the whole difference is the drop.
    pub fn line_m3_s(&self, line: usize, pressure_pa: f64) -> f64 {
        let drop_pa = (pressure_pa - self.back_pa).clamp(0.0, self.drop_pa);
        let jet = jet_speed_m_s(drop_pa, self.liquid.density_kg_m3);
        self.slits.flow_kg_s(line, self.lift_m, jet, &self.liquid) / self.liquid.density_kg_m3
    }

    fn lines_m3_s(&self, pressure_pa: f64) -> f64 {
        if self.lift_m <= 0.0 {
            return 0.0;
        }
        (0..self.count()).map(|line| self.line_m3_s(line, pressure_pa)).sum()
    }

    fn regulator_m3_s(&self, pressure_pa: f64) -> f64 {
        self.supply.regulator_slope_m3_s_pa() * (pressure_pa - self.set_pa).max(0.0)
    }

    fn pump_m3_s(&self, pressure_pa: f64) -> f64 {
        self.supply.pump.delivery_m3_s(pressure_pa, self.pump_share)
    }

    /// What fills the feed (m3/s) at a pressure, and what flows through it.
    pub(super) fn net_m3_s(&self, pressure_pa: f64) -> (f64, f64) {
        let inward = self.pump_m3_s(pressure_pa);
        let outward = self.regulator_m3_s(pressure_pa)
            + self.leaks.flow_m3_s(pressure_pa)
            + self.seeps.flow_m3_s(pressure_pa)
            + self.lines_m3_s(pressure_pa)
            + self.drawn_m3_s;
        (inward - outward, inward + outward)
    }

    /// Pressures at which a law changes its form (Pa).
    fn kinks(&self) -> [f64; 7] {
        let spring = &self.supply.accumulator;
        [
            0.0,
            spring.preload_pa,
            spring.full_pa(),
            self.set_pa,
            self.back_pa,
            self.back_pa + self.drop_pa,
            self.supply.pump.stall_pa,
        ]
    }

    /// The piece that a pressure moves into, rising or falling.
    fn piece(&self, pressure_pa: f64, rising: bool) -> PressureRange {
        let (mut low_pa, mut high_pa) = (f64::NEG_INFINITY, f64::INFINITY);
        for kink in self.kinks().into_iter().chain(self.seeps.opens_pa) {
            if kink < pressure_pa || (rising && kink == pressure_pa) {
                low_pa = low_pa.max(kink);
            } else {
                high_pa = high_pa.min(kink);
            }
        }
        let spring = &self.supply.accumulator;
        let gives =
            spring.volume_m3 > 0.0 && low_pa >= spring.preload_pa && high_pa <= spring.full_pa();
        let compliance_m3_pa =
            self.supply.compliance_m3_pa + if gives { 1.0 / spring.stiffness_pa_m3 } else { 0.0 };
        PressureRange { low_pa, high_pa, compliance_m3_pa }
    }

    /// Advances to a time.
    pub fn advance(&self, balance: &mut VolumeBalance, until_s: f64) {
        self.advance_or_stop(balance, until_s, f64::NAN);
    }

    /// With the pump off and the regulator still open: to where it closes, or to a time.
    pub fn close(&self, balance: &mut VolumeBalance, until_s: f64) {
        if balance.pressure_pa > self.set_pa {
            self.advance_or_stop(balance, until_s, self.set_pa);
        }
    }

    /// Advances to a time, or to a pressure that is one of the kinks.
    pub(super) fn advance_or_stop(&self, balance: &mut VolumeBalance, until_s: f64, stop_pa: f64) {
        self.mark(balance, balance.time_s, &[0.0; CYLINDERS]);
        let (mut stands, mut pieces) = (false, 0);
        while balance.time_s < until_s {
            if balance.pressure_pa == stop_pa {
                return;
            }
            let left_s = until_s - balance.time_s;
            let (net, through) = self.net_m3_s(balance.pressure_pa);
            if stands || net.abs() <= BALANCED * through || through == 0.0 {
                let p = balance.pressure_pa;
                let passed = self.passed_m3(p, left_s);
                self.add(balance, left_s, p, p * left_s, p.sqrt() * left_s, &passed);
                return;
            }
            let piece = self.piece(balance.pressure_pa, net > 0.0);
            let to_pa = if net > 0.0 { piece.high_pa } else { piece.low_pa };
            let shut = self.lift_m <= 0.0 || piece.high_pa <= self.back_pa;
            let kept = piece.low_pa >= self.back_pa + self.drop_pa;
            if (shut || kept) && self.leaks.opening_m3_s_root == 0.0 {
                self.straight(balance, &piece, to_pa, left_s);
            } else {
                let before_pa = balance.pressure_pa;
                self.bent(balance, &piece, to_pa, left_s);
                pieces += 1;
                let moved_pa = (balance.pressure_pa - before_pa).abs();
                stands = moved_pa <= STANDS * before_pa || pieces >= PIECES_MOST;
            }
        }
        balance.time_s = until_s;
    }

    /// A piece whose laws are all straight, `C p' = a - b p`: an exponential.
    fn straight(
        &self,
        balance: &mut VolumeBalance,
        piece: &PressureRange,
        to_pa: f64,
        left_s: f64,
    ) {
        let p = balance.pressure_pa;
        // The lines' flow is the same all over the piece.
        let within_pa = piece.low_pa;
        let (mut a, mut b) =
            (-self.lines_m3_s(within_pa) - self.drawn_m3_s, self.leaks.laminar_m3_s_pa());
        let (seeps_a, seeps_b) = self.seeps.straight(within_pa);
        a += seeps_a;
        b += seeps_b;
        let pump = &self.supply.pump;
        if piece.high_pa <= pump.stall_pa {
            a += self.pump_share * pump.free_m3_s;
            b += self.pump_share * pump.free_m3_s / pump.stall_pa;
        }
        if piece.low_pa >= self.set_pa {
            let slope = self.supply.regulator_slope_m3_s_pa();
            a += slope * self.set_pa;
            b += slope;
        }
        let (end_pa, tau_s) = (a / b, piece.compliance_m3_pa / b);
        let beyond = (end_pa - to_pa) * (to_pa - p) > 0.0;
        let share = (p - to_pa) / (to_pa - end_pa);
        let to_s = if beyond { tau_s * share.ln_1p() } else { f64::INFINITY };
        let (time_s, to) = if to_s <= left_s { (to_s, Some(to_pa)) } else { (left_s, None) };
        let decay = -(-time_s / tau_s).exp_m1();
        let integral = end_pa * time_s + (p - end_pa) * tau_s * decay;
        let after_pa = to.unwrap_or(p + (end_pa - p) * decay);
        self.add(balance, time_s, after_pa, integral, 0.0, &self.passed_m3(within_pa, time_s));
    }

    /// One local time constant of a piece whose laws are not straight, or to a little beyond
    /// its end, by fixed steps.
    fn bent(&self, balance: &mut VolumeBalance, piece: &PressureRange, to_pa: f64, left_s: f64) {
        let p = balance.pressure_pa;
        let slope = self.supply.pump.free_m3_s * self.pump_share / self.supply.pump.stall_pa
            + self.leaks.laminar_m3_s_pa()
            + 0.5 * self.leaks.opening_m3_s_root / p.max(1.0).sqrt()
            + self.seeps.straight(piece.low_pa).1
            + 2.0 * self.lines_m3_s(self.back_pa + self.drop_pa) / self.drop_pa.max(1.0)
            + if piece.low_pa >= self.set_pa { self.supply.regulator_slope_m3_s_pa() } else { 0.0 };
        let (net, _) = self.net_m3_s(p);
        let crossing = 1.25 * ((to_pa - p) / net).abs();
        let time_s = left_s.min(piece.compliance_m3_pa * crossing.min(1.0 / slope));
        let mut x = [0.0; STATES];
        x[0] = p / BAR;
        let rising = to_pa > p;
        let guard = |_: f64, x: &[f64; STATES]| {
            let ahead = to_pa / BAR - x[0];
            if rising { ahead } else { -ahead }
        };
        let open = piece.low_pa >= self.set_pa;
        let seeps = self.seeps.straight(piece.low_pa);
        let motion = Bent { feed: self, compliance_m3_pa: piece.compliance_m3_pa, open, seeps };
        let steps = Method::Steps(self.steps);
        // Fixed steps cannot give up.
        let Ok(reached) = advance(&motion, (0.0, &x), time_s, steps, guard) else { return };
        let after_pa = if reached.by_guard { to_pa } else { BAR * reached.x[0] };
        let passed = array::from_fn(|line| ML * reached.x[3 + line]);
        let (integral, root) = (BAR * reached.x[1], BAR.sqrt() * reached.x[2]);
        self.add(balance, reached.t, after_pa, integral, root, &passed);
    }

    /// What the lines pass in a time (s) at a pressure (m3).
    pub(super) fn passed_m3(&self, pressure_pa: f64, time_s: f64) -> [f64; CYLINDERS] {
        if self.lift_m <= 0.0 {
            return [0.0; CYLINDERS];
        }
        let flow = |i| if i < self.count() { self.line_m3_s(i, pressure_pa) } else { 0.0 };
        array::from_fn(|line| flow(line) * time_s)
    }

    /// Adds a piece to the balance: pressure at its end, the integrals of the pressure and its
    /// root, and what each line has passed.
    pub(super) fn add(
        &self,
        balance: &mut VolumeBalance,
        time_s: f64,
        after_pa: f64,
        integral: f64,
        root: f64,
        passed_m3: &[f64; CYLINDERS],
    ) {
        let started_s = balance.time_s;
        let share = self.pump_share * self.supply.pump.free_m3_s;
        // Above its stall the pump gives nothing; the piece lies on one side of it.
        if balance.pressure_pa.min(after_pa) < self.supply.pump.stall_pa {
            balance.pumped_m3 += share * (time_s - integral / self.supply.pump.stall_pa);
        }
        if balance.pressure_pa.max(after_pa) > self.set_pa {
            balance.returned_m3 +=
                self.supply.regulator_slope_m3_s_pa() * (integral - self.set_pa * time_s);
        }
        balance.check_m3 +=
            self.leaks.check_m3_s_pa * integral + self.leaks.opening_m3_s_root * root;
        balance.drawn_m3 += self.drawn_m3_s * time_s;
        balance.plunger_m3 += self.leaks.plunger_m3_s_pa * integral;
        balance.seat_m3 += self.leaks.seat_m3_s_pa * integral;
        let (seeps_a, seeps_b) = self.seeps.straight(balance.pressure_pa.min(after_pa));
        balance.seeped_m3 += seeps_b * integral - seeps_a * time_s;
        balance.time_s += time_s;
        balance.pressure_pa = after_pa;
        self.mark(balance, started_s, passed_m3);
        if self.lift_m > 0.0 {
            for (sum, passed) in balance.lines_m3.iter_mut().zip(passed_m3) {
                *sum += passed;
            }
        }
    }

    /// Notes which lines became full in a piece, by a straight line through it, and when
    /// the regulator's opening pressure was reached.
    fn mark(&self, balance: &mut VolumeBalance, started_s: f64, passed_m3: &[f64; CYLINDERS]) {
        let lasted_s = balance.time_s - started_s;
        for (line, passed) in passed_m3.iter().enumerate().take(self.count()) {
            if balance.full_s[line].is_some() {
                continue;
            }
            let short = self.to_fill_m3[line] - balance.lines_m3[line];
            if short <= *passed {
                let share = if *passed > 0.0 { (short / passed).max(0.0) } else { 0.0 };
                balance.full_s[line] = Some(started_s + share * lasted_s);
            }
        }
        if balance.at_set_s.is_none() && balance.pressure_pa >= self.set_pa {
            balance.at_set_s = Some(balance.time_s);
        }
    }

    /// Lets the pressure leak away to a time with the pump off, the regulator closed and
    /// the slits shut, in closed form; not below `floor_pa`, where the fuel boils and
    /// vapour, at most `room_m3`, takes the place of what goes on leaking. Above where the first
    /// injector opens its line lets fuel drip besides.
    pub fn leak_down(
        &self,
        balance: &mut VolumeBalance,
        until_s: f64,
        floor_pa: f64,
        room_m3: f64,
    ) {
        let leaks = &self.leaks;
        let drips_to_pa = self.seeps.from_pa();
        if balance.pressure_pa > drips_to_pa && drips_to_pa > floor_pa {
            self.advance_or_stop(balance, until_s, drips_to_pa);
        }
        let tight = Feed { seeps: Seeps::NONE, ..*self };
        while balance.time_s < until_s {
            let left_s = until_s - balance.time_s;
            let p = balance.pressure_pa;
            if p <= floor_pa.max(0.0) {
                let flow = leaks.flow_m3_s(p);
                if flow > 0.0 && room_m3 > 0.0 {
                    balance.boils_at_s.get_or_insert(balance.time_s);
                }
                let most_s = if flow > 0.0 { (room_m3 - balance.vapour_m3) / flow } else { 0.0 };
                let time_s = left_s.min(most_s.max(0.0));
                balance.vapour_m3 += flow * time_s;
                let passed = tight.passed_m3(p, time_s);
                tight.add(balance, time_s, p, p * time_s, p.sqrt() * time_s, &passed);
                balance.time_s = until_s;
                return;
            }
            let piece = tight.piece(p, false);
            let to_pa = piece.low_pa.max(floor_pa).max(0.0);
            let down = LeakDown {
                compliance_m3_pa: piece.compliance_m3_pa,
                laminar: leaks.laminar_m3_s_pa(),
                root: leaks.opening_m3_s_root,
            };
            let to_s = down.time_to_s(p.sqrt(), to_pa.sqrt());
            let time_s = to_s.min(left_s);
            let root = down.root_after(p.sqrt(), time_s).max(0.0);
            let after_pa = if to_s <= left_s { to_pa } else { (root * root).max(to_pa) };
            let (integral, roots) = down.integrals(p.sqrt(), time_s);
            tight.add(
                balance,
                time_s,
                after_pa,
                integral,
                roots,
                &tight.passed_m3(after_pa, time_s),
            );
        }
        balance.time_s = until_s;
    }
}

/// The rates of a piece whose laws are not straight: bar, ml, s.
struct Bent<'a> {
    feed: &'a Feed<'a>,
    compliance_m3_pa: f64,
    /// Whether the regulator is open in it.
    open: bool,
    /// What seeps in it, `b p - a`.
    seeps: (f64, f64),
}

impl OdeSystem<STATES> for Bent<'_> {
    const FEEDS_BACK: usize = 1;

    fn rate(&self, _: f64, x: &[f64; STATES]) -> [f64; STATES] {
        let pressure_pa = BAR * x[0].max(0.0);
        let feed = self.feed;
        let mut rate = [0.0; STATES];
        let mut net =
            feed.pump_m3_s(pressure_pa) - feed.leaks.flow_m3_s(pressure_pa) - feed.drawn_m3_s;
        if self.open {
            // Its straight line goes on where a step looks beyond the piece's end.
            net -= feed.supply.regulator_slope_m3_s_pa() * (pressure_pa - feed.set_pa);
        }
        net -= self.seeps.1 * pressure_pa - self.seeps.0;
        for line in 0..feed.count() {
            let flow = feed.line_m3_s(line, pressure_pa);
            net -= flow;
            rate[3 + line] = flow / ML;
        }
        rate[0] = net / self.compliance_m3_pa / BAR;
        rate[1] = pressure_pa / BAR;
        rate[2] = rate[1].sqrt();
        rate
    }
}
