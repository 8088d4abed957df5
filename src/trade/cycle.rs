//! The engine's cycle: its length, firings, the share of it that an injector is open.
//!
//! `turns` are turns of the crank a cycle: 2 for a four-stroke (720 degrees), 1 for a two-stroke and for each rotor of a
//! rotary (360 degrees of the shaft).

/// Length of a cycle in ms: `60000 turns / rpm`.
pub fn milliseconds(rpm: f64, turns: f64) -> Option<f64> {
    (rpm > 0.0 && turns > 0.0).then(|| 60_000.0 * turns / rpm)
}

/// Firings a second of so many cylinders (rotors).
pub fn firings_per_second(rpm: f64, turns: f64, cylinders: f64) -> Option<f64> {
    (rpm >= 0.0 && turns > 0.0 && cylinders >= 0.0).then(|| cylinders * rpm / (60.0 * turns))
}

/// Duty in % of an injector with a pulse in ms, `injections` times a cycle. Over 100 it never closes.
pub fn duty(pulse_ms: f64, rpm: f64, turns: f64, injections: f64) -> Option<f64> {
    (pulse_ms >= 0.0 && injections > 0.0)
        .then(|| milliseconds(rpm, turns).map(|cycle| 100.0 * pulse_ms * injections / cycle))?
}

/// Time in ms between the end of one pulse and the beginning of the next: under zero it never closes.
pub fn gap(pulse_ms: f64, rpm: f64, turns: f64, injections: f64) -> Option<f64> {
    (injections > 0.0)
        .then(|| milliseconds(rpm, turns).map(|cycle| cycle / injections - pulse_ms))?
}

/// Longest pulse in ms that keeps to a duty in %.
pub fn longest_pulse(duty: f64, rpm: f64, turns: f64, injections: f64) -> Option<f64> {
    (injections > 0.0)
        .then(|| milliseconds(rpm, turns).map(|cycle| duty / 100.0 * cycle / injections))?
}

/// Mean piston speed in m/s of a stroke in mm.
pub fn piston_speed(stroke_mm: f64, rpm: f64) -> f64 {
    2.0 * stroke_mm / 1000.0 * rpm / 60.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 4.
    #[test]
    fn cycles_and_firings() {
        for (rpm, ms, four, six, eight) in [
            (300.0, 400.0, 10.0, 15.0, 20.0),
            (900.0, 133.333, 30.0, 45.0, 60.0),
            (3000.0, 40.0, 100.0, 150.0, 200.0),
            (7500.0, 16.0, 250.0, 375.0, 500.0),
            (9000.0, 13.333, 300.0, 450.0, 600.0),
        ] {
            near(milliseconds(rpm, 2.0).unwrap(), ms, 1e-3);
            near(milliseconds(rpm, 1.0).unwrap(), ms / 2.0, 1e-3);
            for (cylinders, firings) in [(4.0, four), (6.0, six), (8.0, eight)] {
                near(
                    firings_per_second(rpm, 2.0, cylinders).unwrap(),
                    firings,
                    1e-9,
                );
            }
        }
        // A two-rotor rotary fires as often as a four-cylinder four-stroke.
        near(firings_per_second(3000.0, 1.0, 2.0).unwrap(), 100.0, 1e-9);
        assert_eq!(milliseconds(0.0, 2.0), None);
    }

    /// Reference values, section 4.
    #[test]
    fn duties() {
        for (ms, rpm, percent) in [
            (2.0, 900.0, 1.5),
            (3.0, 6000.0, 15.0),
            (12.0, 8000.0, 80.0),
            (16.0, 7000.0, 93.333),
            (20.0, 6000.0, 100.0),
            (21.0, 6000.0, 105.0),
        ] {
            near(duty(ms, rpm, 2.0, 1.0).unwrap(), percent, 1e-3);
            near(duty(ms, rpm, 2.0, 2.0).unwrap(), 2.0 * percent, 2e-3);
            near(duty(ms, rpm, 1.0, 1.0).unwrap(), 2.0 * percent, 2e-3);
        }
        near(longest_pulse(85.0, 7500.0, 2.0, 1.0).unwrap(), 13.6, 1e-9);
        near(gap(13.6, 7500.0, 2.0, 1.0).unwrap(), 2.4, 1e-9);
        assert!(gap(21.0, 6000.0, 2.0, 1.0).unwrap() < 0.0);
    }

    /// Reference values, section 4.
    #[test]
    fn piston_speeds() {
        for (stroke, rpm, speed) in [
            (86.0, 6000.0, 17.20),
            (86.0, 7000.0, 20.067),
            (63.5, 9000.0, 19.05),
            (101.6, 6000.0, 20.32),
        ] {
            near(piston_speed(stroke, rpm), speed, 1e-3);
        }
    }
}
