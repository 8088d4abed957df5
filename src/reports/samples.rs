//! Made-up reviews for the tests: one with everything awkward in it, and the sparse ones.

use std::collections::BTreeSet;

use crate::findings::{
    ChannelFacts, Diagnosis, Figure, Finding, Graph, LimitUsed, Line, LogFacts, NotRun, PhaseSpan,
    ProblemFacts, Review, Series, Text, Trace, Verdict, assemble, mark,
};
use crate::span::{Span, Spans};
use crate::units::{PressureUnit, Reading, Unit};

/// A word that fits on no line.
pub const LONG_WORD: &str = "Abgastemperatur_hinten_links_Zylinder_vier_ungefiltert_Rohwert_ohne_Korrektur_im_Bereich_bis_1200_Grad";

/// Markup of several kinds, as a column header could hold it.
pub const MARKUP: &str = "Sonde \"hinten\" | Öl & <script>alert('x')</script> *fett* `code`";

fn unit(symbol: &str) -> Unit {
    Unit::standard(symbol)
}

fn figure(value: f64, symbol: &str) -> Figure {
    Figure {
        value,
        unit: unit(symbol),
    }
}

fn limit(value: f64, symbol: &str, from: &str) -> LimitUsed {
    LimitUsed {
        figure: figure(value, symbol),
        from: from.to_string(),
    }
}

fn names(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|s| (*s).to_string()).collect()
}

fn made(id: &str, system: &str, title: &str, verdict: Verdict, reason: impl Into<Text>) -> Finding {
    let mut f = Finding::new(id, verdict, reason);
    f.system = system.to_string();
    f.title = title.to_string();
    f
}

fn absent(id: &str, kind: NotRun, reason: &str, question: &str) -> Finding {
    let mut f = made(id, "sensors", id, Verdict::NotRun, reason);
    f.not_run_kind = Some(kind);
    if !question.is_empty() {
        f.questions.push(question.into());
    }
    f
}

/// A small trace with a dip of one cylinder.
fn egt() -> Trace {
    let series = (1..=3).map(|cylinder| {
        let points = (0..200).map(|i| {
            let t = 195.0 + f64::from(i) * 0.3;
            let odd = cylinder == 3 && (201.0..239.4).contains(&t);
            (
                t,
                700.0 + 9.0 * f64::from(cylinder) - if odd { 212.0 } else { 0.0 },
            )
        });
        Series {
            label: format!("egt_{cylinder}"),
            points: points.collect(),
        }
    });
    Trace {
        title: format!("Exhaust temperature: {MARKUP}"),
        across: None,
        unit: unit("degC"),
        series: series.collect(),
        lines: vec![Line {
            label: "limit".into(),
            at: 850.0,
        }],
        marked: Spans::one(201.0, 239.4),
    }
}

fn charge() -> Finding {
    let mut f = made(
        "charge-vs-speed",
        "charging",
        "Charging voltage against engine speed",
        Verdict::Warn,
        format!(
            "Voltage fell from {} to {} as the speed rose past {}.",
            mark(14.1, unit("V")),
            mark(12.4, unit("V")),
            mark(5200.0, unit("rpm"))
        ),
    );
    f.spans = Spans::new(
        (0..9)
            .map(|i| Span {
                from_s: 20.0 + 40.0 * f64::from(i),
                to_s: 24.0 + 41.0 * f64::from(i),
            })
            .collect(),
    );
    f.numbers = vec![
        ("sag".into(), figure(1.7, "V")),
        ("cut_in_speed".into(), figure(1480.0, "rpm")),
        ("fade".into(), figure(f64::NAN, "V/s")),
    ];
    f.limits = vec![("sag".into(), limit(0.4, "V", "common practice"))];
    f.next_step = Some("Look at the belt for glaze with the engine off, then tighten it and run again: if the voltage holds, it slipped.".into());
    f.cautions = vec!["battery".into(), "rotating-parts".into()];
    f.used = names(&["battery_v", "rpm"]);
    f.judged = names(&["battery_v"]);
    f
}

