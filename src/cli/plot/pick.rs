//! The channels that a picture is to show: standard names, families, or headings of the log.

use std::sync::Arc;

use super::super::Refusal;
use crate::dsl::run::FAMILIES;
use crate::load::{Heading, Log};
use crate::recording::{Channel, Recording, Series, dictionary};
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

/// The standard name, of a channel or a family, that a word spells in its own way: `oil_pressure` for `Oil-Pressure`.
pub fn standard(wanted: &str) -> Option<String> {
    let name = wanted.trim().to_lowercase().replace(['-', ' '], "_");
    (dictionary::entry(&name).is_some() || stem(&name).is_some()).then_some(name)
}

/// The channels of a standard name.
fn channels<'a>(name: &str, rec: &'a Recording) -> Option<Vec<&'a Channel>> {
    let family = stem(name).map(|s| rec.family(s)).filter(|f| !f.is_empty());
    family.or_else(|| rec.channel(name).map(|c| vec![c]))
}

/// All that a word on the command line stands for.
pub fn find(wanted: &str, rec: &Recording, log: &dyn Log) -> Result<Vec<Drawn>, Refusal> {
    let is_it = |h: &&Heading| {
        [&h.raw, &h.name]
            .into_iter()
            .any(|n| n.eq_ignore_ascii_case(wanted))
    };
    let heading = log.headings().iter().find(is_it);
    let found = channels(wanted, rec).or_else(|| {
        // A heading goes before a name that is only spelled alike.
        let name = standard(wanted).filter(|_| heading.is_none())?;
        channels(&name, rec)
    });
    if let Some(found) = found {
        if found.iter().all(|c| c.series.is_empty()) {
            return Err(Refusal(format!(
                "{}: `{wanted}` holds no readings",
                rec.path
            )));
        }
        return Ok(found.into_iter().map(Drawn::of).collect());
    }
    let Some(heading) = heading else {
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
    let name = standard(wanted);
    let near = nearest(
        name.as_deref().unwrap_or(wanted),
        names.clone().chain(families.clone()).chain(headings),
    );
    if let Some(name) = name
        && let Some(entry) = dictionary::entry(&name)
    {
        // A right name is no slip of the pen: another channel can only be offered.
        let near = near.map_or(String::new(), |n| format!("; near it in name is `{n}`"));
        return format!(
            "{}: `{name}` ({}) is not in this log: no column was understood as that{near}. \
             If one holds it under another heading, name it under [channels] in the build sheet",
            rec.path, entry.about
        );
    }
    let near = near.map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
    let known: Vec<&str> = families.chain(names).collect();
    format!(
        "{} has no channel `{wanted}`.{near} It has {}; the headings of its other columns may be named as well",
        rec.path,
        known.join(", ")
    )
}
