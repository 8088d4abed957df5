//! The entries of the sheet's `[log]` table that bear on the head, checked.

use super::header::ForcedLines;
use crate::load::dialect::Forced;
use crate::load::error::LoadError;

/// Entries of the sheet as the bytes they stand for.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wanted {
    pub delimiter: Option<u8>,
    pub decimal: Option<u8>,
    pub lines: ForcedLines,
    /// Whether runs of blanks part the fields.
    pub blanks: bool,
}

impl Wanted {
    /// The same for a text that is read through [`Blanks`](crate::load::blanks::Blanks).
    pub fn with_blanks(self) -> Self {
        Self {
            delimiter: Some(b'\t'),
            blanks: true,
            ..self
        }
    }

    /// Refuses entries that cannot be meant.
    pub fn check(file: &str, forced: &Forced) -> Result<Self, LoadError> {
        let refuse = |entry, value: String, wanted| Err(refusal(file, entry, value, wanted));
        let mut wanted = Self {
            lines: ForcedLines {
                names: forced.names_line,
                units: forced.units_line,
            },
            ..Self::default()
        };
        if let Some(delimiter) = forced.delimiter {
            let usable = delimiter.is_ascii()
                && !delimiter.is_ascii_alphanumeric()
                && !"\"\r\n.-+".contains(delimiter);
            match u8::try_from(delimiter) {
                Ok(byte) if usable => wanted.delimiter = Some(byte),
                _ => {
                    let advice = "it is one character such as `,`, `;`, `|`, a tab or a blank";
                    return refuse("delimiter", format!("{delimiter:?}"), advice);
                }
            }
        }
        if let Some(decimal) = forced.decimal {
            match decimal {
                '.' => wanted.decimal = Some(b'.'),
                ',' => wanted.decimal = Some(b','),
                _ => return refuse("decimal", format!("{decimal:?}"), "it is `.` or `,`"),
            }
        }
        if forced.names_line == Some(0) {
            return refuse("names_line", "0".to_owned(), "lines are counted from 1");
        }
        match forced.sample_hz {
            Some(hz) if !(hz.is_finite() && hz > 0.0) => refuse(
                "sample_hz",
                hz.to_string(),
                "it is rows a second, over zero",
            ),
            _ => Ok(wanted),
        }
    }
}

/// The words for an entry that cannot be used.
pub(super) fn refusal(
    file: &str,
    entry: &'static str,
    value: String,
    wanted: &'static str,
) -> LoadError {
    LoadError::BadForced {
        file: file.to_owned(),
        entry,
        value,
        wanted,
    }
}
