//! The notebook: cells of a session, without sockets; and the sockets by their bytes.

mod checks;
mod help;
mod sockets;

use plugread::checks::Catalog;
use plugread::notebook::bundle::Bundle;
use plugread::notebook::{
    Allowance, CellError, Front, Given, Interrupter, Options, Output, Session,
};
use plugread::pipeline;
use plugread::reports::{Format, Look, render};

use crate::support::home;

/// Keeps what is shown, and answers every question alike.
#[derive(Default)]
pub struct Heard {
    shown: Vec<Output>,
    answer: Option<String>,
}

impl Front for Heard {
    fn show(&mut self, output: Output) {
        self.shown.push(output);
    }
    fn ask(&mut self, _: &str, _: bool, _: &dyn Fn() -> bool) -> Option<String> {
        self.answer.clone()
    }
}

/// A session over one of the sample logs, opened as `run`.
pub fn opened(log: &str) -> Session {
    let mut session = Session::new(Options::default());
    let folder = home().join("sample-logs");
    let open = format!(
        "let run = open(`{}`, `{}`);",
        folder.join(log).display(),
        folder.join("hill-special.toml").display()
    );
    run(&mut session, &open).expect("the log opens");
    session
}

pub fn run(session: &mut Session, code: &str) -> Result<Option<Bundle>, CellError> {
    session.run("cell [1]", code, &mut Heard::default())
}

/// The plain words of a cell's value.
pub fn plain(session: &mut Session, code: &str) -> String {
    let bundle = run(session, code).unwrap_or_else(|e| panic!("{code}: {}", e.line()));
    let bundle = bundle.unwrap_or_else(|| panic!("{code}: it has no value"));
    bundle.text("text/plain").expect("plain words").to_string()
}

pub fn fails(session: &mut Session, code: &str) -> CellError {
    match run(session, code) {
        Err(error) => error,
        Ok(value) => panic!("{code}: {value:?}"),
    }
}

#[test]
fn names_live_from_cell_to_cell_and_the_last_value_is_shown() {
    let mut s = Session::new(Options::default());
    assert_eq!(plain(&mut s, "let x = 40; x + 2"), "42");
    assert!(run(&mut s, "x + 2;").expect("it runs").is_none());
    assert!(run(&mut s, "let y = 1;").expect("it runs").is_none());
    run(&mut s, "fn twice(n) { n * 2 } const PI2 = 6;").expect("it runs");
    assert_eq!(plain(&mut s, "twice(x + y) + PI2"), "88");
    // What went before an error stays done, and a name given anew holds the new value alone.
    let error = fails(&mut s, "let x = 7;\nlet z = 1;\nx + quantity(1, \"V\")");
    let place = error.place.as_ref().expect("a place");
    assert_eq!((place.spot.line, place.spot.column), (3, 3));
    assert_eq!(plain(&mut s, "[x, z]"), "[7, 1]");
    assert_eq!(s.scope().iter_raw().filter(|v| v.0 == "x").count(), 1);
    // An error inside a function shows the cell that the function is from.
    s.run("cell [8]", "fn bad(q) {\n  q + 1\n}", &mut Heard::default())
        .expect("it runs");
    let error = fails(&mut s, "bad(quantity(1, \"V\"))");
    let place = error.place.clone().expect("a place");
    assert_eq!(
        (
            place.cell.as_str(),
            place.spot.line,
            place.spot.text.as_str()
        ),
        ("cell [8]", 2, "  q + 1")
    );
    let lines = error.lines();
    let caret = lines.iter().find(|l| l.contains('^')).expect("a caret");
    let shown = caret.replace("\u{1b}[1;31m", "");
    let under = lines
        .iter()
        .find(|l| l.contains("q + 1"))
        .expect("the line");
    assert_eq!(
        shown.find('^').and_then(|at| under[at..].chars().next()),
        Some('+')
    );
}

