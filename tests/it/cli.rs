//! The program as a person uses it.

use crate::support::{home, plugread, text};

const CAR: [&str; 2] = ["--sheet", "sample-logs/hill-special.toml"];

fn review(log: &str, more: &[&str]) -> std::process::Output {
    let mut args = vec!["review", log];
    args.extend(CAR);
    args.extend(more);
    plugread(&args)
}

#[test]
fn exit_codes() {
    assert_eq!(
        review("sample-logs/first-start.csv", &[]).status.code(),
        Some(0)
    );
    assert_eq!(
        review("sample-logs/hill-run-knock.csv", &[]).status.code(),
        Some(1)
    );
    assert_eq!(plugread(&["review"]).status.code(), Some(2));
    assert_eq!(plugread(&["frobnicate"]).status.code(), Some(2));
    assert_eq!(plugread(&["--help"]).status.code(), Some(0));
}

#[test]
fn the_table_names_logs_that_could_not_be_read() {
    let args = [
        "review",
        "sample-logs/first-start.csv",
        "Cargo.toml",
        "no-such.csv",
        "--sheet",
        "sample-logs/hill-special.toml",
    ];
    let out = plugread(&args);
    assert_eq!(out.status.code(), Some(2));
    let page = text(&out.stdout);
    let table = page.split("All logs").nth(1).expect("a table");
    let rows: Vec<&str> = table.lines().filter(|l| l.contains("UNREAD")).collect();
    assert_eq!(rows.len(), 2, "{table}");
    assert!(table.contains("first-start.csv") && rows[0].contains("Cargo.toml"));
    assert!(rows[1].contains("no-such.csv"), "{table}");
}

#[test]
fn text_fits_eighty_columns_without_colour() {
    for log in [
        "first-start",
        "first-start-dead-cylinder",
        "hill-run-fading-alternator",
        "hill-run-knock",
        "hot-standstill",
    ] {
        let out = text(&review(&format!("sample-logs/{log}.csv"), &[]).stdout);
        assert!(out.len() > 500, "{log}");
        for line in out.lines() {
            assert!(line.chars().count() <= 80, "{log}: {line}");
        }
        assert!(!out.contains('\u{1b}'), "{log} has colour codes");
    }
}

/// The key set of the design, section 7: add, never rename.
#[test]
fn json_has_the_keys_of_the_design() {
    let out = review(
        "sample-logs/first-start-dead-cylinder.csv",
        &["--format", "json"],
    );
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let has = |value: &serde_json::Value, keys: &[&str]| {
        for key in keys {
            assert!(value.get(key).is_some(), "no {key} in {value}");
        }
    };
    has(
        &json,
        &[
            "schema",
            "verdict",
            "stop_now",
            "start_here",
            "log",
            "checks",
            "diagnosis",
            "open_questions",
            "cautions",
        ],
    );
    has(
        &json["log"],
        &[
            "path",
            "rows",
            "duration_s",
            "sample_hz",
            "channels",
            "unmapped",
            "problems",
            "phases",
        ],
    );
    has(
        &json["log"]["channels"][0],
        &["name", "column", "column_unit", "unit"],
    );
    has(&json["log"]["phases"][0], &["phase", "from_s", "to_s"]);
    for check in json["checks"].as_array().expect("checks") {
        has(
            check,
            &[
                "id",
                "system",
                "title",
                "verdict",
                "not_run_kind",
                "builds_on",
                "doubtful_because",
                "unchecked",
                "reason",
                "cylinders",
                "spans",
                "numbers",
                "limits",
                "next_step",
                "cautions",
            ],
        );
        if check["verdict"] == "warn" {
            assert!(
                check["next_step"].as_str().is_some_and(|s| s.len() > 20),
                "{check}"
            );
        }
    }
    assert_eq!(json["schema"], 1);
    assert_eq!(json["log"]["unmapped"].as_array().map(Vec::len), Some(2));
}

#[test]
fn several_logs_get_a_line_of_json_each() {
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "sample-logs/hill-run-knock.csv",
        CAR[0],
        CAR[1],
        "--format",
        "json",
    ]);
    assert_eq!(out.status.code(), Some(1));
    let lines: Vec<serde_json::Value> = text(&out.stdout)
        .lines()
        .map(|l| serde_json::from_str(l).expect("a line of JSON"))
        .collect();
    assert_eq!(lines.len(), 2);
}

#[test]
fn the_same_log_gives_the_same_bytes() {
    for format in ["json", "html", "markdown", "text"] {
        let a = review("sample-logs/hill-run-knock.csv", &["--format", format]).stdout;
        let b = review("sample-logs/hill-run-knock.csv", &["--format", format]).stdout;
        assert!(!a.is_empty() && a == b, "{format}");
    }
}

