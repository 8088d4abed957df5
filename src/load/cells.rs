//! One field of text to one number.
//!
//! The plain decimal number takes the short way; everything else (quotes, exponents, grouped thousands, words, units
//! behind the number) the long one.

use super::glued::Unit;
use super::switches::SwitchWord;

/// How the numbers of a column are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Marks {
    /// `.` or `,`.
    pub decimal: u8,
    /// Whether the decimal mark was really seen, so that `1,234` can only be a grouped 1234.
    pub certain: bool,
    /// Whether words for on and off may be readings.
    pub kind: Kind,
    /// What stands behind every number.
    pub unit: Unit,
}

/// Whether a word such as `OFF` may be a reading of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// It measures: `OFF` or `OPEN` among its numbers is what the logger writes for a sensor that it cannot read.
    Measured,
    /// Nothing seen but such words, 0, 1 and blanks: the pass marks the words, and the whole column decides.
    Open,
}

impl Marks {
    /// Decimal points, surely.
    pub const POINT: Self = Self::new(b'.', true);
    /// Decimal commas, surely.
    pub const COMMA: Self = Self::new(b',', true);

    /// Marks of a column of which no more is known.
    pub const fn new(decimal: u8, certain: bool) -> Self {
        Self {
            decimal,
            certain,
            kind: Kind::Open,
            unit: Unit::NONE,
        }
    }
}

/// The marks of a log: one entry a column, and the usual ones for any column past those.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct LogMarks {
    pub usual: Marks,
    pub columns: Vec<Marks>,
}

impl LogMarks {
    /// The marks of one column, counted from 0.
    pub fn of(&self, column: usize) -> Marks {
        self.columns.get(column).copied().unwrap_or(self.usual)
    }
}

/// What a field turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Cell {
    /// A finite number; or, in a column of [`Kind::Open`], the mark of a word for on or off.
    Number(f64),
    /// Nothing, or a word for "missing".
    Blank,
    /// Neither.
    Unreadable,
}

/// Powers of ten that a double holds exactly.
const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Words that loggers and spreadsheets write for "no value", in lower case. Those that begin `1.#` are met by that.
const MISSING: [&str; 44] = [
    "nan",
    "-nan",
    "+nan",
    "nan(ind)",
    "-nan(ind)",
    "na",
    "n/a",
    "#n/a",
    "n.a.",
    "n/d",
    "null",
    "(null)",
    "<null>",
    "none",
    "nil",
    "\\n",
    "missing",
    "no data",
    "nodata",
    "-",
    "--",
    "---",
    "----",
    "-----",
    "------",
    "\u{2013}",
    "\u{2014}",
    "\u{2212}",
    "?",
    "??",
    "*",
    "**",
    "...",
    "inf",
    "+inf",
    "-inf",
    "infinity",
    "+infinity",
    "-infinity",
    "#inf",
    "\u{221e}",
    "-\u{221e}",
    "#div/0!",
    "#num!",
];

/// Reads one field. Blanks and quotes around it do not matter.
#[inline]
pub(crate) fn cell(field: &[u8], marks: Marks) -> Cell {
    match plain(field, marks.decimal) {
        Some(number) => Cell::Number(number),
        None => awkward(field, marks),
    }
}

/// As [`cell`], for numbers only: a word for on or off is none.
pub(crate) fn number(field: &[u8], marks: Marks) -> Option<f64> {
    match cell(field, marks) {
        Cell::Number(number) if !number.is_nan() => Some(number),
        _ => None,
    }
}

/// A plain number, exactly rounded: the digits fit 53 bits and the power of ten is exact, so one division decides.
#[inline]
fn plain(field: &[u8], decimal: u8) -> Option<f64> {
    let mut rest = field;
    while let [b' ' | b'\t', tail @ ..] = rest {
        rest = tail;
    }
    let negative = match rest {
        [b'-', tail @ ..] => {
            rest = tail;
            true
        }
        [b'+', tail @ ..] => {
            rest = tail;
            false
        }
        _ => false,
    };
    let mut digits = 0_usize;
    let mut value = 0_u64;
    while let [c @ b'0'..=b'9', tail @ ..] = rest {
        value = value.wrapping_mul(10).wrapping_add(u64::from(*c - b'0'));
        digits += 1;
        rest = tail;
    }
    let mut decimals = 0_usize;
    if let [mark, tail @ ..] = rest
        && *mark == decimal
    {
        rest = tail;
        while let [c @ b'0'..=b'9', tail @ ..] = rest {
            value = value.wrapping_mul(10).wrapping_add(u64::from(*c - b'0'));
            decimals += 1;
            rest = tail;
        }
    }
    while let [b' ' | b'\t' | b'\r', tail @ ..] = rest {
        rest = tail;
    }
    digits += decimals;
    if !rest.is_empty() || digits == 0 || digits > 18 || value > 1 << 53 {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "checked to fit 53 bits")]
    let mut number = value as f64;
    if decimals > 0 {
        number /= TENS.get(decimals)?;
    }
    Some(if negative { -number } else { number })
}