#[test]
fn a_review_in_a_cell_is_the_review_of_the_command_line() {
    for log in ["first-start-dead-cylinder.csv", "hill-run-knock.csv"] {
        let mut s = opened(log);
        let shown = plain(&mut s, "let r = review(run); r");
        let folder = home().join("sample-logs");
        let sheet = plugread::sheet::read(&folder.join("hill-special.toml")).expect("the sheet");
        let catalog = Catalog::load(None).expect("the checks");
        let outcome = pipeline::review(&folder.join(log), &sheet, &catalog).expect("a review");
        let text = render(&outcome.review, Format::Text, &Look::default());
        assert_eq!(shown, text.trim_end(), "{log}");
        let warned = plain(&mut s, "r.warnings.len()");
        let count = outcome.review.findings.iter();
        let count = count.filter(|f| f.verdict.word() == "warn").count();
        assert_eq!(warned, count.to_string());
    }
}

#[test]
fn every_value_has_words_and_its_pictures() {
    let mut s = opened("first-start-dead-cylinder.csv");
    let all = ["text/plain", "text/html", "image/svg+xml", "image/png"];
    for code in [
        "run",
        "run.rpm",
        "run.egt",
        "run.during(\"idle\")",
        "run.rpm > quantity(900, \"rpm\")",
        "review(run).finding(\"first-fire\")",
        "compare(run.egt.columns[0], run.egt.columns[3])",
    ] {
        let bundle = run(&mut s, code).expect(code).expect(code);
        for mime in all {
            let text = bundle
                .text(mime)
                .unwrap_or_else(|| panic!("{code} has no {mime}"));
            assert!(!text.is_empty(), "{code}: {mime}");
        }
        let svg = bundle.text("image/svg+xml").expect("a drawing");
        assert!(
            svg.starts_with("<svg xmlns=") && svg.ends_with("</svg>\n"),
            "{code}"
        );
        let png = bundle.text("image/png").expect("pixels");
        assert!(png.starts_with("iVBORw0KGgo"), "{code}: not a PNG");
    }
    for code in [
        "table(run)",
        "run.battery_v.binned(run.rpm, quantity(500, \"rpm\"))",
        "compare(run, run)",
    ] {
        let bundle = run(&mut s, code);
        let Ok(Some(bundle)) = bundle else {
            panic!("{code}: {bundle:?}");
        };
        let html = bundle.text("text/html").expect("markup");
        assert!(
            html.contains("<table") && html.contains("text-align:right"),
            "{code}"
        );
    }
    // Whoever only sees the table reads what was sorted by what.
    let head = plain(
        &mut s,
        "rates(run.knock_1.increase(), run.cycles, 1, run.rpm, quantity(1000, \"rpm\"), run.map, quantity(20, \"kPa\"), run.during(\"running\"))",
    );
    assert!(head.trim_start().starts_with("x: rpm"), "{head}");
    assert!(head.contains("  y: map, kPa  events  "), "{head}");
    let head = plain(
        &mut s,
        "run.battery_v.binned(run.rpm, quantity(500, \"rpm\"))",
    );
    assert!(
        head.trim_start()
            .starts_with("at: rpm  median: battery_v, V  low, V"),
        "{head}"
    );
    // Six cylinders, six small pictures on axes of one reach: the greatest mark of each is that of all.
    let family = run(&mut s, "run.egt").expect("it runs").expect("a value");
    let svg = family.text("image/svg+xml").expect("a drawing");
    for n in 1..=6 {
        assert!(
            svg.contains(&format!("egt_{n}, cylinder {n}")),
            "cylinder {n}"
        );
    }
    let plain = plain(&mut s, "run.battery_v");
    assert!(
        plain.contains("unit: V") && plain.contains("median: 14.16 V"),
        "{plain}"
    );
    assert!(plain.contains("gaps: none"), "{plain}");
}

#[test]
fn what_a_cell_sends_comes_in_order() {
    let mut s = Session::new(Options::default());
    let mut heard = Heard {
        answer: Some("Ada".to_string()),
        ..Heard::default()
    };
    let code = r#"print("a"); print(quantity(3, "V")); print_warning("b"); show(1, "spot"); show_again(2, "spot");
        clear(); print(input("who? "));"#;
    s.run("cell [1]", code, &mut heard).expect("it runs");
    let mut words = heard.shown.iter().map(|o| match o {
        Output::Printed(text) => format!("out {text}"),
        Output::Warned(text) => format!("err {text}"),
        Output::Shown { bundle, id, again } => {
            let text = bundle.text("text/plain").expect("plain words");
            format!("{text} {} {again}", id.as_deref().unwrap_or("none"))
        }
        Output::Cleared { wait } => format!("clear {wait}"),
        other => format!("{other:?}"),
    });
    let wanted = [
        "out a\n3.00 V\n",
        "err b\n",
        "1 spot false",
        "2 spot true",
        "clear false",
        "out Ada\n",
    ];
    assert!(words.by_ref().eq(wanted), "{:?}", heard.shown);
    assert!(
        fails(&mut s, "input(\"who? \")")
            .what
            .contains("nobody can be asked")
    );
}

