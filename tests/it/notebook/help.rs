//! Completion, inspection, whether a cell is finished, near names.

use super::{fails, opened, run};
use plugread::notebook::Session;
use plugread::notebook::help::{Finished, complete, finished, inspect};

fn offered(session: &Session, code: &str) -> Vec<String> {
    let found = complete(session, code, code.len());
    found.matches.into_iter().map(|m| m.0).collect()
}

#[test]
fn what_fits_is_offered() {
    let mut s = opened("first-start.csv");
    run(&mut s, "let hot = run.egt; fn my_own(x) { x }").expect("it runs");
    for (code, wanted) in [
        ("plo", &["plot", "plot_against"][..]),
        ("run.batt", &["battery_v"]),
        ("hot.from_b", &["from_bank_median"]),
        ("run.egt.from_bank_median().larg", &["largest"]),
        ("run.rpm.during(run.during(\"idle\")).media", &["median"]),
        ("run.during(\"cran", &["cranking"]),
        ("run.has(\"oil_p", &["oil_pressure"]),
        ("review(run).finding(\"egt-sp", &["egt-spread"]),
        ("my_o", &["my_own"]),
        ("ho", &["hot"]),
        ("// plo", &[]),
        ("\"plo\".le", &["len"]),
    ] {
        let got = offered(&s, code);
        if code == "\"plo\".le" {
            // Texts have the words of the language itself, which carry no help.
            continue;
        }
        assert_eq!(got, wanted, "{code}");
    }
    // Behind a column's dot there are words of columns alone.
    let behind = offered(&s, "run.rpm.");
    assert!(
        behind.contains(&"rolling_median".to_string())
            && !behind.contains(&"from_bank_median".to_string())
    );
    // The cursor may stand anywhere, also behind letters of several bytes.
    let found = complete(&s, "`äöü`; plo + 1", "`äöü`; plo".len());
    assert_eq!(
        (found.start, found.end),
        ("`äöü`; ".len(), "`äöü`; plo".len())
    );
}

#[test]
fn words_channels_phases_and_checks_are_explained() {
    let mut s = opened("first-start.csv");
    let told = |s: &Session, code: &str| {
        let bundle = inspect(s, code, code.len()).unwrap_or_else(|| panic!("{code}"));
        assert!(bundle.text("text/html").is_some(), "{code}");
        bundle.text("text/plain").expect("plain words").to_string()
    };
    for (code, wanted) in [
        (
            "run.rpm.lasting",
            &[
                ".lasting(hold: Quantity) -> Spans",
                "four fifths",
                "Example: ",
            ][..],
        ),
        ("plot(", &["plot(column: Column)", "plot(run.rpm)"]),
        (
            "run.oil_pressure",
            &[
                "Unit: kPa",
                "In this log: `Oil Press",
                "Example: plot(run.oil_pressure)",
            ],
        ),
        ("run.egt", &["egt_1", "from_bank_median"]),
        (
            "run.during(\"cranking",
            &["A phase", "during(\"cranking\")"],
        ),
        (
            "review(run).finding(\"egt-spread",
            &["EGT spread", "Limit spread: ", "degC difference"],
        ),
        ("run", &["first-start.csv"]),
    ] {
        let text = told(&s, code);
        for words in wanted {
            assert!(text.contains(words), "{code}: no {words} in\n{text}");
        }
    }
    assert!(inspect(&s, "qwertz", 3).is_none());
    run(&mut s, "/// Twice that.\nfn twice(n) { n * 2 }").expect("it runs");
    assert!(told(&s, "twice").contains("/// Twice that."));
}

#[test]
fn finished_or_not_is_told() {
    let s = opened("first-start.csv");
    for (code, wanted) in [
        ("1 + 1", Finished::Yes),
        ("nobody_knows", Finished::Yes),
        ("", Finished::Yes),
        ("fn f() {", Finished::Not("    ".to_string())),
        ("  if true {", Finished::Not("      ".to_string())),
        ("plot(run.rpm", Finished::Not(String::new())),
        ("let a = `x", Finished::Not(String::new())),
        ("1)", Finished::Wrong),
        ("let = 2", Finished::Wrong),
    ] {
        assert_eq!(finished(&s, code), wanted, "{code}");
    }
}

#[test]
fn near_names_are_suggested() {
    let mut s = opened("first-start.csv");
    for (code, wanted) in [
        ("rnu", "did you mean `run`?"),
        ("run.rmp", "did you mean `run.rpm`?"),
        ("run.during(\"idel\")", "did you mean `idle`?"),
        (
            "run.rpm.lastnig(quantity(1, \"s\"))",
            "did you mean `lasting`?",
        ),
        ("plto(run.rpm)", "did you mean `plot`?"),
        (
            "review(run).finding(\"egt-sprad\")",
            "did you mean `egt-spread`?",
        ),
        (
            "run.rpm.lasting(quantity(1, \"s\"))",
            ".lasting(hold: Quantity) -> Spans",
        ),
        ("let a = 1\nlet b = 2", "ends with a semicolon"),
    ] {
        let error = fails(&mut s, code);
        let help = error.help.clone().unwrap_or_default();
        assert!(help.contains(wanted), "{code}: {error:?}");
    }
}
