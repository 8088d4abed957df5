//! A first build sheet from what a log shows, with a question for everything that it does not show.
//!
//! `# words` are remarks, `#key = value` is an entry that is not in use: taking the `#` away must leave a valid sheet,
//! so an example is always right for the engine at hand.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::read::is_channel_name;
use super::schema::{Entry, Kind, SCHEMA, SECTIONS};

/// Width of the remarks.
const WIDTH: usize = 98;

/// What a log shows of an engine. Whatever is unknown stays empty; a figure outside the bounds of its entry is left out.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Name of the log, for the remark at the head.
    pub log: String,
    /// How many cylinders there seem to be, and from what that is read.
    pub cylinders: Option<(u32, String)>,
    /// Idle speed, rpm.
    pub idle_rpm: Option<f64>,
    /// Highest speed, rpm.
    pub max_rpm: Option<f64>,
    /// Supply at rest before the start, V.
    pub rest_v: Option<f64>,
    /// Supply while running, V.
    pub charging_v: Option<f64>,
    /// Height from the air's pressure at rest, m.
    pub altitude_m: Option<f64>,
    /// The log has a column for a fan.
    pub fan_channel: bool,
    /// Columns understood: (standard name, header).
    pub channels: Vec<(String, String)>,
    /// Headers of columns that were not understood.
    pub unmapped: Vec<String>,
    /// Columns whose unit the log does not say: (standard name, how it was read, why).
    pub units: Vec<(String, String, String)>,
    /// Anything else worth telling, one remark each.
    pub notes: Vec<String>,
}

/// Writes a starter sheet, in TOML. Only what the log shows is in use, each with a remark on where it comes from.
///
/// What a check is to judge is never taken from the same log: the charging voltage and the highest speed are told in a
/// remark beside the question, for a regulator that is too low would else become its own measure.
pub fn starter(seen: &Seen) -> String {
    let mut page = Page(String::new());
    let log = if seen.log.trim().is_empty() {
        "a log"
    } else {
        seen.log.as_str()
    };
    page.remark(&format!("Build sheet, begun from {log}."));
    page.remark(
        "Everything here may stay unknown; each answer lets more checks run. To answer a question, write the right \
         value and take away the # at the head of its line. The values behind a # are examples, not advice.",
    );
    for note in &seen.notes {
        page.remark(&format!("Seen in the log: {note}"));
    }
    for section in SECTIONS {
        page.gap();
        page.remark(section.about);
        page.line(&format!("[{}]", section.name));
        match section.name {
            "limits" => limits(&mut page),
            "channels" => channels(&mut page, seen),
            "units" => units(&mut page, seen),
            name => {
                for entry in SCHEMA.iter().filter(|entry| entry.section() == name) {
                    page.entry(entry, seen);
                }
            }
        }
    }
    page.0
}

struct Page(String);

impl Page {
    fn line(&mut self, line: &str) {
        self.0.push_str(line);
        self.0.push('\n');
    }

    fn gap(&mut self) {
        self.0.push('\n');
    }

    /// Wrapped words behind `# `. Headers and notes come from a file: no line end of theirs may end the remark.
    fn remark(&mut self, words: &str) {
        let words: String = words
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        for line in textwrap::wrap(&words, WIDTH) {
            self.line(format!("# {line}").trim_end());
        }
    }

    fn entry(&mut self, entry: &Entry, seen: &Seen) {
        let (value, from) = match seen_value(entry, seen) {
            Some((value, from)) => (Some(value), Some(from)),
            None => (None, beside(entry, seen)),
        };
        self.remark(entry.question);
        if let Some(from) = from {
            self.remark(&from);
        }
        match value {
            Some(value) => self.line(&format!("{} = {value}", entry.key())),
            None => self.line(&format!("#{} = {}", entry.key(), sample(entry, seen))),
        }
    }
}