fn oil() -> Finding {
    let mut f = made(
        "oil-vs-speed",
        "oil",
        "Oil pressure for its speed",
        Verdict::Warn,
        format!(
            "Oil pressure was {} at {} for {}.",
            mark(60.0, unit("kPa")),
            mark(4500.0, unit("rpm")),
            mark(3.1, unit("s"))
        ),
    );
    f.spans = Spans::one(118.2, 121.3);
    f.numbers = vec![("lowest".into(), figure(60.0, "kPa"))];
    f.limits = vec![
        ("lowest".into(), limit(310.0, "kPa", "build sheet")),
        ("hold".into(), limit(0.5, "s", "common practice")),
    ];
    f.stop_now = Some(
        format!(
            "Oil pressure fell to {} under load.",
            mark(60.0, unit("kPa"))
        )
        .into(),
    );
    f.next_step = Some("Do not restart. Check the level the way the system requires, then open the filter and look for metal.".into());
    f.cautions = vec!["oil-pressure".into()];
    f.used = names(&["oil_pressure", "rpm"]);
    f.judged = names(&["oil_pressure"]);
    f
}

fn spread() -> Finding {
    let mut f = made(
        "egt-spread",
        "exhaust",
        "EGT spread across cylinders",
        Verdict::Warn,
        format!(
            "Cylinder 3 ran {} under the others; {MARKUP}; {LONG_WORD}.",
            mark(212.0, unit("degC difference"))
        ),
    );
    f.cylinders = vec![3, 4];
    f.spans = Spans::one(201.0, 239.4);
    f.numbers = vec![
        ("spread".into(), figure(212.04, "degC difference")),
        ("coldest".into(), figure(488.0, "degC")),
    ];
    f.limits = vec![(
        "spread".into(),
        limit(80.0, "degC difference", "a page | with a \"pipe\""),
    )];
    f.next_step = Some("Swap the probes of cylinders 3 and 4 and run again: if the cold reading moves with the probe, it is the probe.".into());
    f.cautions = vec!["hot-exhaust".into(), "battery".into()];
    f.used = names(&["egt_1", "egt_2", "egt_3", "rpm"]);
    f.judged = names(&["egt_1", "egt_2", "egt_3"]);
    f.plots = vec![egt()];
    f
}

fn log() -> LogFacts {
    LogFacts {
        path: format!("logs/{MARKUP}.csv"),
        rows: 41_230,
        duration_s: 412.3,
        sample_hz: 100.0,
        channels: vec![
            ChannelFacts {
                name: "egt_3".into(),
                column: MARKUP.into(),
                column_unit: Some("degF".into()),
                unit: "degC".into(),
            },
            ChannelFacts {
                name: "battery_v".into(),
                column: "Batt".into(),
                column_unit: None,
                unit: "V".into(),
            },
        ],
        unmapped: (1..=20)
            .map(|i| format!("Aux {i}"))
            .chain([MARKUP.to_string(), LONG_WORD.to_string()])
            .collect(),
        problems: (0..7)
            .map(|i| ProblemFacts {
                line: i * 100,
                what: format!("12 fields where 48 are expected: \u{1b}[31m{MARKUP}"),
            })
            .collect(),
        phases: vec![
            PhaseSpan {
                phase: "cranking".into(),
                from_s: 6.2,
                to_s: 7.9,
            },
            PhaseSpan {
                phase: "idle".into(),
                from_s: 7.9,
                to_s: 68.0,
            },
            PhaseSpan {
                phase: "cranking".into(),
                from_s: 80.0,
                to_s: 81.0,
            },
        ],
    }
}

/// Degrees Fahrenheit and psi.
pub fn american() -> Reading {
    Reading {
        fahrenheit: true,
        pressure: PressureUnit::Psi,
        mph: true,
    }
}

