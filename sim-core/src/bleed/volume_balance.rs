//! The volume balance of the feed: pressure, time, and what has gone where.

use crate::fuel::slit::CYLINDERS;
use crate::fuel::supply::Supply;

/// Where the feed stands, and what has gone where since its start (m3).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct VolumeBalance {
    /// Time (s).
    pub time_s: f64,
    /// Pressure (Pa).
    pub pressure_pa: f64,
    /// Delivered by the pump.
    pub pumped_m3: f64,
    /// Returned by the open regulator.
    pub returned_m3: f64,
    /// Leaked back through the check valve.
    pub check_m3: f64,
    /// Leaked past the plunger.
    pub plunger_m3: f64,
    /// Leaked through the closed regulator's seat.
    pub seat_m3: f64,
    /// Seeped past shut slits and dripped from the injectors.
    pub seeped_m3: f64,
    /// Passed through each slit.
    pub lines_m3: [f64; CYLINDERS],
    /// Drawn by an engine.
    pub drawn_m3: f64,
    /// Room that vapour takes.
    pub vapour_m3: f64,
    /// When the fuel began to boil.
    pub boils_at_s: Option<f64>,
    /// When each line was full.
    pub full_s: [Option<f64>; CYLINDERS],
    /// When the regulator's opening pressure was first reached.
    pub at_set_s: Option<f64>,
}

impl VolumeBalance {
    /// Everything that leaked.
    fn leaked_m3(&self) -> f64 {
        self.check_m3 + self.plunger_m3 + self.seat_m3
    }

    /// Everything that passed the slits.
    pub fn through_lines_m3(&self) -> f64 {
        self.lines_m3.iter().sum()
    }

    /// What is missing in the balance (m3): delivered, less returned, leaked, through the
    /// lines and stored, plus the room of vapour; from a feed without pressure.
    pub fn missing_m3(&self, supply: &Supply) -> f64 {
        self.pumped_m3 + self.vapour_m3
            - self.returned_m3
            - self.leaked_m3()
            - self.seeped_m3
            - self.through_lines_m3()
            - self.drawn_m3
            - supply.stored_m3(self.pressure_pa)
    }
}
