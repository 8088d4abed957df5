//! What a heading says about its unit, and whether that unit can belong to a channel.

use super::{Entry, table};
use crate::units::{Unit, Written};

/// What a pressure is measured from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    /// From vacuum.
    Absolute,
    /// From the outside air.
    Gauge,
}

/// The unit text of a heading, read.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Said {
    /// No unit, or a dash.
    Nothing,
    /// A unit that we know.
    Known(Written, Option<Reference>),
    /// An air-fuel ratio: the logger's scale is still to be taken out.
    AirFuel,
    /// Text that is no unit of ours.
    Unknown(String),
}

/// How a unit suits a channel.
pub(super) enum Fit {
    Yes {
        written: Option<Written>,
        afr: bool,
        note: Option<String>,
    },
    No(String),
}

impl Said {
    pub(super) fn read(text: Option<&str>) -> Said {
        let text = text
            .unwrap_or("")
            .trim_matches(|c: char| c.is_whitespace() || "()[]{}<>\"".contains(c));
        let lower = text.to_lowercase();
        if ["", "-", "--", "1", "n/a", "none", "unitless", "ratio"].contains(&lower.as_str()) {
            return Said::Nothing;
        }
        if ["afr", "a/f", ":1", "x:1", "afr:1", "kg/kg"].contains(&lower.as_str()) {
            return Said::AirFuel;
        }
        let lower = lower
            .replace('\u{2103}', "degc")
            .replace('\u{2109}', "degf");
        let lower = lower.replace('\u{ba}', "\u{b0}").replace('_', " ");
        let key = lower.replace('\u{b0}', "deg");
        let spelled = table().unit_spellings.get(lower.trim());
        let spelled = spelled.or_else(|| table().unit_spellings.get(key.trim()));
        let spelled = spelled.map_or(lower.as_str(), String::as_str);
        match Unit::parse(spelled) {
            Some(written) => {
                let ends = |list: [&str; 3]| list.iter().any(|e| spelled.ends_with(e));
                let pressure = written.unit == Unit::standard("kPa");
                let reference = if pressure && ends([" a", "abs", "absolute"]) {
                    Some(Reference::Absolute)
                } else if pressure && ends([" g", "(g)", "gauge"]) {
                    Some(Reference::Gauge)
                } else {
                    None
                };
                Said::Known(written, reference)
            }
            None => Said::Unknown(text.to_string()),
        }
    }

    /// True where the text itself names the quantity of `entry`: enough to trust a vague word like `Speed`.
    pub(super) fn names(&self, entry: &Entry) -> bool {
        match self {
            Said::Known(written, _) => {
                into_standard(entry, *written).is_some() || also(entry, *written)
            }
            Said::AirFuel => entry.unit() == Unit::standard("lambda"),
            _ => false,
        }
    }

    /// Whether a column with this unit can be `entry`. `afr_words`: the heading itself speaks of an air-fuel ratio.
    pub(super) fn fit(&self, entry: &Entry, afr_words: bool) -> Fit {
        let lambda = Unit::standard("lambda");
        let yes = |written, afr, note| Fit::Yes { written, afr, note };
        match self {
            Said::AirFuel if entry.unit() == lambda => yes(None, true, None),
            Said::AirFuel => Fit::No(format!(
                "an air-fuel ratio is no unit for `{}` ({})",
                entry.name, entry.quantity
            )),
            Said::Nothing if afr_words => yes(None, true, None),
            Said::Nothing => {
                let default = entry.unit_if_absent.as_deref();
                let written = default
                    .filter(|unit| *unit != entry.unit)
                    .and_then(Unit::parse);
                let note = default
                    .is_none()
                    .then(|| format!("no unit in the heading: read as {}", entry.unit_words()));
                yes(written, false, note)
            }
            Said::Unknown(text) if blocked(text) => Fit::No(format!(
                "looks like `{}`, but `{text}` makes it another thing",
                entry.name
            )),
            Said::Unknown(text) if wordy(text) => Fit::No(format!(
                "looks like `{}`, but `{text}` is no unit that we know: if it is that, name it under [channels] in the build sheet",
                entry.name
            )),
            Said::Unknown(text) => yes(
                None,
                afr_words,
                Some(format!(
                    "unit `{text}` is not understood: read as {}",
                    if afr_words {
                        "an air-fuel ratio"
                    } else {
                        entry.unit_words()
                    }
                )),
            ),
            Said::Known(written, _) => {
                if let Some(written) = into_standard(entry, *written) {
                    return yes(Some(written), false, None);
                }
                if also(entry, *written) {
                    let kept = Written {
                        unit: entry.unit(),
                        ..*written
                    };
                    let note = format!("logged in {}, kept on that scale", written.unit);
                    return yes(Some(kept), false, Some(note));
                }
                if entry.unit().is_point() && written.unit == Unit::standard("deg") {
                    let note = "the heading says degrees but not of which scale: read as degC";
                    return yes(None, false, Some(note.to_string()));
                }
                let unit = written.unit.to_string();
                let unit = if unit.is_empty() {
                    "a bare number"
                } else {
                    &unit
                };
                Fit::No(format!(
                    "looks like `{}` ({}), but its unit is of another kind ({unit})",
                    entry.name, entry.quantity
                ))
            }
        }
    }
}

/// A unit by itself, as a person writes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitWord {
    /// The standard unit and the way there.
    pub written: Written,
    /// What it says a pressure is measured from.
    pub reference: Option<Reference>,
}

/// Reads a unit with all the spellings that headings may have. `None` for one that is not known.
pub fn unit_word(text: &str) -> Option<UnitWord> {
    match Said::read(Some(text)) {
        Said::Known(written, reference) => Some(UnitWord { written, reference }),
        _ => None,
    }
}

/// The conversion into the standard unit, where the two are of one kind. Seconds and milliseconds are apart in our
/// units on purpose, and one in a log.
fn into_standard(entry: &Entry, written: Written) -> Option<Written> {
    let unit = entry.unit();
    let (s, ms) = (Unit::standard("s"), Unit::standard("ms"));
    if written.unit == unit {
        return Some(written);
    }
    let factor = match (written.unit, unit) {
        (from, to) if from == s && to == ms => 1000.0,
        (from, to) if from == ms && to == s => 0.001,
        _ => return None,
    };
    Some(Written {
        unit,
        factor: written.factor * factor,
        offset: 0.0,
    })
}

fn also(entry: &Entry, written: Written) -> bool {
    let mut units = entry.also_units.iter();
    units.any(|unit| Unit::parse(unit).is_some_and(|w| w.unit == written.unit))
}

/// True for a bracket like `[Target]`, which is no unit at all.
pub(super) fn blocked(text: &str) -> bool {
    let words = super::heading::split(text);
    let blockers = &table().blockers.words;
    let mut canonical = words.iter().map(|w| super::heading::canonical(w));
    canonical.any(|word| blockers.contains(&word))
}

/// Long words or several of them say where or what ("Radiator Out"), not in which unit.
fn wordy(text: &str) -> bool {
    let words = text.split(|c: char| !c.is_alphabetic());
    let long = words.clone().any(|w| w.chars().count() > 4);
    long || words.filter(|w| !w.is_empty()).count() > 2
}
