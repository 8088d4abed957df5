//! Something wrong with what a function of a script gave back, and the place in the text where it was written.

use super::catalog::Script;
use crate::dsl::ScriptError;
use crate::dsl::script_text::{code, function, of_name, word_from};
use crate::sheet::nearest;

/// What is wrong, what would be right, and which text of the script says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slip {
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub wanted: Option<String>,
    /// How to find the place, one step after the other: a key of a map, or a text with its quotes.
    pub at: Vec<String>,
}

/// A text as it stands in a script.
pub fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

impl Slip {
    /// With the place of a key or of a text between quotes.
    pub fn new(what: impl Into<String>, wanted: impl Into<String>, at: &str) -> Slip {
        Slip {
            what: what.into(),
            wanted: Some(wanted.into()).filter(|wanted| !wanted.is_empty()),
            at: Some(at.to_string())
                .into_iter()
                .filter(|at| !at.is_empty())
                .collect(),
        }
    }
    /// A key or a word that is none of those that may stand there.
    pub fn not_among(what: impl Into<String>, word: &str, known: &[&str], at: &str) -> Slip {
        let near = nearest(word, known.iter().copied());
        let near = near.map_or_else(String::new, |near| format!("did you mean `{near}`? "));
        let wanted = format!("{near}One of {}", known.join(", "));
        Slip::new(what, wanted, at)
    }
    /// Inside of something that is to be found first.
    #[must_use]
    pub fn inside(mut self, of: &str) -> Slip {
        self.at.insert(0, of.to_string());
        self
    }
}

impl Script {
    /// A slip with the line in which the function that gave it back says so; that of the function where nothing in it does.
    pub fn slip(&self, name: &str, slip: &Slip) -> ScriptError {
        let told = (slip.what.clone(), slip.wanted.clone());
        let code = code(&self.text);
        let Some((mut place, all)) = function(&code, name) else {
            let mut error = ScriptError::general(&self.place, &slip.what);
            error.wanted = told.1;
            return error;
        };
        let (mut from, mut to) = (all.start, all.end);
        for step in &slip.at {
            if let Some(at) = self.find(&code, step, from, to) {
                (place, from) = (at, at + step.len());
            }
            // What follows belongs to the case of that name, not to the next.
            if name == "cases" && to == all.end && step.starts_with('"') {
                to = self.find(&code, "name", from, to).unwrap_or(to);
            }
        }
        ScriptError::placed(&self.place, &self.text, place, told)
    }

    /// A key in front of its colon, or a text, between two bytes.
    fn find(&self, code: &str, step: &str, from: usize, to: usize) -> Option<usize> {
        if step.starts_with('"') {
            let found = self.text.get(from..to)?.match_indices(step);
            // What stands in a comment is not meant: before it is code, or the text would not be one.
            return found
                .map(|(at, _)| from + at)
                .find(|at| !in_comment(&self.text, code, *at));
        }
        let mut at = from;
        while let Some(found) = word_from(code, step, at).filter(|found| *found < to) {
            let behind = code[found + step.len()..].trim_start();
            if !step.chars().all(of_name) || behind.starts_with(':') || behind.starts_with('(') {
                return Some(found);
            }
            at = found + step.len();
        }
        None
    }
}

fn in_comment(text: &str, code: &str, at: usize) -> bool {
    let begins = text[..at].rfind('\n').map_or(0, |end| end + 1);
    let mut slashes = text[begins..at].match_indices("//");
    slashes.any(|(slash, _)| {
        let head = &text[begins..begins + slash];
        head.matches('"').count().is_multiple_of(2) && code[begins + slash..at].trim().is_empty()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_that_says_it_is_found() {
        let script = Script {
            place: "own/mine.rhai".to_string(),
            system: String::new(),
            id: "mine".to_string(),
            text: "fn about() { #{\n    // needs: \"rmp\"\n    title: \"rmp\",\n    needs: [\"rmp\"],\n} }\nfn judge(run, limits) { pass(\"rmp\") }\n".to_string(),
        };
        let place = |function: &str, slip: &Slip| {
            let error = script.slip(function, slip);
            let marked = error.spot.map(|s| s.marked().to_string());
            (error.line, error.column, marked.unwrap_or_default())
        };
        let text = Slip::new("no channel", "", &quoted("rmp"));
        assert_eq!(place("about", &text), (3, 12, "\"rmp\"".to_string()));
        let inside = text.clone().inside("needs");
        assert_eq!(place("about", &inside), (4, 13, "\"rmp\"".to_string()));
        assert_eq!(place("judge", &text).0, 6);
        let nowhere = Slip::new("no title", "", "wants");
        assert_eq!(place("about", &nowhere), (1, 4, "about".to_string()));
        assert_eq!(place("cases", &nowhere).0, 0);
    }
}
