//! Wet sump: a gear pump into plain bearings, with a relief valve.

use super::car::Car;
use super::physics::{lag, oil_viscosity};

/// State of the oil system.
#[derive(Debug, Clone, Default)]
pub struct Oil {
    turning_s: f64,
    bare: f64,
    /// Gauge pressure in the gallery, kPa.
    pub kpa: f64,
}

/// Pressure of a healthy engine, kPa, before the relief valve matters.
fn bearing_pressure(rpm: f64, oil_c: f64) -> f64 {
    let thin = oil_viscosity(oil_c) / oil_viscosity(90.0);
    142.0 * (rpm / 1100.0).powf(0.85) * thin.powf(0.45)
}

/// The relief valve opens at its setting and then rises a little with the flow left over.
fn relieved(kpa: f64, relief: f64) -> f64 {
    let over = kpa / relief;
    let soft = kpa / (1.0 + over.powi(10)).powf(0.1);
    soft + 0.02 * (kpa - soft)
}

impl Oil {
    /// One step; `lateral` in g, sign of no matter.
    pub fn step(&mut self, car: &Car, rpm: f64, oil_c: f64, lateral: f64, dt: f64) {
        if rpm > 60.0 {
            self.turning_s += dt;
        } else if rpm < 1.0 {
            // the gallery drains back slowly, a new start within the minute is not dry
            self.turning_s = (self.turning_s - dt / 60.0).max(0.0);
        }
        let thrown = if lateral.abs() > car.pickup_g {
            1.0
        } else {
            0.0
        };
        self.bare = lag(
            self.bare,
            thrown,
            dt,
            if thrown > self.bare { 0.25 } else { 0.4 },
        );
        let drawn = if self.turning_s < car.oil_prime_s {
            0.0
        } else {
            1.0
        };
        let free =
            bearing_pressure(rpm, oil_c) * car.oil_tightness * drawn * (1.0 - 0.75 * self.bare);
        let goal = if rpm > 20.0 {
            relieved(free, car.relief_kpa)
        } else {
            0.0
        };
        self.kpa = lag(
            self.kpa,
            goal,
            dt,
            if goal > self.kpa { 0.12 } else { 0.25 },
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: 69 kPa per 1000 rpm hot, never above the relief by much.
    #[test]
    fn healthy_pressure_curve() {
        for (rpm, low, high) in [
            (1100.0, 110.0, 170.0),
            (3000.0, 260.0, 360.0),
            (7000.0, 400.0, 475.0),
        ] {
            let p = relieved(bearing_pressure(rpm, 90.0), 450.0);
            assert!(p > low && p < high, "{rpm}: {p}");
            assert!(p > 69.0 * (rpm / 1000.0_f64).min(5.0));
        }
        assert!(relieved(bearing_pressure(1500.0, 15.0), 450.0) > 430.0);
    }
}
