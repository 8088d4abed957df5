//! The air's pressure: what tells it, and pressures moved by it.

use std::sync::Arc;

use super::{Footing, Reading, UnitFrom, Unread};
use crate::sheet::Sheet;
use crate::units::air_at_height_kpa;

/// What can be air where people drive, kPa (reference values, section 2: 65 to 106 over 0 to 3000 m, and a margin).
pub(super) const AIR: std::ops::RangeInclusive<f64> = 60.0..=108.0;
/// High and low pressure about the standard atmosphere, kPa (common practice).
pub(super) const WEATHER: f64 = 4.0;

/// The air's pressure and who says it.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub kpa: f64,
    /// How far it may be off, kPa.
    pub off: f64,
    pub from: &'static str,
}

/// The air by the sheet's height.
pub(super) fn by_height(sheet: &Sheet) -> Option<Known> {
    sheet.air.altitude_m.map(|m| Known {
        kpa: air_at_height_kpa(m),
        off: WEATHER,
        from: "the air at the sheet's height",
    })
}

/// The air by the logged barometer, else by the sheet's height.
pub(super) fn by_baro(columns: &[Unread], readings: &[Reading], sheet: &Sheet) -> Option<Known> {
    let logged = position(columns, "baro").and_then(|at| {
        let n = &columns[at].numbers;
        let kpa = readings[at].standard(n.at_rest().unwrap_or(n.middle()));
        AIR.contains(&kpa).then_some(Known {
            kpa,
            off: 0.0,
            from: "baro",
        })
    });
    logged.or_else(|| by_height(sheet))
}

pub(super) fn position(columns: &[Unread], name: &str) -> Option<usize> {
    columns.iter().position(|c| c.found.name == name)
}

pub(super) fn open(column: &Unread, reading: &Reading) -> bool {
    column.silent() && reading.from == UnitFrom::Nobody && column.numbers.enough()
}

/// The air's pressure over the run, for what has to be moved by it.
#[derive(Debug)]
pub(in crate::recording) struct Air {
    steady: f64,
    /// Times, s, and pressures, kPa, where it is logged.
    logged: Option<(Arc<[f64]>, Vec<f64>)>,
}

impl Air {
    /// From the logged barometer where there is one, else the manifold at rest, else the sheet's height. `None` where
    /// nothing is to be moved, or nothing tells the air. `series` gives the numbers and the times of a column.
    pub(in crate::recording) fn of<'a>(
        columns: &[Unread],
        readings: &[Reading],
        series: impl Fn(usize) -> (&'a [f64], &'a [f64]),
        sheet: &Sheet,
    ) -> Option<Air> {
        if readings.iter().all(|r| r.footing == Footing::AsRead) {
            return None;
        }
        let find = |name: &str| readings.iter().position(|r| r.name == name);
        if let Some(at) = find("baro") {
            let reading = &readings[at];
            let n = &columns[at].numbers;
            let steady = reading.standard(n.at_rest().unwrap_or(n.middle()));
            if AIR.contains(&steady) {
                let (values, times) = series(at);
                let known = times
                    .iter()
                    .zip(values)
                    .map(|(t, v)| (*t, reading.standard(*v)));
                let (times, kpa): (Vec<f64>, Vec<f64>) =
                    known.filter(|p| AIR.contains(&p.1)).unzip();
                let logged = Some((times.into(), kpa));
                return Some(Air { steady, logged });
            }
        }
        let manifold = find("map").filter(|at| readings[*at].footing == Footing::AsRead);
        let rest = manifold
            .and_then(|at| Some(readings[at].standard(columns[at].numbers.at_rest()?)))
            .filter(|kpa| AIR.contains(kpa));
        let steady = rest.or_else(|| sheet.air.altitude_m.map(air_at_height_kpa))?;
        Some(Air {
            steady,
            logged: None,
        })
    }

    /// Moves a column that is in kPa. The barometer stands at each of its readings until the next.
    pub(in crate::recording) fn moved(&self, footing: Footing, values: &mut [f64], times: &[f64]) {
        let sign = match footing {
            Footing::AsRead => return,
            Footing::AddAir => 1.0,
            Footing::TakeAirOff => -1.0,
        };
        let Some((at, kpa)) = &self.logged else {
            return values.iter_mut().for_each(|v| *v += sign * self.steady);
        };
        let mut next = 0;
        for (v, t) in values.iter_mut().zip(times) {
            while at.get(next).is_some_and(|at| at <= t) {
                next += 1;
            }
            let air = kpa
                .get(next.saturating_sub(1))
                .copied()
                .unwrap_or(self.steady);
            *v += sign * air;
        }
    }
}
