//! Which decimal mark a log is written with.

use super::clock_unit::unit_of;
use super::grid::{Class, Grid};
use crate::load::cells::{Marks, bare, number};
use crate::load::clock::ClockStyle;
use crate::load::dialect::Heading;
use crate::load::error::LoadError;
use crate::load::file::Source;
use crate::load::glued::number_and_unit;
use crate::load::words::{ClockName, clock_name};

/// Decides the decimal mark. Where the head has none, the first mark in the rest of the data decides, if it can.
///
/// # Errors
/// When the build sheet forces a mark and the head is written with the other one throughout.
pub(super) fn decide(
    source: &Source,
    grid: &Grid,
    forced: Option<u8>,
    from: usize,
    evidence: &mut Vec<String>,
) -> Result<Marks, LoadError> {
    let say = |decimal: u8, certain: bool, why: &str, evidence: &mut Vec<String>| {
        evidence.push(format!(
            "The decimal mark is `{}`: {why}.",
            char::from(decimal)
        ));
        Ok(Marks::new(decimal, certain))
    };
    let votes = votes(grid);
    let sum = |count: fn(&Votes) -> usize| votes.iter().map(count).sum::<usize>();
    let (mut point, mut comma) = (sum(|votes| votes.point), sum(|votes| votes.comma));
    if let Some(decimal) = forced {
        let (pro, contra) = match decimal {
            b'.' => (point, comma),
            _ => (comma, point),
        };
        let may_be = |votes: &Votes| match votes.groups(grid) == Some(decimal) {
            true => 0,
            false if decimal == b'.' => votes.point3,
            false => votes.comma3,
        };
        // Two cells without doubt, and none that may be written with the forced mark.
        if pro + votes.iter().map(may_be).sum::<usize>() == 0 && contra >= 4 {
            return Err(LoadError::BadForced {
                file: source.name.clone(),
                entry: "decimal",
                value: format!("{:?}", char::from(decimal)),
                wanted: "the numbers of this log are written with the other mark, so leave the entry out",
            });
        }
        return say(decimal, true, "the build sheet says so", evidence);
    }
    let commas = comma > 0;
    let (mut lone_points, mut either) = (0, 0);
    for votes in &votes {
        match votes.groups(grid) {
            Some(b'.') => comma += votes.point3,
            Some(_) => point += votes.comma3,
            // Where the rest is surely written with commas, whole numbers among `1.234` say that this is one, too.
            None if commas && votes.point == 0 && votes.plain > 0 => {}
            None => {
                lone_points += votes.point3;
                either += votes.comma3;
            }
        }
    }
    let sure = point + comma;
    point += lone_points;
    if point > 0 || comma > 0 {
        let decimal = if comma > point { b',' } else { b'.' };
        let why = if point.min(comma) > 0 {
            "more cells looked at are written so than with the other; `decimal` under `[log]` in the build sheet forces it"
        } else if sure == 0 && grid.shape.delimiter != b',' {
            "cells looked at have one point, three digits behind it; if it parts thousands, put `decimal = \",\"` under `[log]` in the build sheet"
        } else {
            "cells looked at are written so"
        };
        return say(decimal, point.max(comma) > 1, why, evidence);
    }
    if grid.shape.delimiter == b',' {
        return say(
            b'.',
            false,
            "no cell looked at shows one, and commas part the fields",
            evidence,
        );
    }
    if either > 0 {
        return say(
            b',',
            false,
            "cells looked at have one comma, three digits behind it; if it parts thousands, put `decimal = \".\"` under `[log]` in the build sheet",
            evidence,
        );
    }
    let largest = votes.iter().map(|votes| votes.largest);
    let largest = largest.fold(0.0, f64::max);
    let rest = source.head().get(from..).unwrap_or_default();
    let Some((mark, groups)) = later_marks(rest) else {
        return say(b'.', false, "no number has a fraction", evidence);
    };
    if groups && (100.0..1000.0).contains(&largest) {
        let other = if mark == b'.' { b',' } else { b'.' };
        let why = "the other one stands before three digits only, in numbers past a thousand, so it parts thousands";
        return say(other, true, why, evidence);
    }
    let why = "the first mark between digits is one";
    say(mark, false, why, evidence)
}

/// The first mark between digits in the rows behind those looked at, and whether it parts thousands as far as all of them
/// show: one to three digits before it, just three behind it.
fn later_marks(rest: &[u8]) -> Option<(u8, bool)> {
    let digits =
        |text: &mut dyn Iterator<Item = &u8>| text.take_while(|c| c.is_ascii_digit()).count();
    let mut found: Option<(u8, bool)> = None;
    for at in memchr::memchr2_iter(b'.', b',', rest).take(LATER_MARKS) {
        let (before, behind) = (&rest[..at], &rest[at + 1..]);
        let (leading, following) = (digits(&mut before.iter().rev()), digits(&mut behind.iter()));
        if leading == 0 || following == 0 {
            continue;
        }
        let group = (1..=3).contains(&leading)
            && following == 3
            && rest[at - leading] != b'0'
            && !matches!(behind.get(3), Some(b'.' | b','));
        match &mut found {
            None => found = Some((rest[at], group)),
            Some((mark, groups)) => *groups &= group && *mark == rest[at],
        }
    }
    found
}

/// Marks that are looked at behind the head.
const LATER_MARKS: usize = 1000;

