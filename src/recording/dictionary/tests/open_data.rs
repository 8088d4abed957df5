//! The headings of real logs.

use std::path::Path;

use super::*;

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
        }
    }
    assert!(files >= 12, "{files} files");
}
