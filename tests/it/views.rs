//! Text and markdown of every sample log, as a person reads them.

use plugread::findings::Review;
use plugread::pipeline;
use plugread::reports::{Format, Look, Shapes, render, render_all, worst_first};
use plugread::sheet::Sheet;
use textwrap::core::display_width;

use crate::support::{catalog, demo_sheet, home, plugread, text};

const LOGS: [&str; 5] = [
    "first-start",
    "first-start-dead-cylinder",
    "hill-run-fading-alternator",
    "hill-run-knock",
    "hot-standstill",
];

fn reviews(sheet: &Sheet) -> Vec<Review> {
    let one = |name: &&str| {
        let path = home().join("sample-logs").join(format!("{name}.csv"));
        let outcome = pipeline::review(&path, sheet, catalog());
        let mut review = outcome.unwrap_or_else(|e| panic!("{e}")).review;
        review.log.path = format!("sample-logs/{name}.csv");
        review
    };
    LOGS.iter().map(one).collect()
}

#[test]
fn no_line_is_longer_than_the_page_is_wide() {
    let mut all = reviews(demo_sheet());
    all.extend(reviews(&Sheet::default()));
    worst_first(&mut all);
    for width in [60, 80, 100, 140] {
        for shapes in [Shapes::Drawn, Shapes::Ascii] {
            let look = Look {
                width,
                shapes,
                ..Look::default()
            };
            let whole = render_all(&all, Format::Text, &look);
            for line in whole.lines() {
                assert!(display_width(line) <= width, "at {width}: {line}");
                assert_eq!(line, line.trim_end(), "a blank at the end");
                assert!(!line.contains(['\u{1b}', '\u{a0}', '`']), "{line:?}");
            }
            // Each log has a row in the table on top, in the order of the reviews below.
            let (table, below) = whole.split_once("\n=").expect("reviews below the table");
            let names: Vec<&str> = all.iter().map(|r| r.log.path.as_str()).collect();
            let joined: String = table.split_whitespace().collect();
            let rows: Vec<usize> = LOGS
                .iter()
                .map(|l| joined.matches(&format!("{l}.csv")).count())
                .collect();
            assert_eq!(rows, [2; 5], "at {width}: {table}");
            let mut from = 0;
            for name in names {
                let heading = format!("Review of {name}");
                let at = below[from..].find(&heading).expect("in order");
                from += at + heading.len();
            }
        }
    }
}

#[test]
fn a_figure_and_its_unit_stand_on_one_line() {
    for review in reviews(demo_sheet()) {
        for width in [60, 80, 100, 140] {
            let look = Look {
                width,
                ..Look::default()
            };
            let whole = render(&review, Format::Text, &look);
            let lines: Vec<&str> = whole.lines().collect();
            for pair in lines.windows(2) {
                let last = pair[0].rsplit(' ').next().unwrap_or_default();
                let first = pair[1].trim_start().split(' ').next().unwrap_or_default();
                let first = first.trim_end_matches(['.', ',', ';', ')', ':']);
                let figure = last.len() > 1
                    && last.bytes().all(|b| b.is_ascii_digit() || b == b'.')
                    && !last.ends_with('.');
                let unit = [
                    "V", "kPa", "degC", "rpm", "s", "ms", "%", "A", "min", "lambda",
                ]
                .contains(&first);
                assert!(!(figure && unit), "at {width}: {pair:?}");
            }
        }
    }
}

#[test]
fn warnings_have_a_picture_and_cylinders_a_table() {
    let all = reviews(demo_sheet());
    let dead = render(&all[1], Format::Text, &Look::default());
    let (_, rest) = dead
        .split_once("Cylinders, in firing order\n")
        .expect("a table");
    let rows: Vec<Vec<&str>> = rest
        .lines()
        .skip(1)
        .take(3)
        .map(|l| l.split_whitespace().collect())
        .collect();
    // As on the build sheet of the demo car.
    assert_eq!(rows[0], ["1", "5", "3", "6", "2", "4"], "{rest}");
    assert!(rows[1].starts_with(&["warnings"]), "{rest}");
    let counts = &rows[1][rows[1].len() - 6..];
    // The dead one is the fourth, which fires last.
    assert!(counts[5].parse::<u32>().is_ok_and(|n| n >= 1), "{counts:?}");
    assert!(counts[..5].iter().all(|c| *c == "-"), "{counts:?}");
    let fading = render(&all[2], Format::Text, &Look::default());
    assert!(fading.contains("Picture"), "{fading}");
    assert!(fading.contains(['\u{2581}', '\u{2582}']), "{fading}");
}

#[test]
fn markdown_rows_have_the_cells_of_their_table() {
    let all = reviews(demo_sheet());
    let whole = render_all(&all, Format::Markdown, &Look::default());
    let cells = |row: &str| row.replace("\\|", "").matches('|').count();
    let mut wide = None;
    let mut tables = 0;
    for line in whole.lines() {
        if !line.starts_with('|') {
            wide = None;
            continue;
        }
        tables += usize::from(wide.is_none());
        assert_eq!(cells(line), *wide.get_or_insert(cells(line)), "{line}");
    }
    assert!(tables > 5, "{tables} tables");
    // A heading stands off from what is before it, and the cylinders tell which warnings name them, as in the other views.
    let lines: Vec<&str> = whole.lines().collect();
    for pair in lines.windows(2) {
        assert!(!pair[1].starts_with('#') || pair[0].is_empty(), "{pair:?}");
    }
    assert!(
        whole.contains("| warnings that name it | none | none | none | none | none | 3 |"),
        "{whole}"
    );
    assert!(
        !whole.contains("\\`"),
        "what is to be typed is marked as that"
    );
}

/// Twelve rows of speed and nothing else: the recording can be judged, the engine cannot.
#[test]
fn a_pass_over_little_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("little.csv");
    let mut csv = String::from("Time (s),Coolant Temp (degC)\n");
    for i in 0..600 {
        csv.push_str(&format!(
            "{:.1},{:.1}\n",
            f64::from(i) * 0.1,
            60.0 + f64::from(i) * 0.01
        ));
    }
    std::fs::write(&path, csv).expect("a log");
    let path = path.to_string_lossy();
    for format in ["text", "markdown", "html"] {
        let out = plugread(&["review", &path, "--format", format]);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        let whole = text(&out.stdout);
        let words = whole.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains("No check warns, but only "),
            "{format}: {words}"
        );
        assert!(words.contains("this says little"), "{format}");
    }
}
