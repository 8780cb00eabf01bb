//! The idle as it is heard: each cylinder's work, cycle by cycle, as an exhaust beat.
//!
//! The engine runs in time on works drawn by chance ([`Options::works`](crate::run::Options::works)); what it sounds like
//! is made up from them ([`BEAT`]). A synthesis of computed work, no recording.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::sound::listen;
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let idle = listen(&setup, 1, 4.0).unwrap();
//! let told = idle.statistics();
//! assert!(told.cycles > 120 && told.lost_cycles == 0 && idle.stalled_at_s.is_none());
//! assert_eq!(idle.samples.len(), 4 * 44_100);
//! ```

mod beat;
mod listened;
mod statistics;

pub use beat::{BEAT, Beat, Resonance};
pub use listened::{Listened, RATE_HZ, listen};
pub use statistics::{Statistics, half_order};
