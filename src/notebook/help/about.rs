//! What a word means: signature, unit, what it does, an example.

use super::Kind;
use super::kind_of;
use crate::checks::Check;
use crate::dsl::reference::Word;
use crate::dsl::run::FAMILIES;
use crate::notebook::bundle::Bundle;
use crate::notebook::outlet;
use crate::notebook::scan::is_name;
use crate::notebook::session::{Session, Store};
use crate::phases::Phases;
use crate::recording::dictionary;
use crate::reports::{escape, part};

/// What is known of a name, a part a heading.
#[derive(Default)]
struct About {
    parts: Vec<(String, Vec<String>)>,
}

impl About {
    fn add(&mut self, head: impl Into<String>, lines: Vec<String>) {
        self.parts.push((head.into(), lines));
    }
    fn bundle(&self) -> Option<Bundle> {
        if self.parts.is_empty() {
            return None;
        }
        let (mut plain, mut html) = (Vec::new(), String::new());
        for (head, lines) in &self.parts {
            let indented: Vec<String> = lines.iter().map(|l| format!("  {l}")).collect();
            plain.push(format!("{head}\n{}", indented.join("\n")));
            let lines: String = lines
                .iter()
                .map(|l| format!("<p>{}</p>\n", escape(l)))
                .collect();
            html.push_str(&format!("<h3><code>{}</code></h3>\n{lines}", escape(head)));
        }
        Some(Bundle::plain(plain.join("\n\n")).html(part(&html)))
    }
}

/// What is known of the word at the cursor (bytes from the start).
pub fn inspect(session: &Session, code: &str, cursor: usize) -> Option<Bundle> {
    let cursor = (0..=cursor.min(code.len()))
        .rev()
        .find(|at| code.is_char_boundary(*at))?;
    // Ids and phases stand between quotation marks, with hyphens.
    let quoted = |c: char| is_name(c) || c == '-';
    let part = |fits: fn(char) -> bool| {
        let start = code[..cursor].rfind(|c| !fits(c)).map_or(0, |at| {
            at + code[at..].chars().next().map_or(1, char::len_utf8)
        });
        let end = code[cursor..]
            .find(|c| !fits(c))
            .map_or(code.len(), |at| cursor + at);
        (start, end)
    };
    let (start, end) = part(quoted);
    let in_marks = code[..start].ends_with(['"', '`']);
    let (start, end) = if in_marks {
        (start, end)
    } else {
        part(is_name)
    };
    let mut name = &code[start..end];
    let mut head = &code[..start];
    if name.is_empty() {
        // Behind the bracket of a call its word is meant.
        head = code[..cursor].trim_end().strip_suffix('(').unwrap_or("");
        let from = head.rfind(|c| !is_name(c)).map_or(0, |at| at + 1);
        (head, name) = head.split_at(from);
    }
    if name.is_empty() {
        return None;
    }
    let of = head
        .trim_end()
        .strip_suffix('.')
        .map(|of| kind_of(session, of));
    let mut about = About::default();
    if of.is_none() && !in_marks {
        of_name(session, name, &mut about);
    }
    let group = of.map_or("", Kind::group);
    let words = session.words().iter().filter(|w| match of {
        Some(_) => w.after_dot() && (group.is_empty() || w.group == group),
        None => !w.after_dot(),
    });
    of_words(
        words.filter(|w| w.name == name),
        session.store(),
        &mut about,
    );
    if in_marks || of.is_some_and(|k| matches!(k, Kind::Run | Kind::Other)) {
        of_things(name, session.store(), &mut about);
    }
    if about.parts.is_empty() {
        of_words(
            session.words().iter().filter(|w| w.name == name),
            session.store(),
            &mut about,
        );
    }
    about.bundle()
}

/// A page about a name, or about all words where it is empty; for the session whose cell runs.
pub fn page(name: &str) -> Option<Bundle> {
    let store = outlet::store()?;
    let words = &store.words;
    if name.is_empty() {
        let mut about = About::default();
        let mut groups: Vec<&str> = words.iter().map(|w| w.group).collect();
        groups.dedup();
        for group in groups {
            let lines = words.iter().filter(|w| w.group == group);
            about.add(
                group,
                lines.map(|w| format!("{}: {}", w.call, w.doc)).collect(),
            );
        }
        return about.bundle();
    }
    let mut about = About::default();
    of_words(words.iter().filter(|w| w.name == name), &store, &mut about);
    of_things(name, &store, &mut about);
    about.bundle()
}

