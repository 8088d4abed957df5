//! Values of the sheet: the plain form that scripts see, and how each type is read from TOML.

use toml::Spanned;
use toml::de::DeValue;

use super::places::{Place, Problem, Source};
use super::schema::{Entry, Kind};
use super::sections::{FuelKind, Strokes};

/// Named lists of cylinders, in the order of the sheet.
pub type Groups = Vec<(String, Vec<u32>)>;

/// Any entry of the sheet in plain form.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number in the entry's unit.
    Number(f64),
    /// A word or free text.
    Text(String),
    /// Yes or no.
    Bool(bool),
    /// A list of cylinder numbers.
    List(Vec<f64>),
    /// Named values, in the order of the sheet.
    Map(Vec<(String, Value)>),
}

/// One TOML value and where it stands.
pub(super) type Node<'a> = Spanned<DeValue<'a>>;

/// What has been found wrong so far.
pub(super) struct Problems<'s> {
    pub(super) source: &'s Source,
    pub(super) list: Vec<Problem>,
}

impl Problems<'_> {
    pub(super) fn add(&mut self, range: std::ops::Range<usize>, what: &str, wanted: &str) {
        self.add_at(self.source.at(range), what, wanted);
    }

    pub(super) fn add_at(&mut self, place: Place, what: &str, wanted: &str) {
        self.list.push(self.source.problem(place, what, wanted));
    }

    fn wrong_type(&mut self, node: &Node<'_>, wanted: &str) {
        let what = format!("this is {}", type_words(node.get_ref()));
        self.add(node.span(), &what, wanted);
    }
}

/// A type that an entry can have. `read` returns `None` only after it has added a problem.
pub(super) trait Field: Sized {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self>;
    fn value(&self) -> Value;
}

/// What a TOML value is, in plain words.
pub(super) fn type_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table of several entries",
    }
}

/// Any TOML number; `None` for everything else and for what no number type can hold.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(whole) => {
            let whole = i64::from_str_radix(whole.as_str(), whole.radix()).ok()?;
            Some(whole as f64)
        }
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

/// A number that counts cylinders, or anything else that comes in ones.
pub(super) fn whole(value: &DeValue<'_>) -> Option<u32> {
    let number = number(value)?;
    (number.fract() == 0.0 && (0.0..=1e6).contains(&number)).then_some(number as u32)
}

fn is_number(value: &DeValue<'_>) -> bool {
    matches!(value, DeValue::Integer(_) | DeValue::Float(_))
}

/// A number within bounds, else a problem. Not-a-number is within none.
fn bounded(
    node: &Node<'_>,
    within: impl Fn(f64) -> bool,
    wanted: &str,
    problems: &mut Problems<'_>,
) -> Option<f64> {
    if !is_number(node.get_ref()) {
        problems.wrong_type(node, wanted);
        return None;
    }
    let found = number(node.get_ref()).filter(|found| within(*found));
    if found.is_none() {
        problems.add(node.span(), "this number cannot be right", wanted);
    }
    found
}

impl Field for f64 {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        bounded(
            node,
            |found| entry.kind.allows(found),
            &entry.wanted(),
            problems,
        )
    }
    fn value(&self) -> Value {
        Value::Number(*self)
    }
}

impl Field for u32 {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let allowed = |found: f64| found.fract() == 0.0 && entry.kind.allows(found);
        bounded(node, allowed, &entry.wanted(), problems).map(|found| found as u32)
    }
    fn value(&self) -> Value {
        Value::Number(f64::from(*self))
    }
}

impl Field for bool {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let found = node.get_ref().as_bool();
        if found.is_none() {
            problems.wrong_type(node, &entry.wanted());
        }
        found
    }
    fn value(&self) -> Value {
        Value::Bool(*self)
    }
}

impl Field for String {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        text(node, &entry.wanted(), problems)
    }
    fn value(&self) -> Value {
        Value::Text(self.clone())
    }
}

/// Text that says something.
pub(super) fn text(node: &Node<'_>, wanted: &str, problems: &mut Problems<'_>) -> Option<String> {
    let Some(found) = node.get_ref().as_str() else {
        problems.wrong_type(node, wanted);
        return None;
    };
    if found.trim().is_empty() {
        problems.add(node.span(), "this text is empty", wanted);
        return None;
    }
    Some(found.to_owned())
}

/// A single character out of a list, such as a delimiter.
impl Field for char {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let wanted = entry.wanted();
        let Some(found) = node.get_ref().as_str() else {
            problems.wrong_type(node, &wanted);
            return None;
        };
        let mut chars = found.chars();
        let mark = chars.next().filter(|_| chars.next().is_none());
        let mark =
            mark.filter(|mark| matches!(entry.kind, Kind::Mark(marks) if marks.contains(mark)));
        if mark.is_none() {
            problems.add(node.span(), "this mark is not known here", &wanted);
        }
        mark
    }
    fn value(&self) -> Value {
        Value::Text(self.to_string())
    }
}

/// A list of cylinder numbers. Which numbers make sense together is judged later, see `agree.rs`.
impl Field for Vec<u32> {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        cylinders(node, &entry.wanted(), problems)
    }
    fn value(&self) -> Value {
        Value::List(self.iter().map(|cylinder| f64::from(*cylinder)).collect())
    }
}

