//! Units glued to the numbers: `12.5 V`, `98%`, `45°C`.

use super::cells::{Marks, number, trim};
use super::words::is_unit;

/// The text behind each number of a column, such as `V` or `°C`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Unit {
    length: u8,
    text: [u8; 11],
}

impl Unit {
    pub const NONE: Self = Self {
        length: 0,
        text: [0; 11],
    };

    /// `None` where it is too long to be carried along.
    pub fn new(text: &[u8]) -> Option<Self> {
        let mut unit = Self::NONE;
        unit.text.get_mut(..text.len())?.copy_from_slice(text);
        unit.length = u8::try_from(text.len()).ok()?;
        Some(unit)
    }

    pub fn text(&self) -> &[u8] {
        self.text
            .get(..usize::from(self.length))
            .unwrap_or_default()
    }
}

/// Parts a number from the unit behind it, as in `12.5 V`. `None` where either is missing.
pub(crate) fn number_and_unit(text: &[u8]) -> Option<(&[u8], &[u8])> {
    let first_digit = text.iter().position(u8::is_ascii_digit)?;
    let may_end = |c: u8| c.is_ascii_digit() || c == b'.' || c == b' ' || c == 0xA0;
    let may_begin = |c: u8| c.is_ascii_alphabetic() || c == b'%' || !c.is_ascii();
    let borders = (first_digit + 1..text.len().min(48))
        .filter(|at| may_end(text[at - 1]) && may_begin(text[*at]));
    for at in borders {
        let (head, unit) = (trim(&text[..at]), trim(&text[at..]));
        let is_number = |marks| number(head, marks).is_some();
        if !unit.is_empty()
            && is_known_unit(unit)
            && (is_number(Marks::POINT) || is_number(Marks::COMMA))
        {
            return Some((head, unit));
        }
    }
    None
}

/// Whether it is a unit, in UTF-8 or Latin-1. `x` behind a number says nothing of what it measures.
fn is_known_unit(unit: &[u8]) -> bool {
    if unit.eq_ignore_ascii_case(b"x") {
        return false;
    }
    match std::str::from_utf8(unit) {
        Ok(text) => is_unit(text),
        Err(_) => is_unit(&unit.iter().map(|c| char::from(*c)).collect::<String>()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::cells::{Cell, cell};

    #[test]
    fn units_behind_the_number() {
        for (text, number, unit) in [
            ("12.5 V", "12.5", "V"),
            ("98%", "98", "%"),
            ("45°C", "45", "°C"),
            ("98 kPa", "98", "kPa"),
            ("9.81 m/s2", "9.81", "m/s2"),
            ("-1,5 bar", "-1,5", "bar"),
            ("1e3 rpm", "1e3", "rpm"),
            ("1 234,5 rpm", "1 234,5", "rpm"),
            ("\u{2212}3\u{a0}°", "\u{2212}3", "°"),
        ] {
            let found = number_and_unit(text.as_bytes());
            assert_eq!(found, Some((number.as_bytes(), unit.as_bytes())), "{text}");
            let marks = Marks {
                unit: Unit::new(unit.as_bytes()).unwrap_or(Unit::NONE),
                ..if number.contains(',') {
                    Marks::COMMA
                } else {
                    Marks::POINT
                }
            };
            let plain = cell(number.as_bytes(), marks);
            assert!(matches!(plain, Cell::Number(_)));
            assert_eq!(cell(text.as_bytes(), marks), plain, "{text}");
        }
        assert_eq!(
            number_and_unit(b"45\xb0C"),
            Some((&b"45"[..], &b"\xb0C"[..]))
        );
        for text in [
            "12.5", "V", "", "12 parts", "0x1F", "5x", "Cyl 3", "3 of 4", "10:15 h", "e5",
        ] {
            assert_eq!(number_and_unit(text.as_bytes()), None, "{text}");
        }
        let volts = Marks {
            unit: Unit::new(b"V").unwrap_or(Unit::NONE),
            ..Marks::POINT
        };
        assert_eq!(cell(b"0", volts), Cell::Number(0.0));
        assert_eq!(cell(b"--- V", volts), Cell::Blank);
        for other in [&b"980 mV"[..], b"12 A", b"V", b"off V"] {
            assert_eq!(cell(other, volts), Cell::Unreadable, "{other:?}");
        }
        assert_eq!(Unit::new(b"a dozen of them"), None);
    }
}
