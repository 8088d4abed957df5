//! Faults laid over the real runs of the carOBD dataset: the review finds each, in words that fit, and says nothing of the kind
//! over the runs as they are.

mod faults;
mod run;

use plugread::findings::{Finding, Review, Verdict};
use plugread::sheet::Sheet;

use crate::support::{open_data, review_text, told, warned};
use faults::{Draw, Fault, Severity};
use run::{CLOCK, RPM, Run};

/// carOBD dataset, file names.
const FILES: [&str; 12] = [
    "drive1", "drive6", "idle1", "idle14", "idle2", "idle30", "live15", "live20", "live7", "long1",
    "ufpe1", "ufpe18",
];

/// Draws of each fault and severity.
const SEEDS: u64 = 2;

fn reviewed(file: &str, run: &Run) -> Review {
    review_text(&format!("{file}.csv"), run.text(), &Sheet::default())
}

fn said<'a>(review: &'a Review, ids: &[&str], words: &[&str]) -> Option<&'a Finding> {
    let warns = |f: &&Finding| f.verdict == Verdict::Warn && ids.contains(&f.id.as_str());
    let fits = |f: &&Finding| words.iter().any(|w| f.reason.standard().contains(w));
    review.findings.iter().filter(warns).find(fits)
}

/// Lays a fault over every run that can show it, and wants one of these checks to warn in one of these words.
fn finds(name: &str, fault: Fault, ids: &[&str], words: &[&str], least: usize) {
    let Some(folder) = open_data() else { return };
    let (mut tried, mut missed) = (0, Vec::new());
    for file in FILES {
        for severity in Severity::ALL {
            for seed in 0..SEEDS {
                let mut run = Run::read(&folder.join(format!("{file}.csv")));
                let mut draw = Draw::new(&format!("{name} {file} {severity:?}"), seed);
                let Some(from) = fault(&mut run, &mut draw, severity) else {
                    continue;
                };
                tried += 1;
                let review = reviewed(file, &run);
                if said(&review, ids, words).is_none() {
                    missed.push(format!(
                        "carOBD {file}, {severity:?}, seed {seed}, {from:.1}: {:?}\n{}",
                        warned(&review),
                        told(&review)
                    ));
                }
            }
        }
    }
    eprintln!("{name}: {} of {tried} found", tried - missed.len());
    assert!(tried >= least, "{name}: only {tried} runs could show it");
    assert!(
        missed.is_empty(),
        "{name}: {} of {tried} missed:\n{}",
        missed.len(),
        missed.join("\n")
    );
}

#[test]
fn a_dying_alternator() {
    let ids = ["charge-voltage", "charge-vs-speed", "voltage-outlook"];
    let words = [
        "gives up with time",
        "no longer charges",
        "carries the car",
        "At idle it held",
        "did not come back",
    ];
    finds("a dying alternator", faults::alternator, &ids, &words, 72);
}

#[test]
fn a_slipping_belt() {
    // Of a mild one two readings a second may catch too little to tie it to speed.
    let words = ["falls as speed rises", "no tie to speed or time"];
    finds(
        "a slipping belt",
        faults::belt,
        &["charge-vs-speed"],
        &words,
        36,
    );
}

#[test]
fn a_stuck_coolant_sensor() {
    let ids = ["coolant-noise", "channel-flat"];
    let words = ["does not feel the coolant", "coolant_temp stood"];
    finds("a stuck coolant sensor", faults::stuck, &ids, &words, 30);
}

#[test]
fn a_jumping_coolant_sensor() {
    let ids = ["coolant-noise"];
    finds(
        "a jumping coolant sensor",
        faults::leaps,
        &ids,
        &["Coolant leapt"],
        72,
    );
}

#[test]
fn a_clock_that_stands() {
    let words = ["stood still"];
    finds(
        "a clock that stands",
        faults::stands,
        &["log-clock"],
        &words,
        72,
    );
    finds(
        "a clock that dies",
        faults::dies,
        &["log-clock"],
        &words,
        72,
    );
}

#[test]
fn a_clock_that_runs_back() {
    let words = ["ran back"];
    finds("a clock set back", faults::back, &["log-clock"], &words, 72);
    finds(
        "rows that repeat a time",
        faults::repeats,
        &["log-clock"],
        &words,
        72,
    );
}

/// Written again without a fault, only one run warns, of the rows that it lacks; by hand it lacks at least as many.
#[test]
fn the_same_runs_without_a_fault() {
    let Some(folder) = open_data() else { return };
    // Seconds of its own clock for each row, as the other runs have it.
    let pace = |run: &Run| {
        let (first, last) = (&run.rows[run.fired], &run.rows[run.rows.len() - 1]);
        (last[CLOCK] - first[CLOCK]) / (run.rows.len() - run.fired) as f64
    };
    let runs: Vec<Run> = FILES
        .iter()
        .map(|file| Run::read(&folder.join(format!("{file}.csv"))))
        .collect();
    let mut paces: Vec<f64> = runs.iter().map(pace).collect();
    paces.sort_by(f64::total_cmp);
    let usual = paces[paces.len() / 2];
    for (file, run) in FILES.iter().zip(&runs) {
        let review = reviewed(file, run);
        let rows = (run.rows.len() - run.fired) as f64;
        let lacking = (pace(run) - usual) * rows;
        if *file != "live7" {
            assert!(lacking < 8.0, "carOBD {file}: {lacking} s by hand");
            assert!(
                warned(&review).is_empty(),
                "carOBD {file}: {}",
                told(&review)
            );
            continue;
        }
        assert_eq!(warned(&review), ["log-gaps"], "{}", told(&review));
        let gaps = review.finding("log-gaps").expect("it warns");
        let figure = |name: &str| gaps.numbers.iter().find(|n| n.0 == name);
        let missing = figure("missing").expect("a figure").1.value;
        assert!(
            missing > 30.0 && missing < lacking,
            "{missing} s, by hand {lacking} s"
        );
        // Each of them while its clock went on and the engine turned.
        for gap in gaps.spans.list() {
            let beside = |at: f64| {
                let turns = |(row, t): (&Vec<f64>, &f64)| (t - at).abs() < 60.0 && row[RPM] > 400.0;
                run.rows.iter().zip(&run.times).any(turns)
            };
            assert!(beside(gap.from_s) && beside(gap.to_s));
            assert!(gap.length() < 6.0, "{gap:?}");
        }
    }
}
