//! Text that is no TOML: finds every place, one problem a line, and leaves a tree of the rest that can still be judged.
//!
//! A parser that has lost its way reports one slip many times over. So only the first complaint is believed; then the
//! line is blanked out, byte for byte so that all places stay true, and the parser reads again.

use std::ops::Range;

use toml::de::DeTable;

use super::schema::find;
use super::value::Problems;

const TOO_MUCH: &str = "too much of this is no TOML: the rest was not judged";

/// More slips than this in one sheet mean that it is not a sheet.
const MOST_SLIPS: usize = 20;

/// The text with everything blanked that is no TOML, after a problem was added for each; `None` when there is no use in
/// judging the rest.
pub(super) fn mended(text: &str, problems: &mut Problems<'_>) -> Option<String> {
    let mut text = text.to_owned();
    for _ in 0..MOST_SLIPS {
        let (tree, errors) = DeTable::parse_recoverable(&text);
        let first = errors
            .iter()
            .min_by_key(|error| error.span().map_or(0, |span| span.start));
        let Some(error) = first else {
            return Some(text);
        };
        let span = error.span().unwrap_or(0..0);
        let slip = match value_around(&text, tree.get_ref(), span.start) {
            Some(value) if swallows(&text, value.start, span.start) => {
                unclosed(&text, value, problems)
            }
            Some(value) => {
                // Half a list would be judged as a wrong list: take all of it away.
                on_one_line(&text, span, error.message(), problems);
                line_of(&text, value.start).start..line_of(&text, value.end).end
            }
            None => on_one_line(&text, span, error.message(), problems),
        };
        let blank = blanked(&text, slip);
        if blank == text {
            break; // nothing left to blank: the parser would only repeat itself
        }
        text = blank;
    }
    let wanted = "a build sheet; was another file given in its place?";
    let all = problems.source.problem_of_whole(TOO_MUCH, wanted);
    problems.list.push(all);
    None
}

/// The list, table or text that was opened on an earlier line than this place and is still open here.
fn value_around(text: &str, table: &DeTable<'_>, at: usize) -> Option<Range<usize>> {
    table.iter().find_map(|(key, value)| {
        let span = value.span();
        let opens = text.get(span.start..)?.chars().next()?;
        let header = key.span().start > span.start; // the span of a section is its header, around its key
        if let (true, Some(inner)) = (header || opens != '{', value.get_ref().as_table()) {
            return value_around(text, inner, at);
        }
        let around = span.start < at && at <= span.end && text.get(span.start..at)?.contains('\n');
        (around && matches!(opens, '[' | '{' | '"' | '\'')).then_some(span)
    })
}

/// Whether what was opened has run on into the next entries, or to the end: then the slip is at its head.
fn swallows(text: &str, opened: usize, at: usize) -> bool {
    let until = line_of(text, at).end;
    let lines = text.get(opened..until).unwrap_or_default().lines().skip(1);
    at >= text.trim_end().len() || lines.into_iter().any(looks_like_entry)
}

/// Reports an opening that is never closed, and returns what to blank: up to the next line that looks like an entry.
fn unclosed(text: &str, span: Range<usize>, problems: &mut Problems<'_>) -> Range<usize> {
    let line_end = line_of(text, span.start).end;
    let opening = text.get(span.start..).unwrap_or_default();
    let closer = [("\"\"\"", "\"\"\""), ("'''", "'''"), ("[", "]"), ("{", "}")]
        .into_iter()
        .find(|(open, _)| opening.starts_with(open))
        .map_or("\"", |(_, close)| close);
    let place = span.start..line_end.min(span.end);
    problems.add(
        place,
        "this is opened and not closed before the next entry",
        &format!("{closer} where it ends"),
    );
    let mut end = line_end;
    while end < text.len() {
        let next = line_of(text, end + 1);
        if looks_like_entry(text.get(next.clone()).unwrap_or_default()) {
            break;
        }
        end = next.end.max(end + 1);
    }
    line_of(text, span.start).start..end
}

fn looks_like_entry(line: &str) -> bool {
    let line = line.trim_start();
    let key = line.split_once('=').map(|(key, _)| key.trim_end());
    let plain = |c: char| c.is_alphanumeric() || "_-.\"'".contains(c);
    let header = line.starts_with('[') && line.chars().nth(1).is_some_and(char::is_alphabetic);
    header || key.is_some_and(|key| !key.is_empty() && key.chars().all(plain))
}

/// Reports a slip that ends on its own line, and returns what to blank.
fn on_one_line(
    text: &str,
    span: Range<usize>,
    message: &str,
    problems: &mut Problems<'_>,
) -> Range<usize> {
    let line = line_of(text, span.start);
    let (place, what, wanted) = in_words(text, &line, span, message);
    problems.add(place, &what, &wanted);
    let is_header = text
        .get(line.clone())
        .is_some_and(|line| line.trim_start().starts_with('['));
    if !is_header {
        return line;
    }
    // Without its header, what follows would be judged as part of the section above.
    let mut end = line.end;
    while end < text.len() {
        let next = line_of(text, end + 1);
        if text
            .get(next.clone())
            .is_some_and(|line| line.trim_start().starts_with('['))
        {
            break;
        }
        end = next.end.max(end + 1);
    }
    line.start..end
}

