//! A broken script costs only its own check.

use std::fs;

use crate::support::{plugread, text};

fn scripts(list: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (name, body) in list {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
        fs::write(path, body).expect("a script");
    }
    folder
}

fn review_with(list: &[(&str, &str)]) -> (serde_json::Value, String, i32) {
    let folder = scripts(list);
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "--sheet",
        "sample-logs/hill-special.toml",
        "--format",
        "json",
        "--scripts",
        &folder.path().to_string_lossy(),
    ]);
    let json = serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", text(&out.stderr)));
    (json, text(&out.stderr), out.status.code().unwrap_or(-1))
}

fn finding<'a>(json: &'a serde_json::Value, id: &str) -> &'a serde_json::Value {
    json["checks"]
        .as_array()
        .expect("checks")
        .iter()
        .find(|c| c["id"] == id)
        .unwrap_or_else(|| panic!("{id} is not there"))
}

const ABOUT: &str = "fn about() { #{ title: \"mine\", builds_on: [\"log-gaps\"], needs: [\"rpm\"], limits: #{ top: limit(9000, \"rpm\", \"common practice\") } } }\n";

#[test]
fn a_user_script_adds_and_another_replaces() {
    let mine = format!(
        "{ABOUT}fn judge(run, limits) {{ if run.rpm.max() > limits.top {{ warn(\"fast\").next_step(\"slow down\") }} else {{ pass(`top ${{run.rpm.max()}}`) }} }}"
    );
    let (json, stderr, code) = review_with(&[
        ("speed/my-own.rhai", &mine),
        (
            "recording/log-gaps.rhai",
            &mine.replace("[\"log-gaps\"]", "[]"),
        ),
    ]);
    assert_eq!(stderr, "");
    assert_eq!(code, 0);
    assert_eq!(finding(&json, "my-own")["verdict"], "pass");
    assert_eq!(finding(&json, "my-own")["system"], "speed");
    assert_eq!(finding(&json, "log-gaps")["title"], "mine");
}

#[test]
fn broken_scripts_cost_only_themselves() {
    let with = |judge: &str| format!("{ABOUT}fn judge(run, limits) {{\n  {judge}\n}}");
    let list = [
        (
            "own/syntax.rhai",
            "fn about( {".to_string(),
            "not the language",
        ),
        ("own/endless.rhai", with("loop { }"), "share of steps"),
        (
            "own/deep.rhai",
            format!("{}\nfn f(x) {{ f(x + 1) }}", with("f(1)")),
            "verflow",
        ),
        (
            "own/hungry.rhai",
            with("let s = \"ab\"; loop { s += s; }"),
            "grows without an end",
        ),
        (
            "own/units.rhai",
            with("run.rpm + quantity(3, \"V\")"),
            "units do not fit",
        ),
        ("own/absent.rhai", with("run.egt_99.max()"), "egt_99"),
        ("own/slip.rhai", with("pass(`${limits.topp}`)"), "topp"),
        ("own/nothing.rhai", with("42"), ""),
        (
            "own/files.rhai",
            with("open_file(\"/etc/passwd\")"),
            "open_file",
        ),
        ("own/import.rhai", with("import \"x\" as x; pass(\"\")"), ""),
        ("own/no-judge.rhai", ABOUT.to_string(), "judge"),
        (
            "own/base.rhai",
            with("pass(\"ok\")").replace("log-gaps", "no-such-check"),
            "no-such-check",
        ),
        (
            "own/circle.rhai",
            with("pass(\"ok\")").replace("log-gaps", "circle"),
            "circle",
        ),
        ("own/binary.rhai", "\u{0}\u{1}\u{2}".to_string(), ""),
    ];
    let files: Vec<(&str, &str)> = list
        .iter()
        .map(|(name, body, _)| (*name, body.as_str()))
        .collect();
    let (json, stderr, code) = review_with(&files);
    for (name, _, word) in &list {
        let id = name.trim_start_matches("own/").trim_end_matches(".rhai");
        let finding = finding(&json, id);
        assert_eq!(finding["verdict"], "not-run", "{id}");
        assert_eq!(finding["not_run_kind"], "script-error", "{id}");
        let reason = finding["reason"].as_str().unwrap_or_default();
        assert!(
            reason.contains(word) && reason.contains(name.trim_start_matches("own/")),
            "{id}: {reason}"
        );
        assert!(
            stderr.contains(name.trim_start_matches("own/")),
            "{id} is not on stderr: {stderr}"
        );
    }
    let place = finding(&json, "units")["reason"]
        .as_str()
        .unwrap_or_default()
        .to_string();
    assert!(place.contains("line 3, column"), "{place}");
    // On the side the line itself, with the place marked and what would be right.
    let shown = "  3 |   run.rpm + quantity(3, \"V\")\n    |           ^\n";
    assert!(stderr.contains(shown), "{stderr}");
    let shown = "  3 |   run.egt_99.max()\n    |       ^^^^^^\n  wanted: did you mean `egt_";
    assert!(stderr.contains(shown), "{stderr}");
    // All the others are as they were.
    let passed = json["checks"]
        .as_array()
        .expect("checks")
        .iter()
        .filter(|c| c["verdict"] == "pass")
        .count();
    assert!(passed >= 16, "{passed}");
    assert_eq!(code, 0);
}

#[test]
fn a_scripts_folder_that_is_not_there_is_one_sentence() {
    let out = plugread(&[
        "review",
        "sample-logs/first-start.csv",
        "--scripts",
        "no/such/folder",
    ]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no/such/folder"));
}
