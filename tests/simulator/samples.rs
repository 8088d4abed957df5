//! The sample logs for people, and the command that writes logs.

use std::path::Path;

use super::{Case, Fault, FaultKind, Kind, build_sheet, simulate};

/// One sample log.
struct Sample {
    file: &'static str,
    kind: Kind,
    fault: Option<FaultKind>,
    seed: u64,
}

const SAMPLES: [Sample; 5] = [
    Sample {
        file: "first-start.csv",
        kind: Kind::FirstStart,
        fault: None,
        seed: 11,
    },
    Sample {
        file: "first-start-dead-cylinder.csv",
        kind: Kind::FirstStart,
        fault: Some(FaultKind::DeadFuel),
        seed: 12,
    },
    Sample {
        file: "hill-run-fading-alternator.csv",
        kind: Kind::HillRun,
        fault: Some(FaultKind::AlternatorFade),
        seed: 13,
    },
    Sample {
        file: "hill-run-knock.csv",
        kind: Kind::HillRun,
        fault: Some(FaultKind::HotSpot),
        seed: 14,
    },
    Sample {
        file: "hot-standstill.csv",
        kind: Kind::Standstill,
        fault: Some(FaultKind::HotStandstill),
        seed: 15,
    },
];

/// The case of a sample.
fn case_of(sample: &Sample) -> Case {
    Case::new(
        sample.kind,
        sample.fault.map(|f| Fault::seeded(f, sample.seed)),
        sample.seed,
    )
}

/// Each sample's file name with the case that it holds.
pub fn all() -> Vec<(&'static str, Case)> {
    SAMPLES.iter().map(|s| (s.file, case_of(s))).collect()
}

/// What the command was asked to do. Returns what to say, or the problem in one sentence.
pub fn run(arguments: &[String]) -> Result<String, String> {
    match arguments {
        [folder] if !folder.starts_with('-') => write_samples(Path::new(folder)),
        _ => write_one(arguments),
    }
}

fn write(path: &Path, text: &str) -> Result<(), String> {
    std::fs::write(path, text).map_err(|e| format!("Cannot write {}: {e}.", path.display()))
}

fn write_samples(folder: &Path) -> Result<String, String> {
    std::fs::create_dir_all(folder)
        .map_err(|e| format!("Cannot make the folder {}: {e}.", folder.display()))?;
    let mut list = String::new();
    for sample in &SAMPLES {
        let case = case_of(sample);
        write(&folder.join(sample.file), &simulate(&case).to_csv())?;
        let what = match case.truth() {
            None => "nothing is wrong".to_string(),
            Some(truth) => truth.physical,
        };
        list.push_str(&format!(
            "- `{}` (seed {}): {}; {what}.\n",
            sample.file,
            sample.seed,
            scene(sample.kind)
        ));
    }
    write(&folder.join("hill-special.toml"), build_sheet())?;
    write(&folder.join("SOURCES.md"), &sources(&list))?;
    Ok(format!(
        "Wrote {} logs, the build sheet and SOURCES.md to {}.",
        SAMPLES.len(),
        folder.display()
    ))
}

fn scene(kind: Kind) -> &'static str {
    match kind {
        Kind::FirstStart => "first start, cold, in the yard",
        Kind::HillRun => "warm start, up the hill and back",
        Kind::Standstill => "warm, idling where it stands, no fan",
    }
}

fn sources(list: &str) -> String {
    format!(
        "# Where these logs come from\n\n\
         Invented data: no engine was run for them. The simulator in `tests/simulator/` wrote every file here, \
         by `cargo run --release --example simulate -- sample-logs`; the seeds are fixed, so the same command writes the same logs again. \
         A fault is a changed part of the simulated car (a resistance, a flow, a lag), never an edited column.\n\n\
         {list}- `hill-special.toml`: the build sheet of that car.\n\n\
         The car is made up: a hill-climb special with a restored straight six on E85. \
         These files are under the project's own licence.\n"
    )
}

fn write_one(arguments: &[String]) -> Result<String, String> {
    let names = |it: Vec<&str>| it.join(", ");
    let usage = || {
        let kinds = names(Kind::ALL.iter().map(|k| k.1).collect());
        let engines = names(super::engine::ALL.iter().map(|e| e.name).collect());
        let odd = names(super::Nuisance::ALL.iter().map(|n| n.1).collect());
        let faults = names(super::all_faults().iter().map(|f| f.0.name()).collect());
        format!(
            "Usage: simulate FOLDER, or simulate --kind NAME [--fault NAME] [--severity 0..1] \
             [--engine NAME] [--nuisance NAME] [--seed N] --out FILE.\n\
             Kinds: {kinds}.\nFaults: {faults}.\nEngines: {engines}.\nNuisances: {odd}.\n\
             The engine's sheet is written beside the log, as FILE with .toml."
        )
    };
    let (mut kind, mut fault, mut seed, mut out) = (None, None, 1_u64, None);
    let (mut engine, mut grade, mut nuisance) = (None, None, None);
    for pair in arguments.chunks(2) {
        let [key, value] = pair else {
            return Err(usage());
        };
        match key.as_str() {
            "--kind" => {
                let named = Kind::ALL.iter().find(|k| k.1 == value).map(|k| k.0);
                kind =
                    Some(named.ok_or_else(|| format!("No kind is called {value}. {}", usage()))?);
            }
            "--fault" => {
                fault = Some(
                    FaultKind::named(value)
                        .ok_or_else(|| format!("No fault is called {value}. {}", usage()))?,
                );
            }
            "--seed" => {
                seed = value
                    .parse()
                    .map_err(|_| format!("--seed wants a whole number, not {value}."))?;
            }
            "--out" => out = Some(value),
            "--engine" => engine = Some(super::Engine::named(value).ok_or_else(usage)?),
            "--nuisance" => nuisance = Some(super::Nuisance::named(value).ok_or_else(usage)?),
            "--severity" => {
                let asked: f64 = value
                    .parse()
                    .map_err(|_| format!("--severity wants a number from 0 to 1, not {value}."))?;
                grade = Some(asked.clamp(0.0, 1.0));
            }
            _ => return Err(usage()),
        }
    }
    let usual = fault
        .and_then(|f| super::all_faults().into_iter().find(|x| x.0 == f))
        .map(|x| x.1);
    let kind = kind.or(usual).ok_or_else(usage)?;
    let out = out.ok_or_else(usage)?;
    let engine = engine.unwrap_or(&super::engine::HILL_SPECIAL);
    let fault = fault.map(|f| match grade {
        None if engine.cylinders() == 6 => Fault::seeded(f, seed),
        None => Fault::graded(f, 0.5, engine.cylinders(), seed),
        Some(grade) => Fault::graded(f, grade, engine.cylinders(), seed),
    });
    let case = Case {
        engine,
        nuisance,
        ..Case::new(kind, fault, seed)
    };
    let log = simulate(&case);
    write(Path::new(out), &log.to_csv())?;
    write(&Path::new(out).with_extension("toml"), &case.sheet())?;
    let truth = case
        .truth()
        .map_or("nothing is wrong".to_string(), |t| t.physical);
    Ok(format!("Wrote {out}: {} rows; {truth}.", log.rows()))
}
