//! One field of text to one number.
//!
//! The plain decimal number takes the short way; everything else (quotes, exponents, grouped thousands, words, units
//! behind the number) the long one.

use super::glued::Unit;
use super::switches::SwitchWord;
use super::thousands::grouped;

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
pub(super) fn plain(field: &[u8], decimal: u8) -> Option<f64> {
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

/// So many bytes are looked at together.
const WORD: usize = 8;
const ZEROS: u64 = 0x3030_3030_3030_3030;
const LOW: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;

/// A plain number of at most eight digits with its decimal mark, all of its bytes looked at together; `None` for any other
/// field, which may still be a number. The field is `text[start..end]`: behind it there must be bytes enough to fill a word.
#[inline]
pub(super) fn short(text: &[u8], start: usize, end: usize, decimal: u8) -> Option<f64> {
    let word = text.get(start..)?.first_chunk::<WORD>()?;
    let negative = word[0] == b'-';
    let skipped = u32::from(negative) * 8;
    let length = end.checked_sub(start + usize::from(negative))?;
    if length == 0 || length > WORD - usize::from(negative) {
        return None;
    }
    // The last digit goes to the top, where it counts least; zeros fill up in front of the first.
    let unused = 64 - 8 * u32::try_from(length).ok()?;
    let digits = (u64::from_le_bytes(*word) >> skipped) << unused;
    let mut digits = digits | (ZEROS & !(u64::MAX << unused));
    let odd = digits ^ (LOW * u64::from(decimal));
    let marks = odd.wrapping_sub(LOW) & !odd & HIGH;
    let mut decimals = 0;
    if marks != 0 {
        // The digits before the first mark move up into its place.
        let place = marks.trailing_zeros() / 8;
        let before = (1_u64 << (8 * place)) - 1;
        let behind = (u64::MAX << (8 * place)) << 8;
        digits = (digits & behind) | ((digits & before) << 8) | u64::from(b'0');
        decimals = (7 - place) as usize;
        if length == 1 {
            return None;
        }
    }
    let over = digits.wrapping_add(0x4646_4646_4646_4646);
    let value = digits.wrapping_sub(ZEROS);
    if (over | value) & HIGH != 0 {
        return None;
    }
    // Neighbours join to pairs, pairs to fours, fours to all eight: the first of two counts so many times the second.
    let pairs = (value * 10 + (value >> 8)) & 0x00FF_00FF_00FF_00FF;
    let fours = (pairs * 100 + (pairs >> 16)) & 0x0000_FFFF_0000_FFFF;
    let all = (fours * 10_000 + (fours >> 32)) & 0xFFFF_FFFF;
    #[expect(clippy::cast_precision_loss, reason = "eight digits")]
    let mut number = all as f64;
    if decimals > 0 {
        number /= TENS.get(decimals)?;
    }
    Some(if negative { -number } else { number })
}

/// A short number as it was last read in a column.
#[derive(Clone, Copy, Default)]
pub(super) struct Last {
    text: u64,
    length: usize,
    value: f64,
}

impl Last {
    /// As [`short`], but a field that reads as the one before is not worked out again: slow channels and counters mostly
    /// stand as they were.
    #[inline]
    pub fn short(&mut self, text: &[u8], start: usize, end: usize, decimal: u8) -> Option<f64> {
        let word = text.get(start..)?.first_chunk::<WORD>()?;
        let length = end.checked_sub(start)?;
        if length == 0 || length > WORD {
            return None;
        }
        let text_now = u64::from_le_bytes(*word) << (64 - 8 * length);
        if text_now == self.text && length == self.length {
            return Some(self.value);
        }
        let value = short(text, start, end, decimal)?;
        *self = Self {
            text: text_now,
            length,
            value,
        };
        Some(value)
    }
}

/// The long way for all other fields.
#[cold]
fn awkward(field: &[u8], marks: Marks) -> Cell {
    let text = bare(field);
    // No number begins with a letter, and a log may hold millions of `NaN`.
    match text {
        [] => return Cell::Blank,
        [b'a'..=b'z' | b'A'..=b'Z', ..] => return word(text, marks.kind),
        _ => {}
    }
    let (text, has_unit) = match text.strip_suffix(marks.unit.text()) {
        Some(head) if !marks.unit.text().is_empty() => (trim(head), true),
        _ => (text, false),
    };
    let mut copy = [0_u8; 48];
    // `="1234"`, as some programs keep spreadsheets from touching a number.
    let text = match text {
        [b'=', b'"', inner @ .., b'"'] => trim(inner),
        _ => text,
    };
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
            ("=\"7.25\"", 7.25),
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

    /// Every short text of digits, marks and what may stand among them: the quick way gives what the plain way gives.
    #[test]
    fn the_short_way_gives_what_the_plain_way_gives() {
        let letters = b"0719.,- +e";
        let mut state = 7_u32;
        let mut read = 0;
        for round in 0..200_000_usize {
            let length = round % 10;
            let field: Vec<u8> = (0..length)
                .map(|_| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    // Mostly digits, or hardly any text would be a number.
                    let at = (state >> 16) as usize % 40;
                    letters.get(at).copied().unwrap_or(b'1' + (at % 9) as u8)
                })
                .collect();
            let text = [b"9,", &field[..], b",1234567"].concat();
            for decimal in [b'.', b','] {
                let quick = short(&text, 2, 2 + length, decimal);
                let wanted = plain(&field, decimal);
                if let Some(quick) = quick {
                    let wanted = wanted.map(f64::to_bits);
                    assert_eq!(Some(quick.to_bits()), wanted, "{field:?}");
                    read += 1;
                }
            }
            if length > 0 && length <= 8 && field.iter().all(u8::is_ascii_digit) {
                assert!(short(&text, 2, 2 + length, b'.').is_some(), "{field:?}");
            }
        }
        assert!(read > 50_000, "{read}");
        assert_eq!(
            short(b"12.5", 0, 4, b'.'),
            None,
            "no whole word stands there"
        );
        assert_eq!(short(b"-1234.75,...", 0, 8, b'.'), Some(-1234.75));
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
}