/// A value that the log itself shows, and from what it is read.
fn seen_value(entry: &Entry, seen: &Seen) -> Option<(String, String)> {
    let within = |number: f64| entry.kind.allows(number).then(|| number.to_string());
    match entry.name {
        "engine.cylinders" => {
            let (count, note) = seen.cylinders.as_ref()?;
            Some((
                within(f64::from(*count))?,
                format!("From the log: {note}. Correct it if it is wrong."),
            ))
        }
        "engine.idle_rpm" => {
            let from = "From the log: the speed at which it idled.".to_owned();
            Some((within(rounded(seen.idle_rpm?, 10.0))?, from))
        }
        "air.altitude_m" => {
            let from = "From the log: the air's pressure at rest. Weather alone shifts this by 200 m and more; a map \
                        knows better.";
            Some((within(rounded(seen.altitude_m?, 10.0))?, from.to_owned()))
        }
        "cooling.fan" if seen.fan_channel => Some((
            "true".to_owned(),
            "From the log: it has a column for a fan.".to_owned(),
        )),
        "electrical.nominal_v" => {
            let rest = seen.rest_v?;
            let nominal = nominal(rest)?;
            Some((
                nominal.to_string(),
                format!("From the log: the supply rested at {rest:.2} V before the start."),
            ))
        }
        _ => None,
    }
}

/// The nominal voltage that a rest voltage leaves no doubt about: near 2.1 V a cell, six or eight of them; four lithium
/// cells of 3.3 V stand in for six. Between the two, and elsewhere, ask.
fn nominal(rest_v: f64) -> Option<u32> {
    match rest_v {
        11.0..=13.8 => Some(12),
        15.5..=17.6 => Some(16),
        _ => None,
    }
}

/// What the log shows beside a question without answering it.
fn beside(entry: &Entry, seen: &Seen) -> Option<String> {
    let finite = |number: Option<f64>| number.filter(|number| number.is_finite());
    match entry.name {
        "engine.rev_limit_rpm" => {
            finite(seen.max_rpm).map(|rpm| format!("The log went up to {rpm:.0} rpm; that is no limit yet."))
        }
        "electrical.regulator_v" => finite(seen.charging_v).map(|volts| {
            format!("The log shows {volts:.2} V while running: what arrived, not what the regulator should hold.")
        }),
        "electrical.nominal_v" => {
            finite(seen.rest_v).map(|volts| format!("The log shows {volts:.2} V at rest, which fits no usual supply."))
        }
        _ => None,
    }
}

fn rounded(number: f64, step: f64) -> f64 {
    // Adding zero turns -0 into 0.
    (number / step).round() * step + 0.0
}

/// An example that is valid beside everything else on the sheet: made for this number of cylinders, above this idle.
fn sample(entry: &Entry, seen: &Seen) -> String {
    let shown = |name: &str| {
        SCHEMA
            .iter()
            .find(|entry| entry.name == name)
            .and_then(|entry| seen_value(entry, seen))
    };
    let cylinders = shown("engine.cylinders")
        .and_then(|(count, _)| count.parse().ok())
        .unwrap_or(6);
    let (first, second) = halves(cylinders);
    match entry.name {
        "engine.firing_order" => list(&firing_order(cylinders)),
        "engine.banks" => groups("front", &first, "rear", &second),
        "sensors.egt_cylinder" => list(&(1..=cylinders).collect::<Vec<u32>>()),
        "sensors.knock_sensors" => groups("a", &first, "b", &second),
        "fuel.lambda_at" => groups("lambda", &first, "lambda_2", &second),
        "engine.rev_limit_rpm" => {
            let idle = shown("engine.idle_rpm")
                .and_then(|(rpm, _)| rpm.parse().ok())
                .unwrap_or(0.0);
            let most = seen
                .max_rpm
                .filter(|rpm| entry.kind.allows(*rpm))
                .unwrap_or(0.0);
            let sample: f64 = entry.sample.parse().unwrap_or(0.0);
            let above = [sample, rounded(most + 50.0, 100.0), idle + 1000.0]
                .into_iter()
                .fold(0.0, f64::max);
            match entry.kind {
                Kind::Number(_, top) => above.min(top).to_string(),
                _ => above.to_string(),
            }
        }
        // 2.4 V a cell, as the field notes compute it for eight.
        "electrical.regulator_v" if seen.rest_v.and_then(nominal) == Some(16) => "19.2".to_owned(),
        _ => entry.sample.to_owned(),
    }
}

