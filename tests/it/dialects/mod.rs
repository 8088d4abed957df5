//! One run written in many dialects by a writer of the tests' own: each must read as the same run.
//!
//! `cargo test --release --test it -- dialects` prints what is wrong, variant by variant; the variable `VARIANT` picks
//! those whose names hold a word.

mod compare;
mod pack;
mod run;
mod style;
mod variants;
mod write;

use std::fs;

use rayon::prelude::*;

pub use pack::{Pack, gzip, pack, zip, zstd};
pub use run::HZ;
pub use style::{Letters, Stamp, Style, Units};
pub use variants::{Variant, all};
pub use write::{encode, write};

/// The issue asks for forty.
const LEAST: usize = 60;

#[test]
fn every_variant_reads_as_the_same_run() {
    let variants = all();
    let mut names: Vec<&str> = variants.iter().map(|v| v.name).collect();
    names.sort_unstable();
    names.dedup();
    assert!(
        names.len() == variants.len() && names.len() >= LEAST,
        "{} variants",
        names.len()
    );
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let plain = folder.path().join("plain.csv");
    fs::write(&plain, write(&variants[0].run, &variants[0].style).bytes).expect("the plain log");
    let plain = compare::review(&plain).unwrap_or_else(|e| panic!("{e}"));
    let decided = plain["checks"]
        .as_array()
        .expect("checks")
        .iter()
        .filter(|c| c["verdict"] != "not-run")
        .count();
    assert!(
        decided >= 15 && plain["verdict"] == "warn",
        "the plain run lets too little be judged: {decided} checks"
    );
    let picked = std::env::var("VARIANT").unwrap_or_default();
    let faults: Vec<String> = variants
        .par_iter()
        .enumerate()
        .filter(|(_, variant)| variant.name.contains(&picked))
        .flat_map_iter(|(n, variant)| {
            let written = write(&variant.run, &variant.style);
            let home = folder.path().join(n.to_string());
            fs::create_dir(&home).expect("a folder");
            let path = home.join(variant.pack.file_name());
            let bytes = pack(&written.bytes, variant.pack);
            fs::write(&path, bytes).expect("the log");
            let found = compare::faults(variant, &written, &path, &plain);
            found
                .into_iter()
                .map(move |fault| format!("{}: {fault}", variant.name))
        })
        .collect();
    let mut failing: Vec<&str> = faults.iter().filter_map(|f| f.split(": ").next()).collect();
    failing.dedup();
    assert!(
        faults.is_empty(),
        "{} of {} variants are not read as they should be:\n{}",
        failing.len(),
        variants.len(),
        faults.join("\n")
    );
}

/// Not a test but a tool: writes the head of each variant into the folder that `KEEP` names, as seeds for fuzzing.
#[test]
#[ignore = "writes the seeds for fuzzing, see tests/fuzz"]
fn keep_variants_as_seeds() {
    let keep = std::env::var_os("KEEP").expect("KEEP names a folder");
    for (n, mut variant) in all().into_iter().enumerate() {
        variant.run.rows = 40;
        let bytes = pack(&write(&variant.run, &variant.style).bytes, variant.pack);
        fs::write(
            std::path::Path::new(&keep).join(format!("variant-{n}")),
            bytes,
        )
        .expect("the seed");
    }
}

/// A zip with two logs gives two reviews, each like that of its log alone.
#[test]
fn a_zip_with_two_logs_gives_two_reviews() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let variants = all();
    let plain = write(&variants[0].run, &variants[0].style);
    let mut shorter = variants[0].run.clone();
    shorter.rows = 3000;
    let shorter = write(&shorter, &variants[0].style);
    let alone = folder.path().join("short.csv");
    fs::write(&alone, &shorter.bytes).expect("the log");
    let alone = compare::review(&alone).unwrap_or_else(|e| panic!("{e}"));
    let path = folder.path().join("day.zip");
    let files = [
        ("first.csv", plain.bytes.as_slice()),
        ("second.csv", shorter.bytes.as_slice()),
    ];
    fs::write(&path, zip(&files, ::zip::CompressionMethod::Deflated)).expect("the zip");
    let args = [
        "review",
        &path.to_string_lossy(),
        "--sheet",
        "tests/simulator/hill-special.toml",
        "--format",
        "json",
    ];
    let out = crate::support::plugread(&args);
    let said = crate::support::text(&out.stderr);
    let lines: Vec<serde_json::Value> = crate::support::text(&out.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {said}")))
        .collect();
    assert_eq!(lines.len(), 2, "{said}");
    assert_eq!(lines[0]["log"]["rows"], plain.text.lines().count() - 1);
    assert_eq!(lines[1]["log"]["rows"], 3000);
    for (line, name) in lines.iter().zip(["first.csv", "second.csv"]) {
        let path = line["log"]["path"].as_str().unwrap_or_default();
        assert!(path.contains("day.zip") && path.contains(name), "{path}");
    }
    let apart = compare::differences(&lines[1], &alone, variants::Alike::Exact);
    assert!(apart.is_empty(), "{apart:#?}");
}

