//! The dictionary against headings in the styles of many loggers. What a heading should mean is trade usage: common
//! practice, no source; the real headings come from the carOBD dataset.

use super::*;
mod mapping;
mod open_data;

fn one<'a>(text: &'a str) -> HeadingIn<'a> {
    let (name, unit) = match text.split_once('|') {
        Some((name, unit)) => (name, Some(unit)),
        None => (text, None),
    };
    HeadingIn {
        raw: text,
        name,
        unit,
    }
}

fn mapped(texts: &[&str]) -> Mapping {
    let list: Vec<HeadingIn> = texts.iter().map(|t| one(t)).collect();
    map(&list, &[])
}

fn found(text: &str) -> Option<Match> {
    mapped(&[text]).found.pop().map(|(_, m)| m)
}

fn name_of(text: &str) -> String {
    found(text).map_or_else(|| "-".to_string(), |m| m.name)
}

/// Wanted name and heading, from the table of headings; `-` for none.
fn headings() -> Vec<(&'static str, &'static str)> {
    let lines = include_str!("tests/headings.txt").lines();
    lines
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once(": "))
        .flat_map(|(name, list)| list.split("; ").map(move |text| (name, text)))
        .collect()
}

#[test]
fn headings_of_many_loggers_get_their_names_and_others_none() {
    let all = headings();
    let others = all.iter().filter(|(wanted, _)| *wanted == "-").count();
    assert!(
        all.len() - others >= 400 && others >= 150,
        "{} {others}",
        all.len()
    );
    let wrong: Vec<String> = all
        .iter()
        .map(|(wanted, text)| (wanted, text, name_of(text)))
        .filter(|(wanted, _, got)| got != *wanted)
        .map(|(wanted, text, got)| format!("{text}: wanted {wanted}, got {got}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_table_is_sound() {
    // Every name of the design, section 5, and of the field notes, section 3.
    let names = "time uptime rpm tps tps_2 pedal map baro boost_target lambda lambda_2 lambda_target lambda_valid \
        coolant_temp oil_temp intake_temp fuel_temp bay_temp oil_pressure fuel_pressure fuel_pressure_diff \
        coolant_pressure exhaust_pressure crankcase_pressure battery_v sensor_supply current egt_1 egt_12 cht_2 \
        knock_3 knock_count knock_level_4 knock_retard_1 knock_sensor_a knock_sensor_b injector_pulse injector_duty \
        staged_duty ignition_advance dwell sync_errors speed lateral_g long_g wastegate_duty alternator_duty \
        fuel_cut ignition_cut fan starter gear fuel_trim fuel_trim_2 wheel_1 wheel_4 ethanol_pct";
    for name in names.split_whitespace() {
        let entry = entry(name).unwrap_or_else(|| panic!("{name} is missing"));
        let position = member(name).unwrap_or_else(|| panic!("{name}")).1;
        assert_eq!(entry.member(position.unwrap_or(1)), name);
    }
    for name in [
        "egt",
        "wheel_5",
        "egt_0",
        "egt_01",
        "egt_x",
        "knock_sensor_1",
        "oil",
    ] {
        assert!(member(name).is_none(), "{name}");
    }
    let mut seen = BTreeSet::new();
    for entry in entries() {
        let name = &entry.name;
        assert!(seen.insert(name.clone()), "{name} stands twice");
        assert!(entry.range[0] < entry.range[1], "{name}");
        assert!(!entry.about.is_empty() && !entry.quantity.is_empty());
        let unit = Unit::parse(&entry.unit).unwrap_or_else(|| panic!("unit of {name}"));
        assert_eq!(
            (unit.factor, unit.offset),
            (1.0, 0.0),
            "{name}: not a standard unit"
        );
        assert!(
            unit.unit.is_none() || unit.unit.to_string() == entry.unit,
            "{name}"
        );
        for other in entry.may_be.iter().chain(&entry.unit_if_absent) {
            assert!(Unit::parse(other).is_some(), "{name}: {other}");
        }
        if let Some([low, high]) = entry.usual {
            assert!(
                low < high && entry.range[0] <= low && high <= entry.range[1],
                "{name}"
            );
        }
        for other in entry.moves_with.iter().chain(&entry.second_of) {
            assert!(super::entry(other).is_some(), "{name}: {other}");
        }
        assert!(!entry.family || entry.positions.is_some());
    }
}

#[test]
fn every_word_of_the_table_leads_to_its_own_entry() {
    let mut wrong = Vec::new();
    for entry in entries() {
        let unit = if entry.unit.is_empty() {
            entry.also_units.first().map_or("", String::as_str)
        } else {
            &entry.unit
        };
        let second = entry.second_of.as_ref().map_or("", |_| " 2");
        let number = if entry.needs_number { " 1" } else { second };
        let with_unit = entry.words_with_unit.iter().map(|w| (w, unit, number));
        let plain = entry
            .words
            .iter()
            .chain(&entry.weak)
            .chain(&entry.afr_words);
        let plain = plain.map(|w| {
            let numbered =
                w.ends_with(" 2") || w.ends_with(" b") || w.ends_with("sub") || w.ends_with("b2");
            (w, "", if numbered { "" } else { number })
        });
        for (word, unit, number) in with_unit.chain(plain) {
            let text = format!("{word}{number}|{unit}");
            let want = entry.member(1);
            let got = name_of(&text);
            if got != want {
                wrong.push(format!("{text}: wanted {want}, got {got}"));
            }
        }
        for (corner, number) in &entry.places {
            assert_eq!(
                name_of(&format!("Wheel Speed {corner}")),
                entry.member(*number)
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn units_in_brackets_rows_and_glued_to_the_name() {
    // NIST SP 811, by way of the tests of `units`.
    for (text, name, raw, wanted) in [
        ("Coolant Temp [\u{b0}F]", "coolant_temp", 212.0, 100.0),
        ("CLT_F", "coolant_temp", 212.0, 100.0),
        ("Coolant Temp|\u{b0} F", "coolant_temp", 212.0, 100.0),
        ("EGT1_C", "egt_1", 700.0, 700.0),
        ("Engine Speed/rpm", "rpm", 900.0, 900.0),
        ("RPM/1/min", "rpm", 900.0, 900.0),
        ("Speed/mph", "speed", 60.0, 96.56064),
        ("Oil Pressure / bar", "oil_pressure", 4.0, 400.0),
        ("EGT3F", "egt_3", 1292.0, 700.0),
        ("MAP_psi", "map", 14.7, 101.3529),
        ("MAPkPa", "map", 99.0, 99.0),
        ("Oil Press psig", "oil_pressure", 100.0, 689.4757),
        ("Oil Pressure (bar)", "oil_pressure", 4.0, 400.0),
        ("Baro|inHg", "baro", 29.92, 101.3207),
        ("Speed mph", "speed", 60.0, 96.56064),
        ("Time|ms", "time", 1500.0, 1.5),
        ("Injection Time|s", "injector_pulse", 0.004, 4.0),
        ("Pulse Width (us)", "injector_pulse", 4000.0, 4.0),
        ("Vbat|mV", "battery_v", 13800.0, 13.8),
        ("Drehzahl|U/min", "rpm", 900.0, 900.0),
        ("Oil Temp deg F", "oil_temp", 212.0, 100.0),
        ("Lat G|m/s\u{b2}", "lateral_g", 9.80665, 1.0),
    ] {
        let m = found(text).unwrap_or_else(|| panic!("{text}"));
        assert_eq!(m.name, name, "{text}");
        let got = m
            .written
            .unwrap_or_else(|| panic!("{text}: no unit"))
            .to_standard(raw);
        assert!((got - wanted).abs() < 1e-3, "{text}: {got}");
        assert!(m.written.is_some_and(|w| w.unit == m.entry.unit()));
    }
}

#[test]
fn what_is_uncertain_is_said() {
    let note = |text: &str| found(text).and_then(|m| m.unit_note).unwrap_or_default();
    assert!(note("Oil Pressure").contains("no unit in the heading: read as kPa"));
    assert_eq!(note("RPM"), "");
    assert!(note("Oil Temp|foo").contains("`foo` is not understood"));
    assert!(note("Coolant Temp|deg").contains("not of which scale"));
    assert!(note("MAP|psig").contains("over the air"));
    assert!(note("Oil Pressure|kPa abs").contains("still in it"));
    assert!(note("Boost|psi").contains("not absolute"));
    assert!(note("EGT|degC").contains("no number"));
    assert!(note("Knock Level 2|V").contains("logged in V"));
    assert_eq!(
        found("MAP|kPa abs").unwrap().reference,
        Some(Reference::Absolute)
    );
    assert_eq!(
        found("Fuel Pressure Gauge|kPa").unwrap().reference,
        Some(Reference::Gauge)
    );
    let why = |text: &str| {
        mapped(&[text])
            .unmapped
            .pop()
            .and_then(|u| u.1)
            .unwrap_or_default()
    };
    assert!(why("Coolant Temp|kPa").contains("of another kind (kPa)"));
    assert!(why("Fuel Pressure Target|kPa").contains("`target`"));
    assert!(why("EGT Front").contains("`front`"));
    assert!(why("Knock").contains("no number"));
    assert!(why("Lambda Cyl 3").contains("one cylinder"));
    assert_eq!(why("Aux 7"), "");
}

#[test]
fn air_fuel_ratios_are_marked_for_the_loggers_scale() {
    for (text, name, afr) in [
        ("AFR", "lambda", true),
        ("AFR 2", "lambda_2", true),
        ("AFR Target", "lambda_target", true),
        ("Air/Fuel Ratio|:1", "lambda", true),
        ("Lambda 1|AFR", "lambda", true),
        ("Wideband AFR", "lambda", true),
        ("Wideband|AFR", "lambda", true),
        ("AFR|lambda", "lambda", false),
        ("Lambda", "lambda", false),
        ("Lambda Target|\u{3bb}", "lambda_target", false),
    ] {
        let m = found(text).unwrap_or_else(|| panic!("{text}"));
        assert_eq!((m.name.as_str(), m.afr), (name, afr), "{text}");
    }
}
