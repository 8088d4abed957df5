//! One field of text to one number.
//!
//! The plain decimal number takes the short way; everything else (quotes, exponents, grouped thousands, words) the long one.

/// Which marks numbers are written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Marks {
    /// `.` or `,`.
    pub decimal: u8,
    /// Whether the decimal mark was really seen, so that `1,234` can only be a grouped 1234.
    pub certain: bool,
}

impl Marks {
    pub const POINT: Self = Self {
        decimal: b'.',
        certain: true,
    };
}

/// The marks of a log, and of those columns that are written otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct LogMarks {
    pub usual: Marks,
    pub odd: Vec<(usize, Marks)>,
}

impl LogMarks {
    /// The marks of one column, counted from 0.
    pub fn of(&self, column: usize) -> Marks {
        let odd = self.odd.iter().find(|(odd, _)| *odd == column);
        odd.map_or(self.usual, |(_, marks)| *marks)
    }
}

/// What a field turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Cell {
    /// A finite number, or 1 and 0 for on and off.
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

/// Words that loggers and spreadsheets write for "no value", in lower case.
const MISSING: [&str; 33] = [
    "nan",
    "-nan",
    "+nan",
    "na",
    "n/a",
    "#n/a",
    "n.a.",
    "null",
    "(null)",
    "none",
    "nil",
    "missing",
    "-",
    "--",
    "---",
    "----",
    "-----",
    "?",
    "*",
    "...",
    "inf",
    "+inf",
    "-inf",
    "infinity",
    "-infinity",
    "#inf",
    "1.#inf",
    "-1.#inf",
    "1.#ind",
    "-1.#ind",
    "1.#qnan",
    "-1.#qnan",
    "#div/0!",
];

/// Words for a switch that is on, and for one that is off, in lower case.
const ON: [&str; 6] = ["on", "yes", "true", "open", "active", "enabled"];
const OFF: [&str; 6] = ["off", "no", "false", "closed", "inactive", "disabled"];

/// Reads one field. Blanks and quotes around it do not matter.
#[inline]
pub(crate) fn cell(field: &[u8], marks: Marks) -> Cell {
    match plain(field, marks.decimal) {
        Some(number) => Cell::Number(number),
        None => awkward(field, marks),
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
    if let Some(number) = plain(text, marks.decimal) {
        return Cell::Number(number);
    }
    if let Some(number) = scientific(text, marks.decimal).or_else(|| grouped(text, marks)) {
        // A number too large for a double is an overflowed register, not a reading.
        return if number.is_finite() {
            Cell::Number(number)
        } else {
            Cell::Blank
        };
    }
    word(text)
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

/// Thousands in groups of three: `1,234.5`, and `1,234` where the decimal mark is known to be the other one.
fn grouped(text: &[u8], marks: Marks) -> Option<f64> {
    let group = if marks.decimal == b'.' { b',' } else { b'.' };
    let unsigned = match text {
        [b'-' | b'+', tail @ ..] => tail,
        _ => text,
    };
    let whole_end = memchr::memchr(marks.decimal, unsigned).unwrap_or(unsigned.len());
    let (whole, fraction) = unsigned.split_at(whole_end);
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
    let clear = groups >= 2 || !fraction.is_empty() || marks.certain;
    if groups == 0 || !clear || text.len() > 60 {
        return None;
    }
    let mut copy = [0_u8; 60];
    let mut length = 0;
    for c in text.iter().filter(|c| **c != group) {
        copy[length] = *c;
        length += 1;
    }
    plain(&copy[..length], marks.decimal)
}

/// Words for a missing value, on and off.
fn word(text: &[u8]) -> Cell {
    let mut copy = [0_u8; 16];
    let Some(copy) = copy.get_mut(..text.len()) else {
        return Cell::Unreadable;
    };
    copy.copy_from_slice(text);
    copy.make_ascii_lowercase();
    let is = |word: &&str| word.as_bytes() == &*copy;
    if MISSING.iter().any(&is) {
        Cell::Blank
    } else if ON.iter().any(&is) {
        Cell::Number(1.0)
    } else if OFF.iter().any(is) {
        Cell::Number(0.0)
    } else {
        Cell::Unreadable
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: Marks = Marks {
        decimal: b',',
        certain: true,
    };
    const UNSURE: Marks = Marks {
        decimal: b'.',
        certain: false,
    };

    fn point(text: &str) -> Cell {
        cell(text.as_bytes(), Marks::POINT)
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
    fn words() {
        for text in [
            "", "  ", "\"\"", "NaN", "nan", "---", "-", "n/a", "N/A", "inf", "-Inf", "1.#INF",
            "-1.#IND", "1e999",
        ] {
            assert_eq!(point(text), Cell::Blank, "{text:?}");
        }
        for text in ["on", "ON", "Yes", "true", "Open", "\"on\""] {
            assert_eq!(point(text), Cell::Number(1.0), "{text:?}");
        }
        for text in ["off", "No", "FALSE", "closed"] {
            assert_eq!(point(text), Cell::Number(0.0), "{text:?}");
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
            "5 kPa",
            "a very long text indeed it is",
        ] {
            assert_eq!(point(text), Cell::Unreadable, "{text:?}");
        }
    }

    #[test]
    fn decimal_comma_and_thousands() {
        assert_eq!(cell(b"12,5", COMMA), Cell::Number(12.5));
        assert_eq!(cell(b"1,5e2", COMMA), Cell::Number(150.0));
        assert_eq!(cell(b"1.234,5", COMMA), Cell::Number(1234.5));
        assert_eq!(cell(b"0.125", COMMA), Cell::Unreadable);
        assert_eq!(cell(b"12.5", COMMA), Cell::Unreadable);
        assert_eq!(point("\"1,234.5\""), Cell::Number(1234.5));
        assert_eq!(point("-1,234,567"), Cell::Number(-1_234_567.0));
        assert_eq!(point("1,234"), Cell::Number(1234.0));
        assert_eq!(cell(b"1,234", UNSURE), Cell::Unreadable);
        assert_eq!(cell(b"1,234.5", UNSURE), Cell::Number(1234.5));
        assert_eq!(point("1,23,456"), Cell::Unreadable);
        assert_eq!(point("1234,567"), Cell::Unreadable);
    }
}
