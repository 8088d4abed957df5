//! The whole sample of the design, published figures, what later stages ask.

use super::*;

fn groups(first: &str, second: &str) -> Option<Groups> {
    Some(vec![
        (first.to_owned(), vec![1, 2, 3]),
        (second.to_owned(), vec![4, 5, 6]),
    ])
}

#[test]
fn the_whole_sample_is_read() {
    let sheet = good(SAMPLE);
    let engine = Engine {
        name: Some("Hill special".to_owned()),
        cylinders: Some(6),
        firing_order: Some(vec![1, 5, 3, 6, 2, 4]),
        banks: groups("front", "rear"),
        strokes: Some(Strokes::Four),
        displacement_cc: Some(2500.0),
        compression_ratio: Some(9.0),
        idle_rpm: Some(1100.0),
        rev_limit_rpm: Some(7600.0),
        load_from: Some(LoadFrom::Map),
        start_by: Some(StartBy::Starter),
        timing_checked: Some(false),
        anti_lag: Some(false),
    };
    assert_eq!(sheet.engine, engine);
    let fuel = Fuel {
        kind: Some(FuelKind::E85),
        system: Some(FuelSystem::Port),
        regulator: Some(Regulator::Manifold),
        base_pressure: Some(300.0),
        injectors_per_cylinder: Some(1),
        injections_per_cycle: Some(1),
        pulse_includes_dead_time: Some(true),
        injector_cc_min: Some(850.0),
        lambda_scale_afr: Some(14.7),
        lambda_at: groups("lambda", "lambda_2"),
    };
    assert_eq!(sheet.fuel, fuel);
    assert_eq!(
        sheet.air,
        Air {
            altitude_m: Some(200.0),
            boost_limit: Some(180.0)
        }
    );
    let oil = Oil {
        system: Some(OilSystem::Wet),
        relief: Some(450.0),
        bearings: Some(Bearings::Plain),
    };
    assert_eq!(sheet.oil, oil);
    assert_eq!(
        sheet.cooling,
        Cooling {
            fan: Some(true),
            cap: Some(110.0),
            glycol: Some(0.5)
        }
    );
    let loads = [("fuel_pump", 11.0), ("ignition", 8.0), ("injectors", 6.0)];
    let electrical = Electrical {
        nominal_v: Some(12.0),
        battery_type: Some(BatteryType::LeadAcid),
        battery_ah: Some(20.0),
        battery_tap: Some(BatteryTap::Controller),
        charging: Some(Charging::Alternator),
        alternator_a: Some(65.0),
        alternator_ratio: Some(2.2),
        regulator_v: Some(14.2),
        reset_v: Some(9.0),
        loads: Some(loads.map(|(name, amps)| (name.to_owned(), amps)).to_vec()),
    };
    assert_eq!(sheet.electrical, electrical);
    let sensors = Sensors {
        egt_cylinder: Some(vec![1, 2, 3, 4, 5, 6]),
        knock_sensors: groups("a", "b"),
    };
    assert_eq!(sheet.sensors, sensors);
    let [limit] = sheet.limits.as_slice() else {
        panic!("{:?}", sheet.limits)
    };
    assert_eq!(
        (limit.check.as_str(), limit.limit.as_str()),
        ("egt-spread", "spread")
    );
    assert_eq!(limit.value, LimitValue::Number(90.0));
    assert_eq!(
        (
            limit.place.line,
            limit.place.column,
            limit.value_place.column
        ),
        (52, 1, 23)
    );
    let [(name, header, place)] = sheet.channels.as_slice() else {
        panic!("{:?}", sheet.channels)
    };
    assert_eq!(
        (name.as_str(), header.as_str()),
        ("egt_1", "Exh Temp Front")
    );
    assert_eq!(SAMPLE.get(place.from..place.to), Some("\"Exh Temp Front\""));
    let log = LogForced {
        delimiter: Some(';'),
        decimal: Some(','),
        sample_hz: Some(100.0),
        names_line: Some(3),
        units_line: Some(4),
        clock: Some("Run Clock".to_owned()),
        clock_unit: Some(ClockUnit::Ms),
        encoding: Some(LogEncoding::Windows1252),
        date_order: Some(LogDates::Dmy),
    };
    assert_eq!(sheet.log, log);
    let units: Vec<(&str, &str)> = (sheet.units.iter())
        .map(|unit| (unit.name.as_str(), unit.text.as_str()))
        .collect();
    assert_eq!(units, [("oil_pressure", "psi"), ("map", "kPa gauge")]);
    let place = sheet.units[0].text_place;
    assert_eq!(SAMPLE.get(place.from..place.to), Some("\"psi\""));
    assert_eq!(
        sheet.entry("units.map"),
        Some(Value::Text("kPa gauge".to_owned()))
    );
    let display = Display {
        temperature: Some(TemperatureUnit::DegC),
        pressure: Some(PressureUnit::Psi),
        speed: Some(SpeedUnit::Mph),
    };
    assert_eq!(sheet.display, display);
}

