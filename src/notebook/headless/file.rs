//! A notebook file, nbformat 4.5. What is not ours to change is kept as it stands: metadata, ids, sources, attachments.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::ser::PrettyFormatter;
use serde_json::{Map, Serializer, Value, json};

/// Why a file is no notebook that can be run here: one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Invalid(String);

fn invalid<T>(words: impl Into<String>) -> Result<T, Invalid> {
    Err(Invalid(words.into()))
}

/// A notebook.
#[derive(Clone, Debug, PartialEq)]
pub struct Notebook(Map<String, Value>);

/// What a cell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// To be run.
    Code,
    /// To be read.
    Markdown,
    /// For other programs.
    Raw,
}

/// One cell, as far as running and laying out need it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// What it is.
    pub kind: Kind,
    /// Its id.
    pub id: String,
    /// Its text.
    pub source: String,
    /// Words that notebook programs put beside a cell: `skip-execution`, `raises-exception`.
    pub tags: Vec<String>,
}

impl Notebook {
    /// Reads a notebook from its text.
    ///
    /// # Errors
    /// It is no JSON, no notebook, of another nbformat than 4.5, or not valid.
    pub fn parse(text: &str) -> Result<Notebook, Invalid> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let value: Value = match serde_json::from_str(text) {
            Ok(value) => value,
            Err(e) => {
                let (line, column) = (e.line(), e.column());
                return invalid(format!(
                    "this is no notebook: line {line}, column {column} is not JSON; is it a .ipynb file, and whole?"
                ));
            }
        };
        let Value::Object(map) = value else {
            return invalid("this is no notebook: it is JSON, but not an object with `cells`");
        };
        let notebook = Notebook(map);
        notebook.check_format()?;
        notebook.check_shape()?;
        notebook.check_language()?;
        Ok(notebook)
    }

    fn check_format(&self) -> Result<(), Invalid> {
        let number = |name: &str| self.0.get(name).and_then(Value::as_i64);
        let Some(major) = number("nbformat") else {
            return invalid("this is no notebook: it does not say its `nbformat`");
        };
        let Some(minor) = number("nbformat_minor") else {
            return invalid("this is no notebook: it does not say its `nbformat_minor`");
        };
        if (major, minor) == (4, 5) {
            return Ok(());
        }
        let advice = if (major, minor) < (4, 5) {
            "open and save it in a notebook program of today, which brings it to 4.5"
        } else {
            "it is newer than this program; save it as 4.5"
        };
        invalid(format!(
            "the notebook is nbformat {major}.{minor}, and 4.5 is read here: {advice}"
        ))
    }

    /// The rules of the official schema for 4.5, as far as they concern what is read and kept.
    fn check_shape(&self) -> Result<(), Invalid> {
        const TOP: [&str; 4] = ["cells", "metadata", "nbformat", "nbformat_minor"];
        if let Some(other) = self.0.keys().find(|k| !TOP.contains(&k.as_str())) {
            return invalid(format!(
                "the notebook is not valid: nbformat 4.5 knows no `{other}` beside `cells`"
            ));
        }
        if !self.0.get("metadata").is_some_and(Value::is_object) {
            return invalid("the notebook is not valid: its `metadata` is missing or no object");
        }
        let Some(Value::Array(cells)) = self.0.get("cells") else {
            return invalid("the notebook is not valid: its `cells` are missing or no list");
        };
        let mut ids = BTreeSet::new();
        for (index, cell) in cells.iter().enumerate() {
            let id = check_cell(cell)
                .map_err(|what| Invalid(format!("cell {} is not valid: {what}", index + 1)))?;
            if !ids.insert(id.clone()) {
                return invalid(format!(
                    "cell {} is not valid: another cell has the id `{id}` already; each needs its own",
                    index + 1
                ));
            }
        }
        Ok(())
    }

    /// A notebook that says it is for another kernel is not run as if it were for this one.
    fn check_language(&self) -> Result<(), Invalid> {
        let spec = &self.0["metadata"]["kernelspec"];
        match spec["name"].as_str() {
            Some(name) if name != crate::notebook::install::NAME => invalid(format!(
                "the notebook is for the kernel `{name}`, and only those for `{}` run here: choose that kernel in the notebook program and save it",
                crate::notebook::install::NAME
            )),
            _ => Ok(()),
        }
    }

    /// Its cells in order.
    pub fn cells(&self) -> Vec<Cell> {
        self.raw().iter().map(cell_of).collect()
    }

    fn raw(&self) -> &[Value] {
        let cells = self.0.get("cells").and_then(Value::as_array);
        cells.map(Vec::as_slice).unwrap_or_default()
    }

    fn field(&mut self, index: usize, name: &str) -> Option<&mut Value> {
        self.0
            .get_mut("cells")?
            .get_mut(index)?
            .as_object_mut()?
            .get_mut(name)
    }

    /// Takes away all outputs and counts, so that nothing of an earlier run is taken for one of this.
    pub fn empty(&mut self) {
        for index in 0..self.raw().len() {
            if let Some(outputs) = self.field(index, "outputs") {
                *outputs = json!([]);
                self.set_count(index, None);
            }
        }
    }

    /// Says as the how manieth a cell was run.
    pub fn set_count(&mut self, index: usize, count: Option<usize>) {
        if let Some(place) = self.field(index, "execution_count") {
            *place = count.map_or(Value::Null, Value::from);
        }
    }

    /// The outputs of a code cell, to be added to or replaced.
    pub fn outputs_mut(&mut self, index: usize) -> Option<&mut Vec<Value>> {
        self.field(index, "outputs")?.as_array_mut()
    }

    /// The outputs of a cell; none where it is no code.
    pub fn outputs(&self, index: usize) -> &[Value] {
        let outputs = self.raw().get(index).map(|cell| &cell["outputs"]);
        let outputs = outputs.and_then(Value::as_array);
        outputs.map(Vec::as_slice).unwrap_or_default()
    }

    /// As how manieth a cell was run.
    pub fn count(&self, index: usize) -> Option<u64> {
        self.raw().get(index)?["execution_count"].as_u64()
    }

    /// The file's text, indented and ordered as notebook programs do it, so that a change shows as a small difference.
    pub fn text(&self) -> String {
        let mut bytes = Vec::new();
        let mut writer = Serializer::with_formatter(&mut bytes, PrettyFormatter::with_indent(b" "));
        // Nothing in it can fail to be written: it came from JSON.
        let _ = self.0.serialize(&mut writer);
        bytes.push(b'\n');
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

/// A text that may be one string or a list of lines; none where it is neither.
pub fn joined(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Array(lines) => lines.iter().map(Value::as_str).collect(),
        _ => None,
    }
}

