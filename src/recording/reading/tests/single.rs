//! One column by itself.

use super::*;

#[test]
fn numbers_that_leave_one_reading_are_read_so_and_marked() {
    // Field notes, section 3: coolant 170-220 is degF. A petrol-scaled AFR of 13.2 is lambda 0.898 (14.7: reference values,
    // section 3). Factors: NIST SP 811, by way of the tests of `units`.
    for (heading, low, high, unit, at, wanted) in [
        ("Coolant Temp", 70.0, 190.0, "degF", 212.0, 100.0),
        ("Coolant Temp", 290.0, 365.0, "K", 373.15, 100.0),
        ("Oil Temp", 60.0, 250.0, "degF", 212.0, 100.0),
        ("EGT 1", 900.0, 1500.0, "degF", 1292.0, 700.0),
        ("RPM", 0.0, 7.5, "krpm", 0.9, 900.0),
        ("Vbat", 11_000.0, 14_000.0, "mV", 13_800.0, 13.8),
        ("Sensor Supply", 4900.0, 5010.0, "mV", 5000.0, 5.0),
        ("Baro", 29.8, 30.0, "inHg", 29.92, 101.3207),
        ("Baro", 14.2, 14.3, "psi", 14.3, 98.595),
        ("Baro", 980.0, 986.0, "hPa", 986.0, 98.6),
        ("Baro", 0.98, 0.99, "bar", 0.986, 98.6),
        ("MAP", 4.0, 14.7, "psi", 14.7, 101.3529),
        ("MAP", 0.3, 1.0, "bar", 1.0, 100.0),
        ("Lambda", 11.0, 15.0, "afr", 13.23, 0.9),
        ("Wideband 1", 10.0, 18.0, "afr", 14.7, 1.0),
        ("Lambda", 780.0, 1300.0, "lambda x 1000", 850.0, 0.85),
        ("Lambda Target", 80.0, 100.0, "lambda x 100", 85.0, 0.85),
        ("Lambda", 125.0, 160.0, "afr x 10", 147.0, 1.0),
        ("Lambda", 1250.0, 1600.0, "afr x 100", 1323.0, 0.9),
        ("AFR", 0.8, 1.1, "lambda", 0.9, 0.9),
        ("Fuel Trim", 94.0, 107.0, "100 is neutral", 104.0, 4.0),
        ("STFT|%", 94.0, 107.0, "100 is neutral", 104.0, 4.0),
        ("Fuel Trim", 0.95, 1.06, "1 is neutral", 1.04, 4.0),
        ("Pulse Width", 900.0, 15_000.0, "us", 4000.0, 4.0),
        ("Pulse Width", 0.001, 0.015, "s", 0.004, 4.0),
        ("Dwell", 1500.0, 4000.0, "us", 3000.0, 3.0),
        ("Lat G", -9.0, 12.0, "m/s2", 9.80665, 1.0),
    ] {
        let got = ramp(heading, low, high);
        let case = format!("{heading} {low}..{high}: {:?}", got.questions);
        assert_eq!(
            (got.unit.as_str(), got.from),
            (unit, UnitFrom::Numbers),
            "{case}"
        );
        let value = got.standard(at);
        assert!((value - wanted).abs() < 1e-3, "{case}: {value}");
        assert!(
            got.because.iter().any(|b| b.contains(unit)),
            "{case}: {:?}",
            got.because
        );
        let asked = questions(&[got]).join(" ");
        assert!(
            asked.contains(&format!("\"{unit}\"")) && asked.contains("[units]"),
            "{asked}"
        );
    }
}

