//! `plugread notebook`: the notebooks that ship, over the sample logs, and notebooks that fail.

mod bare;
mod values;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::{Value, json};

use self::bare::Bare;
use crate::support::{home, plugread, text};

const SHEET: &str = "sample-logs/hill-special.toml";

/// A notebook that ran.
struct Ran {
    out: std::process::Output,
    notebook: Value,
}

impl Ran {
    fn of(name: &str, log: &str) -> Ran {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("out.ipynb");
        let target = target.to_string_lossy();
        let from = format!("scripts/notebooks/{name}.ipynb");
        let log = format!("sample-logs/{log}");
        let out = plugread(&[
            "notebook", &from, "--log", &log, "--sheet", SHEET, "--out", &target,
        ]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        let written = fs::read_to_string(target.as_ref()).expect("the notebook");
        let notebook = serde_json::from_str(&written).expect("JSON");
        Ran { out, notebook }
    }
    fn cell(&self, id: &str) -> &Value {
        let cells = self.notebook["cells"].as_array().expect("cells");
        let found = cells.iter().find(|c| c["id"] == id);
        found.unwrap_or_else(|| panic!("no cell {id}"))
    }
    fn plain(&self, id: &str) -> &str {
        let outputs = self.cell(id)["outputs"].as_array().expect("outputs");
        let words = outputs.last().map(|o| &o["data"]["text/plain"]);
        words
            .and_then(Value::as_str)
            .unwrap_or_else(|| panic!("{id} shows nothing"))
    }
    /// A table that a cell shows: its rows, each a map from head, with its unit, to cell.
    fn table(&self, id: &str) -> Vec<BTreeMap<String, String>> {
        let parts = |line: &str| -> Vec<String> {
            let parts = line.split("  ").map(str::trim).filter(|p| !p.is_empty());
            parts.map(str::to_string).collect()
        };
        let mut lines = self.plain(id).lines();
        let heads = parts(lines.next().expect("heads"));
        let row = |line| {
            let mut row = parts(line);
            if row.len() + 1 == heads.len() && heads[1] == "unit" {
                // A channel without a unit.
                row.insert(1, String::new());
            }
            assert_eq!(row.len(), heads.len(), "{id}: {line}");
            heads.iter().cloned().zip(row).collect()
        };
        lines.map(row).collect()
    }
    fn near(&self, id: &str, row: usize, head: &str, wanted: f64, off: f64) {
        let rows = self.table(id);
        let shown = rows[row]
            .get(head)
            .unwrap_or_else(|| panic!("{id} has no {head}: {rows:?}"));
        let shown: f64 = shown
            .split(' ')
            .next()
            .unwrap_or_default()
            .parse()
            .expect("a figure");
        assert!(
            (shown - wanted).abs() <= off,
            "{id}, {head}: {shown}, and the log says {wanted}"
        );
    }
}

impl Ran {
    fn table_of_warnings(&self) -> Vec<String> {
        let lines = self.plain("review-all").lines().skip(1);
        lines
            .map(|l| l.split_whitespace().next().unwrap_or_default().to_string())
            .collect()
    }
}

#[test]
fn a_run_keeps_the_notebook_and_numbers_its_cells() {
    let shipped =
        fs::read_to_string(home().join("scripts/notebooks/knock.ipynb")).expect("it ships");
    let shipped: Value = serde_json::from_str(&shipped).expect("JSON");
    let ran = Ran::of("knock", "hill-run-knock.csv");
    let said = text(&ran.out.stdout);
    assert!(
        said.ends_with("cells ran over sample-logs/hill-run-knock.csv\n"),
        "{said}"
    );
    assert_eq!(said.lines().count(), 1);
    assert_eq!(ran.notebook["metadata"], shipped["metadata"]);
    let mut count = 0;
    let pairs = ran.notebook["cells"].as_array().expect("cells").iter();
    for (cell, before) in pairs.zip(shipped["cells"].as_array().expect("cells")) {
        for key in ["id", "cell_type", "metadata", "source"] {
            assert_eq!(cell[key], before[key]);
        }
        if cell["cell_type"] == "code" {
            count += 1;
            assert_eq!(cell["execution_count"], count);
            assert_eq!(
                (&before["outputs"], &before["execution_count"]),
                (&json!([]), &Value::Null)
            );
        }
    }
}

#[test]
fn every_shipped_notebook_runs_over_every_sample_log() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in ["first-start", "cylinders", "charging", "knock"] {
        let target = folder.path().join(format!("{name}.html"));
        let from = format!("scripts/notebooks/{name}.ipynb");
        let target = target.to_string_lossy();
        let out = plugread(&[
            "notebook",
            &from,
            "--log",
            "sample-logs",
            "--sheet",
            SHEET,
            "--out",
            &target,
        ]);
        assert_eq!(out.status.code(), Some(0), "{name}: {}", text(&out.stderr));
        let said = text(&out.stdout);
        assert_eq!(said.lines().count(), 5, "{said}");
        assert!(
            !Path::new(target.as_ref()).exists(),
            "each log has a page of its own"
        );
        for log in [
            "first-start",
            "first-start-dead-cylinder",
            "hill-run-fading-alternator",
            "hill-run-knock",
            "hot-standstill",
        ] {
            let page = folder.path().join(format!("{name}-{log}.html"));
            let page = fs::read_to_string(page).expect("its page");
            assert!(
                page.contains("<svg") && page.contains(&format!("run over {log}.csv")),
                "{name}, {log}"
            );
            for never in ["<script", "src=", "http:", "@import", "\u{1b}"] {
                let page = page.replace("http://www.w3.org/", "");
                assert!(!page.contains(never), "{name}, {log} has {never}");
            }
        }
    }
}

