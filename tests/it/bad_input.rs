//! Bad input ends with exit 2 and one clear sentence. No panic anywhere.

use std::fs;

use crate::support::{plugread, text};

const GOOD: &str = "time (s),rpm,battery (V)\n0,0,12.6\n0.1,0,12.6\n0.2,0,12.5\n0.3,0,12.6\n";

fn refused(name: &str, bytes: &[u8], extra: &[(&str, &str)], word: &str) {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let log = folder.path().join(name);
    fs::write(&log, bytes).expect("the log");
    let mut args = vec!["review".to_string(), log.to_string_lossy().into_owned()];
    for (flag, body) in extra {
        let path = folder.path().join("extra.toml");
        fs::write(&path, body).expect("the sheet");
        args.push((*flag).to_string());
        args.push(path.to_string_lossy().into_owned());
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let out = plugread(&args);
    let said = text(&out.stderr);
    assert_eq!(
        out.status.code(),
        Some(2),
        "{name}: {said}{}",
        text(&out.stdout)
    );
    assert!(out.stdout.is_empty(), "{name}: {}", text(&out.stdout));
    assert!(said.to_lowercase().contains(word), "{name}: {said}");
    assert!(
        !said.contains("panicked") && !said.contains("backtrace"),
        "{name}: {said}"
    );
    if extra.is_empty() {
        assert_eq!(said.trim_end().lines().count(), 1, "{name}: {said}");
    }
}

#[test]
fn logs() {
    refused("empty.csv", b"", &[], "empty");
    refused("blank.csv", b"\n\n  \n", &[], "");
    refused("header.csv", b"time (s),rpm,map\n", &[], "no data rows");
    refused(
        "junk.csv",
        &(0..4000u32)
            .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
            .collect::<Vec<_>>(),
        &[],
        "",
    );
    refused("zeros.csv", &[0u8; 5000], &[], "");
    refused(
        "log.json",
        b"{\"rpm\": [1, 2, 3], \"time\": [0, 1, 2]}",
        &[],
        "json",
    );
    refused(
        "story.csv",
        "It ran well today.\nThen it did not.\nWe went home.\n".as_bytes(),
        &[],
        "numbers",
    );
    refused(
        "clockless.csv",
        b"rpm,map\n800,40\n810,41\n805,40\n820,42\n",
        &[],
        "sample_hz",
    );
    refused(
        "picture.csv",
        b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01",
        &[],
        "",
    );
}

#[test]
fn paths() {
    for (path, word) in [
        ("benches", "there is no log in the folder"),
        ("no-such-log.csv", "no such file"),
    ] {
        let out = plugread(&["review", path]);
        let said = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{said}");
        assert!(
            said.contains(word) && said.trim_end().lines().count() == 1,
            "{said}"
        );
    }
}

#[test]
fn sheets() {
    for (sheet, word) in [
        ("[engine\ncylinders = 6", "line 1"),
        (
            "[engine]\ncylinders = 4\nfiring_order = [1, 3, 4, 4]\n",
            "line 3",
        ),
        ("[limits]\n\"egt-spread.spraed\" = 90\n", "spraed"),
        ("[limits]\n\"no-such-check.spread\" = 90\n", "no-such-check"),
        ("[limits]\n\"egt-spread.spread\" = \"90 V\"\n", "line 2"),
        ("[engine]\ncylnders = 6\n", "cylinders"),
        ("[engine]\ncylinders = \"six\"\n", "line 2"),
        ("[channels]\n\"egt_one\" = \"EGT 1\"\n", "egt_one"),
    ] {
        refused("good.csv", GOOD.as_bytes(), &[("--sheet", sheet)], word);
    }
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "--sheet",
        "no-such.toml",
    ]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no-such.toml"));
}

#[test]
fn a_forced_rate_reads_a_log_without_a_clock() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let (log, sheet) = (
        folder.path().join("log.csv"),
        folder.path().join("sheet.toml"),
    );
    fs::write(&log, "rpm,map\n800,40\n810,41\n805,40\n820,42\n").expect("the log");
    fs::write(&sheet, "[log]\nsample_hz = 10\n").expect("the sheet");
    let out = plugread(&[
        "review",
        &log.to_string_lossy(),
        "--sheet",
        &sheet.to_string_lossy(),
        "--format",
        "json",
    ]);
    let json: serde_json::Value = serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", text(&out.stderr)));
    assert_eq!(json["log"]["sample_hz"], 10.0);
    assert_eq!(json["log"]["rows"], 4);
}

/// A good log beside a bad one: the good one is reviewed, and the highest exit code wins.
#[test]
fn one_bad_log_of_two() {
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "no-such-log.csv",
        "--sheet",
        "sample-logs/hill-special.toml",
        "--format",
        "json",
    ]);
    assert_eq!(out.status.code(), Some(2));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one line of JSON");
    assert_eq!(json["log"]["path"], "sample-logs/first-start.csv");
}

/// A sheet and a log that contradict each other raise a question; neither is believed in silence.
#[test]
fn a_sheet_with_too_few_cylinders_raises_a_question() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let sheet = folder.path().join("sheet.toml");
    fs::write(&sheet, "[engine]\ncylinders = 4\n").expect("the sheet");
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "--sheet",
        &sheet.to_string_lossy(),
        "--format",
        "json",
    ]);
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let questions = json["open_questions"].to_string();
    assert!(
        questions.contains("4 cylinders") && questions.contains("Cyl 6"),
        "{questions}"
    );
}
