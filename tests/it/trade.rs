//! Figures of the trade against published values, through the language itself: what a script gets is what is checked.

use rhai::Scope;

use plugread::dsl::{Bounds, engine, engine::StopFlag};

fn number(script: &str) -> f64 {
    let engine = engine(Bounds::default(), StopFlag::default());
    let value = engine
        .eval_with_scope::<rhai::Dynamic>(&mut Scope::new(), script)
        .unwrap_or_else(|e| panic!("{script}: {e}"));
    value
        .as_float()
        .unwrap_or_else(|_| panic!("{script} gives no number"))
}

fn near(script: &str, wanted: f64, by: f64) {
    let got = number(script);
    assert!(
        (got - wanted).abs() <= by,
        "{script}: {got}, wanted {wanted}"
    );
}

/// U.S. Standard Atmosphere 1976, as tabulated in the reference values, section 2 (height from pressure).
#[test]
fn height_of_the_air() {
    for (kpa, metres) in [
        (98.0, 280.5),
        (95.0, 540.3),
        (90.0, 988.5),
        (84.5, 1505.4),
        (70.0, 3012.2),
    ] {
        near(
            &format!("height_of_air(quantity({kpa:.1}, \"kPa\"))"),
            metres,
            0.5,
        );
        near(&format!("air_at_height({metres:.1}).value"), kpa, 0.005);
    }
}

/// State of charge of a flooded battery at rest: the BCI table, reference values, section 6.
#[test]
fn state_of_charge() {
    for (volts, charge) in [
        (12.60, 93.75),
        (12.35, 63.10),
        (12.20, 44.44),
        (12.10, 30.56),
        (12.00, 16.18),
    ] {
        let table = "[[11.89, 0], [12.06, 25], [12.24, 50], [12.45, 75], [12.65, 100]]";
        near(&format!("interpolate({table}, {volts:.2})"), charge, 0.01);
        near(
            &format!(
                "charge_at_rest(quantity({volts:.2}, \"V\"), 6, quantity(26.7, \"degC\")).value"
            ),
            charge,
            0.01,
        );
    }
    near(
        "rest_voltage(quantity(100, \"%\"), 8, quantity(26.7, \"degC\")).value",
        16.87,
        0.005,
    );
}

/// The computations of the trade as scripts reach them, each against a figure of the reference values: sections 1 (NIST
/// ITS-90), 3 (DOE's table has ethanol at 9), 5 (Draper), 6, 7, 8, 9, 11 (statsmodels 0.15.0), 12 (CoolProp 8.0.0), 13.
#[test]
fn words_of_the_trade() {
    for (script, wanted, by) in [
        (
            "thermocouple_temperature(quantity(32, \"mV\"), quantity(25, \"degC\")).value",
            793.29,
            0.005,
        ),
        (
            "thermocouple_voltage(quantity(800, \"degC\")).as_number(\"mV\")",
            33.275_380,
            1e-5,
        ),
        (
            "thermocouple_tolerance(quantity(800, \"degC\")).value",
            6.0,
            1e-9,
        ),
        (
            "ntc_temperature(1000.0, 10000.0, 3435.0).value",
            99.472,
            1e-3,
        ),
        (
            "ntc_ohms(quantity(80, \"degC\"), 10000.0, 3435.0)",
            1662.4,
            0.1,
        ),
        (
            "ntc_by_points(3603.0, [[0, 32650], [25, 10000], [100, 680]]).value",
            50.0,
            1e-3,
        ),
        (
            "battery_lasts(quantity(25, \"A\"), 20.0, 20.0, 1.2).as_number(\"min\")",
            25.21,
            0.01,
        ),
        (
            "peukert_exponent(quantity(5, \"A\"), quantity(20, \"h\"), quantity(20, \"A\"), quantity(3.8, \"h\"))",
            1.198,
            1e-4,
        ),
        (
            "charge_voltage_at(quantity(14.4, \"V\"), 6, quantity(60, \"degC\")).value",
            13.77,
            1e-9,
        ),
        (
            "(wire_resistance(awg_mm2(16), 8.0, quantity(20, \"degC\")) * quantity(10, \"A\")).as_number(\"V\")",
            1.054,
            1e-3,
        ),
        ("stoich_of_formula(2.0, 6.0, 1.0, 0.0)", 9.004, 6e-4),
        (
            "fuel_mixture(#{ gasoline: 15, ethanol: 85 }).stoich",
            9.8,
            6e-4,
        ),
        (
            "flow_at(550.0, quantity(300, \"kPa\"), quantity(4, \"bar\"))",
            635.1,
            0.05,
        ),
        ("knock_frequency(86.0, 950.0, 1)", 6474.0, 1.0),
        (
            "air_density(quantity(101.325, \"kPa\"), quantity(15, \"degC\"))",
            1.225,
            1e-4,
        ),
        (
            "air_charge(0.85, quantity(100, \"kPa\"), quantity(25, \"degC\"), 500.0)",
            0.496_58,
            1e-5,
        ),
        ("speed_of_sound(quantity(20, \"degC\"))", 343.23, 0.01),
        (
            "compressed_temperature(quantity(25, \"degC\"), 2.0, 0.7).value",
            118.28,
            0.01,
        ),
        (
            "boiling_point(quantity(211.64, \"kPa\"), 0.0).value",
            122.01,
            0.02,
        ),
        (
            "boiling_point(quantity(211.64, \"kPa\"), 0.5).value",
            130.9,
            0.25,
        ),
        ("interval_of_count(7.0).high", 14.42268, 2e-5),
        ("interval_of_share(5.0, 20.0).low", 0.111_862, 1e-6),
    ] {
        near(script, wanted, by);
    }
}

