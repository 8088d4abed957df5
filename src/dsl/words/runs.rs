//! The run: channels, phases, the build sheet.

use rhai::plugin::*;

use crate::dsl::column::Quantity;
use crate::units::Unit;

fn time(value: f64) -> Quantity {
    Quantity {
        value,
        unit: Unit::standard("s"),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::time;
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::limits::Limits;
    use crate::dsl::ops::{Outcome, complain};
    use crate::dsl::run::Run;
    use crate::phases::Phases;
    use crate::sheet::nearest;
    use crate::span::Spans;
    use crate::trade::cycle;
    use crate::units::Unit;
    use rhai::{Array, Map};

    /// A limit by its name in about(): `limits.spread`.
    #[rhai_fn(index_get, return_raw, pure)]
    pub fn limit_by_name(limits: &mut Limits, name: &str) -> Outcome<Quantity> {
        limits.get(name)
    }
    /// A channel or family by its standard name: `run.rpm`, `run.egt`.
    #[rhai_fn(index_get, return_raw, pure)]
    pub fn channel_by_name(run: &mut Run, name: &str) -> Outcome<Dynamic> {
        run.get(name)
    }
    /// True where the log has that channel or family. A name that is no standard name is an error, not a "no".
    #[rhai_fn(return_raw, pure)]
    pub fn has(run: &mut Run, name: &str) -> Outcome<bool> {
        run.asked(name)
    }
    /// Every channel that a sensor fed by the car's supply brings, as columns.
    #[rhai_fn(pure)]
    pub fn analogue(run: &mut Run) -> Array {
        let names: Vec<String> = run
            .shared
            .recording
            .channels
            .values()
            .filter(|c| c.entry.analogue)
            .map(|c| c.name.clone())
            .collect();
        names
            .iter()
            .filter_map(|n| run.column(n))
            .map(Dynamic::from)
            .collect()
    }
    /// Spans of a phase: `off`, `key-on`, `cranking`, `running`, `warm-up`, `idle`, `steady`, `pull`, `overrun`, `cut`,
    /// `after-stop`, `turning` (any rotation), `rest` (before the first rotation), `priming` (a spin with fuel off).
    #[rhai_fn(return_raw, name = "during", pure)]
    pub fn during(run: &mut Run, phase: &str) -> Outcome<Spans> {
        match run.shared.phases.get(phase) {
            Some(spans) => {
                run.note("rpm");
                Ok(spans.clone())
            }
            None => {
                let near = nearest(phase, Phases::names().iter().copied());
                let near = near.map_or_else(String::new, |n| format!("did you mean `{n}`? "));
                complain(format!(
                    "there is no phase `{phase}`\n{near}One of {}",
                    Phases::names().join(", ")
                ))
            }
        }
    }
    /// Steady spans, begun so much later that a sensor of that lag has followed.
    #[rhai_fn(return_raw, pure)]
    pub fn settled(run: &mut Run, lag: Quantity) -> Outcome<Spans> {
        if lag.unit != Unit::standard("s") {
            return complain(format!("settled wants a time, not {}", lag.unit.key()));
        }
        run.note("rpm");
        Ok(run.shared.phases.settled(lag.value))
    }
    /// The moment of the first fire, or `()` where the log does not show it.
    #[rhai_fn(get = "first_fire", pure)]
    pub fn first_fire(run: &mut Run) -> Dynamic {
        run.note("rpm");
        run.shared
            .phases
            .first_fire_s
            .map_or(Dynamic::UNIT, |t| Dynamic::from(time(t)))
    }
    /// The channel that stands for load: MAP, or throttle where the sheet or an uneven idle says so. `()` where neither is
    /// logged.
    #[rhai_fn(get = "load", pure)]
    pub fn load(run: &mut Run) -> Dynamic {
        let name = run.shared.phases.load.as_ref().map(|l| l.channel());
        name.and_then(|n| run.column(n))
            .map_or(Dynamic::UNIT, Dynamic::from)
    }
    /// From light to full load on that channel, as this run showed it: `#{ low, high }`, or `()`.
    #[rhai_fn(get = "load_span", pure)]
    pub fn load_span(run: &mut Run) -> Dynamic {
        let Some(load) = run.shared.phases.load.clone() else {
            return Dynamic::UNIT;
        };
        let Some(column) = run.column(load.channel()) else {
            return Dynamic::UNIT;
        };
        let mut map = Map::new();
        map.insert(
            "low".into(),
            Dynamic::from(Quantity {
                value: load.low,
                unit: column.unit,
            }),
        );
        map.insert(
            "high".into(),
            Dynamic::from(Quantity {
                value: load.high,
                unit: column.unit,
            }),
        );
        Dynamic::from(map)
    }
    /// Air pressure: logged, or MAP before the start, or by the sheet's height. `()` where none of them is there.
    #[rhai_fn(get = "air_pressure", pure)]
    pub fn air_pressure(run: &mut Run) -> Dynamic {
        run.shared
            .phases
            .baro_kpa
            .map_or(Dynamic::UNIT, |(value, _)| {
                Dynamic::from(Quantity {
                    value,
                    unit: Unit::standard("kPa"),
                })
            })
    }
    /// Where that air pressure comes from, in words; empty where there is none.
    #[rhai_fn(get = "air_pressure_from", pure)]
    pub fn air_pressure_from(run: &mut Run) -> String {
        run.shared
            .phases
            .baro_kpa
            .map_or(String::new(), |(_, from)| from.to_string())
    }
    /// Engine cycles since the first row, in thousands: grows by one for each 1000 cycles of one cylinder.
    #[rhai_fn(get = "cycles", return_raw, pure)]
    pub fn cycles(run: &mut Run) -> Outcome<Column> {
        run.cycles().map_or_else(
            || complain("there is no `rpm` in this log, so no cycles can be counted"),
            Ok,
        )
    }
    /// Turns of the crank a cycle by the sheet: 2 for a four-stroke (720 degrees), 1 for a two-stroke and for each rotor of a
    /// rotary; `()` where the sheet does not say.
    #[rhai_fn(get = "cycle_turns", pure)]
    pub fn cycle_turns(run: &mut Run) -> Dynamic {
        run.shared
            .sheet
            .cycle_turns()
            .map_or(Dynamic::UNIT, Dynamic::from)
    }
    /// Length of one engine cycle over time, in ms: 120000 over the speed for a four-stroke, half of that for two-stroke and
    /// rotary. Taken for a four-stroke where the sheet does not say.
    #[rhai_fn(get = "cycle_time", return_raw, pure)]
    pub fn cycle_time(run: &mut Run) -> Outcome<Column> {
        let turns = run.turns();
        run.by_speed(Unit::standard("ms"), move |rpm| {
            cycle::milliseconds(rpm, turns)
        })
    }
    /// Firings a second of all cylinders (rotors) by the sheet, over time; taken for a four-stroke where it does not say.
    #[rhai_fn(name = "firings", return_raw, pure)]
    pub fn firings(run: &mut Run, cylinders: i64) -> Outcome<Column> {
        let (turns, cylinders) = (run.turns(), cylinders as f64);
        run.by_speed(Unit::standard("per s"), move |rpm| {
            cycle::firings_per_second(rpm, turns, cylinders)
        })
    }
    /// Duty over time of an injector that opens for a pulse so many times a cycle, in %; over 100 it never closes.
    #[rhai_fn(return_raw, pure)]
    pub fn duty_of(run: &mut Run, pulse: Column, injections_per_cycle: i64) -> Outcome<Column> {
        let (turns, times) = (run.turns(), injections_per_cycle as f64);
        run.with_speed(&pulse, Unit::standard("%"), move |ms, rpm| {
            cycle::duty(ms, rpm, turns, times)
        })
    }
    /// Headroom over time: ms between the end of one pulse and the beginning of the next, so many injections a cycle. Under
    /// zero the injector never closes.
    #[rhai_fn(return_raw, pure)]
    pub fn closed_time(run: &mut Run, pulse: Column, injections_per_cycle: i64) -> Outcome<Column> {
        let (turns, times) = (run.turns(), injections_per_cycle as f64);
        run.with_speed(&pulse, Unit::standard("ms"), move |ms, rpm| {
            cycle::gap(ms, rpm, turns, times)
        })
    }
    /// Stoichiometric air-fuel ratio of the sheet's fuel, or `()`.
    #[rhai_fn(get = "stoich", pure)]
    pub fn stoich(run: &mut Run) -> Dynamic {
        run.shared
            .sheet
            .stoich_afr()
            .map_or(Dynamic::UNIT, Dynamic::from)
    }
    /// The clock as it was logged, at the times in use, or `()` for a log without one.
    #[rhai_fn(get = "clock", pure)]
    pub fn clock(run: &mut Run) -> Dynamic {
        let rec = &run.shared.recording;
        rec.clock.clone().map_or(Dynamic::UNIT, |series| {
            Dynamic::from(Column::made(
                "clock",
                series,
                Unit::standard("s"),
                rec.row_s,
                3.0 * rec.row_s,
            ))
        })
    }
    /// The time of each row in use, as a column: what other clocks are held against.
    #[rhai_fn(get = "time", pure)]
    pub fn row_times(run: &mut Run) -> Column {
        run.row_times()
    }
    /// Stretches without rows.
    #[rhai_fn(get = "gaps", pure)]
    pub fn gaps(run: &mut Run) -> Spans {
        run.shared.recording.gaps.clone()
    }
    /// The time that rows cover: the run without its gaps.
    #[rhai_fn(get = "covered", pure)]
    pub fn covered(run: &mut Run) -> Spans {
        run.shared.recording.covered()
    }
    /// Median row period.
    #[rhai_fn(get = "row_period", pure)]
    pub fn row_period(run: &mut Run) -> Quantity {
        time(run.shared.recording.row_s)
    }
    /// Time of the first row.
    #[rhai_fn(get = "start", pure)]
    pub fn start(run: &mut Run) -> Quantity {
        time(run.shared.recording.start_s())
    }
    /// Time of the last row.
    #[rhai_fn(get = "end", pure)]
    pub fn end(run: &mut Run) -> Quantity {
        time(run.shared.recording.end_s())
    }
    /// The build sheet: `run.sheet.electrical.regulator_v`. An entry that nobody filled in is `()`.
    #[rhai_fn(get = "sheet", pure)]
    pub fn sheet(run: &mut Run) -> Map {
        run.shared.sheet_map()
    }
    /// Number of cells of a lead-acid battery by the sheet's nominal voltage (12 V has 6, 16 V has 8); `()` where the
    /// sheet does not say.
    #[rhai_fn(get = "cells", pure)]
    pub fn cells(run: &mut Run) -> Dynamic {
        run.shared
            .sheet
            .cells()
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n)))
    }
    /// Number of cylinders by the sheet, or `()`.
    #[rhai_fn(get = "cylinders", pure)]
    pub fn cylinders(run: &mut Run) -> Dynamic {
        run.shared
            .sheet
            .cylinders()
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n)))
    }
    /// The cylinders that a knock channel hears: its own, or those the sheet maps to its sensor; empty where nobody says.
    #[rhai_fn(pure)]
    pub fn hears(run: &mut Run, column: Column) -> Array {
        run.hears(&column)
            .into_iter()
            .map(|n| Dynamic::from(i64::from(n)))
            .collect()
    }
}
