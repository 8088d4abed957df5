//! The way there and back, and files that are damaged.

use std::path::Path;
use std::sync::Arc;

use arrow_array::types::Int32Type;
use arrow_array::{
    ArrayRef, BooleanArray, DictionaryArray, Float32Array, Int16Array, ListArray, RecordBatch,
    StringArray, TimestampMillisecondArray, UInt8Array,
};
use arrow_ipc::writer::FileWriter;
use parquet::arrow::ArrowWriter;

use super::keep::{Relation, Way, relation};
use super::words::Names;
use super::{ConvertError, Converted, Form, convert, open};
use crate::load::{Forced, LoadError, Log, from_bytes};
use crate::sheet::Sheet;

/// Words, holes, an unreadable cell, a repeated heading, an empty one, a time of day, degF and a count in each row.
const LOG: &str = "\
# made in the workshop
Clock,Engine Speed (rpm),EGT1 (degF),Aux,Aux,,Mode,Knock Count,Oil Pressure (psi)
10:00:00.0,900,120.5,1.5,,7,warm,0,31.25
10:00:00.1,910,,2.5,x,7,warm,3,31.5
10:00:00.2,920,121,3.5,-,7,,0,-0.5
10:00:00.3,oops,121.5,4.5,0.1,7,hot,2,30
10:00:00.4,940
10:00:00.5,950,122.25,-0,0.2,7,hot,0,
10:00:00.4,960,123,6.5,0.3,7,\"hot, very\",5,29.75
10:00:00.7,970,124,7.5,0.4,7,hot,1,29
10:00:00.8,980,125,8.5,0.5,7,hot,4,28
";

const FORMS: [Form; 2] = [Form::Parquet, Form::Arrow];

fn csv() -> impl Log {
    from_bytes("run.csv", LOG.into(), &Forced::default()).unwrap()
}

fn write(log: &dyn Log, form: Form, to: &Path) -> Result<Converted, ConvertError> {
    convert(log, &Sheet::default(), &Forced::default(), form, to)
}

fn back(path: &Path) -> Box<dyn Log> {
    open(path, &Forced::default()).unwrap().unwrap()
}

fn bits(values: &[f64]) -> Vec<u64> {
    let one = |v: &f64| {
        if v.is_nan() {
            f64::NAN.to_bits()
        } else {
            v.to_bits()
        }
    };
    values.iter().map(one).collect()
}

/// Everything that a reader can ask of a log.
fn assert_same(a: &dyn Log, b: &dyn Log) {
    assert_eq!(a.headings(), b.headings());
    assert_eq!(a.evidence(), b.evidence());
    assert_eq!(a.clock_column(), b.clock_column());
    assert_eq!(a.read_as(), b.read_as());
    let columns: Vec<usize> = (0..a.headings().len())
        .filter(|column| Some(*column) != a.clock_column())
        .collect();
    let mut choices: Vec<Vec<usize>> = columns.iter().map(|column| vec![*column]).collect();
    choices.extend([vec![], columns.clone(), columns.into_iter().rev().collect()]);
    for wanted in choices {
        let (a, b) = (a.read(&wanted).unwrap(), b.read(&wanted).unwrap());
        assert_eq!(a.rows, b.rows);
        assert_eq!(bits(&a.time_s), bits(&b.time_s));
        assert_eq!(a.clock_s.map(|c| bits(&c)), b.clock_s.map(|c| bits(&c)));
        assert_eq!(a.sample_hz.to_bits(), b.sample_hz.to_bits());
        assert_eq!(a.breaks, b.breaks);
        assert_eq!(a.clock_note, b.clock_note);
        assert_eq!(a.problems, b.problems, "{wanted:?}");
        assert_eq!(a.columns.len(), b.columns.len());
        for (a, b) in a.columns.iter().zip(&b.columns) {
            assert_eq!(bits(&a.values), bits(&b.values), "column {}", a.column);
            assert_eq!(
                (a.column, a.filled, a.blank, a.unreadable),
                (b.column, b.filled, b.blank, b.unreadable)
            );
        }
    }
}