/// Runs one case of a made check and wants it to pass.
fn passes(id: &str, text: String) {
    use plugread::checks::{Catalog, Script, cases};
    let script = Script {
        place: format!("{id}.rhai"),
        system: "fuel".into(),
        id: id.into(),
        text,
    };
    let catalog = Catalog::of(vec![script]).expect("one script");
    let check = catalog
        .get(id)
        .unwrap_or_else(|| panic!("{:?}", catalog.broken()));
    let outcomes = cases::run(&catalog, check).expect("the case runs");
    assert_eq!(outcomes.len(), 1);
    assert!(outcomes[0].wrong.is_empty(), "{:?}", outcomes[0].wrong);
}

/// The cycle by the sheet's strokes: reference values, section 4 (3 ms at 6000 rpm is 15 % of a four-stroke's cycle, and
/// twice that of 360 degrees, be it a two-stroke or a rotor), and cycles counted alike.
#[test]
fn strokes_change_the_cycle() {
    for (strokes, turns) in [("4", 2.0), ("2", 1.0), ("\"rotary\"", 1.0)] {
        let sheet = format!("[engine]\\nstrokes = {strokes}").replace('"', "\\\"");
        passes(
            "cycle",
            format!(
                r#"
            fn about() {{ #{{ title: "cycle", builds_on: [], needs: ["rpm", "injector_pulse"], limits: #{{}} }} }}
            fn near(a, b) {{ (a - b).abs() < 0.02 * b }}
            fn judge(run, limits) {{
                let pulse = run.injector_pulse;
                let seen = [run.duty_of(pulse, 1).median().value, run.duty_of(pulse, 2).median().value,
                    run.cycle_time.median().value, run.closed_time(pulse, 1).median().value,
                    run.firings(6).median().value, run.cycles.last().as_number("cycles"), run.cycle_turns];
                let want = [30.0 / {turns}, 60.0 / {turns}, 10.0 * {turns}, 10.0 * {turns} - 3.0, 600.0 / {turns}, 2000.0 / {turns}, {turns}];
                for i in 0..7 {{ if !near(seen[i], want[i]) {{ return warn(`${{i}}: ${{seen[i]}}, not ${{want[i]}}`); }} }}
                pass("as published")
            }}
            fn cases() {{ [ #{{ name: "6000 rpm for 20 s", role: "healthy", want: "pass", sheet: "{sheet}", channels: #{{ rpm: "6000 for 20", injector_pulse: "3 for 20" }} }} ] }}
        "#,
                turns = format_args!("{turns:.1}")
            ),
        );
    }
}

/// Hampel's filter on the example of the reference values, section 11: only the reading of 140 is flagged. And a step of 50 kPa
/// between two levels is found where it is, while the spike in it is no step.
#[test]
fn outliers_and_steps() {
    passes(
        "odd",
        r#"
        fn about() { #{ title: "odd", builds_on: [], needs: ["coolant_temp", "map"], limits: #{} } }
        fn judge(run, limits) {
            let odd = run.coolant_temp.outliers(quantity(6, "s"), 3.0, quantity(0.1, "degC difference"));
            let at = odd.spans().start().value;
            if odd.count() != 1 || (at - 5.0).abs() > 0.5 { return warn(`${odd.count()} at ${at}`); }
            let steps = run.map.steps(quantity(20, "kPa"), quantity(2, "s"));
            if steps.len() != 1 { return warn(`${steps}`); }
            let s = steps[0];
            if (s.at.value - 6.0).abs() < 0.2 && (s.size.value + 50.0).abs() < 2.0 { pass("found") } else { warn(`${s}`) }
        }
        fn cases() { [ #{ name: "eleven seconds", role: "healthy", want: "pass", hz: 10, channels: #{
            coolant_temp: "@1 90 for 1, 91 for 1, 90 for 1, 92 for 1, 91 for 1, 140 for 1, 92 for 1, 93 for 1, 92 for 1, 94 for 1, 93 for 1",
            map: "100 for 3 noise 0.5, 180 for 0.2, 100 for 2.8 noise 0.5, 50 for 5 noise 0.5" } } ] }
        "#
        .to_string(),
    );
}

/// NIST SP 811 factors, reference values, section 13.
#[test]
fn units() {
    near("quantity(14.7, \"psi\").value", 101.3529, 1e-4);
    near("quantity(29.92, \"inHg\").value", 101.3207, 1e-4);
    near("quantity(60, \"mph\").value", 96.56064, 1e-5);
    near("quantity(100, \"degF difference\").value", 55.556, 1e-3);
    near("quantity(90, \"degC\").as_number(\"degF\")", 194.0, 1e-9);
}

/// Four-stroke arithmetic: reference values, section 4 (any engine textbook), through a recording at 4500 rpm for 12 s: 450
/// cycles, and 7 events in them are 15.56 per 1000 cycles with 6.25 to 32.05 (exact Poisson, section 11).
#[test]
fn cycles_and_knock_rates() {
    let text = r#"
        fn about() { #{ title: "cycles", builds_on: [], needs: ["rpm", "knock_1"], limits: #{} } }
        fn judge(run, limits) {
            let all = span(run.start, run.end);
            let table = rates(run.knock.columns[0].increase(), run.cycles, 1, run.rpm, quantity(500, "rpm"), run.rpm, quantity(500, "rpm"), all);
            let sum = table.together();
            let right = (sum.exposure.as_number("cycles") - 450.0).abs() < 3.0 && sum.events.value == 7.0
                && (sum.rate.value - 15.556).abs() < 0.1 && (sum.low.value - 6.25).abs() < 0.1 && (sum.high.value - 32.05).abs() < 0.3;
            if right { pass("as published") } else { warn(`exposure ${sum.exposure.value} events ${sum.events.value} rate ${sum.rate.value} low ${sum.low.value} high ${sum.high.value}`) }
        }
        fn cases() { [ #{ name: "12 s at 4500", role: "healthy", want: "pass", hz: 50, channels: #{
            rpm: "4500 for 12.02", knock_1: "0 for 1, 1 for 1.5, 2 for 1.5, 3 for 1.5, 4 for 1.5, 5 for 1.5, 6 for 1.5, 7 for 2.02" } } ] }
    "#;
    passes("cycles", text.to_string());
}
