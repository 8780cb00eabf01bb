//! The state that age and the last stop have left the fuel side in.

use super::supply::{CheckValve, Supply};

/// The regulator.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Regulator {
    /// Sound: it holds the system pressure.
    #[default]
    Ok,
    /// Stuck open: everything returns.
    StuckOpen,
    /// Stuck shut: nothing returns.
    StuckShut,
}

/// What the injection lines hold when a start begins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LinesHold {
    /// Fuel, up to the injectors.
    #[default]
    Fuel,
    /// Air: they were open.
    Air,
}

/// Age and faults of the fuel side, and how it was left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FuelSide {
    /// Share of its delivery that the pump has left.
    pub pump_share: f64,
    /// Pressure that the filter takes at the pump's free delivery (Pa).
    pub filter_pa: f64,
    /// The regulator.
    pub regulator: Regulator,
    /// The check valve at the pump.
    pub check_valve: CheckValve,
    /// Share of the accumulator's spring that is left.
    pub accumulator_share: f64,
    /// How much the first line's injector opens above the others (Pa): worn below 0, dirty above.
    pub first_injector_pa: f64,
    /// What a closed injector lets drip, the mean of the set, out of a line that boils (m3/s). A line that does not
    /// boil keeps its fuel: nothing takes its place.
    pub drips_m3_s: f64,
    /// How many times as much the leakiest injector of the set lets drip as the tightest.
    pub drips_spread: f64,
    /// How long the engine has stood when a start begins (s).
    pub stood_s: f64,
    /// Temperature of feed and lines meanwhile (K); `None`: the fuel's.
    pub bonnet_k: Option<f64>,
    /// Vapour pressure of the fuel's class at 37.8 degC (Pa).
    pub class_pa: f64,
    /// What the lines hold then.
    pub lines: LinesHold,
}

impl Default for FuelSide {
    fn default() -> Self {
        FuelSide {
            pump_share: 1.0,
            filter_pa: 0.0,
            regulator: Regulator::Ok,
            check_valve: CheckValve::Ok,
            accumulator_share: 1.0,
            first_injector_pa: 0.0,
            // A test bench allows a new one a drop in 15 s, 0.2 ml/min (common practice, no source).
            drips_m3_s: 0.03e-6 / 60.0,
            // A gap passes with its cube: seats that stand off by 1 to 2.2 micrometres. Our own.
            drips_spread: 10.0,
            stood_s: 12.0 * 3600.0,
            bonnet_k: None,
            class_pa: 60e3,
            lines: LinesHold::Fuel,
        }
    }
}

impl FuelSide {
    /// What a line of a volume (m3) has lost after boiling for a time (s).
    ///
    /// No two injectors are as tight. Equation: `q_i = q r^(x_i - 1/2) / m`, `x_i` from 0 for the
    /// first of so many to 1 for the last, `m` the mean of `r^(x_i - 1/2)`. Symbols: `q` what the
    /// mean of the set lets drip (m3/s), `r` the leakiest over the tightest. Valid range: `r` of
    /// 1 and more, seats that are closed. Source: our own; leaks of seats differ by factors, as
    /// the flow through a gap goes with its cube ([`super::leak::annular_gap_m3_s`]).
    pub fn dripped_m3(&self, line: usize, lines: usize, line_m3: f64, boiling_s: f64) -> f64 {
        let steps = lines.saturating_sub(1).max(1) as f64;
        let factor = |line: usize| self.drips_spread.powf(line as f64 / steps - 0.5);
        let mean = (0..lines).map(factor).sum::<f64>() / lines.max(1) as f64;
        (factor(line) / mean * self.drips_m3_s * boiling_s).clamp(0.0, line_m3)
    }

    /// The supply with the accumulator's spring that is left.
    pub fn supply(&self, sound: &Supply) -> Supply {
        Supply { accumulator: sound.accumulator.weakened(self.accumulator_share), ..*sound }
    }

    /// Share of the sound pump's delivery that a worn pump gives behind a clogged filter.
    ///
    /// Equation: a pump `Q = s Q_0 (1 - p_p/p_s)` behind a filter `p_p = p + R Q` delivers
    /// `s Q_0 (1 - p/p_s) / (1 + s R Q_0/p_s)`: less by a factor, with the same stall. Symbols:
    /// `s` share the pump has left, `R Q_0` the filter's drop at its free delivery, `p_s` stall.
    /// Valid range: laminar flow through paper. Source: the two laws put together.
    pub fn delivers(&self, sound: &Supply) -> f64 {
        self.pump_share / (1.0 + self.pump_share * self.filter_pa / sound.pump.stall_pa)
    }

    /// Pressure at which the regulator holds (Pa), sound at `system_pa`.
    pub fn holds_pa(&self, system_pa: f64) -> f64 {
        match self.regulator {
            Regulator::Ok => system_pa,
            Regulator::StuckOpen => 0.0,
            Regulator::StuckShut => f64::INFINITY,
        }
    }
}
