//! The fixed awkward review in every format: what must be there, what must never be, and in which order.

use serde_json::Value;
use textwrap::core::display_width;

use super::samples::{LONG_WORD, all_quiet, american, awkward, nothing, only_not_run, three_stops};
use super::*;
use crate::units::Reading;

fn every() -> Vec<(&'static str, Review)> {
    vec![
        ("awkward", awkward(Reading::default())),
        ("american", awkward(american())),
        ("three stops", three_stops()),
        ("all quiet", all_quiet()),
        ("only not run", only_not_run()),
        ("nothing", nothing()),
    ]
}

/// Asserts that the words stand in this order.
pub fn in_order(whole: &str, words: &[&str]) {
    let mut from = 0;
    for word in words {
        match whole[from..].find(word) {
            Some(at) => from += at + word.len(),
            None => panic!("`{word}` is missing after byte {from} in:\n{whole}"),
        }
    }
}

const ORDER: [&str; 9] = [
    "Look at this first",
    "Then these, from the base up",
    "What several of these point to",
    "Passed",
    "Could not be judged",
    "Open questions",
    "What was read",
    "Careful",
    "How far to trust this",
];

#[test]
fn text_fits_its_width() {
    for (name, review) in every() {
        for width in [40, 41, 64, 80, 132] {
            let look = Look {
                width,
                ..Look::default()
            };
            for line in render(&review, Format::Text, &look).lines() {
                assert!(display_width(line) <= width, "{name} at {width}: {line}");
                assert_eq!(line, line.trim_end(), "{name}: a blank at the end");
            }
        }
    }
}

#[test]
fn text_opens_with_danger_then_the_first_thing() {
    let text = render(&awkward(Reading::default()), Format::Text, &Look::default());
    in_order(&text, &["WARN", "STOP NOW", "oil-vs-speed", "60 kPa"]);
    in_order(&text, &ORDER);
    // What the start rests on comes before what rests on it; the danger keeps its place from the base up.
    in_order(
        &text,
        &[
            "Look at this first",
            "[charge-vs-speed]",
            "Then these",
            "[oil-vs-speed]",
            "[egt-spread]",
            "Passed",
        ],
    );
    assert_eq!(text.matches("[charge-vs-speed]").count(), 1, "told once");
    in_order(
        &text,
        &[
            "Could not be judged",
            "lambda-probe",
            "channel-rail",
            "boost-vs-target",
            "oil-before-fire",
            "egt-probe",
            "staged-share",
            "odd-one",
            "Open questions",
            "1. ",
            "2. ",
            "3. ",
        ],
    );
    assert!(
        !text.contains("never shown"),
        "no question about what is not fitted"
    );
}

#[test]
fn doubt_is_said_in_words() {
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let whole = render(&awkward(Reading::default()), format, &Look::default());
        let flat = whole.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            flat.contains("Doubtful") && flat.contains("Unchecked"),
            "{format:?}"
        );
        assert!(
            flat.contains(
                " Charging voltage against engine speed (charge-vs-speed) warns at the same time"
            ),
            "{format:?}: {flat}"
        );
        assert!(flat.contains(" it builds on channel-rail"), "{format:?}");
        assert!(
            flat.contains("no figure"),
            "{format:?}: a NaN is said, not printed"
        );
        assert!(!flat.contains("NaN"), "{format:?}");
    }
}

#[test]
fn readers_units_in_views_and_standard_units_in_json() {
    let review = awkward(american());
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let whole = render(&review, format, &Look::default());
        for words in ["382 degF", "910 degF", "144 degF", "45 psi"] {
            assert!(whole.contains(words), "{format:?} lacks {words}");
        }
        // `column_unit` and the caution on coolant aside, nothing speaks of degC or kPa.
        assert!(!whole.contains("kPa"), "{format:?}");
    }
    let json = render(&review, Format::Json, &Look::default());
    assert_eq!(
        json,
        render(&awkward(Reading::default()), Format::Json, &Look::default())
    );
    assert!(json.contains("ran 212 degC under") && !json.contains("psi"));
}

#[test]
fn colour_only_where_wanted() {
    for (name, review) in every() {
        let plain = render(&review, Format::Text, &Look::default());
        assert!(!plain.contains('\u{1b}'), "{name}");
        let look = Look {
            colour: true,
            ..Look::default()
        };
        let coloured = render(&review, Format::Text, &look);
        assert!(coloured.contains("\u{1b}["), "{name}");
        // The same words stand in both: colour adds nothing but itself.
        let mut bare = String::new();
        let mut rest = coloured.as_str();
        while let Some(at) = rest.find('\u{1b}') {
            bare.push_str(&rest[..at]);
            rest = rest[at..].split_once('m').map_or("", |r| r.1);
        }
        bare.push_str(rest);
        assert_eq!(bare, plain, "{name}");
    }
}

