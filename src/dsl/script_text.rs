//! A script as text: what of it is code, where its functions stand, where a place is.

use std::ops::Range;

/// What a sign of a text belongs to.
enum In {
    Code,
    /// A text between two `"`.
    Quoted,
    /// A text between two backticks.
    Template,
    Line,
    /// A comment over several lines, and how deep they are nested.
    Block(usize),
}

/// The same text with blanks for comments and for what stands inside of texts; what `${...}` holds stays, for it is code.
/// Every byte keeps its place.
pub fn code(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut at = In::Code;
    // Of each `${` that is open: how many braces were opened behind it.
    let mut braces: Vec<usize> = Vec::new();
    let mut signs = text.chars().peekable();
    let blank = |out: &mut String, c: char| match c {
        '\n' => out.push('\n'),
        c => (0..c.len_utf8()).for_each(|_| out.push(' ')),
    };
    while let Some(c) = signs.next() {
        let next = signs.peek().copied();
        let mut both = |out: &mut String| {
            blank(out, c);
            if let Some(second) = signs.next() {
                blank(out, second);
            }
        };
        match (&mut at, c, next) {
            (In::Code, '/', Some('/')) => {
                at = In::Line;
                both(&mut out);
            }
            (In::Code, '/', Some('*')) => {
                at = In::Block(1);
                both(&mut out);
            }
            (In::Code, '"', _) => {
                at = In::Quoted;
                out.push(' ');
            }
            (In::Code, '`', _) => {
                at = In::Template;
                out.push(' ');
            }
            (In::Code, '{', _) => {
                if let Some(open) = braces.last_mut() {
                    *open += 1;
                }
                out.push('{');
            }
            (In::Code, '}', _) => {
                match braces.last_mut() {
                    Some(0) => {
                        braces.pop();
                        at = In::Template;
                    }
                    Some(open) => *open -= 1,
                    None => {}
                }
                out.push('}');
            }
            (In::Code, c, _) => out.push(c),
            (In::Line, '\n', _) => {
                at = In::Code;
                out.push('\n');
            }
            (In::Block(deep), '*', Some('/')) => {
                *deep -= 1;
                if *deep == 0 {
                    at = In::Code;
                }
                both(&mut out);
            }
            (In::Block(deep), '/', Some('*')) => {
                *deep += 1;
                both(&mut out);
            }
            (In::Quoted | In::Template, '\\', _) => both(&mut out),
            (In::Quoted, '"' | '\n', _) => {
                at = In::Code;
                blank(&mut out, c);
            }
            (In::Template, '`', _) => {
                at = In::Code;
                out.push(' ');
            }
            (In::Template, '$', Some('{')) => {
                at = In::Code;
                braces.push(0);
                out.push_str(" {");
                signs.next();
            }
            (_, c, _) => blank(&mut out, c),
        }
    }
    out
}

/// True for what a name may hold.
pub fn of_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// The bytes of a place that the engine names: line and column in characters, both from 1.
pub fn offset(text: &str, line: usize, column: usize) -> Option<usize> {
    let lines = text.split_inclusive('\n');
    let before: usize = lines.take(line.checked_sub(1)?).map(str::len).sum();
    let rest = text.get(before..)?;
    let rest = rest.split('\n').next().unwrap_or(rest);
    let within = rest.char_indices().nth(column.max(1) - 1);
    Some(before + within.map_or(rest.len(), |(at, _)| at))
}

/// Line and column in characters, both from 1, of a byte.
pub fn line_and_column(text: &str, at: usize) -> (usize, usize) {
    let before = text.get(..at).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let begins = before.rfind('\n').map_or(0, |end| end + 1);
    (line, before[begins..].chars().count() + 1)
}

/// Where a whole word stands first at or after a byte.
pub fn word_from(code: &str, word: &str, from: usize) -> Option<usize> {
    let mut found = code.get(from..)?.match_indices(word);
    found.find_map(|(at, _)| {
        let at = from + at;
        let before = code[..at].chars().next_back();
        let after = code[at + word.len()..].chars().next();
        (!before.is_some_and(of_name) && !after.is_some_and(of_name)).then_some(at)
    })
}

/// A function of that name: the byte of its name, and of all of it up to the next function.
pub fn function(code: &str, name: &str) -> Option<(usize, Range<usize>)> {
    let mut from = 0;
    while let Some(at) = word_from(code, "fn", from) {
        let named = at + 2 + (code[at + 2..].len() - code[at + 2..].trim_start().len());
        if word_from(code, name, named) == Some(named) {
            let end = word_from(code, "fn", named).unwrap_or(code.len());
            return Some((named, named..end));
        }
        from = at + 2;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_and_comments_are_no_code() {
        let text = "a(\"(\\\"\") // (\n/* ( /* ( */ */ `(${f(1)}{` ]é\"ü\n}";
        let code = code(text);
        assert_eq!(code.len(), text.len());
        let left: String = code.split_whitespace().collect();
        assert_eq!(left, "a(){f(1)}]é}");
    }

    #[test]
    fn places_go_both_ways() {
        let text = "é(\n  fn judge(run) {}\nfn cases() {}";
        assert_eq!(offset(text, 1, 2), Some(2));
        assert_eq!(line_and_column(text, 2), (1, 2));
        let (at, all) = function(text, "judge").expect("it is there");
        assert_eq!(line_and_column(text, at), (2, 6));
        assert!(text[all].starts_with("judge(run)"));
        assert_eq!(function(text, "about"), None);
        assert_eq!(offset(text, 9, 1), Some(text.len()));
    }
}
