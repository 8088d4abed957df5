//! A sample log as it stands, for figures of our own.

use std::collections::BTreeMap;
use std::fs;

use crate::support::home;

/// A sample log as it stands: the names and their cells, blank ones left out.
pub struct Bare(BTreeMap<String, Vec<(f64, f64)>>);

impl Bare {
    pub fn read(log: &str) -> Bare {
        let all = fs::read_to_string(home().join("sample-logs").join(log)).expect("a log");
        let mut lines = all.lines().skip(2);
        let names: Vec<&str> = lines.next().expect("names").split(',').collect();
        let mut columns: BTreeMap<String, Vec<(f64, f64)>> = BTreeMap::new();
        for line in lines {
            let cells: Vec<&str> = line.split(',').collect();
            let time: f64 = cells[0].parse().expect("a time");
            for (name, cell) in names.iter().zip(&cells) {
                let name = name.split(" (").next().unwrap_or_default();
                if let Ok(value) = cell.parse() {
                    columns
                        .entry(name.to_string())
                        .or_default()
                        .push((time, value));
                }
            }
        }
        Bare(columns)
    }
    pub fn all(&self, name: &str) -> &[(f64, f64)] {
        self.0
            .get(name)
            .unwrap_or_else(|| panic!("no column {name}"))
    }
    pub fn within(&self, name: &str, from: f64, to: f64) -> Vec<f64> {
        let inside = self.all(name).iter().filter(|c| (from..=to).contains(&c.0));
        inside.map(|c| c.1).collect()
    }
    pub fn max(&self, name: &str) -> f64 {
        self.all(name).iter().map(|c| c.1).fold(f64::MIN, f64::max)
    }
    pub fn last(&self, name: &str) -> f64 {
        self.all(name).last().expect("a cell").1
    }
    /// What stood in a column at a time.
    pub fn at(&self, name: &str, time: f64) -> f64 {
        let column = self.all(name);
        let next = column.partition_point(|c| c.0 <= time);
        column[next.saturating_sub(1)].1
    }
    /// The first and the last time at which a column is over a value.
    pub fn over(&self, name: &str, least: f64) -> (f64, f64) {
        let mut times = self.all(name).iter().filter(|c| c.1 > least).map(|c| c.0);
        let first = times.next().expect("it is over it");
        (first, times.next_back().unwrap_or(first))
    }
    /// From fire to stop: the speed is over every starter's.
    pub fn running(&self) -> (f64, f64) {
        self.over("Engine Speed", 500.0)
    }
}

/// The middle of a list.
pub fn median(mut list: Vec<f64>) -> f64 {
    assert!(!list.is_empty(), "a median of something");
    list.sort_by(f64::total_cmp);
    let half = list.len() / 2;
    if list.len() % 2 == 1 {
        list[half]
    } else {
        f64::midpoint(list[half - 1], list[half])
    }
}