#[test]
fn numbers_that_leave_two_readings_are_kept_and_asked_about() {
    // Field notes, section 3: oil 2-7 is bar, 20-90 psi; but so little may also be true.
    for (heading, low, high, words) in [
        ("Coolant Temp|degC", 100.0, 220.0, "degF"),
        ("Oil Pressure", 0.0, 5.5, "bar"),
        ("Oil Pressure", 0.0, 60.0, "psi"),
        ("Fuel Pressure", 40.0, 43.5, "psi"),
        ("Baro", 740.0, 760.0, "hPa or mmHg"),
        ("TPS", 0.0, 1.0, "0 to 1"),
        ("Lambda", 6.0, 9.0, "fuel.lambda_scale_afr"),
        (
            "Lambda|lambda",
            12.0,
            15.0,
            "though the heading says lambda",
        ),
        ("AFR", 120.0, 160.0, "in what is it logged"),
        ("Lambda", 105.0, 130.0, "how many times over"),
        ("Lambda", 0.1, 0.5, "narrow-band"),
        ("Lateral Acceleration", -3.0, 3.1, "m/s2"),
        ("Coolant Temp", 900.0, 950.0, "outside of what is possible"),
    ] {
        let got = ramp(heading, low, high);
        let asked = got.questions.join(" ");
        assert!(asked.contains(words), "{heading} {low}..{high}: {asked}");
        assert_ne!(got.from, UnitFrom::Numbers, "{heading}");
        assert_eq!(
            got.standard(50.0),
            50.0 / if heading == "AFR" { 14.7 } else { 1.0 },
            "{heading}"
        );
    }
}

#[test]
fn healthy_numbers_raise_no_question() {
    for (heading, low, high) in [
        ("Coolant Temp", 20.0, 95.0),
        ("Coolant Temp|degF", 20.0, 105.0),
        ("Oil Pressure", 0.0, 450.0),
        ("Oil Pressure", 0.0, 0.0),
        ("Oil Pressure|kPa", 0.0, 5.0),
        ("Fuel Pressure", 290.0, 310.0),
        ("MAP", 30.0, 100.0),
        ("MAP|kPa", 30.0, 240.0),
        ("Baro", 99.0, 101.0),
        ("EGT 1", 100.0, 860.0),
        ("RPM", 0.0, 7600.0),
        ("RPM", 0.0, 0.0),
        ("RPM", 0.0, 0.4),
        ("Battery Voltage", 9.5, 14.2),
        ("Battery Voltage", 16.0, 19.2),
        ("TPS", 0.0, 100.0),
        ("TPS", 0.0, 0.0),
        ("TPS|%", 0.0, 1.0),
        ("Lambda", 0.8, 1.3),
        ("Lambda|lambda", 0.7, 1.9),
        ("AFR", 11.0, 16.0),
        ("Fuel Trim", -8.0, 12.0),
        ("Lat G", -1.2, 1.3),
        ("Lateral Acceleration", -1.2, 1.3),
        ("Lateral Acceleration|m/s2", -12.0, 13.0),
        ("Injector Duty", 0.0, 80.0),
        ("Pulse Width", 0.0, 12.0),
        ("Fan", 0.0, 1.0),
    ] {
        let got = ramp(heading, low, high);
        assert_eq!(got.questions.join(" "), "", "{heading} {low}..{high}");
        assert_ne!(got.from, UnitFrom::Numbers, "{heading} {low}..{high}");
    }
}

#[test]
fn afr_is_divided_by_the_loggers_scale_and_never_by_the_fuels() {
    // Field notes, section 3: a petrol-scaled 12.0 is lambda 0.816, whatever is burnt.
    let afr = |t: f64| 11.0 + 3.0 * t;
    let run = |sheet: &str, heading: &str| {
        let got = log(&[(heading, 14.0, &afr)], sheet);
        (of(&got, "lambda").standard(12.0) * 1000.0).round() / 1000.0
    };
    for heading in ["AFR", "Lambda"] {
        for fuel in ["methanol", "e85", "gasoline"] {
            assert_eq!(
                run(&format!("[fuel]\nkind = \"{fuel}\""), heading),
                0.816,
                "{heading}, {fuel}"
            );
        }
        assert_eq!(run("[fuel]\nlambda_scale_afr = 14.57", heading), 0.824);
    }
}
