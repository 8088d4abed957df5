//! What several tests need.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use plugread::checks::Catalog;
use plugread::findings::{Review, Verdict};
use plugread::load::{self, Forced};
use plugread::pipeline;
use plugread::sheet::{self, Sheet};

/// The project's folder.
pub fn home() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The built-in checks.
pub fn catalog() -> &'static Catalog {
    static CATALOG: OnceLock<Catalog> = OnceLock::new();
    CATALOG.get_or_init(|| {
        // Loading shares its work out. A thread of its own with a pool of its own does that: the workers of the common pool
        // may all be tests that wait here.
        let load = || {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
            let pool = pool.expect("a pool");
            pool.install(|| Catalog::load(None).expect("the built-in checks"))
        };
        std::thread::spawn(load)
            .join()
            .expect("the built-in checks")
    })
}

/// The demo car's sheet.
pub fn demo_sheet() -> &'static Sheet {
    static SHEET: OnceLock<Sheet> = OnceLock::new();
    SHEET.get_or_init(|| {
        sheet::parse("hill-special.toml", crate::simulator::build_sheet()).expect("the demo sheet")
    })
}

/// A review of text.
pub fn review_text(name: &str, csv: String, sheet: &Sheet) -> Review {
    let log = load::from_bytes(name, csv.into_bytes(), &Forced::default())
        .unwrap_or_else(|e| panic!("{name}: {e}"));
    let outcome = pipeline::review_log(&log, sheet, catalog()).unwrap_or_else(|e| panic!("{e}"));
    assert!(
        outcome.script_errors.is_empty(),
        "{name}: {:?}",
        outcome.script_errors
    );
    outcome.review
}

/// Ids of the checks that warn.
pub fn warned(review: &Review) -> Vec<&str> {
    let warn = |f: &&plugread::findings::Finding| f.verdict == Verdict::Warn;
    review
        .findings
        .iter()
        .filter(warn)
        .map(|f| f.id.as_str())
        .collect()
}

/// What every check said, for the message of a test that fails.
pub fn told(review: &Review) -> String {
    let lines = review
        .findings
        .iter()
        .map(|f| format!("  {} {} {}", f.verdict.word(), f.id, f.reason.standard()));
    lines.collect::<Vec<_>>().join("\n")
}

/// The folder of the open data, or a word about the skip. In CI a skip is a failure.
pub fn open_data() -> Option<PathBuf> {
    let folder = home().join("../shared/open-data/car-obd");
    if folder.is_dir() {
        return Some(folder);
    }
    assert!(
        std::env::var_os("CI").is_none(),
        "in CI the open data has to be there: {}",
        folder.display()
    );
    eprintln!("skipped: ../shared/open-data is not there");
    None
}

/// Runs the program.
pub fn plugread(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_plugread"))
        .args(args)
        .current_dir(home())
        .env("NO_COLOR", "1")
        .output()
        .expect("the program starts")
}

/// Standard output or error as text.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Runs the program for at most so long; `None` where it had to be ended.
pub fn plugread_within(args: &[&str], patience: std::time::Duration) -> Option<Output> {
    use std::process::Stdio;

    let mut child = Command::new(env!("CARGO_BIN_EXE_plugread"))
        .args(args)
        .current_dir(home())
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // The pipes are emptied beside the waiting: a full one would stop the program.
    let stdout = child.stdout.take().expect("a pipe");
    let stderr = child.stderr.take().expect("a pipe");
    let read = |mut from: Box<dyn std::io::Read + Send>| {
        std::thread::spawn(move || {
            let mut bytes = Vec::new();
            from.read_to_end(&mut bytes).expect("the pipe");
            bytes
        })
    };
    let (out, err) = (read(Box::new(stdout)), read(Box::new(stderr)));
    let started = std::time::Instant::now();
    loop {
        if let Some(status) = child.try_wait().expect("its state") {
            let (stdout, stderr) = (out.join().expect("read"), err.join().expect("read"));
            return Some(Output {
                status,
                stdout,
                stderr,
            });
        }
        if started.elapsed() > patience {
            child.kill().expect("ended");
            child.wait().expect("ended");
            return None;
        }
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
}
