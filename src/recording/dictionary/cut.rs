//! Where the name of a heading ends and its unit begins.

use super::said::Said;

/// The ways in which a heading may be cut into name and unit, likeliest first.
pub(super) fn readings(name: &str, said: &Said) -> Vec<(String, Said)> {
    let mut out = Vec::new();
    let mut name = name.trim().to_string();
    let mut said = said.clone();
    if let Said::Unknown(text) = &said {
        // A bracket that is no unit belongs to the name: "EGT (Cyl 3)".
        out.push((format!("{name} {text}"), Said::Nothing));
    } else if let Some((outside, inside)) = bracket(&name) {
        let within = Said::read(Some(&inside));
        if matches!(within, Said::Unknown(_)) {
            out.push((format!("{outside} {inside}"), said.clone()));
        }
        if said == Said::Nothing {
            said = within;
            name = outside;
        }
    }
    out.push((name.clone(), said.clone()));
    for (stem, tail) in tails(&name) {
        let glued = Said::read(Some(tail));
        let agrees = match (&said, &glued) {
            // "Starter Count": a count behind a name is a word of it, not its unit.
            (Said::Nothing, Said::Known(unit, _)) => !unit.unit.is_none(),
            (Said::Nothing, Said::AirFuel) => true,
            (Said::Known(a, _), Said::Known(b, _)) => a.unit == b.unit,
            _ => false,
        };
        if agrees {
            let keep = if said == Said::Nothing {
                glued
            } else {
                said.clone()
            };
            out.push((stem.to_string(), keep));
        }
    }
    out
}

/// `("EGT", "Cyl 3")` of `EGT (Cyl 3)`.
fn bracket(name: &str) -> Option<(String, String)> {
    let open = name.find(['(', '[', '{', '<'])?;
    let close = name.rfind([')', ']', '}', '>']).filter(|c| *c > open)?;
    let inside = name[open + 1..close].trim().to_string();
    let outside = format!("{} {}", name[..open].trim(), name[close + 1..].trim());
    Some((outside.trim().to_string(), inside))
}

/// Stems with the unit that may be glued behind them: `EGT1_C`, `Speed km/h`, `Oil Temp deg C`, `TPS%`, `MAPkPa`, `RPM/rpm`.
fn tails(name: &str) -> Vec<(&str, &str)> {
    let mut out = Vec::new();
    let is_gap = |c: char| c.is_whitespace() || "_.,-|:".contains(c);
    let gaps: Vec<usize> = name
        .rmatch_indices(is_gap)
        .map(|(at, _)| at)
        .take(2)
        .collect();
    for at in gaps {
        let (stem, tail) = name.split_at(at);
        out.push((stem, tail.trim_start_matches(is_gap)));
    }
    for tail in [
        "\u{b0}C", "\u{b0}F", "%", "kPa", "hPa", "degC", "degF", "km/h", "PSI", "Psi", "Bar", "BAR",
    ] {
        if let Some(stem) = name.strip_suffix(tail) {
            out.push((stem, tail));
        }
    }
    if let Some(stem) = name.strip_prefix('%') {
        out.push((stem, "%"));
    }
    // A capital or a bare letter behind a number: OilTempC, EGT3F.
    if let Some((at, last)) = name.char_indices().next_back()
        && matches!(last, 'C' | 'F' | 'V')
        && name[..at].ends_with(|c: char| c.is_lowercase() || c.is_ascii_digit())
    {
        out.push(name.split_at(at));
    }
    // Quantity by unit, as tables head their columns.
    out.extend(name.split_once('/').map(|(stem, tail)| (stem, tail.trim())));
    out.retain(|(stem, tail)| !stem.is_empty() && !tail.is_empty());
    out
}
