//! Pressures against the air.

use super::*;

/// Air at 200 m, kPa: 98.9 by the U.S. Standard Atmosphere 1976.
const AIR: f64 = 98.6;

fn run_of(rest: f64, low: f64, high: f64, scale: f64) -> (f64, impl Fn(f64) -> f64) {
    // Idle first, then up.
    (rest * scale, move |t: f64| {
        let p = if t < 0.3 {
            low
        } else {
            low + (high - low) * (t - 0.3) / 0.7
        };
        p * scale
    })
}

fn manifold(
    heading: &str,
    column: &(f64, impl Fn(f64) -> f64),
    baro: bool,
    sheet: &str,
) -> Reading {
    let (rpm, air) = (|t: f64| 1000.0 + 4000.0 * t, |_: f64| AIR);
    let mut columns: Vec<Column> = vec![("RPM", 0.0, &rpm), (heading, column.0, &column.1)];
    if baro {
        columns.push(("Baro", AIR, &air));
    }
    of(&log(&columns, sheet), "map").clone()
}

const HEIGHT: &str = "[air]\naltitude_m = 200";

#[test]
fn the_manifold_at_rest_says_what_it_is_measured_from() {
    let kpa = 1.0;
    let psi = 1.0 / 6.894_757;
    for (heading, rest, low, high, scale, wanted) in [
        ("MAP|kPa", AIR, 35.0, 97.0, kpa, "kPa"),
        ("MAP", AIR, 35.0, 240.0, kpa, "kPa"),
        ("MAP|kPa", 0.3, -64.0, -1.0, kpa, "kPa + air"),
        ("MAP", 0.0, -64.0, 150.0, kpa, "kPa + air"),
        ("Boost", 0.0, -64.0, 150.0, kpa, "kPa + air"),
        ("Boost|psi", 0.0, -64.0, 150.0, psi, "psi + air"),
        ("Boost|psig", 0.0, -64.0, 150.0, psi, "psi + air"),
        ("MAP", AIR, 35.0, 97.0, psi, "psi"),
        ("MAP", AIR, 35.0, 97.0, 0.01, "bar"),
        ("MAP", AIR, 35.0, 97.0, 10.0, "hPa"),
        ("MAP", AIR, 35.0, 97.0, 1.0 / 3.386_389, "inHg"),
        ("MAP", 0.0, -64.0, 150.0, 0.01, "bar + air"),
    ] {
        let column = run_of(rest, low, high, scale);
        for (baro, sheet) in [(true, ""), (false, HEIGHT)] {
            let got = manifold(heading, &column, baro, sheet);
            let case = format!(
                "{heading} x {scale}, baro {baro}: {:?} {:?}",
                got.because, got.questions
            );
            assert_eq!(told(&got), wanted, "{case}");
            let asked = questions(std::slice::from_ref(&got)).join(" ");
            let moved = wanted.contains("air") && !heading.contains("psig");
            if moved || got.from == UnitFrom::Numbers {
                assert!(asked.contains("[units]"), "{case}");
            } else {
                assert_eq!(asked, "", "{case}");
            }
        }
    }
}

#[test]
fn a_heading_that_the_rest_contradicts_is_asked_about() {
    let absolute = run_of(AIR, 35.0, 97.0, 1.0);
    let got = manifold("MAP|kPa g", &absolute, true, "");
    assert_eq!(told(&got), "kPa");
    assert!(
        got.questions[0].contains("Is its heading wrong"),
        "{:?}",
        got.questions
    );
    let gauge = run_of(0.0, -64.0, -1.0, 1.0);
    let got = manifold("MAP|kPaa", &gauge, true, "");
    assert_eq!(told(&got), "kPa + air");
    assert_eq!(got.questions.len(), 1);
    assert!(
        got.questions[0].contains("says absolute, but rests at 0 kPa"),
        "{:?}",
        got.questions
    );
}

