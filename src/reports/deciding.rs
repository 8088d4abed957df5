//! Which limit decided, where it comes from, and the line of the build sheet that changes it.

use super::phrase::{clean, figure, name};
use crate::findings::{Figure, Finding};
use crate::units::{Reading, Unit};

/// A fact for each limit, or entry of the sheet, that decided.
pub fn deciding(f: &Finding, reading: &Reading) -> Vec<(&'static str, String)> {
    let words = f.decided_by.iter().map(|decided| {
        let Some((_, used)) = f.limits.iter().find(|l| l.0 == *decided) else {
            return match decided.split_once('.') {
                Some((section, key)) => {
                    format!(
                        "{} of the build sheet, under [{}]",
                        clean(key),
                        clean(section)
                    )
                }
                None => clean(decided),
            };
        };
        let value = format!("{} {}", name(decided), figure(used.figure, reading));
        if used.from == "build sheet" {
            let line = format!("{}.{}", clean(&f.id), clean(decided));
            return format!("{value}, by the build sheet: \"{line}\" under [limits]");
        }
        format!(
            "{value} ({}). Another goes into the build sheet under [limits]: {}",
            clean(&used.from),
            sheet_line(&f.id, decided, used.figure, reading)
        )
    });
    words.map(|w| ("Limit", w)).collect()
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
        let told = deciding(&made(15.0, "V", "common practice"), &Reading::default());
        assert_eq!(
            told,
            [(
                "Limit",
                "highest 15.00 V (common practice). Another goes into the build sheet under [limits]: \
                 \"egt-limit.highest\" = \"15 V\""
                    .to_string()
            )]
        );
        let told = deciding(&made(15.0, "V", "build sheet"), &Reading::default());
        assert_eq!(
            told[0].1,
            "highest 15.00 V, by the build sheet: \"egt-limit.highest\" under [limits]"
        );
        let mut f = made(15.0, "V", "common practice");
        f.decided_by = vec!["electrical.regulator_v".into()];
        assert_eq!(
            deciding(&f, &Reading::default())[0].1,
            "regulator_v of the build sheet, under [electrical]"
        );
        f.decided_by.clear();
        assert!(deciding(&f, &Reading::default()).is_empty());
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
