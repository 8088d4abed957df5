//! Columns of every unit that loggers write, with and without a word about it.

mod pressures;
mod single;
mod together;
mod words;

use super::*;
use crate::recording::dictionary::{self, HeadingIn};
use crate::recording::numbers::Rest;
use crate::sheet;

/// Rows a second, and seconds: five of rest, then a run.
const HZ: f64 = 10.0;
const REST_S: f64 = 5.0;
const RUN_S: f64 = 100.0;

/// A column: its heading as `name|unit`, its reading at rest, and its readings over the run (0 to 1).
type Column<'a> = (&'a str, f64, &'a dyn Fn(f64) -> f64);

/// A log whose engine stands, then runs.
fn log(columns: &[Column], sheet: &str) -> Vec<Reading> {
    let rows = ((REST_S + RUN_S) * HZ) as usize;
    let times: Vec<f64> = (0..rows).map(|i| i as f64 / HZ).collect();
    let values = |rest: f64, run: &dyn Fn(f64) -> f64| -> Vec<f64> {
        (times.iter())
            .map(|t| {
                if *t < REST_S {
                    rest
                } else {
                    run((t - REST_S) / RUN_S)
                }
            })
            .collect()
    };
    let columns: Vec<(&str, Vec<f64>)> = (columns.iter())
        .map(|(heading, rest, run)| (*heading, values(*rest, run)))
        .collect();
    decided(&columns, &times, sheet)
}

/// One column alone that climbs evenly, in a log without a speed: nothing says where the engine stands.
fn ramp(heading: &str, low: f64, high: f64) -> Reading {
    let values = (0..=200).map(|i| low + (high - low) * f64::from(i) / 200.0);
    let times: Vec<f64> = (0..=200).map(f64::from).collect();
    let mut all = decided(&[(heading, values.collect())], &times, "");
    all.pop().unwrap()
}

fn decided(columns: &[(&str, Vec<f64>)], times: &[f64], sheet: &str) -> Vec<Reading> {
    let headings: Vec<HeadingIn> = (columns.iter())
        .map(|(heading, _)| {
            let (name, unit) = match heading.split_once('|') {
                Some((name, unit)) => (name, Some(unit)),
                None => (*heading, None),
            };
            HeadingIn {
                raw: heading,
                name,
                unit,
            }
        })
        .collect();
    let mapping = dictionary::map(&headings, &[]);
    assert_eq!(mapping.found.len(), columns.len(), "{:?}", mapping.unmapped);
    let speed = mapping.found.iter().find(|(_, m)| m.name == "rpm");
    let rest = Rest::find(speed.map(|(at, _)| (&columns[*at].1[..], times)));
    let unread: Vec<Unread> = (mapping.found.iter())
        .map(|(at, m)| Unread {
            found: m,
            header: columns[*at].0,
            numbers: Numbers::of(&columns[*at].1, times, &rest),
        })
        .collect();
    let sheet = sheet::parse("car.toml", sheet).unwrap_or_else(|e| panic!("{e}"));
    decide(&unread, &sheet)
}

/// What a reading is called in the tests: its unit, and what is done about the air.
fn told(reading: &Reading) -> String {
    let footing = match reading.footing {
        Footing::AsRead => "",
        Footing::AddAir => " + air",
        Footing::TakeAirOff => " - air",
    };
    let out = if reading.left_out.is_some() {
        ", left out"
    } else {
        ""
    };
    format!("{}{footing}{out}", reading.unit)
}

fn of<'a>(readings: &'a [Reading], name: &str) -> &'a Reading {
    let found = readings.iter().find(|r| r.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}
