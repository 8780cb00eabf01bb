//! The bench: one car, one notebook, acts one after the other.

use crate::acts::{ACTS, Act};
use crate::arguments::Arguments;
use crate::car;
use crate::frame;
use crate::glasses::Glasses;
use crate::hearing::Hearing;
use crate::meter::Clipped;
use crate::notebook::{Notebook, Sort};
use crate::workplace::{KeyAt, Workplace};
use serde_json::{Map, Value, json};
use sim_core::rig::keys::{Setup, nearest_word};
use sim_core::run::{Action, Engine, Options, TICK_S};
use sim_core::wording::did_you_mean;

/// The longest act (bytes).
const ACT_MOST: usize = 4 << 20;
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

impl Default for Bench {
    /// The rig `six`, as it stands in the workshop.
    fn default() -> Bench {
        // The shipped rig always reads; a test begins it.
        Bench::begin(&Map::new()).unwrap_or_else(|why| unreachable!("{why}"))
    }
}

impl Bench {
    /// A car as it is found, by the arguments of `begin`.
    pub fn begin(given: &Map<String, Value>) -> Result<Bench, String> {
        let act = Act::find("begin").ok_or("no begin")?;
        let arguments = Arguments::checked(act.arguments, given)?;
        let (rig, mut setup) = car::rig_of(arguments.text("rig").unwrap_or("six"))?;
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
        let mut given = given.clone();
        given.remove("act");
        let seed = whole("seed").unwrap_or(1);
        let beginning = Beginning { given, rig, seed, found, lesson };
        Ok(Bench::standing(beginning, &setup, teaching))
    }

    fn standing(beginning: Beginning, setup: &Setup, teaching: bool) -> Bench {
        let seed = beginning.seed;
        let options =
            Options { seed, torque_noise: true, pulsation: PULSATION, ..Options::default() };
        let prediction_due = beginning.lesson.is_some();
        let sentence = match prediction_due {
            true => "Write your prediction first: the car waits for it.",
            false => "The car stands in the workshop as it was brought in. The key is off.",
        };
        Bench {
            now: Moment {
                engine: Engine::standing(setup, options),
                workplace: Workplace::new(setup.conditions.faults),
                meters: Vec::new(),
                hearing: Hearing::new(seed, setup.rig.parts().slits.width_m.len()),
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

    /// Answers an act, as JSON text with JSON text: a frame, or `{"error": sentence}` and
    /// nothing is changed. Any text gets an answer.
    pub fn answer(&mut self, text: &str) -> String {
        let value = match text.len() > ACT_MOST {
            true => Err(format!("The act is longer than {ACT_MOST} bytes.")),
            false => serde_json::from_str::<Value>(text)
                .map_err(|why| format!("This is no JSON: {why}. {EXAMPLE}")),
        };
        match value.and_then(|value| self.answer_value(&value)) {
            Ok(answer) => answer.to_string(),
            Err(why) => crate::error(&why),
        }
    }

    /// The same with JSON values.
    pub fn answer_value(&mut self, value: &Value) -> Result<Value, String> {
        let given = value.as_object().ok_or(format!("An act is an object. {EXAMPLE}"))?;
        let name = given.get("act").and_then(Value::as_str);
        let name = name.ok_or(format!("An act names itself in `act`. {EXAMPLE}"))?;
        let act = Act::find(name).ok_or_else(|| {
            let near = did_you_mean(nearest_word(name, ACTS.iter().map(|act| act.name)));
            format!("There is no act \"{name}\"{near}; `help` lists them.")
        })?;
        let arguments = Arguments::checked(act.arguments, given)
            .map_err(|why| format!("{}: {why}", act.name))?;
        if self.prediction_due && act.moves {
            return Err("Write your prediction first: the car waits for it.".into());
        }
        let before = act.changes.then(|| self.clone());
        self.now.hearing.begin_frame();
        self.caution = None;
        match (act.run)(self, &arguments) {
            Ok(Some(answer)) => Ok(answer),
            Ok(None) => {
                self.note_act(act, value);
                if act.moves {
                    self.caution = self.caution.or(act.caution);
                }
                Ok(frame::frame(self))
            }
            Err(why) => {
                if let Some(before) = before {
                    *self = before;
                }
                Err(why)
            }
        }
    }

    /// Replays acts on a new bench; the last frame.
    pub fn replay(begin: &Map<String, Value>, acts: &[Value]) -> Result<Bench, String> {
        let mut bench = Bench::begin(begin)?;
        for (i, act) in acts.iter().enumerate() {
            let name = act.get("act").and_then(Value::as_str).unwrap_or_default();
            if ["replay", "begin"].contains(&name) {
                return Err(format!("Act {} of the session: a session holds no `{name}`.", i + 1));
            }
            bench
                .answer_value(act)
                .map_err(|why| format!("Act {} of the session: {why}", i + 1))?;
        }
        Ok(bench)
    }

    /// The session so far: what it began with and every act that counts.
    pub fn session(&self) -> Value {
        json!({ "begin": self.beginning.given, "acts": self.acts, "sources": crate::SOURCES })
    }

    fn note_act(&mut self, act: &Act, value: &Value) {
        if !act.changes {
            return;
        }
        if act.name == "wait" {
            self.note_wait();
            return;
        }
        if self.acts.len() < ACTS_MOST {
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
        for meter in meters.iter_mut() {
            meter.tick(engine, workplace);
        }
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
/// The longest wait at once (s).
pub const WAIT_MOST_S: f64 = 600.0;

const EXAMPLE: &str = "An example: {\"act\": \"look\"}; {\"act\": \"help\"} lists all acts.";

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
