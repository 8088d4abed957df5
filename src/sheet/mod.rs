//! The build sheet: the engine builder's own record of one engine, in TOML.
//!
//! Every entry is optional. What is missing stays `None`, so that a check which needs it can ask for it; nothing is
//! filled in by guess. A sheet that says something impossible is refused as a whole, with every problem shown at its
//! place: a figure taken from a wrong sheet would be believed.
//!
//! [`SCHEMA`] is the one table of entries: the reader, [`Sheet::entry`] and the starter sheet all follow it.

mod agree;
mod nearest;
mod places;
mod read;
mod schema;
mod sections;
mod starter;
mod syntax;
mod value;

#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};

pub use nearest::nearest;
pub use places::{Place, Problem, SheetError};
pub use schema::{Entry, Kind, SCHEMA, SECTIONS, Section, find};
pub use sections::{
    Air, BatteryTap, BatteryType, Bearings, Charging, ClockUnit, Cooling, Display, Electrical,
    Engine, Fuel, FuelKind, FuelSystem, LoadFrom, LogDates, LogEncoding, LogForced, Oil, OilSystem,
    PressureUnit, Regulator, Sensors, SpeedUnit, StartBy, Strokes, TemperatureUnit,
};
pub use starter::{Seen, starter};
pub use value::{Groups, Value};

use places::Source;

/// One build sheet. `Sheet::default()` is the empty one, where everything is unknown.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Where the sheet was read from; `None` for the empty sheet and for text given to [`parse`].
    pub path: Option<PathBuf>,
    /// The engine itself.
    pub engine: Engine,
    /// What it burns and how the fuel gets in.
    pub fuel: Fuel,
    /// The air it breathes.
    pub air: Air,
    /// The oil system.
    pub oil: Oil,
    /// The cooling system.
    pub cooling: Cooling,
    /// Battery, charging, loads.
    pub electrical: Electrical,
    /// Which cylinder each numbered probe or sensor hears.
    pub sensors: Sensors,
    /// Limits that the builder changed, in the order of the sheet. Whether such a check and limit exist, and whether
    /// the unit fits, is for the stage that knows the checks.
    pub limits: Vec<LimitEntry>,
    /// (standard name, column header, place of the header) in the order of the sheet. The place of the name itself is
    /// `sheet.key_place("channels.<name>")`.
    pub channels: Vec<(String, String, Place)>,
    /// What columns are logged in, in the order of the sheet. Whether the words fit the channel is for the stage that
    /// knows the channels.
    pub units: Vec<UnitEntry>,
    /// What is forced about the log's format.
    pub log: LogForced,
    /// The units that a person wants to read.
    pub display: Display,
    source: Source,
}

/// One limit of the `[limits]` section.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitEntry {
    /// Check and limit together, as written: `egt-spread.spread`.
    pub key: String,
    /// The check's id: `egt-spread`.
    pub check: String,
    /// The limit's name: `spread`.
    pub limit: String,
    /// The value as written.
    pub value: LimitValue,
    /// Where the key stands.
    pub place: Place,
    /// Where the value stands.
    pub value_place: Place,
}

/// One line of the `[units]` section: what a column is logged in.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitEntry {
    /// Standard name of the channel.
    pub name: String,
    /// A unit or another word for how its numbers are to be read, as written: `psi`, `kPa gauge`, `count per row`.
    pub text: String,
    /// Where the name stands.
    pub place: Place,
    /// Where the text stands.
    pub text_place: Place,
}

/// A limit's value, before its unit is known.
#[derive(Clone, Debug, PartialEq)]
pub enum LimitValue {
    /// A plain number, in the limit's own unit. Finite.
    Number(f64),
    /// A number with a unit, `120 degF`: not yet checked, only known not to be blank.
    Text(String),
}

/// Reads a build sheet from a file.
///
/// # Errors
/// [`SheetError::Unreadable`] when the file cannot be read, [`SheetError::Wrong`] with every problem found in it.
pub fn read(path: &Path) -> Result<Sheet, SheetError> {
    let (name, text) = read::text_of(path)?;
    let mut sheet = parse(&name, &text)?;
    sheet.path = Some(path.to_owned());
    Ok(sheet)
}