/// A notebook of our own in a folder of its own.
fn written(folder: &Path, cells: &[&str]) -> String {
    let cell = |(index, source): (usize, &&str)| {
        json!({ "cell_type": "code", "id": format!("own-{}", index + 1), "metadata": {}, "source": source,
                "outputs": [], "execution_count": null })
    };
    let cells: Vec<Value> = cells.iter().enumerate().map(cell).collect();
    let all = json!({ "nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells });
    let path = folder.join("own.ipynb");
    fs::write(&path, all.to_string()).expect("written");
    path.to_string_lossy().into_owned()
}

#[test]
fn a_failed_cell_stops_it_unless_told_to_go_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let own = written(
        folder.path(),
        &[
            "let run = open(\"any.csv\");",
            "run.rpm.max() +\n  run.rmp.max()",
            "run.rpm.count()",
        ],
    );
    let target = folder
        .path()
        .join("out.ipynb")
        .to_string_lossy()
        .into_owned();
    let run = |more: &[&str]| {
        let mut args = vec![
            "notebook",
            own.as_str(),
            "--log",
            "sample-logs/first-start.csv",
            "--out",
            &target,
        ];
        args.extend(more);
        let out = plugread(&args);
        let notebook: Value =
            serde_json::from_str(&fs::read_to_string(&target).expect("written")).expect("JSON");
        (out, notebook)
    };
    let (out, notebook) = run(&[]);
    assert_eq!(out.status.code(), Some(1));
    let said = text(&out.stderr);
    assert!(
        said.contains("cell 2 (id `own-2`), line 2, column "),
        "{said}"
    );
    assert!(
        said.contains("2 |   run.rmp.max()") && said.contains('^'),
        "{said}"
    );
    assert!(!said.contains('\u{1b}'), "{said}");
    assert!(
        text(&out.stdout)
            .contains("2 cells ran over sample-logs/first-start.csv, cell 2 (id `own-2`) failed")
    );
    assert_eq!(notebook["cells"][1]["outputs"][0]["output_type"], "error");
    assert_eq!(notebook["cells"][2]["execution_count"], Value::Null);

    let (out, notebook) = run(&["--go-on"]);
    assert_eq!(out.status.code(), Some(1));
    let rows = Bare::read("first-start.csv").all("Engine Speed").len();
    assert_eq!(
        notebook["cells"][2]["outputs"][0]["data"]["text/plain"],
        rows.to_string()
    );
    // In its own place, too: beside, then moved there.
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 2);
}

