//! Rows and cells, the long form, and packed logs.

use super::form::customary;
use super::{Alike, Variant, base, european, lines};
use crate::dialects::pack::Pack;
use crate::dialects::run::Run;
use crate::dialects::style::{Extra, Letters, Quotes, Style, Units};

/// Notes that could be taken for the ends of cells and rows.
pub const NOTES: &[&str] = &["", "dry, warm", "said \"go\"\nthen went", "", "a;b|c"];

pub fn layout() -> Vec<Variant> {
    let with = |name, style| Variant::style(name, style);
    let extras =
        |name, extras: Vec<(usize, Extra)>| Variant::style(name, Style { extras, ..base() });
    let every = |step: usize, extra: Extra| {
        (1..16)
            .map(|n| (n * step, extra.clone()))
            .collect::<Vec<_>>()
    };
    // No more of one kind than are listed with their lines.
    let few = |step: usize, extra: &Extra| {
        (1..9)
            .map(|n| (n * step, extra.clone()))
            .collect::<Vec<_>>()
    };
    let twice = |run: &mut Run| {
        for name in ["map", "tps"] {
            let mut again = run.col(name).clone();
            again.standard = "";
            run.cols.push(again);
        }
    };
    let unnamed = |run: &mut Run| {
        for at in [3, 17] {
            let mut empty = run.col("rpm").clone();
            (empty.standard, empty.name, empty.unit) = ("", String::new(), String::new());
            run.cols.insert(at, empty);
        }
    };
    vec![
        with(
            "CRLF",
            Style {
                end: "\r\n",
                ..base()
            },
        ),
        with(
            "CR",
            Style {
                end: "\r",
                ..base()
            },
        ),
        with(
            "all quoted",
            Style {
                quotes: Quotes::All,
                ..base()
            },
        ),
        with(
            "notes with delimiters, quotes and line ends",
            Style {
                notes: NOTES,
                ..base()
            },
        )
        .unmapped(&["Note"]),
        with("padded cells", Style { pad: 10, ..base() }),
        with(
            "padded quoted cells",
            Style {
                pad: 12,
                quotes: Quotes::All,
                ..base()
            },
        ),
        with(
            "trailing delimiters",
            Style {
                trailing: [true, true],
                ..base()
            },
        ),
        with(
            "trailing delimiters behind rows only",
            Style {
                trailing: [false, true],
                ..base()
            },
        ),
        extras("short rows", every(300, Extra::Torn(7))),
        extras("long rows", every(300, Extra::Long("17"))),
        extras(
            "short, long and cut rows together",
            [few(300, &Extra::Torn(40)), few(310, &Extra::Long("9"))].concat(),
        ),
        extras("blank rows", every(200, Extra::Blank(""))),
        extras(
            "blank rows of delimiters",
            every(200, Extra::Blank(",,,,,,,,")),
        ),
        extras(
            "a names row every fifteen seconds",
            every(300, Extra::Header),
        ),
        Variant::style(
            "names and units again",
            Style {
                units: Units::RowAfter,
                extras: few(300, &Extra::Header),
                ..base()
            },
        ),
        extras("lap markers", every(400, Extra::Text("--- lap marker ---"))),
        with(
            "a footer",
            Style {
                footer: vec!["", "End of log", "Rows written,6604"],
                ..base()
            },
        ),
        with(
            "a cut last row",
            Style {
                cut: Some(31),
                ..base()
            },
        ),
        with(
            "a cut last row behind CRLF",
            Style {
                cut: Some(31),
                end: "\r\n",
                ..base()
            },
        ),
        with("column names twice", base())
            .with(twice)
            .unmapped(&["MAP (kPa)", "Throttle (%)"]),
        with("column names empty", base())
            .with(unnamed)
            .unmapped(&["", ""]),
    ]
}

pub fn cells() -> Vec<Variant> {
    let missing = |name, missing| Variant::style(name, Style { missing, ..base() });
    let number = |name, number| Variant::style(name, Style { number, ..base() });
    let worded = |name, fuel, starter, fan| {
        Variant::run(name, |run: &mut Run| {
            run.col("fuel_cut").words = Some(fuel);
            run.col("starter").words = Some(starter);
            run.col("fan").words = Some(fan);
        })
    };
    vec![
        missing("NaN", &["NaN"]),
        missing("three dashes", &["---"]),
        missing("n/a", &["n/a"]),
        missing("one dash", &["-"]),
        missing("inf", &["inf"]),
        missing("1.#INF", &["1.#INF"]),
        missing(
            "every word for nothing",
            &[
                "", "NaN", "---", "n/a", "-", "inf", "1.#INF", "nan", "N/A", "-inf",
            ],
        ),
        number("exponents", |text| match text.parse::<f64>() {
            Ok(value) => format!("{value:e}"),
            Err(_) => text.to_owned(),
        }),
        number("no zero before the mark", |text| {
            match text.strip_prefix("0.") {
                Some(rest) => format!(".{rest}"),
                None => text.to_owned(),
            }
        }),
        number("plus signs", |text| {
            if text.starts_with('-') {
                text.to_owned()
            } else {
                format!("+{text}")
            }
        }),
        worded("on and off", ["off", "on"], ["Off", "On"], ["OFF", "ON"]),
        worded(
            "yes, open and true",
            ["no", "yes"],
            ["closed", "open"],
            ["FALSE", "TRUE"],
        ),
    ]
}

pub fn long() -> Vec<Variant> {
    let style = || Style {
        long: true,
        ..base()
    };
    vec![
        Variant::style("long form", style()),
        Variant::style(
            "long form with semicolons and decimal commas",
            Style {
                long: true,
                ..european()
            },
        ),
        Variant::style(
            "long form with tabs, UTF-16 and CRLF",
            Style {
                delimiter: '\t',
                end: "\r\n",
                letters: Letters::Utf16(true, true),
                ..style()
            },
        ),
        Variant::style("long form in Fahrenheit and psi", style())
            .with(customary)
            .alike(Alike::Near),
        Variant::style(
            "long form with a preamble and a footer",
            Style {
                preamble: lines(&["Run log: hill special", "# one reading a row"]),
                footer: vec!["End of log"],
                ..style()
            },
        ),
    ]
}

pub fn packed() -> Vec<Variant> {
    let with = |name, pack| Variant::style(name, base()).packed(pack);
    vec![
        with("gzip", Pack::Gzip).said(&["gzip"]),
        with("gzip in two members", Pack::GzipTwice).said(&["gzip"]),
        with("gzip under another name", Pack::GzipNamedCsv).said(&["gzip"]),
        with("zip with one log", Pack::Zip).said(&["zip"]),
        with("zip without compression", Pack::ZipStored).said(&["zip"]),
        with(
            "zip with a folder and a note beside the log",
            Pack::ZipWithNote,
        )
        .said(&["zip"]),
        with("zstd", Pack::Zstd).said(&["zstd"]),
        with("zstd in two frames", Pack::ZstdTwice).said(&["zstd"]),
    ]
}
