//! What a cell shows: one thing in several forms, of which the front end takes the richest that it can.

use std::collections::BTreeMap;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde_json::{Map, Value};

/// Forms of one thing by MIME type.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bundle(BTreeMap<&'static str, Value>);

impl Bundle {
    /// Plain words alone.
    pub fn plain(words: impl Into<String>) -> Bundle {
        Bundle::default().with("text/plain", words.into())
    }
    /// With one more form, or one replaced.
    #[must_use]
    pub fn with(mut self, mime: &'static str, form: impl Into<Value>) -> Bundle {
        self.0.insert(mime, form.into());
        self
    }
    /// With a page's markup.
    #[must_use]
    pub fn html(self, markup: impl Into<String>) -> Bundle {
        self.with("text/html", markup.into())
    }
    /// With a picture, twice: as drawing and as pixels.
    #[must_use]
    pub fn picture(self, svg: String, png: &[u8]) -> Bundle {
        self.with("image/svg+xml", svg)
            .with("image/png", BASE64_STANDARD.encode(png))
    }
    /// A form as text.
    pub fn text(&self, mime: &str) -> Option<&str> {
        self.0.get(mime)?.as_str()
    }
    /// As the protocol has it.
    pub fn json(&self) -> Value {
        let each = self.0.iter().map(|(k, v)| ((*k).to_string(), v.clone()));
        Value::Object(each.collect::<Map<_, _>>())
    }
}
