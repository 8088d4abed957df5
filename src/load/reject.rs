//! Rows that cannot be used: told from good ones quickly, explained at leisure.

use std::collections::BTreeSet;

use super::cells::{Cell, Marks, bare, cell, trim};
use super::clock::{StampPlan, written_out};
use super::dialect::Encoding;
use super::encoding::words;
use super::fields::{field, unquote};
use super::problems::ProblemKind;
use super::sniff::Layout;
use super::torn::breaks_off;

/// Letters of a cell or row that are shown.
const SHOWN: usize = 40;

/// Why the pass could not use a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rejected {
    /// Too few or too many fields.
    Width,
    /// The last row, broken off.
    Torn,
    /// No stamp that can be read.
    Stamp,
    /// No number anywhere, or a header once more.
    Text,
}

/// Whether a row has the fields that a whole one has. Empty ones behind the last do not matter. `cuts`
/// may end behind the fields that are wanted; `count` is how many there are. `torn` is what stands
/// before a row that ends with the file, without a line end.
#[inline]
pub(crate) fn check_shape(
    layout: &Layout,
    text: &[u8],
    cuts: &[u32],
    count: usize,
    torn: Option<&[u8]>,
) -> Result<(), Rejected> {
    let found = count + 1;
    if found != layout.fields {
        // One delimiter at the end starts no field.
        if found == layout.fields + 1 && text.last() == Some(&layout.shape.delimiter) {
            return Ok(());
        }
        if found < layout.fields {
            return match torn {
                Some(_) => Err(Rejected::Torn),
                None if found >= layout.least_fields => Ok(()),
                None => Err(Rejected::Width),
            };
        }
        let from = cuts
            .get(layout.fields.wrapping_sub(1))
            .map_or(0, |cut| *cut as usize);
        let rest = &text[from..];
        let delimiter = layout.shape.delimiter;
        if !rest
            .iter()
            .all(|c| *c == delimiter || *c == b'"' || c.is_ascii_whitespace())
        {
            return Err(Rejected::Width);
        }
    } else if let Some(before) = torn
        && breaks_off(layout, text, cuts, before)
    {
        return Err(Rejected::Torn);
    }
    Ok(())
}

/// Whether any field holds a number or a stamp.
pub(crate) fn has_number(layout: &Layout, text: &[u8], cuts: &[u32]) -> bool {
    (0..=cuts.len()).any(|n| {
        let text = bare(field(text, cuts, n).unwrap_or_default());
        let number = || matches!(cell(text, layout.marks.of(n)), Cell::Number(_));
        text.iter().any(u8::is_ascii_digit) && (number() || written_out(text).is_some())
    })
}

/// Finds the words for a rejected row.
pub(crate) fn explain(
    rejected: Rejected,
    layout: &Layout,
    text: &[u8],
    cuts: &[u32],
    clock: Option<&StampPlan>,
    mut note: impl FnMut(ProblemKind, Option<usize>, String),
) {
    let delimiter = layout.shape.delimiter;
    let nothing = |c: &u8| *c == delimiter || c.is_ascii_whitespace() || *c == b'"';
    if text.iter().all(nothing) {
        return note(ProblemKind::BlankRow, None, "blank row".to_owned());
    }
    match repeated_header(layout, text, cuts) {
        Some(Header::Same(which)) => {
            return note(
                ProblemKind::RepeatedHeader,
                None,
                format!("the {which} row once more"),
            );
        }
        Some(Header::Other) => {
            let what = "the columns are named anew, and not as before".to_owned();
            return note(ProblemKind::OtherNames, None, what);
        }
        None => {}
    }
    if rejected == Rejected::Text || !has_number(layout, text, cuts) {
        let what = match trim(text) {
            [b'#' | b'!', ..] | [b'/', b'/', ..] => "a comment",
            _ => "text instead of numbers",
        };
        let what = format!("{what}: `{}`", shown(text, layout.encoding));
        return note(ProblemKind::TextRow, None, what);
    }
    // A trailing delimiter ends the last field and starts none.
    let found = cuts.len() + usize::from(trim(text).last() != Some(&delimiter));
    let fields = if found == 1 { "field" } else { "fields" };
    match rejected {
        Rejected::Width | Rejected::Text => {
            let what = format!("{found} {fields} where {} are expected", layout.fields);
            note(ProblemKind::FieldCount, None, what);
        }
        Rejected::Torn => {
            let what = if found < layout.fields {
                format!(
                    "the last row is cut short: {found} {fields} where {} are expected",
                    layout.fields
                )
            } else if layout.whole_rows_end {
                "the last row is cut short: it breaks off before the end of its line".to_owned()
            } else {
                let last = field(text, cuts, layout.fields.saturating_sub(1));
                let last = shown(last.unwrap_or_default(), layout.encoding);
                format!(
                    "the last row has no line end and its last cell `{last}` is shorter than those above it: it is taken as cut short"
                )
            };
            note(ProblemKind::CutRow, None, what);
        }
        Rejected::Stamp => {
            let read = |column| field(text, cuts, column).unwrap_or_default();
            let Some((plan, (column, blank))) = clock.map(|plan| (plan, plan.culprit(read))) else {
                return note(ProblemKind::NoStamp, None, "no stamp".to_owned());
            };
            let what = if blank {
                "the clock cell is blank".to_owned()
            } else {
                let stamp = read(column);
                let hint = decimal_hint(stamp, plan.marks());
                let shown = shown(stamp, layout.encoding);
                format!("the clock cell reads `{shown}`, which is no time{hint}")
            };
            note(ProblemKind::NoStamp, Some(column + 1), what);
        }
    }
}

