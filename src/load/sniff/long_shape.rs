//! Whether a log has one row per reading: a time, the name of a channel, a value, and perhaps its unit.

use std::collections::{BTreeMap, BTreeSet};

use super::grid::{Class, Grid};
use crate::load::cells::bare;
use crate::load::clock::Clock;
use crate::load::dialect::Heading;
use crate::load::words::{is_unit, words_of};

/// Rows of readings have few fields; a log with a column per channel that is narrower still is rare.
const FIELDS: std::ops::RangeInclusive<usize> = 3..=10;
/// Of so many rows one at most brings a channel not seen before.
const ROWS_PER_CHANNEL: f64 = 1.5;

/// The columns of a log with one row per reading, counted from 0.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LongShape {
    /// The clock as it stands in the rows of the log; that of the dialect is the first column of the table.
    pub clock: Clock,
    pub channel: usize,
    pub value: usize,
    pub unit: Option<usize>,
}

const CHANNEL: [&str; 34] = [
    "channel",
    "channels",
    "name",
    "signal",
    "signals",
    "sensor",
    "sensors",
    "parameter",
    "param",
    "pid",
    "variable",
    "var",
    "tag",
    "item",
    "quantity",
    "measurand",
    "metric",
    "label",
    "key",
    "field",
    "series",
    "kanal",
    "messgrosse",
    "messgröße",
    "grösse",
    "größe",
    "voie",
    "canal",
    "señal",
    "grandeur",
    "sinal",
    "segnale",
    "probe",
    "measurement",
];
const VALUE: [&str; 17] = [
    "value",
    "values",
    "val",
    "reading",
    "readings",
    "data",
    "result",
    "measured",
    "measurement",
    "wert",
    "messwert",
    "valeur",
    "valor",
    "valore",
    "amount",
    "number",
    "magnitude",
];
const UNIT: [&str; 9] = [
    "unit", "units", "uom", "einheit", "unite", "unité", "unidad", "unidade", "unita",
];

/// What the head shows of one column.
struct Column<'a> {
    at: usize,
    words: Vec<String>,
    texts: BTreeSet<&'a [u8]>,
    filled: usize,
    text: usize,
    numbers: usize,
    units: usize,
}

impl Column<'_> {
    fn is_called(&self, list: &[&str]) -> bool {
        self.words.iter().any(|word| list.contains(&word.as_str()))
    }

    /// Words for the most part, and the same few again and again.
    #[expect(clippy::cast_precision_loss, reason = "counts of rows in the head")]
    fn repeats_words(&self) -> bool {
        self.text > 0
            && self.text * 10 >= self.filled * 6
            && self.filled as f64 >= self.texts.len() as f64 * ROWS_PER_CHANNEL
    }

    fn holds_numbers(&self) -> bool {
        self.numbers > 0 && self.numbers * 10 >= self.filled * 6
    }

    fn holds_units(&self) -> bool {
        self.units > 0 && self.units * 10 >= self.filled * 8
    }
}

/// Finds the columns of readings; `aside` are those of the clock.
pub(super) fn find(
    grid: &Grid,
    headings: &[Heading],
    clock: Clock,
    aside: &[usize],
) -> Option<LongShape> {
    if !FIELDS.contains(&headings.len()) {
        return None;
    }
    let columns: Vec<Column> = headings
        .iter()
        .filter(|heading| !aside.contains(&heading.column))
        .map(|heading| column(grid, heading))
        .collect();
    let unit = |channel: usize| {
        let called = columns.iter().find(|c| c.is_called(&UNIT));
        let called = called.or_else(|| columns.iter().find(|c| c.holds_units()));
        called.map(|c| c.at).filter(|at| *at != channel)
    };
    let words = || columns.iter().filter(|c| c.repeats_words());
    let named = words().find(|c| c.is_called(&CHANNEL));
    let most = || {
        let others = words().filter(|c| c.texts.len() >= 2 && !c.holds_units());
        let others = others.filter(|c| !c.is_called(&UNIT));
        others.max_by_key(|c| c.texts.len())
    };
    let channel = named.or_else(most)?;
    let numbers = || {
        columns
            .iter()
            .filter(|c| c.holds_numbers() && c.at != channel.at)
    };
    let valued = numbers().find(|c| c.is_called(&VALUE));
    let only = match (numbers().next(), numbers().nth(1)) {
        (Some(only), None) => Some(only),
        _ => None,
    };
    let value = valued.or(only)?;
    let unit = unit(channel.at).filter(|at| *at != value.at && suits(grid, channel.at, *at));
    // A log with a column per channel may have a column of words too: at least two things must speak for readings.
    let speaks = [
        named.is_some(),
        valued.is_some(),
        unit.is_some(),
        channel.texts.len() >= 3,
    ];
    let count = speaks.into_iter().filter(|speaks| *speaks).count();
    let enough = match (named.is_some(), valued.is_some()) {
        (true, true) => true,
        (false, true) | (true, false) => valued.is_some() && count >= 2 || unit.is_some(),
        (false, false) => unit.is_some() && count >= 2,
    };
    enough.then_some(LongShape {
        clock,
        channel: channel.at,
        value: value.at,
        unit,
    })
}

fn column<'a>(grid: &'a Grid, heading: &Heading) -> Column<'a> {
    let mut column = Column {
        at: heading.column,
        words: words_of(&heading.name),
        texts: BTreeSet::new(),
        filled: 0,
        text: 0,
        numbers: 0,
        units: 0,
    };
    for row in grid
        .rows
        .iter()
        .filter(|row| is_reading(grid, row.line, &row.classes))
    {
        let (Some(class), Some(field)) = (row.classes.get(column.at), row.fields.get(column.at))
        else {
            continue;
        };
        column.filled += usize::from(*class != Class::Empty);
        column.numbers += usize::from(matches!(class, Class::Number | Class::Word));
        if matches!(class, Class::Text | Class::Word) {
            column.text += usize::from(*class == Class::Text);
            column.texts.insert(bare(field));
            let unit = std::str::from_utf8(bare(field)).is_ok_and(is_unit);
            column.units += usize::from(unit || field.contains(&0xB0));
        }
    }
    column
}

/// Rows behind the header of the width of most. A row of readings is half words, so it need not look like data.
fn is_reading(grid: &Grid, line: usize, classes: &[Class]) -> bool {
    grid.is_behind_header(line) && classes.len() == grid.width
}

/// Whether each channel has one unit, but for a few rows: else the column is no unit of it.
fn suits(grid: &Grid, channel: usize, unit: usize) -> bool {
    let mut units: BTreeMap<&[u8], BTreeSet<&[u8]>> = BTreeMap::new();
    for row in &grid.rows {
        if !is_reading(grid, row.line, &row.classes) {
            continue;
        }
        let (Some(channel), Some(unit)) = (row.fields.get(channel), row.fields.get(unit)) else {
            continue;
        };
        units.entry(bare(channel)).or_default().insert(bare(unit));
    }
    let known = |unit: &&[u8]| std::str::from_utf8(unit).is_ok_and(is_unit) || unit.is_empty();
    let several = units
        .values()
        .filter(|units| units.len() > 2 && !units.iter().all(known));
    let several = several.count();
    several * 10 <= units.len()
}
