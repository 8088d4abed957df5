//! The frame of an HTML page: head, styles, escaping. Everything is inside the one file; nothing is fetched.

/// The styles. Colours from the Okabe-Ito set, only beside words and shapes that say the same.
const STYLES: &str = include_str!("page.css");

/// What the page of a review has beside them.
const LETTER: &str = include_str!("letter.css");

/// The script of such a page. It only adds comfort: the readings under the pointer, lines that open by themselves.
const SCRIPT: &str = include_str!("page.js");

/// Its SHA-256, so that the page runs this script and nothing else, whatever a log has in its headings. A test works it out.
const SCRIPT_HASH: &str = include_str!("page.js.sha256");

/// What a part of somebody else's page stands in. Named three times, for notebook programs have styles for all that they show,
/// some with two classes and an element: these have to weigh more.
const INSIDE: &str = ".plugread.plugread.plugread";

/// A whole page around its body.
pub fn page(title: &str, body: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <title>{}</title>\n<style>\n{STYLES}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        escape(title)
    )
}

/// The page of a review: for light and dark, for paper, with the readings of its pictures as JSON for the script.
pub fn letter(title: &str, body: &str, points: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{}'\">\n\
         <title>{}</title>\n<style>\n{STYLES}{LETTER}</style>\n</head>\n<body>\n{body}\
         <script type=\"application/json\" id=\"points\">{points}</script>\n<script>{SCRIPT}</script>\n</body>\n</html>\n",
        SCRIPT_HASH.trim(),
        escape(title)
    )
}

/// A part of somebody else's page, with styles that reach nothing outside it.
pub fn part(body: &str) -> String {
    format!(
        "<div class=\"plugread\">\n<style>\n{}</style>\n{body}</div>\n",
        within(STYLES)
    )
}

/// The styles, each rule for what stands inside a `plugread` element alone. The sheet has one rule a line.
fn within(styles: &str) -> String {
    let rule = |line: &str| match line.split_once('{') {
        Some((names, rest)) if !names.starts_with('@') => {
            let inside = |name: &str| match name {
                "body" | ":root" => INSIDE.to_string(),
                name => format!("{INSIDE} {name}"),
            };
            let names: Vec<String> = names.split(',').map(inside).collect();
            format!("{}{{{rest}\n", names.join(","))
        }
        _ => format!("{line}\n"),
    };
    styles.lines().map(rule).collect()
}

/// Words as they stand, whatever they hold.
pub fn escape(words: &str) -> String {
    let mut out = String::with_capacity(words.len() + 8);
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_styles_of_a_part_stay_inside_it() {
        let styles = within(STYLES);
        for line in styles.lines().filter(|l| l.contains('{')) {
            let names = line.split('{').next().unwrap_or_default();
            let inside = |name: &str| name.starts_with(INSIDE);
            assert!(
                names.starts_with('@') || names.split(',').all(inside),
                "{line}"
            );
        }
        assert_eq!(styles.matches('{').count(), styles.matches('}').count());
    }
}
