//! The sections of the sheet as typed fields, and the words that entries may hold.
//!
//! What each field asks, its unit and its bounds stand in `schema.rs`; here is only its type.

use super::schema::Entry;
use super::value::{Field, Groups, Node, Problems, Value, word};
use crate::trade::fuel;

/// Declares an entry that is one of a few words.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$one:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $name { $($(#[$one])* $variant,)+ }

        impl $name {
            /// The words of the sheet, in the order of the variants.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// The word of the sheet for this.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }

        impl Field for $name {
            fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
                word(node, Self::WORDS, &entry.wanted(), problems, Self::from_word)
            }
            fn value(&self) -> Value {
                Value::Text(self.word().to_owned())
            }
        }
    };
}

words! {
    /// What stands for load.
    LoadFrom {
        /// Manifold pressure.
        Map = "map",
        /// Throttle position: individual throttles, wild cams.
        Tps = "tps",
    }
}
words! {
    /// What turns the engine for a start.
    StartBy {
        /// A starter motor on the car's own supply.
        Starter = "starter",
        /// External rollers.
        Roller = "roller",
        /// A push or tow.
        Push = "push",
    }
}
words! {
    /// How fuel gets into the engine.
    FuelSystem {
        /// Injectors at the ports.
        Port = "port",
        /// Carburettors: there are no injectors to ask about.
        Carburettor = "carburettor",
        /// Injectors in the chambers.
        Direct = "direct",
        /// Engine-driven mechanical injection.
        Mechanical = "mechanical",
    }
}
words! {
    /// What the fuel pressure regulator refers to.
    Regulator {
        /// The manifold: pressure over the injectors stays the same.
        Manifold = "manifold",
        /// The open air: gauge pressure stays the same.
        Fixed = "fixed",
    }
}
words! {
    /// Wet or dry sump.
    OilSystem {
        /// Oil in the pan.
        Wet = "wet",
        /// Scavenged into a tank.
        Dry = "dry",
    }
}
words! {
    /// Main and rod bearings.
    Bearings {
        /// Shells, which live on pressure.
        Plain = "plain",
        /// Rollers or balls, which live on flow.
        Roller = "roller",
    }
}
words! {
    /// Chemistry of the battery.
    BatteryType {
        /// Flooded lead-acid.
        LeadAcid = "lead-acid",
        /// Lead-acid with glass mat.
        Agm = "agm",
        /// Lithium: no lead-acid table holds for it.
        Lithium = "lithium",
    }
}
words! {
    /// Where the logged voltage is measured.
    BatteryTap {
        /// At the controller, behind wires that drop voltage.
        Controller = "controller",
        /// At the battery's posts.
        Battery = "battery",
        /// At the alternator's output.
        Alternator = "alternator",
    }
}
words! {
    /// Whether anything charges while the engine runs.
    Charging {
        /// An alternator or dynamo.
        Alternator = "alternator",
        /// Nothing: the car runs on the battery alone.
        None = "none",
    }
}
words! {
    /// Temperatures as a person wants to read them.
    TemperatureUnit {
        /// Degrees Celsius.
        DegC = "degC",
        /// Degrees Fahrenheit.
        DegF = "degF",
    }
}
words! {
    /// Pressures as a person wants to read them.
    PressureUnit {
        /// Kilopascal.
        Kpa = "kPa",
        /// Pounds per square inch.
        Psi = "psi",
        /// Bar.
        Bar = "bar",
    }
}
words! {
    /// Road speeds as a person wants to read them.
    SpeedUnit {
        /// Kilometres per hour.
        Kmh = "km/h",
        /// Miles per hour.
        Mph = "mph",
    }
}

