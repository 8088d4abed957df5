//! Pressures against the air: in which unit the manifold and the barometer are, and what each pressure is measured from.
//!
//! While the engine stands, the manifold holds the air itself and every gauge shows nothing. Without a rest, or without
//! anything that tells the air's pressure, nothing is moved.

use super::scale::out_of_range;
use super::{Footing, Reading, UnitFrom, Unread, said_absolute, show, shown, wants_absolute, way};
use crate::recording::dictionary::Entry;
use crate::recording::numbers::Numbers;
use crate::sheet::Sheet;
use crate::units::{Written, air_at_height_kpa};

/// What can be air where people drive, kPa (reference values, section 2: 65 to 106 over 0 to 3000 m, and a margin).
const AIR: std::ops::RangeInclusive<f64> = 60.0..=108.0;
/// A resting manifold is the air within this, kPa, or within this share of the sensor's full scale (field notes,
/// section 3); the least full scale, kPa, is that of a 2.5 bar sensor (common practice).
const SLACK: f64 = 2.0;
const SLACK_SHARE: f64 = 0.015;
const FULL_SCALE: f64 = 250.0;
/// High and low pressure about the standard atmosphere, kPa (common practice).
const WEATHER: f64 = 4.0;
/// A sender that rests so close to the air measures from vacuum, kPa (field notes, section 3).
const SEALED: f64 = 5.0;
/// A gauge that rests so close to nothing measures from the air, kPa (common practice: 2 % of a 1000 kPa sender).
const NOTHING: f64 = 20.0;
/// Under this no manifold can be by vacuum, kPa; at idle it is at least so far under the air.
const NO_VACUUM: f64 = -5.0;
const IDLE_UNDER: f64 = 20.0;
/// Whole runs do not stay under this, kPa absolute (common practice: a long idle stands at 25 or more).
const IDLE_LEAST: f64 = 22.0;
/// Manifold pressure that a run reaches, kPa absolute (common practice).
const RUN_REACHES: std::ops::RangeInclusive<f64> = 60.0..=400.0;

/// The air's pressure and who says it.
#[derive(Clone, Debug)]
struct Air {
    kpa: f64,
    off: f64,
    from: &'static str,
}

/// The air by the sheet's height.
fn by_height(sheet: &Sheet) -> Option<Air> {
    sheet.air.altitude_m.map(|m| Air {
        kpa: air_at_height_kpa(m),
        off: WEATHER,
        from: "the air at the sheet's height",
    })
}

/// The air by the logged barometer, else by the sheet's height.
fn by_baro(columns: &[Unread], readings: &[Reading], sheet: &Sheet) -> Option<Air> {
    let logged = position(columns, "baro").and_then(|at| {
        let n = &columns[at].numbers;
        let kpa = readings[at].standard(n.at_rest().unwrap_or(n.middle()));
        AIR.contains(&kpa).then_some(Air {
            kpa,
            off: 0.0,
            from: "baro",
        })
    });
    logged.or_else(|| by_height(sheet))
}

fn position(columns: &[Unread], name: &str) -> Option<usize> {
    columns.iter().position(|c| c.found.name == name)
}

fn open(column: &Unread, reading: &Reading) -> bool {
    column.silent() && reading.from == UnitFrom::Nobody && column.numbers.enough()
}

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

/// Finds what each pressure is measured from, first those that tell the air.
pub(super) fn footings(columns: &[Unread], readings: &mut [Reading], sheet: &Sheet) {
    let mut air = by_baro(columns, readings, sheet);
    if let Some(at) = position(columns, "map") {
        manifold(&columns[at], &mut readings[at], air.as_ref());
        let rest = columns[at]
            .numbers
            .at_rest()
            .map(|r| readings[at].standard(r));
        let absolute = readings[at].footing == Footing::AsRead;
        let logged = air.as_ref().is_some_and(|a| a.off == 0.0);
        // Where nothing else tells the air, a manifold that holds it does.
        if let Some(kpa) = rest.filter(|r| absolute && !logged && AIR.contains(r)) {
            air = Some(Air {
                kpa,
                off: 0.0,
                from: "the resting manifold",
            });
        }
    }
    for (column, reading) in columns.iter().zip(readings.iter_mut()) {
        if wants_absolute(reading.entry) == Some(false) && reading.from != UnitFrom::Sheet {
            gauge(column, reading, air.as_ref());
        }
        let moved = reading.footing != Footing::AsRead;
        if moved && air.is_none() {
            leave_out(column, reading);
        }
        let plain = !moved && reading.questions.is_empty() && column.numbers.enough();
        if plain && wants_absolute(reading.entry) == Some(true) && reading.from != UnitFrom::Sheet {
            out_of_range(column, reading);
        }
    }
}

