//! Holds what was read of a variant against the run itself, and its review against the plain variant's.

use std::path::Path;

use plugread::load;
use plugread::load::Forced;
use plugread::pipeline;
use plugread::recording::Recording;
use plugread::reports::{Format, Look, render_all};
use serde_json::Value;

use super::run::{Col, HZ};
use super::style::Stamp;
use super::variants::{Alike, Variant};
use super::write::Written;
use crate::support::{catalog, demo_sheet, plugread, text};

/// What is wrong with how one variant was read; empty where all is well.
pub fn faults(variant: &Variant, written: &Written, path: &Path, plain: &Value) -> Vec<String> {
    let mut out = Vec::new();
    let log = match load::open(path, &Forced::default()) {
        Ok(log) => log,
        Err(error) => return vec![format!("is refused: {error}")],
    };
    let rec = match Recording::read(&log, demo_sheet(), |_| true) {
        Ok(rec) => rec,
        Err(error) => return vec![format!("cannot be read: {error}")],
    };
    times(&rec, variant, &mut out);
    for col in variant.run.cols.iter().filter(|c| !c.standard.is_empty()) {
        values(&rec, col, &mut out);
    }
    columns(&rec, variant, &mut out);
    problems(&rec, written, &mut out);
    match review(path) {
        Ok(review) if variant.style.stamp == Stamp::None => {
            // Nothing can be said of a clock that is not there, and only that.
            let (review, plain) = (without_clock(review), without_clock(plain.clone()));
            out.extend(differences(&review, &plain, variant.alike));
        }
        Ok(review) => out.extend(differences(&review, plain, variant.alike)),
        Err(error) => out.push(format!("cannot be reviewed: {error}")),
    }
    let said = plugread(&["channels", &path.to_string_lossy()]);
    let said = text(&said.stdout).to_lowercase();
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in variant.said.iter().filter(|word| !said.contains(**word)) {
        out.push(format!("`channels` does not say `{word}`"));
    }
    out
}

/// A review as JSON.
pub fn review(path: &Path) -> Result<Value, String> {
    let outcome = pipeline::review(path, demo_sheet(), catalog()).map_err(|e| e.to_string())?;
    if let Some(error) = outcome.script_errors.first() {
        return Err(error.to_string());
    }
    let json = render_all(&[outcome.review], Format::Json, &Look::default());
    serde_json::from_str(&json).map_err(|e| e.to_string())
}

/// A review without the check of the clock, and without what rests on it.
fn without_clock(mut review: Value) -> Value {
    let checks = review["checks"].as_array_mut().expect("checks");
    checks.retain(|check| check["id"] != "log-clock");
    for check in checks {
        if let Some(unchecked) = check["unchecked"].as_array_mut() {
            unchecked.retain(|id| id != "log-clock");
        }
    }
    review
}

/// Row times against the run's own, and the number of rows.
fn times(rec: &Recording, variant: &Variant, out: &mut Vec<String>) {
    let rows = variant.run.rows;
    if variant.style.long {
        // A long log has a row for each reading: only its course can be compared.
        let wanted = (rows - 1) as f64 / HZ;
        if (rec.duration_s() - wanted).abs() > 1e-5 {
            out.push(format!(
                "lasts {} s instead of {wanted} s",
                rec.duration_s()
            ));
        }
        return;
    }
    if rec.rows != rows {
        out.push(format!("has {} rows instead of {rows}", rec.rows));
        return;
    }
    let start = rec.start_s();
    let wrong = (0..rows).find(|row| (rec.time[*row] - start - *row as f64 / HZ).abs() > 1e-5);
    if let Some(row) = wrong {
        out.push(format!(
            "row {row} stands at {} s instead of {} s",
            rec.time[row] - start,
            row as f64 / HZ
        ));
    }
}

/// The readings of one channel, each at its own time.
fn values(rec: &Recording, col: &Col, out: &mut Vec<String>) {
    let Some(channel) = rec.channel(col.standard) else {
        out.push(format!("{} is not found", col.standard));
        return;
    };
    let truth: Vec<(f64, f64)> = col
        .truth
        .iter()
        .enumerate()
        .filter_map(|(row, v)| Some((row as f64 / HZ, (*v)?)))
        .collect();
    let series = &channel.series;
    if series.len() != truth.len() {
        out.push(format!(
            "{} has {} readings instead of {}",
            col.standard,
            series.len(),
            truth.len()
        ));
        return;
    }
    let start = rec.start_s();
    for (n, (time, value)) in truth.iter().enumerate() {
        let (at, got) = (series.times[n] - start, series.values[n]);
        if (at - time).abs() > 1e-5 || (got - value).abs() > col.within {
            out.push(format!(
                "{} reads {got} at {at} s instead of {value} at {time} s",
                col.standard
            ));
            return;
        }
    }
}

