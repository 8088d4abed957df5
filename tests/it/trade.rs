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
    }
}

/// State of charge of a flooded battery at rest: the BCI table, reference values, section 6.
#[test]
fn state_of_charge() {
    let table = "[[11.89, 0], [12.06, 25], [12.24, 50], [12.45, 75], [12.65, 100]]";
    for (volts, charge) in [
        (12.60, 93.75),
        (12.35, 63.10),
        (12.20, 44.44),
        (12.10, 30.56),
        (12.00, 16.18),
    ] {
        near(&format!("interpolate({table}, {volts:.2})"), charge, 0.01);
    }
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
    use plugread::checks::{Catalog, Script, cases};
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
    let script = Script {
        place: "cycles.rhai".into(),
        system: "ignition".into(),
        id: "cycles".into(),
        text: text.into(),
    };
    let catalog = Catalog::of(vec![script]).expect("one script");
    let check = catalog
        .get("cycles")
        .unwrap_or_else(|| panic!("{:?}", catalog.broken()));
    let outcomes = cases::run(&catalog, check).expect("the case runs");
    assert_eq!(outcomes.len(), 1);
    assert!(outcomes[0].wrong.is_empty(), "{:?}", outcomes[0].wrong);
}
