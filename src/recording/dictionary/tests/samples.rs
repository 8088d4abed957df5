//! The values behind a name, and the headings and values of real logs.

use std::path::Path;

use super::*;

/// Values spread evenly between two ends.
fn ramp(low: f64, high: f64) -> Vec<f64> {
    (0..=200)
        .map(|i| low + (high - low) * f64::from(i) / 200.0)
        .collect()
}

fn question(text: &str, low: f64, high: f64) -> String {
    let m = found(text).unwrap_or_else(|| panic!("{text}"));
    sample_check(&m, &ramp(low, high)).unwrap_or_default()
}

#[test]
fn values_that_look_like_another_unit_raise_a_question() {
    // Field notes, section 3: coolant 170-220 is degF; oil 2-7 is bar, 20-90 psi. A petrol-scaled AFR of 12.
    for (text, low, high, words) in [
        ("Coolant Temp", 70.0, 190.0, "degF"),
        ("Coolant Temp|degC", 100.0, 220.0, "degF"),
        ("Oil Pressure", 0.0, 5.5, "bar"),
        ("Oil Pressure", 0.0, 60.0, "psi"),
        ("Fuel Pressure", 40.0, 43.5, "psi"),
        ("MAP", 4.0, 14.7, "psi"),
        ("MAP", 0.3, 1.0, "bar"),
        ("MAP", -70.0, 100.0, "over the air"),
        ("Baro", 29.8, 30.0, "inHg"),
        ("EGT 1", 900.0, 1500.0, "degF"),
        ("RPM", 0.0, 7.5, "krpm"),
        ("Vbat", 11000.0, 14000.0, "mV"),
        ("TPS", 0.0, 1.0, "0 to 1"),
        ("Lambda", 11.0, 15.0, "fuel.lambda_scale_afr"),
        ("AFR", 0.8, 1.1, "lambda already"),
        ("Lambda", 0.1, 0.5, "narrow-band"),
        ("Fuel Trim", 94.0, 107.0, "100"),
        ("Fuel Trim", 0.95, 1.06, "1.00"),
        ("Pulse Width", 900.0, 15000.0, "us"),
        ("Lat G", -9.0, 12.0, "m/s2"),
        ("Coolant Temp", 900.0, 950.0, "outside of what is possible"),
    ] {
        let got = question(text, low, high);
        assert!(got.contains(words), "{text} {low}..{high}: {got}");
    }
}

#[test]
fn healthy_values_raise_none() {
    for (text, low, high) in [
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
        ("Battery Voltage", 9.5, 14.2),
        ("Battery Voltage", 16.0, 19.2),
        ("TPS", 0.0, 100.0),
        ("TPS", 0.0, 0.0),
        ("Lambda", 0.8, 1.3),
        ("AFR", 11.0, 16.0),
        ("Fuel Trim", -8.0, 12.0),
        ("Lat G", -1.2, 1.3),
        ("Injector Duty", 0.0, 80.0),
        ("Fan", 0.0, 1.0),
    ] {
        assert_eq!(question(text, low, high), "", "{text} {low}..{high}");
    }
}

/// The carOBD dataset, every file of the folder.
#[test]
fn real_headings_of_a_car() {
    let folder = Path::new("../shared/open-data/car-obd");
    if !folder.exists() {
        return eprintln!("skipped: no open data beside the checkout");
    }
    let wanted = [
        ("ENGINE_RUN_TINE", "time"),
        ("ENGINE_RPM", "rpm"),
        ("VEHICLE_SPEED", "speed"),
        ("THROTTLE", "tps"),
        ("COOLANT_TEMPERATURE", "coolant_temp"),
        ("SHORT_TERM_FUEL_TRIM_BANK_1", "fuel_trim"),
        ("INTAKE_MANIFOLD_PRESSURE", "map"),
        ("ABSOLUTE_THROTTLE_B", "tps_2"),
        ("PEDAL_D", "pedal"),
        ("ABSOLUTE_BAROMETRIC_PRESSURE", "baro"),
        ("INTAKE_AIR_TEMP", "intake_temp"),
        ("TIMING_ADVANCE", "ignition_advance"),
        ("CONTROL_MODULE_VOLTAGE", "battery_v"),
    ];
    let mut files = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        files += 1;
        let text = std::fs::read_to_string(&path).unwrap();
        let mut lines = text.lines();
        let heads: Vec<&str> = lines.next().unwrap().split(',').collect();
        for cut in [false, true] {
            let list: Vec<HeadingIn> = heads
                .iter()
                .map(|raw| match raw.split_once('(') {
                    Some((name, _)) if cut => HeadingIn {
                        raw,
                        name,
                        unit: Some(""),
                    },
                    _ => HeadingIn {
                        raw,
                        name: raw,
                        unit: None,
                    },
                })
                .collect();
            let m = map(&list, &[]);
            let got: Vec<(&str, &str)> = m
                .found
                .iter()
                .map(|(at, m)| (heads[*at].trim_end_matches(" ()"), m.name.as_str()))
                .collect();
            assert_eq!(got, wanted, "{}", path.display());
            for (at, m) in m.found.iter().filter(|(_, m)| m.name != "time") {
                let values: Vec<f64> = text
                    .lines()
                    .skip(1)
                    .filter_map(|l| l.split(',').nth(*at)?.trim().parse().ok())
                    .collect();
                assert!(values.len() > 100, "{} rows", values.len());
                assert_eq!(
                    sample_check(m, &values),
                    None,
                    "{} {}",
                    path.display(),
                    m.name
                );
            }
        }
    }
    assert!(files >= 12, "{files} files");
}
