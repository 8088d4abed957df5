//! Headings out of the header rows: each column its own name, none lost because another has it too.

use std::collections::{BTreeMap, BTreeSet};

use super::grid::{Class, class};
use crate::load::dialect::Heading;
use crate::load::words::{channel_number, name_and_unit, unit_text};

/// Columns that a sentence lists by their number.
const LISTED: usize = 8;

/// The texts of the header rows, column by column.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HeaderCells<'a> {
    pub names: &'a [String],
    pub units: &'a [String],
    pub groups: &'a [String],
    pub numbers: &'a [String],
}

/// Makes `count` headings, and says what was done where a name was missing, bare or taken.
pub(super) fn headings(
    cells: HeaderCells,
    count: usize,
    evidence: &mut Vec<String>,
) -> Vec<Heading> {
    let mut all: Vec<Heading> = (0..count).map(|column| plain(cells, column)).collect();
    number(&mut all, cells.numbers, evidence);
    group(&mut all, cells.groups, evidence);
    let unnamed: Vec<usize> = all
        .iter()
        .filter(|h| h.name.is_empty())
        .map(|h| h.column)
        .collect();
    for heading in all.iter_mut().filter(|h| h.name.is_empty()) {
        heading.name = format!("column {}", heading.column + 1);
    }
    if !unnamed.is_empty() {
        let (columns, have, are) = listed(&unnamed);
        let last = unnamed.last().map_or(0, |last| last + 1);
        evidence.push(format!(
            "{columns} {have} no name; they {are} called by their place, as `column {last}`."
        ));
    }
    tell_apart(&mut all, evidence);
    all
}

/// One heading from its own cells.
fn plain(cells: HeaderCells, column: usize) -> Heading {
    let raw = cells.names.get(column).cloned().unwrap_or_default();
    let (name, mut unit) = name_and_unit(&raw);
    if unit.is_none() {
        unit = cells.units.get(column).and_then(|cell| unit_text(cell));
    }
    Heading {
        column,
        raw,
        // Line ends and double blanks inside a quoted name part its words like any blank.
        name: name.split_whitespace().collect::<Vec<_>>().join(" "),
        unit,
        nth: 1,
    }
}

/// Columns whose name says nothing by itself: there is none, it is a number, or others have it too.
fn bare(all: &[Heading]) -> Vec<bool> {
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    for heading in all {
        *seen.entry(heading.name.as_str()).or_default() += 1;
    }
    let is_number = |name: &str| class(name.as_bytes()) == Class::Number;
    all.iter()
        .map(|h| h.name.is_empty() || is_number(&h.name) || seen[h.name.as_str()] > 1)
        .collect()
}

/// Adds the channel numbers to names that several columns share: `EGT` over `1, 2, 3`.
fn number(all: &mut [Heading], numbers: &[String], evidence: &mut Vec<String>) {
    let number = |at: usize| numbers.get(at).and_then(|cell| channel_number(cell));
    let bare = bare(all);
    // The first of several columns under one title is the one that carries it: `EGT`, then columns without a name.
    let leads = |at: usize| {
        let next_unnamed = all.get(at + 1).is_some_and(|next| next.name.is_empty());
        next_unnamed && number(at).is_some() && number(at + 1) == number(at).map(|n| n + 1)
    };
    let counted: Vec<bool> = (0..all.len()).map(|at| bare[at] || leads(at)).collect();
    let mut title = String::new();
    let mut done = Vec::new();
    for heading in all.iter_mut() {
        if !heading.name.is_empty() {
            title.clone_from(&heading.name);
        }
        if let (Some(number), false) = (number(heading.column), title.is_empty())
            && counted[heading.column]
        {
            heading.name = format!("{title} {number}");
            done.push(heading.column);
        }
    }
    if !done.is_empty() {
        let (columns, ..) = listed(&done);
        evidence.push(format!(
            "{columns}: the number is taken from the row of channel numbers."
        ));
    }
}

/// Puts the title of a group before names that say nothing alone: `EGT` over `1, 2, 3`, `Front` over `EGT`.
fn group(all: &mut [Heading], groups: &[String], evidence: &mut Vec<String>) {
    let bare = bare(all);
    let mut title = "";
    let mut done = Vec::new();
    for (heading, bare) in all.iter_mut().zip(bare) {
        match groups.get(heading.column).map(|cell| cell.trim()) {
            Some(cell) if !cell.is_empty() => title = cell,
            _ => {}
        }
        if bare && !title.is_empty() {
            heading.name = format!("{title} {}", heading.name).trim().to_owned();
            done.push(heading.column);
        }
    }
    if !done.is_empty() {
        let (columns, ..) = listed(&done);
        evidence.push(format!(
            "{columns}: the title above goes before the name, which says too little alone."
        ));
    }
}

/// Gives columns of one name a count behind it, so that each can be asked for.
pub(crate) fn tell_apart(all: &mut [Heading], evidence: &mut Vec<String>) {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let names: BTreeSet<String> = all.iter().map(|h| h.name.clone()).collect();
    let mut twins: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for heading in all.iter_mut() {
        if taken.insert(heading.name.clone()) {
            continue;
        }
        twins
            .entry(heading.name.clone())
            .or_default()
            .push(heading.column);
        let counted = |nth: usize| format!("{} ({nth})", heading.name);
        let mut nth = twins[&heading.name].len() + 1;
        while names.contains(&counted(nth)) || taken.contains(&counted(nth)) {
            nth += 1;
        }
        heading.name = counted(nth);
        heading.nth = nth;
        taken.insert(heading.name.clone());
    }
    for (name, mut columns) in twins {
        let first = all.iter().find(|h| h.name == name).map(|h| h.column);
        columns.splice(0..0, first);
        let (columns, ..) = listed(&columns);
        evidence.push(format!(
            "{columns} are all called `{name}`; the later ones are told apart as `{name} (2)` and so on, and what each of them is remains open."
        ));
    }
}

/// `Columns 3, 4 and 9`, with the verbs that fit.
fn listed(columns: &[usize]) -> (String, &'static str, &'static str) {
    let numbers: Vec<String> = columns
        .iter()
        .take(LISTED)
        .map(|c| (c + 1).to_string())
        .collect();
    let more = columns.len().saturating_sub(LISTED);
    match (&numbers[..], more) {
        ([one], _) => (format!("Column {one}"), "has", "is"),
        ([head @ .., last], 0) => (
            format!("Columns {} and {last}", head.join(", ")),
            "have",
            "are",
        ),
        (all, more) => (
            format!("Columns {} and {more} more", all.join(", ")),
            "have",
            "are",
        ),
    }
}
