//! One heading against the words of the table: every word must be explained.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use super::cut::readings;
use super::heading::{Heading, canonical};
use super::said::{Fit, Reference, Said};
use super::{Entry, entries, table};
use crate::units::Written;

/// Which list of the table a phrase comes from, weakest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Class {
    Weak,
    WithUnit,
    Words,
    AirFuel,
}

struct Phrase {
    entry: &'static Entry,
    class: Class,
    rank: u32,
    words: Vec<String>,
    /// The number that the heading must bear: the second of a pair, or one written in the phrase.
    index: Option<u32>,
}

/// One reading of a heading.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub entry: &'static Entry,
    pub class: Class,
    rank: u32,
    /// Words of the phrase: more of them, more certain.
    pub length: usize,
    fillers: u32,
    pub position: Option<u32>,
    /// A number was there, not assumed.
    pub numbered: bool,
    pub cylinder_said: bool,
    pub bank: Option<u32>,
    pub reference: Option<Reference>,
    pub written: Option<Written>,
    pub unit_said: bool,
    pub afr: bool,
    pub note: Option<String>,
}

impl Candidate {
    pub(super) fn name(&self) -> String {
        self.entry.member(self.position.unwrap_or(1))
    }

    /// How well this column answers to the name, against other columns that want it.
    pub(super) fn score(&self) -> u32 {
        let class = match self.class {
            Class::Words => 300,
            Class::AirFuel => 250,
            Class::WithUnit => 200,
            Class::Weak => 100,
        };
        let assumed = self.entry.family && !self.numbered;
        (class + 50 + u32::from(self.unit_said) * 5)
            .saturating_sub(self.rank.min(40) + 10 * self.fillers + 20 * u32::from(assumed))
    }

    /// For choosing between entries that one heading could mean.
    fn certainty(&self) -> (usize, i64, Class) {
        (self.length, -i64::from(self.fillers), self.class)
    }
}

fn phrases() -> &'static [Phrase] {
    static PHRASES: OnceLock<Vec<Phrase>> = OnceLock::new();
    PHRASES.get_or_init(|| {
        let mut all = Vec::new();
        for entry in entries() {
            add(&mut all, entry, entry, None);
            let base = entry.second_of.as_deref();
            if let Some(base) = entries().iter().find(|e| Some(e.name.as_str()) == base) {
                add(&mut all, entry, base, Some(2));
            }
        }
        all
    })
}

fn add(all: &mut Vec<Phrase>, entry: &'static Entry, from: &'static Entry, index: Option<u32>) {
    let lists = [
        (Class::Words, &from.words),
        (Class::Weak, &from.weak),
        (Class::WithUnit, &from.words_with_unit),
        (Class::AirFuel, &from.afr_words),
    ];
    for (class, list) in lists {
        for (rank, text) in (0_u32..).zip(list) {
            let heading = Heading::read(text);
            let own = heading.numbers.first().copied().or(heading.bank);
            // "lambda 1" in the list of the first of a pair says nothing of the second.
            if index.is_some() && own.is_some() {
                continue;
            }
            all.push(Phrase {
                entry,
                class,
                rank,
                words: heading.words,
                index: index.or(own),
            });
        }
    }
}

/// What a heading came to.
pub(super) enum Outcome {
    Found(Box<Candidate>),
    /// Not mapped, with a word of why where there is something to say.
    Nothing(Option<String>),
}

/// Finds what a heading means, its unit included.
pub(super) fn read(name: &str, unit: Option<&str>) -> Outcome {
    let said = Said::read(unit);
    let mut whys = Vec::new();
    for (text, said) in readings(name, &said) {
        match best(&text, &said) {
            Outcome::Found(found) => return Outcome::Found(found),
            Outcome::Nothing(why) => whys.extend(why),
        }
    }
    Outcome::Nothing(whys.into_iter().next())
}

fn best(text: &str, said: &Said) -> Outcome {
    let heading = Heading::read(text);
    let mut found: Vec<Candidate> = Vec::new();
    let mut why: Vec<(usize, String)> = Vec::new();
    for phrase in phrases() {
        let Some(left) = heading.without(&phrase.words) else {
            continue;
        };
        if phrase.class == Class::WithUnit && !said.names(phrase.entry) {
            continue;
        }
        let length = phrase.words.len();
        match place(&heading, phrase, &left) {
            Ok(mut candidate) => match said.fit(phrase.entry, phrase.class == Class::AirFuel) {
                Fit::Yes { written, afr, note } => {
                    if let Said::Known(_, reference @ Some(_)) = said {
                        candidate.reference = *reference;
                    }
                    candidate.unit_said = written.is_some() || (afr && *said == Said::AirFuel);
                    candidate.written = written;
                    candidate.afr = afr;
                    candidate.note = note;
                    found.push(candidate);
                }
                Fit::No(reason) => why.push((length, reason)),
            },
            Err(Some(reason)) => why.push((length, reason)),
            Err(None) => {}
        }
    }
    found.sort_by_key(|c| std::cmp::Reverse((c.certainty(), c.score())));
    why.sort_by_key(|(length, _)| std::cmp::Reverse(*length));
    let why = why.into_iter().next().map(|(_, reason)| reason);
    let Some(first) = found.first() else {
        return Outcome::Nothing(why);
    };
    let rival = found
        .iter()
        .find(|c| c.certainty() == first.certainty() && c.entry.name != first.entry.name);
    match rival {
        Some(rival) => Outcome::Nothing(Some(format!(
            "could be `{}` or `{}`: name it under [channels] in the build sheet",
            first.name(),
            rival.name()
        ))),
        None => Outcome::Found(Box::new(first.clone())),
    }
}