/// Reads a build sheet from text; `name` is what diagnostics call it, as a rule the file's name.
///
/// # Errors
/// [`SheetError::Wrong`] with every problem found, in the order of the lines.
pub fn parse(name: &str, text: &str) -> Result<Sheet, SheetError> {
    read::sheet(name, text)
}

impl Sheet {
    /// A diagnostic at a place of this sheet, for what only a later stage can know: an unknown check, a unit that does
    /// not fit, a column that the log does not have. Several are joined with [`SheetError::and`].
    pub fn complain(&self, place: &Place, what: &str, wanted: &str) -> SheetError {
        SheetError::Wrong(vec![self.source.problem(*place, what, wanted)])
    }

    /// Where an entry's value stands, by its dotted name, `electrical.regulator_v`; `None` when it was not written.
    pub fn place(&self, dotted: &str) -> Option<Place> {
        self.source.place(canonical(dotted)).map(|(_, value)| value)
    }

    /// Where an entry's key stands, by its dotted name.
    pub fn key_place(&self, dotted: &str) -> Option<Place> {
        self.source.place(canonical(dotted)).map(|(key, _)| key)
    }

    /// Any entry by its dotted name, as a plain value in the unit that [`SCHEMA`] states; `None` when it is unknown
    /// or there is no such entry ([`find`] tells these apart). `engine.fuel` is `fuel.kind`; `limits.<check>.<limit>`,
    /// `channels.<standard name>` and `units.<standard name>` work too.
    pub fn entry(&self, dotted: &str) -> Option<Value> {
        if let Some(entry) = find(dotted) {
            return entry.value(self);
        }
        if let Some(key) = dotted.strip_prefix("limits.") {
            let limit = self.limits.iter().find(|limit| limit.key == key)?;
            return Some(match &limit.value {
                LimitValue::Number(number) => Value::Number(*number),
                LimitValue::Text(text) => Value::Text(text.clone()),
            });
        }
        if let Some(wanted) = dotted.strip_prefix("units.") {
            let unit = self.units.iter().find(|unit| unit.name == wanted)?;
            return Some(Value::Text(unit.text.clone()));
        }
        let wanted = dotted.strip_prefix("channels.")?;
        let (_, header, _) = self.channels.iter().find(|(name, ..)| name == wanted)?;
        Some(Value::Text(header.clone()))
    }

    /// How many cylinders (rotors) the engine has: as stated, else the length of the firing order.
    pub fn cylinders(&self) -> Option<u32> {
        let by_order = || u32::try_from(self.engine.firing_order.as_ref()?.len()).ok();
        self.engine.cylinders.or_else(by_order)
    }

    /// Lead-acid cells that the nominal voltage stands for, at 2 V a cell: 6 for 12 V, 8 for 16 V (the arithmetic of
    /// the project's field notes, section 2). It scales supply limits; it does not say what is inside a lithium pack,
    /// so look at `electrical.battery_type` before holding anything against a lead-acid table.
    pub fn cells(&self) -> Option<u32> {
        let volts = self.electrical.nominal_v?;
        let cells = volts / 2.0;
        (cells.fract() == 0.0 && (1.0..=60.0).contains(&cells)).then_some(cells as u32)
    }

    /// Stoichiometric air-fuel ratio by mass of the fuel in the tank, see [`FuelKind::stoich_afr`]. Not the scale by
    /// which a logger's AFR is divided: that is `fuel.lambda_scale_afr`.
    pub fn stoich_afr(&self) -> Option<f64> {
        self.fuel.kind.map(FuelKind::stoich_afr)
    }

    /// Turns of the crank between two firings of one cylinder: 2 for a four-stroke, 1 for a two-stroke. For a rotary
    /// it is 1 for each rotor: the rotor turns at a third of the shaft's speed and has three faces, so each rotor
    /// fires once every turn of the shaft.
    pub fn cycle_turns(&self) -> Option<f64> {
        self.engine.strokes.map(|strokes| match strokes {
            Strokes::Four => 2.0,
            Strokes::Two | Strokes::Rotary => 1.0,
        })
    }
}

/// The name under which an entry is kept: the sheet may say `engine.fuel` for `fuel.kind`.
fn canonical(dotted: &str) -> &str {
    let alias = schema::ALIASES.iter().find(|(alias, _)| *alias == dotted);
    alias.map_or(dotted, |(_, name)| name)
}