/// A common order for the number of cylinders, as an example only.
fn firing_order(cylinders: u32) -> Vec<u32> {
    match cylinders {
        3 => vec![1, 3, 2],
        4 => vec![1, 3, 4, 2],
        5 => vec![1, 2, 4, 5, 3],
        6 => vec![1, 5, 3, 6, 2, 4],
        8 => vec![1, 8, 4, 3, 6, 5, 7, 2],
        other => (1..=other).collect(),
    }
}

fn halves(cylinders: u32) -> (Vec<u32>, Vec<u32>) {
    let half = cylinders.div_ceil(2);
    ((1..=half).collect(), (half + 1..=cylinders).collect())
}

fn list(cylinders: &[u32]) -> String {
    let numbers: Vec<String> = cylinders.iter().map(u32::to_string).collect();
    format!("[{}]", numbers.join(", "))
}

fn groups(name: &str, first: &[u32], other: &str, second: &[u32]) -> String {
    match second {
        [] => format!("{{ {name} = {} }}", list(first)),
        second => format!("{{ {name} = {}, {other} = {} }}", list(first), list(second)),
    }
}

fn limits(page: &mut Page) {
    page.remark(
        "A number in the limit's own unit, or with its unit in quotes, \"120 degF\". An example:",
    );
    page.line("#\"egt-spread.spread\" = 90");
}

fn channels(page: &mut Page, seen: &Seen) {
    page.remark("Standard name = header of the column. Needed only where the log's header was not understood.");
    let (mut names, mut headers) = (BTreeSet::new(), BTreeSet::new());
    let usable =
        |(name, header): &&(String, String)| is_channel_name(name) && !header.trim().is_empty();
    if !seen.channels.is_empty() {
        page.remark(
            "Understood without help; take the # away only to hold it fast or to change it:",
        );
    }
    for (name, header) in seen.channels.iter().filter(usable) {
        if names.insert(name) && headers.insert(header) {
            page.line(&format!("#{} = {}", quoted(name), quoted(header)));
        }
    }
    if seen.channels.is_empty() {
        page.line("#\"egt_1\" = \"Exh Temp Front\"");
    }
    if !seen.unmapped.is_empty() {
        page.remark(
            "Not understood. What does each of these measure? Write a line for those that matter:",
        );
    }
    for header in &seen.unmapped {
        page.remark(&format!("    ... = {}", quoted(header)));
    }
}

fn units(page: &mut Page, seen: &Seen) {
    page.remark(
        "Standard name = unit: \"psi\", \"bar\", \"kPa gauge\", \"kPa absolute\", \"degF\", \"afr\", \"mph\", \"m/s2\", \"us\"; \
         \"0 to 1\" for a share, \"lambda x 1000\" for thousandths, \"count per row\", \"running count\" or \"level\" for knock.",
    );
    let usable = |(name, unit, _): &&(String, String, String)| {
        is_channel_name(name) && !unit.trim().is_empty()
    };
    let mut names = BTreeSet::new();
    for (name, unit, why) in seen.units.iter().filter(usable) {
        if names.insert(name) {
            page.remark(&format!("In which unit is {name} logged? {why}"));
            page.line(&format!("#{} = {}", quoted(name), quoted(unit)));
        }
    }
    if names.is_empty() {
        page.line("#\"oil_pressure\" = \"psi\"");
    }
}

/// Text as a TOML string on one line.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            // Writing to a String cannot fail.
            c if c.is_control() => drop(write!(quoted, "\\u{:04X}", u32::from(c))),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}
