//! All headings of a log together: each gets at most one name, each name goes to at most one column.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::heading::Heading;
use super::matching::{Candidate, Class, Outcome, read};
use super::said::{Fit, Reference, Said};
use super::{Entry, member};
use crate::units::Written;

/// A column heading as the loader found it.
#[derive(Clone, Copy, Debug)]
pub struct HeadingIn<'a> {
    /// The whole heading.
    pub raw: &'a str,
    /// The heading without its unit.
    pub name: &'a str,
    /// Its unit, from brackets or a row of units.
    pub unit: Option<&'a str>,
}

/// What a column was understood to be.
#[derive(Clone, Debug)]
pub struct Match {
    /// Standard name, with its number: `egt_3`.
    pub name: String,
    /// Its entry of the table.
    pub entry: &'static Entry,
    /// Number within the family (letters count from a = 1).
    pub position: Option<u32>,
    /// The heading itself says that the number is a cylinder.
    pub cylinder_said: bool,
    /// The way from the column's unit to the standard one. `None`: read in the standard unit.
    pub written: Option<Written>,
    /// The column holds an air-fuel ratio: still to be divided by the logger's scale (the sheet's
    /// `fuel.lambda_scale_afr`, else 14.7), never by the fuel's own.
    pub afr: bool,
    /// What the heading says a pressure is measured from; `None` where it does not say.
    pub reference: Option<Reference>,
    /// Something about unit or number that the reader should know.
    pub unit_note: Option<String>,
    /// How well the heading answered to the name; only for comparing.
    pub score: u32,
    /// Named by the build sheet, not guessed.
    pub forced: bool,
}

/// An entry of the sheet's `[channels]` that could not be followed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrongForced {
    /// Standard name, as the sheet has it.
    pub name: String,
    /// Heading, as the sheet has it.
    pub header: String,
    /// What is wrong, and what to do.
    pub why: String,
}

/// What was understood of a log's headings. Numbers are places in the list that came in.
#[derive(Clone, Debug, Default)]
pub struct Mapping {
    /// Columns with a standard name, in column order.
    pub found: Vec<(usize, Match)>,
    /// Columns without one, with a word of why where there is something to say.
    pub unmapped: Vec<(usize, Option<String>)>,
    /// Entries of the sheet that could not be followed.
    pub wrong_forced: Vec<WrongForced>,
}

/// Gives columns their standard names. `forced` holds the sheet's `[channels]`: standard name, column heading.
pub fn map(headings: &[HeadingIn], forced: &[(String, String)]) -> Mapping {
    let mut out = Mapping::default();
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    let mut done: BTreeSet<usize> = BTreeSet::new();
    for (name, header) in forced {
        match force(headings, name, header, &taken, &done) {
            Ok((at, found)) => {
                taken.insert(name.clone(), at);
                done.insert(at);
                out.found.push((at, found));
            }
            Err(why) => out.wrong_forced.push(WrongForced {
                name: name.clone(),
                header: header.clone(),
                why,
            }),
        }
    }
    let read: Vec<(usize, Outcome)> = headings
        .par_iter()
        .enumerate()
        .filter(|(at, _)| !done.contains(at))
        .map(|(at, heading)| (at, read(heading.name, heading.unit)))
        .collect();
    let mut pool = Vec::new();
    for (at, outcome) in read {
        match outcome {
            Outcome::Found(candidate) => pool.push((at, *candidate)),
            Outcome::Nothing(why) => out.unmapped.push((at, why)),
        }
    }
    let counted_from_zero = families(&pool, |c| c.position == Some(0));
    let numbered = families(&pool, |c| c.numbered);
    let forced_families: BTreeSet<&str> =
        (out.found.iter().map(|(_, m)| m.entry.name.as_str())).collect();
    let repeats = repeated_in_banks(&pool);
    pool.sort_by_key(|(at, c)| (Reverse(c.score()), *at));
    for (at, candidate) in pool {
        let family = candidate.entry.name.as_str();
        let one_of_many = numbered.contains(family) || forced_families.contains(family);
        let name = candidate.name();
        let why = if candidate.position == Some(0) {
            Some(format!(
                "`{family}` is counted from 0 in this log, and a standard name from 1: name the whole family under [channels] in the build sheet"
            ))
        } else if candidate.entry.family && !candidate.numbered && one_of_many {
            Some(format!(
                "like `{family}`, but without a number beside numbered ones"
            ))
        } else {
            taken.get(&name).map(|&first| {
                let column = headings[first].raw.trim();
                format!("also looks like `{name}`, already taken by column `{column}`")
            })
        };
        if why.is_some() {
            out.unmapped.push((at, why));
            continue;
        }
        let mut found = guessed(candidate, name.clone());
        let family = found.entry.name.as_str();
        if counted_from_zero.contains(family) || repeats.contains(family) {
            found.cylinder_said = false;
            let doubt = "the log counts this family from 0, or anew in each bank: its numbers are positions, not cylinders";
            note(&mut found, doubt);
        }
        taken.insert(name, at);
        out.found.push((at, found));
    }
    out.found.sort_by_key(|(at, _)| *at);
    out.unmapped.sort_by_key(|(at, _)| *at);
    out
}

