//! Several of these at once.

use super::body::NOTES;
use super::form::customary;
use super::traps::traps;
use super::{Alike, Variant, base, european, lines};
use crate::dialects::pack::Pack;
use crate::dialects::style::{Extra, Letters, Quotes, Stamp, Style, Units};

pub fn mixed() -> Vec<Variant> {
    let western = || Style {
        letters: Letters::Western,
        ..base()
    };
    let mut sugar = western();
    sugar.extras = (1..8).map(|n| (n * 500, Extra::Header)).collect();
    vec![
        Variant::style(
            "semicolons, decimal commas, UTF-16, a units row and CR",
            Style {
                letters: Letters::Utf16(true, true),
                units: Units::RowAfter,
                end: "\r",
                ..european()
            },
        ),
        Variant::style(
            "Latin-1 and tabs under gzip, in Fahrenheit",
            Style {
                delimiter: '\t',
                ..western()
            },
        )
        .with(customary)
        .packed(Pack::Gzip)
        .alike(Alike::Near),
        Variant::style(
            "long form, semicolons and UTF-16 in a zip",
            Style {
                long: true,
                letters: Letters::Utf16(true, true),
                ..european()
            },
        )
        .packed(Pack::Zip),
        Variant::style(
            "quotes, CRLF, footer and a cut row under zstd",
            Style {
                quotes: Quotes::All,
                end: "\r\n",
                cut: Some(40),
                ..base()
            },
        )
        .packed(Pack::Zstd),
        Variant::style(
            "two clock columns over midnight, headers and blank rows",
            Style {
                stamp: Stamp::TwoColumns(86_400 - 100),
                extras: vec![
                    (100, Extra::Blank("")),
                    (900, Extra::Header),
                    (2500, Extra::Blank(";;;")),
                    (4000, Extra::Header),
                ],
                footer: vec!["End of log"],
                ..european()
            },
        )
        .alike(Alike::Near),
        Variant::style(
            "a rate before the names, units before the names, decimal commas, no clock",
            Style {
                preamble: lines(&["Sample rate;20 Hz"]),
                units: Units::RowBefore,
                stamp: Stamp::None,
                ..european()
            },
        ),
        Variant::style(
            "Windows-1252, padding, trailing delimiters and words for nothing",
            Style {
                pad: 9,
                trailing: [true, true],
                missing: &["---", "n/a", "-"],
                ..sugar
            },
        ),
        Variant::style(
            "whole seconds, UTF-16 and pipes with switches in words",
            Style {
                stamp: Stamp::WholeSeconds,
                letters: Letters::Utf16(false, true),
                delimiter: '|',
                ..base()
            },
        )
        .with(|run| run.col("fuel_cut").words = Some(["off", "on"]))
        .alike(Alike::Near),
        Variant::style(
            "time of day with decimal commas, quotes and torn rows in a zip",
            Style {
                stamp: Stamp::Clock(36_000),
                quotes: Quotes::All,
                extras: vec![(50, Extra::Torn(3)), (3000, Extra::Torn(20))],
                ..european()
            },
        )
        .packed(Pack::Zip)
        .alike(Alike::Near),
        Variant::style(
            "notes with line ends, CRLF, thousands and a large offset",
            Style {
                notes: NOTES,
                end: "\r\n",
                group: Some(','),
                stamp: Stamp::Seconds(3, 50_000_000.0),
                delimiter: ';',
                ..base()
            },
        )
        .with(|run| run.col("rpm").decimals = 1)
        .unmapped(&["Note"])
        .alike(Alike::Near),
        Variant::style(
            "ISO 8601 with a zone, tabs, no units, on and off",
            Style {
                stamp: Stamp::Dated("T", "+02:00"),
                clock: ("Timestamp", ""),
                delimiter: '\t',
                units: Units::Absent,
                ..base()
            },
        )
        .with(|run| run.col("starter").words = Some(["Off", "On"]))
        .alike(Alike::Near),
        Variant::run(
            "AFR, shares, knock a row and a gauge sensor together",
            |run| {
                for trap in traps() {
                    for col in trap.run.cols {
                        let plain = run
                            .cols
                            .iter_mut()
                            .find(|c| c.standard == col.standard && !col.standard.is_empty());
                        if let Some(plain) = plain.filter(|p| p.cells == p.truth) {
                            *plain = col;
                        }
                    }
                }
            },
        )
        .styled(european())
        .alike(Alike::Verdicts),
    ]
}
