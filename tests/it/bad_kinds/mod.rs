//! Kinds of bad input, one by one: each ends with exit 2 and one clear sentence, or, where part of the file is good, with
//! a review of that part and the problems listed. Nothing panics, hangs or eats the memory.

mod devices;
mod kinds;
mod monsters;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Output;
use std::time::Duration;

use serde_json::Value;

use crate::support::{plugread_within, text};

/// Far longer than any of these should take, on a busy machine too.
const PATIENCE: Duration = Duration::from_secs(60);

/// What is right for one kind.
enum Wanted {
    /// Exit 2, nothing on stdout, one sentence with this word in it.
    Refused(&'static str),
    /// A review of this many rows, with a problem that holds this word, or none at all where the word is empty.
    Partly(usize, &'static str),
}
use Wanted::{Partly, Refused};

struct Kind {
    name: &'static str,
    bytes: Vec<u8>,
    wanted: Wanted,
}

fn kind(name: &'static str, bytes: impl Into<Vec<u8>>, wanted: Wanted) -> Kind {
    Kind {
        name,
        bytes: bytes.into(),
        wanted,
    }
}

/// A good log of so many rows, ten a second.
fn good(rows: usize) -> String {
    let mut out = String::from("time (s),rpm,battery (V)\n");
    for row in 0..rows {
        let _ = writeln!(
            out,
            "{}.{},{},12.{}",
            row / 10,
            row % 10,
            row % 7 * 100,
            row % 5 + 2
        );
    }
    out
}

/// Noise that no packer can shrink, the same in each run.
fn noise(bytes: usize) -> Vec<u8> {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut step = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state.to_le_bytes()[3]
    };
    (0..bytes).map(|_| step()).collect()
}

/// Reviews a file and says what is wrong with the answer.
fn fault(name: &str, file: &Path, wanted: &Wanted) -> Option<String> {
    let out = plugread_within(
        &["review", &file.to_string_lossy(), "--format", "json"],
        PATIENCE,
    );
    let Some(out) = out else {
        return Some(format!("{name}: it hangs"));
    };
    let said = text(&out.stderr);
    let wrong = |what: String| Some(format!("{name}: {what}; it said `{}`", said.trim_end()));
    if let Some(what) = unclear(&out) {
        return wrong(what);
    }
    let code = out.status.code().unwrap_or(-1);
    match wanted {
        Refused(word) => {
            if code != 2 || !out.stdout.is_empty() {
                return wrong(format!("it is not refused but ends with {code}"));
            }
            if !said.to_lowercase().contains(word) {
                return wrong(format!("it does not speak of `{word}`"));
            }
        }
        Partly(rows, word) => {
            let Ok(json) = serde_json::from_slice::<Value>(&out.stdout) else {
                return wrong(format!("there is no review; it ends with {code}"));
            };
            if json["log"]["rows"] != *rows {
                return wrong(format!(
                    "{} rows instead of {rows}: {}",
                    json["log"]["rows"], json["log"]["problems"]
                ));
            }
            let problems = json["log"]["problems"].to_string().to_lowercase();
            if !problems.contains(word) {
                return wrong(format!("no problem speaks of `{word}`: {problems}"));
            }
        }
    }
    None
}

/// Whether the end is an orderly one: a code of ours, no panic, and with exit 2 one sentence.
pub fn unclear(out: &Output) -> Option<String> {
    let said = text(&out.stderr);
    let Some(code) = out.status.code() else {
        return Some(format!("it dies of {}", out.status));
    };
    if !(0..=2).contains(&code) || said.contains("panicked") || said.contains("backtrace") {
        return Some(format!("it ends with {code}"));
    }
    (code == 2 && said.trim_end().lines().count() != 1)
        .then(|| "it says more or less than one line".to_owned())
}

#[test]
fn each_kind_ends_clearly() {
    let mut kinds = kinds::refused();
    kinds.extend(kinds::partly());
    assert!(kinds.len() >= 45, "{}", kinds.len());
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    for (n, kind) in kinds.iter().enumerate() {
        let file = folder.path().join(format!("{n}-bad.csv"));
        fs::write(&file, &kind.bytes).expect("the file");
        faults.extend(fault(kind.name, &file, &kind.wanted));
    }
    assert!(
        faults.is_empty(),
        "{} of {} kinds: {faults:#?}",
        faults.len(),
        kinds.len()
    );
}

#[test]
fn things_that_are_no_files() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    let missing = folder.path().join("no-such.csv");
    faults.extend(fault("a missing file", &missing, &Refused("no such file")));
    faults.extend(fault("a folder", folder.path(), &Refused("folder")));
    faults.extend(fault(
        "a long name",
        Path::new(&"x".repeat(5000)),
        &Refused(""),
    ));
    faults.extend(fault(
        "an entry of a missing archive",
        &folder.path().join("no.zip/run.csv"),
        &Refused("no such file"),
    ));
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Entries of the sheet that cannot be meant, each named with its line or its value.
#[test]
fn wrong_forced_entries() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let (log, sheet) = (
        folder.path().join("run.csv"),
        folder.path().join("sheet.toml"),
    );
    fs::write(&log, good(50)).expect("the log");
    let mut faults = Vec::new();
    for entry in [
        "delimiter = \"ab\"",
        "delimiter = \"\"",
        "delimiter = \"1\"",
        "delimiter = \".\"",
        "delimiter = 7",
        "decimal = \";\"",
        "decimal = \"\"",
        "sample_hz = -5",
        "sample_hz = 0",
        "sample_hz = \"fast\"",
        "sample_hz = nan",
        "no_such_entry = 1",
    ] {
        fs::write(&sheet, format!("[log]\n{entry}\n")).expect("the sheet");
        let args = [
            "review",
            &log.to_string_lossy(),
            "--sheet",
            &sheet.to_string_lossy(),
        ];
        let Some(out) = plugread_within(&args, PATIENCE) else {
            faults.push(format!("{entry}: it hangs"));
            continue;
        };
        let said = text(&out.stderr);
        let key = entry.split(' ').next().unwrap_or_default();
        if out.status.code() != Some(2)
            || !out.stdout.is_empty()
            || !said.contains(key)
            || said.contains("panicked")
        {
            faults.push(format!("{entry}: it ends with {} and `{said}`", out.status));
        }
    }
    // A mark that the file does not have: one column, and so no clock or no names.
    fs::write(&sheet, "[log]\ndelimiter = \"|\"\n").expect("the sheet");
    let args = [
        "review",
        &log.to_string_lossy(),
        "--sheet",
        &sheet.to_string_lossy(),
    ];
    let out = plugread_within(&args, PATIENCE).expect("it ends");
    if out.status.code() != Some(2) || unclear(&out).is_some() {
        faults.push(format!(
            "a forced mark that is not there: {} and `{}`",
            out.status,
            text(&out.stderr)
        ));
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
