//! What a check says of itself in `about()`.

use std::collections::BTreeMap;

use rhai::{Array, Dynamic, Map};

use crate::dsl::limits::Limit;
use crate::findings::caution;
use crate::recording::dictionary;

/// A channel that a check needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Need {
    /// One channel, or any of several: `rpm`, `map|tps`.
    AnyOf(Vec<String>),
    /// At least one member of a numbered family: `egt_*`.
    Family(String),
}

impl Need {
    fn parse(text: &str) -> Result<Need, String> {
        if let Some(stem) = text.strip_suffix('*') {
            let known = dictionary::entry(&format!("{stem}1"))
                .or_else(|| dictionary::entry(&format!("{stem}a")));
            return known
                .map(|_| Need::Family(stem.to_string()))
                .ok_or_else(|| {
                    format!("needs names the family `{text}`, which the dictionary does not know")
                });
        }
        let names: Vec<String> = text.split('|').map(|n| n.trim().to_string()).collect();
        match names.iter().find(|n| dictionary::entry(n).is_none()) {
            Some(unknown) => Err(format!(
                "needs names `{unknown}`, which is no standard name"
            )),
            None => Ok(Need::AnyOf(names)),
        }
    }
    /// True where a channel of that name answers to it.
    pub fn takes(&self, name: &str) -> bool {
        match self {
            Need::AnyOf(names) => names.iter().any(|n| n == name),
            Need::Family(stem) => name.strip_prefix(stem.as_str()).is_some_and(|n| {
                !n.is_empty() && (n.len() == 1 || n.bytes().all(|b| b.is_ascii_digit()))
            }),
        }
    }
    /// How a question names it.
    pub fn words(&self) -> String {
        match self {
            Need::AnyOf(names) => names
                .iter()
                .map(|n| format!("`{n}`"))
                .collect::<Vec<_>>()
                .join(" or "),
            Need::Family(stem) => format!("`{stem}1` and its neighbours"),
        }
    }
    /// What the dictionary says of it.
    pub fn meaning(&self) -> Option<&'static str> {
        let name = match self {
            Need::AnyOf(names) => names.first()?.clone(),
            Need::Family(stem) => format!("{stem}1"),
        };
        dictionary::entry(&name).map(|e| e.about.as_str())
    }
}

/// The facts of a check.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// Title.
    pub title: String,
    /// Checks on which its evidence rests.
    pub builds_on: Vec<String>,
    /// Without one of these it does not run.
    pub needs: Vec<Need>,
    /// It looks at these where they are there.
    pub wants: Vec<Need>,
    /// Limits by name.
    pub limits: BTreeMap<String, Limit>,
    /// Cautions shown with a warning.
    pub cautions: Vec<String>,
    /// Channels that it judges; all it needs, but for `time` and `rpm`, where it does not say.
    pub judges: Option<Vec<Need>>,
}

const KEYS: [&str; 7] = [
    "title",
    "builds_on",
    "needs",
    "wants",
    "limits",
    "cautions",
    "judges",
];

impl About {
    /// Reads the map that `about()` gave back. The error is a sentence.
    pub fn read(map: Map) -> Result<About, String> {
        let mut about = About::default();
        for (key, value) in map {
            match key.as_str() {
                "title" => {
                    about.title = value
                        .into_string()
                        .map_err(|_| "title wants text".to_string())?
                }
                "builds_on" => about.builds_on = texts("builds_on", value)?,
                "needs" => about.needs = needs("needs", value)?,
                "wants" => about.wants = needs("wants", value)?,
                "judges" => about.judges = Some(needs("judges", value)?),
                "cautions" => {
                    about.cautions = texts("cautions", value)?;
                    if let Some(unknown) = about.cautions.iter().find(|c| caution(c).is_none()) {
                        return Err(format!("cautions names `{unknown}`, which is no caution"));
                    }
                }
                "limits" => {
                    let list = value
                        .try_cast::<Map>()
                        .ok_or("limits wants a map of limit(..)")?;
                    for (name, limit) in list {
                        let limit = limit.try_cast::<Limit>().ok_or_else(|| {
                            format!("limit `{name}` wants limit(value, unit, origin)")
                        })?;
                        about.limits.insert(name.to_string(), limit);
                    }
                }
                other => {
                    return Err(format!(
                        "about() has `{other}`, which means nothing here; it may have {}",
                        KEYS.join(", ")
                    ));
                }
            }
        }
        if about.title.trim().is_empty() {
            return Err("about() wants a title".to_string());
        }
        Ok(about)
    }
    /// True where it looks at a channel of that name.
    pub fn looks_at(&self, name: &str) -> bool {
        self.needs.iter().chain(&self.wants).any(|n| n.takes(name))
    }
}

fn texts(key: &str, value: Dynamic) -> Result<Vec<String>, String> {
    let wrong = || format!("{key} wants a list of texts");
    let list = value.try_cast::<Array>().ok_or_else(wrong)?;
    list.into_iter()
        .map(|d| d.into_string().map_err(|_| wrong()))
        .collect()
}

fn needs(key: &str, value: Dynamic) -> Result<Vec<Need>, String> {
    texts(key, value)?.iter().map(|t| Need::parse(t)).collect()
}
