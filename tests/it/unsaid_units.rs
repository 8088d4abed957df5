//! A whole run in units that no heading names: the review is that of the same run in standard units, and asks.

use plugread::findings::Review;
use plugread::sheet::{self, Sheet};

use crate::support::{home, review_text, told};

/// The sample run without a word about units, every cell changed.
fn rewritten(change: impl Fn(&str, f64) -> f64) -> String {
    let text =
        std::fs::read_to_string(home().join("sample-logs/first-start.csv")).expect("the sample");
    let mut lines = text.lines().skip(2);
    let names: Vec<&str> = lines
        .next()
        .expect("the names")
        .split(',')
        .map(|name| name.split(" (").next().unwrap_or(name))
        .collect();
    let mut out = names.join(",");
    for line in lines {
        out.push('\n');
        let cells = line
            .split(',')
            .zip(&names)
            .map(|(cell, name)| match cell.parse::<f64>() {
                Ok(value) => format!("{:.4}", change(name, value)),
                Err(_) => cell.to_owned(),
            });
        out.push_str(&cells.collect::<Vec<_>>().join(","));
    }
    out
}

fn is_temperature(name: &str) -> bool {
    name.ends_with("Temp") || name.starts_with("EGT")
}

fn is_pressure(name: &str) -> bool {
    ["MAP", "Baro", "Oil Press", "Fuel Press"].contains(&name)
}

fn verdicts(review: &Review) -> Vec<(String, String)> {
    let word = |f: &plugread::findings::Finding| (f.id.clone(), f.verdict.word().to_owned());
    review.findings.iter().map(word).collect()
}

/// What another logger makes of a value, by heading.
type Change<'a> = &'a dyn Fn(&str, f64) -> f64;

#[test]
fn a_run_in_units_that_nobody_says_is_reviewed_like_the_plain_one() {
    let sheet = Sheet::default();
    let plain = review_text("plain.csv", rewritten(|_, v| v), &sheet);
    assert!(plain.stop_now.is_empty(), "{}", told(&plain));
    // Factors: NIST SP 811.
    let imperial = |name: &str, v: f64| match name {
        _ if is_temperature(name) => v * 1.8 + 32.0,
        _ if is_pressure(name) => v / 6.894_757,
        _ => v,
    };
    let kelvin = |name: &str, v: f64| match name {
        _ if is_temperature(name) => v + 273.15,
        "MAP" | "Baro" => v * 10.0,
        "Battery" | "Injector Pulse" => v * 1000.0,
        _ => v,
    };
    let small = |name: &str, v: f64| match name {
        _ if is_pressure(name) => v / 100.0,
        "Throttle" | "Injector Duty" => v / 100.0,
        "Lambda" | "Lambda Target" => v * 14.7,
        "Engine Speed" => v / 1000.0,
        _ => v,
    };
    let from_the_air = |name: &str, v: f64| match name {
        "MAP" => v - 98.6,
        "Oil Press" => v + 98.6,
        "Lambda" | "Lambda Target" => v * 1000.0,
        _ => v,
    };
    let runs: [(&str, Change, &[&str]); 4] = [
        ("degF and psi", &imperial, &["degF", "psi"]),
        ("K, hPa, mV and us", &kelvin, &["K", "hPa", "mV", "us"]),
        (
            "bar, shares of one, AFR and thousands",
            &small,
            &["bar", "0 to 1", "afr", "krpm"],
        ),
        (
            "gauge and absolute, thousandths",
            &from_the_air,
            &["kPa gauge", "kPa absolute", "lambda x 1000"],
        ),
    ];
    for (case, change, units) in runs {
        let review = review_text("run.csv", rewritten(change), &sheet);
        assert_eq!(
            verdicts(&review),
            verdicts(&plain),
            "{case}:\n{}",
            told(&review)
        );
        assert!(review.stop_now.is_empty(), "{case}");
        let asked: Vec<String> = review.open_questions.iter().map(|q| q.standard()).collect();
        for unit in units {
            let mark = format!("\"{unit}\"");
            assert!(
                asked.iter().any(|q| q.contains(&mark)),
                "{case}: no question about {unit}: {asked:#?}"
            );
        }
    }
}

#[test]
fn what_the_sheet_says_of_units_is_asked_no_more() {
    let sheet = sheet::parse(
        "car.toml",
        "[units]\nmap = \"psi\"\nbaro = \"psi\"\noil_pressure = \"psi\"\nfuel_pressure = \"psi\"\n",
    )
    .expect("a sheet");
    let text = rewritten(|name, v| if is_pressure(name) { v / 6.894_757 } else { v });
    let plain = review_text("plain.csv", rewritten(|_, v| v), &Sheet::default());
    let review = review_text("run.csv", text, &sheet);
    assert_eq!(verdicts(&review), verdicts(&plain), "{}", told(&review));
    assert!(
        review
            .open_questions
            .iter()
            .all(|q| !q.standard().contains("psi"))
    );
}
