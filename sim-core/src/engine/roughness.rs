//! What the ear calls rough: one definition, its parts named.

/// The part of the definition that makes an engine rough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RoughBy {
    /// The work differs too much from cycle to cycle.
    Cov,
    /// Too many cycles are lost.
    Misfire,
    /// The speed has fallen too far below its best.
    Speed,
    /// The speed goes up and down by itself.
    Hunting,
}

impl RoughBy {
    /// The word for it in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            RoughBy::Cov => "cov",
            RoughBy::Misfire => "misfire",
            RoughBy::Speed => "speed",
            RoughBy::Hunting => "hunting",
        }
    }
}

/// What an engine that runs may be at most and still be called smooth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ear {
    /// COV of imep (Heywood 1988, sect. 9.4.2, from memory: 10 %, by driveability).
    pub cov: f64,
    /// Share of lost cycles over all cylinders. Common practice, no source: at idle one lost
    /// cycle in fifty is heard as a beat missed now and then.
    pub misfire: f64,
    /// How far the speed may fall below its best (rad/s): the lean-drop practice, 20 to 100 rpm.
    pub speed_drop_rad_s: f64,
    /// Damping ratio of the idle's slowest swing, at least. Our own: below 0.1 half of a swing is
    /// left after a second one, and the scatter of the cycles keeps it going.
    pub damping: f64,
}

/// What the ear hears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// COV of imep.
    pub cov: f64,
    /// Share of lost cycles over all cylinders.
    pub misfire: f64,
    /// How far the speed lies below its best (rad/s); 0 where it is held.
    pub speed_drop_rad_s: f64,
    /// Damping ratio of the idle's slowest swing; `None` where nobody asked for it.
    pub damping: Option<f64>,
}

impl Ear {
    /// The parts, what of each is heard over what is allowed: lost cycles first, as they make
    /// COV and speed too.
    fn parts(&self, heard: &Heard) -> [(RoughBy, f64); 4] {
        [
            (RoughBy::Misfire, heard.misfire / self.misfire),
            (RoughBy::Cov, heard.cov / self.cov),
            (RoughBy::Speed, heard.speed_drop_rad_s / self.speed_drop_rad_s),
            (RoughBy::Hunting, heard.damping.map_or(0.0, |damping| 1.0 + self.damping - damping)),
        ]
    }

    /// What makes it rough, if it is: the first part above its limit.
    pub fn rough_by(&self, heard: &Heard) -> Option<RoughBy> {
        self.parts(heard).into_iter().find(|(_, share)| *share > 1.0).map(|(by, _)| by)
    }

    /// The part nearest to its limit, or farthest above, and how far above as a share of it.
    pub fn nearest(&self, heard: &Heard) -> (RoughBy, f64) {
        let [first, rest @ ..] = self.parts(heard);
        let (by, share) = rest.into_iter().fold(first, |a, b| if b.1 > a.1 { b } else { a });
        (by, share - 1.0)
    }
}
