//! The numbers of the idle speed control that are no gains of a loop: what it sees coming,
//! and what it does while the engine runs down. All our own.

/// Lead, dash-pot and overrun cut.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Idle {
    /// Opening for each rad/s2 of falling speed (s2/rad). Chosen by margins: it gives the
    /// rich idle its damping, and on the way down it has the valve open ahead of the fall.
    pub lead: f64,
    /// Lag of that slope (s): three ticks, against the ripple of single cylinders. Longer
    /// ones cost gain margin on the lean side, where the lead turns fastest.
    pub lead_lag_s: f64,
    /// The most the lead opens or closes, share of full: what a fall from 3000 rpm asks for,
    /// with something to spare.
    pub lead_most: f64,
    /// The most by which the proportional part closes the valve, share of full: running
    /// down, it must not shut the valve for what comes.
    pub shuts_most: f64,
    /// Dash-pot: opening for each rad/s above where it begins (s/rad). It keeps the valve a
    /// little open in the overrun and lets the speed down slowly: just so large that no
    /// smooth setting falls from 3000 rpm to the idle in less than 2 s.
    pub dash: f64,
    /// How far above the target it begins (rad/s): clear of every idle's own swings.
    pub dash_above_rad_s: f64,
    /// Time in which it lets go after the pedal's release (s). Without that it would hold the
    /// idle high.
    pub dash_s: f64,
    /// The fuel is cut in the overrun above this speed (rad/s).
    pub cut_above_rad_s: f64,
    /// After this long (s): a changed gear is no overrun.
    pub cut_after_s: f64,
    /// And comes back below this speed (rad/s): two cycles before it works, and one more that
    /// air in the cylinders costs, still clear of the idle.
    pub resume_rad_s: f64,
}

impl Idle {
    /// What the dash-pot opens, share of full, so far above where it begins (rad/s) and so long
    /// after the pedal's release (s).
    ///
    /// Equation: `d w e^(-t/tau)`, none for `w` below 0. Source: our own.
    pub fn dashes(&self, above_rad_s: f64, since_s: f64) -> f64 {
        if above_rad_s <= 0.0 {
            return 0.0;
        }
        self.dash * above_rad_s * (-since_s / self.dash_s).exp()
    }
}
