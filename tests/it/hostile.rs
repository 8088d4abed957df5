//! Scripts that mean harm, each in a review beside the checks that are built in: the review goes on, every other check says what
//! it says without them, and the box holds.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::Value;

use crate::support::{home, plugread_within, text};

/// How a script says that it should end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ends {
    /// As any check.
    Judged,
    /// As a check whose script failed.
    ScriptError,
}

fn scripts() -> Vec<(String, Ends, PathBuf)> {
    let folder = home().join("tests/data/hostile");
    let entries = fs::read_dir(folder).expect("the hostile scripts");
    let one = |path: PathBuf| {
        let bytes = fs::read(&path).expect("a script");
        let said = String::from_utf8_lossy(&bytes).into_owned();
        let ends = said.lines().find_map(|line| line.strip_prefix("// ends: "));
        let ends = match ends {
            Some("judged") => Ends::Judged,
            Some("script-error") => Ends::ScriptError,
            other => panic!("{}: ends {other:?}", path.display()),
        };
        let id = path
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        (id, ends, path)
    };
    let mut all: Vec<_> = entries.map(|e| one(e.expect("an entry").path())).collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all
}

/// A review with the scripts of a folder.
fn review(folder: Option<&Path>) -> (Value, String) {
    let mut args = vec![
        "review",
        "sample-logs/first-start.csv",
        "--sheet",
        "sample-logs/hill-special.toml",
        "--format",
        "json",
    ];
    let name = folder.map(|f| f.to_string_lossy().into_owned());
    if let Some(name) = &name {
        args.extend(["--scripts", name]);
    }
    // All of them together; nobody waits longer than this for one that should have been stopped.
    let out = plugread_within(&args, Duration::from_secs(240)).expect("it comes to an end");
    let json = serde_json::from_slice(&out.stdout);
    let json = json.unwrap_or_else(|e| panic!("{e}: {}", text(&out.stderr)));
    (json, text(&out.stderr))
}

fn without(review: &Value, ids: &[&str]) -> Vec<Value> {
    let checks = review["checks"].as_array().expect("checks").iter();
    let others = checks.filter(|c| !ids.contains(&c["id"].as_str().unwrap_or_default()));
    others.cloned().collect()
}

#[test]
fn hostile_scripts_end_as_they_say_and_cost_only_themselves() {
    let scripts = scripts();
    assert!(scripts.len() >= 60, "{}", scripts.len());
    let (alone, _) = review(None);
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (id, _, path) in &scripts {
        fs::copy(path, folder.path().join(format!("{id}.rhai"))).expect("a copy");
    }
    let (together, stderr) = review(Some(folder.path()));
    let ids: Vec<&str> = scripts.iter().map(|s| s.0.as_str()).collect();
    assert_eq!(without(&alone, &[]), without(&together, &ids));
    let checks = together["checks"].as_array().expect("checks");
    let mut wrong = Vec::new();
    for (id, ends, _) in &scripts {
        let Some(found) = checks.iter().find(|c| c["id"] == **id) else {
            wrong.push(format!("{id}: it is not in the review"));
            continue;
        };
        let failed = found["not_run_kind"] == "script-error";
        if failed != (*ends == Ends::ScriptError) {
            wrong.push(format!(
                "{id}: {ends:?} wanted: {} {}",
                found["verdict"], found["reason"]
            ));
        }
        let reason = found["reason"].as_str().unwrap_or_default();
        if reason.trim().is_empty()
            || reason.len() > 2000
            || (failed && !reason.contains(id.as_str()))
        {
            wrong.push(format!("{id}: no clear sentence: {reason}"));
        }
        if failed && !stderr.contains(id.as_str()) {
            wrong.push(format!("{id}: nothing on the side"));
        }
        // Nobody's files were read.
        if found.to_string().contains("root:") || Path::new("mine.rhai").exists() {
            wrong.push(format!("{id}: it got out"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The most memory that a review with them takes: a gigabyte for scripts that are not built in, and
/// what two of them may take before somebody looks.
#[cfg(target_os = "linux")]
#[test]
fn hostile_scripts_stay_inside_their_memory() {
    use std::process::{Command, Stdio};

    let most_kb = |folder: Option<&Path>| -> u64 {
        let mut command = Command::new(env!("CARGO_BIN_EXE_plugread"));
        command
            .args(["review", "sample-logs/first-start.csv", "--format", "json"])
            .current_dir(home())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        if let Some(folder) = folder {
            command.arg("--scripts").arg(folder);
        }
        let mut child = command.spawn().expect("the program");
        let status = format!("/proc/{}/status", child.id());
        let mut most = 0;
        let ended = loop {
            if let Some(status) = child.try_wait().expect("a child") {
                break status;
            }
            let now = fs::read_to_string(&status).unwrap_or_default();
            let peak = now.lines().find_map(|line| line.strip_prefix("VmHWM:"));
            let peak = peak.and_then(|kb| kb.trim().trim_end_matches(" kB").parse().ok());
            most = most.max(peak.unwrap_or(0));
            std::thread::sleep(Duration::from_millis(2));
        };
        assert!(matches!(ended.code(), Some(0 | 1)), "{ended}");
        most
    };
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (id, _, path) in scripts() {
        fs::copy(path, folder.path().join(format!("{id}.rhai"))).expect("a copy");
    }
    let (alone, together) = (most_kb(None), most_kb(Some(folder.path())));
    assert!(alone > 5_000, "{alone} kB");
    assert!(
        together < alone + 1_700_000,
        "{together} kB, {alone} kB without them"
    );
}
