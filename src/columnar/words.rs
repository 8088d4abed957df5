//! Names of fields: each one once, also for programs that take `Time` and `time` for the same.

use std::collections::BTreeSet;

/// The names given so far.
#[derive(Debug, Default)]
pub struct Names {
    taken: BTreeSet<String>,
}

impl Names {
    /// Gives a name, with a number behind it where it is taken.
    pub fn give(&mut self, wanted: &str) -> String {
        let mut name = wanted.to_owned();
        let mut number = 2;
        while !self.taken.insert(name.to_lowercase()) {
            name = format!("{wanted} ({number})");
            number += 1;
        }
        name
    }
}
