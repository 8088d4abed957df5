//! One awkward trace of each kind, drawn by both backends.

use super::*;
use crate::findings::{Line, Series};
use crate::span::{Span, Spans};
use crate::units::Unit;

fn series(label: &str, points: impl IntoIterator<Item = (f64, f64)>) -> Series {
    Series {
        label: label.to_string(),
        points: points.into_iter().collect(),
    }
}

fn trace(title: &str, unit: &str, series: Vec<Series>) -> Trace {
    Trace {
        title: title.to_string(),
        across: None,
        unit: Unit::standard(unit),
        series,
        lines: Vec::new(),
        marked: Spans::default(),
    }
}

fn line(label: &str, at: f64) -> Line {
    Line {
        label: label.to_string(),
        at,
    }
}

/// A wobble without a random generator: the same at every run.
fn wobble(i: usize, seed: usize) -> f64 {
    let x = (i * 7919 + seed * 104_729) % 1000;
    x as f64 / 500.0 - 1.0
}

fn samples() -> Vec<(&'static str, Trace)> {
    let egt = (1..=6)
        .map(|cylinder| {
            let base = 760.0 + 6.0 * f64::from(cylinder);
            let points = (0..1500).map(|i| {
                let t = i as f64 * 0.04 + 195.0;
                let warm = base * (1.0 - (-(t - 190.0) / 6.0).exp());
                let odd = if cylinder == 4 && (201.0..239.4).contains(&t) {
                    -212.0 * (1.0 - (-(t - 201.0) / 2.5).exp())
                } else {
                    0.0
                };
                (t, warm + odd + 4.0 * wobble(i, cylinder as usize))
            });
            series(&format!("egt_{cylinder}"), points)
        })
        .collect();
    let mut family = trace("Exhaust temperature by cylinder", "degC", egt);
    family.lines.push(line("limit", 850.0));
    family.marked = Spans::one(201.0, 239.4);

    let volts = (0..1400).map(|i| {
        let rpm = 900.0 + 4.4 * i as f64;
        let v = if rpm < 4200.0 {
            14.1 - 0.9 * (-(rpm - 900.0) / 500.0).exp()
        } else {
            14.1 - (rpm - 4200.0) / 1800.0
        };
        (rpm, v + 0.08 * wobble(i, 1))
    });
    let mut scatter = trace(
        "Voltage against engine speed",
        "V",
        vec![series("battery_v", volts)],
    );
    scatter.across = Some(crate::findings::Across::of("rpm", Unit::standard("rpm")));
    scatter.lines = vec![line("plateau", 13.8), line("regulator", 14.2)];

    let coolant = (0..1500).map(|i| {
        let t = i as f64 * 0.42;
        let gap = (210.0..265.0).contains(&t);
        (
            t,
            if gap {
                f64::NAN
            } else {
                18.0 + 74.0 * (1.0 - (-t / 140.0).exp()) + wobble(i, 3)
            },
        )
    });
    let oil = (0..1500).map(|i| {
        (
            i as f64 * 0.42,
            18.0 + 90.0 * (1.0 - (-(i as f64) * 0.42 / 260.0).exp()),
        )
    });
    let mut long = trace(
        "Warming up",
        "degC",
        vec![series("coolant_temp", coolant), series("oil_temp", oil)],
    );
    long.marked = Spans::new(
        (0..9)
            .map(|i| Span {
                from_s: 40.0 + 60.0 * f64::from(i),
                to_s: 41.0 + 65.0 * f64::from(i),
            })
            .collect(),
    );
    long.lines = vec![
        line("limit", 105.0),
        line("warn", 103.0),
        line("far limit", 900.0),
    ];

    let mut flat = trace(
        "Supply to the sensors",
        "V",
        vec![series(
            "sensor_supply",
            (0..200).map(|i| (i as f64 * 0.1, 5.0)),
        )],
    );
    flat.lines.push(line("nominal", 5.0));
    let empty = trace("Nothing logged", "kPa", vec![series("oil_pressure", [])]);
    let nothing = trace(
        "Only gaps",
        "kPa",
        vec![series(
            "oil_pressure",
            (0..100).map(|i| (f64::from(i), f64::NAN)),
        )],
    );
    let mut huge = trace(
        "Broken cells among readings",
        "kPa",
        vec![series(
            "map",
            (0..100).map(|i| {
                (
                    f64::from(i),
                    match i {
                        40 => 1e300,
                        60 => f64::INFINITY,
                        _ => 3e9 + 2e7 * f64::from(i),
                    },
                )
            }),
        )],
    );
    huge.lines.push(line("limit", f64::NAN));
    let mut awkward = trace(
        "Ladedruck für Zylinder \"3\" & <script>alert(1)</script> with a title that is much too long for any page and goes on and on until it has to be cut",
        "lambda",
        vec![
            series(
                "Sonde <b>hinten</b> | Bank ü & a name without end_end_end_end_end",
                (0..50).map(|i| (f64::from(i), 0.8 + 0.002 * f64::from(i))),
            ),
            series("", (0..50).map(|i| (f64::from(i), 0.85))),
            series("one\u{1b}[31m point", [(25.0, 0.9)]),
        ],
    );
    awkward.lines.push(line("a limit with <angle> & amp", 0.88));
    let crowd = trace(
        "Twenty-eight series",
        "%",
        (0..28)
            .map(|s| {
                series(
                    &format!("trim_{s}"),
                    (0..60).map(move |i| (f64::from(i), f64::from(s % 5) + f64::from(i) * 0.01)),
                )
            })
            .collect(),
    );
    vec![
        ("family", family),
        ("scatter", scatter),
        ("long", long),
        ("flat", flat),
        ("empty", empty),
        ("nothing", nothing),
        ("huge", huge),
        ("awkward", awkward),
        ("crowd", crowd),
    ]
}