#[test]
fn the_sample_holds_every_entry_and_each_is_found_by_its_name() {
    let sheet = good(SAMPLE);
    for entry in SCHEMA {
        assert!(sheet.entry(entry.name).is_some(), "{}", entry.name);
        assert!(sheet.place(entry.name).is_some(), "{}", entry.name);
        assert!(
            SECTIONS
                .iter()
                .any(|section| section.name == entry.section()),
            "{}",
            entry.name
        );
        assert!(entry.question.contains('?'), "{}", entry.name);
    }
    assert_eq!(
        sheet.entry("electrical.regulator_v"),
        Some(Value::Number(14.2))
    );
    assert_eq!(
        sheet.entry("oil.system"),
        Some(Value::Text("wet".to_owned()))
    );
    assert_eq!(sheet.entry("cooling.fan"), Some(Value::Bool(true)));
    assert_eq!(
        sheet.entry("log.delimiter"),
        Some(Value::Text(";".to_owned()))
    );
    assert_eq!(
        sheet.entry("engine.fuel"),
        Some(Value::Text("e85".to_owned()))
    );
    assert_eq!(
        sheet.entry("limits.egt-spread.spread"),
        Some(Value::Number(90.0))
    );
    assert_eq!(
        sheet.entry("channels.egt_1"),
        Some(Value::Text("Exh Temp Front".to_owned()))
    );
    let order = [1.0, 5.0, 3.0, 6.0, 2.0, 4.0];
    assert_eq!(
        sheet.entry("engine.firing_order"),
        Some(Value::List(order.to_vec()))
    );
    let bank = |name: &str, list: [f64; 3]| (name.to_owned(), Value::List(list.to_vec()));
    let banks = vec![
        bank("front", [1.0, 2.0, 3.0]),
        bank("rear", [4.0, 5.0, 6.0]),
    ];
    assert_eq!(sheet.entry("engine.banks"), Some(Value::Map(banks)));
    assert_eq!(sheet.entry("engine.colour"), None);
    assert_eq!(find("engine.colour").map(|entry| entry.name), None);
}

#[test]
fn an_empty_sheet_knows_nothing() {
    for sheet in [
        Sheet::default(),
        good(""),
        good("[engine]\n[limits]\n# nothing\n"),
    ] {
        assert!(SCHEMA.iter().all(|entry| sheet.entry(entry.name).is_none()));
        assert_eq!(
            (sheet.cells(), sheet.stoich_afr(), sheet.cycle_turns()),
            (None, None, None)
        );
        assert_eq!(sheet.cylinders(), None);
    }
}

#[test]
fn either_name_of_the_fuel_will_do() {
    assert_eq!(
        good("[engine]\nfuel = \"e10\"").fuel.kind,
        Some(FuelKind::E10)
    );
    assert_eq!(
        good("[engine]\nfuel = \"e10\"\n[fuel]\nkind = \"e10\"")
            .fuel
            .kind,
        Some(FuelKind::E10)
    );
    let own = good("[fuel]\nkind = { stoich_afr = 9.1 }");
    assert_eq!(own.fuel.kind, Some(FuelKind::Custom { stoich_afr: 9.1 }));
    assert_eq!(
        own.entry("fuel.kind"),
        Some(Value::Map(vec![(
            "stoich_afr".to_owned(),
            Value::Number(9.1)
        )]))
    );
    assert_eq!(own.stoich_afr(), Some(9.1));
}

