//! The engine: friction, flame, the scatter of its cycles, work and exhaust gas.

pub mod burn;
pub mod exhaust;
pub mod flame;
pub mod friction;
pub mod idle_spark;
pub mod late;
pub mod roughness;
pub mod scatter;
pub mod work;
