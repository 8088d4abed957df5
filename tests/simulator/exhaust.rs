//! Six probes in the ports and one lambda sensor where the pipes meet.

use super::car::Car;
use super::combustion::{Cylinders, gas_temperature};
use super::controller::advance_table;
use super::physics::{MOST, lag};

/// Lambda sensor: the air end of its range.
const LEAN_END: f64 = 1.5;
const RICH_END: f64 = 0.65;
/// Time to heat the sensor, s.
pub const HEAT_UP_S: f64 = 20.0;
/// Steps of the transport line kept, at 500 Hz.
const LINE: usize = 1024;

/// What makes the gas as hot as it is.
#[derive(Debug, Clone, Copy)]
pub struct Gas {
    /// Crank speed, rpm.
    pub rpm: f64,
    /// Manifold, kPa.
    pub map: f64,
    /// Ignition advance, deg.
    pub advance: f64,
    /// Cylinder walls, degC.
    pub metal: f64,
}

/// State of the exhaust.
#[derive(Debug, Clone)]
pub struct Exhaust {
    port: [f64; MOST],
    /// Probe junctions, degC.
    pub probe: [f64; MOST],
    line: Vec<f32>,
    at: usize,
    cell: f64,
    /// What the sensor's amplifier gives out.
    pub lambda: f64,
}

impl Exhaust {
    /// Cold or warm as the bay.
    pub fn new(car: &Car) -> Self {
        let start = if car.coolant_c > 50.0 {
            car.bay_c + 25.0
        } else {
            car.air_c
        };
        Self {
            port: [start; MOST],
            probe: [start; MOST],
            line: vec![4.0; LINE],
            at: 0,
            cell: LEAN_END,
            lambda: 1.0,
        }
    }

    /// Heat of the gases; called at a slower step than the crank.
    pub fn heat(&mut self, car: &Car, six: &Cylinders, gas: &Gas, dt: f64) {
        let Gas {
            rpm,
            map,
            advance,
            metal,
        } = *gas;
        let best = advance_table(rpm, map);
        let best = if rpm < 1900.0 {
            14.0 + (best - 14.0) * 0.3
        } else {
            best
        };
        let n = car.engine.cylinders();
        let ports = self.port[..n].iter().sum::<f64>() / n as f64;
        for c in 0..n {
            let turning = rpm > 100.0;
            let gas = if !turning {
                self.port[c]
            } else if six.burnt[c] > 0.0 {
                gas_temperature(rpm, map, six.lambda[c], advance, best) + car.egt_offset[c]
            } else if car.afterfire_c > 0.0 && rpm > 1700.0 {
                // fuel that still drips in lights in the pipe
                car.afterfire_c
            } else {
                // compressed and expanded air, warmed by walls, port and neighbours
                0.55 * metal + 30.0 + 0.12 * ports + 0.25 * (self.port[c] - metal).max(0.0)
            };
            let mouth = 0.90 * gas + 0.10 * self.port[c];
            let mouth = if six.burnt[c] > 0.0 { mouth } else { gas };
            // the wall is cooled from outside and stays well under the gas
            let goal = if turning {
                0.72 * gas + 0.28 * metal
            } else {
                metal
            };
            let tau = if turning {
                22.0 - 10.0 * (rpm / 7000.0).min(1.0)
            } else {
                260.0
            };
            self.port[c] = lag(self.port[c], goal, dt, tau);
            // a probe pulled back sees the port wall more than the gas
            let seen =
                car.probe_depth[c] * mouth + (1.0 - car.probe_depth[c]) * (60.0 + metal * 1.1);
            let slow = if turning { 1.0 } else { 3.0 };
            self.probe[c] = lag(self.probe[c], seen, dt, car.probe_tau[c] * slow);
        }
    }

    /// One step of the lambda sensor. `flow` in g/s of air, `powered_s` since its heater is fed.
    pub fn sense(&mut self, soot_s: f64, mixed: f64, flow: f64, rpm: f64, powered_s: f64, dt: f64) {
        let gas = if rpm > 50.0 { mixed } else { 4.0 };
        self.line[self.at] = gas as f32;
        let delay = (0.09 + 3.0 / flow.max(1.0)).min(1.6);
        let back = ((delay / dt) as usize).min(LINE - 1);
        let arrived = f64::from(self.line[(self.at + LINE - back) % LINE]);
        self.at = (self.at + 1) % LINE;
        let tau = 0.06 + 0.9 / flow.max(3.0) + soot_s;
        let tau = if rpm > 50.0 { tau } else { 1.5 };
        // gases mix by their oxygen, so the lag acts on the inverse
        let richness = lag(1.0 / self.cell, 1.0 / arrived, dt, tau);
        self.cell = (1.0 / richness).min(4.0);
        self.lambda = if powered_s > HEAT_UP_S {
            self.cell.clamp(RICH_END, LEAN_END)
        } else {
            1.0
        };
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    /// Field figures: delay 0.3..1.0 s at idle, 0.1..0.2 s at full load.
    #[test]
    fn transport_delay_of_the_lambda_sensor() {
        let car = Car::healthy(Kind::FirstStart, 1);
        for (flow, low, high) in [(7.5, 0.3, 1.0), (130.0, 0.1, 0.25)] {
            let mut e = Exhaust::new(&car);
            for _ in 0..3000 {
                e.sense(0.0, 0.9, flow, 2000.0, 60.0, 0.002);
            }
            let mut t = 0.0;
            while e.lambda < 0.95 {
                e.sense(0.0, 1.0, flow, 2000.0, 60.0, 0.002);
                t += 0.002;
            }
            assert!(t > low && t < high, "{flow} g/s: {t} s");
        }
    }
}
