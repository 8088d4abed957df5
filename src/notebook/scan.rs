//! A look at a cell's text without running it: what is code, what is words, which functions stand in it, where it is
//! still open.

/// What a byte of the text belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// The language.
    Code,
    /// Between quotation marks, these included.
    Words,
    /// A comment.
    Comment,
}

/// The text with a class for each byte.
pub struct Scan<'a> {
    text: &'a str,
    class: Vec<Class>,
    /// True where the text ends inside words or a comment that may go on over lines.
    pub unfinished: bool,
}

/// A function as it stands in a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    /// Its name.
    pub name: String,
    /// Names of what it takes.
    pub params: Vec<String>,
    /// Its text, with the comment right above it.
    pub text: String,
}

impl<'a> Scan<'a> {
    /// Looks through a text.
    pub fn new(text: &'a str) -> Scan<'a> {
        let bytes = text.as_bytes();
        let mut class = vec![Class::Code; bytes.len()];
        let mut unfinished = false;
        // Braces open inside each `${` of words in backticks that we are in.
        let mut inner: Vec<usize> = Vec::new();
        let mut at = 0;
        while at < bytes.len() {
            let rest = &bytes[at..];
            let (kind, length, open) = match bytes[at] {
                b'/' if rest.starts_with(b"//") => {
                    let end = rest.iter().position(|b| *b == b'\n');
                    (Class::Comment, end.unwrap_or(rest.len()), false)
                }
                b'/' if rest.starts_with(b"/*") => {
                    let (length, open) = block_comment(rest);
                    (Class::Comment, length, open)
                }
                b'"' => quoted(rest, b'"'),
                b'\'' => quoted(rest, b'\''),
                b'`' => backticks(rest, 1, &mut inner),
                b'{' => {
                    inner.last_mut().into_iter().for_each(|n| *n += 1);
                    (Class::Code, 1, false)
                }
                b'}' if inner.last() == Some(&0) => {
                    inner.pop();
                    backticks(rest, 1, &mut inner)
                }
                b'}' => {
                    inner.last_mut().into_iter().for_each(|n| *n -= 1);
                    (Class::Code, 1, false)
                }
                _ => (Class::Code, 1, false),
            };
            class[at..at + length].fill(kind);
            unfinished = open;
            at += length;
        }
        Scan {
            text,
            class,
            unfinished: unfinished || !inner.is_empty(),
        }
    }
    /// The class of the byte there; past the end that of the last.
    pub fn at(&self, at: usize) -> Class {
        let last = self.class.last().copied().unwrap_or(Class::Code);
        self.class.get(at).copied().unwrap_or(last)
    }
    /// The bytes that are code, with their places.
    pub fn code(&self) -> impl DoubleEndedIterator<Item = (usize, u8)> + '_ {
        let bytes = self.text.bytes().enumerate();
        bytes
            .zip(&self.class)
            .filter(|b| *b.1 == Class::Code)
            .map(|b| b.0)
    }
    /// True where a semicolon ends it: then its last value is not shown.
    pub fn is_quiet(&self) -> bool {
        let mut seen = self.code().rev().map(|b| b.1);
        seen.find(|b| !b.is_ascii_whitespace()) == Some(b';')
    }
    /// How many brackets are still open; none where one closes that was never opened.
    pub fn open_brackets(&self) -> Option<usize> {
        let mut open = Vec::new();
        for (_, byte) in self.code() {
            match byte {
                b'(' | b'[' | b'{' => open.push(byte),
                b')' | b']' | b'}' => {
                    let fits = match open.pop()? {
                        b'(' => b')',
                        b'[' => b']',
                        _ => b'}',
                    };
                    if fits != byte {
                        return None;
                    }
                }
                _ => {}
            }
        }
        Some(open.len())
    }
    /// The functions that stand in it, in order.
    pub fn functions(&self) -> Vec<Function> {
        let code: Vec<(usize, u8)> = self.code().collect();
        let mut out = Vec::new();
        let (mut depth, mut i) = (0i32, 0);
        while i < code.len() {
            let (at, byte) = code[i];
            match byte {
                b'{' | b'(' | b'[' => depth += 1,
                b'}' | b')' | b']' => depth -= 1,
                b'f' if depth == 0 && self.word(at) == "fn" => {
                    if let Some((function, end)) = self.function(&code, i) {
                        out.push(function);
                        i = end;
                    }
                }
                _ => {}
            }
            i += 1;
        }
        out
    }
    /// The name that begins there; empty where none does, or where one began before.
    fn word(&self, at: usize) -> &str {
        let before = self.text[..at].chars().next_back();
        if before.is_some_and(is_name) {
            return "";
        }
        let rest = &self.text[at..];
        &rest[..rest.find(|c| !is_name(c)).unwrap_or(rest.len())]
    }
    /// The function whose `fn` is the code byte of that index, and the index of its closing brace.
    fn function(&self, code: &[(usize, u8)], from: usize) -> Option<(Function, usize)> {
        let find = |start: usize, wanted: u8| (start..code.len()).find(|i| code[*i].1 == wanted);
        let (opens, closes) = (find(from, b'(')?, find(from, b')')?);
        let body = find(closes, b'{')?;
        let mut depth = 0;
        let end = (body..code.len()).find(|i| {
            match code[*i].1 {
                b'{' => depth += 1,
                b'}' => depth -= 1,
                _ => {}
            }
            depth == 0
        })?;
        let name = self.text[code[from].0 + 2..code[opens].0]
            .trim()
            .to_string();
        let params = self.text[code[opens].0 + 1..code[closes].0].split(',');
        let params = params
            .map(|p| p.trim().to_string())
            .filter(|p| !p.is_empty());
        let start = self.with_comment(code[from].0);
        let function = Function {
            name,
            params: params.collect(),
            text: self.text[start..=code[end].0].to_string(),
        };
        Some((function, end))
    }
    /// The start of the lines of comment right above a place, or of its own line.
    fn with_comment(&self, at: usize) -> usize {
        let line_start = |at: usize| self.text[..at].rfind('\n').map_or(0, |n| n + 1);
        let mut start = line_start(at);
        while start > 0 {
            let above = line_start(start - 1);
            if !self.text[above..start].trim_start().starts_with("//") {
                break;
            }
            start = above;
        }
        start
    }
}

