//! Every reading of an engine at a moment.

use super::dynamics;
use super::engine::Engine;
use crate::control::cells::CELLS;
use crate::engine::exhaust::mixed_gas;
use crate::fuel::pressure::Pressures;
use crate::fuel::slit::CYLINDERS;
use crate::operation::roughness::{judge, roughness};
use crate::point::State;

/// What gauges and glasses show of the fuel side, whether the engine runs or stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FuelReadings {
    /// System pressure (Pa above ambient).
    pub system_pa: f64,
    /// Pressure in the lower chambers (Pa).
    pub lower_chamber_pa: f64,
    /// Pressure in the first injection line (Pa): its injector's opening while it sprays; none in
    /// one that is open or not full.
    pub line_pa: f64,
    /// How many lines fuel does not fill.
    pub lines_short: usize,
    /// What each line has given into its glass since the lines were opened last (m3).
    pub glasses_m3: [f64; CYLINDERS],
    /// Whether the pump runs.
    pub pump_runs: bool,
    /// Fuel that has run into the ports of the standing engine (kg): a hazard.
    pub ports_kg: f64,
    /// Share of sparks that run off over plugs wet with fuel.
    pub wet_plugs: f64,
}

/// A row of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TraceRow {
    /// Time since the start (s).
    pub time_s: f64,
    /// Screw position (turns).
    pub screw_turns: f64,
    /// Every reading; `None` once the engine stands.
    pub state: Option<State>,
    /// The fuel side.
    pub fuel: FuelReadings,
    /// Fuel on the walls (kg).
    pub film_kg: f64,
    /// What the lambda sensor takes for lambda.
    pub lambda_at_sensor: f64,
    /// The fast idle trim that is learned (A).
    pub learned_a: f64,
    /// What each stored cell adds to the base current (A), where the controller stores any.
    pub cells_a: Option<[f64; CELLS]>,
}

impl Engine {
    /// Every reading of the running engine, or `None` if it stands.
    pub fn state(&self) -> Option<State> {
        if self.stalled_at_s.is_some() {
            return None;
        }
        let (plant, state, conditions) = (&self.plant, &self.charge(), &self.setup.conditions);
        let parts = &plant.parts;
        let rough = roughness(plant, state);
        let (zone, rough_by) = judge(plant, conditions, &rough, state.lambda, 0.0);
        let gas =
            mixed_gas(&plant.fuel, &state.lambdas, rough.mean_misfire, conditions.exhaust_leak);
        let current = self.current_a();
        let (low, high) = parts.controller.trim_limits_a(self.controls.base_a);
        let base_jet = plant.jet_m_s(self.controls.base_a);
        let at_base = plant.total_kg_s(state.lift_m, base_jet);
        let cell = self.cell.voltage_v(&plant.fuel, self.gas.sensor);
        let duty = parts.controller.duty(current.clamp(low, high), self.controls.base_a);
        Some(State {
            zone,
            rough_by,
            valve_limit: None,
            idle_valve: self.valve,
            lambda: state.lambda,
            cov: rough.cov,
            misfire: rough.worst_misfire,
            mean_misfire: rough.mean_misfire,
            speed_drop_rad_s: 0.0,
            speed_rad_s: self.speed_rad_s(),
            manifold_pa: state.manifold_pa,
            residual_fraction: state.residual_fraction,
            air_kg_s: state.air_kg_s,
            metered_kg_s: dynamics::intake(
                plant,
                self.inlet_m2(),
                state.manifold_pa,
                state.height_m,
            )
            .metered_kg_s,
            fuel_kg_s: state.fuel_kg_s,
            plate_lift_m: state.height_m - plant.rest_height_m,
            potentiometer_v: plant.potentiometer_v(conditions, state.height_m),
            actuator_a: current,
            duty,
            trim_fuel: if at_base > 0.0 && current != self.controls.base_a {
                state.fuel_kg_s / at_base - 1.0
            } else {
                0.0
            },
            wanted_a: None,
            wanted_duty: None,
            slit_drop_pa: plant.slit_drop_pa(current),
            system_pa: parts.pressures.system_pa,
            lower_chamber_pa: parts.pressures.lower_chamber_pa(current),
            line_pa: plant.line_pa(),
            spraying: plant.lines.spraying(),
            lines_spray: plant.lines.all_spray(),
            co: gas.co,
            sensor_v: conditions.faults.lambda.shows_v(cell.clamp(0.0, parts.sensor.rich_cap_v)),
            brake_nm: self.pedal.brake_nm,
            friction_band: parts.pressures.friction_band(),
            flows_at_rest: plant.flows_at_rest(self.opening_m),
            residual: self.mass_error(),
            mode: None,
        })
    }

    /// What gauges and glasses show of the fuel side.
    pub fn fuel_readings(&self) -> FuelReadings {
        let system_pa = self.system_pa();
        let pressures = Pressures { system_pa, ..self.plant.parts.pressures };
        let lines = self.plant.parts.slits.width_m.len();
        let opens_pa = self.plant.parts.injectors.opening_pa(
            0,
            lines,
            self.setup.conditions.fuel_side.first_injector_pa,
        );
        let tight = !self.fuel.lines_open() && !self.fuel.is_short(0);
        FuelReadings {
            system_pa,
            lower_chamber_pa: pressures.lower_chamber_pa(self.current_a()),
            line_pa: if tight { opens_pa.min(system_pa) } else { 0.0 },
            lines_short: self.lines_short(),
            glasses_m3: self.fuel.glasses_m3(),
            pump_runs: self.pump_runs(),
            ports_kg: self.puddle_kg,
            wet_plugs: self.wet.share,
        }
    }

    /// Fuel on the walls (kg).
    pub fn film_kg(&self) -> f64 {
        dynamics::unpack(&self.x).film_kg
    }

    /// Largest relative error of the mass balances since the start: air and fuel in, less
    /// out, less what is stored.
    pub fn mass_error(&self) -> f64 {
        let now = dynamics::unpack(&self.x);
        let [air_in, air_out, fuel_in, fuel_out] = now.sums_kg;
        let parts = &self.plant.parts;
        let per_pa =
            parts.dynamics.manifold_m3 / (crate::air::GAS_CONSTANT * parts.breathing.charge_k);
        let air = air_in - air_out - per_pa * (now.manifold_pa - self.start.manifold_pa);
        let fuel = fuel_in - fuel_out - (now.film_kg - self.start.film_kg);
        let ledger = self.fuel.ledger();
        let supplied = ledger.missing_m3() / (ledger.pumped_m3 + self.plant.parts.supply.feed_m3);
        let share = |error: f64, through: f64| {
            if through > 0.0 { error.abs() / through } else { 0.0 }
        };
        share(air, air_in).max(share(fuel, fuel_in)).max(supplied.abs())
    }

    /// Every reading at this moment: those of the meters, of the gas at the lambda sensor,
    /// of the walls and of the controller's memory.
    pub fn readings(&self) -> TraceRow {
        TraceRow {
            time_s: self.time_s(),
            screw_turns: self.setup.conditions.screw_turns,
            state: self.state(),
            fuel: self.fuel_readings(),
            film_kg: self.film_kg(),
            lambda_at_sensor: self.gas.sensor,
            learned_a: self.controls.fast_a,
            cells_a: self.controls.cells().map(|cells| cells.added_a),
        }
    }
}
