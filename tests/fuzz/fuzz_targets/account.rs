//! What must hold for every table, whatever the bytes were.

use std::io::Write;

use flate2::{Compression, write::GzEncoder};
use plugread::load::{self, Forced, LogFile, Table};

/// Whether each row holds one reading, named in a cell of its own: then there are other columns than fields.
fn is_long(log: &LogFile) -> bool {
    log.dialect().evidence.iter().any(|said| said.contains("each channel keeps the times at which it was read"))
}

/// Opens bytes, reads every column, and holds the account.
pub fn read_all(bytes: &[u8]) -> Option<(LogFile, Table)> {
    let log = load::from_bytes("fuzz.csv", bytes.to_vec(), &Forced::default()).ok()?;
    let columns: Vec<usize> = (0..log.headings().len()).collect();
    let table = log.read(&columns).ok()?;
    assert!(table.rows > 0);
    assert_eq!(table.time_s.len(), table.rows);
    assert!(table.time_s.iter().all(|time| time.is_finite()));
    assert!(table.time_s.windows(2).all(|pair| pair[0] < pair[1]));
    for column in &table.columns {
        assert_eq!(column.values.len(), table.rows);
        // In a log with one row per reading a channel has cells only in its own rows.
        let cells = column.filled + column.blank + column.unreadable;
        assert!(cells == table.rows || (is_long(&log) && cells <= table.rows_read));
        let numbers = column.values.iter().filter(|value| !value.is_nan()).count();
        assert_eq!(numbers, column.filled);
        assert!(column.values.iter().all(|value| !value.is_infinite()));
    }
    let lines: Vec<usize> = (0..table.rows).map(|row| table.line_of(row)).collect();
    assert!(lines.windows(2).all(|pair| pair[0] < pair[1]));
    assert!(lines.iter().enumerate().all(|(row, line)| table.row_of(*line) == Some(row)));
    // A line that was lost is no line of a row.
    for problem in table.problems.listed.iter().filter(|p| p.kind.loses_a_row()) {
        assert!(table.row_of(problem.line).is_none(), "{problem:?}");
    }
    let counted: usize = table.problems.counts.iter().map(|(_, count)| count).sum();
    assert_eq!(counted, table.problems.total);
    read_as_a_stream(bytes, &columns, &table);
    Some((log, table))
}

/// Plain text is read piece by piece wherever it lies, packed text from its start: both must see the same log.
fn read_as_a_stream(bytes: &[u8], columns: &[usize], table: &Table) {
    // Zero bytes at the end are space set aside in a plain file only.
    if bytes.last() == Some(&0) {
        return;
    }
    let mut packed = GzEncoder::new(Vec::new(), Compression::none());
    packed.write_all(bytes).expect("a vector takes all");
    let packed = packed.finish().expect("a vector takes all");
    let log = load::from_bytes("fuzz.csv.gz", packed, &Forced::default()).expect("the same log");
    let stream = log.read(columns).expect("the same rows");
    assert_eq!((stream.rows, stream.rows_read), (table.rows, table.rows_read));
    assert_eq!(stream.problems, table.problems);
    assert!(stream.time_s.iter().zip(table.time_s.iter()).all(|(a, b)| a.to_bits() == b.to_bits()));
    assert_eq!(stream.breaks, table.breaks);
    for (a, b) in stream.columns.iter().zip(&table.columns) {
        assert!(a.values.iter().zip(&b.values).all(|(a, b)| a.to_bits() == b.to_bits()));
    }
    assert!((0..table.rows).all(|row| stream.line_of(row) == table.line_of(row)));
}
