//! Readings that mean something else than their figures say.

use super::{Alike, Variant};
use crate::dialects::run::Run;

/// Baro of the run at rest, kPa, which a sealed gauge sensor would take off.
fn rest_kpa(run: &mut Run) -> f64 {
    run.col("baro")
        .truth
        .iter()
        .flatten()
        .copied()
        .next()
        .expect("baro is logged")
}

pub fn traps() -> Vec<Variant> {
    let headed = |standard: &'static str, name: &'static str| {
        move |run: &mut Run| name.clone_into(&mut run.col(standard).name)
    };
    let afr = |run: &mut Run| {
        run.in_unit("lambda", "", 14.7, 0.0, 2);
        run.in_unit("lambda_target", "", 14.7, 0.0, 2);
        headed("lambda", "AFR")(run);
        headed("lambda_target", "AFR Target")(run);
    };
    let gauge = |run: &mut Run| {
        let rest = rest_kpa(run);
        run.in_unit("map", "kPa", 1.0, -rest, 1);
        // The car climbs: what is added again may be the air at rest or the air of the moment.
        run.col("map").within = 3.0;
    };
    // Of the knock channels only those by cylinder are counts for sure.
    let per_row = |run: &mut Run| {
        for col in run
            .cols
            .iter_mut()
            .filter(|c| c.name.starts_with("Knock Cyl"))
        {
            let mut before = 0.0;
            for cell in col.cells.iter_mut().flatten() {
                let count = *cell;
                *cell = count - before;
                before = count;
            }
        }
    };
    let share = |names: &'static [&'static str]| {
        move |run: &mut Run| {
            names
                .iter()
                .for_each(|name| run.in_unit(name, "", 0.01, 0.0, 3))
        }
    };
    vec![
        Variant::run("air-fuel ratio on petrol's scale", afr)
            .alike(Alike::Near)
            .said(&["14.7"]),
        Variant::run("manifold pressure over the air", gauge)
            .alike(Alike::Verdicts)
            .said(&["rest"]),
        Variant::run("shares from 0 to 1", share(&["tps", "injector_duty"])).alike(Alike::Near),
        Variant::run("throttle alone from 0 to 1", share(&["tps"])).alike(Alike::Near),
        Variant::run("acceleration in metres without a unit", |run: &mut Run| {
            run.in_unit("lateral_g", "", 9.806_65, 0.0, 3);
            headed("lateral_g", "Lateral Acceleration")(run);
        })
        .alike(Alike::Near),
        Variant::run("knock counted in each row", per_row),
    ]
}
