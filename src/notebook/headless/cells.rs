//! Running a notebook's cells, and keeping what they show.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::file::{Kind, Notebook};
use crate::notebook::bundle::Bundle;
use crate::notebook::{CellError, Front, Options, Output, Session};

/// A cell that failed.
#[derive(Clone, Debug)]
pub struct Fault {
    /// Which of the cells, from 1.
    pub number: usize,
    /// Its id.
    pub id: String,
    /// What went wrong and where.
    pub error: CellError,
}

impl Fault {
    /// For a terminal without colours, a line each: where and what, the line with the place marked, what to do.
    pub fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = self.error.lines().iter().map(|l| uncoloured(l)).collect();
        if self.error.place.is_none()
            && let Some(head) = lines.first_mut()
        {
            *head = format!("{}: {head}", name(self.number, &self.id));
        }
        lines
    }
}

fn name(number: usize, id: &str) -> String {
    format!("cell {number} (id `{id}`)")
}

/// Runs all code cells in order, in a session of their own, and writes their outputs and counts into the notebook. Stops
/// after the first that fails, unless `go_on`. A cell tagged `raises-exception` may fail, one tagged `skip-execution` is
/// left out, as where notebook libraries run it.
pub fn run(notebook: &mut Notebook, options: Options, go_on: bool) -> Vec<Fault> {
    notebook.empty();
    let mut session = Session::new(options);
    let mut shown = Shown::default();
    let mut faults = Vec::new();
    let mut count = 0;
    for (index, cell) in notebook.cells().into_iter().enumerate() {
        let has = |tag: &str| cell.tags.iter().any(|t| t == tag);
        if cell.kind != Kind::Code || cell.source.trim().is_empty() || has("skip-execution") {
            continue;
        }
        count += 1;
        notebook.set_count(index, Some(count));
        let number = index + 1;
        let mut keeper = Keeper {
            notebook,
            shown: &mut shown,
            index,
            clear_next: false,
        };
        match session.run(&name(number, &cell.id), &cell.source, &mut keeper) {
            Ok(None) => {}
            Ok(Some(bundle)) => keeper.add(json!({
                "output_type": "execute_result",
                "execution_count": count,
                "data": bundle.json(),
                "metadata": {},
            })),
            Err(error) => {
                keeper.add(json!({
                    "output_type": "error",
                    "ename": error.kind,
                    "evalue": error.line(),
                    "traceback": error.lines(),
                }));
                if has("raises-exception") {
                    continue;
                }
                let id = cell.id;
                faults.push(Fault { number, id, error });
                if !go_on {
                    break;
                }
            }
        }
    }
    faults
}

/// Where things with an id are shown: cell and output.
type Shown = BTreeMap<String, Vec<(usize, usize)>>;

/// Keeps what a cell shows in the notebook.
struct Keeper<'a> {
    notebook: &'a mut Notebook,
    shown: &'a mut Shown,
    index: usize,
    /// All goes away once something new comes.
    clear_next: bool,
}

impl Keeper<'_> {
    fn clear(&mut self) {
        self.clear_next = false;
        let index = self.index;
        for places in self.shown.values_mut() {
            places.retain(|place| place.0 != index);
        }
        if let Some(outputs) = self.notebook.outputs_mut(index) {
            outputs.clear();
        }
    }
    fn add(&mut self, output: Value) {
        if self.clear_next {
            self.clear();
        }
        if let Some(outputs) = self.notebook.outputs_mut(self.index) {
            outputs.push(output);
        }
    }
    fn stream(&mut self, name: &str, text: &str) {
        if self.clear_next {
            self.clear();
        }
        let outputs = self.notebook.outputs_mut(self.index);
        let last = outputs.and_then(|o| o.last_mut());
        match last.filter(|o| o["output_type"] == "stream" && o["name"] == name) {
            Some(last) => {
                let so_far = last["text"].as_str().unwrap_or_default();
                last["text"] = format!("{so_far}{text}").into();
            }
            None => self.add(json!({ "output_type": "stream", "name": name, "text": text })),
        }
    }
    fn show_bundle(&mut self, bundle: &Bundle, id: Option<String>, again: bool) {
        if again {
            let places = id.and_then(|id| self.shown.get(&id).cloned());
            for (cell, output) in places.unwrap_or_default() {
                let outputs = self.notebook.outputs_mut(cell);
                if let Some(old) = outputs.and_then(|o| o.get_mut(output)) {
                    old["data"] = bundle.json();
                }
            }
            return;
        }
        self.add(json!({ "output_type": "display_data", "data": bundle.json(), "metadata": {} }));
        let last = self.notebook.outputs(self.index).len().saturating_sub(1);
        if let Some(id) = id {
            self.shown.entry(id).or_default().push((self.index, last));
        }
    }
}

impl Front for Keeper<'_> {
    fn show(&mut self, output: Output) {
        match output {
            Output::Printed(text) => self.stream("stdout", &text),
            Output::Warned(text) => self.stream("stderr", &text),
            Output::Shown { bundle, id, again } => self.show_bundle(&bundle, id, again),
            Output::Cleared { wait: true } => self.clear_next = true,
            Output::Cleared { wait: false } => self.clear(),
            // A page beside the notebook, a new cell and a comm need somebody who sits before them.
            Output::Page(_) | Output::NextCell(_) | Output::Comm(_) => {}
        }
    }
    fn ask(&mut self, _: &str, _: bool, _: &dyn Fn() -> bool) -> Option<String> {
        None
    }
}

/// Without the codes that colour a terminal.
pub fn uncoloured(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut rest = line.chars();
    while let Some(c) = rest.next() {
        if c != '\u{1b}' {
            out.push(c);
        } else if rest.next() == Some('[') {
            // The code ends with its first letter.
            for c in rest.by_ref() {
                if c.is_ascii_alphabetic() {
                    break;
                }
            }
        }
    }
    out
}

#[cfg(test)]
#[path = "cells_tests.rs"]
mod tests;
