//! From a file to a review: the one place that chains the stages. The command line and the notebook both call it.

mod cylinders;
mod pictures;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use crate::checks::{Catalog, explain_all, judge_all, sheet_value};
use crate::columnar;
use crate::dsl::ScriptError;
use crate::dsl::run::Shared;
use crate::findings::{ChannelFacts, LogFacts, PhaseSpan, ProblemFacts, Review, Text, assemble};
use crate::load::{self, ClockStyle, DateOrder, Encoding, Forced, LoadError, Log};
use crate::phases;
use crate::recording::{self, Recording, dictionary};
use crate::sheet::{self, FuelKind, LimitValue, Sheet, SheetError};
use crate::stop;
use crate::units::{PressureUnit, Reading};

pub use pictures::draw_judged;

/// A review and the scripts that failed on the way.
pub struct Outcome {
    /// The review.
    pub review: Review,
    /// What all checks shared: recording, phases, sheet.
    pub shared: Arc<Shared>,
    /// One for each check whose own script failed; the review goes on without them.
    pub script_errors: Vec<ScriptError>,
    /// What each check took, by id.
    pub took: Vec<(String, Duration)>,
}

/// Reads a log and reviews it.
///
/// # Errors
/// The file cannot be read as a log.
pub fn review(path: &Path, sheet: &Sheet, catalog: &Catalog) -> Result<Outcome, LoadError> {
    review_log(open(path, sheet)?.as_ref(), sheet, catalog)
}

/// Opens a log: a CSV file, or a Parquet or Arrow file.
///
/// # Errors
/// The file cannot be read as a log, or the sheet wants it read otherwise than it was when it was converted.
pub fn open(path: &Path, sheet: &Sheet) -> Result<Box<dyn Log>, LoadError> {
    let forced = forced(sheet);
    match columnar::open(path, &forced)? {
        Some(log) => Ok(log),
        None => Ok(Box::new(load::open(path, &forced)?)),
    }
}

/// Reviews a log that was opened before.
///
/// # Errors
/// The rows cannot be used.
pub fn review_log(log: &dyn Log, sheet: &Sheet, catalog: &Catalog) -> Result<Outcome, LoadError> {
    let recording = Recording::read(log, sheet, |name| {
        catalog.looks_at(name) || phases::looks_at(name)
    })?;
    Ok(judge(Shared::prepare(recording, sheet.clone()), catalog))
}

/// What the sheet forces about the file's form.
pub fn forced(sheet: &Sheet) -> Forced {
    let log = &sheet.log;
    let line = |n: u32| usize::try_from(n).unwrap_or(usize::MAX);
    Forced {
        delimiter: log.delimiter,
        decimal: log.decimal,
        sample_hz: log.sample_hz,
        names_line: log.names_line.map(line),
        units_line: log.units_line.map(line),
        clock: log.clock.clone(),
        clock_unit: log.clock_unit.map(|unit| match unit {
            sheet::ClockUnit::S => ClockStyle::Seconds,
            sheet::ClockUnit::Ms => ClockStyle::Milliseconds,
            sheet::ClockUnit::Us => ClockStyle::Microseconds,
            sheet::ClockUnit::Ns => ClockStyle::Nanoseconds,
            sheet::ClockUnit::Min => ClockStyle::Minutes,
            sheet::ClockUnit::H => ClockStyle::Hours,
        }),
        encoding: log.encoding.map(|encoding| match encoding {
            sheet::LogEncoding::Utf8 => Encoding::Utf8,
            sheet::LogEncoding::Utf16Le => Encoding::Utf16Le,
            sheet::LogEncoding::Utf16Be => Encoding::Utf16Be,
            sheet::LogEncoding::Windows1252 => Encoding::Windows1252,
        }),
        date_order: log.date_order.map(|order| match order {
            sheet::LogDates::Dmy => DateOrder::Dmy,
            sheet::LogDates::Mdy => DateOrder::Mdy,
        }),
    }
}

/// Judges a prepared run with every check.
pub fn judge(shared: Shared, catalog: &Catalog) -> Outcome {
    judge_shared(&Arc::new(shared), catalog)
}

/// The same for a run that others hold, too.
pub fn judge_shared(shared: &Arc<Shared>, catalog: &Catalog) -> Outcome {
    let shared = Arc::clone(shared);
    // No check is long enough to be alone at the end while this is worked out beside them.
    let flag = stop::current();
    let (judged, cylinders) = rayon::join(
        || stop::under(flag.clone(), || judge_all(catalog, &shared)),
        || stop::under(flag.clone(), || cylinders::cylinders(&shared)),
    );
    let mut script_errors = judged.errors;
    let rec = &shared.recording;
    let analogue: BTreeSet<String> = rec
        .channels
        .values()
        .filter(|c| c.entry.analogue)
        .map(|c| c.name.clone())
        .collect();
    let mut questions: Vec<Text> = rec
        .questions
        .iter()
        .map(|q| Text::from(q.as_str()))
        .collect();
    questions.extend(shared.phases.notes.iter().map(|n| Text::from(n.as_str())));
    let mut review = assemble(
        facts(&shared),
        judged.findings,
        catalog.graph(),
        &analogue,
        questions,
        &cautions(&shared),
        reading(&shared.sheet),
    );
    review.cylinders = cylinders;
    let (diagnosis, errors) = explain_all(catalog, &shared, &review.findings);
    review.diagnosis = diagnosis;
    script_errors.extend(errors);
    Outcome {
        review,
        shared,
        script_errors,
        took: judged.took,
    }
}