/// True for what a name is made of.
pub fn is_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Length of words between two such marks, and whether they are still open.
fn quoted(bytes: &[u8], mark: u8) -> (Class, usize, bool) {
    let mut at = 1;
    while at < bytes.len() {
        match bytes[at] {
            b'\\' => at += 1,
            // Only a backslash carries words over a line's end.
            b'\n' => return (Class::Words, at, false),
            b if b == mark => return (Class::Words, at + 1, false),
            _ => {}
        }
        at += 1;
    }
    (Class::Words, bytes.len(), false)
}

/// Words in backticks from `from` on, up to their end or to the code in the next `${`.
fn backticks(bytes: &[u8], from: usize, inner: &mut Vec<usize>) -> (Class, usize, bool) {
    let mut at = from;
    while at < bytes.len() {
        if bytes[at] == b'`' {
            // Two are one that is meant as such.
            if bytes.get(at + 1) != Some(&b'`') {
                return (Class::Words, at + 1, false);
            }
            at += 1;
        } else if bytes[at..].starts_with(b"${") {
            inner.push(0);
            return (Class::Words, at + 2, false);
        }
        at += 1;
    }
    (Class::Words, bytes.len(), true)
}

fn block_comment(bytes: &[u8]) -> (usize, bool) {
    let (mut depth, mut at) = (0, 0);
    while at < bytes.len() {
        if bytes[at..].starts_with(b"/*") {
            depth += 1;
            at += 2;
        } else if bytes[at..].starts_with(b"*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return (at, false);
            }
        } else {
            at += 1;
        }
    }
    (bytes.len(), true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn functions_come_with_their_comments() {
        let text = "let x = \"fn no() {}\"; // fn not() {}\n/// Why.\n/// More.\nfn judge(run, limits) { if true { `${ #{a: 1}.a }}` } }\nfn two() { 1 }\nlet y = || { fn_x };";
        let found = Scan::new(text).functions();
        assert_eq!(found.len(), 2, "{found:?}");
        assert_eq!(found[0].params, ["run", "limits"]);
        assert!(found[0].text.starts_with("/// Why.\n/// More.\nfn judge"));
        assert!(found[0].text.ends_with("} }"));
        assert_eq!((found[1].name.as_str(), found[1].params.len()), ("two", 0));
    }

    #[test]
    fn what_is_open_is_told() {
        let open = |text: &str| Scan::new(text).open_brackets();
        assert_eq!(open("f(1, [2"), Some(2));
        assert_eq!(open("f(\"(\") // ("), Some(0));
        assert_eq!(open("1)"), None);
        assert!(Scan::new("let a = `x").unfinished);
        assert!(Scan::new("/* a /* b */").unfinished);
        assert!(!Scan::new("`a${ \"}\" }b`").unfinished);
    }

    #[test]
    fn a_semicolon_at_the_end_is_quiet() {
        assert!(Scan::new("a; // ;x").is_quiet());
        assert!(!Scan::new("a /* ; */").is_quiet());
        assert!(!Scan::new("\"a;\"").is_quiet());
    }
}
