//! Logs with one row per reading (time, channel, value): the readings of each channel, gathered in one pass.
//!
//! Which channels there are is only known behind the last row, so a log of this kind is read when it is opened.

use std::collections::HashMap;
use std::io::Read;

use rayon::prelude::*;

use super::cells::{Cell, Kind, LogMarks, Marks, bare, cell};
use super::chunks::Chunk;
use super::clock::StampPlan;
use super::dialect::{Encoding, Heading};
use super::encoding::words;
use super::fields::{field, line_and_cuts, record_and_cuts, unquote};
use super::glued::{Unit, number_and_unit};
use super::joined::Joined;
use super::lines::RowLines;
use super::problems::{LISTED_PER_KIND, ProblemKind, Problems};
use super::reject::{self, Rejected};
use super::sniff::{Layout, LongShape, tell_apart};
use super::stray::{note_stray, takes_in_rows};
use super::switches::{SwitchWord, settle};
use super::table::Column;
use super::waves::{Wave, for_each_wave};
use super::words::{name_and_unit, unit_text};

/// More different names than this are no channels: the column holds free text.
pub(crate) const MOST_CHANNELS: usize = 4096;
/// Between name and unit of a channel's key.
pub(super) const PART: u8 = 0x1F;

/// The readings of one channel.
#[derive(Clone, Debug, Default)]
pub(crate) struct Channel {
    /// As it stands in the log.
    pub(super) name: Vec<u8>,
    pub(super) unit: Vec<u8>,
    /// Positions among the stamps, in the order of the log, and the value read there.
    pub at: Vec<u32>,
    pub values: Vec<f64>,
    /// Readings that hold nothing, or a word for "missing".
    pub blank: usize,
    /// Readings that hold something that is no number; their lines are in the problems.
    pub unreadable: usize,
    /// Readings that are a word for on or off, once it is settled that the channel is a switch.
    pub words: usize,
    /// Lines of the first words for on and off.
    pub(super) word_lines: Vec<usize>,
}

/// All readings of a log.
#[derive(Clone, Debug, Default)]
pub(crate) struct Readings {
    pub channels: Vec<Channel>,
    /// Looked up only, never gone through.
    pub(super) places: HashMap<Vec<u8>, usize>,
    /// Channels that were put into others.
    pub(super) joined: Vec<Joined>,
    /// Stamps in seconds in the order of the log; one that the next row repeats stands only once.
    pub stamps: Vec<f64>,
    /// The line on which each of them stands first.
    pub lines: RowLines,
    pub problems: Problems,
    /// Rows in use.
    pub rows: usize,
    /// The first stamp as written.
    pub first_stamp: Option<String>,
    /// Whether the names are too many to be those of channels.
    pub overflowed: bool,
    /// The last row, if no line end closes it: a channel's name or unit may have lost its end.
    unended: Option<Reading>,
}

/// One row.
#[derive(Clone, Debug)]
struct Reading {
    time: f64,
    line: usize,
    /// Name and unit of the channel.
    key: Vec<u8>,
    name: usize,
    read: Cell,
}

/// The pass over the text.
pub(crate) struct LongPass<'a> {
    layout: &'a Layout,
    shape: &'a LongShape,
    clock: StampPlan,
    /// How values are written: numbers, words for on and off, units behind numbers, just as each channel likes it.
    marks: Marks,
}

impl<'a> LongPass<'a> {
    /// `None` without a clock column, which readings cannot do without.
    pub fn new(layout: &'a Layout, shape: &'a LongShape) -> Option<Self> {
        let marks = Marks {
            kind: Kind::Open,
            unit: Unit::NONE,
            ..layout.marks.of(shape.value)
        };
        Some(Self {
            layout,
            shape,
            clock: shape.clock.plan(&layout.marks)?,
            marks,
        })
    }

    /// Adds the readings of a text to `sum`. What broke off the text, if something did.
    pub fn run(&self, text: impl Read + Send, sum: &mut Readings) -> Option<std::io::Error> {
        let (start, shape) = (self.layout.data_start, self.layout.shape);
        let outcome = for_each_wave(text, start, shape, |wave: &Wave| {
            let parts: Vec<Readings> = wave
                .chunks
                .par_iter()
                .map(|chunk| self.part(wave, chunk))
                .collect();
            for part in parts {
                sum.add(part);
            }
        });
        sum.close(self.layout.encoding);
        outcome.err()
    }

