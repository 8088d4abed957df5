//! `plugread sheet`: a starter build sheet from what a log shows.

use super::args::SheetArgs;
use super::{End, Refusal, out};
use crate::dsl::run::Shared;
use crate::pipeline;
use crate::recording::{Recording, dictionary};
use crate::sheet::{Seen, Sheet, starter};
use crate::stats;

pub fn run(args: &SheetArgs) -> Result<End, Refusal> {
    if let Some(path) = args.out.as_deref().filter(|p| p.exists()) {
        return Err(Refusal(format!(
            "{} is there already and is not touched; name another file",
            path.display()
        )));
    }
    let sheet = Sheet::default();
    let log = pipeline::open(&args.log, &sheet)?;
    let recording = Recording::read(log.as_ref(), &sheet, |_| true)?;
    let text = starter(&seen(recording, sheet));
    out::write(args.out.as_deref(), text.as_bytes())?;
    Ok(End::Quiet)
}

fn seen(recording: Recording, sheet: Sheet) -> Seen {
    let shared = Shared::prepare(recording, sheet);
    let (rec, phases) = (&shared.recording, &shared.phases);
    let median_in = |name: &str, phase: &str| {
        let spans = phases.get(phase)?;
        let series = &rec.channel(name)?.series;
        let inside: Vec<f64> = series
            .times
            .iter()
            .zip(series.values.iter())
            .filter(|p| spans.contains(*p.0))
            .map(|p| *p.1)
            .collect();
        stats::median(&inside)
    };
    let egt = rec.family("egt_");
    let cylinders = u32::try_from(egt.len()).ok().filter(|n| {
        *n > 1
            && egt
                .iter()
                .all(|c| c.cylinder.is_some() || c.position.is_some())
    });
    let max_rpm = rec
        .channel("rpm")
        .and_then(|c| c.series.values.iter().copied().max_by(f64::total_cmp))
        .filter(|r| *r > 0.0);
    let altitude = phases
        .baro_kpa
        .map(|(kpa, _)| crate::units::height_of_air_m(kpa));
    let mut notes: Vec<String> = rec.questions.clone();
    notes.extend(phases.notes.iter().cloned());
    Seen {
        log: rec.path.clone(),
        cylinders: cylinders.map(|n| (n, format!("the log has {n} EGT columns"))),
        idle_rpm: phases.idle_rpm.map(|i| i.0),
        max_rpm,
        rest_v: median_in("battery_v", "rest"),
        charging_v: median_in("battery_v", "running"),
        altitude_m: altitude,
        fan_channel: rec
            .channel("fan")
            .is_some_and(|c| c.series.values.iter().any(|v| *v > 0.5)),
        channels: rec
            .understood
            .iter()
            .filter(|u| dictionary::entry(&u.name).is_some())
            .map(|u| (u.name.clone(), u.column.clone()))
            .collect(),
        units: rec.unsaid_units(),
        unmapped: rec.unmapped.iter().map(|u| u.0.clone()).collect(),
        notes,
    }
}
