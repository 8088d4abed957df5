//! The run as a script sees it: channels and families by name, phases, what several checks share.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, OnceLock};

use super::column::Column;
use super::family::Family;
use super::lazy::Shape;
use super::names;
use super::ops::{Outcome, complain};
use super::sheet_map;
use crate::phases::{self, Facts, LoadFrom, Phases, StartBy};
use crate::recording::{Channel, Recording, Series};
use crate::sheet::{Sheet, Value};
use crate::units::Unit;

/// Families by the name that scripts use, and the stem of their channels.
pub const FAMILIES: [(&str, &str); 7] = [
    ("egt", "egt_"),
    ("cht", "cht_"),
    ("knock", "knock_"),
    ("knock_sensors", "knock_sensor_"),
    ("knock_level", "knock_level_"),
    ("knock_retard", "knock_retard_"),
    ("wheel", "wheel_"),
];

/// What all checks of one review share. Worked out when first asked for.
pub struct Shared {
    /// The recording.
    pub recording: Recording,
    /// What the engine was doing.
    pub phases: Phases,
    /// The build sheet.
    pub sheet: Sheet,
    columns: Mutex<BTreeMap<String, Column>>,
    cycles: OnceLock<Option<Column>>,
    row_times: OnceLock<Column>,
    sheet_map: OnceLock<rhai::Map>,
}

impl Shared {
    /// Finds the phases and puts together what all checks share.
    pub fn prepare(recording: Recording, sheet: Sheet) -> Shared {
        let facts = Facts {
            idle_rpm: sheet.engine.idle_rpm,
            rev_limit_rpm: sheet.engine.rev_limit_rpm,
            load_from: sheet.engine.load_from.map(|l| match l {
                crate::sheet::LoadFrom::Map => LoadFrom::Map,
                crate::sheet::LoadFrom::Tps => LoadFrom::Tps,
            }),
            start_by: sheet.engine.start_by.map(|s| match s {
                crate::sheet::StartBy::Starter => StartBy::Starter,
                crate::sheet::StartBy::Roller => StartBy::Roller,
                crate::sheet::StartBy::Push => StartBy::Push,
            }),
            altitude_m: sheet.air.altitude_m,
            nominal_v: sheet.electrical.nominal_v,
        };
        let phases = phases::find(&recording, &facts);
        Shared::new(recording, phases, sheet)
    }
    /// For one review.
    pub fn new(recording: Recording, phases: Phases, sheet: Sheet) -> Shared {
        Shared {
            recording,
            phases,
            sheet,
            columns: Mutex::default(),
            cycles: OnceLock::new(),
            row_times: OnceLock::new(),
            sheet_map: OnceLock::new(),
        }
    }
    /// The build sheet as a map of the language.
    pub fn sheet_map(&self) -> rhai::Map {
        let made = self.sheet_map.get_or_init(|| sheet_map::of(&self.sheet));
        made.clone()
    }
    fn column(&self, channel: &Channel) -> Column {
        let Ok(mut kept) = self.columns.lock() else {
            return Column::of_channel(channel);
        };
        kept.entry(channel.name.clone())
            .or_insert_with(|| Column::of_channel(channel))
            .clone()
    }
    /// Turns of the crank a cycle: two, but where the sheet says otherwise.
    fn turns(&self) -> f64 {
        self.sheet.cycle_turns().unwrap_or(2.0)
    }
    /// The time of each row, as a column.
    fn row_times(&self) -> &Column {
        self.row_times.get_or_init(|| {
            let rec = &self.recording;
            let series = Series::new(&rec.time, rec.time.to_vec());
            Column::made(
                "time",
                series,
                Unit::standard("s"),
                rec.row_s,
                3.0 * rec.row_s,
            )
        })
    }
    /// Engine cycles since the first row, in thousands: the integral of speed over two turns a cycle (rpm/120), by the
    /// sheet's strokes where they differ. Gaps add nothing.
    fn cycles(&self) -> Option<Column> {
        self.cycles
            .get_or_init(|| {
                let rpm = self.recording.channel("rpm")?;
                let turns = self.turns();
                let turned = self.column(rpm).integral();
                let unit = Unit::standard("1000 cycles");
                let lazy = turned
                    .lazy
                    .each(Shape::OneWay, move |v| v / 60.0 / turns / 1000.0);
                let mut cycles = turned.with(lazy, unit);
                (cycles.name, cycles.label) = ("cycles".into(), "cycles".into());
                cycles.range = None;
                Some(cycles)
            })
            .clone()
    }
}

