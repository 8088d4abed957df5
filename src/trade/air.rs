//! Air: density, the charge of one cycle, the speed of sound, the heat of compression.

use super::KELVIN;

/// Gas constant of dry air, J/(kg K), and ratio of its heats (ICAO Doc 7488/3, as read in a package: reference values,
/// section 9).
const R_AIR: f64 = 287.052_87;
const GAMMA: f64 = 1.4;

/// Density in kg/m3 of air at an absolute pressure in kPa and a temperature in degC.
pub fn density(kpa: f64, celsius: f64) -> Option<f64> {
    let kelvin = celsius + KELVIN;
    (kpa >= 0.0 && kelvin > 0.0).then(|| 1000.0 * kpa / (R_AIR * kelvin))
}

/// Air in g that one cylinder of a volume in cc takes in a cycle at a volumetric efficiency (0.85, not 85), an absolute
/// manifold pressure in kPa and a charge temperature in degC.
pub fn charge_grams(efficiency: f64, kpa: f64, celsius: f64, cylinder_cc: f64) -> Option<f64> {
    (efficiency >= 0.0 && cylinder_cc >= 0.0)
        .then(|| density(kpa, celsius).map(|d| efficiency * d * cylinder_cc / 1000.0))?
}

/// Speed of sound in air, m/s, at a temperature in degC.
pub fn speed_of_sound(celsius: f64) -> Option<f64> {
    let kelvin = celsius + KELVIN;
    (kelvin > 0.0).then(|| (GAMMA * R_AIR * kelvin).sqrt())
}

/// Temperature in degC of air in degC compressed to a multiple of its pressure by a compressor of an efficiency 0..=1.
pub fn compressed_celsius(celsius: f64, ratio: f64, efficiency: f64) -> Option<f64> {
    let kelvin = celsius + KELVIN;
    (kelvin > 0.0 && ratio > 0.0 && efficiency > 0.0).then(|| {
        let rise = ratio.powf((GAMMA - 1.0) / GAMMA) - 1.0;
        kelvin * (1.0 + rise / efficiency) - KELVIN
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 2 (U.S. Standard Atmosphere 1976) and section 9.
    #[test]
    fn density_and_sound() {
        for (kpa, t, rho) in [
            (101.325, 15.0, 1.2250),
            (89.876, 8.501, 1.1117),
            (70.121, -4.491, 0.9093),
        ] {
            near(density(kpa, t).unwrap(), rho, 1e-4);
        }
        for (t, c) in [
            (-20.0, 318.96),
            (0.0, 331.32),
            (15.0, 340.29),
            (25.0, 346.15),
            (40.0, 354.75),
        ] {
            near(speed_of_sound(t).unwrap(), c, 0.01);
        }
    }

    /// Reference values, section 9: air per cylinder and cycle.
    #[test]
    fn charge() {
        for (ve, kpa, t, grams) in [
            (0.85, 100.0, 25.0, 0.496_58),
            (1.00, 101.325, 15.0, 0.612_50),
            (0.95, 200.0, 50.0, 1.024_14),
            (0.80, 40.0, 40.0, 0.177_99),
        ] {
            near(charge_grams(ve, kpa, t, 500.0).unwrap(), grams, 1e-5);
        }
        assert_eq!(charge_grams(1.0, 100.0, -300.0, 500.0), None);
    }

    /// Reference values, section 9: compressor outlet from 25 degC.
    #[test]
    fn compressor() {
        for (ratio, efficiency, t) in [
            (1.5, 1.0, 61.62),
            (1.5, 0.75, 73.83),
            (2.0, 0.70, 118.28),
            (2.5, 0.65, 162.27),
            (3.0, 0.60, 208.23),
        ] {
            near(
                compressed_celsius(25.0, ratio, efficiency).unwrap(),
                t,
                0.01,
            );
        }
    }
}