#[test]
fn the_log_comes_back_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let log = csv();
    assert!(log.read(&[1]).unwrap().problems.total > 0);
    for form in FORMS {
        let path = folder.path().join("run");
        let told = write(&log, form, &path).unwrap();
        assert_eq!((told.rows, told.channels), (8, 4), "{form:?}");
        assert_eq!(told.bytes, std::fs::metadata(&path).unwrap().len());
        let again = back(&path);
        assert_same(&log, again.as_ref());
        let words = again.texts(&log.read(&[]).unwrap(), &[6]).unwrap().unwrap();
        let words: Vec<_> = words[0].iter().collect();
        assert_eq!(words[..4], [Some("warm"), Some("warm"), None, Some("hot")]);
        assert_eq!(words[5], Some("hot, very"));
        // And once more, from the one form into the other.
        for other in FORMS {
            let second = folder.path().join("second");
            write(again.as_ref(), other, &second).unwrap();
            assert_same(&log, back(&second).as_ref());
        }
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
        assert_eq!(left.len(), 2, "{left:?}");
    }
}

#[test]
fn a_sheet_that_reads_otherwise_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.parquet");
    write(&csv(), Form::Parquet, &path).unwrap();
    let same = Forced {
        delimiter: Some(','),
        ..Forced::default()
    };
    assert!(open(&path, &same).is_ok());
    let others = [
        Forced {
            delimiter: Some(';'),
            ..Forced::default()
        },
        Forced {
            decimal: Some(','),
            ..Forced::default()
        },
        Forced {
            sample_hz: Some(50.0),
            ..Forced::default()
        },
    ];
    let wanted = ["delimiter = \";\"", "decimal = \",\"", "sample_hz = 50.0"];
    for (forced, wanted) in others.iter().zip(wanted) {
        let error = open(&path, forced).unwrap_err();
        assert!(
            matches!(error, LoadError::ConvertedOtherwise { .. }),
            "{error}"
        );
        assert!(error.to_string().contains(wanted), "{error}");
    }
}

#[test]
fn numbers_are_kept_in_the_standard_unit_only_where_they_come_back_exactly() {
    let logged = [32.0, 212.5, -40.1, f64::NAN, 98.6];
    let celsius: Vec<f64> = logged
        .iter()
        .map(|f| f * (5.0 / 9.0) - 160.0 / 9.0)
        .collect();
    let Relation::Reversible(way) = relation(&logged, &celsius) else {
        panic!("degF to degC can be undone");
    };
    assert_eq!(way.decimals, 1);
    let mut again = celsius.clone();
    way.back(&mut again);
    assert_eq!(bits(&again), bits(&logged));
    assert_eq!(relation(&logged, &logged), Relation::Same);
    // Sums of counts, numbers that no decimals write, a lost reading.
    let sums = [1.0, 3.0, 3.0, 7.0];
    assert_eq!(relation(&[1.0, 2.0, 0.0, 4.0], &sums), Relation::Apart);
    let third = [1.0 / 3.0, 2.0 / 3.0, 0.7];
    assert_eq!(
        relation(&third, &third.map(|v| v * 6.894757)),
        Relation::Apart
    );
    assert_eq!(
        relation(&[1.0, 2.0, 3.0], &[2.0, 4.0, f64::NAN]),
        Relation::Apart
    );
    assert_eq!(
        relation(&[0.0; 3], &[5.0; 3]),
        Relation::Reversible(Way {
            factor: 1.0,
            offset: 5.0,
            decimals: 0
        })
    );
}

#[test]
fn every_name_is_given_once() {
    let mut names = Names::default();
    let given = ["time", "Time", "Aux", "aux", "Aux (2)"].map(|name| names.give(name));
    assert_eq!(given, ["time", "Time (2)", "Aux", "aux (2)", "Aux (2) (2)"]);
}

/// Every cut and every byte turned over: an error in one sentence, or a log of the same shape; never a panic.
#[test]
fn damaged_files_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run");
    let log = csv();
    let all: Vec<usize> = (1..log.headings().len()).collect();
    let read = |bytes: &[u8]| -> Result<(), String> {
        std::fs::write(&path, bytes).unwrap();
        let Some(log) = open(&path, &Forced::default()).map_err(|e| e.to_string())? else {
            return Err("it is told as no log".to_owned());
        };
        let columns = log.headings().len();
        let wanted: Vec<usize> = all.iter().copied().filter(|c| *c < columns).collect();
        let table = log.read(&wanted).map_err(|e| e.to_string())?;
        assert_eq!(table.time_s.len(), table.rows);
        log.texts(&table, &wanted)
            .map(drop)
            .map_err(|e| e.to_string())
    };
    for form in FORMS {
        write(&log, form, &path).unwrap();
        let whole = std::fs::read(&path).unwrap();
        assert_eq!(read(&whole), Ok(()));
        for end in (0..whole.len())
            .step_by(61)
            .chain(whole.len() - 12..whole.len())
        {
            let error = read(&whole[..end]).expect_err("a part is no whole");
            assert!(!error.contains('\n') && error.len() < 1000, "{error}");
        }
        let mut refused = 0;
        for at in (0..whole.len()).step_by(3) {
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << (at / 3 % 8);
            if let Err(error) = read(&bytes) {
                assert!(!error.contains('\n'), "{error}");
                refused += 1;
            }
        }
        assert!(refused > whole.len() / 30, "{form:?}: {refused}");
    }
}

