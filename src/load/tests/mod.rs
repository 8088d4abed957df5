//! What the loader makes of whole logs.

mod any_bytes;
mod any_cells;
mod bad_input;
mod cell_forms;
mod clock_chosen;
mod clock_columns;
mod clock_forms;
mod clock_round_trip;
mod clock_rounds;
mod clocks;
mod csv_spectrum;
mod cut_rows;
mod heads;
mod long;
mod misread;
mod open_data;
mod packed;
mod quirks;
mod rows;
mod stray_quotes;

use super::{Forced, LoadError, LogFile, Table, from_bytes};

fn log(text: &str) -> LogFile {
    match from_bytes("run.csv", text.as_bytes().to_vec(), &Forced::default()) {
        Ok(log) => log,
        Err(error) => panic!("{error}\n{text}"),
    }
}

/// All columns of a log.
fn table(text: &str) -> (LogFile, Table) {
    let log = log(text);
    let table = read_all(&log);
    (log, table)
}

fn read_all(log: &LogFile) -> Table {
    let wanted: Vec<usize> = (0..log.headings().len()).collect();
    match log.read(&wanted) {
        Ok(table) => table,
        Err(error) => panic!("{error}"),
    }
}

fn forced(text: &str, forced: &Forced) -> Result<Table, LoadError> {
    let log = from_bytes("run.csv", text.as_bytes().to_vec(), forced)?;
    let wanted: Vec<usize> = (0..log.headings().len()).collect();
    log.read(&wanted)
}

/// The values of one column, missing ones as `None`.
fn values(table: &Table, column: usize) -> Vec<Option<f64>> {
    let values = table.columns[column].values.iter();
    values.map(|v| (!v.is_nan()).then_some(*v)).collect()
}

/// Line and words of each problem.
fn problems(table: &Table) -> Vec<(usize, &str)> {
    let listed = table.problems.listed.iter();
    listed.map(|p| (p.line, p.what.as_str())).collect()
}

fn near(got: &[f64], wanted: &[f64]) {
    let close = got.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-6);
    assert!(
        close && got.len() == wanted.len(),
        "got {got:?}, wanted {wanted:?}"
    );
}