/// The long way for all other fields.
#[cold]
fn awkward(field: &[u8], marks: Marks) -> Cell {
    let text = bare(field);
    if text.is_empty() {
        return Cell::Blank;
    }
    let (text, has_unit) = match text.strip_suffix(marks.unit.text()) {
        Some(head) if !marks.unit.text().is_empty() => (trim(head), true),
        _ => (text, false),
    };
    let mut copy = [0_u8; 48];
    let text = match text.strip_prefix("\u{2212}".as_bytes()) {
        Some(tail) if !tail.is_empty() => match copy.get_mut(..=tail.len()) {
            Some(copy) => {
                copy[0] = b'-';
                copy[1..].copy_from_slice(tail);
                &*copy
            }
            None => text,
        },
        _ => text,
    };
    if let Some(number) = plain(text, marks.decimal)
        .or_else(|| scientific(text, marks.decimal))
        .or_else(|| grouped(text, marks))
    {
        // A number too large for a double is an overflowed register, not a reading.
        return if number.is_finite() {
            Cell::Number(number)
        } else {
            Cell::Blank
        };
    }
    match word(text, marks.kind) {
        // `off V` is nothing that a logger writes.
        Cell::Number(_) if has_unit => Cell::Unreadable,
        read => read,
    }
}

/// A field without blanks and quotes around it. Doubled quotes inside stay, since no number has any.
pub(crate) fn bare(field: &[u8]) -> &[u8] {
    let text = trim(field);
    match text {
        [b'"', inner @ .., b'"'] => trim(inner),
        _ => text,
    }
}

/// Trims blanks, the no-break space of both UTF-8 and Latin-1 included.
pub(crate) fn trim(field: &[u8]) -> &[u8] {
    let mut text = field.trim_ascii();
    loop {
        text = match text {
            [0xC2, 0xA0, tail @ ..] | [0xA0, tail @ ..] => tail.trim_ascii_start(),
            [head @ .., 0xC2, 0xA0] => head.trim_ascii_end(),
            // A lone A0 byte behind text is Latin-1; as the tail of a longer UTF-8 letter it must stay.
            [head @ .., 0xA0] if head.last().is_none_or(u8::is_ascii) => head.trim_ascii_end(),
            _ => return text,
        };
    }
}

/// Numbers with an exponent or more digits than the short way takes.
fn scientific(text: &[u8], decimal: u8) -> Option<f64> {
    let mut copy = [0_u8; 64];
    let copy = copy.get_mut(..text.len())?;
    for (to, from) in copy.iter_mut().zip(text) {
        *to = match *from {
            c if c == decimal => b'.',
            c @ (b'0'..=b'9' | b'+' | b'-' | b'e' | b'E') => c,
            _ => return None,
        };
    }
    let copy = copy.strip_prefix(b"+").unwrap_or(copy);
    fast_float2::parse::<f64, _>(copy).ok()
}

