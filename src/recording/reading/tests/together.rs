//! Columns that speak for one another.

use super::*;

fn rises(from: f64, to: f64) -> impl Fn(f64) -> f64 {
    move |t| from + (to - from) * t
}

fn in_f(c: f64) -> f64 {
    c * 1.8 + 32.0
}

#[test]
fn temperatures_in_one_unit_show_it_for_each_other() {
    for (unit, to) in [("degF", in_f as fn(f64) -> f64), ("K", |c| c + 273.15)] {
        let column = |c: f64, top: f64| (to(c), rises(to(c), to(top)));
        let (coolant, intake, oil) = (column(16.0, 88.0), column(17.0, 27.0), column(16.0, 64.0));
        let (egt, cold) = (column(15.0, 620.0), column(15.0, 60.0));
        let rpm = rises(1000.0, 5000.0);
        let got = log(
            &[
                ("RPM", 0.0, &rpm),
                ("Coolant Temp", coolant.0, &coolant.1),
                ("Intake Temp", intake.0, &intake.1),
                ("Oil Temp", oil.0, &oil.1),
                ("EGT 1", egt.0, &egt.1),
                // A probe that never gets hot: a dead cylinder must not be read in another unit than its neighbours.
                ("EGT 2", cold.0, &cold.1),
            ],
            "",
        );
        for (name, top) in [
            ("coolant_temp", 88.0),
            ("intake_temp", 27.0),
            ("oil_temp", 64.0),
            ("egt_1", 620.0),
            ("egt_2", 60.0),
        ] {
            let r = of(&got, name);
            assert_eq!(
                (told(r).as_str(), r.from),
                (unit, UnitFrom::Numbers),
                "{name} in {unit}"
            );
            assert!((r.standard(to(top)) - top).abs() < 1e-9);
            assert!(r.questions.is_empty(), "{name}: {:?}", r.questions);
        }
        let asked = questions(&got);
        assert_eq!(asked.len(), 1, "put once: {asked:#?}");
    }
}

#[test]
fn a_probe_that_agrees_at_rest_as_it_stands_is_left_alone() {
    // Coolant in degF, probes in degC, as an amplifier of its own writes them.
    let (rpm, coolant, egt) = (
        rises(1000.0, 5000.0),
        rises(61.0, 190.0),
        rises(16.0, 700.0),
    );
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Coolant Temp", 61.0, &coolant),
            ("EGT 1", 16.0, &egt),
        ],
        "",
    );
    assert_eq!(of(&got, "coolant_temp").unit, "degF");
    assert_eq!(
        (of(&got, "egt_1").unit.as_str(), of(&got, "egt_1").from),
        ("degC", UnitFrom::Nobody)
    );
    assert!(of(&got, "egt_1").questions.is_empty());
}

#[test]
fn a_short_cold_run_in_degf_is_told_from_a_hot_restart() {
    let rpm = rises(1000.0, 3000.0);
    let run = |coolant: f64| {
        let (warm, still, slow) = (rises(64.0, coolant), rises(65.0, 75.0), rises(63.0, 80.0));
        log(
            &[
                ("RPM", 0.0, &rpm),
                ("Coolant Temp", 64.0, &warm),
                ("Intake Temp", 65.0, &still),
                ("Oil Temp", 63.0, &slow),
            ],
            "",
        )
    };
    // Coolant at 140: in degC it boils.
    let got = run(140.0);
    for name in ["coolant_temp", "intake_temp", "oil_temp"] {
        assert_eq!(of(&got, name).unit, "degF", "{name}");
    }
    // At 95 both are possible: read as they stand, and asked.
    let got = run(95.0);
    assert!(got.iter().all(|r| r.from != UnitFrom::Numbers));
    let asked: Vec<String> = got.iter().flat_map(|r| r.questions.clone()).collect();
    assert_eq!(asked.len(), 1);
    assert!(
        asked[0].contains("did the engine stand hot, or are they logged in degF"),
        "{asked:?}"
    );
}

