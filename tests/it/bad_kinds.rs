//! Kinds of bad input, one by one: each ends with exit 2 and one clear sentence, or, where part of the file is good, with
//! a review of that part and the problems listed. Nothing panics, hangs or eats the memory.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Output;
use std::time::Duration;

use serde_json::Value;
use zip::CompressionMethod;

use crate::dialects::{gzip, zip, zstd};
use crate::support::{plugread_within, text};

/// Far longer than any of these should take, on a busy machine too.
const PATIENCE: Duration = Duration::from_secs(60);

/// What is right for one kind.
enum Wanted {
    /// Exit 2, nothing on stdout, one sentence with this word in it.
    Refused(&'static str),
    /// A review of this many rows, with a problem that holds this word, or none at all where the word is empty.
    Partly(usize, &'static str),
}
use Wanted::{Partly, Refused};

struct Kind {
    name: &'static str,
    bytes: Vec<u8>,
    wanted: Wanted,
}

fn kind(name: &'static str, bytes: impl Into<Vec<u8>>, wanted: Wanted) -> Kind {
    Kind {
        name,
        bytes: bytes.into(),
        wanted,
    }
}

/// A good log of so many rows, ten a second.
fn good(rows: usize) -> String {
    let mut out = String::from("time (s),rpm,battery (V)\n");
    for row in 0..rows {
        let _ = writeln!(
            out,
            "{}.{},{},12.{}",
            row / 10,
            row % 10,
            row % 7 * 100,
            row % 5 + 2
        );
    }
    out
}

/// Noise that no packer can shrink, the same in each run.
fn noise(bytes: usize) -> Vec<u8> {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut step = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state.to_le_bytes()[3]
    };
    (0..bytes).map(|_| step()).collect()
}

fn refused_kinds() -> Vec<Kind> {
    let log = good(400);
    let cut = |mut bytes: Vec<u8>, keep: usize| {
        bytes.truncate(keep);
        bytes
    };
    let packed = zip(&[("run.csv", log.as_bytes())], CompressionMethod::Deflated);
    let nested = zip(&[("run.zip", &packed)], CompressionMethod::Stored);
    let sheet: &[(&str, &[u8])] = &[
        ("[Content_Types].xml", b"<Types/>"),
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/worksheets/sheet1.xml", b"<worksheet/>"),
    ];
    let damaged = |mut bytes: Vec<u8>, at: usize| {
        for byte in bytes.iter_mut().skip(at).take(40) {
            *byte ^= 0x5A;
        }
        bytes
    };
    vec![
        kind("nothing", "", Refused("empty")),
        kind("one line end", "\n", Refused("empty")),
        kind("only a mark", b"\xEF\xBB\xBF", Refused("empty")),
        kind(
            "only names",
            "time (s),rpm,map (kPa)\n",
            Refused("no data rows"),
        ),
        kind(
            "names and units only",
            "time,rpm,map\ns,rpm,kPa\n",
            Refused("no data rows"),
        ),
        kind(
            "only a preamble",
            "Run log\nCar: hill special\nDate: 2025-06-14\n",
            Refused(""),
        ),
        kind("only comments", "# a\n# b\n# c\n", Refused("")),
        kind("noise", noise(5000), Refused("text")),
        kind("zero bytes", vec![0; 5000], Refused("text")),
        kind(
            "a picture",
            b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x02",
            Refused(""),
        ),
        kind(
            "a PDF",
            "%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\n",
            Refused("pdf"),
        ),
        kind(
            "JSON",
            "{\"rpm\": [1, 2, 3], \"time\": [0, 1, 2]}",
            Refused("json"),
        ),
        kind(
            "JSON lines",
            "{\"t\": 0, \"rpm\": 800}\n{\"t\": 1, \"rpm\": 810}\n",
            Refused("json"),
        ),
        kind(
            "a web page",
            "<!DOCTYPE html>\n<html><body><table><tr><td>1</td></tr></table></body></html>\n",
            Refused("web page"),
        ),
        kind(
            "XML",
            "<?xml version=\"1.0\"?>\n<log><row t=\"0\"/></log>\n",
            Refused("xml"),
        ),
        kind(
            "a spreadsheet",
            zip(sheet, CompressionMethod::Deflated),
            Refused("spreadsheet"),
        ),
        kind(
            "an old spreadsheet",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\0\0\0\0\0\0\0\0\0\0",
            Refused("spreadsheet"),
        ),
        kind(
            "a program",
            b"\x7fELF\x02\x01\x01\0\0\0\0\0\0\0\0\0\x03\0\x3e\0\x01\0\0\0",
            Refused(""),
        ),
        kind(
            "a story",
            "It ran well today.\nThen it did not.\nWe went home.\n",
            Refused("numbers"),
        ),
        kind(
            "numbers without names",
            "0,1,2\n1,2,3\n2,3,4\n3,4,5\n",
            Refused("names"),
        ),
        kind(
            "no clock",
            "rpm,map\n800,40\n810,41\n805,40\n820,42\n",
            Refused("sample_hz"),
        ),
        kind(
            "a standing clock",
            "time (s),rpm\n5,800\n5,810\n5,805\n5,790\n",
            Refused("sample_hz"),
        ),
        kind(
            "xz",
            b"\xfd7zXZ\0\0\x04\xe6\xd6\xb4F\x02\0!\x01\x16\0\0\0",
            Refused("xz"),
        ),
        kind(
            "bzip2",
            b"BZh91AY&SY\x12\x34\x56\x78\0\0\0",
            Refused("bzip2"),
        ),
        kind("gzip of nothing", gzip(b""), Refused("empty")),
        kind("gzip of a picture", gzip(&noise(3000)), Refused("text")),
        kind("gzip head only", cut(gzip(log.as_bytes()), 8), Refused("")),
        kind(
            "gzip damaged from the start",
            damaged(gzip(log.as_bytes()), 10),
            Refused(""),
        ),
        kind("zstd head only", cut(zstd(log.as_bytes()), 7), Refused("")),
        kind(
            "zstd damaged from the start",
            damaged(zstd(log.as_bytes()), 6),
            Refused(""),
        ),
        kind(
            "zip cut in half",
            cut(packed.clone(), packed.len() / 2),
            Refused("zip"),
        ),
        kind(
            "zip damaged inside",
            damaged(packed.clone(), 40),
            Refused(""),
        ),
        kind(
            "zip without files",
            zip(&[], CompressionMethod::Stored),
            Refused("zip"),
        ),
        kind(
            "zip without a log",
            zip(
                &[("photo.jpg", &noise(900)), ("notes/", b"")],
                CompressionMethod::Stored,
            ),
            Refused("zip"),
        ),
        kind("zip in a zip", nested, Refused("zip")),
        kind(
            "zip with a password",
            locked(packed.clone()),
            Refused("password"),
        ),
        kind(
            "gzip in gzip",
            gzip(&gzip(log.as_bytes())),
            Refused("packed twice"),
        ),
    ]
}

/// Sets the mark "encrypted" on the entry of a zip, in both places where it stands.
fn locked(mut zip: Vec<u8>) -> Vec<u8> {
    for (signature, flags) in [(b"PK\x03\x04", 6), (b"PK\x01\x02", 8)] {
        let at = zip
            .windows(4)
            .position(|w| w == signature)
            .expect("a header");
        zip[at + flags] |= 1;
    }
    zip
}

fn partly_kinds() -> Vec<Kind> {
    let log = good(400);
    let with = |at: usize, line: &str| {
        let mut lines: Vec<&str> = log.lines().collect();
        lines.insert(at, line);
        lines.join("\n") + "\n"
    };
    // Packed as it is, most of a log this even would lie in the last bytes.
    let packed = gzip(log.as_bytes());
    let mut tail = log.clone().into_bytes();
    tail.extend(vec![0; 3000]);
    let ragged: String = format!("time (s),rpm,map (kPa)\n{}", "0,1\n0.1,2,3,4\n".repeat(50));
    let backward: String = (0..40)
        .map(|n| format!("{}.5,{},40\n", 100 - n, 800 + n))
        .collect();
    let repeated: String = good(20).repeat(3);
    vec![
        kind(
            "cut in the last row",
            &log.as_bytes()[..log.len() - 6],
            Partly(399, "cut"),
        ),
        kind("zeros behind the end", tail, Partly(400, "")),
        kind(
            "a zero byte in a cell",
            log.replace("\n3.0,", "\n3.0\0,"),
            Partly(399, ""),
        ),
        kind("a torn row", with(200, "19.85,70"), Partly(400, "fields")),
        kind(
            "noise in a row",
            [with(1, "").as_bytes(), &noise(30), b"\n"].concat(),
            Partly(400, ""),
        ),
        kind(
            "a quote that never closes",
            with(200, "19.85,\"70,12.3"),
            Partly(401, "not a number"),
        ),
        kind(
            "gzip broken off behind the data",
            packed[..packed.len() - 6].to_vec(),
            Partly(400, "gzip"),
        ),
        kind("names three times", repeated, Partly(60, "names")),
        kind("one row", "time (s),rpm\n0.0,800\n", Partly(1, "")),
        kind(
            "two rows",
            "time (s),rpm\n0.0,800\n0.1,810\n",
            Partly(2, ""),
        ),
        kind(
            "a clock that runs backward",
            format!("time (s),rpm,map (kPa)\n{backward}"),
            Refused("time"),
        ),
        kind("only ragged rows", ragged, Refused("")),
        kind(
            "text in half of the cells",
            with(3, "0.15,fast,12.4"),
            Partly(401, "not a number"),
        ),
    ]
}

/// Reviews a file and says what is wrong with the answer.
fn fault(name: &str, file: &Path, wanted: &Wanted) -> Option<String> {
    let out = plugread_within(
        &["review", &file.to_string_lossy(), "--format", "json"],
        PATIENCE,
    );
    let Some(out) = out else {
        return Some(format!("{name}: it hangs"));
    };
    let said = text(&out.stderr);
    let wrong = |what: String| Some(format!("{name}: {what}; it said `{}`", said.trim_end()));
    if let Some(what) = unclear(&out) {
        return wrong(what);
    }
    let code = out.status.code().unwrap_or(-1);
    match wanted {
        Refused(word) => {
            if code != 2 || !out.stdout.is_empty() {
                return wrong(format!("it is not refused but ends with {code}"));
            }
            if !said.to_lowercase().contains(word) {
                return wrong(format!("it does not speak of `{word}`"));
            }
        }
        Partly(rows, word) => {
            let Ok(json) = serde_json::from_slice::<Value>(&out.stdout) else {
                return wrong(format!("there is no review; it ends with {code}"));
            };
            if json["log"]["rows"] != *rows {
                return wrong(format!(
                    "{} rows instead of {rows}: {}",
                    json["log"]["rows"], json["log"]["problems"]
                ));
            }
            let problems = json["log"]["problems"].to_string().to_lowercase();
            if !problems.contains(word) {
                return wrong(format!("no problem speaks of `{word}`: {problems}"));
            }
        }
    }
    None
}

/// Whether the end is an orderly one: a code of ours, no panic, and with exit 2 one sentence.
pub fn unclear(out: &Output) -> Option<String> {
    let said = text(&out.stderr);
    let Some(code) = out.status.code() else {
        return Some(format!("it dies of {}", out.status));
    };
    if !(0..=2).contains(&code) || said.contains("panicked") || said.contains("backtrace") {
        return Some(format!("it ends with {code}"));
    }
    (code == 2 && said.trim_end().lines().count() != 1)
        .then(|| "it says more or less than one line".to_owned())
}

#[test]
fn each_kind_ends_clearly() {
    let mut kinds = refused_kinds();
    kinds.extend(partly_kinds());
    assert!(kinds.len() >= 45, "{}", kinds.len());
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    for (n, kind) in kinds.iter().enumerate() {
        let file = folder.path().join(format!("{n}-bad.csv"));
        fs::write(&file, &kind.bytes).expect("the file");
        faults.extend(fault(kind.name, &file, &kind.wanted));
    }
    assert!(
        faults.is_empty(),
        "{} of {} kinds: {faults:#?}",
        faults.len(),
        kinds.len()
    );
}

#[test]
fn things_that_are_no_files() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    let missing = folder.path().join("no-such.csv");
    faults.extend(fault("a missing file", &missing, &Refused("no such file")));
    faults.extend(fault("a folder", folder.path(), &Refused("folder")));
    faults.extend(fault(
        "a long name",
        Path::new(&"x".repeat(5000)),
        &Refused(""),
    ));
    faults.extend(fault(
        "an entry of a missing archive",
        &folder.path().join("no.zip/run.csv"),
        &Refused("no such file"),
    ));
    assert!(faults.is_empty(), "{faults:#?}");
}

