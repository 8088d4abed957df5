//! The table: one line or a few for each variant of the run.

use super::pack::Pack;
use super::run::{Run, run};
use super::write::{Extra, Letters, Quotes, Stamp, Style, Units};

/// How like the plain variant's a review must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Alike {
    /// Every check, letter by letter and figure by figure.
    Exact,
    /// The same verdicts and words; figures apart by what printing in another unit or a rounded clock costs.
    Near,
    /// The same verdicts and cylinders: the variant holds less than the plain one.
    Verdicts,
}

/// One way to write the run.
#[derive(Clone, Debug)]
pub struct Variant {
    pub name: &'static str,
    pub run: Run,
    pub style: Style,
    pub pack: Pack,
    pub alike: Alike,
    /// Words that `channels` must say of it, in small letters.
    pub said: Vec<&'static str>,
    /// Headings without a standard name, besides those of the plain run.
    pub unmapped: Vec<&'static str>,
}

impl Variant {
    fn style(name: &'static str, style: Style) -> Self {
        Self {
            name,
            run: run(),
            style,
            pack: Pack::None,
            alike: Alike::Exact,
            said: Vec::new(),
            unmapped: Vec::new(),
        }
    }

    fn run(name: &'static str, change: impl FnOnce(&mut Run)) -> Self {
        let mut variant = Self::style(name, Style::default());
        change(&mut variant.run);
        variant
    }

    fn with(mut self, change: impl FnOnce(&mut Run)) -> Self {
        change(&mut self.run);
        self
    }

    fn styled(mut self, style: Style) -> Self {
        self.style = style;
        self
    }

    fn packed(mut self, pack: Pack) -> Self {
        self.pack = pack;
        self
    }

    fn alike(mut self, alike: Alike) -> Self {
        self.alike = alike;
        self
    }

