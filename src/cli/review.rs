//! `plugread review`.

use std::cmp::Reverse;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::args::{Form, ReviewArgs};
use super::logs::logs_of;
use super::progress::Progress;
use super::{End, Refusal, out, read_sheet};
use crate::checks::Catalog;
use crate::findings::{Review, Verdict};
use crate::pipeline;
use crate::reports::{Format, Unread, render_beside, worst_first};

pub fn run(args: &ReviewArgs) -> Result<End, Refusal> {
    let inputs = args.logs.iter().chain(&args.sheet);
    let inputs: Vec<&Path> = inputs.map(PathBuf::as_path).collect();
    out::spare_inputs(args.out.as_deref(), &inputs)?;
    let sheet = read_sheet(args.sheet.as_deref());
    let named: Vec<_> = args.logs.iter().map(|log| logs_of(log)).collect();
    let progress = Progress::begin();
    if let Some(log) = args.logs.first() {
        progress.now("reviewing", log, 0, args.logs.len());
    }
    // The checks are read while the first log is looked at.
    let first = || {
        let log = named.first()?.as_ref().ok()?.first()?;
        Some(pipeline::open(log, sheet.as_ref().ok()?))
    };
    let (catalog, mut first) = rayon::join(|| Catalog::load(args.scripts.as_deref()), first);
    let (catalog, sheet) = (catalog?, sheet?);
    pipeline::accept_sheet(&sheet, &catalog)?;
    let mut reviews = Vec::new();
    let mut end = End::Quiet;
    let mut told = Vec::new();
    let mut logs = Vec::new();
    let mut unread = Vec::new();
    for (inside, log) in named.into_iter().zip(&args.logs) {
        match inside {
            Ok(inside) => logs.extend(inside),
            Err(Refusal(why)) => {
                unread.push(not_read(log, &why));
                end = End::Unread;
            }
        }
    }
    let inside: Vec<&Path> = logs.iter().map(PathBuf::as_path).collect();
    out::spare_inputs(args.out.as_deref(), &inside)?;
    let several = args.logs.len() > 1 || logs.len() > 1 || args.logs.iter().any(|l| l.is_dir());
    for (number, log) in logs.iter().enumerate() {
        progress.now("reviewing", log, number, logs.len());
        let opened = first.take().unwrap_or_else(|| pipeline::open(log, &sheet));
        let reviewed = opened.and_then(|log| pipeline::review_log(log.as_ref(), &sheet, &catalog));
        match reviewed {
            Ok(mut outcome) => {
                if matches!(args.format, Form::Html) {
                    pipeline::draw_judged(&mut outcome);
                }
                for error in &outcome.script_errors {
                    let text = error.shown();
                    if !told.contains(&text) {
                        out::complain(&text);
                        told.push(text);
                    }
                }
                if args.timings {
                    out::complain(&timings(outcome.took));
                }
                if outcome.review.verdict == Verdict::Warn {
                    end = end.max(End::Warned);
                }
                lighten(&mut outcome.review, args.format);
                if number + 1 == logs.len() {
                    // As with the checks below: the system takes all of it back at once.
                    std::mem::forget(outcome.shared);
                }
                reviews.push(outcome.review);
            }
            Err(error) => {
                unread.push(not_read(log, &error.to_string()));
                end = End::Unread;
            }
        }
    }
    drop(progress);
    if !reviews.is_empty() {
        let format = match args.format {
            Form::Text => Format::Text,
            Form::Json => Format::Json,
            Form::Html => Format::Html,
            Form::Markdown => Format::Markdown,
        };
        if format != Format::Json {
            worst_first(&mut reviews);
        }
        let mut look = out::look(args.out.is_some());
        // One line for each log, whenever several were asked for: also where only one could be read.
        look.pretty = !several;
        out::write(
            args.out.as_deref(),
            render_beside(&reviews, &unread, format, &look).as_bytes(),
        )?;
    }
    // The process ends now: taking the checks apart piece by piece would only keep the person waiting.
    std::mem::forget(catalog);
    Ok(end)
}

/// Leaves out the pictures that this form does not show: of many logs they would fill the memory.
fn lighten(review: &mut Review, form: Form) {
    for finding in &mut review.findings {
        let shown = match form {
            Form::Html => true,
            Form::Text => finding.verdict == Verdict::Warn,
            Form::Json | Form::Markdown => false,
        };
        if !shown {
            finding.plots = Vec::new();
            finding.close_ups = Vec::new();
        }
    }
}

/// Complains of a log, and keeps it for the closing table.
fn not_read(log: &Path, why: &str) -> Unread {
    out::complain(why);
    Unread {
        log: log.display().to_string(),
        why: why.to_owned(),
    }
}

/// What each check took, longest first. They run beside each other, so their sum is more than the time one waits.
fn timings(mut took: Vec<(String, Duration)>) -> String {
    took.sort_by_key(|(_, time)| Reverse(*time));
    let line =
        |(id, time): &(String, Duration)| format!("{:9.1} ms  {id}", time.as_secs_f64() * 1000.0);
    let lines: Vec<String> = took.iter().map(line).collect();
    format!("what each check took:\n{}", lines.join("\n"))
}
