//! The glasses under opened lines, as an eye sees them.

use serde_json::{Value, json};
use sim_core::run::{Engine, TICK_S};

/// Step to which an eye reads a glass (ml).
const EYE_ML: f64 = 0.5;
/// Flow from which drops are a stream (m3/s): 1 ml/min, our own.
const STREAM_M3_S: f64 = 1e-6 / 60.0;

/// What runs into each glass.
#[derive(Clone, Default)]
pub struct Glasses {
    before_m3: Vec<f64>,
    flow_m3_s: Vec<f64>,
}

impl Glasses {
    /// Empty glasses.
    pub fn empty(&mut self) {
        *self = Glasses::default();
    }

    /// Looks at them after a tick.
    pub fn tick(&mut self, engine: &Engine) {
        let count = engine.setup().rig.parts().slits.width_m.len();
        let hold_m3 = engine.fuel_readings().glasses_m3;
        let hold_m3 = &hold_m3[..count];
        if self.before_m3.len() == count {
            let pairs = hold_m3.iter().zip(&self.before_m3);
            self.flow_m3_s = pairs.map(|(now, before)| (now - before) / TICK_S).collect();
        }
        self.before_m3 = hold_m3.to_vec();
    }

    /// What is seen: how full each is (ml), and how each line flows.
    pub fn frame(&self, engine: &Engine) -> Value {
        let parts = engine.setup().rig.parts();
        let count = parts.slits.width_m.len();
        let ml = engine.fuel_readings().glasses_m3[..count]
            .iter()
            .map(|m3| (1e6 * m3 / EYE_ML).round() * EYE_ML)
            .collect::<Vec<_>>();
        let flows = (0..count).map(|line| {
            let flow = self.flow_m3_s.get(line).copied().unwrap_or(0.0);
            if flow >= STREAM_M3_S {
                "stream"
            } else if flow >= parts.flow_threshold_m3_s {
                "drops"
            } else {
                "dry"
            }
        });
        json!({ "ml": ml, "flows": flows.collect::<Vec<_>>() })
    }

    /// Whether any line shows fuel.
    pub fn shows(&self, engine: &Engine) -> bool {
        let threshold = engine.setup().rig.parts().flow_threshold_m3_s;
        self.flow_m3_s.iter().any(|flow| *flow >= threshold)
    }
}