/// A name that cells gave.
fn of_name(session: &Session, name: &str, about: &mut About) {
    if let Some(value) = session.scope().get(name) {
        let shown = crate::notebook::display::bundle_of(session.store(), value);
        let text = shown.text("text/plain").unwrap_or_default().to_string();
        about.add(name, text.lines().take(30).map(str::to_string).collect());
    }
    for defined in session.store().functions().named(name) {
        let function = &defined.function;
        let mut lines: Vec<String> = function.text.lines().map(str::to_string).collect();
        lines.push(format!("defined in {}", defined.cell.name));
        about.add(
            format!("fn {}({})", name, function.params.join(", ")),
            lines,
        );
    }
}

fn of_words<'a>(words: impl Iterator<Item = &'a Word>, store: &Store, about: &mut About) {
    for word in words {
        let mut lines = vec![word.doc.clone()];
        if word.after_dot() {
            lines.push(format!("Works on: {}", word.group.to_lowercase()));
        }
        lines.extend(example(word, store).map(|line| format!("Example: {line}")));
        about.add(word.call.clone(), lines);
    }
}

/// A line that uses it: the one in its own words, or one of the checks that come with the program.
fn example(word: &Word, store: &Store) -> Option<String> {
    let dot = if word.after_dot() { "." } else { "" };
    let open = if word.call.contains('(') { "(" } else { "" };
    let used = format!("{dot}{}{open}", word.name);
    if word
        .doc
        .split('`')
        .skip(1)
        .step_by(2)
        .any(|code| code.contains(&used))
    {
        // It stands in its words already.
        return None;
    }
    let catalog = store.catalog().ok()?;
    let lines = catalog.checks().iter().flat_map(|c| c.script.text.lines());
    lines
        .map(str::trim)
        .filter(|line| !line.starts_with("//") && line.len() <= 110)
        .find(|line| {
            line.match_indices(&used).any(|(at, _)| {
                let before = line[..at].chars().next_back();
                !dot.is_empty() || !before.is_some_and(|c| is_name(c) || c == '.')
            })
        })
        .map(str::to_string)
}

/// Channels, families, phases and checks.
fn of_things(name: &str, store: &Store, about: &mut About) {
    let opened = store.opened();
    if let Some((_, unit, heading)) = opened.channels.iter().find(|c| c.0 == name) {
        let mut lines = Vec::new();
        if let Some(entry) = dictionary::entry(name) {
            lines.push(entry.about.clone());
            lines.push(format!("Measures: {}", entry.quantity));
            lines.push(format!(
                "Plausible: {} to {} {}",
                entry.range[0], entry.range[1], entry.unit
            ));
        }
        lines.push(format!(
            "Unit: {}",
            if unit.is_empty() { "none" } else { unit }
        ));
        lines.push(format!("In this log: `{heading}`"));
        lines.push(format!("Example: plot(run.{name})"));
        about.add(name, lines);
    } else if let Some(entry) = dictionary::entry(name) {
        let lines = vec![
            entry.about.clone(),
            format!(
                "Unit: {}",
                if entry.unit.is_empty() {
                    "none"
                } else {
                    &entry.unit
                }
            ),
            "Not in this log.".to_string(),
        ];
        about.add(name, lines);
    }
    if let Some((family, stem)) = FAMILIES.iter().find(|f| f.0 == name) {
        let members = opened.channels.iter().filter(|c| c.0.starts_with(stem));
        let members: Vec<String> = members.map(|c| c.0.clone()).collect();
        let lines = vec![
            "One column for each cylinder, probe or sensor.".to_string(),
            format!(
                "In this log: {}",
                if members.is_empty() {
                    "none".to_string()
                } else {
                    members.join(", ")
                }
            ),
            format!("Example: run.{family}.from_bank_median().largest()"),
        ];
        about.add(*family, lines);
    }
    if Phases::names().contains(&name) {
        let example = format!("Example: run.during(\"{name}\").total()");
        about.add(
            name,
            vec![
                "A phase of the run: what the engine was doing.".to_string(),
                example,
            ],
        );
    }
    if let Some(check) = store.catalog().ok().and_then(|c| c.get(name)) {
        about.add(name, of_check(check));
    }
}

fn of_check(check: &Check) -> Vec<String> {
    let mut lines = vec![check.about.title.clone(), check.why.clone()];
    let needs: Vec<String> = check
        .about
        .needs
        .iter()
        .map(crate::checks::Need::words)
        .collect();
    lines.push(format!("Needs: {}", needs.join(", ")));
    for (name, limit) in &check.about.limits {
        let q = limit.quantity;
        lines.push(format!(
            "Limit {name}: {} {}; {}",
            q.value,
            q.unit.key(),
            limit.from
        ));
    }
    lines.push(format!(
        "Example: review(run).finding(\"{}\")",
        check.script.id
    ));
    lines.retain(|l| !l.is_empty());
    lines
}
