//! Counters: a running count, a count for each row, or no count at all.

use super::words::level_name;
use super::{Counts, Reading, UnitFrom, Unread, is_counter, show};
use crate::recording::dictionary;
use crate::recording::rate::{self, Pace};
use crate::recording::{Channel, Series};

/// Share of readings with a fraction at which no count can be meant.
const FRACTIONS: f64 = 0.1;
/// A count of one row stays under this while the engine turns (common practice: knocks come at most once a cycle).
const MUCH: f64 = 8.0;
/// So many steps up say something about a counter.
const STEPS: usize = 4;

/// Finds knock columns that hold a level.
pub(super) fn judge(columns: &[Unread], readings: &mut [Reading]) {
    let taken: Vec<String> = readings.iter().map(|r| r.name.clone()).collect();
    for (column, reading) in columns.iter().zip(readings.iter_mut()) {
        let n = &column.numbers;
        if !is_counter(reading.entry) || reading.from == UnitFrom::Sheet || !n.enough() {
            continue;
        }
        let fractions = n.share_of(|v| v.fract().abs() > 1e-9) > FRACTIONS;
        let restless = n.falls * 2 >= n.rises && n.rises >= STEPS && n.low() > MUCH;
        if !fractions && !restless {
            continue;
        }
        let what = if fractions {
            "holds fractions".to_owned()
        } else {
            format!("never falls under {} and goes up and down", show(n.low()))
        };
        let level = level_name(&reading.name).filter(|level| !taken.contains(level));
        match level.and_then(|l| Some((dictionary::entry(&l)?, l))) {
            Some((entry, level)) => {
                reading.because.push(format!(
                    "`{}` {what}: taken for a level ({level}), not for a count.",
                    column.header
                ));
                reading.questions.push(format!(
                    "`{}` {what}, so it was taken for a level, not for a count ({level} instead of {}). Is that right? {1} = \"level\" under [units] in the build sheet settles it.",
                    column.header, reading.name
                ));
                (reading.name, reading.entry) = (level, entry);
            }
            None => reading.questions.push(format!(
                "`{}` ({}) {what}: is it a count at all? Without a name of its own it cannot be judged as a level.",
                column.header, reading.name
            )),
        }
    }
}

/// A running count only climbs, but for a reset or a wrap now and then. One that falls about as often as it rises is a
/// count for each row.
pub(in crate::recording) fn per_row(values: &[f64], counts: Counts) -> bool {
    if counts != Counts::Unsaid {
        return counts == Counts::EachRow;
    }
    let (mut up, mut down) = (0usize, 0usize);
    let mut before = f64::NAN;
    for v in values.iter().copied().filter(|v| v.is_finite()) {
        up += usize::from(v > before);
        down += usize::from(v < before);
        before = v;
    }
    up >= STEPS && down * 2 >= up
}

/// A count for each reading, summed to a running count. A reading that is repeated in several rows is counted once.
pub(in crate::recording) fn counted(series: &Series) -> Series {
    let rate = rate::find(series);
    let readings = match rate.pace {
        Pace::Repeated => rate.updates,
        _ => each_once(series),
    };
    let mut sum = 0.0;
    let values = readings.values.iter().map(|v| {
        sum += v;
        sum
    });
    Series::new(&readings.times, values.collect())
}

/// Where every count stands for the same few rows, or a multiple of them, it is one reading.
fn each_once(series: &Series) -> Series {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (i, v) in series.values.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if series.values[run.0] == *v => run.1 = i + 1,
            _ => runs.push((i, i + 1)),
        }
    }
    let lengths = || {
        let inner = runs.iter().skip(1).rev().skip(1);
        inner
            .filter(|r| series.values[r.0] != 0.0)
            .map(|r| r.1 - r.0)
    };
    let least = lengths().min().unwrap_or(1);
    if least < 2 || lengths().count() < STEPS || lengths().any(|l| l % least != 0) {
        return series.clone();
    }
    // The zeros between them are readings, too, in step with the counts that follow.
    let rows = runs.iter().flat_map(|(from, to)| {
        let lead = (to - from) % least;
        std::iter::once(*from)
            .chain((from + lead..*to).step_by(least))
            .skip(usize::from(lead == 0))
    });
    let (times, values): (Vec<f64>, Vec<f64>) =
        rows.map(|i| (series.times[i], series.values[i])).unzip();
    Series::new(&times.into(), values)
}

/// The question that the sign of a battery current raises.
pub(in crate::recording) fn sign_question(channel: &Channel, at_rest: Option<f64>) -> String {
    let rest = at_rest.filter(|amps| amps.abs() > 0.3);
    let told = match rest {
        Some(amps) if amps > 0.0 => format!(
            " With the engine standing it reads {} A, and there the battery only gives: so plus would be out of the battery.",
            show(amps)
        ),
        Some(amps) => format!(
            " With the engine standing it reads {} A, and there the battery only gives: so plus would be into the battery.",
            show(amps)
        ),
        None => String::new(),
    };
    format!(
        "Which way is plus in `{}` (`{}`)?{told} current = \"A\" under [units] in the build sheet keeps its sign, \"A reversed\" turns it.",
        channel.name, channel.column
    )
}
