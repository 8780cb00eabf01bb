//! An act as text, answered with text: the top of the bench.

use crate::act::Answer;
use crate::acts::{ACTS, find, help};
use crate::arguments::Arguments;
use crate::bench::{Bench, PREDICT_FIRST};
use crate::frame::frame;
use serde_json::{Map, Value, json};
use sim_core::rig::keys::nearest_word;
use sim_core::wording::did_you_mean;

/// The longest act (bytes).
const ACT_MOST: usize = 4 << 20;
const EXAMPLE: &str = "An example: {\"act\": \"look\"}; {\"act\": \"help\"} lists all acts.";

impl Default for Bench {
    /// The rig `six`, as it stands in the workshop.
    fn default() -> Bench {
        let nothing = Map::new();
        // The shipped rig always reads; every test begins with it.
        Bench::begin(&Arguments::none(&nothing)).unwrap_or_else(|why| unreachable!("{why}"))
    }
}

/// An answer that is an error.
pub fn error(sentence: &str) -> String {
    json!({ "error": sentence }).to_string()
}

impl Bench {
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
            Err(why) => error(&why),
        }
    }

    fn answer_value(&mut self, value: &Value) -> Result<Value, String> {
        let given = value.as_object().ok_or(format!("An act is an object. {EXAMPLE}"))?;
        let name = given.get("act").and_then(Value::as_str);
        let name = name.ok_or(format!("An act names itself in `act`. {EXAMPLE}"))?;
        let act = find(name).ok_or_else(|| {
            let near = did_you_mean(nearest_word(name, ACTS.iter().map(|act| act.name)));
            format!("There is no act \"{name}\"{near}; `help` lists them.")
        })?;
        let arguments = Arguments::checked(act.arguments, given)
            .map_err(|why| format!("{}: {why}", act.name))?;
        if self.prediction_due && act.moves {
            return Err(PREDICT_FIRST.into());
        }
        let before = act.changes.then(|| self.clone());
        self.now.hearing.begin_frame();
        self.caution = None;
        let done = (act.run)(self, &arguments).and_then(|answer| match answer {
            Answer::Help => Ok(Some(help())),
            Answer::Own(answer) => Ok(Some(answer)),
            Answer::Frame => Ok(None),
            Answer::Replay => {
                *self = replayed(arguments.get("session").unwrap_or(&Value::Null))?;
                Ok(None)
            }
        });
        match done {
            Ok(Some(answer)) => Ok(answer),
            Ok(None) => {
                if act.changes {
                    self.note_act(act.name, value);
                }
                if act.moves {
                    self.caution = self.caution.or(act.caution);
                }
                Ok(frame(self))
            }
            Err(why) => {
                if let Some(before) = before {
                    *self = before;
                }
                Err(why)
            }
        }
    }
}

/// A session done again on a new bench.
fn replayed(session: &Value) -> Result<Bench, String> {
    let mut begin = session["begin"].as_object().cloned().unwrap_or_default();
    let acts = session["acts"].as_array().ok_or("`session` is what the act `session` gave.")?;
    begin.insert("act".into(), json!("begin"));
    let mut bench = Bench::default();
    bench.answer_value(&Value::Object(begin))?;
    for (i, act) in acts.iter().enumerate() {
        let name = act.get("act").and_then(Value::as_str).unwrap_or_default();
        if ["replay", "begin"].contains(&name) {
            return Err(format!("Act {} of the session: a session holds no `{name}`.", i + 1));
        }
        bench.answer_value(act).map_err(|why| format!("Act {} of the session: {why}", i + 1))?;
    }
    Ok(bench)
}
