//! Checks of sim-core against the outside world and against itself, kept apart by kind:
//! published values, closed forms, balances, the trade's rules, properties over random
//! rigs, files of bad input, and the house's own rules.

#[cfg(test)]
mod air_path;
#[cfg(test)]
mod analytic;
#[cfg(test)]
mod bad_input;
#[cfg(test)]
mod balances;
#[cfg(test)]
mod bleeding;
#[cfg(test)]
mod burning;
#[cfg(test)]
mod changes;
#[cfg(test)]
mod conservation;
#[cfg(test)]
mod control_in_time;
#[cfg(test)]
mod determinism;
#[cfg(test)]
mod diagnosing;
#[cfg(test)]
mod events;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod evidence_page;
#[cfg(test)]
mod failures;
#[cfg(test)]
mod film;
#[cfg(test)]
mod fitting;
#[cfg(test)]
mod fuel_arrives;
#[cfg(test)]
mod gas;
#[cfg(test)]
mod gas_path;
#[cfg(test)]
mod gas_read;
#[cfg(test)]
mod idle_air;
#[cfg(test)]
mod imports;
#[cfg(test)]
mod injectors;
#[cfg(test)]
mod job_sheet;
#[cfg(test)]
mod layers;
#[cfg(test)]
mod learning;
#[cfg(test)]
mod limit_cycle;
#[cfg(test)]
mod listening;
#[cfg(test)]
mod live;
#[cfg(test)]
mod meters;
#[cfg(test)]
mod moving;
#[cfg(test)]
mod numerics;
#[cfg(test)]
mod one_engine;
#[cfg(test)]
mod one_fuel_side;
#[cfg(test)]
mod open_throttle;
#[cfg(test)]
mod outside;
#[cfg(test)]
mod outside_values;
#[cfg(test)]
mod plugs;
#[cfg(test)]
mod prerequisites;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod published;
#[cfg(test)]
mod regression;
#[cfg(test)]
mod running;
#[cfg(test)]
mod seen_air;
#[cfg(test)]
mod sensors;
#[cfg(test)]
mod small_physics;
#[cfg(test)]
mod stability;
#[cfg(test)]
mod standing;
#[cfg(test)]
mod starting;
#[cfg(test)]
mod starts;
#[cfg(test)]
mod supply;
#[cfg(test)]
mod support;
#[cfg(test)]
mod table;
#[cfg(test)]
mod tidy;
#[cfg(test)]
mod trade;
#[cfg(test)]
mod units_by_another_road;
#[cfg(test)]
mod waits;
#[cfg(test)]
mod wear;
#[cfg(test)]
mod workshop;
