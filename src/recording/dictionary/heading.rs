//! A column heading taken apart: its words, its numbers, and what the numbers count.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use super::table;

/// Letter-digit words that belong together.
const WHOLE: [&str; 4] = ["5v", "12v", "o2", "2nd"];

/// A heading in normal form.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Heading {
    /// Words, each in its one spelling; numbers and what they belong to are taken out.
    pub words: Vec<String>,
    /// Numbers that stand alone.
    pub numbers: Vec<u32>,
    /// `Cyl 3`
    pub cylinder: Option<u32>,
    /// `Bank 2`
    pub bank: Option<u32>,
    /// `Sensor 1` after a bank.
    pub sensor: Option<u32>,
}

/// Lower case without accents and punctuation, split where letters, digits and camel humps meet.
pub(super) fn split(text: &str) -> Vec<String> {
    let mut plain = String::with_capacity(text.len() + 8);
    let chars: Vec<char> = text.chars().collect();
    for (at, &c) in chars.iter().enumerate() {
        let before = at.checked_sub(1).map(|b| chars[b]);
        let after = chars.get(at + 1);
        if c.is_uppercase() && before.is_some_and(|b| hump(b, after, chars.get(at + 2))) {
            plain.push(' ');
        }
        fold(c, &mut plain);
    }
    let mut words = Vec::new();
    for word in plain.split_whitespace() {
        if WHOLE.contains(&word) {
            words.push(word.to_string());
            continue;
        }
        let mut part = String::new();
        for c in word.chars() {
            let turns = part
                .chars()
                .next_back()
                .is_some_and(|last| last.is_ascii_digit() != c.is_ascii_digit());
            if turns {
                words.push(std::mem::take(&mut part));
            }
            part.push(c);
        }
        words.push(part);
    }
    words
}

/// True where a capital begins a word: `oilTemp`, and the T of `EGTTemp`; the plural of `RPMs` is no word.
fn hump(before: char, after: Option<&char>, later: Option<&char>) -> bool {
    let next_small = after.is_some_and(|c| c.is_lowercase());
    let plural = after == Some(&'s') && !later.is_some_and(|c| c.is_alphabetic());
    before.is_lowercase() || (before.is_uppercase() && next_small && !plural)
}

fn fold(c: char, out: &mut String) {
    for c in c.to_lowercase() {
        match c {
            '\u{e0}'..='\u{e5}' => out.push('a'),
            '\u{e7}' => out.push('c'),
            '\u{e8}'..='\u{eb}' => out.push('e'),
            '\u{ec}'..='\u{ef}' => out.push('i'),
            '\u{f1}' => out.push('n'),
            '\u{f2}'..='\u{f6}' => out.push('o'),
            '\u{f9}'..='\u{fc}' => out.push('u'),
            '\u{df}' => out.push_str("ss"),
            '\u{3bb}' => out.push_str(" lambda "),
            // A combining accent: its letter stands before it.
            '\u{300}'..='\u{36f}' => {}
            '%' => out.push_str(" percent "),
            c if c.is_alphanumeric() => out.push(c),
            _ => out.push(' '),
        }
    }
}

/// Cuts a plural: `errors`, `volts`; `press`, `tps` and `gas` stay.
fn singular(word: &str) -> &str {
    match word.strip_suffix('s') {
        Some(stem) if stem.len() >= 3 && !stem.ends_with('s') => stem,
        _ => word,
    }
}

/// The one spelling of a word.
pub(super) fn canonical(word: &str) -> String {
    static SAME: OnceLock<BTreeMap<String, String>> = OnceLock::new();
    let same = SAME.get_or_init(|| {
        let mut map = BTreeMap::new();
        for (one, others) in &table().same {
            for other in others {
                map.insert(singular(other).to_string(), one.clone());
            }
        }
        map
    });
    let word = singular(word);
    same.get(word).cloned().unwrap_or_else(|| word.to_string())
}

impl Heading {
    pub(super) fn read(text: &str) -> Heading {
        // French and Italian elisions: d'huile, l'eau.
        let text = [" d'", " l'", " d\u{2019}", " l\u{2019}"]
            .iter()
            .fold(text.to_string(), |t, elision| t.replace(elision, " "));
        let raw = split(&text);
        let small = text.to_lowercase();
        let mut out = Heading::default();
        let mut at = 0;
        while let Some(word) = raw.get(at) {
            let next = raw.get(at + 1).and_then(|w| number(w));
            let word = canonical(word);
            let glued = |letter: &str| {
                let digits = raw.get(at + 1).map_or("", String::as_str);
                word == letter && small.contains(&format!("{letter}{digits}"))
            };
            let slot = if word == "cyl" || (out.bank.is_some() && glued("c")) {
                Some(&mut out.cylinder)
            } else if word == "bank" || glued("b") {
                Some(&mut out.bank)
            } else if out.bank.is_some() && (word == "sensor" || glued("s")) {
                Some(&mut out.sensor)
            } else {
                None
            };
            match (slot, next) {
                (Some(slot @ None), Some(n)) => {
                    *slot = Some(n);
                    at += 2;
                    continue;
                }
                _ => match number(&word) {
                    Some(n) => out.numbers.push(n),
                    None => out.words.push(word),
                },
            }
            at += 1;
        }
        out
    }

    /// What is left of the words once those of a phrase are taken out, or `None` where one is missing.
    pub(super) fn without(&self, phrase: &[String]) -> Option<Vec<String>> {
        // Most phrases of the table have nothing to do with the heading: nothing is copied for those.
        if !phrase.iter().all(|word| self.words.contains(word)) {
            return None;
        }
        let mut left = self.words.clone();
        for word in phrase {
            let at = left.iter().position(|w| w == word)?;
            left.remove(at);
        }
        Some(left)
    }
}

/// A small number; long ones (part numbers, hexadecimal) are words that nobody understands.
fn number(word: &str) -> Option<u32> {
    if word.len() <= 2 {
        word.parse().ok()
    } else {
        None
    }
}
