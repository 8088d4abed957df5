//! How one log is written: the value that the sniffer fills and the table pass obeys.

use serde::{Deserialize, Serialize};

use super::clock::{Clock, ClockStyle};

/// How the bytes of the file stand for letters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Encoding {
    /// UTF-8, plain ASCII included.
    Utf8,
    /// UTF-8 behind a byte order mark.
    Utf8WithMark,
    /// UTF-16, low byte first.
    Utf16Le,
    /// UTF-16, high byte first.
    Utf16Be,
    /// The one-byte Western code page, of which Latin-1 is the part that matters here.
    Windows1252,
}

impl Encoding {
    /// What it is called in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Utf8WithMark => "UTF-8 with a byte order mark",
            Self::Utf16Le => "UTF-16, low byte first",
            Self::Utf16Be => "UTF-16, high byte first",
            Self::Windows1252 => "Windows-1252 (Latin-1)",
        }
    }
}

/// Which of two numbers in a date such as `3.4.2024` is the day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// Day, month, year.
    #[default]
    Dmy,
    /// Month, day, year.
    Mdy,
}

/// Entries of the build sheet's `[log]` table, which override what would be guessed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Forced {
    /// The character between fields.
    pub delimiter: Option<char>,
    /// `.` or `,`.
    pub decimal: Option<char>,
    /// Rows a second; the time of each row is then its number divided by this.
    pub sample_hz: Option<f64>,
    /// Line of the channel names, counted from 1.
    pub names_line: Option<usize>,
    /// Line of the units, counted from 1; 0 says that no row gives them.
    pub units_line: Option<usize>,
    /// Heading of the clock column, as written in the log.
    pub clock: Option<String>,
    /// What a clock that is one number counts in.
    pub clock_unit: Option<ClockStyle>,
    /// How bytes stand for letters.
    pub encoding: Option<Encoding>,
    /// How a date that is not written year first is to be read.
    pub date_order: Option<DateOrder>,
}

/// How one log is written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dialect {
    /// The character between fields.
    pub delimiter: char,
    /// The mark before the fraction of a number.
    pub decimal: char,
    /// How bytes stand for letters.
    pub encoding: Encoding,
    /// Line of the channel names, counted from 1.
    pub names_line: usize,
    /// Line of the units, where they have a row of their own.
    pub units_line: Option<usize>,
    /// Line of the first row of numbers.
    pub first_data_line: usize,
    /// Fields that a whole row has, a trailing delimiter not counted.
    pub fields: usize,
    /// Whether rows end in a delimiter with nothing behind it.
    pub trailing_delimiter: bool,
    /// Lines before the data that are neither names nor units, with their numbers: the first thousand of them.
    pub preamble: Vec<(usize, String)>,
    /// When the log began, as a line before the data has it.
    pub started: Option<String>,
    /// The line before the data that gave the sample rate, where the times are counted off at it.
    pub rate_line: Option<usize>,
    /// Where the time of a row comes from; `None` if the log has no clock and no sample rate was given.
    pub clock: Option<Clock>,
    /// Plain sentences: why each of these was chosen.
    pub evidence: Vec<String>,
}

/// The heading of one column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heading {
    /// Position, counted from 0.
    pub column: usize,
    /// As written, without quotes and outer blanks; empty where the log left it out.
    pub raw: String,
    /// Without the unit, and unlike any other in the log; `column 7` where the log left it out.
    pub name: String,
    /// From brackets beside the name, or from the units row; empty brackets say nothing.
    pub unit: Option<String>,
    /// Which of the columns of one name it is, counted from 1; later ones carry it behind their name: `EGT (2)`.
    pub nth: usize,
}

impl Heading {
    /// The name without the count of columns that share it. The count is ours and says nothing about the channel.
    #[must_use]
    pub fn words(&self) -> &str {
        let counted = format!(" ({})", self.nth);
        let bare = self.name.strip_suffix(&counted);
        bare.filter(|_| self.nth > 1).unwrap_or(&self.name)
    }
}
