//! One point in which what a check says differs from what its case wants.

use std::fmt;

/// What was wanted, and what came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Differs {
    /// Of what: `verdict`, `reason`, `next step`.
    pub of: &'static str,
    /// What the case wants.
    pub wanted: String,
    /// What came.
    pub got: String,
}

impl Differs {
    /// One point.
    pub fn new(of: &'static str, wanted: impl Into<String>, got: impl Into<String>) -> Differs {
        Differs {
            of,
            wanted: wanted.into(),
            got: got.into(),
        }
    }

    /// One above the other, so that the eye sees where they part; long ones are wrapped at a width.
    pub fn lines(&self, width: usize) -> Vec<String> {
        let side = |of: &str, side: &str, text: &str| {
            let head = format!("{of:<10} {side:<7} ");
            let options = textwrap::Options::new(width.max(40))
                .initial_indent(&head)
                .subsequent_indent("                   ");
            textwrap::wrap(text, options)
                .into_iter()
                .map(std::borrow::Cow::into_owned)
                .collect::<Vec<_>>()
        };
        let mut lines = side(self.of, "wanted", &self.wanted);
        lines.extend(side("", "got", &self.got));
        lines
    }
}

impl fmt::Display for Differs {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: wanted {}, got {}", self.of, self.wanted, self.got)
    }
}

#[cfg(test)]
mod tests {
    use super::Differs;

    #[test]
    fn both_sides_begin_in_one_column() {
        let one = Differs::new("verdict", "warn", "pass");
        assert_eq!(
            one.lines(80),
            ["verdict    wanted  warn", "           got     pass"]
        );
        let long = Differs::new("reason", "`over 90`", "At most 40 degC ".repeat(9));
        let lines = long.lines(60);
        assert!(
            lines.len() > 3 && lines.iter().all(|l| l.len() <= 60),
            "{lines:?}"
        );
        assert!(lines[2].starts_with("                   "), "{lines:?}");
        assert_eq!(one.to_string(), "verdict: wanted warn, got pass");
    }
}
