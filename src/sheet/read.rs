//! From text to a sheet: walks the TOML tree along the schema and collects every problem on the way.

use std::collections::BTreeMap;
use std::fs;
use std::ops::Range;
use std::path::Path;

use toml::de::{DeTable, DeValue};

use super::agree::{self, Written};
use super::nearest::nearest;
use super::places::{Place, Problem, SheetError, Source};
use super::schema::{ALIASES, SCHEMA, SECTIONS, find};
use super::value::{Node, Problems, number, text, type_words};
use super::{LimitEntry, LimitValue, Sheet, UnitEntry, canonical, syntax};

/// Far above any sheet, far below any log that was given by mistake.
const LARGEST: u64 = 1 << 20;

/// The name for diagnostics and the text of a sheet's file.
pub(super) fn text_of(path: &Path) -> Result<(String, String), SheetError> {
    let name = path.display().to_string();
    let unreadable = |error: std::io::Error| {
        let why = match error.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
            std::io::ErrorKind::PermissionDenied => "reading it is not permitted".to_owned(),
            std::io::ErrorKind::IsADirectory => "it is a folder, not a file".to_owned(),
            _ => error.to_string(),
        };
        SheetError::Unreadable {
            path: path.to_owned(),
            why,
        }
    };
    let size = fs::metadata(path).map_err(unreadable)?.len();
    if size > LARGEST {
        let what = format!("this file has {size} bytes, far too many for a build sheet");
        let wanted = "a small TOML file; was the log given in its place?";
        return Err(SheetError::Wrong(vec![Problem::of_whole_file(
            &name, what, wanted,
        )]));
    }
    match String::from_utf8(fs::read(path).map_err(unreadable)?) {
        Ok(text) => Ok((name, text)),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let shown = String::from_utf8_lossy(error.as_bytes()).into_owned();
            let source = Source::new(&name, &shown);
            let place = source.at(at..at + '\u{fffd}'.len_utf8());
            let what = "this character is not written in UTF-8";
            let wanted = "the file saved again as UTF-8 text, in the editor's save dialogue";
            Err(SheetError::Wrong(vec![source.problem(place, what, wanted)]))
        }
    }
}

/// Parses and judges a sheet.
pub(super) fn sheet(name: &str, text: &str) -> Result<Sheet, SheetError> {
    let mut source = Source::new(name, text);
    let mut problems = Problems {
        source: &source,
        list: Vec::new(),
    };
    let mut reader = Reader::default();
    if let Some(mended) = syntax::mended(text, &mut problems) {
        let (tree, _) = DeTable::parse_recoverable(&mended);
        let mut written = Written::new();
        for (key, node) in in_order(tree.get_ref()) {
            reader.section(key.0, key.1, node, &mut written, &mut problems);
        }
        agree::check(&reader.sheet, &written, &mut problems);
    }
    let mut problems = problems.list;
    if !problems.is_empty() {
        problems.sort_by_key(Problem::order);
        return Err(SheetError::Wrong(problems));
    }
    for (dotted, key, value) in reader.kept {
        let (key, value) = (source.at(key), source.at(value));
        source.keep(&dotted, key, value);
    }
    reader.sheet.source = source;
    Ok(reader.sheet)
}