#[test]
fn a_given_log_takes_the_place_of_what_cells_open() {
    let folder = home().join("sample-logs");
    let mut s = Session::new(Options {
        given: Some(Given {
            log: folder.join("hot-standstill.csv"),
            sheet: Some(folder.join("hill-special.toml")),
        }),
        ..Options::default()
    });
    run(&mut s, "let run = open(\"some-other.csv\");").expect("it opens");
    assert!(plain(&mut s, "run").contains("hot-standstill.csv"));
    assert_eq!(plain(&mut s, "run.cylinders"), "6");
}

/// Stops a session's cell after a while.
fn stops(interrupter: Interrupter, after_ms: u64) {
    std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(after_ms));
        interrupter.interrupt();
    });
}

#[test]
fn a_stopped_cell_leaves_all_as_it_was() {
    let mut s = opened("hill-run-fading-alternator.csv");
    run(&mut s, "let kept = [1, 2];").expect("it runs");
    let before = plain(
        &mut s,
        "run.egt.from_bank_median().largest().rolling_median(quantity(20, \"s\")).max()",
    );
    for code in [
        "kept.push(3); let made = 1; fn f() { 1 } loop { }",
        "kept.push(3); loop { review(run); }",
        "kept.push(3); loop { run.egt.from_bank_median().largest().rolling_median(quantity(20, \"s\")).median(); }",
        "kept.push(3); loop { show(plot(run.egt)); }",
    ] {
        stops(s.interrupter(), 150);
        let error = fails(&mut s, code);
        assert_eq!(error.kind, "Stopped", "{code}: {error:?}");
        assert_eq!(plain(&mut s, "kept"), "[1, 2]", "{code}");
        assert!(fails(&mut s, "made").what.contains("nothing is called"));
        assert!(fails(&mut s, "f()").what.contains("there is no `f"));
    }
    let code = "run.egt.from_bank_median().largest().rolling_median(quantity(20, \"s\")).max()";
    assert_eq!(plain(&mut s, code), before);
    // Nothing runs: there is nothing to stop, and the next cell is not hit.
    s.interrupter().interrupt();
    assert_eq!(plain(&mut s, "1 + 1"), "2");
}

#[test]
fn cells_that_want_too_much_end_with_a_sentence() {
    let mut s = Session::new(Options {
        allowance: Allowance {
            steps: 2_000_000,
            memory: Some(150 << 20),
            printed: 10_000,
            ..Allowance::default()
        },
        ..Options::default()
    });
    let log = home().join("sample-logs/hill-run-fading-alternator.csv");
    run(
        &mut s,
        &format!("let run = open(`{}`); let kept = 41;", log.display()),
    )
    .expect("it opens");
    for (code, wanted) in [
        ("loop { }", "goes on and on"),
        ("fn f(x) { f(x + 1) } f(0)", "without an end"),
        ("let l = []; loop { l.push([1, 2, 3]); }", "a list grows"),
        ("let t = `a`; loop { t += t; }", "a text grows"),
        (
            "let m = #{}; let i = 0; loop { i += 1; m[`k${i}`] = i; }",
            "goes on and on",
        ),
        ("loop { print(`again`); }", "prints without an end"),
        (
            "let l = []; loop { let c = run.rpm.delayed(quantity(l.len(), \"s\")); c.step(); c.first(); l.push(c); }",
            "more memory",
        ),
        ("import `x` as y;", "nothing can be imported"),
        ("sleep(5)", "no sleep"),
    ] {
        let error = fails(&mut s, code);
        assert!(error.what.contains(wanted), "{code}: {error:?}");
        assert_eq!(plain(&mut s, "kept + 1"), "42", "{code}");
        let _ = run(&mut s, "l = []; t = ``; m = #{};");
    }
}
