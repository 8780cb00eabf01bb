//! What the driver does: the pedal, and the brake or the wheels that hold the crank's speed.

use super::options::TICK_S;
use crate::control::trim::FULL_LOAD;
use crate::operation::operating_state::Plant;

/// Fastest a driver opens the throttle, for each cubic metre of displacement (m2/(s m3)), and
/// the time it takes to close (s). Opened faster, an idling engine gets too rich: the
/// plate meters what fills the manifold, too.
const PEDAL_OPENS: f64 = 0.030;
/// See [`PEDAL_OPENS`].
const PEDAL_CLOSES_S: f64 = 0.15;
/// Stiffness of a brake: how long the inertia alone would take to lose a speed error (s),
/// and the time of its integral (s).
const BRAKE_S: (f64, f64) = (0.03, 0.5);

/// What the driver does with the pedal.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum DriverInput {
    /// Off the pedal.
    #[default]
    Off,
    /// On the way to a speed, to let go there (rad/s).
    BlipTo(f64),
    /// Holding a share of the travel, a brake holding the speed (rad/s).
    Holds(f64, f64),
    /// The same with the wheels holding the speed: they also drive the engine (rad/s).
    Drives(f64, f64),
}

/// Pedal, throttle and brake.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pedal {
    /// What the driver does.
    pub driver: DriverInput,
    /// Effective area of the throttle (m2).
    pub throttle_m2: f64,
    /// Torque of the brake (N m).
    pub brake_nm: f64,
    switch_opens_m2: f64,
    released_m2: f64,
    wide_m2: f64,
    opens_m2_s: f64,
    held_m2: f64,
    braked_rad_s: Option<f64>,
    brake_sum_nm: f64,
}

impl Pedal {
    /// A pedal nobody touches, with the throttle at an effective area (m2).
    pub(super) fn new(plant: &Plant, throttle_m2: f64) -> Pedal {
        let mut pedal = Pedal { throttle_m2, ..Pedal::default() };
        pedal.fit(plant);
        pedal
    }

    /// Takes in a throttle that was changed.
    pub(super) fn fit(&mut self, plant: &Plant) {
        let parts = &plant.parts;
        let throttle = &parts.throttle;
        self.switch_opens_m2 = throttle.idle_switch_opens_m2();
        self.released_m2 = plant.released_m2;
        self.wide_m2 = throttle.effective_m2(1.0);
        self.opens_m2_s = PEDAL_OPENS * parts.breathing.displacement_m3 * throttle.discharge;
        if let DriverInput::Holds(share, _) | DriverInput::Drives(share, _) = self.driver {
            self.held_m2 = throttle.effective_m2(share).max(self.released_m2);
        }
    }

    /// Takes in what the driver does now.
    pub(super) fn put(&mut self, driver: DriverInput, plant: &Plant) {
        self.driver = driver;
        self.fit(plant);
    }

    /// The speed at which the driver lets go of the pedal (rad/s).
    pub fn lets_go_at(&self) -> Option<f64> {
        match self.driver {
            DriverInput::BlipTo(speed) => Some(speed),
            DriverInput::Off | DriverInput::Holds(..) | DriverInput::Drives(..) => None,
        }
    }

    /// How far the throttle has to go (m2).
    fn way_m2(&self) -> f64 {
        let target = match self.driver {
            DriverInput::Off => self.released_m2,
            DriverInput::BlipTo(_) => self.wide_m2,
            DriverInput::Holds(..) | DriverInput::Drives(..) => self.held_m2,
        };
        target - self.throttle_m2
    }

    /// How fast it goes there (m2/s).
    fn pace_m2_s(&self, way_m2: f64) -> f64 {
        let closes = (self.wide_m2 - self.released_m2) / PEDAL_CLOSES_S;
        if way_m2 < 0.0 { closes } else { self.opens_m2_s }
    }

    /// How long the throttle goes on as it does (s).
    pub fn steady_for_s(&self) -> f64 {
        let way_m2 = self.way_m2();
        if way_m2 == 0.0 { f64::INFINITY } else { way_m2.abs() / self.pace_m2_s(way_m2) }
    }

    /// Where the throttle is after a time (s), no faster than a driver moves it (m2).
    pub fn after_m2(&self, h: f64) -> f64 {
        let way_m2 = self.way_m2();
        if way_m2 == 0.0 {
            return self.throttle_m2;
        }
        let most_m2 = self.pace_m2_s(way_m2) * h;
        self.throttle_m2 + way_m2.clamp(-most_m2, most_m2)
    }

    /// Whether nobody touches the pedal and the throttle stands still.
    pub fn rests(&self) -> bool {
        let lets_go = matches!(self.driver, DriverInput::BlipTo(_));
        !lets_go && self.way_m2() == 0.0
    }

    /// Whether the idle switch is closed.
    pub fn idle_switch(&self) -> bool {
        self.throttle_m2 < self.switch_opens_m2
    }

    /// Whether the full-load switch is closed.
    pub fn full_load(&self) -> bool {
        matches!(self.driver, DriverInput::Holds(share, _) | DriverInput::Drives(share, _) if share >= FULL_LOAD)
    }

    /// Sets the brake for a tick. It is stiff and takes what the engine makes above the
    /// speed asked for until the throttle is closed again; below that speed it lets go.
    pub fn brake(&mut self, speed_rad_s: f64, inertia_kg_m2: f64) {
        if let DriverInput::Holds(_, speed) | DriverInput::Drives(_, speed) = self.driver {
            self.braked_rad_s = Some(speed);
        } else if self.idle_switch() {
            self.braked_rad_s = None;
        }
        let Some(speed) = self.braked_rad_s else {
            (self.brake_nm, self.brake_sum_nm) = (0.0, 0.0);
            return;
        };
        let stiffness = inertia_kg_m2 / BRAKE_S.0;
        let error = speed_rad_s - speed;
        let sum = self.brake_sum_nm + error * TICK_S * stiffness / BRAKE_S.1;
        let least =
            if matches!(self.driver, DriverInput::Drives(..)) { f64::NEG_INFINITY } else { 0.0 };
        self.brake_sum_nm = sum.max(least);
        self.brake_nm = (stiffness * error + self.brake_sum_nm).max(least);
    }
}