#[test]
fn html_stands_alone_and_has_pictures() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let path = folder.path().join("review.html");
    let out = review(
        "sample-logs/first-start-dead-cylinder.csv",
        &["--format", "html", "--out", &path.to_string_lossy()],
    );
    assert_eq!(out.status.code(), Some(1));
    let page = std::fs::read_to_string(&path).expect("the page");
    assert!(
        page.contains("<svg") && page.contains("<html lang="),
        "no picture or language"
    );
    assert!(
        !page.contains("http://") && !page.contains("https://"),
        "the page reaches out"
    );
}

#[test]
fn a_starter_sheet_is_a_sheet() {
    let out = plugread(&["sheet", "sample-logs/first-start.csv"]);
    assert_eq!(out.status.code(), Some(0));
    let sheet =
        plugread::sheet::parse("starter", &text(&out.stdout)).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(sheet.cylinders(), Some(6));
    let asked = text(&out.stdout)
        .lines()
        .filter(|l| l.contains('?'))
        .count();
    assert!(asked > 20, "only {asked} questions");
}

#[test]
fn channels_accounts_for_every_column() {
    let out = text(&plugread(&["channels", "sample-logs/first-start.csv"]).stdout);
    let header =
        std::fs::read_to_string(home().join("sample-logs/first-start.csv")).expect("the sample");
    let names = header
        .lines()
        .find(|l| l.contains("Engine Speed"))
        .expect("the names row");
    for column in names.split(',') {
        assert!(
            out.contains(column.trim()),
            "{column} is not in the list:\n{out}"
        );
    }
}

#[test]
fn pictures_as_svg_and_png() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (file, start) in [("egt.svg", &b"<svg"[..]), ("egt.png", &b"\x89PNG"[..])] {
        let path = folder.path().join(file);
        let out = plugread(&[
            "plot",
            "sample-logs/first-start.csv",
            "egt",
            "--out",
            &path.to_string_lossy(),
        ]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        assert!(
            std::fs::read(&path).expect("a picture").starts_with(start),
            "{file}"
        );
    }
    let out = plugread(&["plot", "sample-logs/first-start.csv", "no_such"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no_such"));
}

#[test]
fn checks_are_listed_and_explained() {
    let list = text(&plugread(&["checks"]).stdout);
    for check in crate::support::catalog().checks() {
        assert!(list.contains(&check.script.id), "{}", check.script.id);
    }
    let one = text(&plugread(&["checks", "egt-spread"]).stdout);
    assert!(
        one.contains("egt-spread.spread") && one.contains("Builds on"),
        "{one}"
    );
    assert_eq!(plugread(&["checks", "no-such"]).status.code(), Some(2));
    assert_eq!(plugread(&["checks", "try"]).status.code(), Some(0));
}

/// A log cannot be had again: it is never written over.
#[test]
fn out_never_writes_over_what_was_read() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let log = folder.path().join("run.csv");
    std::fs::copy(home().join("sample-logs/first-start.csv"), &log).expect("a copy");
    let before = std::fs::read(&log).expect("the copy");
    let name = log.to_string_lossy().into_owned();
    for args in [
        vec!["review", &name, "--out", &name],
        vec!["plot", &name, "rpm", "--out", &name],
    ] {
        let out = plugread(&args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(text(&out.stderr).contains("written over"), "{args:?}");
        assert_eq!(std::fs::read(&log).expect("the copy"), before, "{args:?}");
    }
}

/// Rows that a logger wrote twice, with blank cells of slower channels, change no verdict.
#[test]
fn doubled_rows_keep_the_verdict() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (name, culprit) in [
        ("hill-run-knock", "knock-by-cylinder"),
        ("first-start-dead-cylinder", "first-fire"),
    ] {
        let source = home().join(format!("sample-logs/{name}.csv"));
        let sample = std::fs::read_to_string(source).expect("the sample");
        let mut doubled = String::new();
        let mut rows = false;
        for line in sample.lines() {
            doubled.push_str(line);
            doubled.push('\n');
            if rows {
                doubled.push_str(line);
                doubled.push('\n');
            }
            rows |= line.starts_with("Time (s)");
        }
        let path = folder.path().join("doubled.csv");
        std::fs::write(&path, doubled).expect("a log");
        let out = review(&path.to_string_lossy(), &["--format", "json"]);
        let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
        assert_eq!(json["start_here"], culprit, "{name}");
    }
}
