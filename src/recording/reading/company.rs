//! Columns side by side: what one of them shows by itself the others share, for a logger has one set of units.

use super::scale::fitting;
use super::{Reading, Setting, UnitFrom, Unread, show, shown, way};
use crate::recording::dictionary::Entry;
use crate::units::Written;

/// Judges what nobody names a unit for and what does not show its own.
pub(super) fn judge(columns: &[Unread], readings: &mut [Reading], setting: &Setting) {
    same_family(columns, readings);
    temperatures(columns, readings);
    // First what the injectors show of their own pressure, then the others by it.
    for witnesses in [false, true] {
        let told = |is: &dyn Fn(&str) -> bool| inferred(readings, is).filter(|_| witnesses);
        let imperial = told(&|unit| ["degF", "psi", "inHg"].contains(&unit));
        let bar = told(&|unit| unit == "bar");
        for (column, reading) in columns.iter().zip(readings.iter_mut()) {
            let against_air = ["map", "baro"].contains(&reading.entry.name.as_str());
            if open(column, reading) && reading.entry.unit == "kPa" && !against_air {
                pressure(
                    column,
                    reading,
                    setting,
                    imperial.as_deref(),
                    bar.as_deref(),
                );
            }
        }
    }
    if let Some(witness) = inferred(readings, |unit| ["degF", "psi", "inHg"].contains(&unit)) {
        for (column, reading) in columns.iter().zip(readings.iter_mut()) {
            if open(column, reading) && reading.entry.unit == "km/h" {
                reading.questions.push(format!(
                    "`{}` says no unit and is read in km/h, but {witness}: is it logged in mph?",
                    reading.name
                ));
            }
        }
    }
    shares(columns, readings);
}

/// True where nobody says the unit, and the column by itself did not show it.
fn open(column: &Unread, reading: &Reading) -> bool {
    column.silent() && reading.from == UnitFrom::Nobody && column.numbers.enough()
}

/// Shares that stay under one, beside one that can only be from 0 to 1.
fn shares(columns: &[Unread], readings: &mut [Reading]) {
    let Some(witness) = inferred(readings, |unit| unit == "0 to 1") else {
        return;
    };
    for (column, reading) in columns.iter().zip(readings.iter_mut()) {
        let entry = reading.entry;
        let small = column.numbers.highest() <= 1.2 && column.numbers.kinds() > 3;
        let share = entry.unit == "%" && entry.range[0] >= -5.0 && entry.range[1] >= 100.0;
        if share && small && open(column, reading) {
            let why = format!(
                "it never passes {} and {witness}",
                show(column.numbers.highest())
            );
            let written = super::scaled(reading.written, 100.0);
            take(column, reading, "0 to 1", written, &why);
        } else if share && small && !column.silent() && reading.from == UnitFrom::Heading {
            reading.questions.push(format!(
                "`{}` never passes {} and {witness}: is it from 0 to 1 too, though its heading says per cent?",
                reading.name,
                show(column.numbers.highest())
            ));
        }
    }
}

/// The first column that was taken for such a unit, in words.
fn inferred(readings: &[Reading], is: impl Fn(&str) -> bool) -> Option<String> {
    let such = |r: &&Reading| r.from == UnitFrom::Numbers && is(&r.unit);
    let first = readings.iter().find(such)?;
    Some(format!("`{}` can only be {}", first.name, first.unit))
}

/// The members of a family are logged in one unit: a dead cylinder's probe never gets hot enough to show it.
fn same_family(columns: &[Unread], readings: &mut [Reading]) {
    for at in 0..readings.len() {
        let (column, reading) = (&columns[at], &readings[at]);
        if !reading.entry.family || !column.silent() || reading.from != UnitFrom::Nobody {
            continue;
        }
        let other = readings
            .iter()
            .find(|r| r.from == UnitFrom::Numbers && r.entry.name == reading.entry.name);
        let Some((name, unit)) = other.map(|r| (r.name.clone(), r.unit.clone())) else {
            continue;
        };
        if let Some(written) = way(reading.entry, &unit) {
            let why = format!("`{name}` beside it can only be that");
            take(&columns[at], &mut readings[at], &unit, written, &why);
        }
    }
}

