//! Speed of quarterturn, measured with criterion: `cargo bench -p benches`.
