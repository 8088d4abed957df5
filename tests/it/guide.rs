//! What the reference tells a newcomer works: its examples, the check that `checks new` writes, and the page of all checks.

use std::path::Path;

use plugread::dsl::reference::GUIDE;
use serde_json::Value;

use crate::support::{plugread, text};

/// The examples of the guide, in order.
fn examples() -> Vec<&'static str> {
    let parts = GUIDE.split("```rhai\n").skip(1);
    parts
        .filter_map(|part| part.split("\n```").next())
        .collect()
}

fn review_with(folder: &Path) -> Value {
    let out = plugread(&[
        "review",
        "sample-logs/hill-run-knock.csv",
        "--sheet",
        "sample-logs/hill-special.toml",
        "--format",
        "json",
        "--scripts",
        &folder.to_string_lossy(),
    ]);
    serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{e}: {}", text(&out.stderr)))
}

fn finding<'a>(review: &'a Value, id: &str) -> &'a Value {
    let checks = review["checks"].as_array().expect("checks");
    let found = checks.iter().find(|c| c["id"] == id);
    found.unwrap_or_else(|| panic!("{id} is not there"))
}

/// The cases of a check come out as wanted, and notice every limit.
fn tried(id: &str, folder: &Path) {
    let folder = folder.to_string_lossy();
    let out = plugread(&["checks", "try", id, "--scripts", &folder]);
    let told = text(&out.stdout);
    assert_eq!(out.status.code(), Some(0), "{told}{}", text(&out.stderr));
    assert!(told.contains("cases tried, 0 not as wanted"), "{told}");
    assert!(!told.contains("0 cases tried"), "{told}");
    assert!(!told.contains("unnoticed"), "{told}");
}

#[test]
fn every_example_of_the_guide_runs() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let examples = examples();
    assert!(examples.len() >= 8, "{}", examples.len());
    let is_whole = |example: &str| example.contains("fn judge(");
    for (number, example) in examples.iter().enumerate() {
        let script = if is_whole(example) {
            (*example).to_string()
        } else {
            let about = "fn about() { #{ title: \"an example\", needs: [\"rpm\"] } }";
            format!("{about}\nfn judge(run, limits) {{\n{example}\npass(\"it ran\")\n}}\n")
        };
        let path = folder.path().join(format!("guide-{number}.rhai"));
        std::fs::write(path, script).expect("a script");
    }
    let review = review_with(folder.path());
    for (number, example) in examples.iter().enumerate() {
        let id = format!("guide-{number}");
        let found = finding(&review, &id);
        assert_ne!(found["not_run_kind"], "script-error", "{found}\n{example}");
        if !is_whole(example) {
            assert_ne!(found["verdict"], "not-run", "{found}\n{example}");
        }
        if example.contains("fn cases(") {
            tried(&id, folder.path());
        }
    }
}

#[test]
fn checks_new_writes_a_check_that_works_and_touches_nothing() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let place = folder.path().to_string_lossy().into_owned();
    let new = |id: &str| plugread(&["checks", "new", id, "--scripts", &place]);
    let out = new("under-bonnet");
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert!(text(&out.stdout).contains("checks try under-bonnet"));
    tried("under-bonnet", folder.path());
    let found = review_with(folder.path());
    let found = finding(&found, "under-bonnet");
    assert_eq!(found["verdict"], "pass", "{found}");
    assert_eq!(found["title"], "Under bonnet");
    let script = std::fs::read_to_string(folder.path().join("under-bonnet.rhai")).expect("it");
    // What is there is not touched, nor is a check that is built in.
    for (id, why) in [
        ("under-bonnet", "already"),
        ("egt-spread", "already"),
        ("Fuel Heat", "small letters"),
        ("../fuel", "small letters"),
        ("try", "itself"),
    ] {
        let out = new(id);
        assert_eq!(out.status.code(), Some(2), "{id}");
        let told = text(&out.stderr);
        assert!(told.contains(why) && told.lines().count() == 1, "{told}");
    }
    let after = std::fs::read_to_string(folder.path().join("under-bonnet.rhai")).expect("it");
    assert_eq!(script, after);
    assert_eq!(
        std::fs::read_dir(folder.path()).expect("a folder").count(),
        1
    );
    let nameless = plugread(&["checks", "new"]);
    assert_eq!(nameless.status.code(), Some(2));
    // A folder that is not there is made; a file is none.
    let deeper = folder.path().join("of/mine").to_string_lossy().into_owned();
    let out = plugread(&["checks", "new", "fuel-heat", "--scripts", &deeper]);
    let told = text(&out.stdout);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    for command in [
        format!("\n  plugread checks try fuel-heat --scripts {deeper}\n"),
        format!("\n  plugread review LOG --scripts {deeper}\n"),
    ] {
        assert!(told.contains(&command), "{told}");
    }
    tried("fuel-heat", Path::new(&deeper));
    let file = format!("{deeper}/fuel-heat.rhai");
    let out = plugread(&["checks", "new", "other", "--scripts", &file]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("is a file, and a folder is wanted"));
}