    /// The readings of one piece.
    fn part(&self, wave: &Wave, chunk: &Chunk) -> Readings {
        let piece = wave.piece(chunk);
        let bytes = piece.text;
        let first_line = self.layout.data_line + wave.lines_before + chunk.lines_before;
        let mut part = Readings::default();
        let (mut cuts, mut key) = (Vec::new(), Vec::new());
        // Up to here each line is a record of its own.
        let mut apart = 0;
        let (mut at, mut line) = (0, first_line);
        while at < bytes.len() {
            let (mut record, _) = record_and_cuts(
                bytes,
                at,
                self.layout.shape,
                piece.quotes,
                usize::MAX,
                &mut cuts,
            );
            if record.lines > 1 {
                let clock = Some(&self.clock);
                if at >= apart && takes_in_rows(self.layout, clock, record.text(bytes)) {
                    note_stray(&mut part.problems, line, record.lines);
                    apart = record.next;
                }
                if at < apart {
                    (record, _) = line_and_cuts(bytes, at, self.layout.shape, &mut cuts);
                }
            }
            let text = record.text(bytes);
            let unended = piece.last && record.next >= bytes.len() && !record.is_terminated();
            // Not even half of a line end stands behind it: it may have been cut.
            let torn = (unended && text.len() == record.end - record.start)
                .then(|| piece.above(record.start));
            let read = if unended && piece.broken {
                Err(Rejected::Torn)
            } else {
                self.row(text, &cuts, torn.as_deref(), line, &mut part, &mut key)
            };
            if let Err(rejected) = read {
                let note = |kind, column, what: String| {
                    part.problems.note(kind, line, column, || what);
                };
                let clock = Some(&self.clock);
                reject::explain(rejected, self.layout, text, &cuts, clock, note);
            }
            line += record.lines;
            at = record.next;
        }
        part
    }

    /// Takes one row, or says why it cannot be used.
    fn row(
        &self,
        text: &[u8],
        cuts: &[u32],
        torn: Option<&[u8]>,
        line: usize,
        part: &mut Readings,
        key: &mut Vec<u8>,
    ) -> Result<(), Rejected> {
        let (layout, shape) = (self.layout, self.shape);
        reject::check_shape(layout, text, cuts, cuts.len(), torn)?;
        if layout.header_texts.iter().any(|header| header == text) {
            return Err(Rejected::Text);
        }
        let place = |column: usize| field(text, cuts, column).unwrap_or_default();
        let Cell::Number(time) = self.clock.read(place) else {
            return Err(Rejected::Stamp);
        };
        let name = bare(place(shape.channel));
        if name.is_empty() {
            let column = Some(shape.channel + 1);
            part.problems
                .note(ProblemKind::NoChannel, line, column, || {
                    "the row does not say of which channel its reading is".to_owned()
                });
            return Ok(());
        }
        let mut unit = shape.unit.map_or(&b""[..], |unit| bare(place(unit)));
        if matches!(unit, b"-" | b"--") {
            unit = b"";
        }
        let value = place(shape.value);
        let mut read = cell(value, self.marks);
        if read == Cell::Unreadable {
            // A unit behind the number is the channel's, unless another one is given.
            if let Some((number, behind)) = number_and_unit(bare(value))
                && (unit.is_empty() || unit == behind)
            {
                unit = behind;
                read = cell(number, self.marks);
            }
        }
        if read == Cell::Unreadable {
            let column = Some(shape.value + 1);
            part.problems
                .note(ProblemKind::UnreadableCell, line, column, || {
                    let shown = reject::shown(value, layout.encoding);
                    let hint = reject::decimal_hint(value, self.marks);
                    let name = words(name, layout.encoding);
                    format!("`{shown}` for {name} is not a number{hint}")
                });
        }
        key.clear();
        key.extend_from_slice(name);
        key.push(PART);
        key.extend_from_slice(unit);
        if torn.is_some() {
            part.unended = Some(Reading {
                time,
                line,
                key: key.clone(),
                name: name.len(),
                read,
            });
            return Ok(());
        }
        part.take(time, line, key, name.len(), read);
        if part.first_stamp.is_none() {
            let written = words(bare(place(self.clock.column)), layout.encoding);
            part.first_stamp = Some(written);
        }
        Ok(())
    }
}

impl Readings {
    /// Adds one reading. `key`: the name of the channel, of `name` bytes, and its unit.
    fn take(&mut self, time: f64, line: usize, key: &[u8], name: usize, read: Cell) {
        self.rows += 1;
        if self.stamps.last() != Some(&time) {
            self.stamps.push(time);
            self.lines.push(line);
        }
        let at = position(self.stamps.len() - 1);
        let Some(channel) = self.channel(key, name) else {
            return;
        };
        match read {
            Cell::Number(value) => {
                channel.at.push(at);
                channel.values.push(value);
                if channel.word_lines.len() < LISTED_PER_KIND && SwitchWord::of(value).is_some() {
                    channel.word_lines.push(line);
                }
            }
            Cell::Blank => channel.blank += 1,
            Cell::Unreadable => channel.unreadable += 1,
        }
    }

    /// The channel of a key, made where it is not known yet. `None` when there are too many.
    fn channel(&mut self, key: &[u8], name: usize) -> Option<&mut Channel> {
        let known = self.places.get(key).copied();
        let place = known.unwrap_or(self.channels.len());
        if known.is_none() {
            if self.channels.len() >= MOST_CHANNELS {
                self.overflowed = true;
                return None;
            }
            self.places.insert(key.to_vec(), place);
            self.channels.push(Channel {
                name: key[..name].to_vec(),
                unit: key[name + 1..].to_vec(),
                ..Channel::default()
            });
        }
        self.channels.get_mut(place)
    }

