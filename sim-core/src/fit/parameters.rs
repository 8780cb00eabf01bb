//! The one list of what a fit finds, and how far each spreads beforehand.

use crate::assembly::Parts;
use crate::conditions::Conditions;
use crate::engine::flame::FlameLaw;
use crate::rig::keys::{Key, Place, Setup};
use crate::units::Unit;

/// How a parameter moves what it stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum How {
    /// The screw, counted from where the duty stands in the middle.
    Screw,
    /// Added to the key's value, in its unit.
    Added,
    /// A factor on the key's value: its logarithm counts.
    Factor,
    /// A value that is never below 0: `v = l ln(1 + e^u)`, `u` from here and by the parameter.
    Positive(Positive),
    /// A factor on the width of all slits.
    Slits,
    /// A factor on the width of one slit.
    Slit,
}

/// What is never below 0.
///
/// Equation: `v = l ln(1 + e^u)`: far below `l` a factor counts, far above it a difference. Symbols:
/// `v` value, `l` the scale, both in the key's unit. Valid range: any `u`. Source: our own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Positive {
    /// The scale.
    scale: f64,
    /// The prior's middle on the scale of `u`.
    middle: f64,
}

impl Positive {
    fn of(&self, u: f64) -> f64 {
        self.scale * if u > 30.0 { u } else { u.exp().ln_1p() }
    }

    /// Back from a value; a car without any stands in the middle of the prior.
    fn back(&self, value: f64) -> f64 {
        let share = value / self.scale;
        match share {
            share if share <= 0.0 => self.middle,
            share if share > 30.0 => share,
            share => share.exp_m1().ln(),
        }
    }

    /// How much the value rises with `u`.
    fn slope(&self, value: f64) -> f64 {
        self.scale * -(-value / self.scale).exp_m1()
    }
}

/// Leaks after the throttle: most cars have some, few have much.
const LEAK: Positive = Positive { scale: 0.4, middle: -0.5 };

/// A parameter.
pub struct Parameter {
    /// Its name: that of its key but for the screw.
    pub name: &'static str,
    /// Words for it.
    pub words: &'static str,
    /// How it moves.
    pub how: How,
    /// Standard deviation of its prior: in the key's unit, of its logarithm for a factor.
    pub spread: f64,
    /// Whether it is told: the rest differs from car to car, too, and is only kept.
    pub told: bool,
}

const fn told(name: &'static str, words: &'static str, how: How, spread: f64) -> Parameter {
    Parameter { name, words, how, spread, told: true }
}

const fn kept(name: &'static str, how: How, spread: f64) -> Parameter {
    Parameter { name, words: "", how, spread, told: false }
}

/// Name of the screw's parameter.
pub const SCREW: &str = "screw_turns";

/// Every parameter. What is kept has the spread of a rig's relatives
/// ([`crate::rig::seeded::relative`]), three of them with that of what acts the same way: the
/// plate's discharge with its radius, arm and funnel; the pitch with the screw's and the
/// plunger's arm; the idle valve's gap with its width. The rest is our own judgement of cars that
/// come in.
pub static PARAMETERS: &[Parameter] = &[
    told(SCREW, "screw, in from where the duty stands at 50 %", How::Screw, 0.06),
    told("housing_mm", "potentiometer's housing, turned up", How::Added, 0.3),
    told("rest_height_mm", "plate rests higher than the rig's stop", How::Added, 0.2),
    told("leak_kg_h", "air that gets in after the throttle", How::Positive(LEAK), 1.5),
    told("accessories_bar", "accessories and drag, mean effective pressure", How::Added, 0.08),
    told("slit_width_mm", "width of the slits, their mean", How::Slits, 0.03),
    told("slit_N_width_mm", "width of one slit", How::Slit, 0.02),
    told("scatter_deg", "scatter of the burn from cycle to cycle", How::Factor, 0.15),
    told("lambda_sensor_offset", "gas taken for leaner by the lambda sensor", How::Added, 0.006),
    kept("plate_discharge", How::Factor, 0.035),
    kept("rim_clearance_mm", How::Factor, 0.15),
    kept("pitch_mm", How::Factor, 0.035),
    kept("plunger_mm", How::Factor, 0.02),
    kept("idle_valve_gap_mm", How::Factor, 0.03),
    kept("actuator_slope_bar_ma", How::Factor, 0.02),
    kept("system_pressure_bar", How::Added, 0.05),
    kept("rubbing_scale", How::Factor, 0.05),
    kept("overlap_deg_m", How::Factor, 0.2),
    kept("half_burnt_deg", How::Factor, 0.1),
    kept("spark_deg", How::Added, 2.0),
    kept("lateness_per_deg2", How::Factor, 0.1),
    kept("fuel_scatter_percent", How::Factor, 0.15),
    kept("charge_scatter_percent", How::Factor, 0.1),
    kept("gas_fuel_limit", How::Factor, 0.03),
];

#[derive(Clone, Copy)]
enum At {
    Part(fn(&mut Parts) -> &mut f64),
    Condition(fn(&mut Conditions) -> &mut f64),
    Elsewhere,
}

/// A parameter of a car.
#[derive(Clone, Copy)]
pub struct Coordinate {
    /// What it is.
    pub parameter: &'static Parameter,
    /// Its line, from 0, where there is one for each.
    pub line: Option<usize>,
    at: At,
    unit: Unit,
}

