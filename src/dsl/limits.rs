//! Limits: named, with a unit and an origin; the build sheet can change each one.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use super::column::Quantity;
use super::ops::{Outcome, complain};
use crate::sheet::nearest;

/// A limit as a check declares it, or as the sheet changed it.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Value with its unit.
    pub quantity: Quantity,
    /// Where it comes from.
    pub from: String,
}

/// The limits of one check, as its script sees them. A name that is not declared is an error, never nothing.
#[derive(Clone, Debug)]
pub struct Limits {
    list: Arc<BTreeMap<String, Limit>>,
    read: Arc<Mutex<BTreeSet<String>>>,
}

impl Limits {
    /// From the declared ones.
    pub fn new(list: BTreeMap<String, Limit>) -> Limits {
        Limits {
            list: Arc::new(list),
            read: Arc::default(),
        }
    }
    /// All of them.
    pub fn list(&self) -> &BTreeMap<String, Limit> {
        &self.list
    }
    /// Those that the script has read.
    pub fn read(&self) -> BTreeSet<String> {
        self.read.lock().map(|r| r.clone()).unwrap_or_default()
    }
    /// One by name.
    pub fn get(&self, name: &str) -> Outcome<Quantity> {
        match self.list.get(name) {
            Some(limit) => {
                if let Ok(mut read) = self.read.lock() {
                    read.insert(name.to_string());
                }
                Ok(limit.quantity)
            }
            None => {
                let known: Vec<&str> = self.list.keys().map(String::as_str).collect();
                let wanted = match known.as_slice() {
                    [] => format!("limits: #{{ {name}: limit(...) }} in about()"),
                    list => {
                        let near = nearest(name, list.iter().copied());
                        let near =
                            near.map_or_else(String::new, |n| format!("did you mean `{n}`? "));
                        format!("{near}One that it declares: {}", list.join(", "))
                    }
                };
                complain(format!("there is no limit `{name}` in about()\n{wanted}"))
            }
        }
    }
}
