//! Coolant, metal, oil and the engine bay. Sizes follow the worked figures for a
//! standing engine: some 60 kJ/K in all and 60 W/K lost without air flow.

use super::car::Car;
use super::physics::{lag, ramp};

/// Heat capacity of the hot parts of head and block, and of the oil with its sump, J/K.
const METAL: f64 = 25_000.0;
const OIL: f64 = 20_000.0;
/// Coolant in the engine, and what the radiator adds once the thermostat is open, J/K.
const INSIDE: f64 = 15_000.0;
const OUTSIDE: f64 = 11_000.0;
/// Half glycol under a cap of 110 kPa boils here, degC (about 131 by the table for 16 psi);
/// from there on steam carries the heat away, W/K.
const BOILS: f64 = 131.0;
const BOIL_OFF: f64 = 6_000.0;

/// What heats and cools.
#[derive(Debug, Clone, Copy)]
pub struct Firing {
    /// Heat set free in the cylinders, W.
    pub burn_w: f64,
    /// Friction, W.
    pub friction_w: f64,
    /// Crank speed, rpm.
    pub rpm: f64,
    /// Air against the radiator, m/s.
    pub wind: f64,
    /// Manifold, kPa.
    pub map: f64,
    /// Air flow, g/s.
    pub flow: f64,
    /// Heat of compression left in the charge, degC.
    pub charge_c: f64,
}

/// Temperatures, degC.
#[derive(Debug, Clone)]
pub struct Heat {
    /// Head and cylinder walls.
    pub metal: f64,
    /// Coolant at the sender.
    pub coolant: f64,
    /// Oil.
    pub oil: f64,
    /// Engine bay.
    pub bay: f64,
    /// Air in the intake.
    pub intake: f64,
    /// Thermostat, 0 shut to 1 open.
    pub thermostat: f64,
}

/// Share of the heat set free that goes into the metal: falls with load and speed.
fn wall_share(f: &Firing) -> f64 {
    0.37 - 0.13 * ramp(f.rpm, 1500.0, 6500.0) - 0.06 * ramp(f.map, 35.0, 95.0)
}

/// Radiator with free air, W/K.
fn radiator(car: &Car, wind: f64) -> f64 {
    // natural convection and the hoses stay even when the core is blocked
    28.0 + car.radiator * (32.0 + 34.0 * wind.powf(0.8))
}

impl Heat {
    /// As the car stands at key-on.
    pub fn new(car: &Car) -> Self {
        Self {
            metal: car.coolant_c,
            coolant: car.coolant_c,
            oil: car.oil_c,
            bay: car.bay_c,
            intake: car.air_c + 0.35 * (car.bay_c - car.air_c),
            thermostat: ramp(car.coolant_c, 78.0, 90.0),
        }
    }

    /// One step; `air_c` outside in degC.
    pub fn step(&mut self, car: &Car, f: &Firing, dt: f64) {
        let turning = ramp(f.rpm, 50.0, 1500.0);
        let into_metal = f.burn_w * wall_share(f);
        let to_coolant = (220.0 + 620.0 * turning) * (self.metal - self.coolant);
        let to_oil = (35.0 + 70.0 * turning) * (self.metal - self.oil);
        let from_metal = (8.0 + 0.5 * f.wind) * (self.metal - self.bay);
        self.metal += dt * (into_metal - to_coolant - to_oil - from_metal) / METAL;

        self.thermostat = lag(self.thermostat, ramp(self.coolant, 78.0, 91.0), dt, 9.0);
        // a standing car without a fan breathes its own warm bay air
        let face = car.air_c + 0.30 * (self.bay - car.air_c) * (1.0 - ramp(f.wind, 1.0, 8.0));
        let flow = self.thermostat * (0.25 + 0.75 * ramp(f.rpm, 50.0, 1400.0)) * turning.max(0.05);
        let lost = radiator(car, f.wind) * flow * (self.coolant - face)
            + 9.0 * (self.coolant - self.bay)
            + BOIL_OFF * (self.coolant - BOILS).max(0.0);
        self.coolant += dt * (to_coolant - lost) / (INSIDE + OUTSIDE * self.thermostat);

        let oil_lost = car.oil_cooling * (7.0 + 2.2 * f.wind) * (self.oil - self.bay);
        self.oil += dt * (0.29 * f.friction_w + to_oil - oil_lost) / OIL;

        let still = 1.0 - ramp(f.wind, 0.5, 12.0);
        let bay_goal = car.air_c + (0.20 + 0.32 * still) * (self.metal - car.air_c).max(0.0);
        self.bay = lag(
            self.bay,
            bay_goal,
            dt,
            if f.wind > 3.0 { 25.0 } else { 150.0 },
        );

        let breath = f.flow / (f.flow + 9.0);
        let soak = (0.55 - 0.45 * breath).max(car.bay_breath) * (self.bay - car.air_c);
        self.intake = lag(
            self.intake,
            car.air_c + soak + f.charge_c,
            dt,
            4.0 + 40.0 / (1.0 + f.flow / 4.0),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    /// Worked figure: a standing engine of about 60 kJ/K takes a few K a minute at idle.
    #[test]
    fn standing_engine_heats_by_a_few_degrees_a_minute() {
        let mut car = Car::healthy(Kind::Standstill, 3);
        car.air_c = 22.0;
        car.coolant_c = 85.0;
        let mut h = Heat::new(&car);
        let f = Firing {
            burn_w: 19_000.0,
            friction_w: 2000.0,
            rpm: 1100.0,
            wind: 0.0,
            map: 38.0,
            flow: 7.5,
            charge_c: 0.0,
        };
        for _ in 0..(120.0 / 0.02) as usize {
            h.step(&car, &f, 0.02);
        }
        let rate = (h.coolant - 85.0) / 2.0;
        assert!((1.5..8.0).contains(&rate), "{rate} K/min");
    }

    #[test]
    fn coolant_soaks_heat_after_the_stop() {
        let car = Car::healthy(Kind::HillRun, 3);
        let mut h = Heat::new(&car);
        (h.metal, h.coolant) = (112.0, 92.0);
        let f = Firing {
            burn_w: 0.0,
            friction_w: 0.0,
            rpm: 0.0,
            wind: 0.0,
            map: 98.0,
            flow: 0.0,
            charge_c: 0.0,
        };
        for _ in 0..1500 {
            h.step(&car, &f, 0.02);
        }
        assert!(h.coolant > 94.0, "{}", h.coolant);
    }
}
