//! The build sheet as a map of the language: every entry of the schema is there, `()` where nobody filled it in.

use rhai::{Dynamic, Map};

use super::column::Quantity;
use crate::sheet::{SCHEMA, Sheet, Value};
use crate::units::Unit;

/// All sections with all entries.
pub fn of(sheet: &Sheet) -> Map {
    let mut sections = Map::new();
    for entry in SCHEMA {
        let value = sheet
            .entry(entry.name)
            .map_or(Dynamic::UNIT, |v| dynamic(v, entry.unit));
        let section = sections
            .entry(entry.section().into())
            .or_insert_with(|| Dynamic::from(Map::new()));
        if let Some(mut map) = section.write_lock::<Map>() {
            map.insert(entry.key().into(), value);
        }
    }
    sections
}

fn dynamic(value: Value, unit: &str) -> Dynamic {
    match value {
        Value::Number(n) => match Unit::parse(unit) {
            Some(w) if !unit.is_empty() => Dynamic::from(Quantity {
                value: w.to_standard(n),
                unit: w.unit,
            }),
            _ => Dynamic::from(n),
        },
        Value::Text(t) => t.into(),
        Value::Bool(b) => b.into(),
        Value::List(list) => {
            Dynamic::from(list.into_iter().map(Dynamic::from).collect::<rhai::Array>())
        }
        Value::Map(map) => Dynamic::from(
            map.into_iter()
                .map(|(k, v)| (k.into(), dynamic(v, unit)))
                .collect::<Map>(),
        ),
    }
}
