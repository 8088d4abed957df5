//! What a check says of itself in `about()`.

use std::collections::BTreeMap;

use rhai::{Array, Dynamic, Map};

use super::slip::{Slip, quoted};
use crate::dsl::limits::Limit;
use crate::dsl::names;
use crate::dsl::slips::a_kind;
use crate::findings::{caution, known_cautions};
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
    fn parse(key: &str, text: &str) -> Result<Need, Slip> {
        let unknown = |name: &str, what: String| {
            let wanted = names::near(name, &[]).map_or_else(
                || "a standard name: scripts/LANGUAGE.md lists them, `plugread channels LOG` those of a log".to_string(),
                |near| format!("did you mean `{near}`?"),
            );
            Slip::new(what, wanted, &quoted(text)).inside(key)
        };
        if let Some(stem) = text.strip_suffix('*') {
            let known = dictionary::entry(&format!("{stem}1"))
                .or_else(|| dictionary::entry(&format!("{stem}a")));
            return known
                .map(|_| Need::Family(stem.to_string()))
                .ok_or_else(|| {
                    let family = dictionary::entries().iter().filter(|e| e.family);
                    let family: Vec<String> = family.map(|e| format!("{}_*", e.name)).collect();
                    let family: Vec<&str> = family.iter().map(String::as_str).collect();
                    let what = format!("{key} names the family `{text}`, which is not known");
                    Slip::not_among(what, text, &family, &quoted(text)).inside(key)
                });
        }
        let names: Vec<String> = text.split('|').map(|n| n.trim().to_string()).collect();
        match names.iter().find(|n| dictionary::entry(n).is_none()) {
            Some(name) => Err(unknown(
                name,
                format!("{key} names `{name}`, which is no standard name"),
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
    /// Reads the map that `about()` gave back.
    ///
    /// # Errors
    /// A key, a type or a name that is not known, with the text that says so.
    pub fn read(map: Map) -> Result<About, Slip> {
        let mut about = About::default();
        for (key, value) in map {
            match key.as_str() {
                "title" => {
                    about.title = value.into_string().map_err(|got| {
                        let what = format!("title is {}", a_kind(got));
                        Slip::new(what, "a text: title: \"Supply at key-on\"", "title")
                    })?;
                }
                "builds_on" => about.builds_on = texts("builds_on", value)?,
                "needs" => about.needs = needs("needs", value)?,
                "wants" => about.wants = needs("wants", value)?,
                "judges" => about.judges = Some(needs("judges", value)?),
                "cautions" => {
                    about.cautions = texts("cautions", value)?;
                    if let Some(unknown) = about.cautions.iter().find(|c| caution(c).is_none()) {
                        let what = format!("cautions names `{unknown}`, which is no caution");
                        let known: Vec<&str> = known_cautions().collect();
                        let slip = Slip::not_among(what, unknown, &known, &quoted(unknown));
                        return Err(slip.inside("cautions"));
                    }
                }
                "limits" => {
                    let wanted =
                        "limits: #{ most: limit(90.0, \"degC\", \"where it comes from\") }";
                    let list = value.try_cast_result::<Map>().map_err(|got| {
                        let what = format!("limits is {}", a_kind(got.type_name()));
                        Slip::new(what, wanted, "limits")
                    })?;
                    for (name, limit) in list {
                        let limit = limit.try_cast_result::<Limit>().map_err(|got| {
                            let what = format!("the limit `{name}` is {}", a_kind(got.type_name()));
                            Slip::new(what, wanted, &name).inside("limits")
                        })?;
                        about.limits.insert(name.to_string(), limit);
                    }
                }
                other => {
                    let what = format!("about() has `{other}`, which means nothing here");
                    return Err(Slip::not_among(what, other, &KEYS, other));
                }
            }
        }
        if about.title.trim().is_empty() {
            return Err(Slip::new(
                "about() gives no title",
                "title: \"Supply at key-on\"",
                "title",
            ));
        }
        Ok(about)
    }
    /// True where it looks at a channel of that name.
    pub fn looks_at(&self, name: &str) -> bool {
        self.needs.iter().chain(&self.wants).any(|n| n.takes(name))
    }
}

fn texts(key: &str, value: Dynamic) -> Result<Vec<String>, Slip> {
    let wrong = |got: &str| {
        let what = format!("{key} is {}", a_kind(got));
        Slip::new(what, format!("a list of texts: {key}: [\"...\"]"), key)
    };
    let list = value
        .try_cast_result::<Array>()
        .map_err(|got| wrong(got.type_name()))?;
    list.into_iter()
        .map(|d| {
            d.into_string()
                .map_err(|got| wrong(&format!("list with {}", a_kind(got))))
        })
        .collect()
}

fn needs(key: &str, value: Dynamic) -> Result<Vec<Need>, Slip> {
    let texts = texts(key, value)?;
    texts.iter().map(|t| Need::parse(key, t)).collect()
}
