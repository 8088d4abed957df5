//! The words of the build sheet's `[units]`.

use super::{Counts, Footing, Reading, UnitFrom, Unread, is_counter, scaled, wants_absolute, way};
use crate::recording::dictionary::{self, Entry, Reference, UnitWord};
use crate::sheet::{Sheet, SheetError, UnitEntry};
use crate::units::Written;

/// What the sheet says of one column.
#[derive(Clone, Debug)]
pub(super) struct Told {
    text: String,
    written: Written,
    footing: Footing,
    counts: Counts,
    level: Option<String>,
}

impl Told {
    pub(super) fn apply(self, reading: &mut Reading) {
        reading.because.clear();
        reading.because.push(format!(
            "`{}` is read in {}, as the build sheet says.",
            reading.name, self.text
        ));
        reading.written = self.written;
        reading.unit = self.text;
        reading.from = UnitFrom::Sheet;
        reading.footing = self.footing;
        reading.counts = self.counts;
        if let Some(level) = self.level
            && let Some(entry) = dictionary::entry(&level)
        {
            reading.name = level;
            reading.entry = entry;
        }
    }
}

/// What the sheet says of a column, if it does.
pub(super) fn told(sheet: &Sheet, column: &Unread, afr_scale: f64) -> Option<Told> {
    let name = &column.found.name;
    let entry = sheet.units.iter().find(|unit| unit.name == *name)?;
    read(name, column.found.entry, &entry.text, afr_scale).ok()
}

/// Problems of the sheet's `[units]`: names that are none, and words that do not fit the channel.
pub fn wrong_words(sheet: &Sheet) -> Vec<SheetError> {
    let mut out = Vec::new();
    for UnitEntry {
        name,
        text,
        place,
        text_place,
    } in &sheet.units
    {
        match dictionary::entry(name) {
            None => out.push(sheet.complain(
                place,
                &format!("`{name}` is no standard name"),
                "a name that `plugread channels` shows, such as egt_1 or oil_pressure",
            )),
            Some(entry) => {
                if let Err(wanted) = read(name, entry, text, super::CUSTOMARY_AFR) {
                    let what = format!("\"{text}\" is nothing that `{name}` can be logged in");
                    out.push(sheet.complain(text_place, &what, &wanted));
                }
            }
        }
    }
    out
}

/// Reads one text. The error says what is wanted.
fn read(name: &str, entry: &Entry, text: &str, afr_scale: f64) -> Result<Told, String> {
    let lower = text.trim().to_lowercase();
    let standard = Written {
        unit: entry.unit(),
        factor: 1.0,
        offset: 0.0,
    };
    let told = |written| Told {
        text: text.trim().to_owned(),
        written,
        footing: Footing::AsRead,
        counts: Counts::Unsaid,
        level: None,
    };
    if is_counter(entry) {
        let counts = match lower.as_str() {
            "running count" => Counts::Running,
            "count per row" => Counts::EachRow,
            "level" if level_name(name).is_some() => {
                return Ok(Told {
                    level: level_name(name),
                    ..told(standard)
                });
            }
            _ => {
                let level =
                    level_name(name).map_or("", |_| ", or \"level\" where it is no count at all");
                return Err(format!("\"running count\" or \"count per row\"{level}"));
            }
        };
        return Ok(Told {
            counts,
            ..told(standard)
        });
    }
    if entry.name.starts_with("fuel_trim") {
        match lower.as_str() {
            "100 is neutral" => {
                let offset = -100.0;
                return Ok(told(Written { offset, ..standard }));
            }
            "1 is neutral" => {
                let (factor, offset) = (100.0, -100.0);
                return Ok(told(Written {
                    factor,
                    offset,
                    ..standard
                }));
            }
            _ => {}
        }
    }
    if entry.unit == "%" && ["0 to 1", "0-1", "0..1"].contains(&lower.as_str()) {
        return Ok(told(scaled(standard, 100.0)));
    }
    // "lambda x 1000": the numbers are so many times the unit.
    let (unit, times) = match lower.rsplit_once(" x ") {
        Some((unit, times)) => match times.trim().parse::<f64>() {
            Ok(times) if times.is_finite() && times != 0.0 => (unit.trim(), times),
            _ => return Err(wanted(entry)),
        },
        None => (lower.as_str(), 1.0),
    };
    if entry.unit == "lambda" && unit == "afr" {
        return Ok(told(scaled(standard, 1.0 / (afr_scale * times))));
    }
    if entry.unit == "A" && unit == "a reversed" {
        return Ok(told(scaled(standard, -1.0 / times)));
    }
    let (written, reference) = match dictionary::unit_word(unit) {
        Some(UnitWord { written, reference }) => {
            let own = (written.unit == entry.unit()).then_some(written);
            (
                own.or_else(|| way(entry, unit))
                    .ok_or_else(|| wanted(entry))?,
                reference,
            )
        }
        None => return Err(wanted(entry)),
    };
    let footing = match (wants_absolute(entry), reference) {
        (Some(true), Some(Reference::Gauge)) => Footing::AddAir,
        (Some(false), Some(Reference::Absolute)) => Footing::TakeAirOff,
        (None, Some(_)) => return Err(wanted(entry)),
        _ => Footing::AsRead,
    };
    Ok(Told {
        footing,
        ..told(scaled(written, 1.0 / times))
    })
}

/// What an entry may be logged in, for the person who wrote something else.
fn wanted(entry: &Entry) -> String {
    let list = match entry.unit.as_str() {
        "lambda" => "\"lambda\", \"afr\", or a multiple such as \"lambda x 1000\"",
        "%" if entry.name.starts_with("fuel_trim") => {
            "\"%\", \"100 is neutral\" or \"1 is neutral\""
        }
        "%" => "\"%\" or \"0 to 1\"",
        "kPa" if wants_absolute(entry).is_some() => {
            "a unit of pressure, with \"gauge\" or \"absolute\" behind it where that is known: \"psi\", \"bar\", \"kPa absolute\""
        }
        "kPa" => "a unit of pressure: \"psi\", \"bar\", \"kPa\"",
        "degC" => "\"degC\", \"degF\" or \"K\"",
        "A" => "\"A\", or \"A reversed\" where plus and minus are the other way round",
        "V" => "\"V\" or \"mV\"",
        "g" => "\"g\" or \"m/s2\"",
        "ms" => "\"ms\", \"us\" or \"s\"",
        "s" => "\"s\" or \"ms\"",
        "km/h" => "\"km/h\", \"mph\" or \"m/s\"",
        "rpm" => "\"rpm\" or \"krpm\"",
        "deg" => "\"deg\"",
        _ => "no unit: this channel is a bare number; take the line out",
    };
    list.to_owned()
}

/// The channel that a knock column is where it holds a level and no count.
pub(super) fn level_name(name: &str) -> Option<String> {
    let number = name.strip_prefix("knock_")?;
    number
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| format!("knock_level_{number}"))
}
