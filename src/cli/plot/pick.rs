//! The channels that a picture is to show: standard names, families, or headings of the log.

use std::sync::Arc;

use super::super::Refusal;
use crate::dsl::run::FAMILIES;
use crate::load::{Heading, Log};
use crate::recording::{Channel, Recording, Series};
use crate::sheet::nearest;
use crate::units::Unit;

/// Something to draw.
#[derive(Clone)]
pub struct Drawn {
    /// Standard name, or the heading of a column that has none.
    pub name: String,
    /// How a person calls it: `cylinder 3`.
    pub label: String,
    /// The cylinder, where it belongs to one.
    pub cylinder: Option<u32>,
    /// Its readings.
    pub series: Series,
    /// Their unit.
    pub unit: Unit,
    /// A sample is believed for so long, s.
    pub believed_s: f64,
}

impl Drawn {
    fn of(channel: &Channel) -> Drawn {
        Drawn {
            name: channel.name.clone(),
            label: channel.label(),
            cylinder: channel.cylinder,
            series: channel.series.clone(),
            unit: channel.unit,
            believed_s: channel.believed_s(),
        }
    }
}

/// The family of a name: `egt`.
pub fn stem(name: &str) -> Option<&'static str> {
    FAMILIES.iter().find(|f| f.0 == name).map(|f| f.1)
}

/// All that a word on the command line stands for.
pub fn find(wanted: &str, rec: &Recording, log: &dyn Log) -> Result<Vec<Drawn>, Refusal> {
    let family = stem(wanted)
        .map(|s| rec.family(s))
        .filter(|f| !f.is_empty());
    let found = family.or_else(|| rec.channel(wanted).map(|c| vec![c]));
    if let Some(found) = found {
        if found.iter().all(|c| c.series.is_empty()) {
            return Err(Refusal(format!(
                "{}: `{wanted}` holds no readings",
                rec.path
            )));
        }
        return Ok(found.into_iter().map(Drawn::of).collect());
    }
    let is_it = |h: &&Heading| {
        [&h.raw, &h.name]
            .into_iter()
            .any(|n| n.eq_ignore_ascii_case(wanted))
    };
    let Some(heading) = log.headings().iter().find(is_it) else {
        return Err(Refusal(unknown(wanted, rec, log)));
    };
    // A heading of a column that is understood is the channel.
    let known = rec.understood.iter().find(|u| u.column == heading.raw);
    if let Some(channel) = known.and_then(|u| rec.channel(&u.name)) {
        return Ok(vec![Drawn::of(channel)]);
    }
    let table = log.read(&[heading.column])?;
    let values = table
        .columns
        .into_iter()
        .next()
        .map_or_else(Vec::new, |c| c.values);
    let series = Series::new(&table.time_s, values);
    if series.is_empty() {
        return Err(Refusal(format!(
            "{}: `{wanted}` holds no readings",
            rec.path
        )));
    }
    let unit = heading.unit.as_deref().and_then(Unit::parse);
    let values: Vec<f64> = match unit {
        Some(unit) => series.values.iter().map(|v| unit.to_standard(*v)).collect(),
        None => series.values.to_vec(),
    };
    Ok(vec![Drawn {
        name: heading.name.clone(),
        label: heading.name.clone(),
        cylinder: None,
        believed_s: (3.0 * series.spacing().unwrap_or(rec.row_s)).max(3.0 * rec.row_s),
        series: Series {
            times: Arc::clone(&series.times),
            values: values.into(),
        },
        unit: unit.map_or(Unit::NONE, |u| u.unit),
    }])
}

fn unknown(wanted: &str, rec: &Recording, log: &dyn Log) -> String {
    let names = rec.understood.iter().map(|u| u.name.as_str());
    let headings = log.headings().iter().map(|h| h.name.as_str());
    let there = |f: &&(&str, &str)| rec.understood.iter().any(|u| u.name.starts_with(f.1));
    let families = FAMILIES.iter().filter(there).map(|f| f.0);
    let near = nearest(
        wanted,
        names.clone().chain(families.clone()).chain(headings),
    );
    let near = near.map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
    let known: Vec<&str> = families.chain(names).collect();
    format!(
        "{} has no channel `{wanted}`.{near} It has {}; the headings of its other columns may be named as well",
        rec.path,
        known.join(", ")
    )
}
