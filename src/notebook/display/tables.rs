//! Tables: numbers stand right, units in the head.

use crate::dsl::table::Table;
use crate::notebook::bundle::Bundle;
use crate::notebook::words::{Entry, Grid};
use crate::reports::{escape, part};
use crate::units::{Reading, Unit};

/// A table in the reader's units, ready to be laid out.
pub struct Sheet {
    heads: Vec<String>,
    /// True where the column holds figures.
    right: Vec<bool>,
    rows: Vec<Vec<String>>,
    more: usize,
}

/// Rows shown; more are counted.
const MOST: usize = 500;

impl Sheet {
    /// A table of the language.
    pub fn of_table(table: &Table, reading: &Reading) -> Sheet {
        let names = table.names();
        let units: Vec<Unit> = names
            .iter()
            .map(|n| table.unit(n).unwrap_or(Unit::NONE))
            .collect();
        let heads = names.iter().zip(&units).map(|(n, u)| {
            // The name by which the language calls it stays in front.
            let about = table.about(n).filter(|about| about != n);
            let name = about.map_or_else(|| n.clone(), |about| format!("{n}: {about}"));
            let symbol = reading.convert(1.0, *u).1;
            match about {
                Some(about) if about == symbol => name,
                _ => head(&name, *u, reading),
            }
        });
        let rows = (0..table.height().min(MOST)).map(|i| {
            let row = table.row(i);
            row.iter()
                .map(|(_, q)| number(q.value, q.unit, reading))
                .collect()
        });
        Sheet {
            heads: heads.collect(),
            right: vec![true; names.len()],
            rows: rows.collect(),
            more: table.height().saturating_sub(MOST),
        }
    }
    /// A table of words and figures. A column whose figures are all of one unit has it in its head; a table with a column
    /// for units has them there and nowhere else.
    pub fn of_grid(grid: &Grid, reading: &Reading) -> Sheet {
        let column = |at: usize| grid.rows.iter().filter_map(move |row| row.get(at));
        let unit = |at: usize| {
            let mut units = column(at).filter_map(|e| match e {
                Entry::Figure(q) => Some(q.unit),
                _ => None,
            });
            let first = units.next()?;
            units.all(|u| u == first).then_some(first)
        };
        let units: Vec<Option<Unit>> = (0..grid.heads.len()).map(unit).collect();
        let unit_column = grid.heads.iter().position(|head| head == "unit");
        let heads = grid
            .heads
            .iter()
            .zip(&units)
            .map(|(name, unit)| match unit {
                Some(unit) if unit_column.is_none() => head(name, *unit, reading),
                _ => name.clone(),
            });
        // What the reader's own units are, where a row says its unit.
        let own = |row: &[Entry]| {
            let figures = row.iter().filter_map(|entry| match entry {
                Entry::Figure(q) if !q.unit.is_none() => Some(q.unit),
                _ => None,
            });
            figures.map(|unit| reading.convert(1.0, unit).1).next()
        };
        let right = (0..grid.heads.len()).map(|at| {
            let mut figures = column(at).filter(|e| **e != Entry::Nothing).peekable();
            figures.peek().is_some() && figures.all(|e| matches!(e, Entry::Figure(_)))
        });
        let rows = grid.rows.iter().take(MOST).map(|row| {
            let cells = row.iter().zip(&units).enumerate();
            cells
                .map(|(at, (entry, unit))| match entry {
                    Entry::Words(words) if unit_column == Some(at) => {
                        own(row).unwrap_or_else(|| words.clone())
                    }
                    Entry::Words(words) => words.clone(),
                    Entry::Nothing => String::new(),
                    Entry::Figure(q) if unit.is_some() || unit_column.is_some() => {
                        number(q.value, q.unit, reading)
                    }
                    Entry::Figure(q) => reading.show(q.value, q.unit),
                })
                .collect()
        });
        Sheet {
            heads: heads.collect(),
            right: right.collect(),
            rows: rows.collect(),
            more: grid.rows.len().saturating_sub(MOST),
        }
    }
    /// In plain words, columns under each other.
    pub fn plain(&self) -> String {
        let wide: Vec<usize> = (0..self.heads.len())
            .map(|at| {
                let cells = self.rows.iter().filter_map(|r| r.get(at));
                let cells = cells.chain(self.heads.get(at)).map(|c| c.chars().count());
                cells.max().unwrap_or(0)
            })
            .collect();
        let line = |row: &[String]| {
            let cells = row.iter().zip(&wide).zip(&self.right);
            let cells: Vec<String> = cells
                .map(|((cell, wide), right)| {
                    if *right {
                        format!("{cell:>wide$}")
                    } else {
                        format!("{cell:<wide$}")
                    }
                })
                .collect();
            cells.join("  ").trim_end().to_string()
        };
        let mut lines = vec![line(&self.heads)];
        lines.extend(self.rows.iter().map(|r| line(r)));
        lines.extend(self.rest());
        lines.join("\n")
    }
    fn rest(&self) -> Option<String> {
        (self.more > 0).then(|| format!("and {} rows more", self.more))
    }
    /// As markup, to stand inside a part of a page.
    pub fn markup(&self) -> String {
        let side = |at: usize| {
            if self.right.get(at) == Some(&true) {
                " style=\"text-align:right\""
            } else {
                ""
            }
        };
        let heads: String = self
            .heads
            .iter()
            .enumerate()
            .map(|(at, h)| format!("<th scope=\"col\"{}>{}</th>", side(at), escape(h)))
            .collect();
        let row = |row: &Vec<String>| {
            let cells: String = row
                .iter()
                .enumerate()
                .map(|(at, c)| format!("<td{}>{}</td>", side(at), escape(c)))
                .collect();
            format!("<tr>{cells}</tr>\n")
        };
        let rows: String = self.rows.iter().map(row).collect();
        let rest = self
            .rest()
            .map(|r| format!("<p>{r}</p>\n"))
            .unwrap_or_default();
        format!(
            "<div class=\"wide\"><table style=\"width:auto\">\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table></div>\n{rest}"
        )
    }
    /// In all its forms.
    pub fn bundle(&self) -> Bundle {
        Bundle::plain(self.plain()).html(part(&self.markup()))
    }
}

/// A head with its unit.
fn head(name: &str, unit: Unit, reading: &Reading) -> String {
    let symbol = reading.convert(1.0, unit).1;
    if symbol.is_empty() || symbol == name {
        name.to_string()
    } else {
        format!("{name}, {symbol}")
    }
}

/// A figure without its unit, which stands in the head.
fn number(value: f64, unit: Unit, reading: &Reading) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let shown = reading.show(value, unit);
    let symbol = reading.convert(value, unit).1;
    shown
        .strip_suffix(&symbol)
        .unwrap_or(&shown)
        .trim_end()
        .to_string()
}
