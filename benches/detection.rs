//! What is simulated, reviewed and counted when the checks are held against known faults.
//!
//! Shared by the detection bench and the tests. The truth comes from the simulator, which shares no code with the checks.

use std::collections::BTreeMap;

use plugread::checks::Catalog;
use plugread::findings::{Review, Verdict};
use plugread::load::{self, Forced};
use plugread::{pipeline, sheet};
use rayon::prelude::*;

use crate::simulator::{
    Case, Engine, Fault, FaultKind, Kind, Nuisance, all_faults, engine, simulate,
};

/// Light, middle and heavy, each inside the fault's physical range.
const GRADES: [f64; 3] = [0.0, 0.5, 1.0];

/// Seeds from here on are kept for the final table; those below served while limits were set.
pub const FINAL_SEEDS: u64 = 1001;

/// One run to simulate and review.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What is driven, with what, in which weather.
    pub case: Case,
    /// The fault and how bad it is.
    pub fault: Option<(FaultKind, f64)>,
}

impl Job {
    /// The command that writes this log.
    pub fn command(&self) -> String {
        let kind = Kind::ALL.iter().find(|k| k.0 == self.case.kind);
        let mut out = format!(
            "simulate --kind {} --engine {}",
            kind.map_or("", |k| k.1),
            self.case.engine.name
        );
        if let Some((fault, grade)) = self.fault {
            out.push_str(&format!(" --fault {} --severity {grade}", fault.name()));
        }
        if let Some(odd) = self.case.nuisance {
            out.push_str(&format!(" --nuisance {}", odd.name()));
        }
        out.push_str(&format!(" --seed {} --out x.csv", self.case.seed));
        out
    }
}

/// What a review made of a run.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The run.
    pub job: Job,
    /// The checks that warned.
    pub warned: Vec<String>,
    /// The check to look at first.
    pub opens: String,
    /// A check that ought to warn did.
    pub found: bool,
    /// The review opened with a check that ought to warn, or that may rightly stand before it.
    pub first: bool,
    /// Named the culprit and nobody else; `None` where the fault has none or was not found.
    pub culprit: Option<bool>,
    /// From the fault's beginning to the first evidence, s.
    pub seconds: Option<f64>,
    /// Length of the log, h.
    pub hours: f64,
    /// What went wrong with reading or scripts.
    pub broken: Option<String>,
    /// What each warning said.
    pub told: Vec<String>,
}

/// Faults by severity, engine and seed: every seed one run, engines and severities in turn.
pub fn fault_jobs(fault: FaultKind, kind: Kind, first: u64, seeds: u64) -> Vec<Job> {
    let engines: Vec<&'static Engine> = engine::ALL
        .into_iter()
        .filter(|e| Fault::fits(fault, e))
        .collect();
    let home = engines.first().copied();
    (0..seeds)
        .filter_map(|i| {
            // every second run with the demo car where it can have the fault
            let others = &engines[usize::from(engines.len() > 1)..];
            let engine = if i % 2 == 0 {
                home?
            } else {
                *others.get((i / 2) as usize % others.len().max(1))?
            };
            let grade = GRADES[(i % 3) as usize];
            let seed = first + i;
            let ill = Fault::graded(fault, grade, engine.cylinders(), seed);
            let case = Case {
                engine,
                ..Case::new(kind, Some(ill), seed)
            };
            Some(Job {
                case,
                fault: Some((fault, grade)),
            })
        })
        .collect()
}

/// Healthy runs: scenarios, engines and oddities in turn.
pub fn healthy_jobs(first: u64, runs: u64) -> Vec<Job> {
    (0..runs)
        .map(|i| {
            let kind = [Kind::FirstStart, Kind::HillRun][(i % 2) as usize];
            let odd = Nuisance::ALL.get(((i / 2) % 12) as usize).map(|n| n.0);
            // 8 engines and 12 oddities: shifted, so that all of them meet
            let engine = engine::ALL[((i / 2 + i / 24) % 8) as usize];
            let case = Case {
                engine,
                nuisance: odd,
                ..Case::new(kind, None, first + i)
            };
            Job { case, fault: None }
        })
        .collect()
}

/// When the fault began, s.
fn onset(fault: &Fault) -> f64 {
    match *fault {
        Fault::LoggerStall { from, .. } | Fault::PowerDrop { from, .. } => from,
        Fault::ClockBack { at, .. }
        | Fault::CoolantOpen { at }
        | Fault::ProbeOpen { at, .. }
        | Fault::LambdaFrozen { at }
        | Fault::OilStuck { at }
        | Fault::BladeHangs { at, .. } => at,
        _ => 0.0,
    }
}

/// The cylinders that are to blame, from 1.
fn culprits(case: &Case) -> Vec<u32> {
    let named = case.truth().and_then(|t| t.cylinder);
    match case.fault {
        Some(Fault::BankFuel { bank, .. }) => (0..case.engine.cylinders())
            .filter(|&c| case.engine.bank(c) == bank)
            .map(|c| c as u32 + 1)
            .collect(),
        _ => named.into_iter().collect(),
    }
}

