//! Sizes that a reader could choke on.

use std::fmt::Write as _;
use std::fs;

use serde_json::Value;
use zip::CompressionMethod;

use super::Wanted::{Partly, Refused};
use super::{Wanted, fault, good, unclear};
use crate::dialects::{gzip, zip, zstd};
use crate::support::text;

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
