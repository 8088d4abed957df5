//! Words and signs of other languages, and what is right in this one.

use super::script_text::{of_name, word_from};
use super::slips::Told;
use crate::units::Unit;

/// The word, and what would be right.
const WORDS: &[(&[&str], &str)] = &[
    (
        &["and", "AND"],
        "`&&` between what is true or false, `&` between comparisons of columns",
    ),
    (
        &["or", "OR"],
        "`||` between what is true or false, `|` between comparisons of columns",
    ),
    (
        &["not", "NOT"],
        "`!` in front of what is denied: `!when.is_empty()`",
    ),
    (&["elif", "elseif", "elsif"], "`else if`"),
    (
        &["None", "nil", "null", "undefined"],
        "`()` stands for nothing: `if limit == () { ... }`",
    ),
    (&["True", "TRUE"], "`true`"),
    (&["False", "FALSE"], "`false`"),
    (
        &["def", "function", "func", "fun", "sub"],
        "`fn name(a, b) { ... }`",
    ),
    (
        &["var", "auto", "local", "int", "float", "double", "string"],
        "`let name = ...;`",
    ),
    (
        &["then", "begin", "do"],
        "`{` where it begins and `}` where it ends",
    ),
    (&["lambda"], "`|x| ...` for a function without a name"),
];

fn is_for(word: &str) -> Option<&'static str> {
    let entry = WORDS.iter().find(|(words, _)| words.contains(&word));
    entry.map(|(_, wanted)| *wanted)
}

/// The word that begins at a byte.
fn word_at(code: &str, at: usize) -> &str {
    let rest = code.get(at..).unwrap_or_default();
    &rest[..rest.find(|c| !of_name(c)).unwrap_or(rest.len())]
}

/// What stands before a byte on its line: where the last word begins, and whether nothing but blanks follows it.
fn before(code: &str, at: usize) -> Option<usize> {
    let head = code[..at].trim_end_matches([' ', '\t', '(']);
    let begins = head.rfind(|c| !of_name(c)).map_or(0, |end| {
        end + head[end..].chars().next().map_or(1, char::len_utf8)
    });
    (begins < head.len() && !head[..begins].ends_with('.')).then_some(begins)
}

/// The word in front of the brackets that end before a byte: `elif (a < b)` looks like a call.
fn called(code: &str, at: usize) -> Option<usize> {
    let head = code[..at].trim_end();
    let mut deep = 0_usize;
    for (from, sign) in head.strip_suffix(')')?.char_indices().rev() {
        match sign {
            ')' => deep += 1,
            '(' if deep == 0 => return before(code, from),
            '(' => deep -= 1,
            _ => {}
        }
    }
    None
}

fn no_word(word: &str, wanted: &str) -> Told {
    (
        format!("this is not the language: `{word}` is no word of it"),
        Some(wanted.to_string()),
    )
}

/// The slip of another language that made the engine give up at a byte, and where it stands. `code` is the script
/// without texts and comments.
pub fn told(code: &str, at: usize) -> Option<(usize, Told)> {
    let own = |word: &str| word_from(code, &format!("let {word}"), 0).is_some();
    let line = code[..at].rfind('\n').map_or(0, |end| end + 1);
    let first =
        line + (code[line..].len() - code[line..].trim_start_matches([' ', '\t', '}']).len());
    let places = [
        Some(at),
        before(code, at),
        (first < at).then_some(first),
        called(code, at),
    ];
    for place in places.into_iter().flatten() {
        let word = word_at(code, place);
        if let Some(wanted) = is_for(word).filter(|_| !own(word)) {
            return Some((place, no_word(word, wanted)));
        }
    }
    // A unit behind a figure.
    let unit = word_at(code, at);
    let figure = before(code, at).map(|from| code[from..at].trim());
    if let Some(figure) = figure
        && figure.starts_with(|c: char| c.is_ascii_digit())
        && !unit.is_empty()
        && Unit::parse(unit).is_some()
    {
        let begins = code[..at].trim_end();
        let from = begins.rfind(|c: char| !(of_name(c) || c == '.'));
        let figure = &begins[from.map_or(0, |end| end + 1)..];
        return Some((
            at,
            (
                "this is not the language: a unit cannot stand behind a figure".to_string(),
                Some(format!("`quantity({figure}, \"{unit}\")`")),
            ),
        ));
    }
    None
}

/// Signs that the engine does not know, or not there.
pub fn sign(sign: &str) -> Option<Told> {
    let (what, wanted) = match sign {
        "=" => (
            "`=` gives a name its value, it does not ask",
            "`==` asks whether two are equal",
        ),
        "#" => ("`#` begins no comment", "`//` in front of a comment"),
        "++" => ("there is no `++`", "`i += 1`"),
        "--" => ("there is no `--`", "`i -= 1`"),
        "?" | "?:" => (
            "`?` chooses nothing",
            "`if a { b } else { c }`, which gives a value as well",
        ),
        "===" => ("`===` means nothing here", "`==`"),
        "!==" | "<>" => ("this sign means nothing here", "`!=`"),
        ":=" => ("`:=` means nothing here", "`let name = ...;`"),
        "->" | "=>" => (
            "this arrow means nothing here",
            "`{ ... }` around what a function does",
        ),
        _ => return None,
    };
    Some((
        format!("this is not the language: {what}"),
        Some(wanted.to_string()),
    ))
}
