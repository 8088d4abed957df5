//! The functions that cells have defined: from which cell each is, and its text.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::scan::{Function, Scan};

/// All of them, by name and number of what they take. A later one replaces an earlier.
#[derive(Clone, Debug, Default)]
pub struct Functions {
    defined: BTreeMap<(String, usize), Defined>,
    /// Functions without a name of their own, by the name that the engine gave them.
    unnamed: BTreeMap<String, Cell>,
}

/// A cell that was run.
#[derive(Clone, Debug)]
pub struct Cell {
    /// How errors name it: `cell [3]`.
    pub name: String,
    /// Its text.
    pub text: Arc<str>,
}

/// One function.
#[derive(Clone, Debug)]
pub struct Defined {
    /// The cell it stands in.
    pub cell: Cell,
    /// Its text.
    pub function: Function,
}

impl Functions {
    /// Takes up what a cell defines; `names` are all functions that the engine found in it.
    pub fn add(&mut self, cell: &Cell, names: impl Iterator<Item = String>) {
        for name in names.filter(|n| n.starts_with("anon$")) {
            self.unnamed.insert(name, cell.clone());
        }
        for function in Scan::new(&cell.text).functions() {
            let key = (function.name.clone(), function.params.len());
            let cell = cell.clone();
            self.defined.insert(key, Defined { cell, function });
        }
    }
    /// The cell that a function of that name is from.
    pub fn cell_of<'a>(&'a self, name: &'a str) -> Option<&'a Cell> {
        let named = || self.named(name).last().map(|d| &d.cell);
        self.unnamed.get(name).or_else(named)
    }
    /// Those of that name.
    pub fn named<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Defined> {
        self.defined
            .iter()
            .filter(move |d| d.0.0 == name)
            .map(|d| d.1)
    }
    /// All of them, in the order of their names.
    pub fn all(&self) -> impl Iterator<Item = &Defined> {
        self.defined.values()
    }
}
