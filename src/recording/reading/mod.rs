//! How the numbers of each column are to be read: in which unit, against which air, as which kind of count.
//!
//! The build sheet's word stands, then the heading's. Where the heading is silent, the numbers may leave only one reading
//! possible: that one is taken, marked as inferred, and put to the person. Where two are possible the standard one is
//! kept, and asked about. Wrong units do not show at rest (zero is zero in psi and in bar), so the high values of the run
//! are judged; what a pressure is measured from shows at rest only.

mod air;
mod air_units;
mod company;
mod counts;
mod footing;
mod scale;
#[cfg(test)]
mod tests;
mod words;

use super::dictionary::{Entry, Kind, Match, Reference};
use super::numbers::Numbers;
use crate::sheet::{FuelSystem, Sheet};
use crate::units::{Unit, Written};

pub(super) use air::Air;
pub(super) use counts::{counted, per_row, sign_question};
pub use words::wrong_words;

/// The scale by which most loggers turn lambda into an air-fuel ratio, whatever the fuel: petrol's customary 14.7
/// (reference values, section 3). The sheet's `fuel.lambda_scale_afr` replaces it.
const CUSTOMARY_AFR: f64 = 14.7;

/// Who says in which unit a column is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnitFrom {
    /// The heading, or the row of units.
    Heading,
    /// The build sheet's `[units]`.
    Sheet,
    /// The numbers: they leave no other reading possible.
    Numbers,
    /// Nobody: read in the standard unit.
    Nobody,
}

/// What still has to be done to a pressure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(super) enum Footing {
    #[default]
    AsRead,
    /// Over the air, and wanted from vacuum.
    AddAir,
    /// From vacuum, and wanted over the air.
    TakeAirOff,
}

/// What a counter counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(super) enum Counts {
    /// As the heading has it: to be seen from the column.
    #[default]
    Unsaid,
    Running,
    EachRow,
}

/// How one column is read.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// Standard name; another than the heading's where the numbers are of another kind.
    pub name: String,
    pub entry: &'static Entry,
    /// The way from the column's numbers to the standard unit.
    pub written: Written,
    /// What they are read in, as the sheet's `[units]` would have it.
    pub unit: String,
    pub from: UnitFrom,
    pub footing: Footing,
    pub counts: Counts,
    /// Why it is read so, where that is more than following the heading.
    pub because: Vec<String>,
    pub questions: Vec<String>,
    /// Why it cannot be used after all.
    pub left_out: Option<String>,
}

/// One column before it is read.
pub(super) struct Unread<'a> {
    pub found: &'a Match,
    pub header: &'a str,
    pub numbers: Numbers,
}

impl Unread<'_> {
    /// True where nobody says the unit.
    fn silent(&self) -> bool {
        self.found.written.is_none() && !self.found.afr
    }
}

impl Reading {
    /// As the heading says, else in the standard unit.
    fn of(column: &Unread, afr_scale: f64) -> Reading {
        let m = column.found;
        let standard = Written {
            unit: m.entry.unit(),
            factor: 1.0,
            offset: 0.0,
        };
        let mut because = Vec::new();
        let (written, unit) = if m.afr {
            because.push(format!(
                "`{}` is an air-fuel ratio: divided by {afr_scale} to give lambda.",
                column.header
            ));
            (scaled(standard, 1.0 / afr_scale), "afr".to_owned())
        } else {
            let written = m.written.unwrap_or(standard);
            (written, unit_name(m.entry, written))
        };
        let said = m.afr || m.written.is_some();
        Reading {
            name: m.name.clone(),
            entry: m.entry,
            written,
            unit,
            from: if said {
                UnitFrom::Heading
            } else {
                UnitFrom::Nobody
            },
            footing: Footing::AsRead,
            counts: Counts::Unsaid,
            because,
            questions: Vec::new(),
            left_out: None,
        }
    }

    /// A figure of the column in the standard unit, the footing left aside.
    fn standard(&self, raw: f64) -> f64 {
        self.written.to_standard(raw)
    }

    /// What the column is read in, as the sheet's `[units]` would have it.
    pub(super) fn read_in(&self) -> String {
        let from = match self.footing {
            _ if self.from == UnitFrom::Sheet => "",
            Footing::AsRead => "",
            Footing::AddAir => " gauge",
            Footing::TakeAirOff => " absolute",
        };
        format!("{}{from}", self.unit)
    }

    /// Takes a unit that nobody said.
    fn infer(&mut self, column: &Unread, unit: &str, written: Written, why: &str) {
        let silent = if column.silent() {
            " says no unit: inferred as"
        } else {
            " is taken for"
        };
        self.because.push(format!(
            "`{}` ({}){silent} {unit}, because {why}.",
            column.header, self.name
        ));
        self.written = written;
        self.unit = unit.to_owned();
        self.from = UnitFrom::Numbers;
    }
}

fn scaled(written: Written, factor: f64) -> Written {
    Written {
        factor: written.factor * factor,
        offset: written.offset,
        ..written
    }
}

/// Quantities whose units the columns of a log show for one another.
const SHARED_UNITS: [&str; 3] = ["degC", "kPa", "%"];

/// True for a column that may be read by what the others show.
pub(super) fn may_need_witnesses(found: &Match) -> bool {
    found.written.is_none() && SHARED_UNITS.contains(&found.entry.unit.as_str())
}

