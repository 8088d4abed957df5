//! What must hold for every text that is taken for a check, whatever it says.

use std::fmt::Write as _;
use std::sync::{Arc, OnceLock};

use plugread::checks::{Catalog, Script, cases, judge_all};
use plugread::dsl::run::Shared;
use plugread::findings::NotRun;
use plugread::load::{self, Forced};
use plugread::recording::Recording;
use plugread::sheet;

const SHEET: &str = "[engine]\ncylinders = 4\n[sensors]\negt_cylinder = [1, 2, 3, 4]\n";

/// Reads a text as a check, judges a small run by it and tries its cases. True where it was a script at all.
pub fn judge(text: &str) -> bool {
    static EMPTY: OnceLock<Catalog> = OnceLock::new();
    let empty = EMPTY.get_or_init(|| Catalog::of(Vec::new()).expect("no checks at all"));
    // Most of what comes is no script at all: seen here without a catalogue of its own.
    let is_script = empty.engine().compile(text).is_ok();
    if !is_script && !text.len().is_multiple_of(16) {
        return false;
    }
    let script = Script {
        place: "fuzz/made-up.rhai".to_string(),
        system: "fuzz".to_string(),
        id: "made-up".to_string(),
        text: text.to_string(),
    };
    let catalog = Catalog::of(vec![script]).expect("one script never takes the catalogue down");
    assert_eq!(catalog.checks().len() + catalog.broken().len(), 1);
    let judged = judge_all(&catalog, run());
    assert_eq!(judged.findings.len(), 1);
    let finding = &judged.findings[0];
    let failed = finding.not_run_kind == Some(NotRun::ScriptError);
    assert_eq!(failed, judged.errors.len() == 1);
    for error in &judged.errors {
        for told in [error.to_string(), error.shown()] {
            assert!(told.contains("made-up"), "{told}");
            // Panics that were caught are our own slips.
            assert!(!told.contains("plugread itself"), "{told}");
        }
    }
    for check in catalog.checks() {
        // Cases may be as wrong as the rest; they only have to come back.
        let _ = cases::run(&catalog, check);
    }
    is_script
}

/// A minute of a small engine that turns faster and faster.
fn run() -> &'static Arc<Shared> {
    static RUN: OnceLock<Arc<Shared>> = OnceLock::new();
    RUN.get_or_init(|| {
        let mut csv = String::from(
            "Time (s),rpm,battery_v (V),coolant_temp (degC),map (kPa),tps (%),lambda,egt_1 (degC),egt_2 (degC),egt_3 (degC),egt_4 (degC)\n",
        );
        for row in 0..600 {
            let t = f64::from(row) / 10.0;
            let turning = 900.0 + 80.0 * (t - 5.0) + 7.0 * (t * 3.0).sin();
            let rpm = if t < 5.0 { 0.0 } else { turning };
            let heat = 20.0 + t * 10.0;
            let _ = writeln!(
                csv,
                "{t:.1},{rpm:.0},{:.2},{:.1},{:.1},{:.1},{:.3},{heat:.1},{:.1},{:.1},{:.1}",
                12.5 + 0.01 * t,
                20.0 + t,
                98.0 - t,
                t,
                0.95 + 0.001 * t,
                heat + 3.0,
                heat - 4.0,
                heat + 1.0
            );
        }
        let log = load::from_bytes("fuzz.csv", csv.into_bytes(), &Forced::default());
        let sheet = sheet::parse("fuzz.toml", SHEET).expect("a sheet");
        let recording = Recording::read(&log.expect("a log"), &sheet, |_| true);
        Arc::new(Shared::prepare(recording.expect("a recording"), sheet))
    })
}
