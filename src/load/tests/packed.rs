//! Packed logs read like plain ones; broken packing costs only what lies behind the break.

use std::io::Write;

use crate::load::{Forced, LoadError, ProblemKind, Table, from_bytes, logs_in, open};

/// A log long enough for several waves.
fn long_log(rows: usize) -> String {
    let row = |n: usize| {
        format!(
            "{}.{:02},{},\"a note, quoted\nover lines\"\n",
            n / 50,
            n % 50 * 2,
            900 + n % 37
        )
    };
    let rows: String = (0..rows).map(row).collect();
    format!("Time (s),Engine Speed (rpm),Note\n{rows}")
}

fn gzip(text: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(text).unwrap();
    packer.finish().unwrap()
}

fn zip(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut packer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, text) in entries {
        packer
            .start_file(*name, zip::write::SimpleFileOptions::default())
            .unwrap();
        packer.write_all(text).unwrap();
    }
    packer.finish().unwrap().into_inner()
}

fn zstd(text: &[u8]) -> Vec<u8> {
    ruzstd::encoding::compress_to_vec(text, ruzstd::encoding::CompressionLevel::Fastest)
}

fn read(bytes: Vec<u8>) -> Result<Table, LoadError> {
    from_bytes("run.csv", bytes, &Forced::default())?.read(&[0, 1])
}

#[test]
fn packed_logs_read_like_plain_ones() {
    let text = long_log(3000);
    let plain = read(text.clone().into_bytes()).unwrap();
    assert_eq!(plain.rows, 3000);
    let (first, second) = text.as_bytes().split_at(40_000);
    for packed in [
        gzip(text.as_bytes()),
        [gzip(first), gzip(second)].concat(),
        zstd(text.as_bytes()),
        [zstd(first), zstd(second)].concat(),
        zip(&[("run.csv", text.as_bytes())]),
        zip(&[
            ("a/", b""),
            ("__MACOSX/._run.csv", b"x"),
            ("photo.jpg", b"x"),
            ("a/run.csv", text.as_bytes()),
        ]),
    ] {
        let table = read(packed).unwrap();
        assert_eq!(table.time_s, plain.time_s);
        assert_eq!(table.columns, plain.columns);
        assert_eq!(table.problems, plain.problems);
        assert_eq!(table.line_of(2999), plain.line_of(2999));
    }
}

/// Plain text is read in pieces wherever they lie, packed text from its start in waves: wherever a border falls, in quoted
/// fields and behind them too, both must see the same rows and the same problems.
#[test]
fn pieces_and_waves_are_the_same_log() {
    let row = |n: usize, width: usize| {
        let note = "x".repeat(n * 7 % width);
        format!("{n},\"a note{note},\nover lines\",{},{note}\n", n % 37)
    };
    let mut logs: Vec<Vec<u8>> = [3, 50, 130]
        .map(|width| {
            let rows: String = (0..400).map(|n| row(n, width)).collect();
            format!("Time (s),Note,Gear,Remark\n{rows}\"never closed\n").into_bytes()
        })
        .into();
    // Whether the last row is cut is told by those above it, however near a border it stands.
    for rows in 200..260 {
        let rows: String = (0..rows).map(|n| format!("{n},{}\n", 1000 + n)).collect();
        logs.push(format!("Time (s),Engine Speed (rpm)\n{rows}999,10").into_bytes());
    }
    let known = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/regressions");
    for file in std::fs::read_dir(known).unwrap() {
        logs.push(std::fs::read(file.unwrap().path()).unwrap());
    }
    for text in logs {
        let all = |bytes: Vec<u8>| {
            let log = from_bytes("run.csv", bytes, &Forced::default())?;
            log.read(&(0..log.headings().len()).collect::<Vec<_>>())
        };
        let (plain, packed) = (all(text.clone()), all(gzip(&text)));
        if text.ends_with(b"\n999,10") {
            let cut = |table: &Table| table.problems.count(ProblemKind::CutRow);
            assert_eq!(plain.as_ref().map(cut).ok(), Some(1));
        }
        assert_eq!(format!("{plain:?}"), format!("{packed:?}"));
    }
}

/// Space that a logger set aside and the power cut left empty, packed with the rest.
#[test]
fn zeros_at_the_end_of_a_packed_log_cost_nothing_else() {
    let text = long_log(50);
    let padded = [text.as_bytes(), &[0; 4000]].concat();
    let table = read(gzip(&padded)).unwrap();
    assert_eq!((table.rows, table.problems.rows_lost()), (50, 1));
    assert!(matches!(
        read(gzip(&[0; 4000])),
        Err(LoadError::NotText { .. })
    ));
}

