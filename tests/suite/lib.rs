//! Checks of sim-core against the outside world and against itself, kept apart by kind:
//! published values, closed forms, balances, the trade's rules, properties over random
//! rigs, files of bad input, and the house's own rules.

#[cfg(test)]
mod analytic;
#[cfg(test)]
mod bad_input;
#[cfg(test)]
mod bleeding;
#[cfg(test)]
mod changes;
#[cfg(test)]
mod conservation;
#[cfg(test)]
mod determinism;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod evidence_page;
#[cfg(test)]
mod failures;
#[cfg(test)]
mod learning;
#[cfg(test)]
mod limit_cycle;
#[cfg(test)]
mod meters;
#[cfg(test)]
mod numerics;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod published;
#[cfg(test)]
mod running;
#[cfg(test)]
mod small_physics;
#[cfg(test)]
mod starting;
#[cfg(test)]
mod tidy;
#[cfg(test)]
mod trade;
#[cfg(test)]
mod waits;
#[cfg(test)]
mod wear;
#[cfg(test)]
mod workshop;

#[cfg(test)]
mod table;
