//! Whatever stands in the cells, nothing is lost and no time goes back.

use proptest::prelude::*;

use crate::load::{ClockStyle, DateOrder, Forced, from_bytes};

const CELLS: [&str; 48] = [
    "0",
    "1",
    "2.5",
    "-3",
    "1e3",
    ".5",
    "1,5",
    "1,234.5",
    "1 234,5",
    "1'234",
    "OFF",
    "on",
    "open",
    "CLOSED",
    "ERR",
    "NaN",
    "---",
    "n/a",
    "1.#INF00",
    "\u{2212}4",
    "12.5 V",
    "98%",
    "45°C",
    "980 mV",
    "0x1F",
    "",
    " ",
    "\"\"",
    "\"7\"",
    "00:00:01",
    "23:59:59.9",
    "00:00:00.1",
    "59:59.5",
    "12:00:00 AM",
    "2026-04-12",
    "13/04/2026",
    "03/04/2026 10:00:00",
    "04/13/26 11:59:59 PM",
    "20260412T101500Z",
    "2026-04-12T10:15:00+02:00",
    "31.12.9999 23:59:59",
    "0 days 00:00:01",
    "65535",
    "4294967295",
    "86399",
    "1775988900",
    "45678.123456",
    "1e308",
];
const HEADS: [&str; 10] = [
    "Time",
    "Date",
    "Time (ms)",
    "ms",
    "Time (s)",
    "Fan",
    "EGT (degC)",
    "RPM",
    "Uptime",
    "",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn nothing_is_lost(
        heads in prop::collection::vec(0..HEADS.len(), 1..6),
        cells in prop::collection::vec(0..CELLS.len(), 0..200),
        counted in prop::bool::weighted(0.8),
        end in any::<bool>(),
        forced in (0..12_usize, 0..12_usize, 0..12_usize),
    ) {
        let mut text: String = heads.iter().map(|head| HEADS[*head]).collect::<Vec<_>>().join(";");
        text.push('\n');
        let mut rows = 0;
        for (row, cells) in cells.chunks_exact(heads.len()).enumerate() {
            let mut cells: Vec<String> = cells.iter().map(|cell| CELLS[*cell].to_owned()).collect();
            if counted {
                cells[0] = row.to_string();
            }
            text.push_str(&cells.join(";"));
            text.push('\n');
            rows += 1;
        }
        if !end {
            text.pop();
            // Nothing, with no line end behind it, is no row.
            if text.ends_with('\n') && rows > 0 {
                rows -= 1;
            }
        }
        let forced = Forced {
            clock: [Some("Time".to_owned()), Some("no such".to_owned())].get(forced.0).cloned().flatten(),
            clock_unit: [ClockStyle::Days, ClockStyle::Milliseconds].get(forced.1).copied(),
            date_order: [DateOrder::Dmy, DateOrder::Mdy].get(forced.2).copied(),
            ..Forced::default()
        };
        let Ok(log) = from_bytes("run.csv", text.clone().into_bytes(), &forced) else {
            return Ok(());
        };
        let wanted: Vec<usize> = (0..log.headings().len()).collect();
        let Ok(table) = log.read(&wanted) else { return Ok(()) };
        prop_assert!(table.time_s.windows(2).all(|pair| pair[1] > pair[0]), "{}\n{:?}", text, table.time_s);
        prop_assert!(table.time_s.iter().all(|time| time.is_finite()), "{}\n{:?}", text, table.time_s);
        // Rows above the first whole data row belong to the head of the log.
        let head = log.dialect().first_data_line - 2;
        prop_assert!(table.rows + table.problems.rows_lost() >= rows - head, "{}", text);
        prop_assert!(table.rows + table.problems.rows_lost() <= rows, "{}", text);
        for column in &table.columns {
            let numbers = column.values.iter().filter(|value| !value.is_nan()).count();
            prop_assert_eq!(numbers, column.filled, "{}", text);
            prop_assert_eq!(column.filled + column.blank + column.unreadable, table.rows);
            prop_assert!(column.words <= column.filled);
        }
    }
}
