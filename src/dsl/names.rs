//! Names of channels in the hands of a script: which are known, and which was meant by one that is not.

use super::run::FAMILIES;
use crate::recording::dictionary;
use crate::sheet::nearest;

/// True for a standard name, a member of a family, or a family, be it logged or not.
pub fn is_known(name: &str) -> bool {
    dictionary::entry(name).is_some() || FAMILIES.iter().any(|(family, _)| *family == name)
}

/// The name that was probably meant: of those that the log has, else of all standard names, else what loggers call so.
pub fn near(name: &str, logged: &[&str]) -> Option<String> {
    let plain: String = name
        .trim()
        .trim_end_matches(['*', '_'])
        .replace(['-', ' '], "_");
    if is_known(&plain) && plain != name {
        return Some(plain);
    }
    if let Some(near) = nearest(&plain, logged.iter().copied()) {
        return Some(near.to_string());
    }
    let mut standard: Vec<String> = FAMILIES.iter().map(|f| f.0.to_string()).collect();
    let digits = plain.trim_start_matches(|c: char| !c.is_ascii_digit());
    for entry in dictionary::entries() {
        if !entry.family {
            standard.push(entry.name.clone());
        } else if let Ok(position) = digits.parse() {
            standard.push(entry.member(position));
        }
    }
    if let Some(near) = nearest(&plain, standard.iter().map(String::as_str)) {
        return Some(near.to_string());
    }
    let words = plain.replace('_', " ").to_lowercase();
    let called = dictionary::entries()
        .iter()
        .find(|e| e.words.contains(&words))?;
    Some(if called.family {
        called.member(1)
    } else {
        called.name.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_were_meant_are_found() {
        let found = |name: &str| near(name, &["rpm", "egt_1"]).unwrap_or_default();
        for (asked, meant) in [
            ("egtt1", "egt_1"),
            ("egtt_2", "egt_1"),
            ("collant-temp", "coolant_temp"),
            ("coolant-temp", "coolant_temp"),
            ("egt_*", "egt"),
            ("RPM", "rpm"),
            ("knock_snsor_a", "knock_sensors"),
            ("cht7", "cht_7"),
            ("water_temp", "coolant_temp"),
            ("throttle", "tps"),
            ("nothing_at_all", ""),
        ] {
            assert_eq!(found(asked), meant, "{asked}");
        }
        assert!(is_known("egt") && is_known("egt_12") && is_known("knock_sensors"));
        assert!(!is_known("egt_x") && !is_known("collant_temp"));
    }
}