/// True for a column that may show how others are to be read.
pub(super) fn bears_witness(found: &Match) -> bool {
    let injectors = found.name.starts_with("injector_") || found.name == "rpm";
    injectors || SHARED_UNITS.contains(&found.entry.unit.as_str())
}

/// What the columns say about one another.
struct Setting {
    afr_scale: f64,
    /// The run holds clearly more than idle.
    revs: bool,
    /// Fuel goes through injectors at the ports.
    ports: bool,
}

/// Engine speed that no engine reaches with its throttle at one per cent, rpm (common practice).
const REVS: f64 = 3000.0;

/// Decides for all columns of a log together.
pub(super) fn decide(columns: &[Unread], sheet: &Sheet) -> Vec<Reading> {
    let has = |stem: &str| columns.iter().any(|c| c.found.name.starts_with(stem));
    let afr_scale = sheet.fuel.lambda_scale_afr.unwrap_or(CUSTOMARY_AFR);
    let revs = columns.iter().any(|c| {
        let high = c.numbers.share(0.98);
        c.found.name == "rpm" && (high > REVS || (REVS / 1000.0..25.0).contains(&high))
    });
    let setting = Setting {
        afr_scale,
        revs,
        ports: match sheet.fuel.system {
            Some(system) => system == FuelSystem::Port,
            None => has("injector_") || has("staged_duty"),
        },
    };
    let mut readings: Vec<Reading> = (columns.iter())
        .map(|column| {
            let mut reading = Reading::of(column, afr_scale);
            match words::told(sheet, column, afr_scale) {
                Some(told) => told.apply(&mut reading),
                None if column.numbers.enough() => scale::judge(column, &mut reading, &setting),
                None => {}
            }
            reading
        })
        .collect();
    air_units::units(columns, &mut readings, sheet);
    company::judge(columns, &mut readings, &setting);
    footing::footings(columns, &mut readings, sheet);
    counts::judge(columns, &mut readings);
    readings
}

/// The questions of all columns: those that say the same of several columns are put once.
pub(super) fn questions(readings: &[Reading]) -> Vec<String> {
    let inferred = || readings.iter().filter(|r| r.from == UnitFrom::Numbers);
    let mut units: Vec<&str> = Vec::new();
    for reading in inferred() {
        if !units.contains(&reading.unit.as_str()) {
            units.push(&reading.unit);
        }
    }
    let mut out = Vec::new();
    for unit in units {
        let names: Vec<&str> = inferred()
            .filter(|r| r.unit == unit)
            .map(|r| r.name.as_str())
            .collect();
        let all: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
        let all = listed(&all);
        let first = names.first().copied().unwrap_or_default();
        let line = format!("{first} = \"{unit}\" under [units] in the build sheet");
        out.push(if names.len() == 1 {
            format!("{all} is read in {unit}, inferred from its numbers, which leave no other reading. Is that right? {line} settles it, or the unit that it really is.")
        } else {
            format!("{all} are read in {unit}, inferred from their numbers, which side by side leave no other reading. Is that right? {line} and so on for the others settle it, or the units that they really are.")
        });
    }
    out.extend(readings.iter().flat_map(|r| r.questions.iter().cloned()));
    out
}

fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

/// A figure for a sentence.
fn show(value: f64) -> String {
    let size = value.abs();
    let decimals = if value.fract() == 0.0 || size >= 100.0 {
        0
    } else {
        1 + usize::from(size < 10.0)
    };
    format!("{value:.decimals$}")
}

/// A figure with its unit.
fn shown(value: f64, unit: &str) -> String {
    let gap = if unit.is_empty() { "" } else { " " };
    format!("{}{gap}{unit}", show(value))
}

/// The way from a unit by its symbol to an entry's own.
fn way(entry: &Entry, symbol: &str) -> Option<Written> {
    let written = Unit::parse(symbol)?;
    let (s, ms, own) = (Unit::standard("s"), Unit::standard("ms"), entry.unit());
    let factor = match written.unit {
        unit if unit == own => return Some(written),
        // Apart in our units on purpose, and one in a log.
        unit if unit == s && own == ms => 1000.0,
        unit if unit == ms && own == s => 0.001,
        _ => return None,
    };
    Some(Written {
        unit: own,
        ..scaled(written, factor)
    })
}

/// The symbol of a unit of an entry.
fn unit_name(entry: &Entry, written: Written) -> String {
    let known = [
        "psi", "bar", "hPa", "inHg", "mmHg", "degF", "K", "mph", "m/s", "m/s2", "us", "s", "ms",
        "mV", "krpm",
    ];
    let same = |symbol: &&&str| {
        way(entry, symbol).is_some_and(|w| {
            (w.factor - written.factor).abs() <= 1e-9 * w.factor
                && (w.offset - written.offset).abs() < 1e-9
        })
    };
    let own = written.factor == 1.0 && written.offset == 0.0;
    let other = known.iter().find(same).filter(|_| !own);
    other.map_or_else(|| entry.unit.clone(), |symbol| (*symbol).to_owned())
}

/// What a pressure is measured from by the dictionary.
fn wants_absolute(entry: &Entry) -> Option<bool> {
    match entry.quantity.as_str() {
        "absolute pressure" => Some(true),
        "gauge pressure" => Some(false),
        _ => None,
    }
}

/// Whether the heading says that a pressure is absolute.
fn said_absolute(found: &Match) -> Option<bool> {
    found.reference.map(|r| r == Reference::Absolute)
}

fn is_counter(entry: &Entry) -> bool {
    entry.kind == Kind::Counter
}