fn graph() -> Graph {
    let list: [(&str, &[&str]); 13] = [
        ("log-gaps", &[]),
        ("channel-rail", &["log-gaps"]),
        ("charge-voltage", &["channel-rail"]),
        ("charge-vs-speed", &["charge-voltage"]),
        ("oil-before-fire", &["channel-rail"]),
        ("oil-vs-speed", &["oil-before-fire"]),
        ("lambda-probe", &["channel-rail"]),
        ("staged-share", &["log-gaps"]),
        ("boost-vs-target", &["log-gaps"]),
        ("egt-probe", &["channel-rail"]),
        ("egt-bank", &["egt-probe"]),
        ("egt-spread", &["egt-probe", "charge-vs-speed"]),
        ("odd-one", &["log-gaps"]),
    ];
    let owned = |ids: &[&str]| ids.iter().map(|s| (*s).to_string()).collect();
    Graph::new(
        list.iter()
            .map(|(id, on)| ((*id).to_string(), owned(on)))
            .collect(),
    )
    .expect("a graph without circles")
}

fn put_together(
    log: LogFacts,
    findings: Vec<Finding>,
    cautions: &[&str],
    reading: Reading,
) -> Review {
    let analogue = names(&["egt_1", "egt_2", "egt_3", "oil_pressure"]);
    let more = vec![Text::from("Has the timing been checked with a lamp?")];
    assemble(log, findings, &graph(), &analogue, more, cautions, reading)
}

/// Everything that is awkward, in one review.
pub fn awkward(reading: Reading) -> Review {
    let findings = vec![
        made(
            "log-gaps",
            "recording",
            "Gaps",
            Verdict::Pass,
            format!("longest gap {}", mark(0.02, unit("s"))),
        ),
        absent(
            "channel-rail",
            NotRun::Missing,
            "no channel has a known range",
            "What is the range of each sensor?",
        ),
        made(
            "charge-voltage",
            "charging",
            "Running voltage",
            Verdict::Pass,
            format!(
                "held {} to {}",
                mark(13.9, unit("V")),
                mark(14.2, unit("V"))
            ),
        ),
        charge(),
        absent(
            "oil-before-fire",
            NotRun::NoOccasion,
            "the log begins after the start",
            "Log a start from key-on.",
        ),
        oil(),
        absent(
            "lambda-probe",
            NotRun::ScriptError,
            "line 12, column 5: unknown function <b>",
            "never shown",
        ),
        absent(
            "staged-share",
            NotRun::NotFitted,
            "no second set of injectors",
            "never shown",
        ),
        absent("boost-vs-target", NotRun::Missing, MARKUP, MARKUP),
        absent(
            "egt-probe",
            NotRun::NoOccasion,
            "the load never changed",
            "Does each probe follow the load? Log one pull.",
        ),
        made("egt-bank", "exhaust", "Banks", Verdict::Pass, ""),
        spread(),
        {
            // A check of somebody's own: no kind, no title, awkward id.
            let mut f = Finding::new("odd-one", Verdict::NotRun, "");
            f.id = "odd-one".into();
            f
        },
    ];
    let mut review = put_together(log(), findings, &["no-fan", "fuel-fire"], reading);
    review.diagnosis.push(Diagnosis {
        cause: "The supply sags under load".into(),
        speaks_for: vec![
            "voltage falls with speed".into(),
            format!("spread of {}", mark(212.0, unit("degC difference"))).into(),
        ],
        speaks_against: Vec::new(),
        test: MARKUP.into(),
        from: vec!["charge-vs-speed".into(), "egt-spread".into()],
    });
    review
}

/// Three dangers at once.
pub fn three_stops() -> Review {
    let mut findings = vec![charge(), oil(), spread()];
    for f in &mut findings {
        f.stop_now = Some("Stop.".into());
    }
    put_together(log(), findings, &[], Reading::default())
}

/// Nothing warns.
pub fn all_quiet() -> Review {
    let pass = made("log-gaps", "recording", "Gaps", Verdict::Pass, "no gap");
    let absent = absent(
        "egt-probe",
        NotRun::Missing,
        "no egt logged",
        "Log the EGT.",
    );
    put_together(log(), vec![pass, absent], &[], Reading::default())
}

/// Nothing could run.
pub fn only_not_run() -> Review {
    let list = vec![absent(
        "egt-probe",
        NotRun::Missing,
        "no egt logged",
        "Log the EGT.",
    )];
    put_together(LogFacts::default(), list, &[], Reading::default())
}

/// Nobody asked for anything.
pub fn nothing() -> Review {
    put_together(LogFacts::default(), Vec::new(), &[], Reading::default())
}