/// The rows of a table in the order of the sheet: a parser's own order would shuffle channels and diagnostics.
fn in_order<'n, 'a>(table: &'n DeTable<'a>) -> Vec<((&'n str, Range<usize>), &'n Node<'a>)> {
    let mut rows: Vec<_> = table
        .iter()
        .map(|(key, node)| ((key.get_ref().as_ref(), key.span()), node))
        .collect();
    rows.sort_by_key(|((_, span), _)| span.start);
    rows
}

#[derive(Default)]
struct Reader {
    sheet: Sheet,
    /// Dotted name, key and value of what was written, to be kept with the text.
    kept: Vec<(String, Range<usize>, Range<usize>)>,
    /// Limits by key and columns by header, to find what is given twice.
    limits: BTreeMap<String, Place>,
    headers: BTreeMap<String, (String, Place)>,
}

impl Reader {
    fn section<'n, 'a>(
        &mut self,
        name: &str,
        at: Range<usize>,
        node: &'n Node<'a>,
        written: &mut Written<'n, 'a>,
        problems: &mut Problems<'_>,
    ) {
        if !SECTIONS.iter().any(|section| section.name == name) {
            let (what, wanted) = unknown_section(name, node.get_ref());
            problems.add(at, &what, &wanted);
            return;
        }
        let Some(table) = node.get_ref().as_table() else {
            let what = format!(
                "\"{name}\" is a section, and this is {}",
                type_words(node.get_ref())
            );
            problems.add(
                at,
                &what,
                &format!("[{name}] on a line of its own, and its entries below"),
            );
            return;
        };
        for ((key, at), node) in in_order(table) {
            match name {
                "limits" => self.limit(key, at, node, problems),
                "channels" => self.channel(key, at, node, problems),
                "units" => self.unit(key, at, node, problems),
                _ => self.entry(name, key, at, node, written, problems),
            }
        }
    }

    fn entry<'n, 'a>(
        &mut self,
        section: &str,
        key: &str,
        at: Range<usize>,
        node: &'n Node<'a>,
        written: &mut Written<'n, 'a>,
        problems: &mut Problems<'_>,
    ) {
        let dotted = format!("{section}.{key}");
        let Some(entry) = find(&dotted) else {
            let (what, wanted) = unknown_key(section, key);
            problems.add(at, &what, &wanted);
            return;
        };
        let before = entry.value(&self.sheet);
        entry.fill(&mut self.sheet, node, problems);
        if let (Some(_), Some(first)) = (&before, written.get(entry.name))
            && before != entry.value(&self.sheet)
            && entry.value(&self.sheet).is_some()
        {
            let line = problems.source.at(first.span()).line;
            let what =
                format!("{dotted} says something else than line {line}, and both mean the same");
            problems.add(
                node.span(),
                &what,
                &format!("{} once, or twice the same", canonical(&dotted)),
            );
        }
        self.kept.push((entry.name.to_owned(), at, node.span()));
        written.insert(entry.name, node);
    }

    /// One row of `[limits]`. A dot outside of quotes makes TOML see a table in a table; both spellings mean the same.
    fn limit(&mut self, key: &str, at: Range<usize>, node: &Node<'_>, problems: &mut Problems<'_>) {
        let Some(table) = node.get_ref().as_table() else {
            return self.one_limit(key, at, node, problems);
        };
        for ((inner, inner_at), node) in in_order(table) {
            let between = problems.source.text().get(at.end..inner_at.start);
            let together = between.is_some_and(|between| between.trim() == ".");
            let place = if together {
                at.start..inner_at.end
            } else {
                inner_at
            };
            self.one_limit(&format!("{key}.{inner}"), place, node, problems);
        }
    }

    fn one_limit(
        &mut self,
        key: &str,
        at: Range<usize>,
        node: &Node<'_>,
        problems: &mut Problems<'_>,
    ) {
        let named = |part: &str| {
            !part.is_empty()
                && part
                    .chars()
                    .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "-_".contains(c))
        };
        let parts = key
            .split_once('.')
            .filter(|(check, limit)| named(check) && named(limit));
        let Some((check, limit)) = parts else {
            let what = format!("\"{key}\" does not name a limit");
            problems.add(
                at,
                &what,
                "the check's id, a dot and the limit's name: \"egt-spread.spread\"",
            );
            return;
        };
        let wanted =
            "a number in the limit's own unit, or a number with a unit in quotes: \"120 degF\"";
        let value = match node.get_ref() {
            DeValue::Integer(_) | DeValue::Float(_) => match number(node.get_ref())
                .filter(|n| n.is_finite())
            {
                Some(number) => LimitValue::Number(number),
                None => return problems.add(node.span(), "this number cannot be right", wanted),
            },
            _ => match text(node, wanted, problems) {
                Some(text) => LimitValue::Text(text),
                None => return,
            },
        };
        let place = problems.source.at(at.clone());
        if let Some(first) = self.limits.insert(key.to_owned(), place) {
            let what = format!("{key} is already given in line {}", first.line);
            return problems.add(at, &what, "each limit once");
        }
        self.kept.push((format!("limits.{key}"), at, node.span()));
        self.sheet.limits.push(LimitEntry {
            key: key.to_owned(),
            check: check.to_owned(),
            limit: limit.to_owned(),
            value,
            place,
            value_place: problems.source.at(node.span()),
        });
    }

    fn channel(
        &mut self,
        name: &str,
        at: Range<usize>,
        node: &Node<'_>,
        problems: &mut Problems<'_>,
    ) {
        if !is_channel_name(name) {
            let sample = "the column's header on the right: \"egt_1\" = \"Exh Temp Front\"";
            let (what, wanted) = no_name(name, sample);
            return problems.add(at, &what, &wanted);
        }
        let wanted = "the column's header in quotes, as the log writes it";
        let Some(header) = text(node, wanted, problems) else {
            return;
        };
        let place = problems.source.at(node.span());
        let taken = (name.to_owned(), place);
        if let Some((other, first)) = self.headers.insert(header.clone(), taken) {
            let what = format!(
                "this column is already given to {other} in line {}",
                first.line
            );
            return problems.add(node.span(), &what, "one standard name for each column");
        }
        self.kept
            .push((format!("channels.{name}"), at, node.span()));
        self.sheet.channels.push((name.to_owned(), header, place));
    }

    fn unit(&mut self, name: &str, at: Range<usize>, node: &Node<'_>, problems: &mut Problems<'_>) {
        if !is_channel_name(name) {
            let sample = "its unit on the right: \"oil_pressure\" = \"psi\"";
            let (what, wanted) = no_name(name, sample);
            return problems.add(at, &what, &wanted);
        }
        let wanted = "the unit in quotes, such as \"psi\", \"degF\" or \"kPa gauge\"";
        let Some(text) = text(node, wanted, problems) else {
            return;
        };
        let (place, text_place) = (
            problems.source.at(at.clone()),
            problems.source.at(node.span()),
        );
        self.kept.push((format!("units.{name}"), at, node.span()));
        self.sheet.units.push(UnitEntry {
            name: name.to_owned(),
            text: text.trim().to_owned(),
            place,
            text_place,
        });
    }
}