fn american() -> Reading {
    Reading {
        fahrenheit: true,
        pressure: crate::units::PressureUnit::Psi,
        mph: true,
    }
}

#[test]
fn every_sample_draws_twice_alike() {
    for (name, trace) in samples() {
        for size in [Size::PAGE, Size::PHONE, Size::new(1, 1)] {
            let first = svg(&trace, &american(), size).expect(name);
            assert_eq!(first, svg(&trace, &american(), size).expect(name), "{name}");
            assert!(!first.contains("NaN") && !first.contains("inf"), "{name}");
            assert!(
                !first.chars().any(|c| c.is_control() && c != '\n'),
                "{name}"
            );
            assert!(first.trim_end().ends_with("</svg>"), "{name}");
            assert_eq!(
                first.matches("<text").count(),
                first.matches("</text>").count()
            );
            assert!(first.contains("font-family=\"sans-serif\""), "{name}");
            let bytes = png(&trace, &american(), size).expect(name);
            assert_eq!(bytes[..8], *b"\x89PNG\r\n\x1a\n", "{name}");
            assert_eq!(bytes, png(&trace, &american(), size).expect(name), "{name}");
        }
    }
}

#[test]
fn words_are_words_and_markup_is_not() {
    let all = samples();
    let find = |name: &str| &all.iter().find(|s| s.0 == name).expect(name).1;
    let awkward = svg(find("awkward"), &Reading::default(), Size::PAGE).expect("drawn");
    assert!(
        !awkward.contains("<script") && !awkward.contains("<b>"),
        "{awkward}"
    );
    assert!(awkward.contains("&lt;script&gt;"));
    let family = svg(find("family"), &american(), Size::PAGE).expect("drawn");
    for words in [
        "egt_1",
        "egt_6",
        "limit 1562 degF",
        "temperature, degF",
        "time, s",
    ] {
        assert!(family.contains(words), "{words}");
    }
    let long = svg(find("long"), &Reading::default(), Size::PAGE).expect("drawn");
    assert!(long.contains("time, min:s") && long.contains("10:00"));
    assert!(long.contains("far limit 900 degC (off the top)"));
    assert!(
        svg(find("empty"), &Reading::default(), Size::PAGE)
            .expect("drawn")
            .contains("no readings to draw")
    );
    assert!(
        !svg_in_page(find("family"), &american(), Size::PAGE, Manner::default())
            .expect("drawn")
            .0
            .contains("http")
    );
}

/// The steps of a path on a page lead where the points of the drawing stand.
#[test]
fn a_page_draws_the_same_line_in_fewer_letters() {
    let all = samples();
    for name in ["family", "long", "scatter", "flat"] {
        let trace = &all.iter().find(|s| s.0 == name).expect(name).1;
        let whole = svg(trace, &Reading::default(), Size::PAGE).expect("drawn");
        let (page, _) =
            svg_in_page(trace, &Reading::default(), Size::PAGE, Manner::default()).expect("drawn");
        assert!(page.len() < whole.len() * 3 / 4 || name == "flat", "{name}");
        let wanted: Vec<Vec<(f64, f64)>> = whole
            .lines()
            .filter(|l| l.starts_with("<polyline"))
            .flat_map(|l| polylines(l, ""))
            .map(|mut line| {
                line.dedup();
                line
            })
            .collect();
        let drawn: Vec<Vec<(f64, f64)>> = page
            .lines()
            .filter_map(|l| {
                l.strip_prefix("<path")?
                    .split_once("d=\"m")?
                    .1
                    .split_once('"')
            })
            .map(|(steps, _)| {
                let spaced = steps.replace('-', " -").replace(',', " ");
                let numbers: Vec<f64> = spaced
                    .split_whitespace()
                    .map(|n| n.parse().expect("a number"))
                    .collect();
                let mut at = (0.0, 0.0);
                let step = |pair: &[f64]| {
                    at = (at.0 + pair[0], at.1 + pair[1]);
                    at
                };
                numbers.chunks(2).map(step).collect()
            })
            .collect();
        assert!(wanted.len() > 5, "{name}");
        assert_eq!(drawn, wanted, "{name}");
    }
}

