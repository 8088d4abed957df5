//! Logs with one row per reading.

use std::fmt::Write as _;

use super::{forced, near, problems, read_all, table, values};
use crate::load::{BreakKind, Forced, LoadError, LogFile, ProblemKind, Table};

fn heads(log: &LogFile) -> Vec<(&str, Option<&str>)> {
    log.headings()
        .iter()
        .map(|h| (h.name.as_str(), h.unit.as_deref()))
        .collect()
}

/// The readings of one channel: times and values.
fn readings(table: &Table, column: usize) -> (Vec<f64>, Vec<f64>) {
    let pairs = table.time_s.iter().zip(&table.columns[column].values);
    pairs
        .filter(|pair| !pair.1.is_nan())
        .map(|(t, v)| (*t, *v))
        .unzip()
}

const LOG: &str = "Time (s),Channel,Value,Unit\n\
    0.00,RPM,900,rpm\n\
    0.00,MAP,98.5,kPa\n\
    0.05,RPM,910,rpm\n\
    0.07,EGT 1,500,degC\n\
    0.10,RPM,920,rpm\n\
    0.10,MAP,98.0,kPa\n\
    0.15,RPM,930,rpm\n\
    0.17,EGT 1,501,degC\n";

#[test]
fn each_channel_becomes_a_column_with_its_own_times() {
    let (log, table) = table(LOG);
    assert_eq!(
        heads(&log),
        [
            ("Time", Some("s")),
            ("RPM", Some("rpm")),
            ("MAP", Some("kPa")),
            ("EGT 1", Some("degC"))
        ]
    );
    near(&table.time_s, &[0.0, 0.05, 0.07, 0.1, 0.15, 0.17]);
    assert_eq!((table.rows, table.rows_read), (6, 8));
    assert_eq!(readings(&table, 2), (vec![0.0, 0.1], vec![98.5, 98.0]));
    assert_eq!(readings(&table, 3), (vec![0.07, 0.17], vec![500.0, 501.0]));
    assert_eq!(
        values(&table, 1),
        [
            Some(900.0),
            Some(910.0),
            None,
            Some(920.0),
            Some(930.0),
            None
        ]
    );
    let apart = log.read_apart(&[3, 1]).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(apart.columns[0].values, [500.0, 501.0]);
    near(&apart.columns[0].times(&apart.time_s), &[0.07, 0.17]);
    assert_eq!(log.dialect().clock.map(|clock| clock.column), Some(Some(0)));
    let head = log.head(&[3, 1], 4).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(head.rows_read, 4);
    assert_eq!(values(&head, 0), [None, None, Some(500.0)]);
    let words = &log.dialect().evidence;
    assert!(
        words.iter().any(|e| e
            .contains("column 2 `Channel` names the channel, and the value stands in column 3")),
        "{words:#?}"
    );
    assert!(
        words.iter().any(|e| e.contains("8 readings of 3 channels")),
        "{words:#?}"
    );
}

#[test]
fn the_same_readings_in_many_writings() {
    let (_, wanted) = table(LOG);
    let swap = |text: &str, order: [usize; 4]| -> String {
        let row = |line: &str| {
            let cells: Vec<&str> = line.split(',').collect();
            order.map(|at| cells[at]).join(",") + "\n"
        };
        text.lines().map(row).collect()
    };
    let texts = [
        swap(LOG, [1, 0, 3, 2]),
        swap(LOG, [3, 2, 1, 0]),
        swap(LOG, [0, 1, 3, 2]),
        LOG.replace(',', ";"),
        LOG.replace(',', ";").replace('.', ","),
        LOG.replace(',', "\t"),
        LOG.replace(',', "\",\"")
            .replace('\n', "\"\n\"")
            .trim_end_matches('"')
            .replacen("Time", "\"Time", 1),
        LOG.replace(
            "Time (s),Channel,Value,Unit",
            "Timestamp,Signal Name,Reading,Units",
        ),
        LOG.replace("Time (s),Channel,Value,Unit", "Zeit;Kanal;Wert;Einheit")
            .replace(',', ";"),
        LOG.replace("Time (s),Channel,Value,Unit", "t,sensor,x,uom"),
        format!("# bench logger\n# Sample rate: 20 Hz\n\n{LOG}"),
        LOG.replace('\n', "\r\n"),
        LOG.trim_end().to_owned(),
        LOG.replace("EGT 1,500,degC", "EGT 1,500,"),
        LOG.replace("EGT 1,500,degC", "EGT 1,500,-"),
        LOG.replace(",rpm\n", ",\n")
            .replace(",kPa", ",")
            .replace(",degC", ",")
            .replace(",Unit", ""),
        LOG.replace("0.0", "00:00:00.0")
            .replace("\n0.1", "\n00:00:00.1")
            .replace("Time (s)", "Time"),
    ];
    for text in texts {
        let (log, table) = table(&text);
        let names: Vec<&str> = log
            .headings()
            .iter()
            .skip(1)
            .map(|h| h.name.as_str())
            .collect();
        assert_eq!(names, ["RPM", "MAP", "EGT 1"], "{text}");
        near(&table.time_s, &wanted.time_s);
        assert_eq!(table.rows_read, 8, "{text}");
        for column in 1..4 {
            assert_eq!(
                readings(&table, column),
                readings(&wanted, column),
                "{text}"
            );
        }
        assert_eq!(table.problems.total, 0, "{text} {:?}", table.problems);
    }
}