impl Coordinate {
    fn of(parameter: &'static Parameter, line: Option<usize>) -> Coordinate {
        let key = Key::find(parameter.name);
        let at = match key.map(|key| &key.place) {
            Some(Place::Part { at, .. }) => At::Part(*at),
            Some(Place::Condition(at)) => At::Condition(*at),
            _ => At::Elsewhere,
        };
        let unit = match parameter.how {
            How::Screw => Unit::Turns,
            How::Slit | How::Slits => Unit::Millimetre,
            _ => key.map_or(Unit::One, |key| key.unit),
        };
        Coordinate { parameter, line, at, unit }
    }

    /// Its name: "slit_3_width_mm".
    pub fn name(&self) -> String {
        let line = self.line.map_or(String::new(), |line| (line + 1).to_string());
        self.parameter.name.replace('N', &line)
    }

    /// Its unit.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// Whether it cannot be below 0.
    pub fn is_never_negative(&self) -> bool {
        !matches!(self.parameter.how, How::Screw | How::Added)
    }

    /// Its value on a car, in its unit.
    pub fn value(&self, car: &Car) -> f64 {
        let mut car = *car;
        let widths = &car.setup.rig.parts().slits.width_m;
        match (self.parameter.how, self.at) {
            (How::Screw, _) => car.screw_turns,
            (How::Slits, _) => 1e3 * widths.iter().sum::<f64>() / widths.len() as f64,
            (How::Slit, _) => 1e3 * widths[self.line.unwrap_or(0)],
            (_, At::Part(at)) => {
                let mut parts = *car.setup.rig.parts();
                self.unit.from_si(*at(&mut parts))
            }
            (_, At::Condition(at)) => self.unit.from_si(*at(&mut car.setup.conditions)),
            (_, At::Elsewhere) => f64::NAN,
        }
    }

    /// Changes its value on a setup, in its unit.
    pub(super) fn change(&self, setup: &mut Setup, change: impl Fn(f64) -> f64) -> Option<()> {
        let changed = |value: &mut f64| {
            *value = self.unit.to_si(change(self.unit.from_si(*value)));
        };
        match self.at {
            At::Part(at) => {
                let rig = setup.rig.with_parts_beyond_ranges(|parts| changed(at(parts)));
                setup.rig = rig.ok()?;
            }
            At::Condition(at) => changed(at(&mut setup.conditions)),
            At::Elsewhere => {}
        }
        Some(())
    }

    /// A standard deviation of the parameter in its unit, at a value: from one in spreads.
    pub fn error(&self, value: f64, spreads: f64) -> f64 {
        let own = spreads * self.parameter.spread;
        match self.parameter.how {
            How::Screw | How::Added => own,
            How::Positive(positive) => own * positive.slope(value),
            _ => own * value,
        }
    }
}

/// A car: an engine, what it is run under, and where its screw stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Car {
    /// The engine and what it is run under; its screw is not set.
    pub setup: Setup,
    /// Turns of the screw in from where the duty stands in the middle.
    pub screw_turns: f64,
}

/// The parameters of the cars about a car.
#[derive(Clone)]
pub struct Space {
    about: Car,
    coordinates: Vec<Coordinate>,
}

impl Space {
    /// The parameters of cars that spread about a rig and conditions as they come in; with one for
    /// each slit where the lines have been measured.
    pub fn of(setup: &Setup, each_line: bool) -> Space {
        Space::about(Car { setup: *setup, screw_turns: 0.0 }, each_line)
    }

    /// The parameters about a car.
    pub fn about(about: Car, each_line: bool) -> Space {
        let lines = about.setup.rig.parts().slits.width_m.len();
        let mut coordinates = Vec::new();
        for parameter in PARAMETERS {
            match parameter.how {
                How::Slit if each_line => {
                    coordinates.extend((0..lines).map(|line| Coordinate::of(parameter, Some(line))))
                }
                How::Slit => {}
                _ => coordinates.push(Coordinate::of(parameter, None)),
            }
        }
        Space { about, coordinates }
    }

    /// The parameters.
    pub fn coordinates(&self) -> &[Coordinate] {
        &self.coordinates
    }

    /// The place of a parameter.
    pub fn place(&self, name: &str) -> Option<usize> {
        self.coordinates.iter().position(|coordinate| coordinate.name() == name)
    }

    /// The car at parameters in units of their spread, under a flame law. `None` where they make
    /// no engine.
    pub fn car(&self, at: &[f64], flame: FlameLaw) -> Option<Car> {
        let mut car = self.about;
        let conditions = &mut car.setup.conditions;
        conditions.flame = flame;
        let rig = self.about.setup.rig.with_parts_beyond_ranges(|parts| {
            for (coordinate, at) in self.coordinates.iter().zip(at) {
                let own = at * coordinate.parameter.spread;
                let unit = coordinate.unit;
                let move_to = |value: &mut f64| match coordinate.parameter.how {
                    How::Added => *value += unit.to_si(own) - unit.to_si(0.0),
                    How::Positive(positive) => {
                        let u = positive.back(unit.from_si(*value)) + own;
                        *value = unit.to_si(positive.of(u));
                    }
                    _ => *value *= own.exp(),
                };
                match (coordinate.parameter.how, coordinate.at) {
                    (How::Screw, _) => car.screw_turns += own,
                    (How::Slits, _) => parts.slits.width_m.iter_mut().for_each(move_to),
                    (How::Slit, _) => {
                        let line = coordinate.line.unwrap_or(0);
                        parts.slits.width_m.iter_mut().skip(line).take(1).for_each(move_to);
                    }
                    (_, At::Part(place)) => move_to(place(parts)),
                    (_, At::Condition(place)) => move_to(place(conditions)),
                    (_, At::Elsewhere) => {}
                }
            }
        });
        car.setup.rig = rig.ok()?;
        Some(car)
    }
}
