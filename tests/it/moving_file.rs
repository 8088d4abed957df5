//! A log that another program writes, shortens or replaces while it is read: a clear sentence, never a wrong review, and
//! never a crash.

use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use serde_json::Value;

use crate::bad_kinds::unclear;
use crate::support::{plugread_within, text};

const PATIENCE: Duration = Duration::from_secs(60);
/// Enough for the reading to take some tenths of a second.
const ROWS: usize = 400_000;

fn row(n: usize) -> String {
    format!(
        "{}.{:02},{},{},{}.{},98.{},{},{}\n",
        n / 50,
        n % 50 * 2,
        900 + n % 37,
        40 + n % 9,
        13,
        n % 10,
        n % 5,
        n % 90,
        n % 700
    )
}

const NAMES: &str = "Time (s),Engine Speed (rpm),MAP (kPa),Battery (V),Baro (kPa),Coolant Temp (degC),EGT Cyl 1 (degC)\n";

fn write_log(path: &Path, rows: usize) {
    let mut text = String::from(NAMES);
    for n in 0..rows {
        text.push_str(&row(n));
    }
    fs::write(path, text).expect("the log");
}

/// What came of one review while something happened to the file.
enum Came {
    /// Refused with a sentence.
    Refused(String),
    /// A review: its rows, and its problems as text.
    Review(u64, String),
}

fn review(path: &Path) -> Came {
    let args = ["review", &path.to_string_lossy(), "--format", "json"];
    let out = plugread_within(&args, PATIENCE).expect("it ends");
    assert_eq!(unclear(&out), None, "{}", text(&out.stderr));
    if out.status.code() == Some(2) {
        assert!(out.stdout.is_empty());
        return Came::Refused(text(&out.stderr));
    }
    let json: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let rows = json["log"]["rows"].as_u64().expect("rows");
    Came::Review(rows, json["log"]["problems"].to_string().to_lowercase())
}

/// Whether a text tells that the file is not what it was.
fn tells(text: &str) -> bool {
    let text = text.to_lowercase();
    [
        "changed",
        "grew",
        "still being written",
        "shortened",
        "replaced",
        "while it was read",
    ]
    .iter()
    .any(|word| text.contains(word))
}

fn log(name: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let path = folder.path().join(name);
    write_log(&path, ROWS);
    (folder, path)
}

#[test]
fn a_log_that_grows_is_told() {
    let (_folder, path) = log("growing.csv");
    let done = Arc::new(AtomicBool::new(false));
    let writer = {
        let (path, done) = (path.clone(), Arc::clone(&done));
        thread::spawn(move || {
            let mut file = OpenOptions::new().append(true).open(path).expect("the log");
            let mut n = ROWS;
            while !done.load(Ordering::Relaxed) {
                file.write_all(row(n).as_bytes()).expect("a row");
                n += 1;
                thread::sleep(Duration::from_micros(200));
            }
            n
        })
    };
    let came = review(&path);
    done.store(true, Ordering::Relaxed);
    let written = writer.join().expect("the writer");
    match came {
        Came::Refused(said) => assert!(tells(&said), "{said}"),
        Came::Review(rows, problems) => {
            let rows = usize::try_from(rows).expect("rows");
            assert!((ROWS..=written).contains(&rows), "{rows} rows of {written}");
            assert!(
                tells(&problems),
                "{rows} rows, and nothing told: {problems}"
            );
        }
    }
}

/// At several moments; where the reading was over before, the review is that of the whole log.
#[test]
fn a_log_that_is_shortened_gives_no_wrong_review() {
    let (_folder, path) = log("shortened.csv");
    let mut caught = 0;
    for wait_ms in [2, 10, 20, 40, 80, 160] {
        write_log(&path, ROWS);
        let cutter = {
            let path = path.clone();
            thread::spawn(move || {
                thread::sleep(Duration::from_millis(wait_ms));
                let file = OpenOptions::new().write(true).open(path).expect("the log");
                file.set_len(1_000_003).expect("shorter");
            })
        };
        let came = review(&path);
        cutter.join().expect("the cutter");
        match came {
            Came::Refused(said) => {
                assert!(tells(&said), "after {wait_ms} ms: {said}");
                caught += 1;
            }
            Came::Review(rows, problems) if rows != ROWS as u64 => {
                // Cut before the program came to it: then the cut row shows.
                assert!(
                    tells(&problems) || problems.contains("cut short"),
                    "after {wait_ms} ms: {rows} rows, {problems}"
                );
                caught += 1;
            }
            Came::Review(..) => {}
        }
    }
    println!("{caught} of 6 cuts were met while reading");
}

#[test]
fn a_log_that_is_written_anew_gives_no_wrong_review() {
    let (folder, path) = log("anew.csv");
    let other = folder.path().join("other.csv");
    for wait_ms in [5, 30, 80] {
        write_log(&path, ROWS);
        // Half as long, with other figures: a mixture of both would be a wrong review.
        let text: String = (0..ROWS / 2)
            .map(|n| row(n).replace(",13.", ",11."))
            .collect();
        fs::write(&other, format!("{NAMES}{text}")).expect("the other log");
        let writer = {
            let (path, other) = (path.clone(), other.clone());
            thread::spawn(move || {
                thread::sleep(Duration::from_millis(wait_ms));
                // Renaming leaves the open file as it was; copying over it does not.
                if wait_ms == 30 {
                    fs::rename(other, path).expect("replaced");
                } else {
                    fs::copy(other, path).expect("written over");
                }
            })
        };
        let came = review(&path);
        writer.join().expect("the writer");
        match came {
            // Copying over it begins with cutting it to nothing: who opens it right then finds it empty.
            Came::Refused(said) => assert!(
                tells(&said) || said.contains("is empty"),
                "after {wait_ms} ms: {said}"
            ),
            Came::Review(rows, problems) => {
                let whole = rows == ROWS as u64 || rows == ROWS as u64 / 2;
                assert!(
                    whole || tells(&problems),
                    "after {wait_ms} ms: {rows} rows, {problems}"
                );
            }
        }
    }
}

/// A log that is removed while it is read is read to its end, or refused.
#[test]
fn a_log_that_is_removed() {
    let (_folder, path) = log("removed.csv");
    let remover = {
        let path = path.clone();
        thread::spawn(move || {
            thread::sleep(Duration::from_millis(20));
            fs::remove_file(path).expect("removed");
        })
    };
    match review(&path) {
        Came::Refused(said) => assert!(tells(&said) || said.contains("no such file"), "{said}"),
        Came::Review(rows, problems) => assert!(
            rows == ROWS as u64 || tells(&problems),
            "{rows}: {problems}"
        ),
    }
    remover.join().expect("the remover");
}