/// The run in the hands of one check; notes which channels it looks at.
#[derive(Clone)]
pub struct Run {
    /// Shared by all checks.
    pub shared: Arc<Shared>,
    used: Arc<Mutex<BTreeSet<String>>>,
}

impl Run {
    /// For one check.
    pub fn new(shared: &Arc<Shared>) -> Run {
        Run {
            shared: Arc::clone(shared),
            used: Arc::new(Mutex::new(BTreeSet::from(["time".to_string()]))),
        }
    }
    /// Channels looked at so far.
    pub fn used(&self) -> BTreeSet<String> {
        self.used.lock().map(|u| u.clone()).unwrap_or_default()
    }
    /// Notes a channel as looked at.
    pub fn note(&self, name: &str) {
        if let Ok(mut used) = self.used.lock() {
            used.insert(name.to_string());
        }
    }
    /// A channel by name.
    pub fn column(&self, name: &str) -> Option<Column> {
        let channel = self.shared.recording.channel(name)?;
        if channel.series.is_empty() {
            return None;
        }
        self.note(name);
        Some(self.shared.column(channel))
    }
    /// A family by name.
    pub fn family(&self, name: &str) -> Option<Family> {
        let stem = FAMILIES.iter().find(|f| f.0 == name)?.1;
        let channels = self.shared.recording.family(stem);
        if channels.is_empty() {
            return None;
        }
        let members: Vec<Column> = channels
            .iter()
            .map(|c| {
                self.note(&c.name);
                self.shared.column(c)
            })
            .collect();
        let banks = self.banks(&members);
        Some(Family {
            name: name.to_string(),
            members,
            banks,
        })
    }
    fn banks(&self, members: &[Column]) -> Vec<Vec<usize>> {
        let Some(Value::Map(banks)) = self.shared.sheet.entry("engine.banks") else {
            return vec![(0..members.len()).collect()];
        };
        let groups: Vec<Vec<usize>> = banks
            .iter()
            .filter_map(|(_, cylinders)| match cylinders {
                Value::List(list) => Some(
                    (0..members.len())
                        .filter(|i| {
                            members[*i]
                                .cylinder
                                .is_some_and(|c| list.contains(&f64::from(c)))
                        })
                        .collect(),
                ),
                _ => None,
            })
            .filter(|g: &Vec<usize>| !g.is_empty())
            .collect();
        if groups.is_empty() {
            vec![(0..members.len()).collect()]
        } else {
            groups
        }
    }
    /// What `run.something` gives: a family, or a channel, or an error that says what to do.
    pub fn get(&self, name: &str) -> Outcome<rhai::Dynamic> {
        if let Some(family) = self.family(name) {
            return Ok(rhai::Dynamic::from(family));
        }
        if let Some(column) = self.column(name) {
            return Ok(rhai::Dynamic::from(column));
        }
        if !self.knows(name) {
            return complain(self.unknown(name));
        }
        let near = match self.near(name) {
            // What a log has beside it may be what was meant: `egt_1` where `egt_7` is asked for is not.
            Some(near)
                if self.has(&near)
                    && !crate::recording::dictionary::entry(name).is_some_and(|e| e.family) =>
            {
                format!("did you mean `run.{near}`? Or ")
            }
            _ => String::new(),
        };
        complain(format!(
            "this log has no `{name}`\n{near}name it in `needs` of about(), or ask run.has(\"{name}\") first"
        ))
    }
    /// True where a channel or family of that name is there.
    pub fn has(&self, name: &str) -> bool {
        let rec = &self.shared.recording;
        rec.channel(name).is_some_and(|c| !c.series.is_empty())
            || FAMILIES
                .iter()
                .any(|(family, stem)| *family == name && !rec.family(stem).is_empty())
    }
    /// As [`Run::has`] for a name that a person wrote: one that no log could ever have is a slip, not a "no".
    ///
    /// # Errors
    /// It is no standard name, and this log has nothing that is called so.
    pub fn asked(&self, name: &str) -> Outcome<bool> {
        if self.knows(name) {
            Ok(self.has(name))
        } else {
            complain(self.unknown(name))
        }
    }
    fn knows(&self, name: &str) -> bool {
        names::is_known(name) || self.shared.recording.channels.contains_key(name)
    }
    fn near(&self, name: &str) -> Option<String> {
        let channels = self.shared.recording.channels.keys().map(String::as_str);
        let families = FAMILIES.iter().map(|f| f.0).filter(|f| self.has(f));
        let logged: Vec<&str> = families.chain(channels).collect();
        names::near(name, &logged)
    }
    fn unknown(&self, name: &str) -> String {
        let phase = name.replace('_', "-");
        let wanted = match self.near(name) {
            _ if Phases::names().contains(&phase.as_str()) => {
                format!("the spans of a phase are `run.during(\"{phase}\")`")
            }
            Some(near) => format!("did you mean `{near}`?"),
            None => "a standard name: `plugread channels LOG` shows those of a log, scripts/LANGUAGE.md all of them".to_string(),
        };
        format!("no channel is called `{name}`\n{wanted}")
    }
    /// Turns of the crank a cycle.
    pub fn turns(&self) -> f64 {
        self.shared.turns()
    }
    /// A column worked out from speed alone, where it turns.
    pub fn by_speed(
        &self,
        unit: Unit,
        f: impl Fn(f64) -> Option<f64> + Send + Sync + 'static,
    ) -> Outcome<Column> {
        let Some(rpm) = self.column("rpm") else {
            return complain("there is no `rpm` in this log");
        };
        let lazy = rpm.lazy.each(Shape::Any, move |v| f(v).unwrap_or(f64::NAN));
        Ok(Column {
            range: None,
            ..rpm.with(lazy, unit)
        })
    }
    /// A column worked out from a pulse in ms and speed, where it turns.
    pub fn with_speed(
        &self,
        pulse: &Column,
        unit: Unit,
        f: impl Fn(f64, f64) -> Option<f64> + Send + Sync + 'static,
    ) -> Outcome<Column> {
        if pulse.unit != Unit::standard("ms") {
            return complain(format!(
                "a pulse in ms is wanted, not {} in {}",
                pulse.name,
                pulse.unit.key()
            ));
        }
        let Some(rpm) = self.column("rpm") else {
            return complain("there is no `rpm` in this log");
        };
        let lazy = pulse.lazy.both(&rpm.lazy, Shape::Any, move |ms, rpm| {
            f(ms, rpm).unwrap_or(f64::NAN)
        });
        Ok(Column {
            range: None,
            ..pulse.with(lazy, unit)
        })
    }
    /// The time of each row in use.
    pub fn row_times(&self) -> Column {
        self.shared.row_times().clone()
    }
    /// Engine cycles in thousands.
    pub fn cycles(&self) -> Option<Column> {
        self.note("rpm");
        self.shared.cycles()
    }
    /// The cylinders that a member of a knock family hears: its own, or those that the sheet maps to its sensor. Empty
    /// where nobody says.
    pub fn hears(&self, column: &Column) -> Vec<u32> {
        if let Some(cylinder) = column.cylinder {
            return vec![cylinder];
        }
        let letter = column.name.rsplit('_').next().unwrap_or_default();
        let Some(Value::Map(sensors)) = self.shared.sheet.entry("sensors.knock_sensors") else {
            return Vec::new();
        };
        let Some((_, Value::List(list))) = sensors.iter().find(|(name, _)| name == letter) else {
            return Vec::new();
        };
        list.iter().map(|c| *c as u32).collect()
    }
}
