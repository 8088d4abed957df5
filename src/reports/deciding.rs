//! Which limit decided, where it comes from, and the line of the build sheet that changes it.

use super::phrase::{clean, figure, name};
use crate::findings::{Figure, Finding};
use crate::units::{Reading, Unit};

/// A fact for each limit, or entry of the sheet, that decided, and one that says where to change them.
pub fn deciding(f: &Finding, reading: &Reading) -> Vec<(&'static str, String)> {
    let (mut facts, mut lines) = (Vec::new(), Vec::new());
    for decided in &f.decided_by {
        let Some((_, used)) = f.limits.iter().find(|l| l.0 == *decided) else {
            facts.push(("Limit", format!("{} of the build sheet", clean(decided))));
            lines.push(clean(decided));
            continue;
        };
        let value = figure(used.figure, reading);
        facts.push((
            "Limit",
            format!("{} {value} ({})", name(decided), clean(&used.from)),
        ));
        lines.push(sheet_line(&f.id, decided, used.figure, reading));
    }
    let words = match (lines.is_empty(), lines.iter().any(|l| l.starts_with('"'))) {
        (true, _) => return facts,
        (_, true) => "in the build sheet, under [limits]",
        (_, false) => "in the build sheet",
    };
    facts.push(("Change it", format!("{words}: {}", lines.join("; or "))));
    facts
}

/// The line of the sheet that sets a limit to that figure: in the reader's unit where a sheet reads it back, else a bare
/// number in the limit's own unit.
pub fn sheet_line(check: &str, limit: &str, figure: Figure, reading: &Reading) -> String {
    let key = format!("{}.{}", clean(check), clean(limit));
    let (value, symbol) = reading.convert(figure.value, figure.unit);
    let fits = |written: Unit| written == figure.unit || written.difference() == figure.unit;
    if !symbol.is_empty() && Unit::parse(&symbol).is_some_and(|w| fits(w.unit)) {
        return format!("\"{key}\" = \"{} {symbol}\"", short(value));
    }
    format!("\"{key}\" = {}", short(figure.value))
}

/// A number as a person writes it.
fn short(value: f64) -> String {
    let long = format!("{value:.5}");
    let short = long.trim_end_matches('0').trim_end_matches('.');
    match short {
        "" | "-" | "-0" => "0".to_string(),
        _ => short.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{LimitUsed, Verdict};
    use crate::units::PressureUnit;

    fn made(value: f64, unit: &str, from: &str) -> Finding {
        let mut f = Finding::new("egt-limit", Verdict::Warn, "Too hot.");
        let figure = Figure {
            value,
            unit: Unit::standard(unit),
        };
        let from = from.to_string();
        f.limits = vec![("highest".into(), LimitUsed { figure, from })];
        f.decided_by = vec!["highest".into()];
        f
    }

    #[test]
    fn a_limit_is_told_with_its_origin_and_the_line_that_changes_it() {
        let told = |f: &Finding| -> Vec<String> {
            let facts = deciding(f, &Reading::default()).into_iter();
            facts
                .map(|(name, words)| format!("{name}: {words}"))
                .collect()
        };
        let mut f = made(15.0, "V", "common practice");
        assert_eq!(
            told(&f),
            [
                "Limit: highest 15.00 V (common practice)",
                "Change it: in the build sheet, under [limits]: \"egt-limit.highest\" = \"15 V\"",
            ]
        );
        f.decided_by.push("electrical.regulator_v".into());
        assert_eq!(
            told(&f)[1..],
            [
                "Limit: electrical.regulator_v of the build sheet",
                "Change it: in the build sheet, under [limits]: \"egt-limit.highest\" = \"15 V\"; or electrical.regulator_v",
            ]
        );
        f.decided_by.remove(0);
        assert_eq!(
            told(&f)[1],
            "Change it: in the build sheet: electrical.regulator_v"
        );
        f.decided_by.clear();
        assert!(told(&f).is_empty());
    }

    #[test]
    fn the_line_is_in_the_unit_that_the_person_reads() {
        let reading = Reading {
            fahrenheit: true,
            pressure: PressureUnit::Psi,
            mph: false,
        };
        let line = |value, unit| {
            let unit = Unit::standard(unit);
            sheet_line("a-b", "c", Figure { value, unit }, &reading)
        };
        assert_eq!(line(900.0, "degC"), "\"a-b.c\" = \"1652 degF\"");
        assert_eq!(line(80.0, "degC difference"), "\"a-b.c\" = \"144 degF\"");
        assert_eq!(line(68.947_57, "kPa"), "\"a-b.c\" = \"10 psi\"");
        assert_eq!(line(3.0, ""), "\"a-b.c\" = 3");
        assert_eq!(line(0.35, "s"), "\"a-b.c\" = \"0.35 s\"");
        assert_eq!(line(0.0, "%"), "\"a-b.c\" = \"0 %\"");
    }
}