fn take(column: &Unread, reading: &mut Reading, unit: &str, written: Written, why: &str) {
    reading.questions.clear();
    reading.infer(column, unit, written, why);
}

/// Temperatures at rest that differ by no more are the same, degC (common practice: a cold engine agrees within 5).
const SAME: f64 = 8.0;
/// No engine stands warmer overnight, degC (common practice); in degF this is where a cold day begins.
const COLD: std::ops::RangeInclusive<f64> = -15.0..=45.0;
/// Coolant that is read over this for long boils under every usual cap, degC (common practice).
const BOILS: f64 = 118.0;

fn is_temperature(entry: &Entry) -> bool {
    entry.unit().is_point()
}

fn temperatures(columns: &[Unread], readings: &mut [Reading]) {
    for unit in ["degF", "K"] {
        let such =
            |r: &&Reading| is_temperature(r.entry) && r.from == UnitFrom::Numbers && r.unit == unit;
        if let Some(witness) = readings.iter().find(such) {
            let witness = format!("`{}` can only be {unit}", witness.name);
            return like(unit, &witness, columns, readings);
        }
    }
    all_cold(columns, readings);
}

/// Temperatures beside one that can only be in that unit.
fn like(unit: &str, witness: &str, columns: &[Unread], readings: &mut [Reading]) {
    // What the temperatures that are settled read at rest, degC.
    let mut rests: Vec<f64> = (columns.iter().zip(readings.iter()))
        .filter(|(c, r)| is_temperature(r.entry) && (r.from != UnitFrom::Nobody || !c.silent()))
        .filter_map(|(c, r)| Some(r.standard(c.numbers.at_rest()?)))
        .collect();
    rests.sort_unstable_by(f64::total_cmp);
    let rest = rests
        .get(rests.len() / 2)
        .copied()
        .filter(|r| COLD.contains(r));
    for (column, reading) in columns.iter().zip(readings.iter_mut()) {
        if !is_temperature(reading.entry) || !open(column, reading) {
            continue;
        }
        let Some(way) = way(reading.entry, unit) else {
            continue;
        };
        let own = column.numbers.at_rest();
        let agrees = |reading: f64| rest.map(|rest| (reading - rest).abs() <= SAME);
        let as_read = own.and_then(agrees);
        let as_other = own.and_then(|own| agrees(way.to_standard(own)));
        let high = column.numbers.high();
        let usual = reading.entry.usual.unwrap_or(reading.entry.range);
        let within = |v: f64| (usual[0]..=usual[1]).contains(&v);
        match (as_read, as_other) {
            (Some(false), Some(true)) => {
                let at = shown(way.to_standard(own.unwrap_or(f64::NAN)), "degC");
                let why = format!("{witness}, and only so do they agree at rest ({at})");
                take(column, reading, unit, way, &why);
            }
            (Some(true), Some(false)) => {}
            _ if !within(high) && within(way.to_standard(high)) => {
                let why = format!("{witness}, and {} would be unusual in degC", show(high));
                take(column, reading, unit, way, &why);
            }
            _ => reading.questions.push(format!(
                "`{}` says no unit and is read in degC, but {witness}: is it logged in {unit} too?",
                reading.name
            )),
        }
    }
}

