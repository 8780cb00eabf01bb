//! Meters on their hooks, and what each shows once it is clipped on.

use crate::workplace::Workplace;
use sim_core::point::State;
use sim_core::run::{Engine, TICK_S};
use sim_core::sense::meter::{Digital, Needle, loaded_v};
use sim_core::units::{ATMOSPHERE_PA, Unit};
use sim_core::wording::tidy;
use std::cell::OnceCell;
use std::collections::VecDeque;

/// A needle voltmeter: class, full scale (V), resistance (ohm/V).
const NEEDLE: (f64, f64, f64) = (0.025, 2.5, 20e3);
/// Input resistance of a digital meter (ohm): common practice, no source.
const DIGITAL_OHM: f64 = 10e6;
/// From the probe to the analyser's cell, and lag of the cell (s): common practice, no source.
const ANALYSER_S: (f64, f64) = (6.0, 2.0);
/// Time from sample to sample in the analyser's hose (s).
const SAMPLE_S: f64 = 0.1;

/// An engine at a tick, for every meter clipped on: its readings are worked out at most once.
pub struct Look<'a> {
    engine: &'a Engine,
    workplace: &'a Workplace,
    state: OnceCell<Option<State>>,
}

impl<'a> Look<'a> {
    /// A look at an engine.
    pub fn new(engine: &'a Engine, workplace: &'a Workplace) -> Look<'a> {
        Look { engine, workplace, state: OnceCell::new() }
    }

    fn state(&self) -> Option<&State> {
        self.state.get_or_init(|| self.engine.state()).as_ref()
    }
}

/// A kind of meter.
pub struct Kind {
    /// Its name: the key in a frame.
    pub name: &'static str,
    /// What it is and where it is clipped on.
    pub about: &'static str,
    /// Unit of its value.
    pub unit: &'static str,
    /// Least and largest value of its scale.
    pub scale: (f64, f64),
    /// The step to which a person reads it.
    pub step: f64,
    /// Its caution.
    pub caution: &'static str,
    /// Lag with which it follows (s).
    lag_s: f64,
    /// What it is fed; `None` where there is nothing to show.
    get: fn(&Look<'_>) -> Option<f64>,
}

const CLEAR: &str = "Leads clear of fan, belts and exhaust.";
const GAUGE: &str = "A gauge in the fuel line: relieve the pressure first, rag round the union, eye protection, no flame or spark near.";
const GAS: &str = "Exhaust gas kills in closed rooms: doors open, exhaust led outside.";

/// Every meter of the bench.
pub static KINDS: &[Kind] = &[
    Kind {
        name: "needle_v",
        about: "needle voltmeter at the wiper of the airflow potentiometer, 2.5 V, class 2.5, 20 kohm/V; its needle has a mass and swings",
        unit: "V",
        scale: (0.0, 2.5),
        step: 0.025,
        caution: CLEAR,
        lag_s: 0.0,
        get: wiper_at_needle,
    },
    Kind {
        name: "digital_v",
        about: "digital voltmeter at the same wiper, 2.5 readings a second",
        unit: "V",
        scale: (0.0, 5.0),
        step: 0.001,
        caution: CLEAR,
        lag_s: 0.0,
        get: wiper_at_digits,
    },
    Kind {
        name: "speed_rpm",
        about: "tachometer on a plug lead",
        unit: "rpm",
        scale: (0.0, 7000.0),
        step: 10.0,
        caution: "Ignition leads carry a voltage that kills: clip on and off with the key off.",
        lag_s: 0.3,
        get: speed,
    },
    Kind {
        name: "actuator_ma",
        about: "milliammeter in the actuator's lead",
        unit: "mA",
        scale: (-60.0, 150.0),
        step: 0.1,
        caution: CLEAR,
        lag_s: 0.15,
        get: |look| Unit::Milliampere.from_si(look.state()?.actuator_a).into(),
    },
    Kind {
        name: "duty_percent",
        about: "duty meter at the test socket",
        unit: "%",
        scale: (0.0, 100.0),
        step: 1.0,
        caution: CLEAR,
        lag_s: 0.3,
        get: |look| Some(100.0 * look.state()?.duty),
    },
    Kind {
        name: "system_bar",
        about: "pressure gauge, valve open: system pressure above ambient",
        unit: "bar",
        scale: (0.0, 10.0),
        step: 0.05,
        caution: GAUGE,
        lag_s: 0.2,
        get: |look| Some(Unit::Bar.from_si(look.engine.system_pa())),
    },
    Kind {
        name: "lower_chamber_bar",
        about: "pressure gauge, valve shut: lower chambers of the differential-pressure valves",
        unit: "bar",
        scale: (0.0, 10.0),
        step: 0.05,
        caution: GAUGE,
        lag_s: 0.2,
        get: lower_chamber,
    },
    Kind {
        name: "co_percent",
        about: "exhaust analyser before the catalyst: CO, dry; what it shows left the engine some 8 s ago",
        unit: "%",
        scale: (0.0, 10.0),
        step: 0.05,
        caution: GAS,
        lag_s: ANALYSER_S.1,
        get: |look| Some(look.state().map_or(0.0, |state| 100.0 * state.co)),
    },
    Kind {
        name: "vacuum_bar",
        about: "vacuum gauge at the manifold: below ambient",
        unit: "bar",
        scale: (0.0, 1.0),
        step: 0.01,
        caution: CLEAR,
        lag_s: 0.3,
        get: vacuum,
    },
    Kind {
        name: "sensor_v",
        about: "digital voltmeter at the lambda sensor",
        unit: "V",
        scale: (0.0, 1.0),
        step: 0.01,
        caution: "The sensor's lead runs beside the exhaust: hot.",
        lag_s: 0.1,
        get: |look| Some(look.state()?.sensor_v),
    },
    Kind {
        name: "idle_valve_percent",
        about: "duty meter at the idle air valve",
        unit: "%",
        scale: (0.0, 100.0),
        step: 1.0,
        caution: CLEAR,
        lag_s: 0.3,
        get: |look| Some(100.0 * look.state()?.idle_valve),
    },
];

fn supplied(workplace: &Workplace) -> f64 {
    if workplace.key_is_on() { 1.0 } else { 0.0 }
}

fn wiper(look: &Look<'_>, meter_ohm: f64) -> Option<f64> {
    let engine = look.engine;
    Some(supplied(look.workplace) * loaded_v(engine.wiper_v(), engine.wiper_ohm(), meter_ohm))
}

fn wiper_at_needle(look: &Look<'_>) -> Option<f64> {
    wiper(look, NEEDLE.1 * NEEDLE.2)
}

fn wiper_at_digits(look: &Look<'_>) -> Option<f64> {
    wiper(look, DIGITAL_OHM)
}

fn speed(look: &Look<'_>) -> Option<f64> {
    let engine = look.engine;
    let turns = engine.stalled_at_s().is_none();
    Some(if turns { Unit::Rpm.from_si(engine.speed_rad_s()) } else { 0.0 })
}

fn lower_chamber(look: &Look<'_>) -> Option<f64> {
    Some(Unit::Bar.from_si(look.engine.fuel_readings().lower_chamber_pa))
}

fn vacuum(look: &Look<'_>) -> Option<f64> {
    let Some(state) = look.state() else { return Some(0.0) };
    let ambient_pa =
        sim_core::air::atmosphere::standard_pressure_pa(look.engine.setup().conditions.altitude_m);
    Some(Unit::Bar.from_si((ambient_pa.min(1.1 * ATMOSPHERE_PA) - state.manifold_pa).max(0.0)))
}

impl Kind {
    /// The meter of a name.
    pub fn find(name: &str) -> Option<&'static Kind> {
        KINDS.iter().find(|kind| kind.name == name)
    }

