//! Checks from a cell to a file and back.

use super::{Heard, fails, opened, plain, run};
use plugread::checks::{Catalog, judge};
use plugread::notebook::Output;

const CHECK: &str = r#"
/// The supply is judged while the engine runs.
fn about() { #{
    title: "Supply while running", builds_on: ["log-gaps"], needs: ["battery_v"],
    limits: #{ least: limit(13.0, "V", "common practice") },
} }
fn least_of(run) { run.battery_v.during(run.during("running")).median() }
fn judge(run, limits) {
    let seen = least_of(run);
    if seen >= limits.least { return pass(`it holds ${seen}`); }
    warn(`only ${seen}`).number("least", seen).next_step("Measure at the battery's posts.")
}
fn cases() { [
    #{ name: "low", role: "warns", want: "warn", hz: 10, channels: #{ rpm: "0*5 1000*60", battery_v: "12*65" } },
] }
"#;

#[test]
fn a_check_is_defined_tried_saved_and_loaded() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().display().to_string();
    let mut s = opened("first-start.csv");
    assert!(
        fails(&mut s, "define_check(\"supply\")")
            .what
            .contains("fn about()")
    );
    run(&mut s, CHECK).expect("it runs");
    // A function that no part of the check uses stays out of its file.
    run(&mut s, "fn unrelated() { 1 }").expect("it runs");
    run(&mut s, "let c = define_check(\"supply\");").expect("it is a check");
    assert_eq!(plain(&mut s, "c.try_on(run).verdict"), "pass");
    let strict = "c.try_on(run, #{ least: quantity(14.8, \"V\") })";
    assert_eq!(plain(&mut s, &format!("{strict}.verdict")), "warn");
    assert!(plain(&mut s, strict).contains("Measure at the battery's posts."));
    assert!(
        fails(&mut s, "c.try_on(run, #{ most: quantity(1, \"V\") })")
            .what
            .contains("no limit `most`")
    );
    let cases = plain(&mut s, "c.try_cases()");
    assert!(
        cases.contains("low") && cases.contains("came out"),
        "{cases}"
    );

    let saved = plain(&mut s, &format!("c.save(`{path}`)"));
    assert!(saved.ends_with("supply.rhai"));
    let text = std::fs::read_to_string(&saved).expect("a file");
    assert!(text.contains("fn least_of(run)") && text.contains("/// The supply is judged"));
    assert!(
        !text.contains("unrelated") && text.trim_end().ends_with("] }"),
        "{text}"
    );
    // The program takes the file as any check, and it says the same.
    let catalog = Catalog::load(Some(folder.path())).expect("the folder");
    let check = catalog.get("supply").expect("the check");
    let own = s.scope().get("run").expect("the run");
    let own = own.read_lock::<plugread::dsl::run::Run>().expect("a run");
    let (finding, error) = judge(&catalog, check, &own.shared);
    assert_eq!((finding.verdict.word(), error), ("pass", None));
    drop(own);

    // Loaded, changed, saved over: only because it was loaded from there.
    let mut other = opened("first-start.csv");
    assert!(run(&mut other, CHECK).is_ok());
    let refused = fails(
        &mut other,
        &format!("define_check(\"supply\").save(`{path}`)"),
    );
    assert!(refused.what.contains("is there already"), "{refused:?}");
    let mut heard = Heard::default();
    other
        .run(
            "cell [2]",
            &format!("load_check(`{saved}`).edit()"),
            &mut heard,
        )
        .expect("it is put into a cell");
    let Some(Output::NextCell(text)) = heard.shown.first() else {
        panic!("{:?}", heard.shown);
    };
    run(&mut other, &text.replace("13.0", "14.8")).expect("the changed text runs");
    run(&mut other, "let c = define_check(\"supply\"); c.save();").expect("it is saved");
    let changed = std::fs::read_to_string(&saved).expect("a file");
    assert!(changed.contains("limit(14.8"), "{changed}");
    assert_eq!(
        plain(
            &mut other,
            &format!("load_check(`{saved}`).try_on(run).verdict")
        ),
        "warn"
    );
}

#[test]
fn a_check_of_the_review_is_there_to_begin_from() {
    let mut s = opened("first-start-dead-cylinder.csv");
    let tried = plain(&mut s, "get_check(\"first-fire\").try_on(run)");
    let reviewed = plain(&mut s, "review(run).finding(\"first-fire\")");
    assert_eq!(tried, reviewed);
    assert!(plain(&mut s, "get_check(\"first-fire\").text").contains("fn judge(run, limits)"));
    for (code, wanted) in [
        ("get_check(\"first-fir\")", "there is no check"),
        ("load_check(\"/etc/passwd\")", "ends in .rhai"),
        ("load_check(\"nowhere/egt-drift.rhai\")", "cannot be read"),
        ("define_check(\"No Id\")", "no id of a check"),
    ] {
        let error = fails(&mut s, code);
        assert!(error.what.contains(wanted), "{code}: {error:?}");
    }
}
