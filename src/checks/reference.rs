//! What a check is about, in words: for the terminal and for the page of all checks.

use std::fmt::Write as _;

use super::about::Need;
use super::catalog::{Catalog, Check};

/// The facts of a check, ready to be shown.
pub struct Facts {
    /// Facts by name, in order.
    pub lines: Vec<(&'static str, String)>,
    /// Its limits: name, value, unit, and where the value comes from.
    pub limits: Vec<(String, f64, String, String)>,
}

/// What is to be told of a check beside its title and why it matters.
pub fn facts(check: &Check, catalog: &Catalog) -> Facts {
    let words = |list: &[String]| match list {
        [] => "nothing".to_string(),
        list => list.join(", "),
    };
    let needs = |list: &[Need]| words(&list.iter().map(Need::words).collect::<Vec<_>>());
    let about = &check.about;
    let mut lines = vec![("Needs", needs(&about.needs))];
    if !about.wants.is_empty() {
        lines.push(("Looks also at", needs(&about.wants)));
    }
    lines.push(("Builds on", words(&about.builds_on)));
    let below = catalog.graph().ancestors(&check.script.id);
    lines.push(("Rests in the end on", words(&below)));
    let limits = about.limits.iter().map(|(name, limit)| {
        let quantity = limit.quantity;
        (
            name.clone(),
            quantity.value,
            quantity.unit.key(),
            limit.from.clone(),
        )
    });
    Facts {
        lines,
        limits: limits.collect(),
    }
}

const HEAD: &str = "\
# The checks

Made from the scripts themselves (`cargo test` says so when it is out of date); `plugread checks ID` shows the same in the
terminal. Limits are starting points: a build sheet changes each under `[limits]`, such as `\"egt-spread.spread\" = 90`.
";

/// All checks as a page in Markdown, in the order of a review.
pub fn page(catalog: &Catalog) -> String {
    let mut page = String::from(HEAD);
    let mut system = "";
    for check in catalog.checks() {
        if check.script.system != system {
            system = &check.script.system;
            let _ = writeln!(page, "\n## {system}");
        }
        one(&mut page, check, catalog);
    }
    page
}

fn one(page: &mut String, check: &Check, catalog: &Catalog) {
    let facts = facts(check, catalog);
    let id = &check.script.id;
    let _ = writeln!(
        page,
        "\n### {id}: {}\n\n{}\n",
        check.about.title,
        cell(&check.why)
    );
    for (name, words) in &facts.lines {
        let _ = writeln!(page, "- {name}: {}", cell(words));
    }
    let _ = writeln!(page, "- Script: [{0}](../{0})", check.script.place);
    if facts.limits.is_empty() {
        return;
    }
    let _ = writeln!(
        page,
        "\n| limit | value | where it comes from |\n| --- | ---: | --- |"
    );
    for (name, value, unit, from) in &facts.limits {
        let value = format!("{value} {unit}");
        let _ = writeln!(page, "| {name} | {} | {} |", value.trim(), cell(from));
    }
}

/// Words that stay words between the bars of a table and outside of them.
fn cell(words: &str) -> String {
    words
        .replace('|', "\\|")
        .replace('<', "\\<")
        .replace('*', "\\*")
}
