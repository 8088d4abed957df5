//! Pictures and tables of what a run holds.

use rhai::plugin::*;

use crate::dsl::column::{Column, Quantity};
use crate::dsl::{Outcome, complain};
use crate::findings::Trace;
use crate::notebook::thin::thinned;
use crate::span::Spans;
use crate::units::Unit;
use rhai::{Array, Map};

/// A picture to be drawn: all of one unit, over time or one quantity against another.
#[derive(Clone)]
pub struct Picture(pub Trace);

/// A cell of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// Words.
    Words(String),
    /// A figure.
    Figure(Quantity),
    /// Nothing is known.
    Nothing,
}

/// A table of words and figures.
#[derive(Clone, Debug, Default)]
pub struct Grid {
    /// Names of its columns.
    pub heads: Vec<String>,
    /// Its rows, each as long as the heads.
    pub rows: Vec<Vec<Entry>>,
}

/// A picture of columns over time.
pub fn over_time(columns: &[Column], marked: &Spans) -> Outcome<Trace> {
    let Some(first) = columns.first() else {
        return complain("there is nothing to draw here");
    };
    if let Some(other) = columns
        .iter()
        .find(|c| c.unit.difference() != first.unit.difference())
    {
        return complain(format!(
            "{} is in {} and {} in {}: draw a picture for each unit",
            first.name,
            first.unit.key(),
            other.name,
            other.unit.key()
        ));
    }
    let names: Vec<&str> = columns.iter().map(|c| c.name.as_str()).collect();
    let series = columns.iter().map(|c| {
        let label = if c.position.is_some() && columns.len() > 1 {
            &c.label
        } else {
            &c.name
        };
        thinned(label, &c.series(), c.lazy.believed_s())
    });
    Ok(Trace {
        title: names.join(", "),
        across: None,
        unit: first.unit,
        series: series.collect(),
        lines: Vec::new(),
        marked: marked.clone(),
    })
}

/// The columns of a list.
fn columns(list: Array) -> Outcome<Vec<Column>> {
    let mut out = Vec::new();
    for value in list {
        match value.try_cast::<Column>() {
            Some(column) => out.push(column),
            None => return complain("plot wants a list of columns"),
        }
    }
    Ok(out)
}

/// What a table shows of a value.
fn entry(value: &Dynamic) -> Entry {
    if value.is_unit() {
        return Entry::Nothing;
    }
    let number = |value: f64| {
        Entry::Figure(Quantity {
            value,
            unit: Unit::NONE,
        })
    };
    if let Some(q) = value.read_lock::<Quantity>() {
        return Entry::Figure(*q);
    }
    if let Ok(i) = value.as_int() {
        return number(i as f64);
    }
    if let Ok(f) = value.as_float() {
        return number(f);
    }
    Entry::Words(super::plain(value))
}

/// Figures of a column as a row under the heads of [`figures`].
fn row(column: &Column) -> Vec<Entry> {
    let known = column.known();
    let figure =
        |f: fn(&[f64]) -> Option<f64>| column.stat(f).map_or(Entry::Nothing, Entry::Figure);
    let count = column.series().len() as f64;
    vec![
        Entry::Words(column.name.clone()),
        Entry::Words(column.unit.key()),
        figure(|v| v.iter().copied().reduce(f64::min)),
        figure(crate::stats::median),
        figure(|v| v.iter().copied().reduce(f64::max)),
        Entry::Figure(Quantity {
            value: count,
            unit: Unit::NONE,
        }),
        Entry::Figure(Quantity {
            value: known.list().len().saturating_sub(1) as f64,
            unit: Unit::NONE,
        }),
    ]
}

/// A table of columns and their figures.
pub fn figures<'a>(columns: impl Iterator<Item = &'a Column>) -> Grid {
    let heads = [
        "channel", "unit", "min", "median", "max", "readings", "gaps",
    ];
    Grid {
        heads: heads.map(str::to_string).to_vec(),
        rows: columns.map(row).collect(),
    }
}

/// A list of maps as a table: their keys are its heads.
fn of_maps(list: Array) -> Outcome<Grid> {
    let mut grid = Grid::default();
    for value in list {
        let Some(map) = value.try_cast::<Map>() else {
            return complain("table wants a list of maps, one for each row");
        };
        for key in map
            .keys()
            .filter(|k| !grid.heads.iter().any(|h| h == k.as_str()))
            .cloned()
            .collect::<Vec<_>>()
        {
            grid.heads.push(key.to_string());
            grid.rows
                .iter_mut()
                .for_each(|row| row.push(Entry::Nothing));
        }
        let row = grid
            .heads
            .iter()
            .map(|head| map.get(head.as_str()).map_or(Entry::Nothing, entry));
        let row = row.collect();
        grid.rows.push(row);
    }
    Ok(grid)
}

