//! Ctrl-C in the middle of work leaves no half-written file, and an old file as it was.
#![cfg(unix)]

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// A log that takes long enough to be converted to be caught at it.
fn long_log(path: &Path) {
    let mut csv = String::from("Time (s)");
    for column in 0..40 {
        let _ = write!(csv, ",Aux {column}");
    }
    csv.push('\n');
    for row in 0..60_000_u32 {
        let _ = write!(csv, "{}", f64::from(row) * 0.01);
        for column in 0..40_u32 {
            let _ = write!(
                csv,
                ",{}.{}",
                row.wrapping_mul(column + 7) % 9973,
                row % 100
            );
        }
        csv.push('\n');
    }
    std::fs::write(path, csv).expect("a log");
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

#[test]
fn ctrl_c_leaves_no_half_written_file() {
    let (input, output) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let log = input.path().join("long.csv");
    long_log(&log);
    let out = output.path().join("old.parquet");
    std::fs::write(&out, "the old file").expect("an old file");
    let mut caught = 0;
    for _ in 0..12 {
        let mut child = Command::new(env!("CARGO_BIN_EXE_plugread"))
            .args(["convert", "--to", "parquet", "--out"])
            .args([&out, &log])
            .stdout(Stdio::null())
            .spawn()
            .expect("the program");
        // As soon as something stands beside the old file, it is being written.
        while child.try_wait().expect("a child").is_none() && names(output.path()).len() < 2 {
            std::thread::sleep(Duration::from_micros(200));
        }
        let id = child.id().to_string();
        let sent = Command::new("kill")
            .args(["-INT", &id])
            .stderr(Stdio::null())
            .status();
        sent.expect("kill");
        let code = child.wait().expect("a child").code();
        assert_eq!(
            names(output.path()),
            ["old.parquet"],
            "nothing is left beside it"
        );
        if code == Some(130) {
            let kept = std::fs::read(&out).expect("a file");
            if kept == b"the old file" {
                caught += 1;
                break;
            }
            // The signal came right behind the last step: the new file stands whole (Parquet begins and ends so).
            assert!(kept.starts_with(b"PAR1") && kept.ends_with(b"PAR1"));
        } else {
            assert_eq!(code, Some(0));
        }
        std::fs::write(&out, "the old file").expect("an old file");
    }
    assert!(caught > 0, "it was never caught in the middle of its work");
}