/// What differs stands one side above the other, and the program says so by how it ends.
#[test]
fn cases_that_come_out_otherwise_are_told_with_both_sides() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let place = folder.path().to_string_lossy().into_owned();
    let new = plugread(&["checks", "new", "under-bonnet", "--scripts", &place]);
    assert_eq!(new.status.code(), Some(0), "{}", text(&new.stderr));
    let path = folder.path().join("under-bonnet.rhai");
    let script = std::fs::read_to_string(&path).expect("it");
    let slip = script.replace("run.bay_temp > limits.most", "run.bay_temp < limits.most");
    assert_ne!(slip, script);
    std::fs::write(&path, slip).expect("a script");
    let out = plugread(&["checks", "try", "under-bonnet", "--scripts", &place]);
    let told = text(&out.stdout);
    assert_eq!(out.status.code(), Some(1), "{told}");
    let sides = "    verdict    wanted  pass\n               got     warn\n    it said: ";
    assert!(told.contains(sides), "{told}");
    assert!(told.contains("phases: "), "{told}");
    assert!(told.contains("not as wanted\n"), "{told}");
}

/// One check whose cases blow up says where, and keeps no other from being tried.
#[test]
fn cases_that_fail_are_told_with_their_place() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let place = folder.path().to_string_lossy().into_owned();
    let head = "fn about() { #{ title: \"mine\", needs: [\"rpm\"] } }\nfn judge(run, limits) { pass(\"ok\") }\n";
    let cases =
        "fn cases() {\n    [#{ name: \"one\", channels: #{ rpm: quantity(1, \"Vlt\") } }]\n}\n";
    let fails = format!("{head}{cases}");
    std::fs::write(folder.path().join("mine.rhai"), fails).expect("a script");
    let out = plugread(&["checks", "try", "mine", "--scripts", &place]);
    let told = format!("{}{}", text(&out.stdout), text(&out.stderr));
    assert_ne!(out.status.code(), Some(0), "{told}");
    for words in [
        "mine.rhai, line 4, column 40: `Vlt` is no unit that is known here",
        "    |                                        ^^^^^^^^",
        "  wanted: did you mean `volt`? Units of voltage: V, mV",
    ] {
        assert!(told.contains(words), "{told}");
    }
}

/// The message that the guide shows is the one that comes.
#[test]
fn a_slip_is_told_as_the_guide_says() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let slip = examples()[0].replace("run.battery_v", "run.batery_v");
    std::fs::write(folder.path().join("key-on.rhai"), slip).expect("a script");
    let place = folder.path().to_string_lossy().into_owned();
    let log = "sample-logs/hill-run-knock.csv";
    let out = plugread(&["review", log, "--scripts", &place, "--format", "json"]);
    let told = text(&out.stderr);
    let (_, told) = told
        .split_once("key-on.rhai")
        .unwrap_or_else(|| panic!("{told}"));
    assert!(told.lines().count() == 4, "{told}");
    assert!(GUIDE.contains(told.trim_end()), "{told}");
}