/// The logger restarts: its header stands there again and its clock begins anew. One log, with a marked break.
#[test]
fn a_restart_of_the_logger_is_one_log_with_a_marked_break() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let variants = all();
    let run = &variants[0].run;
    let text = write(run, &variants[0].style).text;
    let header = text.lines().next().expect("a header");
    let path = folder.path().join("restart.csv");
    fs::write(
        &path,
        format!("{text}{header}\n{}", &text[header.len() + 1..]),
    )
    .expect("the log");
    let review = compare::review(&path).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(review["log"]["rows"], 2 * run.rows);
    let again = run.rows + 2;
    let told = review["log"]["problems"].as_array().expect("problems");
    assert!(
        told.iter().any(|p| p["line"] == again),
        "line {again} is not told: {told:?}"
    );
    let out = crate::support::plugread(&["channels", &path.to_string_lossy()]);
    let said = crate::support::text(&out.stdout).to_lowercase();
    assert!(
        said.contains("restart") || said.contains("began again"),
        "{said}"
    );
    let breaks = plugread::load::open(&path, &plugread::load::Forced::default())
        .and_then(|log| log.read(&[]))
        .unwrap_or_else(|e| panic!("{e}"))
        .breaks;
    assert_eq!(breaks.len(), 1, "{breaks:?}");
    assert_eq!(
        (breaks[0].row, breaks[0].line),
        (run.rows, again + 1),
        "{breaks:?}"
    );
}

/// Slow channels written in every row, each repeating its last reading: they keep their own beat, and an update is never
/// anything but a reading that was there, at its own time. (Ten readings a second in twenty rows.)
#[test]
fn a_slow_channel_that_repeats_keeps_its_own_beat() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut variant = all().swap_remove(0);
    for col in &mut variant.run.cols {
        let mut last = None;
        for cell in &mut col.cells {
            last = cell.or(last);
            *cell = last;
        }
    }
    let path = folder.path().join("held.csv");
    fs::write(&path, write(&variant.run, &variant.style).bytes).expect("the log");
    let log = plugread::load::open(&path, &plugread::load::Forced::default())
        .unwrap_or_else(|e| panic!("{e}"));
    let rec = plugread::recording::Recording::read(&log, crate::support::demo_sheet(), |_| true)
        .unwrap_or_else(|e| panic!("{e}"));
    let mut faults = Vec::new();
    for name in [
        "egt_1", "egt_2", "egt_3", "egt_4", "egt_5", "egt_6", "speed",
    ] {
        let channel = rec.channel(name).expect(name);
        if (channel.interval_s() - 0.1).abs() > 0.01 {
            faults.push(format!(
                "{name}: every {} s instead of 0.1 s",
                channel.interval_s()
            ));
        }
        let truth = &variant.run.col(name).truth;
        let updates = channel.updates();
        let invented = updates
            .times
            .iter()
            .zip(updates.values.iter())
            .find(|(time, value)| {
                let row = (*time * HZ).round() as usize;
                // The reading of this row, or of one row before where rounding put it there. The log ends inside a beat.
                row + 2 < truth.len()
                    && truth[row] != Some(**value)
                    && truth[row.saturating_sub(1)] != Some(**value)
            });
        if let Some((time, value)) = invented {
            faults.push(format!("{name}: {value} at {time} s was never read"));
        }
        let readings = truth.iter().flatten().count();
        if updates.len() * 10 < readings * 9 || updates.len() > readings + readings / 50 {
            faults.push(format!(
                "{name}: {} updates of {readings} readings",
                updates.len()
            ));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    let plain = folder.path().join("plain.csv");
    let first = all().swap_remove(0);
    fs::write(&plain, write(&first.run, &first.style).bytes).expect("the log");
    let (held, plain) = (
        compare::review(&path).expect("a review"),
        compare::review(&plain).expect("a review"),
    );
    let apart = compare::differences(&held, &plain, variants::Alike::Verdicts);
    assert!(apart.is_empty(), "{apart:#?}");
}
