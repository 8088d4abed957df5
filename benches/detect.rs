//! Holds the checks against faults whose truth is known and against healthy runs.
//!
//! `cargo run --release --example detect -- [--seeds N] [--first N | --final] [--fault NAME] [--healthy N] [--scripts FOLDER] [--tell]`

#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a command line of its own"
)]

#[path = "../tests/simulator/mod.rs"]
mod simulator;

mod detection;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::ExitCode;

use detection::{Outcome, Tally, everything, healthy_jobs, run_all, wilson};
use plugread::checks::Catalog;

/// What was asked for.
struct Asked {
    seeds: u64,
    first: u64,
    healthy: Option<u64>,
    fault: Option<String>,
    scripts: Option<PathBuf>,
    tell: bool,
}

const USAGE: &str = "Usage: detect [--seeds N] [--first N | --final] [--fault NAME] [--healthy RUNS] [--scripts FOLDER] [--tell]\n\
    --seeds: runs of each fault, 50 where nothing is said. --first: the first seed, 1 where nothing is said; --final: 1001, kept for the final table.\n\
    --healthy: healthy runs, four to each seed where nothing is said. --tell: what each warning said.";

fn asked() -> Result<Asked, String> {
    let mut out = Asked {
        seeds: 50,
        first: 1,
        healthy: None,
        fault: None,
        scripts: None,
        tell: false,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(USAGE.to_owned());
        let number = |text: String| {
            text.parse::<u64>()
                .map_err(|_| format!("{word} wants a whole number, not {text}."))
        };
        match word.as_str() {
            "--seeds" => out.seeds = number(value()?)?,
            "--first" => out.first = number(value()?)?,
            "--final" => out.first = detection::FINAL_SEEDS,
            "--healthy" => out.healthy = Some(number(value()?)?),
            "--fault" => out.fault = Some(value()?),
            "--scripts" => out.scripts = Some(PathBuf::from(value()?)),
            "--tell" => out.tell = true,
            _ => return Err(USAGE.to_owned()),
        }
    }
    Ok(out)
}

fn main() -> ExitCode {
    match asked().and_then(|asked| bench(&asked)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::from(2)
        }
    }
}

fn bench(asked: &Asked) -> Result<(), String> {
    let catalog = Catalog::load(asked.scripts.as_deref()).map_err(|e| e.to_string())?;
    let started = std::time::Instant::now();
    println!(
        "Seeds {} to {}; severities light, middle and heavy and all engines that can have the fault in turn.",
        asked.first,
        asked.first + asked.seeds.saturating_sub(1)
    );
    println!(
        "{:18} {:>5} {:>13} {:>6} {:>9} {:>6}  beside it",
        "fault", "found", "95 % interval", "first", "culprit", "s"
    );
    let mut all = Vec::new();
    let mut missed = Vec::new();
    let mut otherwise: Vec<String> = Vec::new();
    for (fault, jobs) in everything(asked.first, asked.seeds) {
        if asked.fault.as_ref().is_some_and(|f| f != fault.name()) {
            continue;
        }
        let outcomes = run_all(&jobs, &catalog);
        row(fault.name(), &Tally::of(&outcomes));
        for o in &outcomes {
            if !o.found || o.culprit == Some(false) || o.broken.is_some() {
                missed.push(told(o, asked.tell));
            }
        }
        otherwise.extend(opened_otherwise(fault.name(), &outcomes));
        all.extend(outcomes);
    }
    let pooled = Tally::of(&all);
    row("all together", &pooled);
    println!("\nMissed, blamed wrongly or broken ({}):", missed.len());
    for line in missed {
        println!("{line}");
    }
    println!("\nFound, but opened with another finding:");
    for line in otherwise {
        println!("  {line}");
    }
    let runs = asked.healthy.unwrap_or(4 * asked.seeds);
    healthy(
        &run_all(&healthy_jobs(asked.first, runs), &catalog),
        asked.tell,
    );
    println!("\n{:.0} s in all.", started.elapsed().as_secs_f64());
    Ok(())
}

/// What stood first in the runs of a fault that were found and opened with something else, and the first such run.
fn opened_otherwise(name: &str, outcomes: &[Outcome]) -> Option<String> {
    let odd: Vec<&Outcome> = outcomes.iter().filter(|o| o.found && !o.first).collect();
    let mut by_check: BTreeMap<&str, usize> = BTreeMap::new();
    for o in &odd {
        *by_check.entry(&o.opens).or_default() += 1;
    }
    let list: Vec<String> = by_check.iter().map(|(id, n)| format!("{id} {n}")).collect();
    let one = odd.first()?.job.command();
    Some(format!("{name:18} {}; {one}", list.join(", ")))
}

fn row(name: &str, t: &Tally) {
    let (low, high) = wilson(t.found, t.runs);
    let culprit = if t.nameable == 0 {
        "-".to_owned()
    } else {
        format!("{}/{}", t.named, t.nameable)
    };
    let beside: Vec<String> = t.beside.iter().map(|(id, n)| format!("{id} {n}")).collect();
    println!(
        "{name:18} {:>2}/{:<2} {:>5.1}..{:<5.1} % {:>4} {culprit:>9} {:>6}  {}",
        t.found,
        t.runs,
        100.0 * low,
        100.0 * high,
        t.first,
        t.middle_seconds().map_or("-".into(), |s| format!("{s:.0}")),
        beside.join(", ")
    );
}

fn told(o: &Outcome, tell: bool) -> String {
    let what = if o.broken.is_some() {
        "broken"
    } else if o.found {
        "blamed"
    } else {
        "missed"
    };
    let mut out = format!(
        "  {what}: {}\n      opens with {}; warned {:?}",
        o.job.command(),
        if o.opens.is_empty() {
            "nothing"
        } else {
            &o.opens
        },
        o.warned
    );
    if let Some(broken) = &o.broken {
        out.push_str(&format!("\n      {broken}"));
    }
    if tell {
        for line in &o.told {
            out.push_str(&format!("\n      {line}"));
        }
    }
    out
}

fn healthy(outcomes: &[Outcome], tell: bool) {
    let hours: f64 = outcomes.iter().map(|o| o.hours).sum();
    let loud = outcomes.iter().filter(|o| !o.warned.is_empty()).count();
    let (low, high) = wilson(loud, outcomes.len());
    println!(
        "\nHealthy: {loud} of {} runs warn ({:.1} to {:.1} %), {hours:.1} h of log.",
        outcomes.len(),
        100.0 * low,
        100.0 * high
    );
    let mut by_check: BTreeMap<&str, usize> = BTreeMap::new();
    for id in outcomes.iter().flat_map(|o| &o.warned) {
        *by_check.entry(id).or_default() += 1;
    }
    for (id, n) in by_check {
        println!(
            "  {id:20} {n:>3} warnings, {:.2} an hour",
            n as f64 / hours.max(1e-9)
        );
    }
    for o in outcomes
        .iter()
        .filter(|o| !o.warned.is_empty() || o.broken.is_some())
    {
        println!("{}", told(o, tell).replacen("missed", "loud", 1));
    }
}
