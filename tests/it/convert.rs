//! `plugread convert`: the file gives the same review as the log, byte for byte.

use std::path::{Path, PathBuf};

use plugread::columnar::{self, Form};
use plugread::pipeline;
use plugread::recording::Recording;
use plugread::reports::{Format, Look, render_all};
use rayon::prelude::*;

use crate::dialects;
use crate::support::{catalog, demo_sheet};
use crate::support::{home, open_data, plugread, text};

const FORMS: [&str; 2] = ["parquet", "arrow"];

fn convert(log: &Path, form: &str, sheet: Option<&str>, folder: &Path) -> PathBuf {
    let to = folder.join(format!("run.{form}"));
    let (log, out) = (log.to_string_lossy(), to.to_string_lossy());
    let mut args = vec!["convert", &log, "--to", form, "--out", &out];
    args.extend(sheet.iter().flat_map(|sheet| ["--sheet", sheet]));
    let made = plugread(&args);
    assert!(made.status.success(), "{log}: {}", text(&made.stderr));
    to
}

/// The review in JSON, and the exit code; the path of the log taken out.
fn review(log: &Path, sheet: Option<&str>) -> (String, Option<i32>) {
    let path = log.to_string_lossy();
    let mut args = vec!["review", &path, "--format", "json"];
    args.extend(sheet.iter().flat_map(|sheet| ["--sheet", sheet]));
    let made = plugread(&args);
    let json = text(&made.stdout);
    let named = format!(
        "\"path\": {}",
        serde_json::to_string(&path).expect("a string")
    );
    assert_eq!(json.matches(&named).count(), 1, "{}", text(&made.stderr));
    (json.replace(&named, "\"path\""), made.status.code())
}

fn same_review(log: &Path, sheets: &[Option<&str>]) {
    let folder = tempfile::tempdir().expect("a folder");
    for form in FORMS {
        // Converted without a sheet: each sheet is applied at the review.
        let made = convert(log, form, None, folder.path());
        for sheet in sheets {
            let (wanted, got) = (review(log, *sheet), review(&made, *sheet));
            assert!(wanted == got, "{} as {form} under {sheet:?}", log.display());
        }
    }
}

#[test]
fn the_sample_logs_give_the_same_review() {
    let sheet = home().join("sample-logs/hill-special.toml");
    let sheet = sheet.to_string_lossy();
    for name in [
        "first-start-dead-cylinder",
        "hill-run-fading-alternator",
        "hot-standstill",
    ] {
        let log = home().join(format!("sample-logs/{name}.csv"));
        same_review(&log, &[None, Some(&sheet)]);
    }
}

#[test]
fn the_real_logs_give_the_same_review() {
    let Some(folder) = open_data() else { return };
    for name in ["drive1", "idle2", "live15", "ufpe18"] {
        same_review(&folder.join(format!("{name}.csv")), &[None]);
    }
}

/// Name and unit of a column.
type Heading = (String, Option<String>);

/// What was understood of a log and the review of it, without its path.
fn told(path: &Path) -> (Vec<String>, Vec<Heading>, String) {
    let log = pipeline::open(path, demo_sheet()).unwrap_or_else(|e| panic!("{e}"));
    let rec = Recording::read(log.as_ref(), demo_sheet(), |_| true).expect("all columns");
    let outcome = pipeline::review_log(log.as_ref(), demo_sheet(), catalog()).expect("a review");
    let mut review = outcome.review;
    assert_eq!(review.log.path, path.to_string_lossy());
    review.log.path.clear();
    let look = Look::default();
    (
        rec.evidence,
        rec.unmapped,
        render_all(&[review], Format::Json, &look),
    )
}

/// Every dialect that the tests can write, the packed ones and those with a row for each reading among them.
#[test]
fn every_dialect_gives_the_same_review() {
    let folder = tempfile::tempdir().expect("a folder");
    let variants = dialects::all();
    let different: Vec<&str> = variants
        .par_iter()
        .enumerate()
        .filter(|(n, variant)| {
            let home = folder.path().join(n.to_string());
            std::fs::create_dir(&home).expect("a folder");
            let path = home.join(variant.pack.file_name());
            let bytes = dialects::write(&variant.run, &variant.style).bytes;
            std::fs::write(&path, dialects::pack(&bytes, variant.pack)).expect("the log");
            let form = if n % 2 == 0 {
                Form::Parquet
            } else {
                Form::Arrow
            };
            let made = home.join("made");
            let sheet = demo_sheet();
            let forced = pipeline::forced(sheet);
            let log = pipeline::open(&path, sheet).unwrap_or_else(|e| panic!("{e}"));
            columnar::convert(log.as_ref(), sheet, &forced, form, &made)
                .unwrap_or_else(|e| panic!("{}: {e}", variant.name));
            told(&path) != told(&made)
        })
        .map(|(_, variant)| variant.name)
        .collect();
    assert!(different.is_empty() && variants.len() > 60, "{different:?}");
}