words! {
    /// What a clock counts in that is one number.
    ClockUnit {
        /// Seconds.
        S = "s",
        /// Milliseconds.
        Ms = "ms",
        /// Microseconds.
        Us = "us",
        /// Nanoseconds.
        Ns = "ns",
        /// Minutes.
        Min = "min",
        /// Hours.
        H = "h",
    }
}
words! {
    /// How the bytes of the log stand for letters.
    LogEncoding {
        /// UTF-8.
        Utf8 = "utf-8",
        /// UTF-16, low byte first.
        Utf16Le = "utf-16le",
        /// UTF-16, high byte first.
        Utf16Be = "utf-16be",
        /// The one-byte Western code page.
        Windows1252 = "windows-1252",
    }
}
words! {
    /// Which number of a date is the day, where the year stands last.
    LogDates {
        /// Day, month, year.
        Dmy = "dmy",
        /// Month, day, year.
        Mdy = "mdy",
    }
}

/// The engine's working cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strokes {
    /// Two-stroke, written `2`.
    Two,
    /// Four-stroke, written `4`.
    Four,
    /// Rotary, written `"rotary"`; its rotors count as cylinders.
    Rotary,
}

/// The fuel in the tank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FuelKind {
    /// Petrol without alcohol.
    Gasoline,
    /// 10 % ethanol by volume.
    E10,
    /// 85 % ethanol by volume.
    E85,
    /// Pure ethanol.
    Ethanol,
    /// Pure methanol.
    Methanol,
    /// Any other, told by its ratio.
    Custom {
        /// Air-fuel ratio by mass at which it burns completely.
        stoich_afr: f64,
    },
}

impl FuelKind {
    /// The words of the sheet.
    pub const WORDS: &'static [&'static str] = &["gasoline", "e10", "e85", "ethanol", "methanol"];

    /// Air-fuel ratio by mass at which this fuel burns completely.
    ///
    /// By chemistry, see [`fuel`]; gasoline as CH1.85, blends by volume. The customary 14.7 for gasoline is 0.9 %
    /// above; and E85 from a pump holds 51 to 83 % ethanol, which moves its true ratio
    /// between 11.7 and 9.9.
    pub fn stoich_afr(self) -> f64 {
        match self {
            Self::Gasoline => fuel::GASOLINE.stoich(),
            Self::E10 => fuel::ethanol_blend(10.0).stoich,
            Self::E85 => fuel::ethanol_blend(85.0).stoich,
            Self::Ethanol => fuel::ETHANOL.stoich(),
            Self::Methanol => fuel::METHANOL.stoich(),
            Self::Custom { stoich_afr } => stoich_afr,
        }
    }

    /// The word of the sheet for this fuel, `custom` where the sheet gives a ratio instead.
    pub fn word(self) -> &'static str {
        match self {
            Self::Gasoline => "gasoline",
            Self::E10 => "e10",
            Self::E85 => "e85",
            Self::Ethanol => "ethanol",
            Self::Methanol => "methanol",
            Self::Custom { .. } => "custom",
        }
    }

    pub(super) fn from_word(word: &str) -> Option<Self> {
        [
            Self::Gasoline,
            Self::E10,
            Self::E85,
            Self::Ethanol,
            Self::Methanol,
        ]
        .into_iter()
        .find(|kind| kind.word() == word)
    }
}

/// `[engine]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Engine {
    /// What the builder calls it.
    pub name: Option<String>,
    /// Cylinders, or rotors; see [`Sheet::cylinders`](super::Sheet::cylinders) for the count to use.
    pub cylinders: Option<u32>,
    /// Order of firing: each cylinder once.
    pub firing_order: Option<Vec<u32>>,
    /// Exhaust banks: every cylinder in exactly one.
    pub banks: Option<Groups>,
    /// Working cycle.
    pub strokes: Option<Strokes>,
    /// Swept volume of the whole engine, cm3.
    pub displacement_cc: Option<f64>,
    /// Compression ratio, without unit.
    pub compression_ratio: Option<f64>,
    /// Idle speed, rpm.
    pub idle_rpm: Option<f64>,
    /// Speed that must not be exceeded, rpm.
    pub rev_limit_rpm: Option<f64>,
    /// What stands for load.
    pub load_from: Option<LoadFrom>,
    /// What turns it for a start.
    pub start_by: Option<StartBy>,
    /// True timing was checked with a light.
    pub timing_checked: Option<bool>,
    /// Fuel is burnt on purpose in the exhaust.
    pub anti_lag: Option<bool>,
}