fn no_name(name: &str, sample: &str) -> (String, String) {
    let wanted = format!("the standard name on the left, small letters and _, and {sample}");
    (format!("\"{name}\" is no standard name"), wanted)
}

/// Whether a word has the shape of a standard name; whether it is one is known by the channel dictionary.
pub(super) fn is_channel_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

fn unknown_section(name: &str, value: &DeValue<'_>) -> (String, String) {
    let names = SECTIONS.iter().map(|section| section.name);
    let kind = if value.is_table() { "section" } else { "entry" };
    let what = format!("there is no {kind} \"{name}\"");
    if !value.is_table()
        && let Some(home) = SCHEMA.iter().find(|entry| entry.key() == name)
    {
        return (what, format!("\"{name}\" below [{}]", home.section()));
    }
    if let Some(near) = nearest(name, names.clone()) {
        return (what, format!("[{near}], probably"));
    }
    let all: Vec<&str> = names.collect();
    (what, format!("one of the sections {}", all.join(", ")))
}

fn unknown_key(section: &str, key: &str) -> (String, String) {
    let what = format!("[{section}] has no entry \"{key}\"");
    let names = || {
        SCHEMA
            .iter()
            .map(|entry| entry.name)
            .chain(ALIASES.iter().map(|(alias, _)| *alias))
    };
    let of_section: Vec<&str> = names()
        .filter_map(|name| name.strip_prefix(section)?.strip_prefix('.'))
        .collect();
    if let Some(near) = nearest(key, of_section.iter().copied()) {
        return (what, format!("\"{near}\", probably"));
    }
    if let Some(home) = SCHEMA.iter().find(|entry| entry.key() == key) {
        return (what, format!("\"{key}\" below [{}]", home.section()));
    }
    (what, format!("one of {}", of_section.join(", ")))
}
