//! What each field of a converted file says about itself.

use std::collections::BTreeMap;

use arrow_schema::{DataType, Field};

use super::facts::column;
use crate::load::Heading;
use crate::recording::{Channel, Understood};

/// A field in seconds.
pub fn seconds(name: &str, quantity: &str) -> Field {
    let facts = [
        (column::UNIT, "s".to_owned()),
        (column::QUANTITY, quantity.to_owned()),
    ];
    field(name, DataType::Float64, facts)
}

/// A channel under its standard name.
pub fn channel(channel: &Channel, heading: &Heading, understood: Option<&Understood>) -> Field {
    let mut facts = vec![
        (column::STANDARD_NAME, channel.name.clone()),
        (column::QUANTITY, channel.entry.quantity.clone()),
        (column::UNIT, channel.entry.unit.clone()),
        (column::COLUMN, heading.raw.clone()),
    ];
    facts.extend(heading.unit.clone().map(|unit| (column::COLUMN_UNIT, unit)));
    facts.extend(channel.position.map(|n| (column::POSITION, n.to_string())));
    facts.extend(channel.cylinder.map(|n| (column::CYLINDER, n.to_string())));
    facts.extend(understood.map(|u| (column::READ_IN, u.read_in.clone())));
    let note = understood.and_then(|u| u.note.clone());
    facts.extend(note.map(|note| (column::NOTE, note)));
    field(&channel.name, DataType::Float64, facts)
}

/// A column as it was logged.
pub fn as_logged(name: &str, kind: DataType, heading: &Heading, about: Option<String>) -> Field {
    let mut facts = vec![(column::COLUMN, heading.raw.clone())];
    if let Some(unit) = &heading.unit {
        facts.push((column::UNIT, unit.clone()));
        facts.push((column::COLUMN_UNIT, unit.clone()));
    }
    facts.extend(about.map(|about| (column::ABOUT, about)));
    field(name, kind, facts)
}

fn field(
    name: &str,
    kind: DataType,
    facts: impl IntoIterator<Item = (&'static str, String)>,
) -> Field {
    let facts = facts
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value));
    Field::new(name, kind, true).with_metadata(facts.collect::<BTreeMap<_, _>>())
}