/// A header among the data.
enum Header {
    /// The names or the units again, in whole or nearly.
    Same(&'static str),
    /// Names of the same number of columns, but not the same ones or not in the same places.
    Other,
}

/// Whether a row is a header.
fn repeated_header(layout: &Layout, text: &[u8], cuts: &[u32]) -> Option<Header> {
    let cells: Vec<String> = (0..=cuts.len())
        .filter_map(|n| field(text, cuts, n))
        .map(|field| unquote(&words(field, layout.encoding)).into_owned())
        .collect();
    let names = layout.header_cells.iter().zip(["names", "units"]);
    for (header, which) in names {
        let filled = header.iter().filter(|cell| !cell.is_empty()).count();
        let same = |pair: &(&String, &String)| !pair.0.is_empty() && pair.0 == pair.1;
        let same = header.iter().zip(&cells).filter(same).count();
        if same > 0 && same * 10 >= filled * 8 {
            return Some(Header::Same(which));
        }
    }
    let names = layout.header_cells.first()?;
    let mut filled = cells.iter().filter(|cell| !cell.is_empty());
    let wide = cells.len() >= layout.fields && filled.clone().count() * 10 >= names.len() * 6;
    // Words only, some of them names of this very log: that is no remark and no footer.
    let word = |cell: &String| !cell.starts_with(|c: char| c.is_ascii_digit() || c == '-');
    if !wide || !filled.clone().all(word) {
        return None;
    }
    let names: BTreeSet<&String> = names.iter().collect();
    let known = filled.by_ref().filter(|cell| names.contains(cell)).count();
    (known >= 2 && known * 10 >= names.len() * 3).then_some(Header::Other)
}

/// A cell or row as text of bearable length, on one line.
pub(crate) fn shown(bytes: &[u8], encoding: Encoding) -> String {
    let bytes = trim(bytes);
    let text = words(&bytes[..bytes.len().min(4 * SHOWN)], encoding);
    let mut letters = text.chars().map(|c| if c.is_control() { ' ' } else { c });
    let mut shown: String = letters.by_ref().take(SHOWN).collect();
    if letters.next().is_some() || bytes.len() > 4 * SHOWN {
        shown.push_str("...");
    }
    shown
}

/// Words for a cell that would be a number under the other decimal mark.
pub(crate) fn decimal_hint(field: &[u8], marks: Marks) -> String {
    let other = if marks.decimal == b'.' { b',' } else { b'.' };
    let swapped = Marks {
        decimal: other,
        certain: false,
        ..marks
    };
    match cell(field, swapped) {
        Cell::Number(number) if !number.is_nan() => format!(
            " with the decimal mark `{}`; `decimal` under `[log]` in the build sheet sets it",
            char::from(marks.decimal)
        ),
        _ => String::new(),
    }
}