/// Place, what and wanted for a slip: the common ones in words for a person who does not know TOML.
fn in_words(
    text: &str,
    line: &Range<usize>,
    span: Range<usize>,
    message: &str,
) -> (Range<usize>, String, String) {
    let words = text.get(line.clone()).unwrap_or_default();
    let equals = words.find('=').map(|at| line.start + at + 1);
    let value_from = equals.map(|from| {
        let rest = text.get(from..line.end).unwrap_or_default();
        from + rest.len() - rest.trim_start().len()
    });
    let value = value_from
        .and_then(|from| text.get(from..line.end))
        .unwrap_or_default();
    let value = value.split('#').next().unwrap_or_default().trim_end();
    let inside = value_from.is_none_or(|from| span.start >= from);
    let (whole, value) = match value_from {
        Some(from) => (from..from + value.len(), value),
        None => (span.clone(), text.get(span.clone()).unwrap_or_default()),
    };
    let by_entry = entry_on(text, line)
        .and_then(find)
        .map(super::Entry::wanted);
    let or = |otherwise: &str| by_entry.clone().unwrap_or_else(|| otherwise.to_owned());

    if words.contains(['“', '”', '„', '‘', '’']) && inside {
        let what = "these are curved quotes, as word processors write them".to_owned();
        return (whole, what, "straight quotes: \" or '".to_owned());
    }
    if inside && is_decimal_comma(value) {
        let wanted = format!("a decimal point: {}", value.replace(',', "."));
        return (whole, "this number has a decimal comma".to_owned(), wanted);
    }
    if equals.is_some() && value.is_empty() {
        let from = line.start + words.trim_end().len();
        let what = "there is no value after the =".to_owned();
        return (
            from..from,
            what,
            or("a value, or # at the head of the line while it is unknown"),
        );
    }
    if inside && message.starts_with("string values must be quoted") {
        let what =
            format!("\"{value}\" is neither a number, nor true or false, nor text in quotes");
        return (
            whole,
            what,
            or("a number, true or false, or text in quotes"),
        );
    }
    if inside && message.starts_with("invalid boolean") {
        return (
            whole,
            "this is not spelt in the way TOML wants it".to_owned(),
            or("true or false, in small letters"),
        );
    }
    if message.starts_with("duplicate key") {
        let what = "this is already given further up".to_owned();
        return (
            span,
            what,
            "each entry and each section once; keep the one that is right".to_owned(),
        );
    }
    if message.starts_with("key with no value") {
        let from = line.start + words.len() - words.trim_start().len();
        let to = line.start + words.trim_end().len();
        let what = "this line is neither an entry, nor a section, nor a remark".to_owned();
        let wanted = "name = value, or [section], or # before a remark".to_owned();
        return (from..to, what, wanted);
    }
    let (what, wanted) = message
        .split_once(", expected ")
        .unwrap_or((message, "valid TOML"));
    (
        span,
        format!("this is not valid TOML: {what}"),
        wanted.to_owned(),
    )
}

fn is_decimal_comma(value: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    value
        .split_once(',')
        .is_some_and(|(left, right)| digits(left.trim_start_matches(['+', '-'])) && digits(right))
}

/// The dotted name of the entry on a line, from its key and the last section header above it.
fn entry_on(text: &str, line: &Range<usize>) -> Option<&'static str> {
    let key = text.get(line.clone())?.split_once('=')?.0.trim();
    let above = text.get(..line.start)?.lines().rev().map(str::trim);
    let header = above.into_iter().find(|line| line.starts_with('['))?;
    let section = header.trim_start_matches('[').split(']').next()?.trim();
    find(&format!("{section}.{key}")).map(|entry| entry.name)
}

/// The line around a byte, without its line end.
fn line_of(text: &str, at: usize) -> Range<usize> {
    let at = at.min(text.len());
    let bytes = text.as_bytes();
    let start = bytes[..at]
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |newline| newline + 1);
    let end = bytes[at..]
        .iter()
        .position(|byte| *byte == b'\n')
        .map_or(text.len(), |newline| at + newline);
    start..end
}

/// The text with a stretch of whole lines turned to spaces; line ends stay.
fn blanked(text: &str, stretch: Range<usize>) -> String {
    let keep = |at: usize, byte: u8| byte == b'\n' || !stretch.contains(&at);
    let bytes: Vec<u8> = text
        .bytes()
        .enumerate()
        .map(|(at, byte)| if keep(at, byte) { byte } else { b' ' })
        .collect();
    // Stretches are whole lines, so no character is cut; were one, the rest would be readable still.
    String::from_utf8(bytes)
        .unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
}