    fn said(mut self, words: &[&'static str]) -> Self {
        self.said.extend(words);
        self
    }

    fn unmapped(mut self, headings: &[&'static str]) -> Self {
        self.unmapped.extend(headings);
        self
    }
}

/// All of them; the first is the plain one.
pub fn all() -> Vec<Variant> {
    let parts = [
        marks(),
        units(),
        preambles(),
        clocks(),
        letters(),
        layout(),
        cells(),
        long(),
        packed(),
        traps(),
        mixed(),
    ];
    parts.into_iter().flatten().collect()
}

fn base() -> Style {
    Style::default()
}

/// Semicolon and decimal comma, as spreadsheets in half of Europe write them.
fn european() -> Style {
    Style {
        delimiter: ';',
        decimal: ',',
        ..base()
    }
}

fn lines(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|l| (*l).to_owned()).collect()
}

fn marks() -> Vec<Variant> {
    let parted = |name, delimiter| {
        Variant::style(
            name,
            Style {
                delimiter,
                ..base()
            },
        )
    };
    let comma = |name, delimiter| {
        Variant::style(
            name,
            Style {
                delimiter,
                decimal: ',',
                ..base()
            },
        )
        .said(&["decimal mark is `,`"])
    };
    // Only speed and volts of the run pass a thousand where a group mark would show.
    let grouped =
        |name, style: Style| Variant::style(name, style).with(|run| run.col("rpm").decimals = 1);
    vec![
        Variant::style("plain", base()).said(&["`,`", "utf-8"]),
        parted("semicolons", ';').said(&["`;`"]),
        parted("tabs", '\t').said(&["tab"]),
        parted("pipes", '|').said(&["`|`"]),
        comma("semicolons and decimal commas", ';'),
        comma("tabs and decimal commas", '\t'),
        comma("pipes and decimal commas", '|'),
        comma("commas and quoted decimal commas", ','),
        grouped(
            "thousands with commas, quoted",
            Style {
                group: Some(','),
                ..base()
            },
        ),
        grouped(
            "thousands with commas between semicolons",
            Style {
                delimiter: ';',
                group: Some(','),
                ..base()
            },
        ),
        grouped(
            "thousands with points and decimal commas",
            Style {
                group: Some('.'),
                ..european()
            },
        ),
    ]
}

/// The run in the units of a workshop that counts in Fahrenheit, psi and miles.
fn customary(run: &mut Run) {
    for name in [
        "coolant_temp",
        "intake_temp",
        "oil_temp",
        "egt_1",
        "egt_2",
        "egt_3",
        "egt_4",
        "egt_5",
        "egt_6",
        "bay_temp",
    ] {
        run.in_unit(name, "degF", 1.8, 32.0, 1);
    }
    // NIST SP 811, appendix B: 1 psi = 6.894757 kPa; 1 mi = 1.609344 km.
    for name in ["oil_pressure", "fuel_pressure", "map", "baro"] {
        run.in_unit(name, "psi", 1.0 / 6.894_757, 0.0, 3);
    }
    run.in_unit("speed", "mph", 1.0 / 1.609_344, 0.0, 2);
}

/// The run in bar, kelvin and metres.
fn metric(run: &mut Run) {
    for name in [
        "coolant_temp",
        "oil_temp",
        "intake_temp",
        "egt_1",
        "egt_2",
        "egt_3",
        "egt_4",
        "egt_5",
        "egt_6",
    ] {
        run.in_unit(name, "K", 1.0, 273.15, 2);
    }
    run.in_unit("oil_pressure", "bar", 0.01, 0.0, 3);
    run.in_unit("fuel_pressure", "bar", 0.01, 0.0, 3);
    run.in_unit("map", "mbar", 10.0, 0.0, 0);
    run.in_unit("baro", "hPa", 10.0, 0.0, 0);
    run.in_unit("battery_v", "mV", 1000.0, 0.0, 0);
    // NIST SP 811: standard gravity, 9.80665 m/s2.
    run.in_unit("lateral_g", "m/s2", 9.806_65, 0.0, 3);
    run.in_unit("injector_pulse", "us", 1000.0, 0.0, 0);
}

fn units() -> Vec<Variant> {
    let put = |name, units| Variant::style(name, Style { units, ..base() });
    let own = |name, units, change: fn(&mut Run)| put(name, units).with(change).alike(Alike::Near);
    let degrees = |run: &mut Run| {
        for col in run.cols.iter_mut().filter(|c| c.unit == "degC") {
            "\u{b0}C".clone_into(&mut col.unit);
        }
    };
    vec![
        put("units in square brackets", Units::Square),
        put("units in a row after the names", Units::RowAfter).said(&["units"]),
        put("units in a row before the names", Units::RowBefore).said(&["units"]),
        put("units glued to the names", Units::Glued),
        put("no units", Units::Absent),
        put("degree signs in UTF-8", Units::Round).with(degrees),
        own(
            "Fahrenheit, psi and miles in brackets",
            Units::Round,
            customary,
        ),
        own(
            "Fahrenheit, psi and miles in a units row",
            Units::RowAfter,
            customary,
        ),
        own(
            "Fahrenheit, psi and miles glued to the names",
            Units::Glued,
            customary,
        ),
        own(
            "kelvin, bar and metres a second squared",
            Units::RowAfter,
            metric,
        ),
        own(
            "no units, Fahrenheit and psi told by their range",
            Units::Absent,
            |run| {
                for name in ["coolant_temp", "oil_temp"] {
                    run.in_unit(name, "", 1.8, 32.0, 1);
                }
                run.in_unit("oil_pressure", "", 1.0 / 6.894_757, 0.0, 3);
                run.in_unit("map", "", 1.0 / 6.894_757, 0.0, 3);
                run.in_unit("baro", "", 1.0 / 6.894_757, 0.0, 3);
            },
        )
        .said(&["inferred"]),
        own("no units, bar told by its range", Units::Absent, |run| {
            run.in_unit("oil_pressure", "", 0.01, 0.0, 3);
            run.in_unit("fuel_pressure", "", 0.01, 0.0, 3);
        })
        .said(&["inferred"]),
    ]
}

fn preambles() -> Vec<Variant> {
    let after = |name, preamble| Variant::style(name, Style { preamble, ..base() });
    let many = |count: usize| {
        (0..count)
            .map(|n| format!("# setting {n} = {}", n * 7 % 100))
            .collect()
    };
    let pairs = lines(&[
        "Car,Hill special",
        "Driver,",
        "Date,2025-06-14",
        "Channels,40",
        "",
        "Fuel,E85",
        "Ratio,9.0",
    ]);
    let no_clock = |name, preamble: &[&str]| {
        Variant::style(
            name,
            Style {
                preamble: lines(preamble),
                stamp: Stamp::None,
                ..base()
            },
        )
        .said(&["20"])
    };
    vec![
        after("keys and values before the names", pairs),
        after("sixty comment lines", many(60)),
        after("five thousand comment lines", many(5000)),
        after(
            "a title with many commas",
            lines(&["Run log, hill special, second run, dry, 18 degC, wind light, E85"]),
        ),
        after(
            "a date before seconds",
            lines(&["Date: 2025-06-14", "Start: 15:59:00", ""]),
        ),
        no_clock(
            "no clock but a row rate",
            &["Run log", "Sample rate: 20 Hz"],
        ),
        no_clock(
            "no clock but a rate as key and value",
            &["Run log,hill", "Sample Rate (Hz),20"],
        ),
        no_clock("no clock but a period", &["# sample interval: 50 ms"]),
    ]
}

fn clocks() -> Vec<Variant> {
    let with = |name, stamp, clock| {
        Variant::style(
            name,
            Style {
                stamp,
                clock,
                ..base()
            },
        )
    };
    let time = ("Time", "");
    let afternoon = 15 * 3600 + 59 * 60;
    let before_midnight = 86_400 - 100;
    vec![
        with("milliseconds", Stamp::Ticks(1000, "ms", 0), time),
        with(
            "milliseconds without a unit",
            Stamp::Ticks(1000, "", 0),
            time,
        ),
        with("microseconds", Stamp::Ticks(1_000_000, "us", 0), time),
        with("micro sign", Stamp::Ticks(1_000_000, "\u{b5}s", 0), time),
        with("time of day", Stamp::Clock(afternoon), time).alike(Alike::Near),
        with(
            "time of day over midnight",
            Stamp::Clock(before_midnight),
            time,
        )
        .alike(Alike::Near),
        with("hours that begin at zero", Stamp::Clock(0), time),
        with("minutes and seconds", Stamp::Minutes, time),
        with("ISO 8601 in UTC", Stamp::Dated("T", "Z"), ("Timestamp", "")).alike(Alike::Near),
        with(
            "ISO 8601 with a zone",
            Stamp::Dated("T", "+02:00"),
            ("Timestamp", ""),
        )
        .alike(Alike::Near),
        with(
            "date and time in one cell",
            Stamp::Dated(" ", ""),
            ("Date Time", ""),
        )
        .alike(Alike::Near),
        with(
            "date and time in two columns",
            Stamp::TwoColumns(afternoon),
            time,
        )
        .alike(Alike::Near),
        with(
            "date and time in two columns over midnight",
            Stamp::TwoColumns(before_midnight),
            time,
        )
        .alike(Alike::Near),
        with(
            "a large offset",
            Stamp::Seconds(2, 812_345.0),
            ("Time", "s"),
        )
        .alike(Alike::Near),
        with(
            "seconds since 1970",
            Stamp::Seconds(3, 1_749_916_740.0),
            ("Timestamp", "s"),
        )
        .alike(Alike::Near),
        with(
            "milliseconds since 1970",
            Stamp::Ticks(1000, "", 1_749_916_740_000),
            ("Timestamp", ""),
        )
        .alike(Alike::Near),
        with(
            "whole seconds that repeat",
            Stamp::WholeSeconds,
            ("Time", "s"),
        )
        .alike(Alike::Near),
        with(
            "whole seconds of the day that repeat",
            Stamp::WholeClock(afternoon),
            time,
        )
        .alike(Alike::Near),
        Variant::style(
            "a clock in the fourth column",
            Style {
                clock_at: 3,
                ..base()
            },
        ),
        Variant::style(
            "date and time with a decimal comma",
            Style {
                stamp: Stamp::Dated(" ", ""),
                clock: ("Date Time", ""),
                ..european()
            },
        )
        .alike(Alike::Near),
    ]
}

fn letters() -> Vec<Variant> {
    let with = |name, letters| {
        let mut style = Style { letters, ..base() };
        style.preamble = lines(&["Run log: \u{d6}l und K\u{fc}hlung, 18 \u{b0}C"]);
        let mut variant = Variant::style(name, style);
        for col in variant.run.cols.iter_mut().filter(|c| c.unit == "degC") {
            "\u{b0}C".clone_into(&mut col.unit);
        }
        variant
    };
    let mut windows = with("Windows-1252", Letters::Western);
    windows
        .style
        .preamble
        .push("Dry \u{2013} second run\u{2026} entry fee 40 \u{20ac}".to_owned());
    windows.style.stamp = Stamp::Ticks(1_000_000, "\u{b5}s", 0);
    vec![
        with("UTF-8 with a mark", Letters::Utf8(true)).said(&["byte order mark"]),
        with("UTF-16, low byte first", Letters::Utf16(true, true)).said(&["utf-16"]),
        with("UTF-16, high byte first", Letters::Utf16(false, true)).said(&["utf-16"]),
        with(
            "UTF-16, low byte first, without a mark",
            Letters::Utf16(true, false),
        )
        .said(&["utf-16"]),
        with(
            "UTF-16, high byte first, without a mark",
            Letters::Utf16(false, false),
        )
        .said(&["utf-16"]),
        with("Latin-1", Letters::Western).said(&["latin-1"]),
        windows.said(&["1252"]),
    ]
}

const NOTES: &[&str] = &["", "dry, warm", "said \"go\"\nthen went", "", "a;b|c"];

fn layout() -> Vec<Variant> {
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

fn cells() -> Vec<Variant> {
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

fn long() -> Vec<Variant> {
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

fn packed() -> Vec<Variant> {
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

/// Baro of the run at rest, kPa, which a sealed gauge sensor would take off.
fn rest_kpa(run: &mut Run) -> f64 {
    run.col("baro")
        .truth
        .iter()
        .flatten()
        .copied()
        .next()
        .expect("baro is logged")
}

fn traps() -> Vec<Variant> {
    let headed = |standard: &'static str, name: &'static str| {
        move |run: &mut Run| name.clone_into(&mut run.col(standard).name)
    };
    let afr = |run: &mut Run| {
        run.in_unit("lambda", "", 14.7, 0.0, 2);
        run.in_unit("lambda_target", "", 14.7, 0.0, 2);
        headed("lambda", "AFR")(run);
        headed("lambda_target", "AFR Target")(run);
    };
    let gauge = |run: &mut Run| {
        let rest = rest_kpa(run);
        run.in_unit("map", "kPa", 1.0, -rest, 1);
        // The car climbs: what is added again may be the air at rest or the air of the moment.
        run.col("map").within = 3.0;
    };
    // Of the knock channels only those by cylinder are counts for sure.
    let per_row = |run: &mut Run| {
        for col in run
            .cols
            .iter_mut()
            .filter(|c| c.name.starts_with("Knock Cyl"))
        {
            let mut before = 0.0;
            for cell in col.cells.iter_mut().flatten() {
                let count = *cell;
                *cell = count - before;
                before = count;
            }
        }
    };
    let share = |names: &'static [&'static str]| {
        move |run: &mut Run| {
            names
                .iter()
                .for_each(|name| run.in_unit(name, "", 0.01, 0.0, 3))
        }
    };
    vec![
        Variant::run("air-fuel ratio on petrol's scale", afr)
            .alike(Alike::Near)
            .said(&["14.7"]),
        Variant::run("manifold pressure over the air", gauge)
            .alike(Alike::Verdicts)
            .said(&["rest"]),
        Variant::run("shares from 0 to 1", share(&["tps", "injector_duty"])).alike(Alike::Near),
        Variant::run("throttle alone from 0 to 1", share(&["tps"])).alike(Alike::Near),
        Variant::run("acceleration in metres without a unit", |run: &mut Run| {
            run.in_unit("lateral_g", "", 9.806_65, 0.0, 3);
            headed("lateral_g", "Lateral Acceleration")(run);
        })
        .alike(Alike::Near),
        Variant::run("knock counted in each row", per_row),
    ]
}

fn mixed() -> Vec<Variant> {
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