/// Units and names that the dictionary turns over, and a sheet that names columns and the scale of lambda only at the
/// review.
#[test]
fn a_sheet_written_after_the_conversion_is_applied() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = folder.path().join("odd.csv");
    let mut csv = String::from(
        "Time (ms);Engine Speed (rpm);Exh Front (degF);Exh Rear (degF);AFR;Oil Pressure (bar);Status\n",
    );
    for n in 0..6000_u32 {
        let t = f64::from(n);
        let rpm = if n < 300 {
            0.0
        } else {
            1500.0 + 500.0 * (t / 200.0).sin()
        };
        let row = format!(
            "{};{rpm:.0};{:.1};{:.1};{:.2};{:.2};{}\n",
            n * 20,
            70.0 + t / 6.0,
            70.0 + t / 7.0,
            13.1 + (t / 90.0).cos(),
            if n < 300 { 0.0 } else { 2.0 + rpm / 1000.0 },
            if n % 900 == 0 { "mark" } else { "" },
        );
        csv.push_str(&row.replace('.', ","));
        if n == 2000 {
            csv.push_str("lost;row\n");
        }
    }
    std::fs::write(&log, csv).expect("written");
    let sheet = folder.path().join("engine.toml");
    std::fs::write(
        &sheet,
        "[engine]\ncylinders = 2\n[fuel]\nlambda_scale_afr = 9.8\n[channels]\negt_1 = \"Exh Front (degF)\"\negt_2 = \"Exh Rear (degF)\"\n",
    )
    .expect("written");
    let sheet = sheet.to_string_lossy();
    same_review(&log, &[None, Some(&sheet)]);
    let channels = |log: &Path| {
        text(&plugread(&["channels", &log.to_string_lossy(), "--sheet", &sheet]).stdout)
    };
    let wanted = channels(&log);
    assert!(wanted.contains("egt_2"), "{wanted}");
    let plots = |log: &Path| {
        let drawn = text(&plugread(&["plot", &log.to_string_lossy(), "rpm"]).stdout);
        // The picture says which file it is of.
        let name = log.file_name().expect("a name").to_string_lossy();
        assert!(drawn.contains(&*name), "{drawn}");
        drawn.replace(&*name, "the log")
    };
    let starter = |log: &Path| text(&plugread(&["sheet", &log.to_string_lossy()]).stdout);
    for form in FORMS {
        let made = convert(&log, form, Some(&sheet), folder.path());
        let (first, rest) = wanted.split_once('\n').expect("lines");
        let got = channels(&made);
        assert!(got.ends_with(rest), "{got}");
        assert!(first.starts_with(&*log.to_string_lossy()));
        assert!(plots(&made).len() > 1000 && plots(&made) == plots(&log));
        let same = starter(&made).replace(&*made.to_string_lossy(), &log.to_string_lossy());
        assert_eq!(same, starter(&log));
    }
}

#[test]
fn nothing_is_written_over() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = folder.path().join("run.csv");
    let csv = "Time (s),Engine Speed (rpm)\n0,900\n0.1,910\n0.2,920\n0.3,930\n";
    std::fs::write(&log, csv).expect("written");
    let path = log.to_string_lossy();
    let refuse = |args: &[&str], why: &str| {
        let made = plugread(args);
        assert_eq!(made.status.code(), Some(2), "{args:?}");
        let said = text(&made.stderr);
        assert!(said.contains(why) && said.lines().count() == 1, "{said}");
        assert_eq!(std::fs::read_to_string(&log).expect("still there"), csv);
    };
    refuse(
        &["convert", &path, "--to", "arrow", "--out", &path],
        "would be written over",
    );
    refuse(
        &["convert", &path, &path, "--to", "arrow", "--out", "x.arrow"],
        "leave it out",
    );
    let nowhere = folder.path().join("none/run.arrow");
    refuse(
        &[
            "convert",
            &path,
            "--to",
            "arrow",
            "--out",
            &nowhere.to_string_lossy(),
        ],
        "could not be written",
    );
    let made = convert(&log, "parquet", None, folder.path());
    let own = made.to_string_lossy();
    refuse(
        &["convert", &own, "--to", "parquet", "--out", &own],
        "would be written over",
    );
    // Without --out: beside where the command is typed, and only where nothing is.
    let typed = || {
        std::process::Command::new(env!("CARGO_BIN_EXE_plugread"))
            .args(["convert", "run.csv", "--to", "arrow"])
            .current_dir(folder.path())
            .output()
            .expect("the program starts")
    };
    let first = typed();
    assert!(first.status.success(), "{}", text(&first.stderr));
    let said = text(&first.stdout);
    assert!(
        said.starts_with("run.arrow: 4 rows and 2 columns (1 under standard names), "),
        "{said}"
    );
    let second = typed();
    assert_eq!(second.status.code(), Some(2));
    assert!(
        text(&second.stderr).contains("is there already"),
        "{}",
        text(&second.stderr)
    );
}

#[test]
fn a_damaged_file_is_told_in_one_sentence() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = home().join("sample-logs/first-start.csv");
    for form in FORMS {
        let made = convert(&log, form, None, folder.path());
        let whole = std::fs::read(&made).expect("bytes");
        for end in [6, 100, whole.len() / 2, whole.len() - 1] {
            std::fs::write(&made, &whole[..end]).expect("written");
            let told = plugread(&["review", &made.to_string_lossy()]);
            assert_eq!(told.status.code(), Some(2), "{form} cut at {end}");
            let said = text(&told.stderr);
            assert!(
                said.lines().count() == 1 && said.contains("cannot be read"),
                "{said}"
            );
        }
    }
}
