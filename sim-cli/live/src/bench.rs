//! The bench: one car, one notebook, acts one after the other.

use crate::arguments::Arguments;
use crate::car;
use crate::glasses::Glasses;
use crate::hearing::Hearing;
use crate::meter::{Clipped, Look};
use crate::notebook::{Notebook, Sort};
use crate::workplace::{KeyAt, Workplace};
use serde_json::{Map, Value, json};
use sim_core::rig::keys::Setup;
use sim_core::run::{Action, Engine, Options, TICK_S};

/// Hash of the sources that the page's module was built from; empty in a native program.
const SOURCES: &str = match option_env!("QUARTERTURN_SOURCES") {
    Some(hash) => hash,
    None => "",
};
/// The most moments that are kept to go back to.
pub const KEPT_MOST: usize = 24;
/// The most acts of a session; beyond it cannot be replayed.
const ACTS_MOST: usize = 5_000;
/// Intake pulsation at the plate, share of the flow: that of a voltmeter's run in sim-core.
const PULSATION: f64 = sim_core::run::voltmeter::PULSATION;

/// What a session begins with.
#[derive(Clone)]
pub struct Beginning {
    /// The arguments of `begin`, as given.
    pub given: Map<String, Value>,
    /// Name of the rig.
    pub rig: String,
    /// Seed of all that is drawn by chance.
    pub seed: u64,
    /// Seed of the car's hidden state, if it has one of its own.
    pub found: Option<u64>,
    /// The lesson.
    pub lesson: Option<Lesson>,
}

/// A lesson's task, put before anything moves.
#[derive(Clone)]
pub struct Lesson {
    /// Its number.
    pub number: u64,
    /// Its title.
    pub title: String,
    /// What to do.
    pub task: String,
    /// What to predict.
    pub question: String,
}

/// Everything that a moment is made of: what can be gone back to.
#[derive(Clone)]
pub struct Moment {
    /// The engine.
    pub engine: Engine,
    /// What stands around it.
    pub workplace: Workplace,
    /// Meters clipped on.
    pub meters: Vec<Clipped>,
    /// The ear.
    pub hearing: Hearing,
    /// Glasses under the lines.
    pub glasses: Glasses,
    /// What of the seconds asked for is no whole tick yet (s).
    pub rest_s: f64,
}

/// The bench.
#[derive(Clone)]
pub struct Bench {
    /// What it began with.
    pub beginning: Beginning,
    /// Now.
    pub now: Moment,
    /// Kept moments, by name.
    pub kept: Vec<(String, Moment)>,
    /// The notebook.
    pub notebook: Notebook,
    /// Whether the lesson still waits for its prediction.
    pub prediction_due: bool,
    /// Whether the section is cut open.
    pub teaching: bool,
    /// Acts done, but for those that only look; waits one after the other are one.
    acts: Vec<Value>,
    /// Ticks of the wait that is going on.
    ticks_waited: u64,
    /// What the last act or the last wait brought, in words.
    pub sentence: String,
    /// The caution of the last act.
    pub caution: Option<&'static str>,
}

impl Bench {
    /// A car as it is found, by the arguments of `begin`.
    pub fn begin(arguments: &Arguments<'_>) -> Result<Bench, String> {
        let (rig, mut setup) = car::rig_of(arguments.get("rig"))?;
        if let Some(values) = arguments.get("conditions") {
            car::give(&mut setup, values.as_object().ok_or("`conditions` is an object.")?)?;
        }
        if let Some(faults) = arguments.get("failed") {
            car::fail(&mut setup, faults.as_array().ok_or("`failed` is a list.")?)?;
        }
        let whole = |name: &str| arguments.number(name).map(|number| number as u64);
        let found = whole("found");
        if let Some(seed) = found {
            car::misuse(&mut setup, seed);
        }
        let lesson = arguments.get("lesson").map(Lesson::of).transpose()?;
        let teaching = match arguments.text("view") {
            Some(view) => view == "teaching",
            None => lesson.is_some() && found.is_none(),
        };
        let mut given = arguments.all().clone();
        given.remove("act");
        let seed = whole("seed").unwrap_or(1);
        let beginning = Beginning { given, rig, seed, found, lesson };
        Ok(Bench::standing(beginning, &setup, teaching))
    }

    fn standing(beginning: Beginning, setup: &Setup, teaching: bool) -> Bench {
        let seed = beginning.seed;
        let options = Options { seed, works: true, pulsation: PULSATION, ..Options::default() };
        let prediction_due = beginning.lesson.is_some();
        let sentence = match prediction_due {
            true => PREDICT_FIRST,
            false => "The car stands in the workshop as it was brought in. The key is off.",
        };
        Bench {
            now: Moment {
                engine: Engine::standing(setup, options),
                workplace: Workplace::new(setup.conditions.faults),
                meters: Vec::new(),
                hearing: Hearing::default(),
                glasses: Glasses::default(),
                rest_s: 0.0,
            },
            beginning,
            kept: Vec::new(),
            notebook: Notebook::default(),
            prediction_due,
            teaching,
            acts: Vec::new(),
            ticks_waited: 0,
            sentence: sentence.into(),
            caution: None,
        }
    }

    /// The session so far: what it began with and every act that counts.
    pub fn session(&self) -> Value {
        json!({ "begin": self.beginning.given, "acts": self.acts, "sources": SOURCES })
    }

    /// Notes an act for the session.
    pub fn note_act(&mut self, name: &str, value: &Value) {
        if name == "wait" {
            self.note_wait();
        } else if self.acts.len() < ACTS_MOST {
            self.acts.push(value.clone());
        }
    }