#[test]
fn pressures_follow_what_is_sure() {
    let rpm = rises(1000.0, 5000.0);
    let (oil, fuel, pulse) = (rises(25.0, 62.0), rises(43.0, 44.0), rises(2.0, 9.0));
    let coolant = rises(61.0, 190.0);
    // In psi beside a temperature in degF.
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Oil Press", 0.0, &oil),
            ("Coolant Temp", 61.0, &coolant),
        ],
        "",
    );
    assert_eq!(of(&got, "oil_pressure").unit, "psi");
    assert!(of(&got, "oil_pressure").questions.is_empty());
    // Alone it may be an engine without oil pressure.
    let got = log(&[("RPM", 0.0, &rpm), ("Oil Press", 0.0, &oil)], "");
    assert_eq!(
        (
            of(&got, "oil_pressure").unit.as_str(),
            of(&got, "oil_pressure").from
        ),
        ("kPa", UnitFrom::Nobody)
    );
    // 43 kPa feeds a carburettor, but no injector.
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Fuel Press", 43.0, &fuel),
            ("Pulse Width", 0.0, &pulse),
        ],
        "",
    );
    assert_eq!(of(&got, "fuel_pressure").unit, "psi");
    let got = log(
        &[("RPM", 0.0, &rpm), ("Fuel Press", 43.0, &fuel)],
        "[fuel]\nsystem = \"carburettor\"",
    );
    assert_eq!(of(&got, "fuel_pressure").unit, "kPa");
    // Three bar can only be bar with injectors, and then so is the oil.
    let (oil, fuel) = (rises(2.0, 4.6), rises(3.0, 3.05));
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Oil Press", 0.0, &oil),
            ("Fuel Press", 3.0, &fuel),
            ("Pulse Width", 0.0, &pulse),
        ],
        "",
    );
    assert_eq!(
        (
            of(&got, "fuel_pressure").unit.as_str(),
            of(&got, "oil_pressure").unit.as_str()
        ),
        ("bar", "bar")
    );
    // Speed could be either.
    let speed = rises(0.0, 70.0);
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Speed", 0.0, &speed),
            ("Coolant Temp", 61.0, &coolant),
        ],
        "",
    );
    assert_eq!(of(&got, "speed").unit, "km/h");
    assert!(of(&got, "speed").questions[0].contains("mph"));
}

#[test]
fn shares_of_one_are_known_by_what_the_engine_does() {
    let (throttle, duty, wastegate) = (rises(0.01, 0.98), rises(0.02, 0.21), rises(0.0, 0.6));
    let run = |top: f64| {
        let rpm = rises(900.0, top);
        log(
            &[
                ("RPM", 0.0, &rpm),
                ("TPS", 0.0, &throttle),
                ("Injector Duty", 0.0, &duty),
                ("Wastegate Duty", 0.0, &wastegate),
            ],
            "",
        )
    };
    let got = run(6000.0);
    for name in ["tps", "injector_duty", "wastegate_duty"] {
        assert_eq!(
            (of(&got, name).unit.as_str(), of(&got, name).standard(0.5)),
            ("0 to 1", 50.0),
            "{name}"
        );
    }
    // A heading that says per cent cannot be true either: nobody revs an engine so with its throttle at one per cent.
    let said = log(
        &[
            ("RPM", 0.0, &rises(1000.0, 6000.0)),
            ("TPS|%", 0.0, &throttle),
            ("Wastegate Duty|%", 0.0, &wastegate),
        ],
        "",
    );
    assert_eq!(of(&said, "tps").unit, "0 to 1");
    assert_eq!(of(&said, "tps").standard(0.5), 50.0);
    assert!(of(&said, "tps").because[0].contains("is taken for 0 to 1"));
    assert_eq!(of(&said, "wastegate_duty").standard(0.5), 0.5);
    assert!(of(&said, "wastegate_duty").questions[0].contains("its heading says per cent"));
    let forced = log(
        &[
            ("RPM", 0.0, &rises(1000.0, 6000.0)),
            ("TPS|%", 0.0, &throttle),
        ],
        "[units]\ntps = \"%\"",
    );
    assert_eq!(of(&forced, "tps").standard(0.5), 0.5);
    // At idle a throttle may well stand at one per cent.
    let got = run(1000.0);
    assert_eq!(of(&got, "tps").standard(0.5), 0.5);
    assert!(of(&got, "tps").questions[0].contains("0 to 1"));
}

#[test]
fn counts_that_are_none_are_levels() {
    let rpm = rises(1000.0, 5000.0);
    let (level, count) = (
        |t: f64| 12.5 + 7.31 * (t * 900.0).sin(),
        |t: f64| (t * 20.0).floor(),
    );
    let got = log(
        &[
            ("RPM", 0.0, &rpm),
            ("Knock Cyl 1", 0.0, &level),
            ("Knock Cyl 2", 0.0, &count),
        ],
        "",
    );
    assert!(of(&got, "knock_level_1").questions[0].contains("level"));
    assert!(of(&got, "knock_2").questions.is_empty());
    // Whole numbers that never come near nothing are no knocks either.
    let level = |t: f64| (200.0 + 90.0 * (t * 900.0).sin()).round();
    let got = log(&[("RPM", 150.0, &rpm), ("Knock Cyl 1", 150.0, &level)], "");
    assert_eq!(got[1].name, "knock_level_1");
    // The sheet's word stands.
    let got = log(
        &[("RPM", 150.0, &rpm), ("Knock Cyl 1", 150.0, &level)],
        "[units]\nknock_1 = \"count per row\"",
    );
    assert_eq!(
        (got[1].name.as_str(), got[1].counts),
        ("knock_1", Counts::EachRow)
    );
}
