//! The words of the sheet's `[units]`.

use super::*;

fn under(name: &str, text: &str) -> Result<(), String> {
    let sheet = sheet::parse("car.toml", &format!("[units]\n{name} = \"{text}\"\n")).unwrap();
    match wrong_words(&sheet).pop() {
        None => Ok(()),
        Some(error) => Err(error.to_string()),
    }
}

#[test]
fn the_sheets_word_stands_over_the_heading_and_the_numbers() {
    // Factors: NIST SP 811, by way of the tests of `units`.
    for (heading, name, text, raw, wanted) in [
        ("Oil Pressure|kPa", "oil_pressure", "psi", 100.0, 689.4757),
        ("Coolant Temp", "coolant_temp", "degF", 212.0, 100.0),
        ("Coolant Temp", "coolant_temp", "degC", 190.0, 190.0),
        ("EGT 1", "egt_1", "K", 973.15, 700.0),
        ("Lambda", "lambda", "afr", 13.23, 0.9),
        ("Lambda", "lambda", "lambda x 1000", 850.0, 0.85),
        ("Lambda", "lambda", "AFR x 10", 132.3, 0.9),
        ("AFR", "lambda", "lambda", 0.9, 0.9),
        ("TPS|%", "tps", "0 to 1", 0.5, 50.0),
        ("Fuel Trim", "fuel_trim", "100 is neutral", 104.0, 4.0),
        ("Fuel Trim", "fuel_trim", "1 is neutral", 1.04, 4.0),
        ("Speed", "speed", "mph", 60.0, 96.56064),
        ("Speed", "speed", "m/s", 10.0, 36.0),
        ("Vbat", "battery_v", "V x 10", 138.0, 13.8),
        ("Pulse Width", "injector_pulse", "us", 4000.0, 4.0),
        ("Battery Current", "current", "A reversed", 12.0, -12.0),
        ("Lat G", "lateral_g", "m/s2", 9.80665, 1.0),
        ("Uptime", "uptime", "ms", 1500.0, 1.5),
    ] {
        let flat = |_: f64| raw;
        let got = log(
            &[(heading, raw, &flat)],
            &format!("[units]\n{name} = \"{text}\""),
        );
        let got = of(&got, name);
        assert_eq!((got.from, got.unit.as_str()), (UnitFrom::Sheet, text));
        assert!(
            (got.standard(raw) - wanted).abs() < 1e-3,
            "{name} {text}: {}",
            got.standard(raw)
        );
        assert!(got.questions.is_empty(), "{:?}", got.questions);
        assert_eq!(under(name, text), Ok(()));
    }
}

#[test]
fn words_that_do_not_fit_are_refused_with_their_place() {
    let wrong = under("oil_pressure", "degF").unwrap_err();
    assert_eq!(
        wrong,
        "car.toml, line 2, column 16: \"degF\" is nothing that `oil_pressure` can be logged in\n  \
         2 | oil_pressure = \"degF\"\n    |                ^^^^^^\n  \
         wanted: a unit of pressure, with \"gauge\" or \"absolute\" behind it where that is known: \"psi\", \"bar\", \"kPa absolute\""
    );
    for (name, text, wanted) in [
        ("oil_presure", "psi", "no standard name"),
        ("egt_1", "kPa", "\"degC\", \"degF\" or \"K\""),
        ("lambda", "gasoline", "\"afr\""),
        ("lambda", "lambda x 0", "\"afr\""),
        ("lambda", "lambda x many", "\"afr\""),
        ("knock_1", "psi", "\"count per row\", or \"level\""),
        (
            "sync_errors",
            "level",
            "\"running count\" or \"count per row\"",
        ),
        ("tps", "0 to 2", "\"0 to 1\""),
        ("gear", "psi", "take the line out"),
        (
            "fuel_pressure_diff",
            "kPa absolute",
            "a unit of pressure: \"psi\"",
        ),
    ] {
        let error = under(name, text).unwrap_err();
        assert!(error.contains(wanted), "{name} = {text}: {error}");
    }
    for (name, text) in [
        ("knock_1", "level"),
        ("knock_count", "running count"),
        ("map", "psi gauge"),
        ("map", "kPa absolute"),
        ("fan", "count"),
    ] {
        assert_eq!(under(name, text), Ok(()), "{name} = {text}");
    }
}