/// Points of a polyline as drawn, for a check of what stands on the paper against what was logged.
fn polylines(svg: &str, colour: &str) -> Vec<Vec<(f64, f64)>> {
    svg.lines()
        .filter(|l| l.starts_with("<polyline") && l.contains(colour))
        .filter_map(|l| l.split_once("points=\"")?.1.split_once('"'))
        .map(|(points, _)| {
            points
                .split_whitespace()
                .filter_map(|p| p.split_once(','))
                .filter_map(|(x, y)| Some((x.parse().ok()?, y.parse().ok()?)))
                .collect()
        })
        .collect()
}

/// One series that bears the picture's name is not named again beside its line, and has the room.
#[test]
fn a_name_is_written_once() {
    let points = || (0..50).map(|i| (f64::from(i), f64::from(i % 7)));
    let written = |title: &str| {
        let one = trace(title, "V", vec![series("battery_v", points())]);
        let drawn = svg(&one, &Reading::default(), Size::PHONE).expect("drawn");
        let inside = drawn.split_once("</desc>").expect("a description").1;
        (
            inside.matches("battery_v").count(),
            polylines(&drawn, "#0072B2")
                .iter()
                .flatten()
                .map(|p| p.0)
                .fold(0.0, f64::max),
        )
    };
    let (alone, beside) = (written("battery_v"), written("Supply"));
    assert_eq!((alone.0, beside.0), (1, 1));
    // At the right: the end of the line, and the end of the swatch before the name.
    assert!(alone.1 > 2.0 * 325.0, "{alone:?}");
}

#[test]
fn a_gap_in_the_log_is_a_gap_on_paper() {
    let all = samples();
    let long = &all.iter().find(|s| s.0 == "long").expect("long").1;
    let drawn = svg(long, &Reading::default(), Size::PAGE).expect("drawn");
    // The first colour draws coolant_temp: two pieces, then its leader and swatch.
    let pieces = polylines(&drawn, "#0072B2");
    let wide: Vec<&Vec<(f64, f64)>> = pieces.iter().filter(|p| p.len() > 20).collect();
    assert_eq!(wide.len(), 2, "one line on each side of the gap");
    let hole = wide[1][0].0 - wide[0][wide[0].len() - 1].0;
    let whole = wide[1][wide[1].len() - 1].0 - wide[0][0].0;
    assert!(
        (hole / whole - 55.0 / 629.6).abs() < 0.005,
        "{hole} of {whole}"
    );
}

/// A sharp corner must not grow into a peak that nobody logged: of the lowest line, wobbling within each pixel column,
/// no ink stands further below than its lowest reading and half a marker.
#[test]
fn a_corner_reaches_no_further_than_it_was_logged() {
    let all = samples();
    let family = &all.iter().find(|s| s.0 == "family").expect("family").1;
    let svg = svg(family, &Reading::default(), Size::PAGE).expect("drawn");
    let lines = polylines(&svg, "#0072B2");
    let line = lines.iter().max_by_key(|l| l.len()).expect("egt_1");
    let right = line.last().expect("a point").0;
    // The last part of the log, where nothing is shaded and the line runs level.
    let level: Vec<(f64, f64)> = line
        .iter()
        .copied()
        .filter(|p| p.0 > right - 250.0)
        .collect();
    let lowest = level.iter().map(|p| p.1).fold(0.0, f64::max);

    let bytes = png(family, &Reading::default(), Size::PAGE).expect("drawn");
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .expect("PNG");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut pixels).expect("PNG");
    let blue = |x: usize, y: usize| {
        let at = (y * info.width as usize + x) * 3;
        pixels[at + 2] > pixels[at].saturating_add(60)
    };
    let columns = (level[0].0 as usize)..(right as usize - 2);
    let inked = (0..info.height as usize)
        .filter(|y| columns.clone().any(|x| blue(x, *y)))
        .max();
    let inked = inked.expect("some ink") as f64;
    let marker = 3.6 * 2.0;
    assert!(
        inked >= lowest - 3.0,
        "the line itself is not found: {inked}, {lowest}"
    );
    assert!(
        inked <= lowest + marker + 2.0,
        "ink down to {inked}, the line only to {lowest}"
    );
}

/// Writes the samples for the eye: `PLUGREAD_PICTURES=dir cargo test pictures -- --ignored`.
#[test]
#[ignore = "for the eye only"]
fn pictures() {
    let Some(folder) = std::env::var_os("PLUGREAD_PICTURES") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    for (name, trace) in samples() {
        for (size, of) in [(Size::PAGE, "page"), (Size::PHONE, "phone")] {
            std::fs::write(
                folder.join(format!("{name}-{of}.png")),
                png(&trace, &Reading::default(), size).unwrap(),
            )
            .unwrap();
            std::fs::write(
                folder.join(format!("{name}-{of}.svg")),
                svg(&trace, &Reading::default(), size).unwrap(),
            )
            .unwrap();
        }
    }
}
