//! Throttle, manifold and what the cylinders draw from it.

use super::car::Car;
use super::physics::{R_AIR, SWEPT, cycles_per_s, orifice};

/// Manifold and runners, m3.
const MANIFOLD: f64 = 3.2e-3;
/// Full throttle bore area, m2 (62 mm).
const BORE: f64 = 3.02e-3;

/// Volumetric efficiency that the controller's table holds, by speed and MAP in kPa.
pub fn table_ve(rpm: f64, map: f64) -> f64 {
    let x = (rpm - 5200.0) / 4300.0;
    let breathing = 0.93 * (1.0 - 0.24 * x * x);
    // gas left in the clearance expands before fresh air can enter: compression 9.0, exponent 1.4
    let left = ((98.0 / map.max(8.0)).max(1.0) - 1.0) / (8.0 * 1.4);
    breathing * (1.0 - left).max(0.12)
}

/// The engine's real volumetric efficiency: the table was mapped, not perfect.
pub fn real_ve(car: &Car, rpm: f64, map: f64) -> f64 {
    let e = &car.table_error;
    let error = 0.010 * (rpm / 700.0 + e[0]).sin()
        + 0.007 * (map / 9.0 + e[1]).sin()
        + 0.005 * (rpm / 260.0 + e[2]).sin();
    table_ve(rpm, map) * (1.0 + error)
}

/// Open area of the butterfly, m2, throttle 0..1.
pub fn throttle_area(throttle: f64) -> f64 {
    let closed = 7.0_f64.to_radians();
    let angle = closed + throttle.clamp(0.0, 1.0) * 80.0_f64.to_radians();
    BORE * (1.0 - angle.cos() / closed.cos()).max(0.0) + 10.0e-6
}

/// State of the manifold.
#[derive(Debug, Clone)]
pub struct Manifold {
    /// Absolute pressure, kPa.
    pub map: f64,
    /// Flow into the cylinders, g/s.
    pub flow: f64,
}

impl Manifold {
    /// One step: `area` in m2 (throttle and idle valve), outside `baro` kPa, air in degC.
    pub fn step(&mut self, car: &Car, area: f64, baro: f64, air_c: f64, rpm: f64, dt: f64) {
        let rt = R_AIR * (air_c + 273.15);
        let pump =
            |map: f64| real_ve(car, rpm, map) * SWEPT * cycles_per_s(rpm) * map * 1000.0 / rt;
        let net = |map: f64| orifice(area, baro, map, air_c) - pump(map);
        // implicit in the pressure: near full throttle the flow is far too stiff for a plain step
        let here = net(self.map);
        let slope = (net(self.map - 0.05) - here) / -0.05;
        let gain = rt / MANIFOLD / 1000.0 * dt;
        self.map += gain * here / (1.0 - gain * slope).max(1.0);
        self.map = self.map.clamp(5.0, baro);
        self.flow = pump(self.map) * 1000.0;
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    /// In steady state what enters the manifold leaves it (conservation of mass).
    #[test]
    fn steady_state_balances() {
        let car = Car::healthy(Kind::FirstStart, 1);
        for (throttle, rpm) in [(0.0, 1100.0), (0.1, 3000.0), (1.0, 7000.0)] {
            let area = throttle_area(throttle) + 40e-6;
            let mut m = Manifold {
                map: 98.0,
                flow: 0.0,
            };
            for _ in 0..2000 {
                m.step(&car, area, 98.9, 20.0, rpm, 0.002);
            }
            let inflow = orifice(area, 98.9, m.map, 20.0) * 1000.0;
            assert!(
                (inflow - m.flow).abs() < 0.01 * m.flow,
                "{inflow} {}",
                m.flow
            );
        }
    }

    #[test]
    fn standing_manifold_fills_to_the_air() {
        let car = Car::healthy(Kind::FirstStart, 1);
        let mut m = Manifold {
            map: 40.0,
            flow: 0.0,
        };
        for _ in 0..2000 {
            m.step(&car, 40e-6, 98.9, 20.0, 0.0, 0.002);
        }
        assert!((m.map - 98.9).abs() < 0.3, "{}", m.map);
    }
}
