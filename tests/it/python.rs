//! The checks that are written in Python: round trips through pandas and Polars, converted files in other programs'
//! hands, computations against libraries that others keep, and figures of reviews worked out anew from the logs.

use std::io::Write as _;
use std::process::Command;

use crate::support::{home, text};

/// What the script says by where Python or its packages cannot be had.
const SKIPPED: i32 = 77;

/// Runs `tests/python/run`. Where Python is missing this is a skip, in CI a failure.
#[cfg(unix)]
#[test]
fn python() {
    let out = Command::new("bash")
        .arg(home().join("tests/python/run"))
        .arg(env!("CARGO_BIN_EXE_plugread"))
        .output()
        .expect("bash");
    let said = format!("{}{}", text(&out.stdout), text(&out.stderr));
    if out.status.code() == Some(SKIPPED) {
        assert!(
            std::env::var_os("CI").is_none(),
            "in CI Python and its packages have to be there: {said}"
        );
        tell(&said);
        return;
    }
    tell(&text(&out.stdout));
    assert!(out.status.success(), "{said}");
}

/// Past the harness, which keeps to itself what a test prints that passes: a skip, and what ran, are to be seen.
#[cfg(unix)]
fn tell(said: &str) {
    std::io::stderr()
        .write_all(format!("{}\n", said.trim_end()).as_bytes())
        .expect("stderr");
}
