//! In which unit barometer and manifold are logged, where no heading says it: a still engine shows the air in both.

use super::air::{AIR, Known, WEATHER, by_baro, by_height, open, position};
use super::{Reading, Unread, show, shown, way};
use crate::recording::dictionary::Entry;
use crate::recording::numbers::Numbers;
use crate::sheet::Sheet;
use crate::units::Written;

/// A resting manifold is the air within this, kPa, or within this share of the sensor's full scale (field notes,
/// section 3); the least full scale, kPa, is that of a 2.5 bar sensor (common practice).
const SLACK: f64 = 2.0;
const SLACK_SHARE: f64 = 0.015;
const FULL_SCALE: f64 = 250.0;
/// A manifold at idle is at least so far under the air, kPa (common practice).
const IDLE_UNDER: f64 = 20.0;
/// Whole runs do not stay under this, kPa absolute (common practice: a long idle stands at 25 or more).
const IDLE_LEAST: f64 = 22.0;
/// Manifold pressure that a run reaches, kPa absolute (common practice).
const RUN_REACHES: std::ops::RangeInclusive<f64> = 60.0..=400.0;

/// Finds the units of barometer and manifold where no heading names them.
pub(super) fn units(columns: &[Unread], readings: &mut [Reading], sheet: &Sheet) {
    if let Some(at) = position(columns, "baro").filter(|at| open(&columns[*at], &readings[*at])) {
        baro(&columns[at], &mut readings[at], by_height(sheet).as_ref());
    }
    let air = by_baro(columns, readings, sheet);
    if let Some(at) = position(columns, "map").filter(|at| open(&columns[*at], &readings[*at])) {
        unit_of_manifold(&columns[at], &mut readings[at], air.as_ref());
    }
}

/// Units in which air is logged.
const AIR_UNITS: [&str; 6] = ["kPa", "psi", "bar", "inHg", "hPa", "mmHg"];

/// Those in which a figure is air, near to what the air is known to be.
fn air_in(
    entry: &Entry,
    raw: f64,
    air: Option<&Known>,
    slack: f64,
) -> Vec<(&'static str, Written)> {
    let fits =
        |kpa: f64| AIR.contains(&kpa) && air.is_none_or(|a| (kpa - a.kpa).abs() <= slack + a.off);
    (AIR_UNITS.into_iter())
        .filter_map(|unit| Some((unit, way(entry, unit)?)))
        .filter(|(_, w)| fits(w.to_standard(raw)))
        .collect()
}

fn baro(column: &Unread, reading: &mut Reading, height: Option<&Known>) {
    let n = &column.numbers;
    let raw = n.at_rest().unwrap_or(n.middle());
    if AIR.contains(&raw) {
        return;
    }
    choose(
        column,
        reading,
        raw,
        &air_in(reading.entry, raw, height, WEATHER),
    );
}

/// Takes the one unit in which a figure is air, or asks between several.
fn choose(column: &Unread, reading: &mut Reading, raw: f64, fits: &[(&'static str, Written)]) {
    match fits {
        [] => {
            let kpa = reading.standard(raw);
            reading.questions.push(format!(
                "`{}` stands at {}, which is no air anywhere: is it the right column, and in the right unit?",
                reading.name,
                shown(kpa, &reading.entry.unit)
            ));
        }
        [(unit, written)] => {
            let why = format!(
                "{} is no air in kPa; in {unit} it is {}",
                show(raw),
                shown(written.to_standard(raw), "kPa")
            );
            reading.infer(column, unit, *written, &why);
        }
        several => {
            let units: Vec<&str> = several.iter().map(|f| f.0).collect();
            reading.questions.push(format!(
                "`{}` stands at {}, which is no air in kPa: is it logged in {}?",
                reading.name,
                show(raw),
                units.join(" or ")
            ));
        }
    }
}

/// How far a resting manifold may be off the air, kPa.
pub(super) fn slack(n: &Numbers, reading: &Reading) -> f64 {
    let full = reading.standard(n.highest()).max(FULL_SCALE);
    (SLACK_SHARE * full).max(SLACK)
}

/// The unit of a manifold pressure that no heading names.
fn unit_of_manifold(column: &Unread, reading: &mut Reading, air: Option<&Known>) {
    let n = &column.numbers;
    let entry = reading.entry;
    let Some(rest) = n.at_rest() else {
        if n.high() >= IDLE_LEAST || n.high() <= 0.0 {
            return;
        }
        let fits: Vec<(&str, Written)> = (AIR_UNITS.into_iter())
            .filter_map(|unit| Some((unit, way(entry, unit)?)))
            .filter(|(_, w)| {
                RUN_REACHES.contains(&w.to_standard(n.high())) && w.to_standard(n.low()) > 0.0
            })
            .collect();
        if let [(unit, written)] = fits[..] {
            let why = format!(
                "the whole run stays under {} and no engine does in kPa; in {unit} that is {}",
                show(n.high()),
                shown(written.to_standard(n.high()), "kPa")
            );
            reading.infer(column, unit, written, &why);
        } else if !fits.is_empty() {
            let units: Vec<&str> = fits.iter().map(|f| f.0).collect();
            reading.questions.push(format!(
                "`{}` reaches {} when read in kPa (the heading does not say): is it logged in {}?",
                reading.name,
                show(n.high()),
                units.join(" or ")
            ));
        }
        return;
    };
    let slack = slack(n, reading);
    let fits = air_in(entry, rest, air, slack);
    if fits.iter().any(|f| f.0 == "kPa") {
        return;
    }
    if !fits.is_empty() {
        return choose(column, reading, rest, &fits);
    }
    // At nothing: over the air. In which unit shows at idle, which is far under the air but not under vacuum.
    let deep = |w: &Written| {
        let low = w.to_standard(n.low());
        w.to_standard(rest).abs() <= slack && (-101.0..=-IDLE_UNDER).contains(&low)
    };
    let fits: Vec<(&str, Written)> = ["kPa", "psi", "bar", "inHg"]
        .into_iter()
        .filter_map(|unit| Some((unit, way(entry, unit)?)))
        .filter(|(_, w)| deep(w))
        .collect();
    match fits[..] {
        [("kPa", _)] => {}
        [(unit, written)] => {
            let why = format!(
                "it rests at {} and falls to {}, which is a manifold at idle in {unit} over the air",
                show(rest),
                show(n.low())
            );
            reading.infer(column, unit, written, &why);
        }
        _ if fits.iter().all(|f| f.0 != "kPa") && fits.len() > 1 => {
            let units: Vec<&str> = fits.iter().map(|f| f.0).collect();
            reading.questions.push(format!(
                "`{}` rests at {} and falls to {}: it is over the air, but is it in {}? It was left out until the build sheet says so, as in map = \"{} gauge\" under [units].",
                reading.name,
                show(rest),
                show(n.low()),
                units.join(" or "),
                units[0]
            ));
            reading.left_out = Some("its unit is not clear".to_owned());
        }
        _ => {}
    }
}
