//! Numbers whose thousands are parted: `1,234.5`, `1'234.5`, `1 234,5`.

use super::cells::{Marks, plain};

/// Thousands in groups of three: `1,234.5`, `1'234.5`, `1 234,5`; `1,234` only where the decimal mark is known to be
/// the other one.
pub(super) fn grouped(text: &[u8], marks: Marks) -> Option<f64> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::cells::{Cell, cell};

    const UNSURE: Marks = Marks::new(b'.', false);

    fn point(text: &str) -> Cell {
        cell(text.as_bytes(), Marks::POINT)
    }

    fn comma(text: &str) -> Cell {
        cell(text.as_bytes(), Marks::COMMA)
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
