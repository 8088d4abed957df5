//! The channel dictionary: which column of a stranger's log is which standard channel.
//!
//! The words are data (`dictionary.toml`); this file holds the table and the standard names. [`map`] gives columns
//! their names; how their numbers are to be read is decided afterwards, from the numbers.

mod cut;
mod heading;
mod mapping;
mod matching;
mod said;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use serde::Deserialize;

use crate::units::Unit;
pub use mapping::{HeadingIn, Mapping, Match, WrongForced, map};
pub use said::{Reference, UnitWord, unit_word};

/// How a channel behaves over time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A reading.
    Level,
    /// Counts up; only its positive differences mean something.
    Counter,
    /// Off or on, 0 or 1.
    State,
}

/// One standard channel, or one family of numbered channels. The table's head says what each key is for.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Standard name; for a family without its number (`egt` for `egt_3`).
    pub name: String,
    /// What it measures, in plain words (`gauge pressure`).
    pub quantity: String,
    /// Symbol of the standard unit; empty for a bare number.
    pub unit: String,
    /// What is physically plausible, in the standard unit.
    pub range: [f64; 2],
    /// Reading, counter or switch.
    pub kind: Kind,
    /// One line for the person who asks what was understood of a file.
    pub about: String,
    /// One name per number: `egt_1`, `egt_2`.
    #[serde(default)]
    pub family: bool,
    /// A family numbered by letters: `knock_sensor_a`.
    #[serde(default)]
    pub lettered: bool,
    /// The numbers of this family may be cylinders.
    #[serde(default)]
    pub cylinders: bool,
    /// A sensor that a sagging or noisy supply can bend.
    #[serde(default)]
    pub analogue: bool,
    /// Highest number of a family.
    #[serde(default)]
    pub positions: Option<u32>,
    /// The unit that a heading without one is safely read in; `None` where the reader should be told.
    #[serde(default)]
    pub unit_if_absent: Option<String>,
    /// Where the high values (95 of 100 below) of a warm run lie, in the standard unit.
    #[serde(default)]
    pub usual: Option<[f64; 2]>,
    /// Units that would explain values outside of `usual`.
    #[serde(default)]
    pub may_be: Vec<String>,
    /// Channels that should move when this one does.
    #[serde(default)]
    pub moves_with: Vec<String>,
    /// The words that loggers use, best first.
    pub words: Vec<String>,
    #[serde(default)]
    needs_number: bool,
    #[serde(default)]
    no_number: bool,
    #[serde(default)]
    second_of: Option<String>,
    #[serde(default)]
    weak: Vec<String>,
    #[serde(default)]
    weak_note: Option<String>,
    #[serde(default)]
    words_with_unit: Vec<String>,
    #[serde(default)]
    afr_words: Vec<String>,
    #[serde(default)]
    also_units: Vec<String>,
    #[serde(default)]
    never: Vec<String>,
    #[serde(default)]
    places: BTreeMap<String, u32>,
}

impl Entry {
    /// The standard unit.
    pub fn unit(&self) -> Unit {
        Unit::standard(&self.unit)
    }

    /// The standard name of a member: `egt_3`, `knock_sensor_a`; the plain name where this is no family.
    pub fn member(&self, position: u32) -> String {
        let letter = u8::try_from(position)
            .ok()
            .filter(|p| (1..=26).contains(p))
            .map(|p| char::from(b'a' + p - 1));
        match (self.family, self.lettered, letter) {
            (false, ..) => self.name.clone(),
            (true, true, Some(letter)) => format!("{}_{letter}", self.name),
            _ => format!("{}_{position}", self.name),
        }
    }

    fn is_pressure(&self) -> bool {
        self.unit() == Unit::standard("kPa")
    }

    /// The unit as a word in a sentence.
    pub(super) fn unit_words(&self) -> &str {
        if self.unit.is_empty() {
            "a bare number"
        } else {
            &self.unit
        }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fillers {
    any: BTreeSet<String>,
    analogue: BTreeSet<String>,
    family: BTreeSet<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Blockers {
    words: BTreeSet<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    same: BTreeMap<String, Vec<String>>,
    fillers: Fillers,
    blockers: Blockers,
    unit_spellings: BTreeMap<String, String>,
    channel: Vec<Entry>,
}

const SOURCE: &str = include_str!("dictionary.toml");

/// The whole table. A slip in our own file would leave it empty; the tests read it.
fn table() -> &'static Table {
    static TABLE: OnceLock<Table> = OnceLock::new();
    TABLE.get_or_init(|| toml::from_str(SOURCE).unwrap_or_default())
}

/// All standard channels, in the order of the table; one entry for each family.
pub fn entries() -> &'static [Entry] {
    &table().channel
}

/// The entry of a standard name; `egt_3` and `egt` give the family.
pub fn entry(name: &str) -> Option<&'static Entry> {
    let exact = entries().iter().find(|e| e.name == name);
    exact.or_else(|| member(name).map(|(entry, _)| entry))
}

/// Entry and position of a full standard name. `None` for a family without its number, or a name that is not ours.
fn member(name: &str) -> Option<(&'static Entry, Option<u32>)> {
    if let Some(plain) = entries().iter().find(|e| e.name == name) {
        return (!plain.family).then_some((plain, None));
    }
    let (family, place) = name.rsplit_once('_')?;
    let entry = entries().iter().find(|e| e.family && e.name == family)?;
    let position = if entry.lettered {
        let [letter @ b'a'..=b'z'] = place.as_bytes() else {
            return None;
        };
        u32::from(letter - b'a') + 1
    } else {
        place.parse().ok()?
    };
    let known = entry.member(position) == name && position >= 1;
    (known && entry.positions.is_none_or(|most| position <= most))
        .then_some((entry, Some(position)))
}