#[cfg(unix)]
#[test]
fn devices_pipes_and_links() {
    use std::os::unix::fs::symlink;
    use std::process::Command;

    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    faults.extend(fault(
        "an empty device",
        Path::new("/dev/null"),
        &Refused(""),
    ));
    let link = folder.path().join("link.csv");
    symlink(folder.path().join("gone.csv"), &link).expect("a link");
    faults.extend(fault("a link to nothing", &link, &Refused("no such file")));
    let looped = folder.path().join("loop.csv");
    symlink(&looped, &looped).expect("a link");
    faults.extend(fault("a link to itself", &looped, &Refused("")));
    for (name, bytes, wanted) in [
        ("a pipe with a log", good(400), Partly(400, "")),
        ("a pipe with nothing", String::new(), Refused("empty")),
    ] {
        let pipe = folder.path().join(format!("{}.csv", bytes.len()));
        let made = Command::new("mkfifo").arg(&pipe).status();
        assert!(made.is_ok_and(|m| m.success()), "mkfifo");
        let writer = pipe.clone();
        let writer = std::thread::spawn(move || fs::write(writer, bytes));
        faults.extend(fault(name, &pipe, &wanted));
        drop(writer);
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// A device that never ends must not eat the memory.
#[cfg(target_os = "linux")]
#[test]
fn an_endless_device_is_refused() {
    let fault = fault("an endless device", Path::new("/dev/zero"), &Refused(""));
    assert!(fault.is_none(), "{fault:?}");
}

#[cfg(unix)]
#[test]
fn a_file_without_permission() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().expect("a throwaway folder");
    let file = folder.path().join("locked.csv");
    fs::write(&file, good(20)).expect("the file");
    fs::set_permissions(&file, fs::Permissions::from_mode(0o000)).expect("permissions");
    if fs::read(&file).is_ok() {
        eprintln!("skipped: this user may read everything");
        return;
    }
    let fault = fault("no permission", &file, &Refused("permission"));
    assert!(fault.is_none(), "{fault:?}");
}

/// Sizes that a reader could choke on.
#[test]
fn monstrous_files() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    let mut try_it = |name: &'static str, bytes: &[u8], wanted: Wanted| {
        let file = folder.path().join("monster.csv");
        fs::write(&file, bytes).expect("the file");
        faults.extend(fault(name, &file, &wanted));
        fs::remove_file(&file).expect("gone");
    };
    try_it(
        "one line of 100 MB",
        "1.5,".repeat(25_000_000).as_bytes(),
        Refused(""),
    );
    try_it(
        "one cell of 100 MB",
        "x".repeat(100_000_000).as_bytes(),
        Refused(""),
    );
    let row = |n: usize| format!("{n}.5{}\n", ",1".repeat(99_999));
    let mut names = String::from("time (s)");
    for n in 1..100_000 {
        let _ = write!(names, ",c{n}");
    }
    try_it(
        "100,000 columns",
        format!("{names}\n{}{}{}", row(0), row(1), row(2)).as_bytes(),
        Partly(3, ""),
    );
    let long = format!(
        "{}5.0,{},12.2\n{}",
        good(50),
        "7".repeat(50_000_000),
        "5.1,800,12.2\n"
    );
    try_it(
        "a cell of 50 MB among others",
        long.as_bytes(),
        Partly(52, "not a number"),
    );
    // A quarter of a gigabyte of nothing in a quarter of a megabyte.
    let nothing = vec![0; 1 << 28];
    try_it(
        "a zip of nothing",
        &zip(&[("run.csv", &nothing)], CompressionMethod::Deflated),
        Refused("text"),
    );
    try_it("gzip of nothing", &gzip(&nothing), Refused("text"));
    try_it("zstd of nothing", &zstd(&nothing), Refused("text"));
    let blank = vec![b'\n'; 1 << 28];
    try_it("gzip of line ends", &gzip(&blank), Refused(""));
    assert!(faults.is_empty(), "{faults:#?}");
}

