//! The running engine: manifold, crank, plate and wall film between the ticks of a
//! controller.
//!
//! What feeds back within a tick is integrated ([`dynamics`]), up to the moment at which the
//! plate sticks, slides or meets its stop (`plate`) or the engine stalls; what does not
//! (gas on its way, the sensor's lag) is advanced once a tick ([`transport_delay`]); the controller
//! decides once a tick ([`controls`]). `driver_input` is the driver, [`procedure`] what is done to
//! the engine, [`record`] what is written down of it. [`voltmeter`] puts a voltmeter on,
//! [`idle_wear`] wears the potentiometer's track.

mod action;
mod apply;
pub mod attribution;
mod charges;
pub mod controls;
mod cycle_works;
mod driver_input;
pub mod dynamics;
mod engine;
mod equations;
mod fuel_state;
pub mod idle_wear;
mod learned_trim;
pub mod open_loop;
mod options;
mod phase;
mod plate;
mod port_store;
pub mod procedure;
mod readings;
pub mod record;
pub mod restart;
pub mod settling;
pub mod stability;
pub mod stall_cause;
mod stalls;
pub mod start;
mod start_phase;
mod step;
pub mod transport_delay;
mod trend;
pub mod trial;
pub mod valves;
pub mod voltmeter;

pub use action::{Action, ActionError, Value};
pub use cycle_works::Firing;
pub use engine::{Engine, Flow};
pub use fuel_state::FuelLedger;
pub use options::{EVENTS_MOST, Options, RunFault, STEPS_MOST, TICK_S};