#[test]
fn strokes_and_turns() {
    for (word, turns) in [("4", 2.0), ("2", 1.0), ("\"rotary\"", 1.0)] {
        assert_eq!(
            good(&format!("[engine]\nstrokes = {word}")).cycle_turns(),
            Some(turns),
            "{word}"
        );
    }
}

/// Recomputed here from the combustion equation and atomic weights as the reference values (section 3) state them:
/// IUPAC abridged weights, 138.270 kg of dry air for each kmol of oxygen, ethanol 789 and gasoline 745 kg/m3.
#[test]
fn stoichiometry_is_that_of_the_combustion_equation() {
    let afr = |c: f64, h: f64, o: f64| {
        (c + h / 4.0 - o / 2.0) * 138.270 / (12.011 * c + 1.008 * h + 15.999 * o)
    };
    let (gasoline, ethanol) = (afr(1.0, 1.85, 0.0), afr(2.0, 6.0, 1.0));
    let blend = |share: f64| {
        let (alcohol, petrol) = (share * 789.0, (1.0 - share) * 745.0);
        (alcohol * ethanol + petrol * gasoline) / (alcohol + petrol)
    };
    for (kind, afr) in [
        (FuelKind::Gasoline, gasoline),
        (FuelKind::E10, blend(0.10)),
        (FuelKind::E85, blend(0.85)),
        (FuelKind::Ethanol, ethanol),
        (FuelKind::Methanol, afr(1.0, 4.0, 1.0)),
    ] {
        assert!(
            (kind.stoich_afr() - afr).abs() < 0.0011,
            "{kind:?}: {} against {afr}",
            kind.stoich_afr()
        );
    }
}

/// Field notes, section 2: 16 V is 8 cells.
#[test]
fn cells_follow_the_nominal_voltage() {
    for (volts, cells) in [(6, 3), (12, 6), (16, 8), (24, 12)] {
        assert_eq!(
            good(&format!("[electrical]\nnominal_v = {volts}")).cells(),
            Some(cells)
        );
    }
}

#[test]
fn cylinders_come_from_the_firing_order_if_need_be() {
    assert_eq!(
        good("[engine]\nfiring_order = [1, 3, 4, 2]").cylinders(),
        Some(4)
    );
}

#[test]
fn limits_may_be_dotted_nested_or_carry_a_unit() {
    let text = "[limits]\negt-spread.hold = 4\n\"coolant-limit.limit\" = \"230 degF\"\n[limits.knock-vs-load]\nrate = 1.5\n";
    let sheet = good(text);
    let seen: Vec<_> = sheet
        .limits
        .iter()
        .map(|limit| (limit.key.as_str(), limit.value.clone()))
        .collect();
    // A dotted key is one table to TOML, wherever it stands: the order is that of the sheet all the same.
    assert_eq!(
        seen,
        [
            ("egt-spread.hold", LimitValue::Number(4.0)),
            (
                "coolant-limit.limit",
                LimitValue::Text("230 degF".to_owned())
            ),
            ("knock-vs-load.rate", LimitValue::Number(1.5)),
        ]
    );
    let underlined: Vec<_> = sheet
        .limits
        .iter()
        .map(|limit| &text[limit.place.from..limit.place.to])
        .collect();
    assert_eq!(
        underlined,
        ["egt-spread.hold", "\"coolant-limit.limit\"", "rate"]
    );
}

#[test]
fn a_later_stage_can_still_underline() {
    let sheet = good("\u{feff}[channels]\r\n\t\"egt_1\" = \"Äbgas\" # front\r\n");
    let (_, _, place) = &sheet.channels[0];
    let error = sheet.complain(
        place,
        "the log has no column \"Äbgas\"",
        "one of its headers",
    );
    let expected = "car.toml, line 2, column 12: the log has no column \"Äbgas\"\n  \
                    2 |  \"egt_1\" = \"Äbgas\" # front\n    \
                      |            ^^^^^^^\n  \
                    wanted: one of its headers";
    assert_eq!(error.to_string(), expected);
    let key = sheet.key_place("channels.egt_1").expect("it was written");
    let both = error.and(sheet.complain(&key, "no standard name", "another"));
    let underlined: Vec<_> = both.problems().iter().map(Problem::underlined).collect();
    assert_eq!(underlined, ["\"egt_1\"", "\"Äbgas\""]);
}