#[test]
fn names_bring_their_unit_or_keep_apart() {
    let (first, _) = table(
        "Time,Name,Value\n0,EGT [degC],500\n0,MAP (kPa),98\n1,EGT [degC],501\n1,MAP (kPa),97\n",
    );
    assert_eq!(
        heads(&first)[1..],
        [("EGT", Some("degC")), ("MAP", Some("kPa"))]
    );
    // Readings of one quantity in several units are one channel, in the unit of most of them.
    let (log, table) = table(
        "Time,Name,Value,Unit\n0,MAP,98,kPa\n1,MAP,97,kPa\n2,MAP,14,psi\n3,MAP,0.9,bar\n4,MAP,96,kpa\n5,MAP,95,kPa\n",
    );
    assert_eq!(heads(&log)[1..], [("MAP", Some("kPa"))]);
    let (times, values) = readings(&table, 1);
    assert_eq!(times, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    // NIST SP 811: 1 psi = 6.894757 kPa.
    near(
        &values,
        &[98.0, 97.0, 14.0 * 6.894_757_293, 90.0, 96.0, 95.0],
    );
    for said in [
        "MAP is given in `kPa` and in 1 other readings in `psi`: those were converted.",
        "MAP is given in `kPa` and in 1 other readings in `kpa`, which is the same.",
    ] {
        let evidence = &log.dialect().evidence;
        assert!(evidence.iter().any(|line| line == said), "{evidence:?}");
    }
    let head = log.head(&[1], 4).unwrap_or_else(|error| panic!("{error}"));
    near(
        &head.columns[0].values,
        &[98.0, 97.0, 14.0 * 6.894_757_293, 90.0],
    );
}

#[test]
fn channels_of_one_name_that_are_not_one_stay_apart() {
    for (text, why) in [
        // Each reading in both units, two quantities, and a pressure over the air.
        (
            "0,T,20,C\n0,T,68,F\n1,T,21,C\n1,T,70,F\n2,T,22,C\n2,T,72,F\n",
            "T is given in `C` and also in `F`, at the same times: these are kept as two channels.",
        ),
        (
            "0,T,20,C\n1,T,5,V\n2,T,20,C\n3,T,5,V\n4,T,21,C\n5,T,5,V\n",
            "T is given in `C` and also in `V`, which is not known to be the same quantity: these are kept as two channels.",
        ),
        (
            "0,T,20,kPa\n1,T,1,bar gauge\n2,T,20,kPa\n3,T,1,bar gauge\n4,T,2,kPa\n",
            "T is given in `kPa` and also in `bar gauge`, which is not known to be the same quantity: these are kept as two channels.",
        ),
    ] {
        let log = super::log(&format!("Time,Channel,Value,Unit\n{text}"));
        assert_eq!(log.headings().len(), 3, "{text}");
        let evidence = &log.dialect().evidence;
        assert!(evidence.iter().any(|line| line == why), "{evidence:?}");
    }
}

#[test]
fn rows_that_cannot_be_used_are_told() {
    let text = "Time,Signal,Value\n0,A,1\n0,B,2\n1,A\n1,,3\nx,A,4\n2,A,abc\n2,B,\n\nTime,Signal,Value\nEnd of log\n3,A,5\n3,B,6\n4,A";
    let (_, table) = table(text);
    assert_eq!(table.rows_read, 6);
    assert_eq!(
        problems(&table),
        [
            (4, "2 fields where 3 are expected"),
            (5, "the row does not say of which channel its reading is"),
            (6, "the clock cell reads `x`, which is no time"),
            (7, "`abc` for A is not a number"),
            (9, "blank row"),
            (10, "the names row once more"),
            (11, "text instead of numbers: `End of log`"),
            (
                14,
                "the last row is cut short: 2 fields where 3 are expected"
            ),
        ]
    );
    let lines = text.lines().count();
    assert_eq!(table.rows_read + table.problems.rows_lost(), lines - 1);
    let counts = |at: usize| {
        (
            table.columns[at].filled,
            table.columns[at].blank,
            table.columns[at].unreadable,
        )
    };
    assert_eq!((counts(1), counts(2)), ((2, 0, 1), (2, 1, 0)));
    let two = super::log("Time,Signal,Value,Quality\n0,A,1,7\n0,B,2,7\n1,A,1,7\n1,B,2,7\n");
    assert_eq!(heads(&two).len(), 3);
    let listed = read_all(&two).problems;
    assert_eq!(
        listed.listed[0].what,
        "column 4 `Quality` stands beside the readings and is not used"
    );
    assert_eq!(
        (listed.listed[0].column, listed.listed[0].kind),
        (Some(4), ProblemKind::Heading)
    );
}

#[test]
fn switches_units_behind_numbers_and_dates() {
    let text = "Date,Time,Signal,Value\n\
        2024-05-04,10:00:00.0,Fan,off\n2024-05-04,10:00:00.0,Battery,12.5 V\n\
        2024-05-04,10:00:00.5,Fan,ON\n2024-05-04,10:00:00.5,Battery,12.6 V\n\
        2024-05-04,10:00:01.0,EGT 1,500\n2024-05-04,10:00:01.0,EGT 1,open\n\
        2024-05-04,10:00:01.5,EGT 1,501\n2024-05-04,10:00:01.5,Battery,12.4 V\n";
    let (log, table) = table(text);
    let wanted = [("Fan", None), ("Battery", Some("V")), ("EGT 1", None)];
    assert_eq!(heads(&log)[1..], wanted, "{:#?}", log.dialect().evidence);
    assert_eq!(readings(&table, 1), (vec![0.0, 0.5], vec![0.0, 1.0]));
    assert_eq!(
        readings(&table, 2),
        (vec![0.0, 0.5, 1.5], vec![12.5, 12.6, 12.4])
    );
    assert_eq!(readings(&table, 3), (vec![1.0, 1.5], vec![500.0, 501.0]));
    let egt = &table.columns[3];
    assert_eq!((egt.filled, egt.unreadable, table.rows_read), (2, 1, 8));
    let told = problems(&table);
    assert!(
        told.contains(&(
            7,
            "`open` under EGT 1 is no reading: the column holds numbers such as 500"
        )),
        "{told:?}"
    );
}

#[test]
fn a_last_row_without_an_end_makes_no_channel() {
    for (end, rows) in [("1.0,MAP,97,kP", 4), ("1.0,MA", 4), ("1.0,MAP,97,kPa", 5)] {
        let text = format!(
            "Time,Channel,Value,Unit\n0.0,RPM,900,rpm\n0.0,MAP,98,kPa\n0.5,RPM,910,rpm\n0.5,MAP,97,kPa\n{end}"
        );
        let (log, table) = table(&text);
        assert_eq!(log.headings().len(), 3, "{end}");
        assert_eq!(
            (table.rows_read, table.problems.count(ProblemKind::CutRow)),
            (rows, 5 - rows),
            "{end}"
        );
    }
}

#[test]
fn logs_sorted_by_channel_and_late_readings() {
    let mut text = String::from("Time,Channel,Value\n");
    for channel in ["RPM", "MAP", "EGT 1"] {
        for n in 0..50 {
            let _ = writeln!(text, "{:.2},{channel},{}", f64::from(n) * 0.1, n);
        }
    }
    let (_, sorted) = table(&text);
    assert_eq!((sorted.rows, sorted.rows_read), (50, 150));
    assert!(sorted.breaks.is_empty());
    let all: Vec<Option<f64>> = (0..50).map(|n| Some(f64::from(n))).collect();
    assert!((1..4).all(|column| values(&sorted, column) == all));

    // A bus hands in readings a little late.
    let (_, late) = table(
        "Time,Channel,Value\n0.0,A,1\n0.2,B,1\n0.3,A,2\n0.5,B,2\n0.45,A,3\n0.6,B,3\n0.7,A,4\n",
    );
    near(&late.time_s, &[0.0, 0.2, 0.3, 0.45, 0.5, 0.6, 0.7]);
    assert!(late.breaks.is_empty());
    let (times, values) = readings(&late, 1);
    near(&times, &[0.0, 0.3, 0.45, 0.7]);
    assert_eq!(values, [1.0, 2.0, 3.0, 4.0]);
}

#[test]
fn several_readings_under_one_coarse_stamp_are_spread() {
    let mut text = String::from("Time,Channel,Value\n");
    for n in 0..40 {
        let _ = writeln!(text, "{},RPM,{n}", n / 4);
        if n % 4 == 0 {
            let _ = writeln!(text, "{},MAP,{n}", n / 4);
        }
    }
    let (_, table) = table(&text);
    assert_eq!((table.rows, table.rows_read), (40, 50));
    near(&table.time_s[..6], &[0.0, 0.25, 0.5, 0.75, 1.0, 1.25]);
    let (times, rpm) = readings(&table, 1);
    assert_eq!((times.len(), rpm[39]), (40, 39.0));
    near(&readings(&table, 2).0[..3], &[0.0, 1.0, 2.0]);
}

#[test]
fn a_restart_and_a_midnight_go_on() {
    let mut text = String::from("Time,Channel,Value\n");
    for part in 0..2 {
        for n in 0..30 {
            let at = f64::from(n) * 0.5;
            let _ = writeln!(
                text,
                "{at:.1},RPM,{}\n{:.1},MAP,{n}",
                part * 100 + n,
                at + 0.1
            );
        }
    }
    let (_, restarted) = table(&text);
    assert_eq!((restarted.rows, restarted.rows_read), (120, 120));
    let kinds: Vec<(usize, BreakKind)> = restarted.breaks.iter().map(|b| (b.row, b.kind)).collect();
    assert_eq!(kinds, [(60, BreakKind::Restart)]);
    assert_eq!(restarted.breaks[0].line, 62);
    assert!(restarted.time_s.windows(2).all(|pair| pair[1] > pair[0]));

    let text = "Time,Channel,Value\n23:59:59.0,A,1\n23:59:59.5,B,1\n00:00:00.0,A,2\n23:59:59.9,B,2\n00:00:00.5,A,3\n00:00:00.6,B,3\n";
    let (_, night) = table(text);
    near(&night.time_s, &[0.0, 0.5, 0.9, 1.0, 1.5, 1.6]);
    assert_eq!(readings(&night, 1).1, [1.0, 2.0, 3.0]);
    assert!(night.breaks.is_empty());
}

#[test]
fn a_column_of_words_does_not_make_a_log_one_of_readings() {
    for text in [
        "Time,RPM,State\n0,900,idle\n1,910,idle\n2,920,run\n3,930,run\n",
        "Time,State,RPM,MAP\n0,idle,900,98\n1,idle,910,98\n2,run,920,97\n3,run,930,97\n",
        "Time,Marker,RPM\n0,start,900\n1,start,910\n2,end,920\n3,end,930\n",
        "Time,Name,RPM,MAP,EGT\n0,x,900,98,500\n1,x,910,98,501\n2,y,920,97,502\n3,y,930,97,503\n",
    ] {
        let (log, table) = table(text);
        assert!(log.headings().iter().any(|h| h.name == "RPM"), "{text}");
        assert_eq!((table.rows, table.rows_read), (4, 4), "{text}");
    }
}

#[test]
fn free_text_is_no_channel() {
    let mut text = String::from("Time,Channel,Value\n");
    for n in 0..9000 {
        let name = if n < 3000 { n % 5 } else { n };
        let _ = writeln!(text, "{n},name {name},1");
    }
    let error = forced(&text, &Forced::default()).err();
    assert!(
        matches!(error, Some(LoadError::TooManyChannels { column: 2, .. })),
        "{error:?}"
    );
}

/// Every reading of a generated log comes back at its own time, whatever pieces the text was cut into.
#[test]
fn many_readings_come_back() {
    let mut text = String::from("Time,Channel,Value,Unit\n");
    let mut wanted: Vec<(Vec<f64>, Vec<f64>)> = vec![Default::default(); 7];
    for n in 0..5000_u32 {
        let channel = (n.wrapping_mul(2_654_435_761) >> 16) as usize % 7;
        let (at, value) = (f64::from(n) * 0.003, f64::from(n % 977));
        let _ = writeln!(text, "{at:.3},\"C, {channel}\",{value},kPa");
        wanted[channel].0.push(at);
        wanted[channel].1.push(value);
    }
    let (log, table) = table(&text);
    assert_eq!((table.rows, table.rows_read), (5000, 5000));
    for (at, heading) in log.headings().iter().enumerate().skip(1) {
        let channel: usize = heading.raw.trim_start_matches("C, ").parse().unwrap_or(99);
        let (times, values) = readings(&table, at);
        near(&times, &wanted[channel].0);
        assert_eq!(values, wanted[channel].1);
    }
    let lines: Vec<usize> = [0, 777, 4999].map(|row| table.line_of(row)).to_vec();
    assert_eq!(lines, [2, 779, 5001]);
}