/// Thousands in groups of three: `1,234.5`, `1'234.5`, `1 234,5`; `1,234` only where the decimal mark is known to be
/// the other one.
fn grouped(text: &[u8], marks: Marks) -> Option<f64> {
    let mut copy = [0_u8; 48];
    let text = one_byte_marks(text, &mut copy)?;
    let unsigned = match text {
        [b'-' | b'+', tail @ ..] => tail,
        _ => text,
    };
    let whole_end = memchr::memchr(marks.decimal, unsigned).unwrap_or(unsigned.len());
    let (whole, fraction) = unsigned.split_at(whole_end);
    let group = *whole.iter().find(|c| !c.is_ascii_digit())?;
    let other_mark = if marks.decimal == b'.' { b',' } else { b'.' };
    if group != other_mark && !matches!(group, b' ' | b'\'') {
        return None;
    }
    let mut parts = whole.split(|c| *c == group);
    let first = parts.next()?;
    // No group starts with a zero: `0.125` in a file with decimal commas is something else.
    if !(1..=3).contains(&first.len()) || first[0] == b'0' {
        return None;
    }
    let mut groups = 0;
    for part in parts {
        if part.len() != 3 || !part.iter().all(u8::is_ascii_digit) {
            return None;
        }
        groups += 1;
    }
    let clear = group != other_mark || groups >= 2 || !fraction.is_empty() || marks.certain;
    if groups == 0 || !clear {
        return None;
    }
    let mut digits = [0_u8; 48];
    let mut length = 0;
    for c in text.iter().filter(|c| **c != group) {
        digits[length] = *c;
        length += 1;
    }
    plain(&digits[..length], marks.decimal)
}

/// Copies a number, the blanks and apostrophes beyond ASCII that part its thousands made plain ones.
fn one_byte_marks<'a>(text: &[u8], copy: &'a mut [u8; 48]) -> Option<&'a [u8]> {
    let (mut rest, mut length) = (text, 0);
    while let [first, ..] = rest {
        let (c, tail) = match rest {
            // No-break space, narrow no-break space, thin space, and the apostrophe of typesetters.
            [0xC2, 0xA0, tail @ ..] | [0xE2, 0x80, 0xAF | 0x89, tail @ ..] => (b' ', tail),
            [0xE2, 0x80, 0x99, tail @ ..] => (b'\'', tail),
            [0xA0, tail @ ..] => (b' ', tail),
            [_, tail @ ..] => (*first, tail),
            [] => break,
        };
        *copy.get_mut(length)? = c;
        length += 1;
        rest = tail;
    }
    copy.get(..length)
}