/// Refuses a sheet whose limits or channel names mean nothing to the checks and the dictionary.
///
/// # Errors
/// Every such entry, with its line and place.
pub fn accept_sheet(sheet: &Sheet, catalog: &Catalog) -> Result<(), SheetError> {
    let mut wrong: Vec<SheetError> = recording::wrong_units(sheet);
    for entry in &sheet.limits {
        if catalog
            .broken()
            .iter()
            .any(|(script, _)| script.id == entry.check)
        {
            continue;
        }
        let Some(check) = catalog.get(&entry.check) else {
            let waiting = if catalog.graph().knows(&entry.check) {
                " yet"
            } else {
                ""
            };
            wrong.push(sheet.complain(
                &entry.place,
                &format!("there is no check `{}`{waiting}", entry.check),
                "the id of a check: `plugread checks` lists them",
            ));
            continue;
        };
        let Some(limit) = check.about.limits.get(&entry.limit) else {
            let known: Vec<&str> = check.about.limits.keys().map(String::as_str).collect();
            let wanted = if known.is_empty() {
                "no limit: this check has none".to_string()
            } else {
                format!("one of {}", known.join(", "))
            };
            wrong.push(sheet.complain(
                &entry.place,
                &format!("the check `{}` has no limit `{}`", entry.check, entry.limit),
                &wanted,
            ));
            continue;
        };
        if sheet_value(&entry.value, limit.quantity.unit).is_none() {
            let sample = if matches!(entry.value, LimitValue::Text(_)) {
                "a number with a unit that fits"
            } else {
                "a number"
            };
            wrong.push(sheet.complain(
                &entry.value_place,
                "this is no value for that limit",
                &format!("{sample}; its own unit is {}", limit.quantity.unit.key()),
            ));
        }
    }
    for (name, ..) in &sheet.channels {
        let place = sheet.key_place(&format!("channels.{name}"));
        if let (None, Some(place)) = (dictionary::entry(name), place) {
            wrong.push(sheet.complain(
                &place,
                &format!("`{name}` is no standard name"),
                "a name that `plugread channels` shows, such as egt_1 or oil_pressure",
            ));
        }
    }
    wrong
        .into_iter()
        .reduce(SheetError::and)
        .map_or(Ok(()), Err)
}

fn facts(shared: &Shared) -> LogFacts {
    let rec = &shared.recording;
    LogFacts {
        path: rec.path.clone(),
        rows: rec.rows,
        duration_s: rec.duration_s(),
        sample_hz: rec.sample_hz(),
        channels: rec
            .understood
            .iter()
            .map(|u| ChannelFacts {
                name: u.name.clone(),
                column: u.column.clone(),
                column_unit: u.column_unit.clone(),
                unit: u.unit.clone(),
            })
            .collect(),
        unmapped: rec.unmapped.iter().map(|u| u.0.clone()).collect(),
        problems: rec
            .problems
            .iter()
            .map(|(line, what)| ProblemFacts {
                line: *line,
                what: what.clone(),
            })
            .collect(),
        phases: shared
            .phases
            .list()
            .into_iter()
            .map(|(phase, s)| PhaseSpan {
                phase: phase.to_string(),
                from_s: s.from_s,
                to_s: s.to_s,
            })
            .collect(),
    }
}

/// Cautions that the engine itself calls for, whatever the checks found.
fn cautions(shared: &Shared) -> Vec<&'static str> {
    let mut list = Vec::new();
    match shared.sheet.fuel.kind {
        Some(FuelKind::Methanol) => list.push("methanol-flame"),
        Some(FuelKind::E85 | FuelKind::Ethanol) => list.push("alcohol-flame"),
        _ => {}
    }
    if shared.sheet.cooling.fan == Some(false) {
        list.push("no-fan");
    }
    if shared.phases.get("running").is_some_and(|s| !s.is_empty()) {
        list.extend(["hot-exhaust", "exhaust-gas"]);
    }
    list
}

/// The units in which views speak.
pub fn reading(sheet: &Sheet) -> Reading {
    Reading {
        fahrenheit: sheet.display.temperature == Some(sheet::TemperatureUnit::DegF),
        pressure: match sheet.display.pressure {
            Some(sheet::PressureUnit::Psi) => PressureUnit::Psi,
            Some(sheet::PressureUnit::Bar) => PressureUnit::Bar,
            _ => PressureUnit::Kpa,
        },
        mph: sheet.display.speed == Some(sheet::SpeedUnit::Mph),
    }
}
