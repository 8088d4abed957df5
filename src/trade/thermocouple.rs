//! Type K thermocouples by ITS-90: NIST Monograph 175 (1993), the same tables as IEC 60584-1 and ASTM E230.

/// 0..=1372 degC, powers of t from 0.
const WARM: [f64; 10] = [
    -0.176_004_136_860e-1,
    0.389_212_049_750e-1,
    0.185_587_700_320e-4,
    -0.994_575_928_740e-7,
    0.318_409_457_190e-9,
    -0.560_728_448_890e-12,
    0.560_750_590_590e-15,
    -0.320_207_200_030e-18,
    0.971_511_471_520e-22,
    -0.121_047_212_750e-25,
];
/// The bell on top of it: size, width, place.
const BELL: [f64; 3] = [0.118_597_600_000, -0.118_343_200_000e-3, 126.968_6];
/// -270..0 degC, powers of t from 0.
const COLD: [f64; 11] = [
    0.0,
    0.394_501_280_250e-1,
    0.236_223_735_980e-4,
    -0.328_589_067_840e-6,
    -0.499_048_287_770e-8,
    -0.675_090_591_730e-10,
    -0.574_103_274_280e-12,
    -0.310_888_728_940e-14,
    -0.104_516_093_650e-16,
    -0.198_892_668_780e-19,
    -0.163_226_974_860e-22,
];
/// Where the functions hold, degC.
const RANGE: (f64, f64) = (-270.0, 1372.0);

fn powers(coefficients: &[f64], t: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * t + c)
}

/// EMF in mV of a type K thermocouple at a temperature in degC, reference junction at 0 degC. `None` outside -270..=1372.
pub fn millivolts(celsius: f64) -> Option<f64> {
    if !(RANGE.0..=RANGE.1).contains(&celsius) {
        return None;
    }
    Some(if celsius < 0.0 {
        powers(&COLD, celsius)
    } else {
        powers(&WARM, celsius) + BELL[0] * (BELL[1] * (celsius - BELL[2]).powi(2)).exp()
    })
}

/// Temperature in degC of a type K thermocouple that shows so many mV, with its terminals at so many degC: the EMF of the
/// terminals is added, never their degrees. `None` where no temperature of the range gives that EMF.
pub fn celsius(shown_mv: f64, terminals_celsius: f64) -> Option<f64> {
    let wanted = shown_mv + millivolts(terminals_celsius)?;
    // The function rises over the whole range but for its last cold degrees.
    let (mut low, mut high) = (-260.0, RANGE.1);
    if !(millivolts(low)?..=millivolts(high)?).contains(&wanted) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if millivolts(middle)? < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// Tolerance of new class 2 type K wire by IEC 60584, degC: the greater of 2.5 and 0.75 %.
pub fn class_2_tolerance(celsius: f64) -> f64 {
    (0.0075 * celsius.abs()).max(2.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 1 (the function of NIST SRD 60; two packages agree there to 1e-6 mV).
    #[test]
    fn temperature_to_emf() {
        for (t, mv) in [
            (0.0, 0.0),
            (25.0, 1.000_242),
            (100.0, 4.096_230),
            (200.0, 8.138_473),
            (300.0, 12.208_566),
            (400.0, 16.397_142),
            (500.0, 20.644_286),
            (600.0, 24.905_467),
            (700.0, 29.128_974),
            (800.0, 33.275_380),
            (900.0, 37.325_915),
            (1000.0, 41.275_606),
            (1100.0, 45.118_736),
            (1200.0, 48.838_238),
        ] {
            near(millivolts(t).unwrap(), mv, 2e-6);
        }
        assert_eq!(millivolts(1400.0), None);
    }

    /// Below zero: the same function in thermocouples_reference 0.20.
    #[test]
    fn below_zero() {
        for (t, mv) in [
            (-10.0, -0.391_854),
            (-40.0, -1.526_948),
            (-100.0, -3.553_631),
            (-200.0, -5.891_404),
        ] {
            near(millivolts(t).unwrap(), mv, 2e-6);
        }
    }

    /// Reference values, section 1, "exact" column and the worked cold junction.
    #[test]
    fn emf_to_temperature() {
        for (mv, t) in [
            (1.0, 24.994),
            (4.096, 99.994),
            (10.0, 246.230),
            (20.0, 484.881),
            (25.0, 602.224),
            (33.275, 799.991),
            (41.276, 1000.010),
            (48.838, 1199.993),
        ] {
            near(celsius(mv, 0.0).unwrap(), t, 1e-3);
        }
        near(celsius(32.0, 25.0).unwrap(), 793.29, 5e-3);
        near(celsius(32.0, 0.0).unwrap(), 769.01, 5e-3);
        assert_eq!(celsius(60.0, 0.0), None);
    }

    /// Reference values, section 1: IEC 60584, class 2.
    #[test]
    fn tolerance() {
        for (t, by) in [(100.0, 2.5), (500.0, 3.75), (800.0, 6.0), (1200.0, 9.0)] {
            near(class_2_tolerance(t), by, 1e-9);
        }
    }
}
