//! Why an engine stalled, as data and as a sentence.

use crate::units::Unit;

/// What failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failed {
    /// The fuel was cut or its slits stayed shut.
    NoFuel,
    /// No injector opened: too little pressure, or lines that are not full.
    NothingSprays,
    /// The mixture was too lean to burn well enough.
    Lean,
    /// The mixture was too rich to burn well enough.
    Drowned,
    /// Even burnt at its best there was too little air.
    NoAir,
    /// Air and mixture would have done; the burning, or a load, took the torque.
    NoTorque,
}

/// Why an engine stalled: the first charge of the last time it was short of torque.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StallCause {
    /// What failed.
    pub failed: Failed,
    /// When that charge was drawn in (s).
    pub time_s: f64,
    /// Crank speed then (rad/s).
    pub speed_rad_s: f64,
    /// Its mixture; infinite without fuel.
    pub lambda: f64,
    /// Its air (kg/s).
    pub air_kg_s: f64,
    /// Manifold pressure (Pa).
    pub manifold_pa: f64,
    /// Indicated pressure it makes, would make burnt at its best, and the engine needs (Pa).
    pub imep_pa: f64,
    /// See `imep_pa`.
    pub best_pa: f64,
    /// See `imep_pa`.
    pub needs_pa: f64,
    /// System pressure (Pa above ambient).
    pub system_pa: f64,
    /// Air past the plate over air into the cylinders.
    pub plate_over_cylinders: f64,
}

impl Failed {
    /// In a word or two.
    pub fn word(self) -> &'static str {
        match self {
            Failed::NoFuel => "without fuel",
            Failed::NothingSprays => "nothing sprays",
            Failed::Lean => "too lean",
            Failed::Drowned => "drowned",
            Failed::NoAir => "for lack of air",
            Failed::NoTorque => "for lack of torque",
        }
    }
}

impl StallCause {
    /// The cause as a sentence.
    pub fn sentence(&self) -> String {
        let rpm = Unit::Rpm.from_si(self.speed_rad_s);
        let bar = |pa: f64| Unit::Bar.from_si(pa);
        let short = format!(
            "it makes {:.2} bar and needs {:.2} bar",
            bar(self.imep_pa),
            bar(self.needs_pa)
        );
        let lambda = self.lambda;
        match self.failed {
            Failed::NoFuel => format!("no fuel: at {rpm:.0} rpm the cylinders get air alone"),
            Failed::NothingSprays => format!(
                "nothing sprays: at {rpm:.0} rpm the fuel has {:.1} bar, too little to open the injectors, or their lines are not full",
                bar(self.system_pa)
            ),
            Failed::Lean => {
                format!("too lean: at {rpm:.0} rpm lambda is {lambda:.2}, {short}")
            }
            Failed::Drowned => format!(
                "drowned: at {rpm:.0} rpm lambda is {lambda:.2}, {short}; the plate meters {:.2} times the air the cylinders take",
                self.plate_over_cylinders
            ),
            Failed::NoAir => format!(
                "no air: at {rpm:.0} rpm and {:.2} bar in the manifold even the best burning makes {:.2} bar, and {:.2} bar are needed",
                bar(self.manifold_pa),
                bar(self.best_pa),
                bar(self.needs_pa)
            ),
            Failed::NoTorque => {
                format!("no torque: at {rpm:.0} rpm and lambda {lambda:.2} {short}")
            }
        }
    }
}