/// How often the numbers of a column speak for each mark: twice as much where there is no doubt.
#[derive(Clone, Debug, Default, PartialEq)]
struct Votes {
    point: usize,
    comma: usize,
    /// Cells with one mark and three digits behind it, which may part thousands.
    point3: usize,
    comma3: usize,
    /// The first of them.
    shown: Vec<u8>,
    /// Cells without any mark, and the largest of them.
    plain: usize,
    largest: f64,
}

impl Votes {
    fn add(&mut self, text: &[u8]) {
        let text = number_and_unit(text).map_or(text, |(number, _)| number);
        let last = |mark: u8| memchr::memrchr(mark, text);
        let (mark, both) = match (last(b'.'), last(b',')) {
            (None, None) => {
                let value = number(text, Marks::POINT).map_or(0.0, f64::abs);
                self.plain += 1;
                self.largest = self.largest.max(value);
                return;
            }
            (Some(p), Some(c)) => (if p > c { b'.' } else { b',' }, true),
            (Some(_), None) => (b'.', false),
            (None, Some(_)) => (b',', false),
        };
        let (own, other) = match mark {
            b'.' => (Marks::POINT, Marks::COMMA),
            _ => (Marks::COMMA, Marks::POINT),
        };
        // Three digits behind a lone mark may be a group of thousands, and several groups can be nothing else.
        let grouped = !both && number(text, other).is_some();
        let fraction = number(text, own).is_some();
        match (grouped, fraction) {
            (true, true) => {
                if self.point3 + self.comma3 == 0 {
                    self.shown = text.to_vec();
                }
                *(if mark == b'.' {
                    &mut self.point3
                } else {
                    &mut self.comma3
                }) += 1;
            }
            (true, false) => self.vote(other.decimal),
            (false, _) => self.vote(mark),
        }
    }

    fn vote(&mut self, decimal: u8) {
        *(if decimal == b'.' {
            &mut self.point
        } else {
            &mut self.comma
        }) += 2;
    }

    /// The mark that surely parts thousands, whatever the other columns show: no whole number among the others has four
    /// digits, some have three, and no mark is followed by anything but three.
    fn groups(&self, grid: &Grid) -> Option<u8> {
        let hundreds = (100.0..1000.0).contains(&self.largest);
        if self.point + self.comma > 0 || !hundreds {
            return None;
        }
        match (self.point3, self.comma3) {
            (2.., 0) if grid.shape.delimiter != b',' => Some(b'.'),
            (0, 2..) => Some(b','),
            _ => None,
        }
    }
}

/// The votes of each column.
fn votes(grid: &Grid) -> Vec<Votes> {
    let mut votes = vec![Votes::default(); grid.width];
    for row in grid.usual_rows() {
        let cells = row.fields.iter().zip(&row.classes);
        for (votes, (field, class)) in votes.iter_mut().zip(cells) {
            if *class == Class::Number {
                votes.add(bare(field));
            }
        }
    }
    votes
}

/// Columns that are all written with the other mark, as a clock in a log with decimal commas often is. Of those whose
/// cells may also be parted thousands, it says so. `forced`: whether the build sheet says what the usual mark is.
pub(super) fn odd_columns(
    grid: &Grid,
    usual: Marks,
    headings: &[Heading],
    forced: bool,
    evidence: &mut Vec<String>,
) -> Vec<(usize, Marks)> {
    let mut odd = Vec::new();
    for (votes, heading) in votes(grid).into_iter().zip(headings) {
        let (decimal, pro, either, contra) = match usual.decimal {
            b'.' => (b',', votes.comma, votes.comma3, votes.point + votes.point3),
            _ => (b'.', votes.point, votes.point3, votes.comma + votes.comma3),
        };
        let (number, mark) = (heading.column + 1, char::from(decimal));
        // Two cells without doubt, and none that speaks for the usual mark.
        let sure = pro >= 4 && contra == 0 && (decimal == b'.' || either == 0);
        let unsure = pro == 0 && contra == 0 && either >= 2;
        // Every cell of a clock in seconds has its thousandths; where some have none, they are thousands.
        let clock = unsure && !forced && votes.plain == 0 && is_clock_in_seconds(heading);
        if sure || clock {
            evidence.push(format!(
                "Column {number} alone is written with `{mark}` as its decimal mark."
            ));
            odd.push((heading.column, Marks::new(decimal, true)));
        } else if unsure && usual.certain {
            let other = match votes.groups(grid) {
                None => format!(
                    "; `decimal = \"{mark}\"` under `[log]` in the build sheet reads them otherwise"
                ),
                Some(_) => String::new(),
            };
            let shown = String::from_utf8_lossy(&votes.shown);
            let whole: String = shown.chars().filter(|c| *c != mark).collect();
            evidence.push(format!(
                "Column {number} `{}` holds numbers such as `{shown}`, which are read as {whole}: its `{mark}` is no decimal mark here, so it parts thousands{other}.",
                heading.name
            ));
        }
    }
    odd
}

/// Whether a heading is that of a clock, and of none that counts in whole thousandths or less.
fn is_clock_in_seconds(heading: &Heading) -> bool {
    let fine = [
        ClockStyle::Milliseconds,
        ClockStyle::Microseconds,
        ClockStyle::Nanoseconds,
    ];
    !matches!(clock_name(&heading.name), ClockName::No | ClockName::Other)
        && unit_of(heading).is_none_or(|unit| !fine.contains(&unit))
}