#[test]
fn what_cannot_be_read_is_told_and_ends_with_2() {
    let folder = tempfile::tempdir().expect("a folder");
    let own = written(folder.path(), &["open(\"x\").rpm.max()"]);
    let at = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    fs::create_dir(at("none")).expect("made");
    fs::create_dir(at("logs")).expect("made");
    fs::copy(home().join("sample-logs/first-start.csv"), at("logs/b.csv")).expect("copied");
    fs::write(at("logs/a.csv"), "").expect("written");
    fs::write(at("logs/notes.md"), "no log").expect("written");
    fs::write(
        at("old.ipynb"),
        "{\"nbformat\":4,\"nbformat_minor\":2,\"metadata\":{},\"cells\":[]}",
    )
    .expect("written");
    fs::write(at("wrong.toml"), "[engine]\ncylinders = \"six\"\n").expect("written");
    let log = "sample-logs/first-start.csv";
    let out = at("out.ipynb");
    let run = |args: &[&str]| {
        let mut all = vec!["notebook"];
        all.extend(args);
        let out = plugread(&all);
        (out.status.code(), text(&out.stdout), text(&out.stderr))
    };
    for (args, wanted) in [
        (
            vec![at("missing.ipynb"), "--log".into(), log.into()],
            "missing.ipynb could not be read",
        ),
        (
            vec![at("old.ipynb"), "--log".into(), log.into()],
            "old.ipynb: the notebook is nbformat 4.2, and 4.5",
        ),
        (
            vec![
                own.clone(),
                "--log".into(),
                at("no.csv"),
                "--out".into(),
                out.clone(),
            ],
            "no.csv",
        ),
        (
            vec![
                own.clone(),
                "--log".into(),
                at("logs/a.csv"),
                "--out".into(),
                out.clone(),
            ],
            "a.csv",
        ),
        (
            vec![
                own.clone(),
                "--log".into(),
                at("none"),
                "--out".into(),
                out.clone(),
            ],
            "there is no log in the folder",
        ),
        (
            vec![
                own.clone(),
                "--log".into(),
                log.into(),
                "--out".into(),
                at("x.pdf"),
            ],
            "neither .ipynb nor .html",
        ),
        (
            vec![
                own.clone(),
                "--log".into(),
                log.into(),
                "--sheet".into(),
                at("wrong.toml"),
                "--out".into(),
                out.clone(),
            ],
            "cylinders",
        ),
        (vec![own.clone()], "--log"),
    ] {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let (code, _, said) = run(&args);
        assert_eq!(code, Some(2), "{args:?}: {said}");
        assert!(said.contains(wanted), "{args:?}: {said}");
    }
    assert!(
        !Path::new(&out).exists(),
        "nothing is written where nothing was read"
    );

    // One log of a folder is empty: the other is run over all the same, and files that are no logs are left alone.
    let (code, said, complaint) = run(&[&own, "--log", &at("logs"), "--out", &out]);
    assert_eq!(code, Some(2));
    assert!(
        complaint.contains("a.csv") && !complaint.contains("notes.md"),
        "{complaint}"
    );
    assert!(said.contains("out-b.ipynb: 1 cell ran over"), "{said}");
    assert!(Path::new(&at("out-b.ipynb")).exists() && !Path::new(&at("out-a.ipynb")).exists());
}

#[test]
fn a_cell_reads_no_file_but_the_log_and_sheet_it_was_given() {
    let folder = tempfile::tempdir().expect("a folder");
    let secret = home().join("Cargo.toml");
    let own = written(
        folder.path(),
        &[&format!(
            "let run = open({:?}, {:?}); run.rpm.max()",
            secret.display(),
            secret.display()
        )],
    );
    let target = folder
        .path()
        .join("out.ipynb")
        .to_string_lossy()
        .into_owned();
    let out = plugread(&[
        "notebook",
        &own,
        "--log",
        "sample-logs/first-start.csv",
        "--out",
        &target,
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let notebook: Value =
        serde_json::from_str(&fs::read_to_string(&target).expect("written")).expect("JSON");
    let fastest = Bare::read("first-start.csv").max("Engine Speed");
    assert_eq!(
        notebook["cells"][0]["outputs"][0]["data"]["text/plain"],
        format!("{fastest:.0} rpm")
    );
}
