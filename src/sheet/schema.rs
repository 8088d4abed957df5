//! The one table of entries: name, unit, bounds, an example, and the question to ask the builder.
//!
//! Bounds are there to catch a wrong unit or a slipped digit (bar for kPa, litres for cm3), not to judge an engine:
//! common practice, no source, and wide on purpose.

use super::Sheet;
use super::sections::{
    BatteryTap, BatteryType, Bearings, Charging, ClockUnit, FuelKind, FuelSystem, LoadFrom,
    LogDates, LogEncoding, OilSystem, PressureUnit, Regulator, SpeedUnit, StartBy, TemperatureUnit,
};
use super::value::{Field, Node, Problems, Value};

/// One entry of the sheet.
pub struct Entry {
    /// Section and key: `electrical.regulator_v`.
    pub name: &'static str,
    /// The unit of its numbers, empty where there is none.
    pub unit: &'static str,
    /// What it may hold.
    pub kind: Kind,
    /// A valid value in TOML, for an engine of six cylinders.
    pub sample: &'static str,
    /// What to ask the builder when it is unknown.
    pub question: &'static str,
    fill: fn(&mut Sheet, &Node<'_>, &Entry, &mut Problems<'_>),
    value: fn(&Sheet) -> Option<Value>,
}

/// What an entry may hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Free text.
    Text,
    /// `true` or `false`.
    Flag,
    /// A whole number, bounds included.
    Whole(u32, u32),
    /// A number, bounds included.
    Number(f64, f64),
    /// Zero, or a number within bounds.
    ZeroOr(f64, f64),
    /// One of these words.
    Word(&'static [&'static str]),
    /// One of these single characters.
    Mark(&'static [char]),
    /// `2`, `4` or `"rotary"`.
    Strokes,
    /// A fuel's word, or a table with its ratio.
    Fuel,
    /// Every cylinder once.
    FiringOrder,
    /// A list of cylinders.
    Cylinders,
    /// Named lists of cylinders.
    Groups,
    /// Named numbers, bounds included.
    Amounts(f64, f64),
}

impl Kind {
    /// Whether a number is within the bounds. True for kinds without bounds, never for not-a-number.
    pub(super) fn allows(self, number: f64) -> bool {
        match self {
            Self::Whole(min, max) => (f64::from(min)..=f64::from(max)).contains(&number),
            Self::Number(min, max) | Self::Amounts(min, max) => (min..=max).contains(&number),
            Self::ZeroOr(min, max) => number == 0.0 || (min..=max).contains(&number),
            _ => number.is_finite(),
        }
    }
}

impl Entry {
    /// The section: `electrical`.
    pub fn section(&self) -> &'static str {
        self.name
            .split_once('.')
            .map_or(self.name, |(section, _)| section)
    }

    /// The key within its section: `regulator_v`.
    pub fn key(&self) -> &'static str {
        self.name.split_once('.').map_or("", |(_, key)| key)
    }

    /// What a value of this entry must look like, in plain words.
    pub fn wanted(&self) -> String {
        let unit = if self.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", self.unit)
        };
        match self.kind {
            Kind::Text => "text in quotes".to_owned(),
            Kind::Flag => "true or false, without quotes".to_owned(),
            Kind::Whole(min, max) => format!("a whole number from {min} to {max}, without quotes"),
            Kind::Number(min, max) => format!("a number from {min} to {max}{unit}, without quotes"),
            Kind::ZeroOr(min, max) => {
                format!("0, or a number from {min} to {max}{unit}, without quotes")
            }
            Kind::Word(words) => format!("one of {}, in quotes", quoted(words)),
            Kind::Mark(marks) => {
                let marks: Vec<String> = marks.iter().map(|mark| format!("{mark:?}")).collect();
                let marks: Vec<&str> = marks.iter().map(|mark| mark.trim_matches('\'')).collect();
                format!("one of {}, in quotes", quoted(&marks))
            }
            Kind::Strokes => "2, 4, or \"rotary\" in quotes".to_owned(),
            Kind::Fuel => {
                let words = quoted(FuelKind::WORDS);
                format!("one of {words}, in quotes, or {{ stoich_afr = 9.8 }} for another fuel")
            }
            Kind::FiringOrder => "every cylinder number once, such as [1, 3, 4, 2]".to_owned(),
            Kind::Cylinders => "a list of cylinder numbers, such as [1, 2, 3]".to_owned(),
            Kind::Groups => {
                let sample = self.sample;
                format!("named lists of cylinder numbers, such as {sample}")
            }
            Kind::Amounts(min, max) => {
                let sample = self.sample;
                format!("named numbers from {min} to {max}{unit}, such as {sample}")
            }
        }
    }

    pub(super) fn fill(&self, sheet: &mut Sheet, node: &Node<'_>, problems: &mut Problems<'_>) {
        (self.fill)(sheet, node, self, problems);
    }

    pub(super) fn value(&self, sheet: &Sheet) -> Option<Value> {
        (self.value)(sheet)
    }
}