/// Explains what the phrase left over of the heading, or says why it cannot.
fn place(heading: &Heading, phrase: &Phrase, left: &[String]) -> Result<Candidate, Option<String>> {
    let entry = phrase.entry;
    let fillers = &table().fillers;
    let mut left: Vec<&str> = left.iter().map(String::as_str).collect();
    let corner = corner(entry, &mut left);
    let (mut count, mut letter, mut cylinder_word, mut reference) = (0, None, false, None);
    let mut strange = BTreeSet::new();
    for word in left {
        let paired = entry.lettered || phrase.index == Some(2) || has_second(entry);
        let filler = fillers.any.contains(word)
            || (entry.analogue && fillers.analogue.contains(word))
            || (entry.family && fillers.family.contains(word));
        match word {
            _ if entry.never.iter().any(|n| n == word) => return Err(None),
            "absolute" if entry.is_pressure() => reference = Some(Reference::Absolute),
            "gauge" | "relative" if entry.is_pressure() => reference = Some(Reference::Gauge),
            "cyl" if entry.cylinders => cylinder_word = true,
            "2nd" if letter.is_none() && paired => letter = Some(2),
            _ if letter.is_none() && paired && letter_number(word).is_some() => {
                letter = letter_number(word);
            }
            _ if filler => count += 1,
            _ => {
                strange.insert(word);
            }
        }
    }
    if !strange.is_empty() {
        return Err(too_much(phrase, &strange));
    }
    let numbers: BTreeSet<u32> = [heading.cylinder, letter, corner]
        .into_iter()
        .flatten()
        .chain(heading.numbers.iter().copied())
        .collect();
    let several = || {
        let text = format!(
            "looks like `{}`, but bears more than one number",
            entry.name
        );
        Err(Some(text))
    };
    let bank_only = numbers.is_empty();
    let number = match (numbers.len(), heading.bank) {
        (0, bank) => bank,
        (1, Some(bank)) if !entry.family && !numbers.contains(&bank) => return several(),
        (1, _) => numbers.first().copied(),
        _ => return several(),
    };
    if heading.cylinder.is_some() && !entry.cylinders {
        return Err(Some(format!(
            "looks like `{}` of one cylinder, for which there is no standard name",
            entry.name
        )));
    }
    if heading.sensor.is_some_and(|s| s > 1) {
        return Err(None); // behind the catalyst
    }
    let position = position(entry, phrase, number)?;
    Ok(Candidate {
        entry,
        class: phrase.class,
        rank: phrase.rank,
        length: phrase.words.len(),
        fillers: count,
        position,
        numbered: number.is_some(),
        cylinder_said: !bank_only && (heading.cylinder.is_some() || cylinder_word),
        bank: heading.bank,
        reference,
        written: None,
        unit_said: false,
        afr: false,
        note: None,
    })
}

fn position(
    entry: &Entry,
    phrase: &Phrase,
    number: Option<u32>,
) -> Result<Option<u32>, Option<String>> {
    if !entry.family {
        return match (phrase.index, number) {
            (Some(wanted), Some(got)) if wanted == got => Ok(None),
            (Some(_), _) => Err(None),
            (None, None) => Ok(None),
            (None, Some(1)) if !entry.no_number => Ok(None),
            (None, Some(2)) if has_second(entry) || entry.second_of.is_some() => Err(None),
            (None, Some(got)) if !entry.no_number => Err(Some(format!(
                "looks like `{}` number {got}, for which there is no standard name",
                entry.name
            ))),
            _ => Err(None),
        };
    }
    match number {
        Some(0) => Ok(Some(0)),
        Some(n) if entry.positions.is_none_or(|most| n <= most) => Ok(Some(n)),
        Some(_) => Err(None),
        None if entry.needs_number => Err(Some(format!(
            "looks like `{}`, but bears no number: name it under [channels] in the build sheet",
            entry.name
        ))),
        None => Ok(Some(1)),
    }
}

/// The corner of the car that a wheel's heading names.
fn corner(entry: &Entry, left: &mut Vec<&str>) -> Option<u32> {
    let mut found = None;
    for (text, &number) in &entry.places {
        let words: Vec<String> = text.split(' ').map(canonical).collect();
        if words.iter().all(|w| left.contains(&w.as_str())) {
            left.retain(|l| !words.iter().any(|w| w == l));
            found = Some(number);
            break;
        }
    }
    found
}

fn letter_number(word: &str) -> Option<u32> {
    match word.as_bytes() {
        [letter @ b'a'..=b'h'] => Some(u32::from(letter - b'a') + 1),
        _ => None,
    }
}

fn has_second(entry: &Entry) -> bool {
    let name = Some(entry.name.as_str());
    entries().iter().any(|e| e.second_of.as_deref() == name)
}

/// A near miss worth telling: all the words of a channel, and one or two more.
fn too_much(phrase: &Phrase, strange: &BTreeSet<&str>) -> Option<String> {
    if phrase.class != Class::Words || strange.len() > phrase.words.len().min(2) {
        return None;
    }
    let name = &phrase.entry.name;
    let list: Vec<String> = strange.iter().map(|w| format!("`{w}`")).collect();
    let list = list.join(" and ");
    let blockers = &table().blockers.words;
    if strange.iter().any(|w| blockers.contains(*w)) {
        return Some(format!("like `{name}`, but {list} makes it another thing"));
    }
    Some(format!(
        "has the words of `{name}`, and {list}: if it is that, name it under [channels] in the build sheet"
    ))
}
