//! `plugread checks`: list, explain, or try on their own cases.

use std::fmt::Write as _;

use super::args::ChecksArgs;
use super::{End, Refusal, new_check, out};
use crate::checks::{Catalog, Check, cases, explain_cases, notice, reference};

pub fn run(args: &ChecksArgs) -> Result<End, Refusal> {
    if args.id.as_deref() == Some("new") {
        new_check::run(args.one.as_deref(), args.scripts.as_deref())?;
        return Ok(End::Quiet);
    }
    let catalog = Catalog::load(args.scripts.as_deref())?;
    for (_, error) in catalog.broken() {
        out::complain(&error.shown());
    }
    let mut text = String::new();
    let mut end = End::Quiet;
    match args.id.as_deref() {
        None => list(&catalog, &mut text),
        Some("try") => end = try_cases(&catalog, args.one.as_deref(), &mut text)?,
        Some(id) => {
            if let Some(extra) = &args.one {
                return Err(Refusal(format!(
                    "one check at a time: `{extra}` is one too many"
                )));
            }
            explain(find(&catalog, id)?, &catalog, &mut text);
        }
    }
    out::write(None, text.as_bytes())?;
    Ok(end)
}

fn find<'a>(catalog: &'a Catalog, id: &str) -> Result<&'a Check, Refusal> {
    catalog.get(id).ok_or_else(|| {
        if catalog.broken().iter().any(|(script, _)| script.id == id) {
            return Refusal(format!("`{id}` cannot be used until its script is mended"));
        }
        let words = if catalog.graph().knows(id) {
            "is known but has no script yet"
        } else {
            "is no check"
        };
        Refusal(format!(
            "`{id}` {words}; `plugread checks` lists those there are"
        ))
    })
}

fn list(catalog: &Catalog, text: &mut String) {
    let wide = catalog
        .checks()
        .iter()
        .map(|c| c.script.id.len())
        .max()
        .unwrap_or(0);
    let mut system = "";
    for check in catalog.checks() {
        if check.script.system != system {
            system = &check.script.system;
            let _ = writeln!(text, "{system}");
        }
        let _ = writeln!(text, "  {:wide$}  {}", check.script.id, check.about.title);
    }
}

/// Columns that a line takes, what stands in front of it left out.
const WIDTH: usize = 76;

fn fill(text: &str, indent: &str) -> String {
    let options = textwrap::Options::new(80)
        .initial_indent(indent)
        .subsequent_indent(indent);
    textwrap::fill(text, options)
}

fn explain(check: &Check, catalog: &Catalog, text: &mut String) {
    let _ = writeln!(text, "{}: {}", check.script.id, check.about.title);
    if !check.why.is_empty() {
        let _ = writeln!(text, "\n{}", fill(&check.why, "  "));
    }
    let facts = reference::facts(check, catalog);
    text.push('\n');
    for (name, words) in &facts.lines {
        let _ = writeln!(text, "{}", fill(&format!("{name}: {words}"), "  "));
    }
    if !facts.limits.is_empty() {
        let _ = writeln!(
            text,
            "\n  Limits, each one to be changed in the build sheet under [limits]:"
        );
    }
    for (name, value, unit, from) in &facts.limits {
        let line = format!(
            "\"{}.{name}\" = {value}   # {unit}; {from}",
            check.script.id
        );
        let _ = writeln!(text, "{}", fill(&line, "    "));
    }
    let _ = writeln!(text, "\n  Script: {}", check.script.place);
}

