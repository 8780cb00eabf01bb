//! The bench: a car as a trainee finds it, and what hands, eyes, ears and meters can do with it.
//!
//! A [`Bench`] takes one act after the other as JSON text and answers each with JSON text. It
//! has no clock, no files, no network and no threads: time passes by the act `wait` alone. The
//! same acts give the same answers, natively and in a page.
//!
//! ```
//! let mut bench = live::Bench::default();
//! bench.answer(r#"{"act": "clip", "meter": "speed_rpm"}"#);
//! bench.answer(r#"{"act": "key", "to": "start"}"#);
//! let frame = bench.answer(r#"{"act": "wait", "seconds": 60}"#);
//! assert!(frame.contains(r#""engine":"running""#), "{frame}");
//! ```
//!
//! # Protocol
//!
//! An act is `{"act": NAME, ...arguments}`. `{"act": "help"}` lists every act with its
//! arguments, units, ranges, caution and what goes wrong when the caution is not heeded, and
//! every meter with its unit, scale, reading step and caution. The answer is one of
//!
//! - a **frame**, for every act but those below;
//! - `{"error": SENTENCE}`: the act could not be done, and nothing has changed;
//! - what `help`, `notes` and `session` give.
//!
//! Any text gets an answer; none ends the bench. An argument that is null counts as left out.
//!
//! ## Begin
//!
//! `{"act": "begin", "rig": {"name", "keys"}, "conditions": {KEY: VALUE}, "failed":
//! ["SENSOR=MODE"], "found": SEED, "seed": SEED, "lesson": {"number", "title", "task",
//! "question"}, "view": "teaching"|"exercise"}`; every argument may be left out. `rig` is a rig
//! file's name and keys, as [`rig_keys`] writes them; `six` stands there unless another is given.
//! The car stands, its key off, at 20 degC, its lines full. `found` draws what the last owner
//! has left wrong; it and the conditions are told to nobody. The view is that of an exercise
//! unless there is a lesson. With a `lesson` every act that moves something is refused until
//! `predict` has been done.
//!
//! ## The frame
//!
//! A frame carries only what is clipped on, seen, heard or smelt. Its keys are always there.
//!
//! - `time_s`: the bench's clock. `back` sets it back.
//! - `clipped`: `{METER: value}`, the meters that are clipped on and nothing else; `null` where a
//!   meter has nothing to show. In the unit of `help`.
//! - `heard`
//!   - `engine`: `"silent" | "cranking" | "running"`.
//!   - `beats`: `[[time_s, cylinder, work], ...]` of the last wait, at most the last 64. `cylinder`
//!     counts from 1 in the order in which they fire; `work` is 1 for a mean beat and near 0, or
//!     below, for a lost one. An act other than `wait` has none.
//!   - `beats_passed`, `lost_beats`: how many there were in all.
//!   - `evenness`: `"even" | "a little uneven" | "rough" | "very rough"`, by the ear's memory of
//!     the last beats; `speed`: `"steady" | "hunting" | "sagging" | "rising"`; both null where
//!     it does not run.
//!   - `hiss`: a leak whistles. `pump`: the pump hums.
//! - `seen`
//!   - `key`: `"off" | "on" | "start"`; `battery`, `jumper`, `fan_turns`, `dripping`: flags.
//!   - `screw`: `tool_in`; `turned`, in turns since the car was found, in is plus.
//!   - `plate_by_eye_mm`: the plate above its rest from above, to a millimetre;
//!     `plate_lifted_mm`: how far a hand holds it.
//!   - `pedal_percent`; `housing`: `loose`, `turned_mm` since the car was found.
//!   - `connectors`: `{PART: flag}`, whether each is on.
//!   - `lines`: `"engine" | "glasses"`; `glasses`: null, or `{"ml": [...], "flows": ["dry" |
//!     "drops" | "stream", ...]}`, one for each line, read by eye to 0.5 ml.
//!   - `smoke`: `"none" | "black"`; `smell`: `"none" | "petrol"`.
//!   - `coolant`: the dashboard's gauge, `"cold" | "warming up" | "warm"`; null with the key off.
//!   - `section`: null in an exercise. In the teaching view: `plate_above_rest_mm`,
//!     `plate_above_throat_mm`, `lever_deg` and `arm_deg` (from level), `plunger_mm` (above its
//!     seat), `slit_opening_mm`, `slit_above_mm` (the metering edge above the slit's lower edge,
//!     below 0 while it is shut), `roller_gap_mm`, `play_mm` (of the plate before the roller
//!     meets the plunger), `screw_turns`, `screw_mm` (in for it), `stop_mm` (raised),
//!     `system_bar`, `lower_chamber_bar`, and `slit_drop_bar`, null of an engine that stands.
//! - `notes`: the last twelve notes, each `n` (its number), `time_s`, `kind` (`"done" |
//!   "happened" | "prediction" | "reading" | "moment"`), `text`, and, where they belong to it,
//!   `meter`, `unit`, `predicted`, `reading`, `difference`. `{"act": "notes"}` gives all.
//! - `sentence`: what just happened, in plain words. `caution`: that of the act just done, or null.
//! - `task`: null, or the lesson: `lesson`, `title`, `task`, `question`, `prediction_due`.
//! - `kept`: the names of the moments that `back` can go to.
//!
//! ## Time
//!
//! `{"act": "wait", "seconds": S}`, up to 600 s at once. The engine is worked out every 10 ms of
//! it, however fast the page's clock goes; what is left of a tick waits for the next.
//!
//! ## Session
//!
//! `{"act": "session"}` gives `{"begin", "acts", "sources"}` (`sources`: hash of what the page's
//! module was built from, empty elsewhere); `{"act": "replay", "session": ...}` does them
//! again and answers with the last frame. Waits that follow each other are one; what only looks
//! is not in it. It holds what the car began with: a page keeps it, and shows it to nobody.
//!
//! ## In a page
//!
//! The crate compiles to WebAssembly without imports and exports three functions over a byte
//! buffer (`boundary.rs`): `allocate(n) -> place`, `answer(place, n) -> place` of four bytes of
//! length and the answer, `free(place, n)`. A trap (a panic) leaves the bench as it was before
//! the act; the next answer says what went wrong.

mod act;
mod acts;
mod answer;
mod arguments;
mod bench;
#[cfg(target_arch = "wasm32")]
mod boundary;
mod car;
mod frame;
mod glasses;
mod hearing;
mod meter;
mod notebook;
mod workplace;

pub use bench::Bench;
pub use car::{rig_keys, workshop};
