//! The libraries behind a wall: a damaged file may make them panic, and that is the file's fault, not a crash.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

use super::Form;
use crate::load::LoadError;

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Runs what a library does with a file, and turns its errors and panics into one sentence. What runs in here stays on
/// its thread.
pub fn guarded<T, E: std::fmt::Display>(
    file: &str,
    form: Form,
    work: impl FnOnce() -> Result<T, E>,
) -> Result<T, LoadError> {
    hush();
    let before = GUARDED.replace(true);
    let outcome = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(before);
    match outcome {
        Ok(Ok(done)) => Ok(done),
        Ok(Err(error)) => Err(damaged(file, form, &error.to_string())),
        Err(_) => Err(damaged(file, form, "its parts do not fit together")),
    }
}

/// Ways to pack that are left out of this program, each for a library of its own.
const LEFT_OUT: [&str; 3] = ["zstd", "brotli", "lzo"];

/// The sentence for a file that cannot be read.
pub fn damaged(file: &str, form: Form, reason: &str) -> LoadError {
    let left_out = |name: &&&str| reason.contains("feature") && reason.contains(**name);
    if let Some(packing) = LEFT_OUT.iter().find(left_out) {
        return LoadError::NotUnpacked {
            file: file.to_owned(),
            form: form.name(),
            packing,
        };
    }
    // The libraries put kinds of error before their reasons, one for each layer.
    let mut reason = reason;
    while let Some((kind, rest)) = reason.split_once(" error: ") {
        if kind.split_whitespace().count() > 3 {
            break;
        }
        reason = rest;
    }
    // Some reasons run over several lines.
    let reason: Vec<&str> = reason.split_whitespace().collect();
    LoadError::Damaged {
        file: file.to_owned(),
        form: form.name(),
        reason: reason.join(" "),
    }
}

/// Keeps the words of a caught panic off the terminal; all others are told as before.
fn hush() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let usual = take_hook();
        set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                usual(panic);
            }
        }));
    });
}