fn cylinders(node: &Node<'_>, wanted: &str, problems: &mut Problems<'_>) -> Option<Vec<u32>> {
    let Some(list) = node.get_ref().as_array() else {
        problems.wrong_type(node, wanted);
        return None;
    };
    if list.is_empty() {
        problems.add(node.span(), "this list is empty", wanted);
        return None;
    }
    let mut found = Vec::with_capacity(list.len());
    for item in list.iter() {
        match whole(item.get_ref()) {
            Some(cylinder) => found.push(cylinder),
            None => problems.add(item.span(), "this is no cylinder number", wanted),
        }
    }
    (found.len() == list.len()).then_some(found)
}

/// The entries of an inline table in the order of the sheet; a problem when it is no table or empty.
fn named<'n, 'a>(
    node: &'n Node<'a>,
    wanted: &str,
    problems: &mut Problems<'_>,
) -> Option<Vec<(String, &'n Node<'a>)>> {
    let Some(table) = node.get_ref().as_table() else {
        problems.wrong_type(node, wanted);
        return None;
    };
    if table.is_empty() {
        problems.add(node.span(), "nothing is named here", wanted);
        return None;
    }
    let mut rows: Vec<_> = table.iter().collect();
    rows.sort_by_key(|(key, _)| key.span().start);
    Some(
        rows.into_iter()
            .map(|(key, node)| (key.get_ref().to_string(), node))
            .collect(),
    )
}

/// Reads every row; `None` if any was wrong, after all of them were looked at.
fn each<T>(
    rows: Vec<(String, &Node<'_>)>,
    mut read: impl FnMut(&Node<'_>) -> Option<T>,
) -> Option<Vec<(String, T)>> {
    let read: Vec<_> = rows
        .into_iter()
        .map(|(name, node)| Some((name, read(node)?)))
        .collect();
    read.into_iter().collect()
}

impl Field for Groups {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let wanted = entry.wanted();
        let rows = named(node, &wanted, problems)?;
        each(rows, |node| cylinders(node, &wanted, problems))
    }
    fn value(&self) -> Value {
        Value::Map(
            self.iter()
                .map(|(name, list)| (name.clone(), list.value()))
                .collect(),
        )
    }
}

/// Named amounts, such as what each consumer draws.
impl Field for Vec<(String, f64)> {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let wanted = entry.wanted();
        let rows = named(node, &wanted, problems)?;
        each(rows, |node| {
            bounded(node, |found| entry.kind.allows(found), &wanted, problems)
        })
    }
    fn value(&self) -> Value {
        Value::Map(
            self.iter()
                .map(|(name, amount)| (name.clone(), Value::Number(*amount)))
                .collect(),
        )
    }
}

impl Field for Strokes {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let strokes = match node.get_ref() {
            DeValue::String(word) if word == "rotary" => Some(Self::Rotary),
            other => whole(other).and_then(|strokes| match strokes {
                2 => Some(Self::Two),
                4 => Some(Self::Four),
                _ => None,
            }),
        };
        if strokes.is_none() {
            problems.add(
                node.span(),
                "no engine of this kind is known here",
                &entry.wanted(),
            );
        }
        strokes
    }
    fn value(&self) -> Value {
        match self {
            Self::Two => Value::Number(2.0),
            Self::Four => Value::Number(4.0),
            Self::Rotary => Value::Text("rotary".to_owned()),
        }
    }
}

impl Field for FuelKind {
    fn read(node: &Node<'_>, entry: &Entry, problems: &mut Problems<'_>) -> Option<Self> {
        let wanted = entry.wanted();
        if node.get_ref().as_str().is_some() {
            return word(node, Self::WORDS, &wanted, problems, Self::from_word);
        }
        let rows = named(node, &wanted, problems)?;
        let [(name, ratio)] = rows.as_slice() else {
            problems.add(
                node.span(),
                "a fuel of your own is told by its ratio alone",
                &wanted,
            );
            return None;
        };
        if name != "stoich_afr" {
            problems.add(
                node.span(),
                &format!("\"{name}\" is not known here"),
                &wanted,
            );
            return None;
        }
        let within = |found| (1.0..=40.0).contains(&found);
        let wanted = "the air-fuel ratio by mass at which the fuel burns completely, from 1 to 40";
        let stoich_afr = bounded(ratio, within, wanted, problems)?;
        Some(Self::Custom { stoich_afr })
    }
    fn value(&self) -> Value {
        match self {
            Self::Custom { stoich_afr } => {
                Value::Map(vec![("stoich_afr".to_owned(), Value::Number(*stoich_afr))])
            }
            known => Value::Text(known.word().to_owned()),
        }
    }
}

/// One word out of a list; an unknown one is answered with the whole list and the nearest of it.
pub(super) fn word<T>(
    node: &Node<'_>,
    words: &[&'static str],
    wanted: &str,
    problems: &mut Problems<'_>,
    meaning: impl Fn(&str) -> Option<T>,
) -> Option<T> {
    let Some(found) = node.get_ref().as_str() else {
        problems.wrong_type(node, wanted);
        return None;
    };
    let known = meaning(found);
    if known.is_none() {
        let what = format!("\"{found}\" is not known here");
        let hint = super::nearest::nearest(found, words.iter().copied());
        let hint = hint.map_or(String::new(), |near| {
            format!(" (\"{near}\" was probably meant)")
        });
        problems.add(node.span(), &what, &format!("{wanted}{hint}"));
    }
    known
}
