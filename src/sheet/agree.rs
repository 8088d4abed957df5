//! Whether the entries of a sheet agree with each other: cylinders that exist, figures in their order.
//!
//! Works on the TOML values, not on the typed fields, because only they know where each number stands.

use std::collections::BTreeMap;

use super::Sheet;
use super::value::{Node, Problems, whole};

/// The values that were written, by dotted name.
pub(super) type Written<'n, 'a> = BTreeMap<&'static str, &'n Node<'a>>;

/// Adds a problem for each contradiction. An entry that was itself wrong is `None` in the sheet and is not judged again.
pub(super) fn check(sheet: &Sheet, written: &Written<'_, '_>, problems: &mut Problems<'_>) {
    let order_fits = firing_order(sheet, written, problems);
    // A firing order that is itself wrong must not make every bank wrong too.
    let count = if order_fits {
        sheet.cylinders()
    } else {
        sheet.engine.cylinders
    };
    if let (Some(_), Some(node)) = (&sheet.engine.banks, written.get("engine.banks")) {
        let before = problems.list.len();
        let mut roll = Roll::new(count);
        for (bank, list) in rows(node) {
            roll.call(list, &format!("bank {bank}"), problems);
        }
        // A number that is wrong is most likely the one that is missing: one slip, one problem.
        if problems.list.len() == before {
            roll.missing(node, "in no bank", problems);
        }
    }
    // Two sensors may hear the same cylinder, one sensor cannot hear it twice.
    let heard = [
        ("fuel.lambda_at", sheet.fuel.lambda_at.is_some()),
        (
            "sensors.knock_sensors",
            sheet.sensors.knock_sensors.is_some(),
        ),
    ];
    for (name, read) in heard {
        if let (true, Some(node)) = (read, written.get(name)) {
            for (sensor, list) in rows(node) {
                Roll::new(count).call(list, &format!("the list of {sensor}"), problems);
            }
        }
    }
    if let (Some(_), Some(node)) = (
        &sheet.sensors.egt_cylinder,
        written.get("sensors.egt_cylinder"),
    ) {
        Roll::new(count).call(node, "this list", problems);
    }
    lambda_names(written, problems);
    figures(sheet, written, problems);
}

/// Whether the firing order can be used: each of 1 to the number of cylinders once, or none given.
fn firing_order(sheet: &Sheet, written: &Written<'_, '_>, problems: &mut Problems<'_>) -> bool {
    let Some(node) = written.get("engine.firing_order") else {
        return true;
    };
    let Some(order) = &sheet.engine.firing_order else {
        return false;
    };
    let count = sheet
        .engine
        .cylinders
        .or_else(|| u32::try_from(order.len()).ok());
    let before = problems.list.len();
    let mut roll = Roll::new(count);
    roll.call(node, "this list", problems);
    if problems.list.len() == before {
        roll.missing(node, "missing", problems);
    }
    problems.list.len() == before
}

/// Cylinders as they are called out, to find those that are not there, called twice or missing.
struct Roll {
    count: Option<u32>,
    called: BTreeMap<u32, String>,
}

impl Roll {
    fn new(count: Option<u32>) -> Self {
        Self {
            count,
            called: BTreeMap::new(),
        }
    }

    fn wanted(&self) -> String {
        self.count
            .map_or("each cylinder, from 1, at most once".to_owned(), |count| {
                format!("cylinder numbers from 1 to {count}, each once")
            })
    }

    fn call(&mut self, list: &Node<'_>, by: &str, problems: &mut Problems<'_>) {
        for item in list
            .get_ref()
            .as_array()
            .into_iter()
            .flat_map(|list| list.iter())
        {
            let Some(cylinder) = whole(item.get_ref()) else {
                continue;
            };
            if cylinder == 0 || self.count.is_some_and(|count| cylinder > count) {
                let has = self
                    .count
                    .map_or(String::new(), |count| format!(", the engine has {count}"));
                let what = format!("there is no cylinder {cylinder}{has}");
                problems.add(item.span(), &what, &self.wanted());
            } else if let Some(before) = self.called.insert(cylinder, by.to_owned()) {
                let what = format!("cylinder {cylinder} is already in {before}");
                problems.add(item.span(), &what, &self.wanted());
            }
        }
    }