fn leave_out(column: &Unread, reading: &mut Reading) {
    let kind = match reading.footing {
        Footing::AddAir => "over the air, and wanted from vacuum",
        _ => "from vacuum, and wanted over the air",
    };
    let why = format!(
        "it is measured {kind}; nothing tells the air's pressure: put air.altitude_m into the build sheet, or log baro"
    );
    reading.questions.push(format!(
        "`{}` (`{}`) cannot be used: {why}. How high above the sea was the run?",
        reading.name, column.header
    ));
    reading.left_out = Some(why);
}

/// Units in which air is logged.
const AIR_UNITS: [&str; 6] = ["kPa", "psi", "bar", "inHg", "hPa", "mmHg"];

/// Those in which a figure is air, near to what the air is known to be.
fn air_in(entry: &Entry, raw: f64, air: Option<&Air>, slack: f64) -> Vec<(&'static str, Written)> {
    let fits =
        |kpa: f64| AIR.contains(&kpa) && air.is_none_or(|a| (kpa - a.kpa).abs() <= slack + a.off);
    (AIR_UNITS.into_iter())
        .filter_map(|unit| Some((unit, way(entry, unit)?)))
        .filter(|(_, w)| fits(w.to_standard(raw)))
        .collect()
}

fn baro(column: &Unread, reading: &mut Reading, height: Option<&Air>) {
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
fn slack(n: &Numbers, reading: &Reading) -> f64 {
    let full = reading.standard(n.highest()).max(FULL_SCALE);
    (SLACK_SHARE * full).max(SLACK)
}

fn manifold(column: &Unread, reading: &mut Reading, air: Option<&Air>) {
    let n = &column.numbers;
    if reading.from == UnitFrom::Sheet || !n.enough() {
        return;
    }
    let said = said_absolute(column.found);
    let Some(rest) = n.at_rest().map(|r| reading.standard(r)) else {
        let low = reading.standard(n.low());
        if low < NO_VACUUM && said != Some(true) {
            over_air(
                column,
                reading,
                &format!("goes down to {}, under a perfect vacuum", shown(low, "kPa")),
            );
        } else if said == Some(false) {
            over_air(column, reading, "is headed so");
        } else if said.is_none()
            && column
                .found
                .unit_note
                .as_deref()
                .is_some_and(|n| n.contains("boost"))
        {
            reading.questions.push(format!(
                "`{}` comes from a column `{}`, and the engine never stands in this log: is it absolute, or over the air? map = \"kPa gauge\" under [units] in the build sheet would say the second.",
                reading.name, column.header
            ));
        }
        return;
    };
    let slack = slack(n, reading);
    let is_air = AIR.contains(&rest) && air.is_none_or(|a| (rest - a.kpa).abs() <= slack + a.off);
    let is_nothing = rest.abs() <= slack;
    match (is_nothing, is_air, said) {
        (true, _, Some(true)) => {
            over_air(column, reading, &format!("says absolute, but rests at {}", shown(rest, "kPa")));
        }
        (true, _, _) => over_air(column, reading, &format!("rests at {}", shown(rest, "kPa"))),
        (false, true, Some(false)) => reading.questions.push(format!(
            "`{}` says that it is over the air, but rests at {}, which is the air itself: it was read as absolute. Is its heading wrong?",
            column.header,
            shown(rest, "kPa")
        )),
        (false, false, Some(false)) => over_air(column, reading, "is headed so"),
        (false, ..) => {}
    }
}

/// Marks a manifold pressure as measured over the air.
fn over_air(column: &Unread, reading: &mut Reading, why: &str) {
    reading.footing = Footing::AddAir;
    reading.because.push(format!(
        "`{}` ({}) {why}: it is measured over the air, so the air's pressure was added.",
        column.header, reading.name
    ));
    if said_absolute(column.found) != Some(false) {
        reading.questions.push(format!(
            "`{}` {why}: it was taken as measured over the air. Is that right? {0} = \"{} gauge\" under [units] in the build sheet settles it, or \"absolute\".",
            reading.name, reading.unit
        ));
    }
}

/// The unit of a manifold pressure that no heading names.
fn unit_of_manifold(column: &Unread, reading: &mut Reading, air: Option<&Air>) {
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

/// A pressure that is wanted over the air.
fn gauge(column: &Unread, reading: &mut Reading, air: Option<&Air>) {
    let n = &column.numbers;
    let said = said_absolute(column.found);
    let name = reading.name.clone();
    let from_vacuum = |reading: &mut Reading, why: &str| {
        reading.footing = Footing::TakeAirOff;
        reading.because.push(format!(
            "`{}` ({name}) {why}: it is measured from vacuum, so the air's pressure was taken off.",
            column.header
        ));
    };
    let rest = n.at_rest().map(|r| reading.standard(r));
    let (Some(rest), Some((low, high)), Some(air)) = (rest, n.rest_range(), air) else {
        if said == Some(true) {
            from_vacuum(reading, "is headed so");
        }
        return;
    };
    if said == Some(true) {
        if rest.abs() <= NOTHING {
            reading.questions.push(format!(
                "`{}` says absolute, but rests at {} where the air is {}: it was read as over the air. Is its heading wrong?",
                column.header,
                shown(rest, "kPa"),
                shown(air.kpa, "kPa")
            ));
        } else {
            from_vacuum(reading, "is headed so");
        }
        return;
    }
    // What bleeds away passes through the air's own value without standing there, and a pump raises it before the start;
    // but what measures from vacuum never reads much less.
    let fuel = name.starts_with("fuel_pressure");
    let rest = if fuel { reading.standard(low) } else { rest };
    let stands = reading.standard(high) - reading.standard(low) <= 2.0 * SEALED;
    let floor = reading.standard(n.low()) > air.kpa - 2.0 * SEALED - air.off;
    let moves = reading.standard(n.highest()) - rest > 2.0 * SEALED;
    if (rest - air.kpa).abs() > SEALED + air.off || !floor || !moves || !(stands || fuel) {
        return;
    }
    let at_air = format!(
        "rests at {}, which is the air itself by {}",
        shown(rest, "kPa"),
        air.from
    );
    // Under its cap a hot cooling system holds such a pressure, too, and so may a fuel line.
    let sure = stands && name != "coolant_pressure" && (air.off == 0.0 || name == "oil_pressure");
    let offset = shown(-air.kpa, "kPa");
    let line = format!(
        "{name} = \"{} absolute\" under [units] in the build sheet",
        reading.unit
    );
    if sure {
        from_vacuum(reading, &at_air);
        reading.questions.push(format!(
            "`{name}` {at_air}: it was taken for an absolute sender. Is that right? {line} settles it, or an offset of {offset} in the logger; if the sender should show nothing there, it is wrong."
        ));
    } else {
        reading.questions.push(format!(
            "`{name}` {at_air}: does its sender measure from vacuum? Then {line}, or an offset of {offset} in the logger, puts it right."
        ));
    }
}

/// The air's pressure in each row, for what has to be moved by it.
#[derive(Debug)]
pub(in crate::recording) struct AirRows {
    steady: f64,
    rows: Option<Vec<f64>>,
}

impl AirRows {
    /// From the logged barometer where there is one, else the manifold at rest, else the sheet's height. `None` where
    /// nothing is to be moved, or nothing tells the air.
    pub(in crate::recording) fn of(
        columns: &[Unread],
        readings: &[Reading],
        values: &[&[f64]],
        sheet: &Sheet,
    ) -> Option<AirRows> {
        if readings.iter().all(|r| r.footing == Footing::AsRead) {
            return None;
        }
        let find = |name: &str| readings.iter().position(|r| r.name == name);
        if let Some(at) = find("baro") {
            let reading = &readings[at];
            let n = &columns[at].numbers;
            let steady = reading.standard(n.at_rest().unwrap_or(n.middle()));
            if AIR.contains(&steady) {
                let mut held = steady;
                let rows = values[at].iter().map(|v| {
                    let now = reading.standard(*v);
                    if AIR.contains(&now) {
                        held = now;
                    }
                    held
                });
                return Some(AirRows {
                    steady,
                    rows: Some(rows.collect()),
                });
            }
        }
        let manifold = find("map").filter(|at| readings[*at].footing == Footing::AsRead);
        let rest = manifold
            .and_then(|at| Some(readings[at].standard(columns[at].numbers.at_rest()?)))
            .filter(|kpa| AIR.contains(kpa));
        let steady = rest.or_else(|| sheet.air.altitude_m.map(air_at_height_kpa))?;
        Some(AirRows { steady, rows: None })
    }

    /// Moves a column that is in kPa.
    pub(in crate::recording) fn moved(&self, footing: Footing, values: &mut [f64]) {
        let sign = match footing {
            Footing::AsRead => return,
            Footing::AddAir => 1.0,
            Footing::TakeAirOff => -1.0,
        };
        match &self.rows {
            Some(rows) => values
                .iter_mut()
                .zip(rows)
                .for_each(|(v, air)| *v += sign * air),
            None => values.iter_mut().for_each(|v| *v += sign * self.steady),
        }
    }
}
