//! Columns that a logger reads in turn, one after the other over a slow bus: in truth seconds apart, though they stand in
//! the same row.

use std::collections::BTreeMap;

use super::{Channel, Pace, rate};

/// Columns whose intervals differ by no more than this share are read on one beat.
const SAME: f64 = 0.12;
/// So many columns on one beat show that it is the logger's.
const LEAST: usize = 3;
/// Changes of a column that are compared with those of others, and the fewest that say something.
const CHANGES_MOST: usize = 1500;
const CHANGES_LEAST: usize = 20;
/// Two columns that change in the same rows less often than this share of their changes are not read together.
const TOGETHER: f64 = 0.05;

/// Share of a column's changes that must come after the same time to show a turn by their evenness.
const EVEN: f64 = 0.9;

/// What was seen of a logger that reads in turn.
#[derive(Clone, Debug, PartialEq)]
pub struct InTurn {
    /// How long it takes to come round, s.
    pub interval_s: f64,
    /// The columns that take part, by standard name.
    pub names: Vec<String>,
}

/// Gives channels that are too quiet to show their own rate the beat of those beside them. Says whether the log is read
/// in turn.
pub(super) fn settle(channels: &mut BTreeMap<String, Channel>) -> Option<InTurn> {
    let beats: Vec<(&str, f64)> = channels
        .values()
        .filter(|c| c.pace() == Pace::Repeated)
        .map(|c| (c.name.as_str(), c.interval_s()))
        .collect();
    let evenly = if beats.len() < LEAST {
        even_turns(channels)
    } else {
        Vec::new()
    };
    let evident = evenly.len() >= LEAST;
    let beats = if evident { evenly } else { beats };
    let mut intervals: Vec<f64> = beats.iter().map(|b| b.1).collect();
    intervals.sort_by(f64::total_cmp);
    let usual = intervals.get(intervals.len() / 2).copied()?;
    let same = |interval: f64| (interval / usual - 1.0).abs() <= SAME;
    let members: Vec<&str> = beats.iter().filter(|b| same(b.1)).map(|b| b.0).collect();
    let quick = channels
        .values()
        .filter(|c| c.pace() == Pace::Own && !c.series.is_empty())
        .count();
    let in_turn = members.len() >= LEAST
        && members.len() >= beats.len() * 3 / 4
        && quick * 4 <= members.len()
        && (evident || apart(channels, &members));
    // Between columns read in turn all the others are; elsewhere a beat is taken over where the changes lie on it.
    for channel in channels.values_mut() {
        let shows_itself = match channel.pace() {
            Pace::Unclear => false,
            Pace::Still => !in_turn,
            Pace::Own | Pace::Repeated | Pace::Beside => true,
        };
        if shows_itself || channel.series.len() < 2 {
            continue;
        }
        if in_turn {
            channel.paced_beside(usual, true);
            continue;
        }
        let mut tried: Vec<f64> = Vec::new();
        for interval in intervals.iter().rev().copied() {
            if tried.iter().all(|t| (interval / t - 1.0).abs() > SAME)
                && channel.pace() == Pace::Unclear
            {
                tried.push(interval);
                channel.paced_beside(interval, false);
            }
        }
    }
    in_turn.then(|| InTurn {
        interval_s: usual,
        names: channels
            .values()
            .filter(|c| {
                c.pace() == Pace::Beside || c.pace() == Pace::Repeated && same(c.interval_s())
            })
            .map(|c| c.name.clone())
            .collect(),
    })
}

/// Columns that change after one and the same time throughout, each in rows in which none of the others does: that is the
/// logger's turn, even where each of them alone could be a slow climb. With the time from turn to turn.
fn even_turns(channels: &BTreeMap<String, Channel>) -> Vec<(&str, f64)> {
    let mut found: Vec<(&str, f64, Vec<f64>)> = Vec::new();
    for channel in channels.values().filter(|c| c.pace() == Pace::Unclear) {
        let rows = rate::change_rows(&channel.series, CHANGES_MOST);
        let mut steps: Vec<f64> = rows.windows(2).map(|pair| pair[1] - pair[0]).collect();
        steps.sort_by(f64::total_cmp);
        let Some(usual) = steps.get(steps.len() / 2).copied() else {
            continue;
        };
        let even = steps.iter().filter(|s| (**s / usual - 1.0).abs() <= SAME);
        // In every row a reading of its own is no turn.
        let rests = usual >= 1.5 * channel.interval_s();
        if rows.len() >= CHANGES_LEAST && rests && even.count() as f64 >= EVEN * steps.len() as f64
        {
            found.push((channel.name.as_str(), usual, rows));
        }
    }
    let alone = (0..found.len())
        .all(|a| (a + 1..found.len()).all(|b| seldom_together(&found[a].2, &found[b].2)));
    if !alone {
        return Vec::new();
    }
    found
        .into_iter()
        .map(|(name, usual, _)| (name, usual))
        .collect()
}

/// True where two of the columns never change in the same row.
fn apart(channels: &BTreeMap<String, Channel>, names: &[&str]) -> bool {
    let rows: Vec<Vec<f64>> = names
        .iter()
        .filter_map(|name| channels.get(*name))
        .map(|c| rate::change_rows(&c.series, CHANGES_MOST))
        .filter(|rows| rows.len() >= CHANGES_LEAST)
        .collect();
    (0..rows.len()).any(|a| (a + 1..rows.len()).any(|b| seldom_together(&rows[a], &rows[b])))
}

fn seldom_together(a: &[f64], b: &[f64]) -> bool {
    // Only where both are looked at.
    let until = a
        .last()
        .copied()
        .unwrap_or(0.0)
        .min(b.last().copied().unwrap_or(0.0));
    let (mut i, mut j, mut both) = (0, 0, 0usize);
    while i < a.len() && j < b.len() {
        match a[i].total_cmp(&b[j]) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                both += 1;
                i += 1;
                j += 1;
            }
        }
    }
    let seen = |rows: &[f64]| rows.iter().filter(|t| **t <= until).count();
    let fewer = seen(a).min(seen(b));
    fewer >= CHANGES_LEAST && (both as f64) < TOGETHER * fewer as f64
}
