//! What is said of a unit that is not known, or of another kind than the one that is wanted.

use crate::sheet::nearest;
use crate::units::{Unit, kinds};

/// The units of the same quantity, in a sentence: `temperature: degC, degF, K`.
fn of_kind(unit: Unit) -> Option<String> {
    let kind = kinds()
        .into_iter()
        .find(|kind| Unit::standard(kind.standard).difference() == unit.difference())?;
    let rise = if Unit::standard(kind.standard).is_point() {
        ", each also with ` difference` behind it"
    } else {
        ""
    };
    Some(format!("{}: {}{rise}", kind.name, kind.units.join(", ")))
}

/// The known unit that was probably meant.
fn near(text: &str) -> Option<&'static str> {
    let all = kinds();
    let names = all.iter().flat_map(|k| k.units.iter().chain(&k.others));
    // Of one or two letters any other would be near.
    let names = names.copied().filter(|name| name.len() > 2);
    // Before the slips: what is right but for blanks or a dot.
    let bare: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && *c != '.')
        .collect();
    let bare = bare.replace("degrees", "deg").replace("degree", "deg");
    let known = kinds().into_iter().find_map(|k| {
        let mut names = k.units.into_iter().chain(k.others);
        names.find(|name| !name.is_empty() && name.eq_ignore_ascii_case(&bare))
    });
    known.or_else(|| nearest(&bare, names))
}

/// Of a text that is no unit: what is wrong, and behind a line end what would be right.
pub fn unknown(text: &str) -> String {
    let what = format!("`{text}` is no unit that is known here");
    if let Some(near) = near(text) {
        let kind = of_kind(Unit::standard(near)).unwrap_or_default();
        return format!("{what}\ndid you mean `{near}`? Units of {kind}");
    }
    let standard: Vec<&str> = kinds()
        .iter()
        .map(|k| k.standard)
        .filter(|s| !s.is_empty())
        .collect();
    format!(
        "{what}\na unit such as {}, or one over another such as V/s; scripts/LANGUAGE.md lists them all",
        standard.join(", ")
    )
}

/// Of a quantity that is asked for in a unit that is not its own.
pub fn unfit(unit: Unit, asked: &str) -> String {
    let wanted = match of_kind(unit) {
        Some(kind) => format!("a unit of {kind}"),
        None => format!("a unit of the same kind as {}", unit.key()),
    };
    match Unit::parse(asked) {
        None if !asked.is_empty() => match near(asked) {
            Some(near) => format!(
                "`{asked}` is no unit that is known here\ndid you mean `{near}`? Wanted is {wanted}"
            ),
            None => format!("`{asked}` is no unit that is known here\n{wanted}"),
        },
        _ if unit.is_none() => {
            format!("a bare number cannot be told in `{asked}`\nno unit: it has none")
        }
        _ => format!("{} cannot be told in `{asked}`\n{wanted}", unit.key()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_units_and_those_of_their_kind_are_named() {
        let said = unknown("degg");
        assert!(said.contains("did you mean `deg"), "{said}");
        let said = unknown("kPaa");
        assert!(
            said.contains("did you mean `kPa`? Units of pressure: kPa, "),
            "{said}"
        );
        let said = unknown("deg. C");
        assert!(
            said.contains("did you mean `degC`? Units of temperature: degC, degF, K"),
            "{said}"
        );
        let said = unknown("degreesC");
        assert!(said.contains("did you mean `degC`?"), "{said}");
        let said = unknown("furlong");
        assert!(said.contains("such as s, rpm, %, kPa, degC"), "{said}");
    }

    #[test]
    fn a_quantity_names_the_units_of_its_kind() {
        let said = unfit(Unit::standard("rpm"), "V");
        assert_eq!(
            said,
            "rpm cannot be told in `V`\na unit of engine speed: rpm, krpm"
        );
        let said = unfit(Unit::standard("V/s"), "V");
        assert!(said.ends_with("of the same kind as V/s"), "{said}");
    }
}
