//! The one list of readings that can be given, beside the keys of a point; in which state each
//! is taken, and how far its meter may be off.

use crate::point::Reading;
use crate::units::Unit;

/// How a running engine is when it is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taken {
    /// Whether the lambda sensor is plugged in: the trim acts.
    pub plugged: bool,
    /// Whether a pedal holds 2500 rpm without load.
    pub fast: bool,
    /// Turns of the screw from where it was found.
    pub screw_turns: f64,
}

impl Taken {
    /// The idle as it was found.
    pub const IDLE: Taken = Taken { plugged: true, fast: false, screw_turns: 0.0 };
    /// The idle without the lambda sensor.
    pub const UNPLUGGED: Taken = Taken { plugged: false, ..Taken::IDLE };
    /// 2500 rpm.
    pub const FAST: Taken = Taken { fast: true, ..Taken::IDLE };
    /// The idle a sixteenth of a turn richer.
    pub const TURNED: Taken = Taken { screw_turns: 1.0 / 16.0, ..Taken::IDLE };

    /// It in words: "unplugged, at 2500 rpm".
    pub fn words(&self) -> String {
        let mut words = vec![if self.fast { "at 2500 rpm" } else { "at idle" }.to_string()];
        if !self.plugged {
            words.push("lambda sensor unplugged".into());
        }
        if self.screw_turns != 0.0 {
            words.push(format!("screw {:+.4} turn from found", self.screw_turns));
        }
        words.join(", ")
    }
}

/// When a reading is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum When {
    /// Of the running engine, warm.
    Running(Taken),
    /// Of the standing engine, or of a part on its own.
    Standing,
}

/// A reading that is no key of a point, or has a meter of its own.
pub struct Metered {
    /// Its name with its unit.
    pub name: &'static str,
    /// Words for it.
    pub label: &'static str,
    /// Unit.
    pub unit: Unit,
    /// Decimals a person wants to see.
    pub decimals: usize,
    /// What its meter may be off: in its unit, or the share of the reading if that is more.
    pub permitted: (f64, f64),
    /// What can be read at the least and most; beyond it no value is taken.
    pub plausible: (f64, f64),
    /// What a car shows at the least and most, sound or faulty: a value beyond it is suspected
    /// of another unit.
    pub shows: (f64, f64),
    /// Whether it is read of the running engine.
    pub running: bool,
    /// Whether there is one for each line.
    pub each_line: bool,
    /// Whether ratios count, not differences.
    pub by_ratio: bool,
}

const fn metered(
    name: &'static str,
    label: &'static str,
    (unit, decimals): (Unit, usize),
    permitted: (f64, f64),
    plausible: (f64, f64),
) -> Metered {
    Metered {
        name,
        label,
        unit,
        decimals,
        permitted,
        plausible,
        shows: plausible,
        running: true,
        each_line: false,
        by_ratio: false,
    }
}

const fn shows(shows: (f64, f64), reading: Metered) -> Metered {
    Metered { shows, ..reading }
}

const fn standing(reading: Metered) -> Metered {
    Metered { running: false, ..reading }
}

const fn each_line(reading: Metered) -> Metered {
    Metered { each_line: true, running: false, ..reading }
}

const fn by_ratio(reading: Metered) -> Metered {
    Metered { by_ratio: true, ..reading }
}

