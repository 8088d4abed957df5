//! Where a review is written to, the same log named twice, and many logs in one call.

use std::fs;
use std::path::Path;

use crate::support::{home, plugread, text};

const SHEET: &str = "sample-logs/hill-special.toml";
const LOG: &str = "sample-logs/first-start.csv";

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|e| {
            let name = e.expect("an entry").file_name();
            name.to_string_lossy().into_owned()
        })
        .collect();
    names.sort();
    names
}

/// Refused in one sentence that names the place and holds these words.
fn refused(out: &Path, words: &str) {
    let out = out.to_string_lossy();
    let done = plugread(&["review", LOG, "--sheet", SHEET, "--out", &out]);
    let told = text(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{out}: {told}");
    assert_eq!(told.trim_end().lines().count(), 1, "{told}");
    assert!(
        told.contains(&*out) && told.contains("could not be written"),
        "{told}"
    );
    assert!(told.contains(words), "{told}");
    assert!(done.stdout.is_empty());
}

#[test]
fn a_folder_or_a_place_that_is_not_there_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    refused(folder.path(), "it is a folder");
    refused(
        &folder.path().join("none").join("a.txt"),
        "there is no folder",
    );
    assert!(names(folder.path()).is_empty(), "nothing half written");
}

#[cfg(unix)]
#[test]
fn a_link_to_nowhere_stays_and_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let link = folder.path().join("review.txt");
    std::os::unix::fs::symlink(folder.path().join("gone.txt"), &link).expect("a link");
    refused(&link, "gone.txt, which is not there");
    assert!(link.is_symlink());
    assert_eq!(names(folder.path()), ["review.txt"]);
}

#[cfg(unix)]
#[test]
fn a_folder_that_takes_nothing_is_told() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().expect("a folder");
    let shut = folder.path().join("shut");
    fs::create_dir(&shut).expect("a folder");
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o555)).expect("its mode");
    if fs::write(shut.join("probe"), "x").is_err() {
        refused(&shut.join("review.txt"), "ermission denied");
        assert!(names(&shut).is_empty());
    } else if Path::new("/proc/self").exists() {
        // Who may write everywhere may not write there.
        refused(
            Path::new("/proc/plugread-review.txt"),
            "could not be written",
        );
    } else {
        println!("skipped: this user may write everywhere");
    }
}

#[cfg(unix)]
#[test]
fn a_named_pipe_gets_the_whole_review_and_stays_a_pipe() {
    use std::os::unix::fs::FileTypeExt as _;
    let folder = tempfile::tempdir().expect("a folder");
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.expect("mkfifo").success());
    let at = pipe.clone();
    let reader = std::thread::spawn(move || fs::read(at).expect("the pipe"));
    let name = pipe.to_string_lossy();
    let done = plugread(&["review", LOG, "--sheet", SHEET, "--out", &name]);
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
    let plain = plugread(&["review", LOG, "--sheet", SHEET]);
    assert_eq!(text(&reader.join().expect("a reader")), text(&plain.stdout));
    let kind = fs::symlink_metadata(&pipe).expect("a pipe").file_type();
    assert!(kind.is_fifo() && names(folder.path()) == ["pipe"]);

    // Its reader has enough after some bytes: one sentence, where the rest did not fit into the pipe itself.
    let at = pipe.clone();
    let reader = std::thread::spawn(move || {
        use std::io::Read as _;
        let mut some = [0; 64];
        let mut file = fs::File::open(at).expect("the pipe");
        file.read_exact(&mut some).expect("some bytes");
    });
    let args = ["review", LOG, "--sheet", SHEET, "--format", "html", "--out"];
    let done = plugread(&[&args[..], &[&name]].concat());
    reader.join().expect("a reader");
    let told = text(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(
        told.contains("could not be written") && told.lines().count() == 1,
        "{told}"
    );
    assert_eq!(names(folder.path()), ["pipe"]);
}

#[test]
fn a_log_named_twice_is_reviewed_as_often_as_it_is_named() {
    let once = plugread(&["review", LOG, "--sheet", SHEET, "--format", "json"]);
    let twice = plugread(&["review", LOG, LOG, "--sheet", SHEET, "--format", "json"]);
    assert_eq!(
        (once.status.code(), twice.status.code()),
        (Some(0), Some(0))
    );
    let parse = |line: &str| serde_json::from_str::<serde_json::Value>(line).expect("JSON");
    let lines: Vec<_> = text(&twice.stdout).lines().map(parse).collect();
    assert_eq!(lines, vec![parse(&text(&once.stdout)); 2]);
    let page = plugread(&["review", LOG, LOG, "--sheet", SHEET, "--format", "html"]);
    let page = text(&page.stdout);
    let mut ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(
        ids.len(),
        all,
        "each place on the page has a name of its own"
    );
    let table = text(&plugread(&["review", LOG, LOG, "--sheet", SHEET]).stdout);
    assert_eq!(
        table
            .matches("Review of sample-logs/first-start.csv")
            .count(),
        2
    );
}

/// Peak of the memory that is not files, in bytes: `RssAnon` of Linux, read while the program runs.
#[cfg(target_os = "linux")]
fn anonymous_peak(logs: &[String]) -> u64 {
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_plugread"))
        .current_dir(home())
        .args(["review", "--sheet", SHEET])
        .args(logs)
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the program");
    let file = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    while child.try_wait().expect("a child").is_none() {
        let status = fs::read_to_string(&file).unwrap_or_default();
        let line = status.lines().find_map(|l| l.strip_prefix("RssAnon:"));
        let kb = line.and_then(|l| l.trim().trim_end_matches("kB").trim().parse::<u64>().ok());
        peak = peak.max(kb.unwrap_or(0) * 1024);
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    peak
}

/// A bound that a review kept whole would break: one log in memory takes some 5 MB and more. What is left of each is its
/// words, and the pictures of its warnings.
#[cfg(target_os = "linux")]
#[test]
fn a_hundred_logs_take_the_memory_of_a_few() {
    const EACH: u64 = 512 * 1024;
    let path = home().join("sample-logs/hill-run-knock.csv");
    let folder = tempfile::tempdir().expect("a folder");
    let first = folder.path().join("first");
    fs::copy(path, &first).expect("a log");
    let logs: Vec<String> = (0..100)
        .map(|i| {
            let path = folder.path().join(format!("run-{i:03}.csv"));
            fs::hard_link(&first, &path).expect("the same log by another name");
            path.to_string_lossy().into_owned()
        })
        .collect();
    let (few, many) = (anonymous_peak(&logs[..10]), anonymous_peak(&logs));
    assert!(
        few > 5 << 20,
        "{few} bytes: the program was not caught at work"
    );
    println!("anonymous memory: 10 logs {few} bytes, 100 logs {many} bytes");
    let most = few + few / 4 + 90 * EACH;
    assert!(many < most, "10 logs take {few} bytes, 100 logs {many}");
}