    /// What a person writes down of a value it shows: the nearest step that can be read.
    pub fn read(&self, shown: f64) -> f64 {
        tidy((shown / self.step).round() * self.step)
    }

    /// Decimals that its step needs.
    pub fn decimals(&self) -> usize {
        (0..4).find(|places| (self.step * 10f64.powi(*places)).fract().abs() < 1e-9).unwrap_or(3)
            as usize
    }
}

/// A meter that is clipped on.
#[derive(Clone)]
pub struct Clipped {
    /// What it is.
    pub kind: &'static Kind,
    inside: Inside,
}

#[derive(Clone)]
enum Inside {
    Needle(Needle),
    Digital(Digital),
    /// What it shows, and what is on its way in a hose.
    Lagging {
        shown: Option<f64>,
        hose: VecDeque<f64>,
        since_s: f64,
    },
}

impl Clipped {
    /// A meter just clipped on: at its zero.
    pub fn new(kind: &'static Kind) -> Clipped {
        let inside = match kind.name {
            "needle_v" => Inside::Needle(Needle::new(NEEDLE.0, NEEDLE.1, NEEDLE.2)),
            "digital_v" => Inside::Digital(Digital::default()),
            "co_percent" => {
                let hose = VecDeque::from(vec![0.0; (ANALYSER_S.0 / SAMPLE_S) as usize]);
                Inside::Lagging { shown: Some(0.0), hose, since_s: 0.0 }
            }
            _ => Inside::Lagging { shown: None, hose: VecDeque::new(), since_s: 0.0 },
        };
        Clipped { kind, inside }
    }

    /// Lets a tick pass.
    pub fn tick(&mut self, look: &Look<'_>) {
        let fed = (self.kind.get)(look).filter(|value| value.is_finite());
        match &mut self.inside {
            Inside::Needle(needle) => needle.feed(fed.unwrap_or(0.0), TICK_S),
            Inside::Digital(digital) => digital.feed(fed.unwrap_or(0.0), TICK_S),
            Inside::Lagging { shown, hose, since_s } => {
                let mut fed = fed;
                if let (Some(value), Some(front)) = (fed, hose.front().copied()) {
                    *since_s += TICK_S;
                    if *since_s > SAMPLE_S - 1e-9 {
                        *since_s = 0.0;
                        hose.pop_front();
                        hose.push_back(value);
                    }
                    fed = Some(front);
                }
                let follows = 1.0 - (-TICK_S / self.kind.lag_s).exp();
                *shown = match (*shown, fed) {
                    (Some(shown), Some(fed)) => Some(shown + follows * (fed - shown)),
                    (_, fed) => fed,
                };
            }
        }
    }

    /// What it shows, in its unit.
    pub fn shown(&self) -> Option<f64> {
        let (low, high) = self.kind.scale;
        match &self.inside {
            Inside::Needle(needle) => Some(needle.pointer_v()),
            Inside::Digital(digital) => Some(digital.shown_v()),
            Inside::Lagging { shown, .. } => {
                shown.map(|shown| self.kind.read(shown.clamp(low, high)))
            }
        }
    }

    /// What a person writes down of it.
    pub fn reading(&self) -> Option<f64> {
        self.shown().map(|shown| self.kind.read(shown))
    }
}