/// Words for a missing value, on and off.
fn word(text: &[u8], kind: Kind) -> Cell {
    // `1.#INF00` and its like, as C runtimes print them.
    if matches!(
        text,
        [b'1', b'.', b'#', ..] | [b'-' | b'+', b'1', b'.', b'#', ..]
    ) {
        return Cell::Blank;
    }
    if text.len() > 16 {
        return Cell::Unreadable;
    }
    let is = |word: &&str| word.as_bytes().eq_ignore_ascii_case(text);
    if MISSING.iter().any(is) {
        return Cell::Blank;
    }
    match SwitchWord::find(text) {
        Some(word) if kind == Kind::Open => Cell::Number(word.mark()),
        _ => Cell::Unreadable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNSURE: Marks = Marks::new(b'.', false);

    fn point(text: &str) -> Cell {
        cell(text.as_bytes(), Marks::POINT)
    }

    fn comma(text: &str) -> Cell {
        cell(text.as_bytes(), Marks::COMMA)
    }

    #[test]
    fn plain_numbers() {
        for (text, wanted) in [
            ("0", 0.0),
            ("12.5", 12.5),
            (" 12.50 ", 12.5),
            (".5", 0.5),
            ("5.", 5.0),
            ("+4", 4.0),
            ("-0.1", -0.1),
            ("1e3", 1000.0),
            ("+2.5E-1", 0.25),
            ("\"7.25\"", 7.25),
            (" \" 7.25 \" ", 7.25),
            ("000012", 12.0),
            ("\u{a0}3\u{a0}", 3.0),
            ("\u{2212}12.5", -12.5),
            ("\u{2212}1e3", -1000.0),
            ("\u{2212}1,234.5", -1234.5),
        ] {
            assert_eq!(point(text), Cell::Number(wanted), "{text:?}");
        }
    }

    /// Checked against the standard library's own parser, which rounds exactly.
    #[test]
    fn rounds_as_the_standard_library_does() {
        let mut state = 88_172_645_463_325_252_u64;
        for _ in 0..20_000 {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let digits = state % 20;
            let whole =
                state.rotate_left(20) % 10_u64.pow(u32::try_from(digits).unwrap_or(0).min(19));
            let text = format!(
                "{whole}.{:0width$}",
                state % 1000,
                width = (digits as usize) % 17
            );
            let wanted: f64 = text.parse().unwrap_or(f64::NAN);
            assert_eq!(point(&text), Cell::Number(wanted), "{text}");
        }
    }

    #[test]
    fn words_for_missing_and_junk() {
        for text in [
            "", "  ", "\"\"", "NaN", "nan", "---", "-", "n/a", "N/A", "#N/A", "null", "NULL",
            "inf", "-Inf", "1.#INF", "1.#INF00", "-1.#IND", "+1.#QNAN", "1e999", "No data",
            "\u{2014}",
        ] {
            assert_eq!(point(text), Cell::Blank, "{text:?}");
        }
        for text in [
            "abc",
            "1.2.3",
            "12,5",
            "1-2",
            "e",
            "+",
            ".",
            "0x1F",
            "1F",
            "5 kPa",
            "ERR",
            "\u{2212}",
            "\u{2212}x",
            "a very long text indeed it is",
        ] {
            let wanted = if text == "\u{2212}" {
                Cell::Blank
            } else {
                Cell::Unreadable
            };
            assert_eq!(point(text), wanted, "{text:?}");
        }
    }

    #[test]
    fn words_for_on_and_off_are_marks_where_they_may_be_readings() {
        for (text, on, back) in [
            ("on", true, "on"),
            ("ON", true, "ON"),
            ("Yes", true, "Yes"),
            ("true", true, "true"),
            ("Open", true, "Open"),
            ("\"on\"", true, "on"),
            ("Active", true, "Active"),
            ("off", false, "off"),
            ("No", false, "No"),
            ("FALSE", false, "FALSE"),
            ("closed", false, "closed"),
            ("Inactive", false, "Inactive"),
        ] {
            let Cell::Number(mark) = point(text) else {
                panic!("{text}")
            };
            let word = SwitchWord::of(mark).map(|word| (word.is_on(), word.text()));
            assert_eq!(word, Some((on, back.to_owned())), "{text:?}");
            assert!(mark.is_nan() && number(text.as_bytes(), Marks::POINT).is_none());
            let measured = Marks {
                kind: Kind::Measured,
                ..Marks::POINT
            };
            assert_eq!(
                cell(text.as_bytes(), measured),
                Cell::Unreadable,
                "{text:?}"
            );
        }
        for value in [0.0, 1.0, -1.0, f64::NAN, -f64::NAN, f64::INFINITY, f64::MAX] {
            assert_eq!(SwitchWord::of(value), None, "{value}");
        }
    }

    #[test]
    fn decimal_comma_and_thousands() {
        assert_eq!(comma("12,5"), Cell::Number(12.5));
        assert_eq!(comma("1,5e2"), Cell::Number(150.0));
        assert_eq!(comma("1.234,5"), Cell::Number(1234.5));
        assert_eq!(comma("0.125"), Cell::Unreadable);
        assert_eq!(comma("12.5"), Cell::Unreadable);
        assert_eq!(point("\"1,234.5\""), Cell::Number(1234.5));
        assert_eq!(point("-1,234,567"), Cell::Number(-1_234_567.0));
        assert_eq!(point("1,234"), Cell::Number(1234.0));
        assert_eq!(cell(b"1,234", UNSURE), Cell::Unreadable);
        assert_eq!(cell(b"1,234.5", UNSURE), Cell::Number(1234.5));
        assert_eq!(point("1,23,456"), Cell::Unreadable);
        assert_eq!(point("1234,567"), Cell::Unreadable);
    }

    #[test]
    fn thousands_parted_by_blanks_and_apostrophes() {
        for text in [
            "1 234,5",
            "1\u{a0}234,5",
            "1\u{202f}234,5",
            "1\u{2009}234,5",
            "1'234,5",
            "1\u{2019}234,5",
        ] {
            assert_eq!(comma(text), Cell::Number(1234.5), "{text:?}");
        }
        assert_eq!(cell(b"1\xa0234,5", Marks::COMMA), Cell::Number(1234.5));
        assert_eq!(point("1'234.5"), Cell::Number(1234.5));
        assert_eq!(point("-12 345 678"), Cell::Number(-12_345_678.0));
        assert_eq!(cell(b"1 234", UNSURE), Cell::Number(1234.0));
        for text in [
            "1 23",
            "1  234",
            "1 234'567",
            "1 234 5",
            "12 2345",
            "0 123",
            "1 234.5.6",
            "1' 234",
        ] {
            assert_eq!(point(text), Cell::Unreadable, "{text:?}");
        }
    }
}
