//! The one run that all variants hold: the demo car up the hill with one knocking cylinder, twenty rows a second.
//!
//! The figures come from the simulator, printed as the plain variant prints them; nothing here uses the program's own
//! reading.

use std::sync::OnceLock;

use crate::simulator::{Case, Fault, FaultKind, Kind, simulate};

/// Rows a second.
pub const HZ: f64 = 20.0;

/// A column of the run, and how a variant writes it.
#[derive(Clone, Debug)]
pub struct Col {
    /// The standard name that it must be found under; empty where it has none.
    pub standard: &'static str,
    /// Its heading without the unit.
    pub name: String,
    /// Its unit as the variant writes it; empty where it has none.
    pub unit: String,
    /// Digits after the decimal mark.
    pub decimals: usize,
    /// What the variant prints, in its unit; `None` where the channel had no new sample.
    pub cells: Vec<Option<f64>>,
    /// What must be read, in the standard unit.
    pub truth: Vec<Option<f64>>,
    /// How far a value may lie from the truth: the printed precision, in the standard unit.
    pub within: f64,
    /// Words for 0 and 1, where the column is written in words.
    pub words: Option<[&'static str; 2]>,
}

impl Col {
    /// The printed number of a cell, with a decimal point.
    pub fn printed(&self, value: f64) -> String {
        let text = format!("{value:.*}", self.decimals);
        let zero = text.bytes().all(|c| matches!(c, b'-' | b'0' | b'.'));
        match text.strip_prefix('-') {
            Some(plain) if zero => plain.to_owned(),
            _ => text,
        }
    }
}

/// The run as a grid: row `n` stands at `n / HZ` seconds.
#[derive(Clone, Debug)]
pub struct Run {
    /// Every column but the clock.
    pub cols: Vec<Col>,
    /// Rows.
    pub rows: usize,
}

impl Run {
    /// A column by its standard name.
    pub fn col(&mut self, standard: &str) -> &mut Col {
        let found = self.cols.iter_mut().find(|c| c.standard == standard);
        found.unwrap_or_else(|| panic!("the run has no {standard}"))
    }

    /// Prints a channel in another unit: `own = standard * factor + offset`, with so many decimals.
    pub fn in_unit(
        &mut self,
        standard: &str,
        unit: &str,
        factor: f64,
        offset: f64,
        decimals: usize,
    ) {
        let col = self.col(standard);
        let own = |v: f64| v * factor + offset;
        col.cells = col.truth.iter().map(|v| v.map(own)).collect();
        col.unit = unit.to_owned();
        col.decimals = decimals;
        col.within = 0.5001 * 0.1_f64.powi(i32::try_from(decimals).expect("few")) / factor.abs();
    }
}

/// Standard name, unit and decimals of the columns, by the simulator's headings.
const COLUMNS: [(&str, &str, &str, usize); 40] = [
    ("Engine Speed", "rpm", "rpm", 0),
    ("MAP", "map", "kPa", 1),
    ("Throttle", "tps", "%", 1),
    ("Battery", "battery_v", "V", 2),
    ("Lambda", "lambda", "", 3),
    ("Lambda Target", "lambda_target", "", 3),
    ("Ignition Advance", "ignition_advance", "deg", 1),
    ("Injector Pulse", "injector_pulse", "ms", 2),
    ("Injector Duty", "injector_duty", "%", 1),
    ("Fuel Cut", "fuel_cut", "", 0),
    ("Starter", "starter", "", 0),
    ("Fan", "fan", "", 0),
    ("Sync Errors", "sync_errors", "", 0),
    ("Uptime", "uptime", "s", 1),
    ("Coolant Temp", "coolant_temp", "degC", 0),
    ("Intake Temp", "intake_temp", "degC", 0),
    ("Oil Temp", "oil_temp", "degC", 0),
    ("Oil Press", "oil_pressure", "kPa", 0),
    ("Fuel Press", "fuel_pressure", "kPa", 0),
    ("Baro", "baro", "kPa", 1),
    ("Knock Cyl 1", "knock_1", "", 0),
    ("Knock Cyl 2", "knock_2", "", 0),
    ("Knock Cyl 3", "knock_3", "", 0),
    ("Knock Cyl 4", "knock_4", "", 0),
    ("Knock Cyl 5", "knock_5", "", 0),
    ("Knock Cyl 6", "knock_6", "", 0),
    ("Knock Sensor A", "knock_sensor_a", "", 0),
    ("Knock Sensor B", "knock_sensor_b", "", 0),
    ("EGT Cyl 1", "egt_1", "degC", 0),
    ("EGT Cyl 2", "egt_2", "degC", 0),
    ("EGT Cyl 3", "egt_3", "degC", 0),
    ("EGT Cyl 4", "egt_4", "degC", 0),
    ("EGT Cyl 5", "egt_5", "degC", 0),
    ("EGT Cyl 6", "egt_6", "degC", 0),
    ("Bay Temp", "bay_temp", "degC", 0),
    ("Road Speed", "speed", "km/h", 1),
    ("Lateral G", "lateral_g", "g", 2),
    ("Gear", "gear", "", 0),
    ("Aux 7", "", "", 2),
    ("Spare Byte 2", "", "", 0),
];

/// The run, made once.
pub fn run() -> Run {
    static RUN: OnceLock<Run> = OnceLock::new();
    RUN.get_or_init(made).clone()
}

fn made() -> Run {
    let (kind, seed) = (Kind::HillRun, 14);
    let fault = Some(Fault::seeded(FaultKind::HotSpot, seed));
    let log = simulate(&Case::new(kind, fault, seed));
    let stamps = log.column("Time").expect("a clock");
    let tick = |stamp: f64| (stamp * HZ - 1e-6).ceil() as usize;
    let first = stamps[0].map(tick).expect("a stamp");
    let rows = stamps.last().copied().flatten().map(tick).expect("a stamp") - first + 1;
    let cols = COLUMNS.iter().map(|(name, standard, unit, decimals)| {
        let mut col = Col {
            standard,
            name: (*name).to_owned(),
            unit: (*unit).to_owned(),
            decimals: *decimals,
            cells: vec![None; rows],
            truth: Vec::new(),
            within: 1e-9,
            words: None,
        };
        let fine = log
            .column(name)
            .unwrap_or_else(|| panic!("the simulator has no {name}"));
        for (stamp, cell) in stamps.iter().zip(fine) {
            if let (Some(stamp), Some(cell)) = (stamp, cell) {
                let printed = col.printed(*cell).parse().expect("a number");
                col.cells[tick(*stamp) - first] = Some(printed);
            }
        }
        col.truth.clone_from(&col.cells);
        col
    });
    Run {
        cols: cols.collect(),
        rows,
    }
}