/// `[fuel]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fuel {
    /// The fuel; `engine.fuel` means the same.
    pub kind: Option<FuelKind>,
    /// How it gets in.
    pub system: Option<FuelSystem>,
    /// What the regulator refers to.
    pub regulator: Option<Regulator>,
    /// kPa over the manifold, or gauge where the regulator is fixed.
    pub base_pressure: Option<f64>,
    /// Injectors for each cylinder.
    pub injectors_per_cylinder: Option<u32>,
    /// Injections in each working cycle.
    pub injections_per_cycle: Option<u32>,
    /// The logged pulse includes the injector's dead time.
    pub pulse_includes_dead_time: Option<bool>,
    /// Flow of one injector, cm3/min.
    pub injector_cc_min: Option<f64>,
    /// What the logger divides by when it shows AFR.
    pub lambda_scale_afr: Option<f64>,
    /// Which cylinders each lambda sensor hears, by channel name.
    pub lambda_at: Option<Groups>,
}

/// `[air]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Air {
    /// Height above the sea, m.
    pub altitude_m: Option<f64>,
    /// Highest manifold pressure allowed, kPa absolute.
    pub boost_limit: Option<f64>,
}

/// `[oil]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Oil {
    /// Wet or dry sump.
    pub system: Option<OilSystem>,
    /// Pressure at which the relief valve opens, kPa gauge.
    pub relief: Option<f64>,
    /// Plain or roller bearings.
    pub bearings: Option<Bearings>,
}

/// `[cooling]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cooling {
    /// The car has a fan.
    pub fan: Option<bool>,
    /// Pressure of the radiator cap, kPa over the air.
    pub cap: Option<f64>,
    /// Share of glycol in the coolant by volume, 0 to 1.
    pub glycol: Option<f64>,
}

/// `[electrical]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Electrical {
    /// Nominal voltage, V; see [`Sheet::cells`](super::Sheet::cells).
    pub nominal_v: Option<f64>,
    /// Chemistry of the battery.
    pub battery_type: Option<BatteryType>,
    /// Capacity, Ah.
    pub battery_ah: Option<f64>,
    /// Where the logged voltage is measured.
    pub battery_tap: Option<BatteryTap>,
    /// Whether anything charges.
    pub charging: Option<Charging>,
    /// Rated output of the alternator, A.
    pub alternator_a: Option<f64>,
    /// Turns of the alternator for one of the crank.
    pub alternator_ratio: Option<f64>,
    /// Voltage that the regulator holds, V.
    pub regulator_v: Option<f64>,
    /// Voltage below which the controller is expected to drop out, V.
    pub reset_v: Option<f64>,
    /// What each consumer draws while running, A.
    pub loads: Option<Vec<(String, f64)>>,
}

/// `[sensors]`
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sensors {
    /// The cylinder that each EGT probe stands in: first `egt_1`, then `egt_2`.
    pub egt_cylinder: Option<Vec<u32>>,
    /// The cylinders that each knock sensor hears.
    pub knock_sensors: Option<Groups>,
}

/// `[log]`: what is forced where the reader guessed wrongly.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LogForced {
    /// What separates fields.
    pub delimiter: Option<char>,
    /// Decimal mark.
    pub decimal: Option<char>,
    /// Rows a second, Hz, for a log without a clock.
    pub sample_hz: Option<f64>,
    /// Line of the channel names, counted from 1.
    pub names_line: Option<u32>,
    /// Line of the units, counted from 1; 0 where no line gives them.
    pub units_line: Option<u32>,
    /// Heading of the clock's column.
    pub clock: Option<String>,
    /// What that clock counts in.
    pub clock_unit: Option<ClockUnit>,
    /// How bytes stand for letters.
    pub encoding: Option<LogEncoding>,
    /// Which number of a date is the day.
    pub date_order: Option<LogDates>,
}

/// `[display]`: units for people; calculation and JSON do not change.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Display {
    /// Temperatures.
    pub temperature: Option<TemperatureUnit>,
    /// Pressures.
    pub pressure: Option<PressureUnit>,
    /// Road speeds.
    pub speed: Option<SpeedUnit>,
}