fn try_cases(catalog: &Catalog, one: Option<&str>, text: &mut String) -> Result<End, Refusal> {
    let chosen: Vec<&Check> = match one {
        Some(id) if catalog.explanations().iter().any(|s| s.id == id) => Vec::new(),
        Some(id) => vec![find(catalog, id)?],
        None => catalog.checks().iter().collect(),
    };
    let (mut tried, mut wrong, mut unnoticed, mut untold) = (0, catalog.broken().len(), 0, 0);
    for check in chosen {
        let outcomes = match cases::run(catalog, check) {
            Ok(outcomes) => outcomes,
            Err(error) => {
                wrong += 1;
                let _ = writeln!(text, "{}", error.shown());
                continue;
            }
        };
        if outcomes.is_empty() {
            let _ = writeln!(text, "{}: no cases", check.script.id);
        }
        let (failed, outcomes): (Vec<_>, Vec<_>) = outcomes
            .into_iter()
            .partition(|outcome| outcome.error.is_some());
        tried += failed.len();
        wrong += failed.len();
        stopped(&failed, failed.len() + outcomes.len(), text);
        // What no case reaches says nothing of the limits.
        let reached = !outcomes.is_empty();
        for outcome in outcomes {
            tried += 1;
            let finding = outcome.finding.as_ref();
            let said = finding.map_or(String::new(), |f| {
                format!(" ({}: {})", f.verdict.word(), f.reason.standard())
            });
            if outcome.wrong.is_empty() {
                if one.is_some() {
                    let _ = writeln!(text, "as wanted: {}: {}{said}", outcome.check, outcome.name);
                }
                continue;
            }
            wrong += 1;
            let _ = writeln!(text, "not as wanted: {}: {}", outcome.check, outcome.name);
            for line in outcome
                .wrong
                .iter()
                .flat_map(|differs| differs.lines(WIDTH))
            {
                let _ = writeln!(text, "    {line}");
            }
            if outcome.wrong.iter().all(|differs| differs.of != "reason")
                && let Some(finding) = finding
            {
                let reason = finding.reason.standard();
                let _ = writeln!(text, "{}", fill(&format!("it said: {reason}"), "    "));
            }
            if one.is_some() {
                let _ = writeln!(
                    text,
                    "{}",
                    fill(&format!("phases: {}", outcome.phases), "    ")
                );
            }
        }
        if !reached {
            continue;
        }
        for said in notice::deciding(catalog, check)? {
            untold += usize::from(!said.told);
            if !said.told {
                let _ = writeln!(text, "{}", not_told(check, &said));
            }
        }
        for limit in notice::limits(catalog, check)? {
            unnoticed += usize::from(!limit.matters());
            if !limit.matters() || (one.is_some() && !limit.matters_nearby()) {
                let _ = writeln!(text, "{}", no_notice(check, &limit));
            }
        }
    }
    for script in catalog
        .explanations()
        .iter()
        .filter(|s| one.is_none_or(|id| id == s.id))
    {
        let outcomes = explain_cases::run(catalog, script).unwrap_or_else(|error| {
            wrong += 1;
            let _ = writeln!(text, "{}", error.shown());
            Vec::new()
        });
        for outcome in outcomes {
            tried += 1;
            if outcome.wrong.is_empty() {
                if one.is_some() {
                    let _ = writeln!(text, "as wanted: {}: {}", script.id, outcome.name);
                }
                continue;
            }
            wrong += 1;
            let _ = writeln!(text, "not as wanted: {}: {}", script.id, outcome.name);
            for line in outcome.wrong {
                let _ = writeln!(text, "    {line}");
            }
        }
    }
    if unnoticed > 0 {
        let _ = writeln!(
            text,
            "{unnoticed} limits that no case notices: add a case close to each, on either side"
        );
    }
    if untold > 0 {
        let _ = writeln!(
            text,
            "{untold} warnings that do not say which limit decided: give them .decided_by([..])"
        );
    }
    let _ = writeln!(text, "{tried} cases tried, {wrong} not as wanted");
    Ok(if wrong > 0 { End::Warned } else { End::Quiet })
}

/// Each thing that is wrong once, with the cases that it stopped.
fn stopped(failed: &[cases::Outcome], all: usize, text: &mut String) {
    let mut told: Vec<(String, Vec<&str>)> = Vec::new();
    for outcome in failed {
        let shown = outcome
            .error
            .as_ref()
            .map_or_else(String::new, |error| error.shown());
        match told.iter_mut().find(|(other, _)| *other == shown) {
            Some((_, names)) => names.push(&outcome.name),
            None => told.push((shown, vec![&outcome.name])),
        }
    }
    for (shown, names) in told {
        let _ = writeln!(text, "{shown}");
        let all_of_them = if names.len() == all && all > 1 {
            format!("all {all} cases")
        } else {
            names.join("; ")
        };
        let _ = writeln!(
            text,
            "{}",
            fill(&format!("not tried for this: {all_of_them}"), "  ")
        );
    }
}

fn not_told(check: &Check, said: &notice::Deciding) -> String {
    let named = if said.idle.is_empty() {
        "does not say which limit decided".to_string()
    } else {
        let idle = said.idle.join(", ");
        format!("names {idle} as deciding, which changes nothing")
    };
    let turn = match said.turn_it.as_slice() {
        [] => "no limit turns it".to_string(),
        list => format!("moved, these turn it: {}", list.join(", ")),
    };
    format!("{}: {}: {named}; {turn}", check.script.id, said.case)
}

fn no_notice(check: &Check, limit: &notice::Noticed) -> String {
    let unit = check
        .about
        .limits
        .get(&limit.limit)
        .map_or(String::new(), |l| l.quantity.unit.key());
    let name = format!(
        "{}.{} = {} {unit}",
        check.script.id, limit.limit, limit.value
    );
    match limit.by.first() {
        Some((value, case)) => {
            format!("noticed only far off: {name}: at {value}, by the case: {case}")
        }
        None => format!("unnoticed: {name}: halved, doubled, 0 or far off, no case changes"),
    }
}
