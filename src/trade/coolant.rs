//! Coolant: where water and glycol boil.

use super::KELVIN;

/// Saturation of water: IAPWS Industrial Formulation 1997, region 4, the coefficients of its equations 30 and 31.
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// Mole masses, g/mol, and densities at 20 degC, kg/L, of water and of ethylene glycol.
const WATER: (f64, f64) = (18.015, 0.9982);
const GLYCOL: (f64, f64) = (62.068, 1.1132);

/// Vapour pressure of water in kPa at a temperature in degC, 0 to 370.
pub fn water_vapour_kpa(celsius: f64) -> Option<f64> {
    if !(0.0..=370.0).contains(&celsius) {
        return None;
    }
    let kelvin = celsius + KELVIN;
    let v = kelvin + N[8] / (kelvin - N[9]);
    let a = v * v + N[0] * v + N[1];
    let b = N[2] * v * v + N[3] * v + N[4];
    let c = N[5] * v * v + N[6] * v + N[7];
    Some(1000.0 * (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4))
}

/// Vapour pressure of ethylene glycol in kPa: Antoine's equation with the constants that NIST's web book gives for 323 to
/// 473 K (from memory; within 2 % of Perry's correlation as held in chemicals 1.5.2). It is a hundredth of the whole.
fn glycol_vapour_kpa(celsius: f64) -> f64 {
    100.0 * 10f64.powf(4.970_12 - 1914.951 / (celsius + KELVIN - 84.996))
}

/// Boiling point in degC of water with a share of ethylene glycol by volume (0 to 1) at an absolute pressure in kPa, 2 to
/// 1000: both vapours together make that pressure (Raoult's law). `None` outside.
pub fn boiling_celsius(kpa: f64, glycol: f64) -> Option<f64> {
    if !((2.0..=1000.0).contains(&kpa) && (0.0..=1.0).contains(&glycol)) {
        return None;
    }
    let (water, other) = (
        (1.0 - glycol) * WATER.1 / WATER.0,
        glycol * GLYCOL.1 / GLYCOL.0,
    );
    let share = water / (water + other);
    let (mut low, mut high) = (0.0, 360.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if share * water_vapour_kpa(middle)? + (1.0 - share) * glycol_vapour_kpa(middle) < kpa {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// The check values that the IAPWS release prints for 300, 500 and 600 K; the package iapws 1.5.5 gives the same.
    #[test]
    fn vapour_of_water() {
        for (kelvin, mpa) in [
            (300.0, 0.353_658_941e-2),
            (500.0, 0.263_889_776e1),
            (600.0, 0.123_443_146e2),
        ] {
            near(
                water_vapour_kpa(kelvin - KELVIN).unwrap() / (1000.0 * mpa),
                1.0,
                1e-8,
            );
        }
    }

    /// Reference values, section 12: IAPWS-95 by CoolProp 8.0.0; half glycol by Dortmund UNIFAC, Raoult 0.1 lower there.
    #[test]
    fn boiling_points() {
        for (kpa, water, half) in [
            (101.33, 99.97, Some(107.9)),
            (149.59, 111.27, Some(119.7)),
            (190.96, 118.75, Some(127.5)),
            (204.75, 120.95, Some(129.8)),
            (211.64, 122.01, Some(130.9)),
            (253.01, 127.81, Some(137.0)),
            (84.56, 94.98, None),
            (132.82, 107.74, None),
            (174.19, 115.90, None),
            (236.24, 125.56, None),
        ] {
            near(boiling_celsius(kpa, 0.0).unwrap(), water, 0.02);
            if let Some(half) = half {
                near(boiling_celsius(kpa, 0.5).unwrap(), half, 0.25);
            }
        }
        assert_eq!(boiling_celsius(1.0, 0.0), None);
        assert_eq!(boiling_celsius(100.0, 1.1), None);
        // Neat ethylene glycol under one atmosphere: 470.31 K in chemicals 1.5.2.
        near(boiling_celsius(101.33, 1.0).unwrap(), 197.16, 0.5);
    }
}
