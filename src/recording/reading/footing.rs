//! What each pressure is measured from: the air or vacuum.
//!
//! While the engine stands, the manifold holds the air itself and every gauge shows nothing. Without a rest, or without
//! anything that tells the air's pressure, nothing is moved.

use super::air::{AIR, Known, by_baro, position};
use super::air_units::slack;
use super::scale::out_of_range;
use super::{Footing, Reading, UnitFrom, Unread, said_absolute, shown, wants_absolute};
use crate::sheet::Sheet;

/// A sender that rests so close to the air measures from vacuum, kPa (field notes, section 3).
const SEALED: f64 = 5.0;
/// A gauge that rests so close to nothing measures from the air, kPa (common practice: 2 % of a 1000 kPa sender).
const NOTHING: f64 = 20.0;
/// Under this no manifold can be by vacuum, kPa (common practice).
const NO_VACUUM: f64 = -5.0;

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
            air = Some(Known {
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

fn manifold(column: &Unread, reading: &mut Reading, air: Option<&Known>) {
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

/// A pressure that is wanted over the air.
fn gauge(column: &Unread, reading: &mut Reading, air: Option<&Known>) {
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
