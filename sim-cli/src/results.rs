//! What commands found, as data: structs that serialise to the JSON of their command and give
//! the rows of its CSV. Tables, charts, quiz and sheets read the same structs.

pub mod advise;
pub mod bleed;
pub mod cautions;
pub mod claims;
pub mod coldmap;
pub mod coldstart;
pub mod completions;
pub mod consequences;
pub mod diagnose;
pub mod draw;
pub mod fit;
pub mod fit_trial;
pub mod flowstart;
pub mod gas;
pub mod interval;
pub mod jobsheet;
pub mod listen;
pub mod live;
pub mod meter;
pub mod parts;
pub mod point;
pub mod predict;
pub mod procedure;
pub mod readings;
pub mod relearn;
pub mod rig;
pub mod run;
pub mod supply;
pub mod sweep;
pub mod trace;
pub mod valves;
pub mod wear;
