//! Crankshaft, clutch and the car behind it.

use super::car::Car;
use super::physics::{SWEPT, ramp, to_rpm};

/// Engine and flywheel, kg m2.
const INERTIA: f64 = 0.21;
/// Mass of the car with driver, kg.
const MASS: f64 = 930.0;
/// Rolling radius, m.
const WHEEL: f64 = 0.29;
/// Final drive and gears 1..4.
const FINAL: f64 = 4.3;
const GEARS: [f64; 4] = [2.65, 1.75, 1.27, 1.0];
/// Torque that the clutch holds, Nm.
const CLUTCH: f64 = 420.0;

/// Friction as mean effective pressure, kPa: oil that is cold drags, and so does a slow crank.
pub fn friction_kpa(rpm: f64, oil_c: f64) -> f64 {
    let k = rpm / 1000.0;
    let cold = 1.0 + 0.009 * (90.0 - oil_c).max(0.0);
    let boundary = 70.0 * (-rpm / 260.0).exp();
    (64.0 + boundary) * cold + 9.0 * k + 1.7 * k * k
}

/// Overall ratio of engine to wheel.
pub fn ratio(gear: usize) -> f64 {
    if (1..=GEARS.len()).contains(&gear) {
        GEARS[gear - 1] * FINAL
    } else {
        0.0
    }
}

/// Engine speed that belongs to a road speed in m/s, rpm.
pub fn rpm_in_gear(gear: usize, speed: f64) -> f64 {
    to_rpm(speed / WHEEL * ratio(gear))
}

/// What acts on the crank.
#[derive(Debug, Clone, Copy)]
pub struct Torques {
    /// Mean torque of the event under way, Nm.
    pub gas: f64,
    /// Starter, Nm.
    pub starter: f64,
    /// Alternator, Nm.
    pub alternator: f64,
    /// Manifold and outside pressure, kPa.
    pub map: f64,
    /// Outside pressure, kPa.
    pub baro: f64,
    /// Oil, degC.
    pub oil_c: f64,
}

/// What the driver asks of the car.
#[derive(Debug, Clone, Copy)]
pub struct Road {
    /// Clutch, 0 open to 1 shut.
    pub clutch: f64,
    /// Gear, 0 neutral.
    pub gear: usize,
    /// Brakes, m/s2.
    pub brake: f64,
    /// Gradient.
    pub slope: f64,
}

/// State of the moving masses.
#[derive(Debug, Clone, Default)]
pub struct Crank {
    /// Crank speed, rad/s.
    pub omega: f64,
    /// Part of the present firing interval gone by, 0..1.
    pub phase: f64,
    /// Road speed, m/s.
    pub speed: f64,
    /// Power lost in friction, W.
    pub friction_w: f64,
}

impl Crank {
    /// Crank speed, rpm.
    pub fn rpm(&self) -> f64 {
        to_rpm(self.omega)
    }

    /// One step; returns how many firing events fell into it.
    pub fn step(&mut self, car: &Car, t: &Torques, road: &Road, dt: f64) -> u32 {
        let rpm = self.rpm();
        let per_kpa = SWEPT * 1000.0 / (4.0 * std::f64::consts::PI);
        let friction = friction_kpa(rpm, t.oil_c) * car.friction * per_kpa;
        let back = t.baro + 7.0 * (rpm / 7000.0).powi(2);
        let pumping = if rpm > 5.0 {
            (back - t.map).max(0.0) * per_kpa
        } else {
            0.0
        };
        // single firing strokes show at low speed only; a step is too long for them above
        let lumpy = 1.0 - ramp(rpm, 900.0, 2600.0);
        let wave = (std::f64::consts::TAU * self.phase).sin();
        let few = (car.engine.cylinders() as f64 / 6.0).min(1.0);
        let squeeze = if rpm > 10.0 {
            34.0 * few * t.map / 100.0 * wave * lumpy
        } else {
            0.0
        };
        let gas = t.gas * (1.0 + 0.8 * few * wave * lumpy);
        let drive = gas + squeeze + t.starter;
        let drag = friction + pumping + t.alternator;

        let clutch = self.clutch(road, dt);
        let mut torque = drive - clutch;
        torque -= if self.omega > 0.0 {
            drag
        } else {
            drag.min(torque.max(0.0))
        };
        self.omega = (self.omega + torque / INERTIA * dt).max(0.0);
        self.friction_w = friction * self.omega;
        self.roll(road, clutch, dt);

        self.phase += self.omega * dt / super::combustion::event_rad(car.engine);
        let events = self.phase.floor();
        self.phase -= events;
        events as u32
    }

    /// Torque through the clutch, Nm: locked it takes what holds both sides together.
    fn clutch(&self, road: &Road, dt: f64) -> f64 {
        let ratio = ratio(road.gear);
        if ratio <= 0.0 || road.clutch <= 0.0 {
            return 0.0;
        }
        let slip = self.omega - self.speed / WHEEL * ratio;
        let stiff = 0.25 * INERTIA / dt;
        (stiff * slip).clamp(-CLUTCH * road.clutch, CLUTCH * road.clutch)
    }

    fn roll(&mut self, road: &Road, clutch: f64, dt: f64) {
        let pull = 0.93 * clutch * ratio(road.gear) / WHEEL;
        let grip = 0.62 * MASS * 9.81;
        let drag = 0.52 * self.speed * self.speed + 0.014 * MASS * 9.81;
        let held = MASS * (road.brake + 9.81 * road.slope) + drag;
        let mut accel = (pull.clamp(-grip, grip) - held) / MASS;
        if self.speed <= 0.0 && accel < 0.0 {
            accel = 0.0;
        }
        self.speed = (self.speed + accel * dt).max(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cold_oil_drags_and_speed_drags() {
        assert!(friction_kpa(220.0, 10.0) > 1.4 * friction_kpa(220.0, 80.0));
        assert!(friction_kpa(7000.0, 90.0) > 2.0 * friction_kpa(1500.0, 90.0));
    }

    /// Rolling without slip: 2 pi r per wheel turn.
    #[test]
    fn road_speed_in_top() {
        let speed = 7200.0 / 60.0 / 4.3 * std::f64::consts::TAU * 0.29;
        assert!((rpm_in_gear(4, speed) - 7200.0).abs() < 1e-6);
    }
}
