//! The sample logs give the verdict, the culprit and the first thing to look at that were put into them.

use plugread::findings::{NotRun, Review, Verdict};
use plugread::pipeline;

use crate::support::{catalog, demo_sheet, home, told, warned};

/// The cylinder whose fault was put into a sample.
fn culprit(name: &str) -> u32 {
    let samples = crate::simulator::samples::all();
    let (_, case) = samples.iter().find(|s| s.0 == name).expect(name);
    case.truth().and_then(|t| t.cylinder).expect("a culprit")
}

/// The files are what the documented command writes, so nobody can have mended one by hand.
#[test]
fn the_simulator_wrote_them() {
    for (name, case) in crate::simulator::samples::all() {
        let found = std::fs::read_to_string(home().join("sample-logs").join(name)).expect(name);
        assert!(
            found == crate::simulator::simulate(&case).to_csv(),
            "{name}: run `cargo run --release --example simulate -- sample-logs`"
        );
    }
    let sheet =
        std::fs::read_to_string(home().join("sample-logs/hill-special.toml")).expect("the sheet");
    assert_eq!(sheet, crate::simulator::build_sheet());
}

fn sample(name: &str) -> Review {
    let path = home().join("sample-logs").join(name);
    assert!(
        std::fs::metadata(&path).expect(name).len() <= 4_000_000,
        "{name} is over 4 MB"
    );
    let outcome =
        pipeline::review(&path, demo_sheet(), catalog()).unwrap_or_else(|e| panic!("{e}"));
    assert!(
        outcome.script_errors.is_empty(),
        "{:?}",
        outcome.script_errors
    );
    outcome.review
}

#[test]
fn a_clean_first_start() {
    let review = sample("first-start.csv");
    assert_eq!(review.verdict, Verdict::Pass, "{}", told(&review));
    assert_eq!(review.start_here, None);
    assert!(review.stop_now.is_empty());
    let passed = review.count(Verdict::Pass);
    assert!(passed >= 16, "{passed} pass\n{}", told(&review));
    for f in review
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::NotRun)
    {
        // The sample's logger takes 50 readings a second, and a failed diode ripples at hundreds; it logs no trim.
        let not_logged = ["charge-ripple", "fuel-trim"].contains(&f.id.as_str())
            && f.not_run_kind == Some(NotRun::Missing);
        assert!(
            not_logged || matches!(f.not_run_kind, Some(NotRun::NoOccasion | NotRun::NotFitted)),
            "{} did not run for {:?}: {}",
            f.id,
            f.not_run_kind,
            f.reason.standard()
        );
    }
}

#[test]
fn a_first_start_with_a_dead_cylinder() {
    let review = sample("first-start-dead-cylinder.csv");
    assert_eq!(review.verdict, Verdict::Warn);
    assert_eq!(
        review.start_here.as_deref(),
        Some("first-fire"),
        "{}",
        told(&review)
    );
    let culprit = culprit("first-start-dead-cylinder.csv");
    for id in ["first-fire", "egt-cylinder"] {
        let finding = review.finding(id).expect(id);
        assert_eq!(
            finding.verdict,
            Verdict::Warn,
            "{id}: {}",
            finding.reason.standard()
        );
        assert_eq!(finding.cylinders, [culprit], "{id}");
    }
}

#[test]
fn a_hill_run_with_a_fading_alternator() {
    let review = sample("hill-run-fading-alternator.csv");
    assert_eq!(
        review.start_here.as_deref(),
        Some("charge-vs-speed"),
        "{}",
        told(&review)
    );
    assert!(
        review
            .findings
            .iter()
            .all(|f| f.verdict != Verdict::Warn || f.system == "charging"),
        "{:?}",
        warned(&review)
    );
}

#[test]
fn a_hill_run_with_one_knocking_cylinder() {
    let review = sample("hill-run-knock.csv");
    let finding = review
        .finding("knock-by-cylinder")
        .expect("the check is there");
    assert_eq!(finding.verdict, Verdict::Warn, "{}", told(&review));
    assert_eq!(finding.cylinders, [culprit("hill-run-knock.csv")]);
    // One cylinder alone is no matter of the engine's fuel or timing: so said the simulator's truth before the checks.
    assert_eq!(
        review.start_here.as_deref(),
        Some("knock-by-cylinder"),
        "{}",
        told(&review)
    );
}

#[test]
fn a_hot_standstill_without_a_fan() {
    let review = sample("hot-standstill.csv");
    assert_eq!(review.verdict, Verdict::Warn);
    let finding = review.finding("coolant-rise").expect("the check is there");
    assert_eq!(finding.verdict, Verdict::Warn, "{}", told(&review));
    assert!(
        warned(&review).iter().all(|id| id.starts_with("coolant")),
        "{}",
        told(&review)
    );
    assert!(
        review
            .start_here
            .as_deref()
            .is_some_and(|id| id.starts_with("coolant")),
        "{:?}",
        review.start_here
    );
    assert!(review.cautions.iter().any(|c| c.id == "no-fan"));
}
