//! In how many ways a log can be written.

/// Where units stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// `MAP (kPa)`
    Round,
    /// `MAP [kPa]`
    Square,
    /// A row of their own behind the names.
    RowAfter,
    /// A row of their own before the names.
    RowBefore,
    /// `MAP_kPa`
    Glued,
    /// Nowhere.
    Absent,
}

/// How the clock is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stamp {
    /// Seconds with so many decimals, this much added to all of them.
    Seconds(usize, f64),
    /// Whole seconds, which repeat.
    WholeSeconds,
    /// A count of ticks of a second, as `1000` for ms, under this heading, with this much added.
    Ticks(u64, &'static str, u64),
    /// `hh:mm:ss.fff`, beginning so many seconds after midnight.
    Clock(u64),
    /// `hh:mm:ss`, whole seconds.
    WholeClock(u64),
    /// `mm:ss.f`
    Minutes,
    /// Date and time in one cell, with this between them and this behind.
    Dated(&'static str, &'static str),
    /// Date and time in two columns, beginning so many seconds after midnight.
    TwoColumns(u64),
    /// None at all.
    None,
}

/// How letters become bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letters {
    /// UTF-8, with a byte order mark or without.
    Utf8(bool),
    /// UTF-16: low byte first, with a mark.
    Utf16(bool, bool),
    /// One byte a letter; beyond Latin-1 those of Windows-1252 that the tests use.
    Western,
}

/// Which cells stand in quotes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quotes {
    /// Those that have to.
    Needed,
    /// All.
    All,
}

/// A line put before the row of this number.
#[derive(Clone, Debug)]
pub enum Extra {
    /// Nothing, or only delimiters.
    Blank(&'static str),
    /// The names (and units) once more.
    Header,
    /// So many cells of the row.
    Torn(usize),
    /// The row with this behind it.
    Long(&'static str),
    /// A line of text.
    Text(&'static str),
}

/// A style. `Style::default()` is the plain one.
#[derive(Clone, Debug)]
pub struct Style {
    pub delimiter: char,
    pub decimal: char,
    /// The mark between thousands.
    pub group: Option<char>,
    pub end: &'static str,
    pub letters: Letters,
    pub preamble: Vec<String>,
    pub units: Units,
    pub stamp: Stamp,
    /// Heading of the clock and its unit, where the stamp does not say.
    pub clock: (&'static str, &'static str),
    /// Columns before the clock.
    pub clock_at: usize,
    pub quotes: Quotes,
    /// Blanks up to this width.
    pub pad: usize,
    /// A delimiter behind the last cell: of the header, of the rows.
    pub trailing: [bool; 2],
    /// Words for a cell without a value, taken in turn.
    pub missing: &'static [&'static str],
    /// Rewrites a printed number.
    pub number: fn(&str) -> String,
    /// Lines put in between, by the row that follows.
    pub extras: Vec<(usize, Extra)>,
    pub footer: Vec<&'static str>,
    /// A last row that breaks off after so many letters.
    pub cut: Option<usize>,
    /// A column of notes whose cells are these, in turn.
    pub notes: &'static [&'static str],
    /// One row for each reading.
    pub long: bool,
}

impl Default for Style {
    fn default() -> Self {
        Self {
            delimiter: ',',
            decimal: '.',
            group: None,
            end: "\n",
            letters: Letters::Utf8(false),
            preamble: Vec::new(),
            units: Units::Round,
            stamp: Stamp::Seconds(2, 0.0),
            clock: ("Time", "s"),
            clock_at: 0,
            quotes: Quotes::Needed,
            pad: 0,
            trailing: [false; 2],
            missing: &[""],
            number: str::to_owned,
            extras: Vec::new(),
            footer: Vec::new(),
            cut: None,
            notes: &[],
            long: false,
        }
    }
}
