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

/// What can hurt is read before anything that would have to be opened or scrolled to.
#[test]
fn what_can_hurt_stands_at_the_top_of_a_page() {
    let page = render(&awkward(Reading::default()), Format::Html, &Look::default());
    let top = page.split("<nav").next().expect("a top");
    in_order(
        top,
        &[
            "Stop now",
            "Do not run this engine again",
            "Oil pressure fell to 60 kPa under load.",
            "Look at this first",
            "Do next:",
            "Before you touch it",
        ],
    );
    // Of the first thing, of the danger, and of fire whatever else was found.
    for id in ["battery", "rotating-parts", "oil-pressure", "fuel-fire"] {
        let words = crate::findings::caution(id).expect("a caution").text;
        assert!(top.contains(&escape(words)), "{id}");
    }
    assert!(
        !top.contains("<details class=\"check"),
        "nothing at the top has to be opened"
    );
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
            let count = flat.matches(caution.text).count();
            // On a page all of them stand at the end, and those for the first thing and for fire at the top as well.
            let most = if format == Format::Html { 2 } else { 1 };
            assert!((1..=most).contains(&count), "{format:?}: {}", caution.id);
        }
        if format != Format::Html {
            assert!(flat.contains("As above: battery."), "{format:?}");
        }
    }
}

#[test]
fn html_stands_alone_and_nothing_in_it_acts() {
    for (name, review) in every() {
        let page = render(&review, Format::Html, &Look::default());
        let lower = page.to_lowercase();
        // The readings, and the script that shows them.
        assert_eq!(lower.matches("<script").count(), 2, "{name}");
        for forbidden in [
            "http:", "https:", "//www", "src=", "url(", "@import", "<link", "<iframe", "onload=",
        ] {
            assert!(!lower.contains(forbidden), "{name}: {forbidden}");
        }
        assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<html lang=\"en\">"));
        assert!(page.contains("name=\"viewport\""));
        assert!(page.contains("default-src 'none'") && page.contains("script-src 'sha256-"));
        let page = markup(&page);
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

/// A page without its readings and script.
fn markup(page: &str) -> String {
    let (before, after) = page.split_once("<script").expect("the readings");
    let (_, end) = after.rsplit_once("</script>").expect("the script");
    format!("{before}{end}")
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
    in_order(
        &page,
        &[
            "<h1",
            "Stop now</h2>",
            "Look at this first</h2>",
            "Before you touch it</h2>",
            "</nav>",
            "The run</h2>",
            "What several of these point to</h2>",
            "From the base up</h2>",
            "Recording <span",
            "Charging <span",
            "Oil <span",
            "Exhaust <span",
            "Open questions</h2>",
            "What was read</h2>",
            "Careful</h2>",
            "It is not a clearance to run.",
        ],
    );
    // One line for each check, and all that it says behind it.
    assert_eq!(page.matches("<details class=\"check ").count(), 13);
    assert_eq!(
        page.matches("<figcaption>").count(),
        2,
        "the ribbon and one plot"
    );
    assert_eq!(
        page.matches("role=\"img\"").count(),
        4,
        "each for a desk and for a phone"
    );
    assert!(page.contains("limit 1562 degF") && page.contains("temperature, degF"));
    assert!(page.contains(
        "<th scope=\"row\">spread</th><td>382 degF <span class=\"limit\">limit 144 degF</span></td>"
    ));
    assert!(page.contains("<td>a page | with a &quot;pipe&quot;</td>"));
    assert!(page.contains("&lt;script&gt;") && page.contains("&quot;hinten&quot;"));
    assert!(
        page.contains("<code>code</code>"),
        "backticks are markup, not letters"
    );
}

/// What a check builds on is named with its verdict, and leads there.
#[test]
fn html_says_what_a_check_builds_on() {
    let mut review = awkward(Reading::default());
    for f in &mut review.findings {
        if f.id == "egt-spread" {
            f.builds_on = vec![
                "channel-rail".into(),
                "charge-voltage".into(),
                "gone".into(),
            ];
        }
    }
    let page = render(&review, Format::Html, &Look::default());
    in_order(
        &page,
        &[
            "id=\"check-egt-spread\"",
            "Builds on",
            "NOT-RUN: <a href=\"#check-channel-rail\">",
            "PASS: <a href=\"#check-charge-voltage\">Running voltage</a>",
            "<code>gone</code>: not among these checks",
        ],
    );
}

/// The cylinders stand in firing order, with what names them and what was measured.
#[test]
fn html_sets_the_cylinders_side_by_side() {
    let mut review = awkward(Reading::default());
    let figure = |value| {
        Some(crate::findings::Figure {
            value,
            unit: crate::units::Unit::standard("degC"),
        })
    };
    review.cylinders = crate::findings::Cylinders {
        order: vec![1, 3, 4, 2],
        by_firing: true,
        measured: vec![(
            "exhaust".into(),
            vec![figure(711.0), figure(488.0), None, figure(720.0)],
        )],
    };
    let page = render(&review, Format::Html, &Look::default());
    in_order(
        &page,
        &[
            "Cylinders, in firing order</h2>",
            "<th scope=\"col\">1</th><th scope=\"col\">3</th><th scope=\"col\">4</th><th scope=\"col\">2</th>",
            "warnings that name it",
            "<td>none</td>",
            "exhaust, degC</th>",
            "<td>711</td><td>488</td><td>\u{2013}</td><td>720</td>",
            "<li>Cylinder 3: <a href=\"#check-egt-spread\">EGT spread across cylinders</a></li>",
            "<li>Cylinder 4: <a",
        ],
    );
    review.cylinders.by_firing = false;
    let page = render(&review, Format::Html, &Look::default());
    assert!(page.contains("Cylinders, by number") && page.contains("engine.firing_order"));
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
fn several_logs_open_with_a_table() {
    let mut reviews = [all_quiet(), nothing(), awkward(Reading::default())];
    worst_first(&mut reviews);
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
            "look first at",
            "WARN",
            "charge-vs-speed",
            "NOT-RUN",
            "PASS",
            "UNREAD",
            "<cut>.csv holds no numbers",
            "Review of ",
        ],
    );
    assert!(text.lines().all(|l| display_width(l) <= 80));
    let page = render_beside(&reviews, &unread, Format::Html, &Look::default());
    balanced(&markup(&page));
    // What needs most stands on top: the table, and in it the log that says stop.
    in_order(
        &page,
        &[
            "All logs: 4 logs",
            "href=\"#log-1-review\"",
            "href=\"#log-2-review\"",
            "href=\"#log-3-review\"",
            "&lt;cut&gt;.csv</th><td>unread",
            "id=\"log-1-review\"",
        ],
    );
    let places = page.matches("id=\"log-2-careful\"").count();
    assert_eq!(places, 1);
    let notes = render_beside(&reviews, &unread, Format::Markdown, &Look::default());
    in_order(
        &notes,
        &["# All logs", "**stop now**", "| unread |", "# Review of "],
    );
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