    /// Notes a wait by the ticks it has brought, so that a replay brings as many.
    fn note_wait(&mut self) {
        let mut ticks = std::mem::take(&mut self.ticks_waited);
        if let Some(last) = self.acts.last_mut()
            && last["act"] == "wait"
        {
            let before = (last["seconds"].as_f64().unwrap_or(0.0) / TICK_S).round() as u64;
            let fits = ((WAIT_MOST_S / TICK_S) as u64).saturating_sub(before).min(ticks);
            last["seconds"] = json!((before + fits) as f64 * TICK_S);
            ticks -= fits;
        }
        if ticks > 0 && self.acts.len() < ACTS_MOST {
            self.acts.push(json!({ "act": "wait", "seconds": ticks as f64 * TICK_S }));
        }
    }

    /// Time of the bench's clock (s).
    pub fn time_s(&self) -> f64 {
        self.now.engine.time_s()
    }

    /// Writes a note about something done.
    pub fn done(&mut self, words: impl Into<String>) {
        self.tell(Sort::Done, words);
    }

    /// Says what happened, and notes it.
    pub fn tell(&mut self, sort: Sort, words: impl Into<String>) {
        let words = words.into();
        self.notebook.write(self.time_s(), sort, words.clone());
        self.sentence = words;
    }

    /// Does something to the engine; its refusal as a sentence.
    pub fn apply(&mut self, action: &Action) -> Result<(), String> {
        self.now.engine.apply(action).map_err(|why| sentence_of(&why.to_string()))
    }

    /// Lets time pass. No physics is skipped, however long it is.
    pub fn wait(&mut self, seconds: f64) -> Result<(), String> {
        self.now.rest_s += seconds;
        // A tick that lacks less than a thousandth of itself is whole.
        let ticks = (self.now.rest_s / TICK_S + 1e-3).floor() as u64;
        self.now.rest_s = (self.now.rest_s - ticks as f64 * TICK_S).max(0.0);
        let mut happened = None;
        for _ in 0..ticks {
            happened = self.tick()?.or(happened);
        }
        self.ticks_waited += ticks;
        if let Some(words) = happened {
            self.sentence = words;
        }
        Ok(())
    }

    /// A tick: engine, meters, ear; what happened in it.
    fn tick(&mut self) -> Result<Option<String>, String> {
        let Moment { engine, workplace, meters, hearing, glasses, .. } = &mut self.now;
        let (cranked, stood) = (engine.is_cranking(), engine.stalled_at_s().is_some());
        let (wet, showed) = (is_wet(engine), glasses.shows(engine));
        engine.tick().map_err(|why| {
            format!("The model cannot go on ({why}). Nothing was done: go back to a kept moment or begin anew.")
        })?;
        let look = Look::new(engine, workplace);
        meters.iter_mut().for_each(|meter| meter.tick(&look));
        hearing.tick(engine);
        if workplace.lines_open {
            glasses.tick(engine);
        }
        let (cranks, stands) = (engine.is_cranking(), engine.stalled_at_s().is_some());
        let words = if cranked && !cranks && !stands {
            workplace.key = KeyAt::On;
            "The engine has caught; the key springs back to on.".to_string()
        } else if stands && !stood && workplace.key == KeyAt::Off {
            "The engine has run down.".into()
        } else if stands && !stood {
            match engine.stalled_because().filter(|_| self.teaching) {
                Some(cause) => format!("The engine has died, {}.", cause.sentence()),
                None => "The engine has died.".into(),
            }
        } else if !wet && is_wet(engine) {
            FLOODED.into()
        } else if !showed && glasses.shows(engine) {
            "Fuel shows at a line.".into()
        } else if showed && !glasses.shows(engine) {
            "No line shows fuel any more.".into()
        } else {
            let cranked_s = engine.time_s() - workplace.cranking_since_s;
            if !cranks || (cranked_s - REST_AFTER_S).abs() > 0.5 * TICK_S {
                return Ok(None);
            }
            "The starter has turned for ten seconds and gets hot: let it rest, it burns out.".into()
        };
        self.notebook.write(self.now.engine.time_s(), Sort::Happened, words.clone());
        Ok(Some(words))
    }

    /// Whether the engine turns.
    pub fn turns(&self) -> bool {
        self.now.engine.stalled_at_s().is_none()
    }
}

/// Fuel in the ports of a standing engine that a nose finds (kg): our own.
const WET_KG: f64 = 1e-3;
const FLOODED: &str = "It smells of petrol: fuel has run into the standing engine. Stop the pump, do not crank, let it dry.";

/// Whether fuel has run into a standing engine so far that it is smelt.
pub fn is_wet(engine: &Engine) -> bool {
    engine.fuel_readings().ports_kg > WET_KG
}

/// How long a starter turns before it should rest (s): common practice, no source.
const REST_AFTER_S: f64 = 10.0;
/// What a lesson says before its prediction.
pub const PREDICT_FIRST: &str = "Write your prediction first: the car waits for it.";
/// The longest wait at once (s).
pub const WAIT_MOST_S: f64 = 600.0;

/// Words as a sentence.
pub fn sentence_of(words: &str) -> String {
    let mut sentence = format!("{words}.");
    if let Some(first) = sentence.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    sentence
}

impl Lesson {
    fn of(value: &Value) -> Result<Lesson, String> {
        let text = |name: &str| value[name].as_str().unwrap_or_default().to_string();
        let number = value["number"].as_u64();
        Ok(Lesson {
            number: number
                .ok_or("`lesson` is an object with `number`, `title`, `task`, `question`.")?,
            title: text("title"),
            task: text("task"),
            question: text("question"),
        })
    }
}
