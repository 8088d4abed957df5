//! Lead-acid batteries: charge by rest voltage, Peukert's law, regulator voltage and temperature.

use crate::stats::interpolate;

/// Rest voltage of one flooded cell against charge in %, 26.7 degC, rested for hours: a table credited to the BCI for six
/// cells (reference values, section 6), divided by six.
const REST: [(f64, f64); 5] = [
    (11.89 / 6.0, 0.0),
    (12.06 / 6.0, 25.0),
    (12.24 / 6.0, 50.0),
    (12.45 / 6.0, 75.0),
    (12.65 / 6.0, 100.0),
];
/// Temperature of that table, degC (80 degF).
const REST_CELSIUS: f64 = 26.7;
/// Rest voltage of a cell rises by so many V a degC at working strengths of acid: 0.2 mV, from memory of the textbooks on
/// lead-acid cells. It is small: 30 degC move six cells by 0.04 V.
const REST_PER_DEGREE: f64 = 0.000_2;
/// A regulator takes 3 mV a cell off for each degC over 25 (published figure, reference values, section 6).
const CHARGE_PER_DEGREE: f64 = -0.003;

fn rest_shift(celsius: f64) -> f64 {
    REST_PER_DEGREE * (celsius - REST_CELSIUS)
}

/// Charge in % of a rested flooded battery of so many cells at a voltage and a temperature in degC; held at 0 and 100.
pub fn charge_at_rest(volts: f64, cells: f64, celsius: f64) -> Option<f64> {
    if !(cells > 0.0 && volts.is_finite() && celsius.is_finite()) {
        return None;
    }
    interpolate(&REST, volts / cells - rest_shift(celsius))
}

/// Rest voltage of so many cells at a charge in % and a temperature in degC: the other way round.
pub fn volts_at_rest(charge: f64, cells: f64, celsius: f64) -> Option<f64> {
    if !(cells > 0.0 && charge.is_finite() && celsius.is_finite()) {
        return None;
    }
    let turned: Vec<(f64, f64)> = REST.iter().map(|p| (p.1, p.0)).collect();
    Some(cells * (interpolate(&turned, charge)? + rest_shift(celsius)))
}

/// Hours that a battery of so many Ah at its rated hours (20 as a rule) gives a current in A: Peukert's law in its
/// rated-hours form, `t = H (C / (I H))^k`. The one-hour form is this with `H = 1` and its own capacity.
pub fn peukert_hours(amps: f64, amp_hours: f64, rated_hours: f64, exponent: f64) -> Option<f64> {
    (amps > 0.0 && amp_hours > 0.0 && rated_hours > 0.0 && exponent >= 1.0)
        .then(|| rated_hours * (amp_hours / (amps * rated_hours)).powf(exponent))
}

/// Peukert's exponent from two discharges of (A, h).
pub fn peukert_exponent(a: (f64, f64), b: (f64, f64)) -> Option<f64> {
    let k = (b.1 / a.1).ln() / (a.0 / b.0).ln();
    (a.0 > 0.0 && b.0 > 0.0 && a.0 != b.0 && k.is_finite()).then_some(k)
}

/// Regulator voltage that is right at a temperature in degC where `volts_25` is right at 25.
pub fn charge_volts(volts_25: f64, cells: f64, celsius: f64) -> f64 {
    volts_25 + cells * CHARGE_PER_DEGREE * (celsius - 25.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 6: the BCI table and straight lines between its points.
    #[test]
    fn rest_voltage() {
        for (volts, charge) in [
            (12.65, 100.0),
            (12.60, 93.75),
            (12.55, 87.5),
            (12.45, 75.0),
            (12.35, 63.10),
            (12.20, 44.44),
            (12.10, 30.56),
            (12.00, 16.18),
            (11.5, 0.0),
        ] {
            near(charge_at_rest(volts, 6.0, 26.7).unwrap(), charge, 0.01);
            near(
                charge_at_rest(volts / 6.0 * 8.0, 8.0, 26.7).unwrap(),
                charge,
                0.01,
            );
        }
        near(volts_at_rest(50.0, 6.0, 26.7).unwrap(), 12.24, 1e-9);
        // Field notes, section 2: eight cells rest at 16.87 V.
        near(volts_at_rest(100.0, 8.0, 26.7).unwrap(), 16.87, 5e-3);
        // Cold acid rests a little lower, so the same voltage is more charge.
        assert!(
            charge_at_rest(12.30, 6.0, -10.0).unwrap() > charge_at_rest(12.30, 6.0, 26.7).unwrap()
        );
        near(
            volts_at_rest(80.0, 6.0, 26.7).unwrap() - volts_at_rest(80.0, 6.0, -3.3).unwrap(),
            0.036,
            1e-9,
        );
        assert_eq!(charge_at_rest(12.0, 0.0, 20.0), None);
    }

    /// Reference values, section 6: both forms and the exponent from two tests.
    #[test]
    fn peukert() {
        for (amps, hours) in [(5.0, 20.0), (10.0, 8.7055), (25.0, 2.8991), (50.0, 1.2619)] {
            near(peukert_hours(amps, 100.0, 20.0, 1.2).unwrap(), hours, 1e-4);
        }
        near(
            peukert_hours(25.0, 20.0, 20.0, 1.2).unwrap() * 60.0,
            25.21,
            0.01,
        );
        near(
            peukert_hours(25.0, 20.0, 20.0, 1.1).unwrap() * 60.0,
            34.79,
            0.01,
        );
        // The one-hour form `C / I^k` (electrotechnik.net, 2010: printed as 14.5 h; easycalculation.com: 5.0886 h).
        near(
            peukert_hours(5.0, 100f64.powf(1.0 / 1.2), 1.0, 1.2).unwrap(),
            14.496,
            1e-3,
        );
        near(
            peukert_hours(20.0, 250f64.powf(1.0 / 1.3), 1.0, 1.3).unwrap(),
            5.0886,
            1e-4,
        );
        near(
            peukert_exponent((5.0, 20.0), (20.0, 3.8)).unwrap(),
            1.1980,
            1e-4,
        );
        assert_eq!(peukert_hours(0.0, 20.0, 20.0, 1.2), None);
    }

    /// Reference values, section 6: 14.40 V at 25 degC.
    #[test]
    fn regulator_and_temperature() {
        for (t, volts) in [(0.0, 14.85), (10.0, 14.67), (40.0, 14.13), (60.0, 13.77)] {
            near(charge_volts(14.40, 6.0, t), volts, 1e-9);
        }
    }
}
