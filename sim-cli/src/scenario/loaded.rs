//! A rig under conditions, ready to run.

use super::conditions::{flag_keys, value_of};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::conditions::{IdleAir, Trim};
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::Setup;
use sim_core::run::start::flows_at_rest;
use sim_core::sense::faults::ThrottleSwitch;

/// A rig under conditions, as asked for.
pub struct Scenario {
    /// The rig as its file gives it.
    pub file: RigFile,
    /// The rig with what was set, and the conditions.
    pub setup: Setup,
    /// The flags that differ from the defaults, canonically, each with a space before it.
    pub flags: String,
    /// The same in words, but for what [`Scenario::words`] says anyway.
    pub(super) changed: Vec<String>,
    /// Sensors that have failed, as typed.
    pub(super) failed: Vec<String>,
    /// Flags given that do not matter, and why.
    pub(super) idle_flags: Vec<(String, &'static str)>,
}

impl Serialize for Scenario {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("rig", &self.file.name)?;
        for key in flag_keys() {
            map.serialize_entry(key.name, &value_of(key, &self.setup))?;
        }
        map.serialize_entry("failed", &self.failed)?;
        map.end()
    }
}

impl Scenario {
    /// Sensors that have failed, as typed.
    pub fn failed(&self) -> &[String] {
        &self.failed
    }

    /// Notes that flags given do not matter to the command.
    pub fn idle_flags(&self) -> impl Iterator<Item = String> {
        self.idle_flags.iter().map(|(flag, why)| format!("{flag} does not matter here: {why}."))
    }

    /// Whether fuel runs into the standing engine with the screw where it is.
    pub fn fuel_flows_at_rest(&self) -> bool {
        flows_at_rest(&self.setup)
    }

    /// The conditions in words for a chart or a heading.
    pub fn words(&self) -> String {
        let conditions = &self.setup.conditions;
        let trim = match conditions.trim {
            Trim::On => "trim on",
            Trim::Off => "trim off",
        };
        let throttle = &self.setup.rig.parts().throttle;
        let released = throttle.held_open_share(conditions.linkage_play_m);
        let open = throttle.effective_m2(released) >= throttle.idle_switch_opens_m2()
            || conditions.faults.throttle_switch == ThrottleSwitch::NoIdle;
        let idle = match (conditions.throttle > 0.0, conditions.idle_air) {
            (true, _) => "speed held by a brake",
            _ if open => "idle switch open, air valve left where it was",
            (_, IdleAir::Held) => "idle air held",
            (_, IdleAir::Fixed) => "idle air fixed",
            (_, IdleAir::Unpowered) => "idle air valve without current",
        };
        let changed: String = self.changed.iter().map(|words| format!("; {words}")).collect();
        format!("Rig {}, invented; warm point, {trim}, {idle}{changed}", self.file.name)
    }
}