/// A small packed file that unpacks to a log far larger than the memory it may take.
#[cfg(target_os = "linux")]
#[test]
fn a_bomb_stays_inside_bounded_memory() {
    use std::io::Write as _;

    let folder = tempfile::tempdir().expect("a throwaway folder");
    let file = folder.path().join("bomb.csv.gz");
    let mut packer = flate2::write::GzEncoder::new(
        fs::File::create(&file).expect("the file"),
        flate2::Compression::fast(),
    );
    packer.write_all(good(1000).as_bytes()).expect("packed");
    let junk = "end of log\n".repeat(100_000);
    for _ in 0..300 {
        packer.write_all(junk.as_bytes()).expect("packed");
    }
    packer.finish().expect("packed");
    let out = std::process::Command::new("sh")
        .args([
            "-c",
            "ulimit -v 1500000; exec \"$0\" review \"$1\" --format json",
        ])
        .args([env!("CARGO_BIN_EXE_plugread"), &file.to_string_lossy()])
        .output()
        .expect("a shell");
    assert_eq!(unclear(&out), None, "{}", text(&out.stderr));
    let json: Value = serde_json::from_slice(&out.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", text(&out.stderr)));
    assert_eq!(json["log"]["rows"], 1000);
    assert!(
        json["log"]["problems"]
            .to_string()
            .contains("29999980 more"),
        "{}",
        json["log"]["problems"]
    );
}

/// Entries of the sheet that cannot be meant, each named with its line or its value.
#[test]
fn wrong_forced_entries() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let (log, sheet) = (
        folder.path().join("run.csv"),
        folder.path().join("sheet.toml"),
    );
    fs::write(&log, good(50)).expect("the log");
    let mut faults = Vec::new();
    for entry in [
        "delimiter = \"ab\"",
        "delimiter = \"\"",
        "delimiter = \"1\"",
        "delimiter = \".\"",
        "delimiter = 7",
        "decimal = \";\"",
        "decimal = \"\"",
        "sample_hz = -5",
        "sample_hz = 0",
        "sample_hz = \"fast\"",
        "sample_hz = nan",
        "no_such_entry = 1",
    ] {
        fs::write(&sheet, format!("[log]\n{entry}\n")).expect("the sheet");
        let args = [
            "review",
            &log.to_string_lossy(),
            "--sheet",
            &sheet.to_string_lossy(),
        ];
        let Some(out) = plugread_within(&args, PATIENCE) else {
            faults.push(format!("{entry}: it hangs"));
            continue;
        };
        let said = text(&out.stderr);
        let key = entry.split(' ').next().unwrap_or_default();
        if out.status.code() != Some(2)
            || !out.stdout.is_empty()
            || !said.contains(key)
            || said.contains("panicked")
        {
            faults.push(format!("{entry}: it ends with {} and `{said}`", out.status));
        }
    }
    // A mark that the file does not have: one column, and so no clock or no names.
    fs::write(&sheet, "[log]\ndelimiter = \"|\"\n").expect("the sheet");
    let args = [
        "review",
        &log.to_string_lossy(),
        "--sheet",
        &sheet.to_string_lossy(),
    ];
    let out = plugread_within(&args, PATIENCE).expect("it ends");
    if out.status.code() != Some(2) || unclear(&out).is_some() {
        faults.push(format!(
            "a forced mark that is not there: {} and `{}`",
            out.status,
            text(&out.stderr)
        ));
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