/// A line that is longer than any row may be, as of a file that was overwritten in part, is one problem on one line.
#[test]
fn an_endless_line_costs_itself() {
    for length in [10_000, 40_000, 90_000] {
        let long = "7,950,".repeat(length / 6);
        let text = long_log(100).replacen("1.00,913,", &format!("{long}\n1.00,913,"), 1);
        for bytes in [text.clone().into_bytes(), gzip(text.as_bytes())] {
            let table = read(bytes).unwrap();
            assert_eq!((table.rows, table.problems.rows_lost()), (100, 1));
            assert_eq!(table.problems.listed[0].line, 102);
            assert_eq!((table.line_of(49), table.line_of(50)), (100, 103));
        }
    }
}

#[test]
fn a_break_costs_only_what_lies_behind_it() {
    let text = long_log(60_000);
    let whole = read(text.clone().into_bytes()).unwrap();
    for mut torn in [gzip(text.as_bytes()), zstd(text.as_bytes())] {
        torn.truncate(torn.len() / 2);
        let table = read(torn).unwrap();
        let rows = table.rows;
        assert!(rows > 10_000 && rows < 60_000, "{rows}");
        assert_eq!(table.problems.count(ProblemKind::Torn), 1);
        assert!(table.clock_s.unwrap()[..] == whole.clock_s.as_ref().unwrap()[..rows]);
    }
    // Damage gives no hint of where it began: nothing of it is used.
    for packed in [gzip(text.as_bytes()), zip(&[("run.csv", text.as_bytes())])] {
        let mut damaged = packed;
        let middle = damaged.len() / 2;
        damaged[middle..middle + 40].fill(0xFF);
        assert!(matches!(read(damaged), Err(LoadError::Torn { .. })));
    }
    let mut wrong = gzip(long_log(100).as_bytes());
    let at = wrong.len() - 6;
    wrong[at] ^= 1;
    assert!(matches!(read(wrong), Err(LoadError::Torn { .. })));
    assert!(matches!(
        read(gzip(b"")[..12].to_vec()),
        Err(LoadError::Torn { .. })
    ));
}

#[test]
fn archives_without_one_log() {
    let text = long_log(10);
    let two = zip(&[("one.csv", text.as_bytes()), ("two.csv", text.as_bytes())]);
    let error = read(two.clone()).unwrap_err().to_string();
    assert_eq!(
        error,
        "run.csv holds 2 logs; name one of them as run.csv/one.csv"
    );
    let none = read(zip(&[("photo.jpg", b"x"), ("in.zip", b"x")])).unwrap_err();
    assert!(
        none.to_string().contains("it holds photo.jpg, in.zip"),
        "{none}"
    );
    let sheet = read(zip(&[("[Content_Types].xml", b"<x/>")])).unwrap_err();
    assert!(matches!(sheet, LoadError::OtherFormat { .. }), "{sheet}");
    assert!(matches!(
        read(gzip(&gzip(b"a"))),
        Err(LoadError::OtherFormat { .. })
    ));

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("runs.zip");
    std::fs::write(&path, two).unwrap();
    let logs = logs_in(&path).unwrap();
    assert_eq!(logs, [path.join("one.csv"), path.join("two.csv")]);
    let table = open(&logs[1], &Forced::default())
        .unwrap()
        .read(&[1])
        .unwrap();
    assert_eq!(table.rows, 10);
    assert!(matches!(
        open(&path.join("three.csv"), &Forced::default()),
        Err(LoadError::Missing { .. })
    ));
}

#[test]
fn a_file_that_changes_under_us() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.csv");
    let text = long_log(500);
    std::fs::write(&path, &text).unwrap();
    let log = open(&path, &Forced::default()).unwrap();
    std::fs::write(&path, format!("{text}99.0,900,x\n")).unwrap();
    let table = log.read(&[1]).unwrap();
    assert_eq!(
        (table.rows, table.problems.count(ProblemKind::StillWritten)),
        (500, 1)
    );
    // Written anew from the same begin on, and longer than it was.
    let (same, other) = text.split_at(text.len() - 200);
    let anew = format!("{same}{}99.0,900,x\n", other.replace("a note", "no note"));
    for changed in [&text[..2000], &text.replace("900", "901"), &anew] {
        std::fs::write(&path, changed).unwrap();
        assert!(matches!(log.read(&[1]), Err(LoadError::Changed { .. })));
    }
    std::fs::remove_file(&path).unwrap();
    assert!(log.read(&[1]).is_err());
}