/// Every reading with a meter of its own. Gas: what OIML R 99-1 class I permits (from memory).
/// The rest is common practice, no source.
pub static METERED: &[Metered] = &[
    metered("duty_percent", "duty", (Unit::Percent, 0), (4.0, 0.0), (0.0, 100.0)),
    metered("actuator_ma", "actuator current", (Unit::Milliampere, 1), (0.3, 0.02), (-60.0, 160.0)),
    metered("potentiometer_v", "airflow potentiometer", (Unit::Volt, 3), (0.01, 0.01), (0.0, 5.5)),
    metered("sensor_v", "lambda sensor", (Unit::Volt, 2), (0.05, 0.02), (-0.2, 1.3)),
    metered("speed_rpm", "speed", (Unit::Rpm, 0), (15.0, 0.005), (100.0, 7000.0)),
    shows((0.15, 1.0), metered("vacuum_bar", "vacuum", (Unit::Bar, 2), (0.02, 0.0), (0.0, 1.0))),
    metered("manifold_bar", "manifold pressure, absolute", (Unit::Bar, 2), (0.02, 0.0), (0.1, 1.2)),
    metered("co_percent", "CO", (Unit::Percent, 2), (0.06, 0.05), (0.0, 20.0)),
    shows((2.0, 21.0), metered("co2_percent", "CO2", (Unit::Percent, 1), (0.5, 0.05), (0.0, 21.0))),
    metered("o2_percent", "O2", (Unit::Percent, 2), (0.1, 0.05), (0.0, 21.0)),
    by_ratio(metered("hc_ppm", "HC as hexane", (Unit::One, 0), (12.0, 0.05), (0.0, 20_000.0))),
    metered("lambda", "lambda", (Unit::One, 3), (0.02, 0.0), (0.5, 2.0)),
    metered("idle_valve_percent", "idle air valve", (Unit::Percent, 0), (3.0, 0.0), (0.0, 100.0)),
    shows(
        (1.0, 12.0),
        metered("system_bar", "system pressure", (Unit::Bar, 2), (0.06, 0.0), (0.0, 12.0)),
    ),
    shows(
        (1.0, 12.0),
        metered("lower_chamber_bar", "lower chamber", (Unit::Bar, 2), (0.06, 0.0), (0.0, 12.0)),
    ),
    by_ratio(metered(
        "swing_s",
        "a swing of the duty",
        (Unit::Second, 1),
        (0.1, 0.05),
        (0.1, 60.0),
    )),
    standing(metered(
        "residual_bar",
        "pressure 30 min after the stop",
        (Unit::Bar, 2),
        (0.1, 0.0),
        (-0.2, 12.0),
    )),
    shows(
        (20.0, 10_000.0),
        standing(metered(
            "return_ml_min",
            "return with the pump on the jumper",
            (Unit::MillilitrePerMinute, 0),
            (20.0, 0.03),
            (0.0, 10_000.0),
        )),
    ),
    shows(
        (1.0, 16.0),
        standing(metered(
            "before_filter_bar",
            "pressure before the filter",
            (Unit::Bar, 2),
            (0.1, 0.0),
            (0.0, 16.0),
        )),
    ),
    standing(metered(
        "flow_start_turns",
        "turns in from found to flow start",
        (Unit::Turns, 3),
        (0.02, 0.0),
        (-2.0, 2.0),
    )),
    standing(by_ratio(metered(
        "cranking_s",
        "cranking of the cold engine",
        (Unit::Second, 1),
        (0.2, 0.1),
        (0.1, 60.0),
    ))),
    standing(by_ratio(metered(
        "coolant_ohm",
        "coolant sensor, warm engine",
        (Unit::Ohm, 0),
        (1.0, 0.03),
        (0.0, 1e7),
    ))),
    standing(by_ratio(metered(
        "idle_contact_ohm",
        "idle contact, throttle closed",
        (Unit::Ohm, 0),
        (0.5, 0.2),
        (0.0, 1e7),
    ))),
    each_line(metered(
        "line_N_ml",
        "a line's glass after a minute, plate lifted 8 mm",
        (Unit::Millilitre, 1),
        (0.2, 0.01),
        (0.0, 500.0),
    )),
    shows(
        (1.0, 12.0),
        each_line(metered(
            "injector_N_bar",
            "where a line's injector opens on the tester",
            (Unit::Bar, 2),
            (0.1, 0.0),
            (0.0, 12.0),
        )),
    ),
    each_line(metered(
        "drop_N_rpm",
        "fall of speed with a cylinder's spark off",
        (Unit::Rpm, 0),
        (8.0, 0.05),
        (-50.0, 500.0),
    )),
];

/// What the ear hears.
pub const EARS: [&str; 4] = ["smooth", "rough", "hunting", "dies"];

/// A reading that is on the list.
#[derive(Clone, Copy)]
pub enum Kind {
    /// With a meter of its own.
    Metered(&'static Metered),
    /// Any other key of a point.
    Point(&'static Reading),
}

/// What a reading of a point without a meter of its own may be off: share of the reading.
const POINT_PERMITTED: f64 = 0.03;

impl Kind {
    /// The reading of a name, and its line: "line_3_ml" is the third line's.
    pub fn find(name: &str) -> Option<(Kind, Option<usize>)> {
        let number = |metered: &Metered| -> Option<usize> {
            let (before, after) = metered.name.split_once('N')?;
            let line: usize = name.strip_prefix(before)?.strip_suffix(after)?.parse().ok()?;
            line.checked_sub(1)
        };
        for metered in METERED {
            if !metered.each_line && metered.name == name {
                return Some((Kind::Metered(metered), None));
            }
            if let Some(line) = metered.each_line.then(|| number(metered)).flatten() {
                return Some((Kind::Metered(metered), Some(line)));
            }
        }
        Reading::find(name).map(|reading| (Kind::Point(reading), None))
    }

    /// Its name on the list.
    pub fn name(&self) -> &'static str {
        match self {
            Kind::Metered(metered) => metered.name,
            Kind::Point(reading) => reading.name,
        }
    }

    /// Words for it.
    pub fn label(&self) -> &'static str {
        match self {
            Kind::Metered(metered) => metered.label,
            Kind::Point(reading) => reading.label,
        }
    }

