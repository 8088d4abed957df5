//! Records and fields against outside material: the files of csv-spectrum and what they hold as JSON.

use std::path::Path;

use serde_json::{Map, Value};

use crate::load::fields::{Shape, all, record, unquote};

/// The files and the rows of data in each.
const CASES: [(&str, usize); 11] = [
    ("comma_in_quotes", 1),
    ("empty", 2),
    ("empty_crlf", 2),
    ("escaped_quotes", 2),
    ("json", 1),
    ("newlines", 3),
    ("newlines_crlf", 3),
    ("quotes_and_newlines", 2),
    ("simple", 1),
    ("simple_crlf", 1),
    ("utf8", 2),
];

fn file(kind: &str, name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/csv-spectrum");
    let ending = if kind == "csvs" { "csv" } else { "json" };
    let path = folder.join(kind).join(format!("{name}.{ending}"));
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn json(name: &str) -> Value {
    serde_json::from_str(&String::from_utf8_lossy(&file("json", name)))
        .unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// All records of a file as cells.
fn records(name: &str) -> Vec<Vec<String>> {
    let bytes = file("csvs", name);
    let shape = Shape {
        delimiter: b',',
        terminator: b'\n',
    };
    let (mut at, mut out) = (0, Vec::new());
    while at < bytes.len() {
        let record = record(&bytes, at, shape, true);
        let cells = all(record.text(&bytes), shape).into_iter();
        let cells = cells.map(|c| unquote(&String::from_utf8_lossy(c)).into_owned());
        out.push(cells.collect());
        at = record.next;
    }
    out
}

#[test]
fn the_same_cells() {
    for (name, rows) in CASES {
        let mut records = records(name).into_iter();
        let names = records.next().unwrap_or_default();
        let got: Vec<Value> = records
            .map(|cells| {
                assert_eq!(cells.len(), names.len(), "csv-spectrum, {name}");
                let pairs = names
                    .iter()
                    .cloned()
                    .zip(cells.into_iter().map(Value::from));
                Value::Object(pairs.collect::<Map<_, _>>())
            })
            .collect();
        assert_eq!(got.len(), rows, "csv-spectrum, {name}");
        assert_eq!(Value::from(got), json(name), "csv-spectrum, {name}");
    }
}

/// Its JSON has other digits, so the cells are held against the file as it is shown.
#[test]
fn quotes_inside_a_field_are_letters() {
    let records = records("location_coordinates");
    let wanted = json("location_coordinates");
    assert_eq!(records.len(), 2);
    assert_eq!(records[1].len(), 4);
    assert!(
        records[1][1].ends_with("'37.8\"N 121\u{fffd}2'17.9\"W"),
        "{:?}",
        records[1]
    );
    assert_eq!(records[1][2], wanted["Cities"]);
    assert_eq!(records[1][3], wanted["Counties"]);
}
