//! Every check is whole: cases of each role, known bases, limits that are read, next steps; and its cases come out as wanted.

use std::collections::BTreeSet;

use plugread::checks::cases::{self, ROLES};
use plugread::checks::{explain_cases, notice, sheet_value};
use plugread::findings::{Figure, Verdict};
use plugread::reports::sheet_line;
use plugread::sheet;
use plugread::units::{PressureUnit, Reading};

use crate::support::catalog;

/// The first twenty.
const FIRST: [&str; 20] = [
    "log-gaps",
    "log-clock",
    "channel-rail",
    "channel-agree",
    "power-break",
    "battery-rest",
    "crank-voltage",
    "sync-loss",
    "speed-jumps",
    "charge-voltage",
    "charge-vs-speed",
    "oil-vs-speed",
    "knock-floor",
    "knock-vs-load",
    "knock-by-cylinder",
    "egt-probe",
    "egt-spread",
    "egt-cylinder",
    "coolant-rise",
    "coolant-limit",
];

#[test]
fn the_first_twenty_are_there_and_whole() {
    let catalog = catalog();
    assert!(catalog.broken().is_empty(), "{:?}", catalog.broken());
    for id in FIRST {
        let check = catalog
            .get(id)
            .unwrap_or_else(|| panic!("{id} is not there"));
        assert!(check.why.len() > 40, "{id} does not say why it matters");
        assert!(check.about.title.len() > 5, "{id}");
    }
}

