//! What a case may hold, and what may stand behind each key.

use rhai::Map;

use super::cases::text;
use super::slip::{Slip, quoted};
use crate::dsl::slips::a_kind;
use crate::findings::NotRun;

const KEYS: [&str; 15] = [
    "name",
    "role",
    "want",
    "channels",
    "hz",
    "kind",
    "cylinders",
    "sheet",
    "gaps",
    "clock",
    "stop_now",
    "says",
    "unsaid",
    "next",
    "asks",
];

/// Roles that each check has to show at least once.
pub const ROLES: [&str; 4] = ["warns", "just short", "healthy", "missing"];

/// Verdicts that a case may want.
const WANT: [&str; 3] = ["pass", "warn", "not-run"];

/// Why a check may not have run.
const WHY_NOT: [NotRun; 4] = [
    NotRun::Missing,
    NotRun::NotFitted,
    NotRun::NoOccasion,
    NotRun::ScriptError,
];

/// Refuses what would otherwise mean nothing without a word: a key, a word or a value of a kind that a case cannot have.
pub fn checked(map: &Map) -> Result<(), Slip> {
    if let Some(unknown) = map.keys().find(|k| !KEYS.contains(&k.as_str())) {
        let what = format!("a case has no `{unknown}`");
        return Err(Slip::not_among(what, unknown, &KEYS, unknown));
    }
    for (key, value) in map {
        let fits = match key.as_str() {
            "channels" => value.is_map(),
            "hz" => {
                value.as_float().is_ok_and(|hz| hz > 0.0) || value.as_int().is_ok_and(|hz| hz > 0)
            }
            "cylinders" | "gaps" => value.is_array(),
            "stop_now" => value.is_bool(),
            _ => value.is_string(),
        };
        if !fits {
            let wanted = match key.as_str() {
                "channels" => "a map: channels: #{ rpm: \"0 for 5, 3000 for 60\" }",
                "hz" => "rows a second, over 0: hz: 20",
                "cylinders" => "a list of numbers: cylinders: [3]",
                "gaps" => "a list of times: gaps: [[10, 12]]",
                "stop_now" => "true or false",
                _ => "a text between two \"",
            };
            let what = format!("`{key}` of a case is {}", a_kind(value.type_name()));
            return Err(Slip::new(what, wanted, key));
        }
    }
    let of_words = |key: &str, known: &[&str]| match text(map, key) {
        Some(word) if !known.contains(&word.as_str()) => {
            let what = format!("`{word}` cannot stand behind `{key}` of a case");
            Err(Slip::not_among(what, &word, known, &quoted(&word)).inside(key))
        }
        _ => Ok(()),
    };
    let why_not = WHY_NOT.map(NotRun::word);
    match text(map, "want") {
        None => {
            let wanted = format!("want: one of {}", WANT.join(", "));
            return Err(Slip::new(
                "this case does not say what it wants",
                wanted,
                "",
            ));
        }
        Some(want) if why_not.contains(&want.as_str()) => {
            let what = format!("`{want}` is no verdict, but why there is none");
            let wanted = format!("want: \"not-run\", kind: \"{want}\"");
            return Err(Slip::new(what, wanted, &quoted(&want)).inside("want"));
        }
        Some(_) => of_words("want", &WANT)?,
    }
    of_words("role", &ROLES)?;
    of_words("kind", &why_not)
}