    fn missing(&self, node: &Node<'_>, how: &str, problems: &mut Problems<'_>) {
        let absent = |cylinder: &u32| !self.called.contains_key(cylinder);
        let absent: Vec<String> = (1..=self.count.unwrap_or(0))
            .filter(absent)
            .map(|one| one.to_string())
            .collect();
        if absent.is_empty() {
            return;
        }
        let (noun, verb) = if absent.len() == 1 {
            ("cylinder", "is")
        } else {
            ("cylinders", "are")
        };
        let what = format!("{noun} {} {verb} {how}", absent.join(", "));
        problems.add(node.span(), &what, &self.wanted());
    }
}

/// The rows of an inline table in the order of the sheet.
fn rows<'n, 'a>(node: &'n Node<'a>) -> Vec<(&'n str, &'n Node<'a>)> {
    let mut rows: Vec<_> = node.get_ref().as_table().into_iter().flatten().collect();
    rows.sort_by_key(|(key, _)| key.span().start);
    rows.into_iter()
        .map(|(key, node)| (key.get_ref().as_ref(), node))
        .collect()
}

/// A lambda sensor is named by its channel; a misspelt one would leave its cylinders unheard without a word.
fn lambda_names(written: &Written<'_, '_>, problems: &mut Problems<'_>) {
    let node = written.get("fuel.lambda_at");
    for (key, _) in node
        .and_then(|node| node.get_ref().as_table())
        .into_iter()
        .flatten()
    {
        let number = key
            .get_ref()
            .strip_prefix("lambda_")
            .and_then(|number| number.parse::<u8>().ok());
        if key.get_ref() != "lambda" && number.is_none_or(|number| number < 2) {
            let what = format!("\"{}\" is no lambda channel", key.get_ref());
            problems.add(
                key.span(),
                &what,
                "lambda, or lambda_2 and so on for further sensors",
            );
        }
    }
}

/// Figures that only make sense in their order.
fn figures(sheet: &Sheet, written: &Written<'_, '_>, problems: &mut Problems<'_>) {
    let supply = &sheet.electrical;
    if let (Some(volts), Some(node)) = (supply.nominal_v, written.get("electrical.nominal_v"))
        && sheet.cells().is_none()
    {
        let what = format!("{volts} V is no nominal voltage");
        let wanted = "2 V for each lead-acid cell: 12, or 16 for eight cells; a lithium pack in their place counts \
                      as the supply it replaces";
        problems.add(node.span(), &what, wanted);
    }
    let engine = &sheet.engine;
    let pairs = [
        (
            engine.idle_rpm,
            engine.rev_limit_rpm,
            "engine.rev_limit_rpm",
            "the idle speed",
            "rpm",
        ),
        (
            supply.nominal_v,
            supply.regulator_v,
            "electrical.regulator_v",
            "the nominal voltage",
            "V",
        ),
        (
            supply.reset_v,
            supply.regulator_v,
            "electrical.regulator_v",
            "the voltage where the controller drops out",
            "V",
        ),
    ];
    for (low, high, name, of_low, unit) in pairs {
        if let (Some(low), Some(high), Some(node)) = (low, high, written.get(name))
            && high <= low
        {
            let what = format!("this is not above {of_low}, {low} {unit}");
            problems.add(
                node.span(),
                &what,
                &format!("more than {low} {unit}, or correct the other entry"),
            );
        }
    }
    let log = &sheet.log;
    if let (Some(decimal), true, Some(node)) = (
        log.decimal,
        log.decimal == log.delimiter,
        written.get("log.decimal"),
    ) {
        let what = format!("\"{decimal}\" cannot be both decimal mark and delimiter");
        problems.add(node.span(), &what, "two different marks");
    }
    if let (Some(line), true, Some(node)) = (
        log.names_line,
        log.names_line == log.units_line,
        written.get("log.units_line"),
    ) {
        let what = format!("line {line} cannot hold both the names and the units");
        let wanted =
            "two different lines; units in the names themselves need no line (units_line = 0)";
        problems.add(node.span(), &what, wanted);
    }
}