fn cell_of(cell: &Value) -> Cell {
    let tags = cell["metadata"]["tags"].as_array();
    let tags = tags.into_iter().flatten().filter_map(Value::as_str);
    Cell {
        kind: match cell["cell_type"].as_str() {
            Some("code") => Kind::Code,
            Some("markdown") => Kind::Markdown,
            _ => Kind::Raw,
        },
        id: cell["id"].as_str().unwrap_or_default().to_string(),
        source: joined(&cell["source"]).unwrap_or_default(),
        tags: tags.map(str::to_string).collect(),
    }
}

/// The rules for one cell; gives back its id.
fn check_cell(cell: &Value) -> Result<String, String> {
    let Some(map) = cell.as_object() else {
        return Err("it is no object".to_string());
    };
    let own: &[&str] = match cell["cell_type"].as_str() {
        Some("code") => &["outputs", "execution_count"],
        Some("markdown" | "raw") => &["attachments"],
        Some(other) => {
            return Err(format!(
                "a cell is `code`, `markdown` or `raw`, not `{other}`"
            ));
        }
        None => return Err("its `cell_type` is missing".to_string()),
    };
    let id = match cell.get("id") {
        None => return Err(
            "its `id` is missing, which nbformat 4.5 asks for; opening and saving it in a notebook program adds one"
                .to_string(),
        ),
        Some(id) => id.as_str().unwrap_or_default(),
    };
    let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if !(1..=64).contains(&id.len()) || !id.chars().all(fits) {
        return Err(
            "its `id` has to be 1 to 64 letters, digits, `-` or `_`, as a text".to_string(),
        );
    }
    let named = |what: &str| format!("(id `{id}`) {what}");
    let known = |k: &&String| {
        ["cell_type", "id", "metadata", "source"].contains(&k.as_str()) || own.contains(&k.as_str())
    };
    if let Some(other) = map.keys().find(|k| !known(k)) {
        return Err(named(&format!(
            "nbformat 4.5 knows no `{other}` in such a cell"
        )));
    }
    if !cell["metadata"].is_object() {
        return Err(named("its `metadata` is missing or no object"));
    }
    if joined(&cell["source"]).is_none() {
        return Err(named(
            "its `source` is missing, or neither a text nor a list of lines",
        ));
    }
    if cell["cell_type"] == "code" {
        if !cell["outputs"].is_array() {
            return Err(named("its `outputs` are missing or no list"));
        }
        match cell.get("execution_count") {
            Some(Value::Null) => {}
            Some(count) if count.is_u64() => {}
            _ => {
                return Err(named(
                    "its `execution_count` is missing, or neither a whole number nor null",
                ));
            }
        }
    }
    Ok(id.to_string())
}

#[cfg(test)]
#[path = "file_tests.rs"]
mod tests;