#[test]
fn a_reason_is_told_without_the_kinds_before_it() {
    let told = |reason: &str| super::guard::damaged("run", Form::Parquet, reason).to_string();
    let cut = told("Parquet argument error: EOF: file size of 3 is\n less than footer");
    assert!(
        cut.contains("(EOF: file size of 3 is less than footer)"),
        "{cut}"
    );
    let packed = told("Parquet error: Disabled feature at compile time: zstd");
    assert!(packed.contains("packed with zstd"), "{packed}");
}

fn foreign_batch() -> RecordBatch {
    let rows = 40_i64;
    let start = 1_780_000_000_250_i64;
    let times: TimestampMillisecondArray = (0..rows).map(|n| Some(start + 100 * n)).collect();
    let speed: Int16Array = (0..rows)
        .map(|n| (n != 3).then_some(900 + n as i16))
        .collect();
    let volts: Float32Array = (0..rows).map(|n| Some(12.5 + n as f32 / 10.0)).collect();
    let fan: BooleanArray = (0..rows).map(|n| Some(n >= 20)).collect();
    let gear: UInt8Array = (0..rows).map(|n| Some((n / 10) as u8)).collect();
    let pump: DictionaryArray<Int32Type> = (0..rows)
        .map(|n| if n < 5 { "off" } else { "on" })
        .collect();
    let words: StringArray = (0..rows).map(|_| Some("a, \"b\"\nc")).collect();
    let lists = ListArray::from_iter_primitive::<Int32Type, _, _>(
        (0..rows).map(|n| Some(vec![Some(n as i32)])),
    );
    let columns: [(&str, ArrayRef); 8] = [
        ("when", Arc::new(times)),
        ("Engine Speed (rpm)", Arc::new(speed)),
        ("Battery Voltage (V)", Arc::new(volts)),
        ("Fan", Arc::new(fan)),
        ("Gear", Arc::new(gear)),
        ("Pump", Arc::new(pump)),
        ("Words", Arc::new(words)),
        ("Lists", Arc::new(lists)),
    ];
    RecordBatch::try_from_iter(columns).unwrap()
}

#[test]
fn files_of_other_programs_are_logs_too() {
    let folder = tempfile::tempdir().unwrap();
    let batch = foreign_batch();
    for form in FORMS {
        let path = folder.path().join("other");
        let file = std::fs::File::create(&path).unwrap();
        match form {
            Form::Parquet => {
                let mut writer = ArrowWriter::try_new(file, batch.schema(), None).unwrap();
                writer.write(&batch).unwrap();
                writer.close().unwrap();
            }
            Form::Arrow => {
                let mut writer = FileWriter::try_new(file, &batch.schema()).unwrap();
                writer.write(&batch).unwrap();
                writer.finish().unwrap();
            }
        }
        let log = back(&path);
        let table = log.read(&[1, 2, 3, 4, 5, 6, 7]).unwrap();
        assert_eq!(table.rows, 40);
        assert!((table.sample_hz - 10.0).abs() < 1e-6);
        let value = |column: usize, row: usize| table.columns[column - 1].values[row];
        assert_eq!((value(1, 2), value(1, 39)), (902.0, 939.0));
        assert!(value(1, 3).is_nan());
        // As a person reads a single: 12.6, not 12.600000381469727.
        assert_eq!(value(2, 1), 12.6);
        assert_eq!((value(3, 19), value(3, 20)), (0.0, 1.0));
        assert_eq!(value(4, 39), 3.0);
        assert_eq!((value(5, 4), value(5, 5)), (0.0, 1.0));
        assert_eq!(
            (table.columns[5].unreadable, table.columns[6].blank),
            (40, 40)
        );
        assert!(
            log.evidence()
                .iter()
                .any(|line| line.contains("`Lists` holds List")),
            "{:#?}",
            log.evidence()
        );
        // Converted, it is the same log.
        let ours = folder.path().join("ours");
        write(log.as_ref(), form, &ours).unwrap();
        assert_same(log.as_ref(), back(&ours).as_ref());
    }
}