fn families(
    pool: &[(usize, Candidate)],
    is: impl Fn(&Candidate) -> bool,
) -> BTreeSet<&'static str> {
    let family = pool.iter().filter(|(_, c)| c.entry.family && is(c));
    family.map(|(_, c)| c.entry.name.as_str()).collect()
}

/// Families whose numbers begin again in the second bank: number 1 is then no longer one cylinder.
fn repeated_in_banks(pool: &[(usize, Candidate)]) -> BTreeSet<&'static str> {
    let mut seen: BTreeMap<String, Option<u32>> = BTreeMap::new();
    let mut out = BTreeSet::new();
    for (_, candidate) in pool.iter().filter(|(_, c)| c.entry.cylinders) {
        let bank = seen.entry(candidate.name()).or_insert(candidate.bank);
        if *bank != candidate.bank {
            out.insert(candidate.entry.name.as_str());
        }
    }
    out
}

fn guessed(candidate: Candidate, name: String) -> Match {
    let mut found = Match {
        name,
        entry: candidate.entry,
        position: candidate.position,
        cylinder_said: candidate.cylinder_said,
        written: candidate.written,
        afr: candidate.afr,
        reference: candidate.reference,
        unit_note: candidate.note.clone(),
        score: candidate.score(),
        forced: false,
    };
    if found.entry.family && !candidate.numbered {
        note(&mut found, "no number in the heading: taken as the first");
    }
    if candidate.class == Class::Weak
        && let Some(text) = &found.entry.weak_note
    {
        note(&mut found, text);
    }
    reference_note(&mut found);
    found
}

/// A pressure on the wrong footing is told, not moved: only the recording knows the air pressure.
fn reference_note(found: &mut Match) {
    let absolute = found.entry.quantity == "absolute pressure";
    match found.reference {
        Some(Reference::Gauge) if absolute => {
            note(
                found,
                "the heading says that it is over the air, not absolute",
            );
        }
        Some(Reference::Absolute) if !absolute && found.entry.quantity == "gauge pressure" => {
            note(
                found,
                "the heading says absolute: the air pressure is still in it",
            );
        }
        _ => {}
    }
}

fn note(found: &mut Match, text: &str) {
    found.unit_note = Some(match found.unit_note.take() {
        Some(before) => format!("{before}; {text}"),
        None => text.to_string(),
    });
}

/// Follows one entry of the sheet. The sheet's word stands even where the heading's unit does not suit; the note says so.
fn force(
    headings: &[HeadingIn],
    name: &str,
    header: &str,
    taken: &BTreeMap<String, usize>,
    done: &BTreeSet<usize>,
) -> Result<(usize, Match), String> {
    let (entry, position) = member(name).ok_or_else(|| {
        format!("`{name}` is no standard name (a family needs its number: `egt_1`)")
    })?;
    if taken.contains_key(name) {
        return Err(format!("`{name}` stands twice under [channels]"));
    }
    let at = column(headings, header)?;
    if done.contains(&at) {
        return Err(format!(
            "column `{}` already has a name under [channels]",
            headings[at].raw.trim()
        ));
    }
    let heading = &headings[at];
    let words = Heading::read(heading.name);
    let ratio = ["air", "fuel", "ratio"].map(String::from);
    let afr = entry.unit == "lambda"
        && (words.words.iter().any(|w| w == "afr") || words.without(&ratio).is_some());
    let said = Said::read(heading.unit);
    let (written, afr, unit_note) = match said.fit(entry, afr) {
        Fit::Yes { written, afr, note } => (written, afr, note),
        Fit::No(why) => {
            let unit = heading.unit.unwrap_or("").trim();
            let text = format!(
                "unit `{unit}` of the heading does not suit: read as {} because the sheet names the column ({why})",
                entry.unit_words()
            );
            (None, false, Some(text))
        }
    };
    let reference = match said {
        Said::Known(_, reference) => reference,
        _ => None,
    };
    let mut found = Match {
        name: name.to_string(),
        entry,
        position,
        cylinder_said: entry.cylinders && position.is_some() && words.cylinder == position,
        written,
        afr,
        reference,
        unit_note,
        score: 1000,
        forced: true,
    };
    reference_note(&mut found);
    Ok((at, found))
}

/// Finds the column that the sheet names: letter by letter first, then without regard to case and punctuation.
fn column(headings: &[HeadingIn], header: &str) -> Result<usize, String> {
    let wanted = header.trim();
    let exact = |text: &str| text.trim() == wanted;
    let words = Heading::read(wanted);
    let loose = |text: &str| !wanted.is_empty() && Heading::read(text) == words;
    let tries: [&dyn Fn(&HeadingIn) -> bool; 4] = [
        &|h| exact(h.raw),
        &|h| exact(h.name),
        &|h| loose(h.raw),
        &|h| loose(h.name),
    ];
    for fits in tries {
        let hits: Vec<usize> = (0..headings.len())
            .filter(|at| fits(&headings[*at]))
            .collect();
        match hits[..] {
            [] => {}
            [one] => return Ok(one),
            _ => {
                return Err(format!(
                    "{} columns answer to `{wanted}`: write the heading exactly as in the file",
                    hits.len()
                ));
            }
        }
    }
    Err(format!("no column of this log is headed `{wanted}`"))
}