fn quoted(words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    words.join(", ")
}

/// An entry by its dotted name; `engine.fuel` finds `fuel.kind`.
pub fn find(dotted: &str) -> Option<&'static Entry> {
    let name = super::canonical(dotted);
    SCHEMA.iter().find(|entry| entry.name == name)
}

/// Other spellings, and the entry that each means.
pub(super) const ALIASES: &[(&str, &str)] = &[("engine.fuel", "fuel.kind")];

/// A section of the sheet.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// Its name in square brackets.
    pub name: &'static str,
    /// What it is about, one line.
    pub about: &'static str,
    /// Its keys are the user's own (`limits`, `channels`, `units`) and stand in no table here.
    pub open: bool,
}

const fn section(name: &'static str, about: &'static str) -> Section {
    Section {
        name,
        about,
        open: false,
    }
}

/// The sections, in the order in which a sheet is written.
pub const SECTIONS: &[Section] = &[
    section("engine", "The engine itself."),
    section("fuel", "What it burns, and how the fuel gets in."),
    section("air", "The air it breathes."),
    section("oil", "The oil system."),
    section("cooling", "The cooling system."),
    section("electrical", "Battery, charging, and what draws current."),
    section(
        "sensors",
        "Which cylinder each probe hears, where the column's name does not say.",
    ),
    Section {
        name: "limits",
        about: "Limits of your own, by check and limit.",
        open: true,
    },
    Section {
        name: "channels",
        about: "Columns that were not understood.",
        open: true,
    },
    Section {
        name: "units",
        about: "What columns are logged in, where their names do not say it or say it wrongly.",
        open: true,
    },
    section(
        "log",
        "Only to force what was guessed wrongly about the log.",
    ),
    section("display", "The units you want to read."),
];

/// One row of the table: the field decides the type, the rest is data.
macro_rules! row {
    ($section:ident.$key:ident, $unit:literal, $kind:expr, $sample:literal, $question:literal) => {
        Entry {
            name: concat!(stringify!($section), ".", stringify!($key)),
            unit: $unit,
            kind: $kind,
            sample: $sample,
            question: $question,
            fill: |sheet, node, entry, problems| {
                sheet.$section.$key = Field::read(node, entry, problems);
            },
            value: |sheet| sheet.$section.$key.as_ref().map(Field::value),
        }
    };
}

use Kind::{
    Amounts, Cylinders, FiringOrder, Flag, Groups, Mark, Number, Strokes, Text, Whole, Word, ZeroOr,
};