#[test]
fn ascii_shapes_leave_only_the_logs_own_letters() {
    let look = Look {
        shapes: Shapes::Ascii,
        ..Look::default()
    };
    let text = render(&three_stops(), Format::Text, &look);
    assert!(text.chars().all(|c| c.is_ascii() || c == 'Ö'), "{text}");
    assert!(text.contains("!! STOP NOW"));
}

#[test]
fn the_sparse_reviews_say_so() {
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let say = |review: &Review| {
            let whole = render(review, format, &Look::default());
            whole.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let quiet = say(&all_quiet());
        assert!(
            quiet.contains("No check warns: 1 passed, 1 could not be judged."),
            "{quiet}"
        );
        assert!(quiet.contains("no clearance to run") && !quiet.contains("Look at this first"));
        let none = say(&only_not_run());
        assert!(
            none.contains("Nothing could be judged: none of 1 check could run"),
            "{none}"
        );
        assert!(none.contains("This is not a pass.") && none.contains("Log the EGT."));
        assert!(say(&nothing()).contains("No check was made."));
        let stops = say(&three_stops());
        in_order(
            &stops,
            &[
                "Review of",
                "charge-vs-speed",
                "oil-vs-speed",
                "egt-spread",
                "Look at this first",
            ],
        );
    }
}

/// Each caution in full once, the closing sentences at the very end.
#[test]
fn cautions_are_said_once_and_never_lost() {
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let review = awkward(Reading::default());
        let whole = render(&review, format, &Look::default()).replace("\\", "");
        let flat = whole
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .replace("&#39;", "'");
        for caution in &review.cautions {
            assert_eq!(
                flat.matches(caution.text).count(),
                1,
                "{format:?}: {}",
                caution.id
            );
        }
        assert!(flat.contains("As above: battery."), "{format:?}");
    }
}

#[test]
fn html_stands_alone_and_nothing_in_it_acts() {
    for (name, review) in every() {
        let page = render(&review, Format::Html, &Look::default());
        let lower = page.to_lowercase();
        for forbidden in [
            "<script", "http:", "https:", "//www", "src=", "url(", "@import", "<link", "<iframe",
            "onload=",
        ] {
            assert!(!lower.contains(forbidden), "{name}: {forbidden}");
        }
        assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<html lang=\"en\">"));
        assert!(page.contains("name=\"viewport\""));
        balanced(&page);
        // Every jump has a place to land, and no place is there twice.
        let places: Vec<&str> = page
            .split(" id=\"")
            .skip(1)
            .filter_map(|r| r.split('"').next())
            .collect();
        for (i, place) in places.iter().enumerate() {
            assert!(!places[..i].contains(place), "{name}: {place} twice");
        }
        for target in page
            .split("href=\"#")
            .skip(1)
            .filter_map(|r| r.split('"').next())
        {
            assert!(places.contains(&target), "{name}: {target} leads nowhere");
        }
    }
}

/// Every element that opens closes, in order.
fn balanced(page: &str) {
    let mut open: Vec<&str> = Vec::new();
    for piece in page.split('<').skip(1) {
        let (tag, _) = piece.split_once('>').expect("a tag ends");
        let name = tag
            .split([' ', '/', '\n'])
            .find(|s| !s.is_empty())
            .unwrap_or_default();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "closes out of order near {piece}");
        } else if !tag.ends_with('/') && !["meta", "!DOCTYPE"].contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

#[test]
fn html_tells_the_same_story_with_pictures() {
    let page = render(&awkward(american()), Format::Html, &Look::default());
    in_order(&page, &["<h1>", "Stop now</a>", "Stop now</h2>"]);
    in_order(&page[page.find("</nav>").expect("a nav")..], &ORDER);
    assert_eq!(page.matches("<figure>").count(), 1);
    assert_eq!(page.matches("<figcaption>").count(), 1);
    assert_eq!(
        page.matches("role=\"img\"").count(),
        2,
        "for a desk and for a phone"
    );
    assert!(page.contains("limit 1562 degF") && page.contains("temperature, degF"));
    assert!(page.contains("<th scope=\"row\">spread</th><td>382 degF</td><td>144 degF ("));
    assert!(page.contains("&lt;script&gt;") && page.contains("&quot;hinten&quot;"));
}

