//! Imports run one way, along the data. An arrow or a fence broken is named with both ends.

use std::fs;
use std::path::{Path, PathBuf};

use crate::support::home;

const WORDS: [&str; 8] = [
    "diagnostic",
    "memory",
    "units",
    "span",
    "stats",
    "stop",
    "trade",
    "whole",
];

/// Who may import whom, besides the vocabulary and itself.
const ARROWS: [(&str, &[&str]); 13] = [
    ("load", &[]),
    ("sheet", &[]),
    ("recording", &["load", "sheet"]),
    ("columnar", &["load", "sheet", "recording"]),
    ("phases", &["recording", "sheet"]),
    ("findings", &[]),
    ("dsl", &["recording", "phases", "findings", "sheet"]),
    (
        "checks",
        &["dsl", "recording", "phases", "findings", "sheet"],
    ),
    (
        "pipeline",
        &[
            "load",
            "sheet",
            "recording",
            "phases",
            "dsl",
            "checks",
            "columnar",
            "findings",
        ],
    ),
    ("plots", &["findings"]),
    ("reports", &["findings", "plots"]),
    (
        "notebook",
        &[
            "recording",
            "phases",
            "findings",
            "sheet",
            "dsl",
            "checks",
            "pipeline",
            "plots",
            "reports",
        ],
    ),
    (
        "cli",
        &[
            "load",
            "sheet",
            "recording",
            "phases",
            "findings",
            "dsl",
            "checks",
            "columnar",
            "pipeline",
            "plots",
            "reports",
            "notebook",
        ],
    ),
];

/// Libraries that stay behind a fence: crate, and the places that may name it.
const FENCES: [(&str, &[&str]); 16] = [
    ("arrow_array", &["columnar/"]),
    ("arrow_buffer", &["columnar/"]),
    ("arrow_ipc", &["columnar/"]),
    ("arrow_schema", &["columnar/"]),
    ("parquet", &["columnar/"]),
    ("rhai", &["dsl/", "checks/", "notebook/"]),
    ("base64", &["notebook/"]),
    ("hmac", &["notebook/kernel/"]),
    ("sha2", &["notebook/kernel/"]),
    ("pulldown_cmark", &["notebook/headless/"]),
    ("signal_hook", &["notebook/kernel/", "cli/"]),
    ("clap", &["cli/"]),
    ("plotters", &["plots/"]),
    ("flate2", &["load/"]),
    ("zip", &["load/"]),
    ("ruzstd", &["load/"]),
];

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .map(|e| e.expect("an entry").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

#[test]
fn imports_run_one_way() {
    let src = home().join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let mut broken = Vec::new();
    let mut seen = 0;
    for file in &files {
        let name = file
            .strip_prefix(&src)
            .expect("inside src")
            .to_string_lossy()
            .replace('\\', "/");
        let module = name
            .split('/')
            .next()
            .unwrap_or_default()
            .trim_end_matches(".rs")
            .to_string();
        let text = fs::read_to_string(file).expect("a source");
        let code = text
            .split("#[cfg(test)]\nmod tests {")
            .next()
            .unwrap_or_default();
        if name.contains("test") || module == "lib" || module == "main" {
            continue;
        }
        for line in code.lines().map(str::trim).filter(|l| !l.starts_with("//")) {
            for part in line.split("crate::").skip(1) {
                let target: String = part
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                let group: Vec<String> = if target.is_empty() {
                    part.trim_start_matches('{')
                        .split(',')
                        .map(|p| {
                            p.trim()
                                .chars()
                                .take_while(|c| c.is_alphanumeric() || *c == '_')
                                .collect()
                        })
                        .collect()
                } else {
                    vec![target]
                };
                for to in group.iter().filter(|t| !t.is_empty()) {
                    seen += 1;
                    let may = ARROWS
                        .iter()
                        .find(|a| a.0 == module)
                        .map_or(&[][..], |a| a.1);
                    if *to != module && !WORDS.contains(&to.as_str()) && !may.contains(&to.as_str())
                    {
                        broken.push(format!("{name} imports {to}"));
                    }
                }
            }
            for (library, places) in FENCES {
                let named = line.contains(&format!("{library}::"))
                    || line.starts_with(&format!("use {library}"));
                if named && !places.iter().any(|p| name.starts_with(p)) {
                    broken.push(format!("{name} names {library}"));
                }
            }
        }
    }
    assert!(seen > 100, "only {seen} imports were read");
    assert!(broken.is_empty(), "{broken:#?}");
}