/// A table with these columns, in this order.
fn ordered(grid: &Grid, heads: &Array) -> Outcome<Grid> {
    let mut places = Vec::new();
    let mut grid = grid.clone();
    for head in heads {
        let Ok(head) = head.clone().into_immutable_string() else {
            return complain("table wants the names of its columns as texts");
        };
        match grid.heads.iter().position(|h| *h == head.as_str()) {
            Some(place) => places.push(place),
            // Without rows nothing can be misspelt: the table is empty, and says of what.
            None if grid.rows.is_empty() => {
                places.push(grid.heads.len());
                grid.heads.push(head.to_string());
            }
            None => {
                let known = grid.heads.join(", ");
                return complain(format!("no row has a `{head}`; they have {known}"));
            }
        }
    }
    let pick = |row: &Vec<Entry>| places.iter().map(|p| row[*p].clone()).collect();
    Ok(Grid {
        heads: places.iter().map(|p| grid.heads[*p].clone()).collect(),
        rows: grid.rows.iter().map(pick).collect(),
    })
}

/// Package.
#[export_module]
pub mod words {
    use super::{Grid, Picture, columns, figures, of_maps, ordered, over_time};
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::family::Family;
    use crate::dsl::run::Run;
    use crate::dsl::table::Table;
    use crate::dsl::{Outcome, complain};
    use crate::findings::{Across, Line, Series, Trace};
    use crate::span::Spans;
    use rhai::Array;

    /// A picture of a column over time: `plot(run.rpm)`.
    #[rhai_fn(return_raw)]
    pub fn plot(column: Column) -> Outcome<Picture> {
        over_time(&[column], &Spans::default()).map(Picture)
    }
    /// The same with stretches of time marked: `plot(run.battery_v, run.during("cranking"))`.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_marked(column: Column, marked: Spans) -> Outcome<Picture> {
        over_time(&[column], &marked).map(Picture)
    }
    /// All members of a family in one picture.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_family(family: Family) -> Outcome<Picture> {
        over_time(&family.members, &Spans::default()).map(Picture)
    }
    /// The same with stretches of time marked.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_family_marked(family: Family, marked: Spans) -> Outcome<Picture> {
        over_time(&family.members, &marked).map(Picture)
    }
    /// Columns of one unit in one picture: `plot([run.map, run.baro])`.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_list(list: Array) -> Outcome<Picture> {
        over_time(&columns(list)?, &Spans::default()).map(Picture)
    }
    /// The same with stretches of time marked.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_list_marked(list: Array, marked: Spans) -> Outcome<Picture> {
        over_time(&columns(list)?, &marked).map(Picture)
    }
    /// One column against another: `plot_against(run.battery_v, run.rpm)`.
    pub fn plot_against(column: Column, across: Column) -> Picture {
        let series = column.series();
        let xs = crate::dsl::lazy::hold(&across.series(), &series.times, across.lazy.believed_s());
        let points = crate::plots::cloud_of(&xs, &series.values);
        Picture(Trace {
            title: format!("{} against {}", column.name, across.name),
            across: Some(Across::of(&across.name, across.unit)),
            unit: column.unit,
            series: vec![Series {
                label: column.name.clone(),
                points,
            }],
            lines: Vec::new(),
            marked: Spans::default(),
        })
    }
    /// With a level across it: `plot(run.battery_v).level("least", quantity(13.2, "V"))`.
    #[rhai_fn(return_raw)]
    pub fn level(mut picture: Picture, name: &str, at: Quantity) -> Outcome<Picture> {
        if at.unit.difference() != picture.0.unit.difference() {
            return complain(format!(
                "the picture is in {}, the level in {}",
                picture.0.unit.key(),
                at.unit.key()
            ));
        }
        picture.0.lines.push(Line {
            label: name.to_string(),
            at: at.value,
        });
        Ok(picture)
    }
    /// With a title of its own.
    pub fn titled(mut picture: Picture, title: &str) -> Picture {
        picture.0.title = title.to_string();
        picture
    }
    /// Every channel of a run with its unit, least, median and greatest value.
    pub fn table(run: Run) -> Grid {
        let names: Vec<String> = run.shared.recording.channels.keys().cloned().collect();
        let columns: Vec<Column> = names.iter().filter_map(|n| run.column(n)).collect();
        figures(columns.iter())
    }
    /// The members of a family with their figures.
    #[rhai_fn(name = "table")]
    pub fn table_family(family: Family) -> Grid {
        figures(family.members.iter())
    }
    /// The figures of a column.
    #[rhai_fn(name = "table")]
    pub fn table_column(column: Column) -> Grid {
        figures(std::iter::once(&column))
    }
    /// A list as a table: of maps, one for each row, or of columns with their figures.
    #[rhai_fn(name = "table", return_raw)]
    pub fn table_list(list: Array) -> Outcome<Grid> {
        if list.iter().any(|v| v.is::<Column>()) {
            let columns = columns(list)?;
            return Ok(figures(columns.iter()));
        }
        of_maps(list)
    }
    /// The same with these columns alone, in this order: `table(run.egt.medians(), ["cylinder", "value"])`.
    #[rhai_fn(name = "table", return_raw)]
    pub fn table_ordered(list: Array, heads: Array) -> Outcome<Grid> {
        ordered(&of_maps(list)?, &heads)
    }
    /// A table as it is.
    #[rhai_fn(name = "table")]
    pub fn table_table(table: Table) -> Table {
        table
    }
}