    /// Its unit.
    pub fn unit(&self) -> Unit {
        match self {
            Kind::Metered(metered) => metered.unit,
            Kind::Point(reading) => reading.unit,
        }
    }

    /// Decimals.
    pub fn decimals(&self) -> usize {
        match self {
            Kind::Metered(metered) => metered.decimals,
            Kind::Point(reading) => reading.decimals,
        }
    }

    /// Whether it is read of the running engine.
    pub fn is_running(&self) -> bool {
        match self {
            Kind::Metered(metered) => metered.running,
            Kind::Point(_) => true,
        }
    }

    /// Whether a standing engine's fuel side and plate decide it.
    pub fn is_of_fuel_side(&self) -> bool {
        const FUEL_SIDE: [&str; 5] =
            ["residual_bar", "return_ml_min", "before_filter_bar", "line_N_ml", "flow_start_turns"];
        FUEL_SIDE.contains(&self.name())
    }

    /// Where its ratios count its logarithm, else itself.
    pub fn scaled(&self, value: f64) -> f64 {
        match self.by_ratio() {
            true => value.max(1e-3).ln(),
            false => value,
        }
    }

    /// Back from [`Kind::scaled`].
    pub fn unscaled(&self, scaled: f64) -> f64 {
        if self.by_ratio() { scaled.exp() } else { scaled }
    }

    fn by_ratio(&self) -> bool {
        matches!(self, Kind::Metered(metered) if metered.by_ratio)
    }

    /// Standard deviation of its meter about a value, on the scale of [`Kind::scaled`]: what is
    /// permitted over the root of 3, as of an error that is anywhere within it. `class` is the
    /// meter's own: what it may be off, in the reading's unit.
    pub fn meter_sigma(&self, scaled: f64, class: Option<f64>) -> f64 {
        let value = self.unscaled(scaled).abs();
        let (fixed, share) = match self {
            Kind::Metered(metered) => metered.permitted,
            Kind::Point(_) => (1e-3, POINT_PERMITTED),
        };
        let off = class.unwrap_or(fixed).max(share * value) / 3f64.sqrt();
        if self.by_ratio() { off / value.max(1e-3) } else { off }
    }

    /// The least and most it can show: a meter's end.
    pub fn ends(&self) -> (f64, f64) {
        match self {
            Kind::Metered(metered) if metered.unit == Unit::Percent => (0.0, 100.0),
            _ => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }
}

/// A place on a sheet: a reading, taken in a state, of a line where there is one for each.
#[derive(Clone, Copy)]
pub struct Slot {
    /// The reading.
    pub kind: Kind,
    /// When it is taken.
    pub when: When,
    /// Its line, from 0.
    pub line: Option<usize>,
}

impl Slot {
    /// The slot of a name; standing readings are standing whatever the state.
    pub fn of(name: &str, taken: Taken) -> Option<Slot> {
        let (kind, line) = Kind::find(name)?;
        let when = if kind.is_running() { When::Running(taken) } else { When::Standing };
        Some(Slot { kind, when, line })
    }

    /// Its name: "line_3_ml".
    pub fn name(&self) -> String {
        match self.line {
            Some(line) => self.kind.name().replace('N', &(line + 1).to_string()),
            None => self.kind.name().to_string(),
        }
    }

    /// Words for it and when it is taken.
    pub fn words(&self) -> String {
        let line = self.line.map(|line| format!(" {}", line + 1)).unwrap_or_default();
        match self.when {
            When::Running(taken) => format!("{}{line} {}", self.kind.label(), taken.words()),
            When::Standing => format!("{}{line}", self.kind.label()),
        }
    }

    /// A value with its unit.
    pub fn shown(&self, value: f64) -> String {
        let unit = match self.kind.name() {
            "hc_ppm" => "ppm",
            _ => self.kind.unit().symbol(),
        };
        format!("{value:.*} {unit}", self.kind.decimals()).trim_end().to_string()
    }

    /// The state it is taken in, of a running engine.
    pub fn taken(&self) -> Option<Taken> {
        match self.when {
            When::Running(taken) => Some(taken),
            When::Standing => None,
        }
    }

    /// Whether it is the same reading in the same state.
    pub fn is(&self, other: &Slot) -> bool {
        self.kind.name() == other.kind.name() && self.line == other.line && self.when == other.when
    }
}