/// Temperatures that agree at rest at 46 to 113 are those of a cold engine in degF, or those of an engine that stands
/// hot; the coolant's later readings tell which, or the person.
fn all_cold(columns: &[Unread], readings: &mut [Reading]) {
    let mut open: Vec<(usize, f64)> = (columns.iter().zip(readings.iter()).enumerate())
        .filter(|(_, (c, r))| {
            is_temperature(r.entry)
                && c.silent()
                && r.from == UnitFrom::Nobody
                && c.numbers.enough()
        })
        .filter_map(|(at, (c, _))| Some((at, c.numbers.at_rest()?)))
        .collect();
    open.sort_unstable_by(|a, b| a.1.total_cmp(&b.1));
    let Some(middle) = open.get(open.len() / 2).map(|o| o.1) else {
        return;
    };
    let degf = |at: usize, v: f64| way(readings[at].entry, "degF").map(|w| w.to_standard(v));
    open.retain(|(_, v)| (v - middle).abs() <= SAME * 1.8);
    let is = |names: &[&str]| {
        open.iter()
            .any(|(at, _)| names.contains(&readings[*at].entry.name.as_str()))
    };
    let slow = is(&["coolant_temp", "oil_temp", "cht"]);
    let quick = is(&["intake_temp", "bay_temp", "egt", "fuel_temp"]);
    let cold = open.first().is_some_and(|(at, _)| {
        !COLD.contains(&middle) && degf(*at, middle).is_some_and(|c| COLD.contains(&c))
    });
    if open.len() < 3 || !slow || !quick || !cold {
        return;
    }
    let boiling = open.iter().find(|(at, _)| {
        readings[*at].entry.name == "coolant_temp" && columns[*at].numbers.high() > BOILS
    });
    let names: Vec<String> = open
        .iter()
        .map(|(at, _)| format!("`{}`", readings[*at].name))
        .collect();
    let alike = format!(
        "{} temperatures agree at rest on {}",
        open.len(),
        show(middle)
    );
    match boiling {
        Some((coolant, _)) => {
            let high = columns[*coolant].numbers.high();
            let why = format!(
                "{alike}, as on a cold engine in degF, and coolant at {} degC would boil",
                show(high)
            );
            for (at, _) in &open {
                if let Some(written) = way(readings[*at].entry, "degF") {
                    take(&columns[*at], &mut readings[*at], "degF", written, &why);
                }
            }
        }
        None => readings[open[0].0].questions.push(format!(
            "{alike} and say no unit ({}): did the engine stand hot, or are they logged in degF?",
            super::listed(&names)
        )),
    }
}

/// Pressure under which no injector at a port works, kPa (common practice).
const FEEDS_NO_PORT: f64 = 130.0;
/// Highest pressure of a rail that feeds ports, kPa (common practice).
const PORT_RAIL: f64 = 1100.0;

/// A pressure over the air whose numbers are too low for kPa.
fn pressure(
    column: &Unread,
    reading: &mut Reading,
    setting: &Setting,
    imperial: Option<&str>,
    bar: Option<&str>,
) {
    let entry = reading.entry;
    let high = column.numbers.high();
    let Some([low, _]) = entry.usual else {
        if let Some(witness) = imperial {
            reading.questions.push(format!(
                "`{}` says no unit and is read in kPa, but {witness}: is it logged in psi?",
                reading.name
            ));
        }
        return;
    };
    // Near nothing, or high enough: no other unit is called for.
    if high >= low || high < 1.0 {
        return;
    }
    let fuel = entry.name.starts_with("fuel_pressure");
    let mut fits = fitting(column, entry, high);
    if fuel && setting.ports {
        fits.retain(|symbol| way(entry, symbol).is_some_and(|w| w.to_standard(high) <= PORT_RAIL));
    }
    let in_unit = |symbol: &str| {
        let written = way(entry, symbol).filter(|_| fits.contains(&symbol))?;
        Some((written, shown(written.to_standard(high), &entry.unit)))
    };
    let only = match fits[..] {
        [one] if fuel && setting.ports && high < FEEDS_NO_PORT => Some(one),
        _ => None,
    };
    let reached = format!("it reaches {}", show(high));
    if let Some(one) = only
        && let Some((written, is)) = in_unit(one)
    {
        let why = format!(
            "{reached}, and in {} that feeds no injector; in {one} it is {is}",
            entry.unit_words()
        );
        take(column, reading, one, written, &why);
    } else if let (Some(witness), Some((written, is))) = (imperial, in_unit("psi")) {
        let why = format!("{reached} and {witness}; in psi that is {is}");
        take(column, reading, "psi", written, &why);
    } else if let (Some(witness), Some((written, is))) = (bar, in_unit("bar")) {
        let why = format!("{reached} and {witness}; in bar that is {is}");
        take(column, reading, "bar", written, &why);
    }
}