#[test]
fn markdown_tables_keep_their_columns() {
    let whole = render(
        &awkward(Reading::default()),
        Format::Markdown,
        &Look::default(),
    );
    in_order(&whole, &ORDER);
    assert!(!whole.contains("<script>"), "{whole}");
    let bare = |row: &str| row.replace("\\|", "").matches('|').count();
    let rows: Vec<&str> = whole.lines().filter(|l| l.starts_with('|')).collect();
    assert!(rows.len() > 8, "{rows:?}");
    for row in rows {
        assert_eq!(bare(row), 5, "{row}");
    }
    assert!(whole.contains("a page \\| with a \"pipe\""));
    assert!(whole.contains("Look at this first\n\n### \u{25b2} WARN: Charging voltage against engine speed (`charge-vs-speed`)"));
}

#[test]
fn long_words_are_broken_not_lost() {
    let text = render(&awkward(Reading::default()), Format::Text, &Look::default());
    let joined: String = text.split_whitespace().collect();
    assert!(joined.contains(LONG_WORD));
}

#[test]
fn several_logs_close_with_a_table() {
    let reviews = [awkward(Reading::default()), all_quiet(), nothing()];
    let unread = [Unread {
        log: "<cut>.csv".to_owned(),
        why: "<cut>.csv holds no numbers | at all".to_owned(),
    }];
    let json = render_all(
        &reviews,
        Format::Json,
        &Look {
            pretty: true,
            ..Look::default()
        },
    );
    assert_eq!(json.lines().count(), 3);
    assert!(
        json.lines()
            .all(|l| serde_json::from_str::<Value>(l).is_ok())
    );
    let text = render_beside(&reviews, &unread, Format::Text, &Look::default());
    in_order(
        &text,
        &[
            "All logs",
            "stop now; look first at charge-vs-speed.",
            "PASS",
            "NOT-RUN",
            "UNREAD",
            "<cut>.csv holds no numbers",
        ],
    );
    assert!(text.lines().all(|l| display_width(l) <= 80));
    let page = render_beside(&reviews, &unread, Format::Html, &Look::default());
    balanced(&page);
    in_order(
        &page,
        &[
            "All logs",
            "href=\"#log-1-log\"",
            "href=\"#log-3-log\"",
            "&lt;cut&gt;.csv</th><td>unread",
        ],
    );
    let places = page.matches("id=\"log-2-closing\"").count();
    assert_eq!(places, 1);
    let notes = render_beside(&reviews, &unread, Format::Markdown, &Look::default());
    in_order(&notes, &["## All logs", "**stop now**", "| unread |"]);
    // One that was read beside one that was not is several, too.
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let one = render_beside(&reviews[1..2], &unread, format, &Look::default());
        in_order(&one, &["All logs", "holds no numbers"]);
    }
}

#[test]
fn the_same_review_is_the_same_text() {
    for format in Format::ALL {
        let look = Look::default();
        assert_eq!(
            render(&awkward(american()), format, &look),
            render(&awkward(american()), format, &look)
        );
        assert_eq!(Format::parse(format.word()), Some(format));
    }
    assert_eq!(Format::parse("pdf"), None);
}

/// Writes the samples for the eye: `PLUGREAD_PICTURES=dir cargo test pages -- --ignored`.
#[test]
#[ignore = "for the eye only"]
fn pages() {
    let Some(folder) = std::env::var_os("PLUGREAD_PICTURES") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    for (name, review) in every() {
        for format in Format::ALL {
            let file = format!("{}.{}", name.replace(' ', "-"), format.word());
            std::fs::write(folder.join(file), render(&review, format, &Look::default())).unwrap();
        }
    }
    let all = [awkward(Reading::default()), all_quiet()];
    std::fs::write(
        folder.join("several.html"),
        render_all(&all, Format::Html, &Look::default()),
    )
    .unwrap();
    std::fs::write(
        folder.join("several.text"),
        render_all(&all, Format::Text, &Look::default()),
    )
    .unwrap();
}

/// Which limit decided and the line that changes it stand in every view that a person reads.
#[test]
fn every_view_says_which_limit_decided() {
    let mut review = awkward(Reading::default());
    let charge = review.findings.iter_mut();
    let charge = charge.filter(|f| f.id == "charge-vs-speed");
    charge.for_each(|f| f.decided_by = vec!["sag".into()]);
    for format in [Format::Text, Format::Html, Format::Markdown] {
        let page = render(&review, format, &Look::default());
        let words = page.split_whitespace().collect::<Vec<_>>().join(" ");
        for wanted in [
            "sag 0.40 V (common practice)",
            "Change it",
            "charge-vs-speed.sag",
        ] {
            assert!(words.contains(wanted), "{format:?} lacks {wanted}: {words}");
        }
    }
    let json = render(&review, Format::Json, &Look::default());
    assert!(json.contains("\"decided_by\":[\"sag\"]"), "{json}");
}