/// Every column is used or told.
fn columns(rec: &Recording, variant: &Variant, out: &mut Vec<String>) {
    let mut wanted: Vec<&str> = vec!["Aux 7", "Spare Byte 2"];
    wanted.extend(&variant.unmapped);
    let mut left: Vec<&str> = rec.unmapped.iter().map(|u| u.0.as_str()).collect();
    for heading in wanted {
        match left.iter().position(|h| *h == heading) {
            Some(at) => {
                left.remove(at);
            }
            None => out.push(format!("column `{heading}` is neither used nor told")),
        }
    }
    // A date of two clock columns may be told too.
    left.retain(|heading| *heading != "Date");
    if !left.is_empty() {
        out.push(format!("columns {left:?} are told as not understood"));
    }
}

/// Every line that was lost is told, and no other.
fn problems(rec: &Recording, written: &Written, out: &mut Vec<String>) {
    let mut told: Vec<usize> = rec.problems.iter().map(|p| p.0).collect();
    told.sort_unstable();
    let mut lost = written.lost.clone();
    lost.sort_unstable();
    if told != lost {
        let missing: Vec<usize> = lost
            .iter()
            .copied()
            .filter(|line| !told.contains(line))
            .collect();
        let more: Vec<&(usize, String)> = rec
            .problems
            .iter()
            .filter(|p| !lost.contains(&p.0))
            .collect();
        let more = &more[..more.len().min(3)];
        out.push(format!(
            "lines {missing:?} are lost and not told; told besides: {more:?}"
        ));
    }
}

/// What differs between two reviews.
pub fn differences(got: &Value, wanted: &Value, alike: Alike) -> Vec<String> {
    let mut out = Vec::new();
    let keys: &[&str] = match alike {
        Alike::Verdicts => &["verdict", "start_here"],
        _ => &["verdict", "start_here", "stop_now", "diagnosis", "cautions"],
    };
    for key in keys {
        same(key, &got[key], &wanted[key], alike, &mut out);
    }
    if alike != Alike::Verdicts {
        same(
            "phases",
            &got["log"]["phases"],
            &wanted["log"]["phases"],
            alike,
            &mut out,
        );
    }
    let none = Vec::new();
    let (mine, plain) = (
        got["checks"].as_array().unwrap_or(&none),
        wanted["checks"].as_array().unwrap_or(&none),
    );
    if mine.len() != plain.len() || plain.is_empty() {
        out.push(format!("{} checks instead of {}", mine.len(), plain.len()));
    }
    for (mine, plain) in mine.iter().zip(plain) {
        let id = plain["id"].as_str().unwrap_or_default();
        let keys: &[&str] = match alike {
            Alike::Verdicts => &["id", "verdict", "not_run_kind", "cylinders"],
            _ => &[
                "id",
                "verdict",
                "not_run_kind",
                "cylinders",
                "reason",
                "numbers",
                "limits",
                "spans",
                "doubtful_because",
                "unchecked",
            ],
        };
        for key in keys {
            same(
                &format!("{id}.{key}"),
                &mine[key],
                &plain[key],
                alike,
                &mut out,
            );
        }
    }
    out
}

fn same(place: &str, got: &Value, wanted: &Value, alike: Alike, out: &mut Vec<String>) {
    let equal = if alike == Alike::Near {
        near(got, wanted)
    } else {
        got == wanted
    };
    if !equal {
        out.push(format!("{place} is {got} instead of {wanted}"));
    }
}

/// Equal but for figures that lie close to each other.
fn near(got: &Value, wanted: &Value) -> bool {
    match (got, wanted) {
        (Value::Number(a), Value::Number(b)) => close(
            a.as_f64().unwrap_or(f64::NAN),
            b.as_f64().unwrap_or(f64::NAN),
            0.0,
        ),
        (Value::String(a), Value::String(b)) => near_text(a, b),
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len()
                && a.iter()
                    .all(|(key, value)| b.get(key).is_some_and(|other| near(value, other)))
        }
        _ => got == wanted,
    }
}

/// Within a hundredth of the figure, or one step of its last printed digit, or what rounding one row's time costs.
fn close(a: f64, b: f64, step: f64) -> bool {
    (a - b).abs() <= (b.abs() * 0.01).max(1.01 * step).max(1e-3)
}

/// Sentences whose words are the same and whose figures are close.
fn near_text(a: &str, b: &str) -> bool {
    let words =
        |text: &str| -> Vec<String> { text.split_whitespace().map(str::to_owned).collect() };
    let (a, b) = (words(a), words(b));
    a.len() == b.len()
        && a.iter().zip(&b).all(|(a, b)| {
            let bare = |word: &str| {
                word.trim_matches(|c: char| !c.is_ascii_digit() && c != '-')
                    .to_owned()
            };
            match (bare(a).parse::<f64>(), bare(b).parse::<f64>()) {
                (Ok(x), Ok(y)) => {
                    let decimals = bare(b)
                        .split_once('.')
                        .map_or(0, |(_, fraction)| fraction.len());
                    close(x, y, 0.1_f64.powi(i32::try_from(decimals).unwrap_or(0)))
                }
                _ => a == b,
            }
        })
}