#[test]
fn every_case_comes_out_as_wanted() {
    let catalog = catalog();
    let mut wrong = Vec::new();
    for check in catalog.checks() {
        let outcomes = cases::run(catalog, check).unwrap_or_else(|e| panic!("{e}"));
        let roles: BTreeSet<&str> = outcomes.iter().map(|o| o.role.as_str()).collect();
        for role in ROLES {
            if !roles.contains(role) {
                wrong.push(format!(
                    "{} has no case of the role `{role}`",
                    check.script.id
                ));
            }
        }
        for outcome in outcomes {
            for line in &outcome.wrong {
                wrong.push(format!("{}: {}: {line}", outcome.check, outcome.name));
            }
            // The role has to be what it says, or the case proves nothing.
            let verdict = outcome.finding.as_ref().map(|f| f.verdict);
            let fits = match outcome.role.as_str() {
                "warns" => verdict == Some(Verdict::Warn),
                "just short" => verdict == Some(Verdict::Pass),
                "healthy" => verdict.is_some_and(|v| v != Verdict::Warn),
                "missing" => verdict == Some(Verdict::NotRun),
                _ => true,
            };
            if !fits {
                wrong.push(format!(
                    "{}: {}: does not fit its role `{}`",
                    outcome.check, outcome.name, outcome.role
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Scripts that look across findings: each has a case with its cause and one without, and all come out as wanted.
#[test]
fn every_explanation_comes_out_as_wanted() {
    let catalog = catalog();
    let mut wrong = Vec::new();
    for script in catalog.explanations() {
        let outcomes = explain_cases::run(catalog, script).unwrap_or_else(|e| panic!("{e}"));
        for wanted in [true, false] {
            if !outcomes.iter().any(|o| o.wanted == wanted) {
                wrong.push(format!(
                    "{}: no case where a cause is wanted: {wanted}",
                    script.id
                ));
            }
        }
        for outcome in outcomes {
            let lines = outcome.wrong.iter();
            wrong.extend(lines.map(|line| format!("{}: {}: {line}", script.id, outcome.name)));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A limit that the script never reads would be a promise to the person who changes it.
#[test]
fn every_limit_is_read_in_the_script() {
    for check in catalog().checks() {
        for name in check.about.limits.keys() {
            assert!(
                check.script.text.contains(&format!("limits.{name}")),
                "{}: the limit `{name}` is declared and never read",
                check.script.id
            );
        }
    }
}

/// Each limit halved, doubled, set to zero and moved far both ways: some case has to come out differently.
#[test]
fn every_limit_matters() {
    let catalog = catalog();
    let (mut idle, mut tried) = (Vec::new(), 0);
    for check in catalog.checks() {
        for limit in notice::limits(catalog, check).unwrap_or_else(|e| panic!("{e}")) {
            tried += 1;
            if !limit.matters() {
                idle.push(format!(
                    "{}.{} = {}: no case notices {:?}",
                    check.script.id, limit.limit, limit.value, limit.unnoticed
                ));
            }
        }
    }
    assert!(tried > 100, "only {tried} limits were tried");
    assert!(idle.is_empty(), "{} of {tried}: {idle:#?}", idle.len());
}

/// A warning that does not say which limit decided cannot be argued with; one that names the wrong one misleads. Each limit
/// that a warning names has to turn it when it is moved.
#[test]
fn every_warning_says_which_limit_decided() {
    let catalog = catalog();
    let (mut wrong, mut told) = (Vec::new(), 0);
    for check in catalog.checks() {
        for case in notice::deciding(catalog, check).unwrap_or_else(|e| panic!("{e}")) {
            told += 1;
            if !case.told {
                wrong.push(format!("{}: {case:?}", check.script.id));
            }
        }
    }
    assert!(told > 300, "only {told} cases warn");
    assert!(wrong.is_empty(), "{} of {told}: {wrong:#?}", wrong.len());
}

/// The line that a review gives for the sheet sets the limit to what it is, whatever units the person reads.
#[test]
fn the_line_for_the_sheet_is_read_back() {
    let readings = [
        Reading::default(),
        Reading {
            fahrenheit: true,
            pressure: PressureUnit::Psi,
            mph: true,
        },
    ];
    for check in catalog().checks() {
        for (name, limit) in &check.about.limits {
            let (value, unit) = (limit.quantity.value, limit.quantity.unit);
            for reading in &readings {
                let line = sheet_line(&check.script.id, name, Figure { value, unit }, reading);
                let sheet = sheet::parse("sheet", &format!("[limits]\n{line}\n"))
                    .unwrap_or_else(|e| panic!("{line}: {e}"));
                let entry = &sheet.limits[0];
                assert_eq!((&entry.check, &entry.limit), (&check.script.id, name));
                let got = sheet_value(&entry.value, unit).unwrap_or_else(|| panic!("{line}"));
                let by = 1e-4 * value.abs().max(0.1);
                assert!((got - value).abs() <= by, "{line}: {got}, wanted {value}");
            }
        }
    }
}

/// Field notes, section 7: what rests on what.
#[test]
fn the_graph_is_that_of_the_field_notes() {
    let Some(folder) = crate::support::open_data() else {
        return;
    };
    let notes =
        std::fs::read_to_string(folder.join("../../field-notes.md")).expect("the field notes");
    let section = notes
        .split("## 7.")
        .nth(1)
        .and_then(|s| s.split("```").nth(1))
        .expect("section 7 has a block");
    let graph = catalog().graph();
    // Several arrows stand on one line: a list goes on for as long as its words end in a comma.
    let words: Vec<&str> = section.split_whitespace().collect();
    let mut told = 0;
    for at in (0..words.len()).filter(|i| words[*i] == "<-") {
        let mut first = at;
        while first > 0 && (first == at || words[first - 1].ends_with(',')) {
            first -= 1;
        }
        let mut last = at + 1;
        while words[last].ends_with(',') {
            last += 1;
        }
        let plain = |w: &'_ str| w.trim_end_matches(',').to_string();
        let bases: BTreeSet<String> = words[at + 1..=last].iter().map(|w| plain(w)).collect();
        for id in words[first..at].iter().map(|w| plain(w)) {
            let own: BTreeSet<String> = graph.bases(&id).iter().cloned().collect();
            assert_eq!(own, bases, "{id}");
            told += 1;
        }
    }
    assert!(
        told >= 50,
        "only {told} arrows were read from the field notes"
    );
}