/// Every entry of the closed sections, in the order in which a sheet is written.
#[rustfmt::skip] // one entry in two lines, as a table is read
pub static SCHEMA: &[Entry] = &[
    row!(engine.name, "", Text, "\"Hill special\"",
        "What do you call this engine?"),
    row!(engine.cylinders, "", Whole(1, 36), "6",
        "How many cylinders does it have? Count the rotors of a rotary."),
    row!(engine.firing_order, "", FiringOrder, "[1, 5, 3, 6, 2, 4]",
        "In which order do the cylinders fire? Turn it by hand and watch the valves; an old plate may be wrong."),
    row!(engine.banks, "", Groups, "{ front = [1, 2, 3], rear = [4, 5, 6] }",
        "Which cylinders share an exhaust bank? The names of the banks are yours."),
    row!(engine.strokes, "", Strokes, "4",
        "Is it a two-stroke (2), a four-stroke (4) or a \"rotary\"?"),
    row!(engine.displacement_cc, "cm3", Number(20.0, 60_000.0), "2500",
        "What is its swept volume in cm3? From bore and stroke as measured."),
    row!(engine.compression_ratio, "", Number(2.0, 40.0), "9.0",
        "What is its compression ratio? Measure the chamber's volume rather than trust the papers."),
    row!(engine.idle_rpm, "rpm", Number(100.0, 8000.0), "1100",
        "At what speed does it idle when warm?"),
    row!(engine.rev_limit_rpm, "rpm", Number(500.0, 30_000.0), "7600",
        "Which speed must it never exceed? The weakest of valve springs, rods and pistons decides."),
    row!(engine.load_from, "", Word(LoadFrom::WORDS), "\"map\"",
        "Does manifold pressure (map) stand for load, or the throttle (tps), as with individual throttles?"),
    row!(engine.start_by, "", Word(StartBy::WORDS), "\"starter\"",
        "What turns it for a start: its own starter, a roller, or a push?"),
    row!(engine.timing_checked, "", Flag, "false",
        "Was the true timing checked with a light since crank sensor or wheel were last touched?"),
    row!(engine.anti_lag, "", Flag, "false",
        "Does the controller burn fuel in the exhaust on purpose, to keep a turbocharger turning?"),

    row!(fuel.kind, "", Kind::Fuel, "\"e85\"",
        "What is in the tank? For another fuel give its ratio: { stoich_afr = 9.8 }."),
    row!(fuel.system, "", Word(FuelSystem::WORDS), "\"port\"",
        "How does the fuel get in: port or direct injection, carburettor, or mechanical injection?"),
    row!(fuel.regulator, "", Word(Regulator::WORDS), "\"manifold\"",
        "Is the regulator's vacuum port piped to the manifold, or open to the air (fixed)?"),
    row!(fuel.base_pressure, "kPa", Number(5.0, 50_000.0), "300",
        "What does the regulator hold, in kPa over the manifold, or on the gauge where it is fixed? 1 bar is 100 kPa."),
    row!(fuel.injectors_per_cylinder, "", Whole(1, 8), "1",
        "How many injectors feed each cylinder?"),
    row!(fuel.injections_per_cycle, "", Whole(1, 16), "1",
        "How many times does each injector open in one working cycle? Batch injection is often 2."),
    row!(fuel.pulse_includes_dead_time, "", Flag, "true",
        "Does the logged pulse include the injector's dead time? The controller's papers or settings say."),
    row!(fuel.injector_cc_min, "cm3/min", Number(20.0, 20_000.0), "850",
        "What does one injector flow in cm3/min at the base pressure? Have them measured as a set."),
    row!(fuel.lambda_scale_afr, "", Number(1.0, 40.0), "14.7",
        "If the logger shows AFR: by which figure did it multiply lambda? Often 14.7, whatever is in the tank."),
    row!(fuel.lambda_at, "", Groups, "{ lambda = [1, 2, 3], lambda_2 = [4, 5, 6] }",
        "Which cylinders blow past each lambda sensor?"),

    row!(air.altitude_m, "m", Number(-500.0, 6000.0), "200",
        "How high above the sea does it run, in metres?"),
    row!(air.boost_limit, "kPa", Number(50.0, 1000.0), "180",
        "Which manifold pressure must it never exceed, in kPa absolute? 1 bar of boost at the sea is about 200."),

    row!(oil.system, "", Word(OilSystem::WORDS), "\"wet\"",
        "Is the sump wet (oil in the pan) or dry (scavenged into a tank)?"),
    row!(oil.relief, "kPa", Number(50.0, 2000.0), "450",
        "At what pressure does the relief valve open, in kPa? Read it with a mechanical gauge, cold, at 3000 rpm."),
    row!(oil.bearings, "", Word(Bearings::WORDS), "\"plain\"",
        "Does the crank run in plain or in roller bearings?"),

    row!(cooling.fan, "", Flag, "true",
        "Does the car have a fan? Without one it overheats standing still."),
    row!(cooling.cap, "kPa", ZeroOr(20.0, 400.0), "110",
        "What pressure is stamped on the radiator cap, in kPa? 1.1 bar is 110; an open system is 0."),
    row!(cooling.glycol, "", Number(0.0, 1.0), "0.5",
        "What share of the coolant is glycol? 0.5 is half; water alone is 0."),

    row!(electrical.nominal_v, "V", Number(2.0, 120.0), "12",
        "What is the supply's nominal voltage: 12, or 16 for a battery of eight cells?"),
    row!(electrical.battery_type, "", Word(BatteryType::WORDS), "\"lead-acid\"",
        "What kind of battery is it? The label says."),
    row!(electrical.battery_ah, "Ah", Number(0.5, 1000.0), "20",
        "What is its capacity in Ah?"),
    row!(electrical.battery_tap, "", Word(BatteryTap::WORDS), "\"controller\"",
        "Where is the logged voltage measured: at the controller, the battery or the alternator?"),
    row!(electrical.charging, "", Word(Charging::WORDS), "\"alternator\"",
        "Does an alternator charge while it runs, or none?"),
    row!(electrical.alternator_a, "A", Number(1.0, 1000.0), "65",
        "What current is stamped on the alternator, in A?"),
    row!(electrical.alternator_ratio, "", Number(0.2, 10.0), "2.2",
        "How often does the alternator turn for one turn of the crank? Crank pulley over alternator pulley, by diameter."),
    row!(electrical.regulator_v, "V", Number(2.0, 160.0), "14.2",
        "At what voltage does the regulator hold? Read it with a meter at the alternator, at 3000 rpm."),
    row!(electrical.reset_v, "V", Number(1.0, 100.0), "9.0",
        "Below what voltage does the controller drop out? Its papers say."),
    row!(electrical.loads, "A", Amounts(0.0, 1000.0), "{ fuel_pump = 11.0, ignition = 8.0, injectors = 6.0 }",
        "What does each consumer draw in A? Measure with a clamp meter, one at a time."),

    row!(sensors.egt_cylinder, "", Cylinders, "[1, 2, 3, 4, 5, 6]",
        "In which cylinder's pipe does each EGT probe stand: first egt_1, then egt_2, and so on?"),
    row!(sensors.knock_sensors, "", Groups, "{ a = [1, 2, 3], b = [4, 5, 6] }",
        "Which cylinders does each knock sensor hear?"),

    row!(log.delimiter, "", Mark(&[',', ';', '\t', '|', ' ']), "\";\"",
        "What separates the fields of a row?"),
    row!(log.decimal, "", Mark(&['.', ',']), "\",\"",
        "What is the decimal mark?"),
    row!(log.sample_hz, "Hz", Number(0.001, 1_000_000.0), "100",
        "If the log has no clock: how many rows a second?"),
    row!(log.names_line, "", Whole(1, 100_000), "1",
        "Which line of the file names the channels, counted from 1?"),
    row!(log.units_line, "", Whole(0, 100_000), "0",
        "Which line gives the units? 0 where none does."),
    row!(log.clock, "", Text, "\"Time\"",
        "How is the column of the clock headed?"),
    row!(log.clock_unit, "", Word(ClockUnit::WORDS), "\"s\"",
        "If that clock is one number: what does it count in?"),
    row!(log.encoding, "", Word(LogEncoding::WORDS), "\"utf-8\"",
        "If letters such as the degree sign come out wrong: in which encoding was the log written?"),
    row!(log.date_order, "", Word(LogDates::WORDS), "\"dmy\"",
        "In dates with the year last: does the day come first (dmy), or the month (mdy)?"),

    row!(display.temperature, "", Word(TemperatureUnit::WORDS), "\"degC\"",
        "In which unit do you read temperatures?"),
    row!(display.pressure, "", Word(PressureUnit::WORDS), "\"kPa\"",
        "In which unit do you read pressures?"),
    row!(display.speed, "", Word(SpeedUnit::WORDS), "\"km/h\"",
        "In which unit do you read road speed?"),
];