    /// Adds the readings of the part that follows.
    fn add(&mut self, part: Self) {
        let offset = position(self.stamps.len());
        self.stamps.extend(part.stamps);
        // Lines of a part are counted from the start of the file already.
        self.lines.append(&part.lines, 0);
        self.problems.append(part.problems, 0);
        self.rows += part.rows;
        self.overflowed |= part.overflowed;
        if self.first_stamp.is_none() {
            self.first_stamp = part.first_stamp;
        }
        for from in part.channels {
            let mut key = from.name.clone();
            key.push(PART);
            key.extend_from_slice(&from.unit);
            if let Some(to) = self.channel(&key, from.name.len()) {
                to.at
                    .extend(from.at.iter().map(|at| at.saturating_add(offset)));
                to.values.extend(from.values);
                to.blank += from.blank;
                to.unreadable += from.unreadable;
                to.word_lines.extend(from.word_lines);
                to.word_lines.truncate(LISTED_PER_KIND);
            }
        }
        self.unended = part.unended;
    }

    /// Takes the last row, unless the end of its line is missing and of its channel too.
    fn close(&mut self, encoding: Encoding) {
        let Some(last) = self.unended.take() else {
            return;
        };
        if self.places.contains_key(&last.key) || self.channels.is_empty() {
            self.take(last.time, last.line, &last.key, last.name, last.read);
            return;
        }
        self.problems.note(ProblemKind::CutRow, last.line, None, || {
            let name = words(&last.key[..last.name], encoding);
            let unit = words(&last.key[last.name + 1..], encoding);
            let of = if unit.is_empty() { String::new() } else { format!(" in `{unit}`") };
            format!("the last row has no line end, and no other row has a reading of `{name}`{of}: it is taken as cut short")
        });
    }

    /// Settles for each channel whether words for on and off are its readings. `said`: whether the evidence says that
    /// there are such words.
    pub fn settle(&mut self, headings: &[Heading], said: bool) {
        let usual = Marks::POINT;
        let marks = LogMarks {
            usual,
            columns: Vec::new(),
        };
        for (at, channel) in self.channels.iter_mut().enumerate() {
            if channel.word_lines.is_empty() {
                continue;
            }
            let mut word_lines = channel.word_lines.drain(..);
            let mut lines = RowLines::default();
            let mut line = 0;
            for (value, at) in channel.values.iter().zip(&channel.at) {
                line = match SwitchWord::of(*value) {
                    Some(_) => word_lines.next().unwrap_or(line),
                    None => self.lines.line_of(*at as usize),
                };
                lines.push(line);
            }
            drop(word_lines);
            let mut column = [Column {
                column: at + 1,
                filled: channel.values.len(),
                values: std::mem::take(&mut channel.values),
                ..Column::default()
            }];
            let said: &[usize] = if said { &[at + 1] } else { &[] };
            settle(
                &mut column,
                &marks,
                said,
                headings,
                &lines,
                &mut self.problems,
            );
            let [column] = column;
            channel.words = column.words;
            channel.unreadable += column.unreadable;
            channel.values = column.values;
            // Words that turned out to be no readings leave no value behind.
            let kept: Vec<bool> = channel.values.iter().map(|value| !value.is_nan()).collect();
            let mut keep = kept.iter();
            channel
                .values
                .retain(|_| keep.next().copied().unwrap_or(false));
            let mut keep = kept.iter();
            channel.at.retain(|_| keep.next().copied().unwrap_or(false));
        }
    }

    /// The same channels without readings: for a pass over a part of the log.
    pub fn emptied(&self) -> Self {
        let empty = |channel: &Channel| Channel {
            name: channel.name.clone(),
            unit: channel.unit.clone(),
            ..Channel::default()
        };
        let mut emptied = Self {
            channels: self.channels.iter().map(empty).collect(),
            places: self.places.clone(),
            ..Self::default()
        };
        emptied.part_again(&self.joined);
        emptied
    }

    /// The headings: the clock's, then one for each channel in the order in which they first appear.
    pub fn headings(
        &self,
        clock: &Heading,
        encoding: Encoding,
        evidence: &mut Vec<String>,
    ) -> Vec<Heading> {
        let first = Heading {
            column: 0,
            ..clock.clone()
        };
        let others = self.channels.iter().enumerate().map(|(at, channel)| {
            let written = words(&channel.name, encoding);
            let raw = unquote(&written).into_owned();
            let (name, unit) = name_and_unit(&raw);
            Heading {
                column: at + 1,
                name: name.split_whitespace().collect::<Vec<_>>().join(" "),
                unit: unit_text(&words(&channel.unit, encoding)).or(unit),
                raw,
                nth: 1,
            }
        });
        let mut all: Vec<Heading> = std::iter::once(first).chain(others).collect();
        tell_apart(&mut all, evidence);
        all
    }
}

/// Four thousand million stamps are more than any memory holds at eight bytes each.
fn position(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}
