//! Several columns together: one name for one column, cylinders, and the sheet's word.

use super::*;

#[test]
fn cylinders_only_where_the_heading_says_so() {
    for (text, name, said) in [
        ("EGT 3", "egt_3", false),
        ("EGT Cyl 3", "egt_3", true),
        ("Cyl3 EGT", "egt_3", true),
        ("EGT Bank 1 Cyl 3", "egt_3", true),
        ("EGT Bank 2", "egt_2", false),
        ("Cylinder Head Temp 2", "cht_2", false),
        ("Knock Cyl 4", "knock_4", true),
        ("Knock Sensor B", "knock_sensor_b", false),
        ("EGT B1C3", "egt_3", true),
    ] {
        let m = found(text).unwrap_or_else(|| panic!("{text}"));
        assert_eq!((m.name.as_str(), m.cylinder_said), (name, said), "{text}");
    }
    // Counted anew in the second bank: 1 is no longer one cylinder.
    let banks = mapped(&["EGT Bank 1 Cyl 1", "EGT Bank 1 Cyl 2", "EGT Bank 2 Cyl 1"]);
    assert_eq!(banks.found.len(), 2);
    assert!(banks.found.iter().all(|(_, m)| !m.cylinder_said));
    assert!(
        banks.unmapped[0]
            .1
            .as_deref()
            .is_some_and(|w| w.contains("already taken"))
    );
    // Counted on through the banks: nothing doubtful.
    let on = mapped(&["EGT Bank 1 Cyl 1", "EGT Bank 2 Cyl 2"]);
    assert!(on.found.iter().all(|(_, m)| m.cylinder_said));
    // Counted from 0: the first is left out with a reason, and nobody is called a cylinder.
    let zero = mapped(&["EGT Cyl 0", "EGT Cyl 1", "EGT Cyl 2"]);
    assert_eq!(zero.found.len(), 2);
    assert!(zero.found.iter().all(|(_, m)| !m.cylinder_said));
    assert!(
        zero.unmapped[0]
            .1
            .as_deref()
            .is_some_and(|w| w.contains("from 0"))
    );
}

#[test]
fn one_name_one_column() {
    let m = mapped(&[
        "Boost Pressure|kPa",
        "MAP|kPa",
        "Engine Run Time",
        "Time",
        "RPM",
        "RPM",
        "EGT",
        "EGT 1",
        "Aux 7",
    ]);
    let names: Vec<(usize, &str)> = m
        .found
        .iter()
        .map(|(at, m)| (*at, m.name.as_str()))
        .collect();
    assert_eq!(names, [(1, "map"), (3, "time"), (4, "rpm"), (7, "egt_1")]);
    let why = |at: usize| {
        let hit = m.unmapped.iter().find(|u| u.0 == at);
        hit.and_then(|u| u.1.clone()).unwrap_or_default()
    };
    assert_eq!(
        why(0),
        "also looks like `map`, already taken by column `MAP|kPa`"
    );
    assert!(why(5).contains("already taken by column `RPM`"));
    assert!(why(6).contains("without a number"));
    assert_eq!(m.found.len() + m.unmapped.len(), 9);
}

#[test]
fn the_sheet_has_the_last_word() {
    let list: Vec<HeadingIn> = [
        "Exh Temp Front|degF",
        "EGT 1|degC",
        "P7|V",
        "Mix",
        "rpm",
        "RPM ",
    ]
    .iter()
    .map(|t| one(t))
    .collect();
    let forced: Vec<(String, String)> = [
        ("egt_1", "exh temp front|degF"),
        ("oil_pressure", "P7|V"),
        ("lambda", "Mixx"),
        ("egt", "Mix"),
        ("rpm", "RPM"),
        ("speed", "RPM"),
    ]
    .iter()
    .map(|(a, b)| ((*a).to_string(), (*b).to_string()))
    .collect();
    let m = map(&list, &forced);
    let names: Vec<(usize, &str)> = m
        .found
        .iter()
        .map(|(at, m)| (*at, m.name.as_str()))
        .collect();
    assert_eq!(names, [(0, "egt_1"), (2, "oil_pressure"), (5, "rpm")]);
    assert!(m.found.iter().all(|(_, m)| m.forced));
    let egt = &m.found[0].1;
    assert!((egt.written.unwrap().to_standard(212.0) - 100.0).abs() < 1e-9);
    assert!(
        m.found[1]
            .1
            .unit_note
            .as_deref()
            .is_some_and(|n| n.contains("does not suit"))
    );
    let wrong: Vec<&str> = m.wrong_forced.iter().map(|w| w.name.as_str()).collect();
    assert_eq!(wrong, ["lambda", "egt", "speed"]);
    assert!(
        m.wrong_forced[0]
            .why
            .contains("no column of this log is headed `Mixx`")
    );
    assert!(m.wrong_forced[1].why.contains("needs its number"));
    assert!(m.wrong_forced[2].why.contains("already has a name"));
    assert_eq!(
        m.unmapped.iter().map(|u| u.0).collect::<Vec<_>>(),
        [1, 3, 4]
    );
}