/// Simulates and reviews one run.
pub fn run(job: &Job, catalog: &Catalog) -> Outcome {
    match review(&job.case, catalog) {
        Ok((review, broken)) => weigh(job, &review, broken, catalog),
        Err(problem) => Outcome {
            job: job.clone(),
            warned: Vec::new(),
            opens: String::new(),
            found: false,
            first: false,
            culprit: None,
            seconds: None,
            hours: 0.0,
            broken: Some(problem),
            told: Vec::new(),
        },
    }
}

fn review(case: &Case, catalog: &Catalog) -> Result<(Review, Option<String>), String> {
    let csv = simulate(case).to_csv();
    let log = load::from_bytes("simulated.csv", csv.into_bytes(), &Forced::default())
        .map_err(|e| e.to_string())?;
    let sheet = sheet::parse("sheet.toml", &case.sheet()).map_err(|e| format!("{e:?}"))?;
    let outcome = pipeline::review_log(&log, &sheet, catalog).map_err(|e| e.to_string())?;
    let broken = outcome.script_errors.first().map(|e| format!("{e:?}"));
    Ok((outcome.review, broken))
}

fn weigh(job: &Job, review: &Review, broken: Option<String>, catalog: &Catalog) -> Outcome {
    let warnings: Vec<_> = review
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Warn)
        .collect();
    let expected: Vec<&str> = job.case.truth().map_or_else(Vec::new, |t| {
        let there = |id: &&str| catalog.get(id).is_some();
        t.expect_warn.into_iter().filter(there).collect()
    });
    let may_open = job.case.truth().map_or(&[][..], |t| t.may_open);
    let right: Vec<_> = warnings
        .iter()
        .filter(|f| expected.contains(&f.id.as_str()))
        .collect();
    let to_blame = culprits(&job.case);
    let named: Vec<u32> = right.iter().flat_map(|f| f.cylinders.clone()).collect();
    let by_channel = right.iter().any(|f| f.id == "channel-rail");
    // a whole bank is no single culprit: where the findings name nobody, nobody could be named
    let nobody = to_blame.len() > 1 && named.is_empty();
    let culprit = (!to_blame.is_empty() && !right.is_empty() && !nobody)
        .then(|| named.iter().all(|c| to_blame.contains(c)) && (!named.is_empty() || by_channel));
    let begun = job.case.fault.as_ref().map_or(0.0, onset);
    let seconds = right
        .iter()
        .filter_map(|f| f.spans.list().first().map(|s| s.from_s))
        .reduce(f64::min)
        .map(|t| (t - begun).max(0.0));
    let opens = review.start_here.clone().unwrap_or_default();
    Outcome {
        job: job.clone(),
        found: !right.is_empty(),
        first: expected.contains(&opens.as_str()) || may_open.contains(&opens.as_str()),
        warned: warnings.iter().map(|f| f.id.clone()).collect(),
        told: warnings
            .iter()
            .map(|f| format!("{}: {}", f.id, f.reason.standard()))
            .collect(),
        opens,
        culprit,
        seconds,
        hours: review.log.duration_s / 3600.0,
        broken,
    }
}

/// All of them, on all cores, in order.
pub fn run_all(jobs: &[Job], catalog: &Catalog) -> Vec<Outcome> {
    jobs.par_iter().map(|job| run(job, catalog)).collect()
}

/// Limits of the share of `events` in `of` at 95 %, by Wilson (1927), as shares.
pub fn wilson(events: usize, of: usize) -> (f64, f64) {
    const Z: f64 = 1.959_964;
    if of == 0 {
        return (0.0, 1.0);
    }
    let n = of as f64;
    let p = events as f64 / n;
    let middle = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + Z * Z / n;
    (
        ((middle - half) / whole).max(0.0),
        ((middle + half) / whole).min(1.0),
    )
}

/// The counts of one fault or of all together.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// Runs.
    pub runs: usize,
    /// Found.
    pub found: usize,
    /// Opened with a check that ought to warn.
    pub first: usize,
    /// Runs in which a culprit could be named.
    pub nameable: usize,
    /// Named rightly.
    pub named: usize,
    /// Seconds to the first evidence.
    pub seconds: Vec<f64>,
    /// Warnings beside the expected ones.
    pub beside: BTreeMap<String, usize>,
}

impl Tally {
    /// Counts outcomes.
    pub fn of(outcomes: &[Outcome]) -> Self {
        let mut t = Self::default();
        for o in outcomes {
            t.runs += 1;
            t.found += usize::from(o.found);
            t.first += usize::from(o.first);
            t.nameable += usize::from(o.culprit.is_some());
            t.named += usize::from(o.culprit == Some(true));
            t.seconds.extend(o.seconds);
            let expected = o.job.case.truth().map_or_else(Vec::new, |t| t.expect_warn);
            for id in o
                .warned
                .iter()
                .filter(|id| !expected.contains(&id.as_str()))
            {
                *t.beside.entry(id.clone()).or_default() += 1;
            }
        }
        t
    }

    /// Middle of the seconds to the first evidence.
    pub fn middle_seconds(&self) -> Option<f64> {
        let mut all = self.seconds.clone();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    }
}

/// Every fault with its jobs.
pub fn everything(first: u64, seeds: u64) -> Vec<(FaultKind, Vec<Job>)> {
    let each = |(fault, kind)| (fault, fault_jobs(fault, kind, first, seeds));
    all_faults().into_iter().map(each).collect()
}