#[test]
fn without_the_air_nothing_is_moved_and_the_column_waits() {
    let gauge = run_of(0.0, -64.0, -1.0, 1.0);
    let got = manifold("MAP", &gauge, false, "");
    assert!(got.left_out.is_some(), "never assume 101.3");
    assert!(got.questions.join(" ").contains("air.altitude_m"));
    // psi or inches of mercury under the air: both are manifolds at idle.
    let column = run_of(0.0, -32.0, -1.0, 1.0 / 3.386_389);
    let got = manifold("MAP", &column, true, "");
    assert!(got.left_out.is_some());
    assert!(
        got.questions.join(" ").contains("psi or inHg"),
        "{:?}",
        got.questions
    );
}

#[test]
fn without_a_rest_only_what_cannot_be_is_moved() {
    let no_rest = |heading: &str, low: f64, high: f64, sheet: &str| {
        let values = (0..=200).map(|i| low + (high - low) * f64::from(i) / 200.0);
        let times: Vec<f64> = (0..=200).map(f64::from).collect();
        let got = decided(&[(heading, values.collect())], &times, sheet);
        (told(&got[0]), got[0].questions.join(" "))
    };
    assert_eq!(no_rest("MAP|kPa", -64.0, 90.0, HEIGHT).0, "kPa + air");
    assert_eq!(
        no_rest("MAP|kPa", 30.0, 190.0, HEIGHT),
        ("kPa".into(), String::new())
    );
    let (read, asked) = no_rest("Boost|kPa", 30.0, 190.0, HEIGHT);
    assert_eq!(read, "kPa");
    assert!(asked.contains("is it absolute, or over the air"), "{asked}");
}

fn gauge(heading: &str, rest: f64, run: &dyn Fn(f64) -> f64, sheet: &str) -> Reading {
    let (rpm, air) = (|t: f64| 1000.0 + 4000.0 * t, |_: f64| AIR);
    let columns: [Column; 3] = [
        ("RPM", 0.0, &rpm),
        (heading, rest, run),
        ("Baro", AIR, &air),
    ];
    log(&columns, sheet)[1].clone()
}

#[test]
fn a_sender_that_rests_at_the_air_measures_from_vacuum() {
    // Field notes, section 3: within 5 kPa of baro; name it and propose the offset.
    let up = |t: f64| 200.0 + 300.0 * t;
    let over = |t: f64| AIR + 200.0 + 300.0 * t;
    let got = gauge("Oil Pressure|kPa", AIR + 1.2, &over, "");
    assert_eq!(told(&got), "kPa - air");
    let asked = got.questions.join(" ");
    assert!(
        asked.contains("offset of -98.6 kPa") && asked.contains("\"kPa absolute\""),
        "{asked}"
    );
    for (heading, rest, run, wanted) in [
        ("Oil Pressure|kPa", 0.0, &up as &dyn Fn(f64) -> f64, "kPa"),
        ("Oil Pressure|kPa", AIR + 7.0, &over, "kPa"),
        ("Oil Pressure|kPaa", AIR, &over, "kPa - air"),
        ("Oil Pressure|kPaa", 0.0, &up, "kPa"),
        // A sealed gauge at 2000 m reads -22 kPa [c]: that is another check's matter.
        ("Oil Pressure|kPa", -22.0, &up, "kPa"),
        ("Fuel Pressure|kPa", AIR, &over, "kPa - air"),
        // It may hold what was left in the line.
        ("Fuel Pressure|kPa", 160.0, &over, "kPa"),
        ("Coolant Pressure|kPa", AIR, &over, "kPa"),
        // Stuck: that is no reading of the air.
        ("Oil Pressure|kPa", AIR, &|_| AIR, "kPa"),
        (
            "Crankcase Pressure|kPa",
            AIR,
            &|t| AIR + 14.0 * t,
            "kPa - air",
        ),
    ] {
        let got = gauge(heading, rest, run, "");
        assert_eq!(
            told(&got),
            wanted,
            "{heading} at {rest}: {:?}",
            got.questions
        );
    }
    // The sheet settles it, without a question.
    for (text, wanted) in [
        ("kPa absolute", "kPa absolute - air"),
        ("kPa gauge", "kPa gauge"),
        ("kPa", "kPa"),
    ] {
        let got = gauge(
            "Oil Pressure|kPa",
            AIR,
            &over,
            &format!("[units]\noil_pressure = \"{text}\""),
        );
        assert_eq!(told(&got), wanted);
        assert!(got.questions.is_empty(), "{:?}", got.questions);
    }
}
