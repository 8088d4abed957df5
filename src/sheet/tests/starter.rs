//! The starter sheet, and arbitrary input.

use proptest::prelude::*;

use super::*;

/// Takes the `#` off every entry that is not in use, as the head of the starter sheet says.
fn uncommented(sheet: &str) -> String {
    let in_use = |line: &str| match line.strip_prefix('#') {
        Some(entry) if !entry.is_empty() && !entry.starts_with(' ') => format!("{entry}\n"),
        _ => format!("{line}\n"),
    };
    sheet.lines().map(in_use).collect()
}

#[test]
fn a_starter_from_nothing_is_all_questions() {
    let text = starter(&Seen::default());
    let sheet = good(&text);
    assert!(SCHEMA.iter().all(|entry| sheet.entry(entry.name).is_none()));
    let full = good(&uncommented(&text));
    for entry in SCHEMA {
        assert!(full.entry(entry.name).is_some(), "{}", entry.name);
        let asked = entry.question.split_whitespace().next().unwrap_or_default();
        assert!(text.contains(asked), "{}", entry.name);
    }
    assert_eq!(
        (full.limits.len(), full.channels.len(), full.units.len()),
        (1, 1, 1)
    );
}

#[test]
fn a_starter_holds_what_the_log_shows() {
    let seen = Seen {
        log: "run.csv".to_owned(),
        cylinders: Some((4, "four EGT columns named by cylinder".to_owned())),
        idle_rpm: Some(1083.0),
        max_rpm: Some(9120.0),
        rest_v: Some(16.6),
        charging_v: Some(18.9),
        altitude_m: Some(287.0),
        fan_channel: true,
        channels: vec![
            ("egt_1".to_owned(), "EGT \"Cyl\" 1".to_owned()),
            ("egt_2".to_owned(), "EGT\\\n2\t\u{7f}".to_owned()),
        ],
        unmapped: vec!["Aux 7".to_owned()],
        units: vec![(
            "coolant_temp".to_owned(),
            "degF".to_owned(),
            "It reaches 190.".to_owned(),
        )],
        notes: vec!["lambda moves with throttle".to_owned()],
    };
    let text = starter(&seen);
    let sheet = good(&text);
    assert_eq!(sheet.engine.cylinders, Some(4));
    assert_eq!(sheet.engine.idle_rpm, Some(1080.0));
    assert_eq!(sheet.electrical.nominal_v, Some(16.0));
    assert_eq!(sheet.air.altitude_m, Some(290.0));
    assert_eq!(sheet.cooling.fan, Some(true));
    // What is to be judged is not learnt from the log that is judged.
    assert_eq!(
        (sheet.electrical.regulator_v, sheet.engine.rev_limit_rpm),
        (None, None)
    );
    for told in [
        "run.csv",
        "four EGT columns",
        "16.60 V",
        "18.90 V",
        "9120 rpm",
        "Aux 7",
        "lambda moves",
        "In which unit is coolant_temp logged? It reaches 190.",
    ] {
        assert!(text.contains(told), "{told}\n{text}");
    }
    let full = good(&uncommented(&text));
    assert_eq!(full.channels[0].1, "EGT \"Cyl\" 1");
    assert_eq!(full.channels[1].1, "EGT\\\n2\t\u{7f}");
    assert_eq!(full.engine.rev_limit_rpm, Some(9200.0));
    assert_eq!(
        (full.units[0].name.as_str(), full.units[0].text.as_str()),
        ("coolant_temp", "degF")
    );
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,200}") {
        let _ = parse("x", &text).map_err(|error| error.to_string());
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let text = String::from_utf8_lossy(&bytes);
        let _ = parse("x", &text).map_err(|error| error.to_string());
    }

    /// The sample with a stretch cut out or put in somewhere: near enough to a sheet to reach every corner.
    #[test]
    fn a_damaged_sample_is_read_or_refused(at in 0..SAMPLE.len(), cut in 0..40_usize, put in "[\\[\\]{}\"'=,.#\n a-z0-9ü]{0,6}") {
        let end = (at + cut).min(SAMPLE.len());
        let text = format!("{}{put}{}", &SAMPLE[..at], &SAMPLE[end..]);
        if let Err(error) = parse("x", &text) {
            prop_assert!(!error.problems().is_empty());
            for problem in error.problems() {
                let place = problem.place.expect("a parsed sheet has places");
                let line = text.split('\n').nth(place.line - 1).expect("the line is there");
                prop_assert_eq!(line, problem.line_text.as_str());
            }
        }
    }

    #[test]
    fn any_starter_is_a_valid_sheet(
        cylinders in prop::option::of((0..60_u32, ".{0,20}")),
        figures in prop::array::uniform5(prop::option::of(prop_oneof![any::<f64>(), 0.0..20.0_f64, 0.0..12_000.0_f64])),
        fan_channel: bool,
        channels in prop::collection::vec(("[a-z_0-9]{0,6}", any::<String>()), 0..5),
        unmapped in prop::collection::vec(any::<String>(), 0..3),
        units in prop::collection::vec(("[a-z_0-9]{0,6}", any::<String>(), any::<String>()), 0..3),
        notes in prop::collection::vec(any::<String>(), 0..3),
    ) {
        let [idle_rpm, max_rpm, rest_v, charging_v, altitude_m] = figures;
        let seen = Seen {
            log: notes.first().cloned().unwrap_or_default(),
            cylinders, idle_rpm, max_rpm, rest_v, charging_v, altitude_m, fan_channel, channels, unmapped, units, notes,
        };
        let text = starter(&seen);
        for text in [uncommented(&text), text] {
            if let Err(error) = parse("starter", &text) {
                prop_assert!(false, "{}\n{}", error, text);
            }
        }
    }
}
