//! Which bracket of a script was opened and never closed, or closes nothing. The engine names the place where it could no
//! longer go on, which may be pages further down.

use super::script_text::line_and_column;
use super::slips::Told;

/// A bracket that is open.
struct Open {
    at: usize,
    sign: char,
    /// Blanks in front of its line.
    indent: usize,
}

/// What is wrong with the brackets of a text.
enum Slip {
    /// Opened at a byte and not closed; the byte before which it should have been.
    Unclosed(usize, char, usize),
    /// It closes nothing; where what was opened before it begins and ends.
    TooMany(usize, char, Option<(usize, usize)>),
}

fn closing(sign: char) -> char {
    match sign {
        '(' => ')',
        '[' => ']',
        _ => '}',
    }
}

/// Blanks in front of the line of a byte, and whether nothing else stands before it.
fn indent(code: &str, at: usize) -> (usize, bool) {
    let begins = code[..at].rfind('\n').map_or(0, |end| end + 1);
    let line = &code[begins..];
    let blanks = line.len() - line.trim_start_matches([' ', '\t']).len();
    (blanks, begins + blanks == at)
}

/// What does not fit up to a byte. Where `end` the brackets that are still open are wrong as well.
fn look(code: &str, to: usize, end: bool) -> Option<Slip> {
    let mut open: Vec<Open> = Vec::new();
    let mut last = None;
    // A brace that begins its line further out than what it would close: that one was left open.
    let mut suspect = None;
    for (at, sign) in code[..to].char_indices() {
        match sign {
            '(' | '[' | '{' => open.push(Open {
                at,
                sign,
                indent: indent(code, at).0,
            }),
            ')' | ']' | '}' => {
                let Some(top) = open.pop() else {
                    return Some(Slip::TooMany(at, sign, last));
                };
                if closing(top.sign) != sign {
                    return Some(Slip::Unclosed(top.at, top.sign, at));
                }
                let (blanks, first) = indent(code, at);
                if first && blanks < top.indent && suspect.is_none() {
                    suspect = Some(Slip::Unclosed(top.at, top.sign, at));
                }
                if open.is_empty() && sign == '}' {
                    last = Some((top.at, at));
                }
            }
            _ => {}
        }
    }
    if !end {
        return None;
    }
    let top = open.pop()?;
    let inner = Slip::Unclosed(top.at, top.sign, to);
    // In one expression the innermost one is meant; braces that nest over lines tell by how far they are moved in.
    Some(if top.sign == '{' {
        suspect.unwrap_or(inner)
    } else {
        inner
    })
}

/// What is wrong with the brackets up to where the engine gave up, and at which byte. `code` is the script without texts
/// and comments; `at_end` is true where what stands there cannot belong into a bracket.
pub fn told(code: &str, at: usize, at_end: bool) -> Option<(usize, Told)> {
    // What stands there counts as well: it may be the bracket that does not fit.
    let here = code[at..].chars().next();
    let closes = here.filter(|c| matches!(c, ')' | ']' | '}'));
    let with_it = at + closes.map_or(0, char::len_utf8);
    let slip = look(code, with_it, false).or_else(|| look(code, at, at_end))?;
    let line = |at: usize| line_and_column(code, at).0;
    Some(match slip {
        Slip::Unclosed(opened, sign, before) => {
            let close = closing(sign);
            let rest = code[before..].trim_start();
            let next: String = match rest.chars().next() {
                Some(c) if c.is_alphanumeric() => {
                    rest.chars().take_while(|c| c.is_alphanumeric()).collect()
                }
                other => other.into_iter().collect(),
            };
            let (l, c) = line_and_column(code, code.len() - code[before..].trim_start().len());
            let wanted = if next.is_empty() {
                format!("a `{close}` where it ends; the text is over without one")
            } else {
                format!("a `{close}` where it ends, before the `{next}` in line {l}, column {c}")
            };
            let map = if code[..opened].ends_with('#') {
                "#"
            } else {
                ""
            };
            let what = format!("this `{map}{sign}` is opened and never closed");
            (opened, (what, Some(wanted)))
        }
        Slip::TooMany(at, sign, last) => {
            let wanted = match last {
                Some((from, to)) => format!(
                    "one `{sign}` less: what was opened in line {} is closed in line {} already",
                    line(from),
                    line(to)
                ),
                None => format!("one `{sign}` less, or what opens it before it"),
            };
            (at, (format!("this `{sign}` closes nothing"), Some(wanted)))
        }
    })
}

/// Of a place outside of all brackets: where the last braces before it begin and end.
pub fn outside(code: &str, at: usize) -> Option<(usize, usize)> {
    let mut open = Vec::new();
    let mut last = None;
    for (at, sign) in code[..at].char_indices() {
        match sign {
            '(' | '[' | '{' => open.push(at),
            ')' | ']' | '}' => {
                let from = open.pop()?;
                if open.is_empty() && sign == '}' {
                    last = Some((from, at));
                }
            }
            _ => {}
        }
    }
    last.filter(|_| open.is_empty())
}

#[cfg(test)]
mod tests {
    use super::super::script_text::code;
    use super::*;

    /// Where the text is marked, and what would be right.
    fn at_end(text: &str) -> (usize, usize, String) {
        let code = code(text);
        let (at, (_, wanted)) = told(&code, code.len(), true).expect("something is wrong");
        let (line, column) = line_and_column(text, at);
        (line, column, wanted.unwrap_or_default())
    }

    #[test]
    fn the_bracket_that_is_open_is_the_one_that_is_named() {
        let (line, column, wanted) = at_end("fn f() {\n    if x {\n        1;\n    2\n}\n");
        assert_eq!((line, column), (2, 10), "{wanted}");
        assert!(wanted.contains("before the `}` in line 5"), "{wanted}");
        let (line, column, wanted) = at_end("f(1, [2, 3)");
        assert_eq!((line, column), (1, 6), "{wanted}");
        let (line, column, wanted) = at_end("fn f() { \"}\" // }");
        assert_eq!((line, column), (1, 8), "{wanted}");
        assert!(wanted.contains("the text is over"), "{wanted}");
        let (line, column, wanted) = at_end("fn f() {\n  1 }\n}");
        assert_eq!((line, column), (3, 1), "{wanted}");
        assert!(
            wanted.contains("opened in line 1 is closed in line 2"),
            "{wanted}"
        );
    }

    #[test]
    fn brackets_that_fit_are_left_alone() {
        let text = code("fn f() { `${g([1])}` }");
        assert!(told(&text, text.len(), true).is_none());
    }
}
