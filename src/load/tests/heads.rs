//! What may stand above the data: preambles, several header rows, names that are missing, doubled or bare.

use super::{forced, log, near, problems, read_all, table, values};
use crate::load::{BreakKind, Forced, LoadError, LogFile, ProblemKind, from_bytes};

fn names(log: &LogFile) -> Vec<&str> {
    log.headings().iter().map(|h| h.name.as_str()).collect()
}

fn units(log: &LogFile) -> Vec<Option<&str>> {
    log.headings().iter().map(|h| h.unit.as_deref()).collect()
}

fn says(log: &LogFile, words: &str) -> bool {
    log.dialect().evidence.iter().any(|e| e.contains(words))
}

/// Rows of a log under any header of four columns.
const ROWS: &str = "0.00,900,98.5,500\n0.05,910,98.25,501\n0.10,920,98.0,502\n0.15,930,97.5,503\n";

fn check_rows(head: &str) -> LogFile {
    let text = format!("{head}{ROWS}");
    let (log, table) = table(&text);
    near(&table.time_s, &[0.0, 0.05, 0.1, 0.15]);
    assert_eq!(
        values(&table, 1),
        [900.0, 910.0, 920.0, 930.0].map(Some),
        "{text}"
    );
    assert_eq!(
        values(&table, 3),
        [500.0, 501.0, 502.0, 503.0].map(Some),
        "{text}"
    );
    log
}

#[test]
fn headers_of_several_rows() {
    let wanted = ["Time", "RPM", "MAP", "EGT 1"];
    let plain = "Time,RPM,MAP,EGT 1\n";
    let measured = [Some("s"), Some("rpm"), Some("kPa"), Some("degC")];
    for head in [
        "Time,RPM,MAP,EGT 1\ns,rpm,kPa,degC\n",
        "s,rpm,kPa,degC\nTime,RPM,MAP,EGT 1\n",
        "Time (s),RPM [rpm],MAP {kPa},EGT 1 <degC>\n",
        "(s) Time,[rpm] RPM,{kPa} MAP,<degC> EGT 1\n",
        "Time,RPM,MAP,EGT 1\n(s),[rpm],{kPa},<degC>\n",
        "Time,RPM,MAP,EGT 1\ns,rpm,kPa,degC\nFLOAT,INT,FLOAT,INT\n",
        "Time,RPM,MAP,EGT 1\nFLOAT,INT,FLOAT,INT\ns,rpm,kPa,degC\n",
        "FLOAT,INT,FLOAT,INT\ns,rpm,kPa,degC\nTime,RPM,MAP,EGT 1\n",
        "Ch 1,Ch 2,Ch 3,Ch 4\nTime,RPM,MAP,EGT 1\ns,rpm,kPa,degC\n",
        "Time,RPM,MAP,EGT 1\n1,2,3,4\ns,rpm,kPa,degC\n",
        "Base,,Air,Exhaust\nTime,RPM,MAP,EGT 1\ns,rpm,kPa,degC\n",
        "# Time , RPM,  MAP,EGT 1  \n# s,rpm,kPa,degC\n",
        "\"Time\nof run (s)\",RPM (rpm),MAP (kPa),\"EGT\n1 (degC)\"\n",
    ] {
        let log = check_rows(head);
        let found = names(&log);
        assert_eq!(found[1..], wanted[1..], "{head}");
        assert!(found[0] == "Time" || found[0] == "Time of run", "{head}");
        assert_eq!(units(&log), measured, "{head}");
        let table = read_all(&log);
        assert_eq!(table.problems.total, 0, "{head} {:?}", table.problems);
    }
    for head in [
        plain,
        "Time,RPM,MAP,EGT 1,\n",
        "Time,RPM,MAP,EGT 1,,,\n",
        "FLOAT,INT,FLOAT,INT\nTime,RPM,MAP,EGT 1\n",
        "Time,RPM,MAP,EGT 1\nFLOAT,INT,FLOAT,INT\n",
        "1,2,3,4\nTime,RPM,MAP,EGT 1\n",
        "Time,RPM,MAP,EGT 1\nCH1,CH2,CH3,CH4\n",
        "sep=,\nTime,RPM,MAP,EGT 1\n",
    ] {
        let log = check_rows(head);
        assert_eq!(names(&log), wanted, "{head}");
        assert_eq!(units(&log), [None; 4], "{head}");
        let table = read_all(&log);
        assert_eq!(table.problems.total, 0, "{head} {:?}", table.problems);
    }
}

#[test]
fn the_heading_stays_as_it_was_written() {
    let log = log("Time (s),\"Oil, main\ngallery [kPa]\",EGT1_C\n0,1,2\n1,2,3\n");
    let oil = &log.headings()[1];
    assert_eq!(oil.raw, "Oil, main\ngallery [kPa]");
    assert_eq!(
        (oil.name.as_str(), oil.unit.as_deref()),
        ("Oil, main gallery", Some("kPa"))
    );
    // What is glued to a name is left to the dictionary of channels, which knows what a name may mean.
    assert_eq!(
        (log.headings()[2].name.as_str(), &log.headings()[2].unit),
        ("EGT1_C", &None)
    );
}

#[test]
fn names_that_say_nothing_alone_take_the_title_above() {
    let rows = "0.0,500,510,520\n0.1,501,511,521\n0.2,502,512,522\n";
    let wanted = ["Time", "EGT 1", "EGT 2", "EGT 3"];
    for head in [
        ",EGT,,\nTime,1,2,3\n",
        "Time,EGT,EGT,EGT\n,1,2,3\n",
        "Time,EGT,,\n,1,2,3\n",
        "Time,EGT,EGT,EGT\ns,degC,degC,degC\n,1,2,3\n",
        ",1,2,3\nTime,EGT,EGT,EGT\n",
    ] {
        let (log, table) = table(&format!("{head}{rows}"));
        assert_eq!(names(&log), wanted, "{head}\n{:#?}", log.dialect().evidence);
        assert_eq!(table.rows, 3, "{head}");
        assert_eq!(table.problems.total, 0, "{head} {:?}", table.problems);
    }
    let log =
        log(",Front,,Rear,\nTime,EGT,Lambda,EGT,Lambda\n0,500,0.9,510,0.8\n1,501,0.9,511,0.8\n");
    assert_eq!(
        names(&log),
        [
            "Time",
            "Front EGT",
            "Front Lambda",
            "Rear EGT",
            "Rear Lambda"
        ]
    );
    assert_eq!(log.headings()[1].raw, "EGT");
}

#[test]
fn readings_that_only_look_like_counting_stay_readings() {
    let (_, first) = table("Time,A,B,C,D,E\n0,1,2,3,4,5\n1,2,3,4,5,6\n2,3,4,5,6,7\n");
    assert_eq!(first.rows, 3);
    let (_, second) = table("Time,A,B,C,D,E\n0,1,2,3,4,5\n1,1,2,3,4,5\n2,1,2,3,4,5\n");
    assert_eq!(second.rows, 3);
    let (log, third) =
        table("Time,A,B,C,D,E\n1,2,3,4,5,6\n0.00,900,98,50,60,14\n0.01,910,97,51,61,15\n");
    assert_eq!((third.rows, third.line_of(0)), (2, 3));
    assert!(says(&log, "Line 2 only counts the columns"));
}

#[test]
fn no_column_is_lost_because_another_has_its_name() {
    let (log, table) = table(
        "Time,EGT,RPM,EGT,,EGT,\n0,500,900,510,1,520,2\n1,501,901,511,1,521,2\n2,502,902,512,1,522,2\n",
    );
    assert_eq!(
        names(&log),
        [
            "Time", "EGT", "RPM", "EGT (2)", "column 5", "EGT (3)", "column 7"
        ]
    );
    let raw: Vec<&str> = log.headings().iter().map(|h| h.raw.as_str()).collect();
    assert_eq!(raw, ["Time", "EGT", "RPM", "EGT", "", "EGT", ""]);
    let bare: Vec<&str> = log.headings().iter().map(|h| h.words()).collect();
    assert_eq!(
        bare,
        ["Time", "EGT", "RPM", "EGT", "column 5", "EGT", "column 7"]
    );
    assert!(says(&log, "Columns 2, 4 and 6 are all called `EGT`"));
    assert!(says(&log, "Columns 5 and 7 have no name"));
    assert_eq!(values(&table, 5), [520.0, 521.0, 522.0].map(Some));
    let log = super::log("Time,A (2),A,A\n0,1,2,3\n1,2,3,4\n");
    assert_eq!(names(&log), ["Time", "A (2)", "A", "A (3)"]);
}

#[test]
fn trailing_delimiters_in_names_or_rows_alone() {
    let (first, table_of_first) = table("Time,RPM,\n0,900\n1,910\n2,920\n");
    assert_eq!(
        (names(&first), table_of_first.problems.total),
        (vec!["Time", "RPM"], 0)
    );
    let (second, table_of_second) = table("Time,RPM\n0,900,\n1,910,\n2,920,\n");
    assert_eq!(
        (names(&second), table_of_second.problems.total),
        (vec!["Time", "RPM"], 0)
    );
    assert!(second.dialect().trailing_delimiter && !first.dialect().trailing_delimiter);
}

#[test]
fn preambles_of_any_kind() {
    for head in [
        "Logger export\n\n",
        "# a hill, a car\n# run 12, cold\n",
        "Driver;somebody\nCar;the special\n",
        "Driver,somebody,,\nCar,the special,,\nWeather,dry, 12 degC,\n",
        "Firmware: 2.1\nCylinders: 6\nDisplacement: 2500 cc\nIdle,900\n\n",
        "[Header]\nDate=04.05.2024\nTime=14:03:22\n[Data]\n",
        "\"Comment\",\"clutch slips, \"\"a little\"\"\"\n",
        "Fuel table\n10,20,30\n1,2,3\n4,5,6\n7,8,9\n\n",
        "RPM,0,1000,2000\n20,1,2,3\n40,4,5,6\n60,7,8,9\n80,7,8,9\n100,7,8,9\n\n",
    ] {
        let log = check_rows(&format!("{head}Time,RPM,MAP,EGT 1\n"));
        assert_eq!(names(&log), ["Time", "RPM", "MAP", "EGT 1"], "{head}");
        let kept: Vec<&str> = log
            .dialect()
            .preamble
            .iter()
            .map(|p| p.1.as_str())
            .collect();
        let wanted: Vec<&str> = head
            .lines()
            .map(str::trim)
            .filter(|l| !l.is_empty())
            .collect();
        assert_eq!(kept, wanted);
    }
}

#[test]
fn rows_above_the_names_that_are_not_used_are_said() {
    let log = check_rows("20,1,2,3\n40,4,5,6\n60,7,8,9\n80,7,8,9\nTime,RPM,MAP,EGT 1\n");
    let table = read_all(&log);
    assert_eq!(table.problems.count(ProblemKind::Heading), 1);
    assert!(
        problems(&table)[0]
            .1
            .starts_with("4 rows of numbers up to line 4 stand above")
    );
}

/// The preamble is larger than anything that is looked at in one piece.
#[test]
fn preambles_of_several_megabytes() {
    let mut text = String::from("Sample Rate: 50 Hz\nDate: 04.05.2024\n");
    for n in 0..60_000 {
        text.push_str(&format!(
            "setting {n}: a long and tedious description of value {n}\n"
        ));
    }
    for n in 0..4000 {
        text.push_str(&format!("{n};{};{};{};{}\n", n * 3, n * 5, n % 7, n % 11));
    }
    let lines = text.lines().count();
    assert!(text.len() > 3_500_000);
    text.push_str("RPM,MAP,EGT 1\nrpm,kPa,degC\n");
    for n in 0..500 {
        text.push_str(&format!("{},{}.5,{}\n", 900 + n, 90 + n % 10, 500 + n));
    }
    let (log, table) = table(&text);
    assert_eq!(log.dialect().names_line, lines + 1);
    assert_eq!(names(&log), ["RPM", "MAP", "EGT 1"]);
    assert_eq!((table.rows, table.line_of(0)), (500, lines + 3));
    near(&table.time_s[..3], &[0.0, 0.02, 0.04]);
    assert_eq!(values(&table, 0)[499], Some(1399.0));
    assert!(
        says(&log, &format!("{lines} lines stand before the data")),
        "{:#?}",
        log.dialect().evidence
    );
}

/// Runs of blank lines, or of rows of nothing but delimiters, that are larger than what is looked at in one piece.
#[test]
fn blank_rows_by_the_hundred_thousand() {
    for (nothing, many) in [("\n", 150_000), (" \r\n", 40_000), (",,\n", 40_000)] {
        let blank = nothing.repeat(many);
        let head = "# run 12\n";
        for (above, between, behind) in [(&*blank, "", ""), ("", &*blank, ""), ("", "", &*blank)] {
            let rows = "0,900,500\n1,910,501\n2,920,502\n3,930,503\n";
            let text = format!(
                "{head}{above}Time,RPM,EGT 1\ns,rpm,degC\n{between}{rows}{behind}4,940,504\n"
            );
            let (log, table) = table(&text);
            assert_eq!(names(&log), ["Time", "RPM", "EGT 1"]);
            assert_eq!(units(&log), [Some("s"), Some("rpm"), Some("degC")]);
            assert_eq!(log.dialect().preamble, [(1, "# run 12".to_owned())]);
            let lines: Vec<usize> = (0..5).map(|row| table.line_of(row)).collect();
            let wanted = text
                .lines()
                .enumerate()
                .filter(|(_, line)| line.contains(",9"));
            assert_eq!(lines, wanted.map(|(n, _)| n + 1).collect::<Vec<_>>());
            let lost = if above.is_empty() { many } else { 0 };
            assert_eq!(table.problems.count(ProblemKind::BlankRow), lost);
        }
    }
}

#[test]
fn a_rate_before_the_data_is_the_clock_of_a_log_without_one() {
    let rows = "RPM,MAP\n1000,30\n1010,31\n1000,30\n";
    let (log, table) = table(&format!("Sample Rate: 100 Hz,,\nDate,04.05.2024\n{rows}"));
    near(&table.time_s, &[0.0, 0.01, 0.02]);
    assert_eq!((table.sample_hz, log.dialect().rate_line), (100.0, Some(1)));
    assert_eq!(log.dialect().started.as_deref(), Some("04.05.2024"));
    assert!(says(&log, "because line 1 says `Sample Rate: 100 Hz`"));
    let note = table.clock_note.unwrap_or_default();
    assert!(note.contains("as line 1 of the log says"), "{note}");

    // The sheet goes before it, a clock goes before it, and two rates are none.
    let sheet = Forced {
        sample_hz: Some(10.0),
        ..Forced::default()
    };
    let text = format!("Sample Rate: 100 Hz\n{rows}");
    let made = forced(&text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    near(&made.time_s, &[0.0, 0.1, 0.2]);
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("as the build sheet says"))
    );
    let clocked = super::log("Sample Rate: 100 Hz\nTime,RPM\n0,1000\n0.5,1010\n1,1000\n");
    assert_eq!(clocked.dialect().rate_line, None);
    assert_eq!(read_all(&clocked).sample_hz, 2.0);
    let text = format!("Sample rate: 100 Hz\nLog rate: 20 Hz\n{rows}");
    assert!(says(&super::log(&text), "two rates, so neither"));
    assert!(matches!(
        forced(&text, &Forced::default()),
        Err(LoadError::NoClock { .. })
    ));
}

/// The last columns, counts and flags, have no unit, so the row of units ends early.
#[test]
fn a_row_of_units_may_end_early() {
    for units_row in ["s,psi,degF", "s,psi,degF,,,,", ",psi,degF,,,,"] {
        let rows: String = (0..20)
            .map(|n| format!("{n},{},180,1,2,{},0\n", 40 + n % 3, n % 2))
            .collect();
        let text = format!(
            "Time,Oil Pressure,Coolant Temp,Gear,Sync Errors,Fan,Pump\n{units_row}\n{rows}"
        );
        let (log, table) = table(&text);
        assert_eq!(
            units(&log)[1..4],
            [Some("psi"), Some("degF"), None],
            "{units_row}"
        );
        assert_eq!((table.rows, table.problems.total), (20, 0));
    }
}

#[test]
fn the_sheet_sets_the_lines_of_names_and_units() {
    let text = "Time,n,p,T\nClock,Speed,Pressure,Gas\ns,1/min,kPa,degC\n0,900,98,500\n1,910,97,501\n2,920,96,502\n";
    let with = |names, units| {
        let sheet = Forced {
            names_line: names,
            units_line: units,
            ..Forced::default()
        };
        from_bytes("run.csv", text.as_bytes().to_vec(), &sheet)
    };
    let open = |names, units| with(names, units).unwrap_or_else(|e| panic!("{e}"));
    let guessed = open(None, None);
    assert!(
        says(&guessed, "`names_line` under `[log]`"),
        "{:#?}",
        guessed.dialect().evidence
    );
    let first = open(Some(1), None);
    assert_eq!(names(&first), ["Time", "n", "p", "T"]);
    assert_eq!(units(&first)[2], Some("kPa"));
    assert_eq!(read_all(&first).rows, 3);
    let second = open(Some(2), Some(3));
    assert_eq!(names(&second), ["Clock", "Speed", "Pressure", "Gas"]);
    let none = open(Some(2), Some(0));
    assert_eq!(units(&none), [None; 4]);
    assert_eq!(
        problems(&read_all(&none)),
        [(3, "text instead of numbers: `s,1/min,kPa,degC`")]
    );
    for (names, units, entry) in [
        (Some(0), None, "names_line = 0"),
        (Some(6), None, "names_line = 6"),
        (Some(60), None, "names_line = 60"),
        (None, Some(5), "units_line = 5"),
        (Some(2), Some(2), "units_line = 2"),
        (None, Some(99), "units_line = 99"),
    ] {
        let got = with(names, units)
            .err()
            .map(|e| e.to_string())
            .unwrap_or_default();
        assert!(
            got.contains(&format!("`{entry}` under `[log]`")),
            "{entry}: {got}"
        );
    }
}

#[test]
fn a_comma_that_does_both_is_refused() {
    let text = "Time,RPM,MAP\n0,00,900,0,98,5\n0,05,910,0,98,25\n0,10,920,0,98,0\n";
    let got = forced(text, &Forced::default())
        .err()
        .map(|e| e.to_string());
    let got = got.unwrap_or_default();
    assert!(
        got.contains("from line 2 on where 3 channels are named")
            && got.contains("semicolons or tabs"),
        "{got}"
    );
}

#[test]
fn delimiters_that_fit_nearly_as_well_are_named() {
    let log = log("Time;Turns\n0;1,234,567,890\n1;1,234,567,891\n2;1,234,567,892\n");
    assert!(
        says(&log, "which fits nearly as well; `delimiter` under `[log]`"),
        "{:#?}",
        log.dialect().evidence
    );
    let plain = super::log("Time;RPM;MAP\n0,5;900;98\n1,5;910;97\n2,5;920;96\n");
    assert!(
        !says(&plain, "nearly as well"),
        "{:#?}",
        plain.dialect().evidence
    );
}

#[test]
fn footers_are_no_rows() {
    let (_, table) =
        table("Time,RPM\n0,900\n1,910\n2,920\n\nEnd of log\nAverage,910\nMax,920\n\"3 rows\"\n");
    assert_eq!(table.rows, 3);
    assert_eq!(table.problems.rows_lost(), 5);
    assert_eq!(table.problems.count(ProblemKind::NoStamp), 2);
}

#[test]
fn columns_parted_by_blanks() {
    for text in [
        "Time RPM MAP\n0.0 900 98.5\n0.1 910 98.0\n0.2 1020 97.5\n",
        "# Time RPM MAP\n0.0 900 98.5\n0.1 910 98.0\n0.2 1020 97.5\n",
        "  Time   RPM   MAP\n   s     rpm   kPa\n   0.0   900  98.5\n   0.1   910  98.0\n   0.2  1020  97.5\n",
        "Bench log of today\n\nTime   RPM   MAP\n0.0    900   98.5\n0.1    910   98.0\n0.2    1020  97.5\nend of log\n",
        "Time RPM MAP\r\n0,0 900 98,5\r\n0,1 910 98,0\r\n0,2 1020 97,5\r\n",
    ] {
        let (log, table) = table(text);
        assert_eq!(names(&log), ["Time", "RPM", "MAP"], "{text}");
        near(&table.time_s, &[0.0, 0.1, 0.2]);
        assert_eq!(
            values(&table, 1),
            [900.0, 910.0, 1020.0].map(Some),
            "{text}"
        );
        assert_eq!(values(&table, 2), [98.5, 98.0, 97.5].map(Some), "{text}");
        assert_eq!(log.dialect().delimiter, ' ');
        assert!(says(&log, "Fields are parted by blanks"));
        let head = log.head(&[1], 2).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(values(&head, 0), [900.0, 910.0].map(Some), "{text}");
    }
    let (log, wide) = table(
        "Time   Engine speed   Oil press\n0.0    900            300\n0.1    910            \n0.2    920            302\n",
    );
    assert_eq!(names(&log), ["Time", "Engine speed", "Oil press"]);
    // A cell left out among blanks moves the ones behind it: such a row is told, not read wrongly.
    assert_eq!(problems(&wide), [(3, "2 fields where 3 are expected")]);
    let sheet = Forced {
        delimiter: Some(' '),
        ..Forced::default()
    };
    let made = forced("Time RPM\n0 900\n1 910\n", &sheet).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(made.rows, 2);
    let refused = forced(
        "Time Engine Speed\n0 900\n1 910\n2 920\n",
        &Forced::default(),
    )
    .err();
    let refused = refused.map(|e| e.to_string()).unwrap_or_default();
    assert!(
        refused.contains("line 1 has 3 words where the rows under it have 2 numbers"),
        "{refused}"
    );
}

#[test]
fn a_header_in_the_middle_is_a_break_of_one_log() {
    // The clock goes on, as one that keeps the time of day does.
    let text =
        "Time,RPM\ns,rpm\n0,900\n1,910\nTime,RPM\ns,rpm\n5,0\n6,900\n\nTime,RPM\n9,900\nTime,RPM\n";
    let (_, table) = table(text);
    near(&table.time_s, &[0.0, 1.0, 5.0, 6.0, 9.0]);
    let breaks: Vec<(usize, usize, BreakKind)> = table
        .breaks
        .iter()
        .map(|b| (b.row, b.line, b.kind))
        .collect();
    assert_eq!(
        breaks,
        [(2, 7, BreakKind::Restart), (4, 11, BreakKind::Restart)]
    );
    assert_eq!(
        (
            table.breaks[0].before.as_str(),
            table.breaks[0].after.as_str()
        ),
        ("1 s", "5 s")
    );
    let note = table.clock_note.unwrap_or_default();
    assert!(
        note.contains("in 2 places, the first before line 7"),
        "{note}"
    );
    // The clock begins again too: still one break.
    let (_, again) = super::table("Time,RPM\n0,900\n1,910\n2,910\nTime,RPM\n0,0\n1,900\n2,910\n");
    assert_eq!(again.breaks.len(), 1);
    assert_eq!(
        (again.breaks[0].row, again.breaks[0].kind),
        (3, BreakKind::Restart)
    );
    // Without a clock the rows go on at their rate, and the break is still told.
    let sheet = Forced {
        sample_hz: Some(10.0),
        ..Forced::default()
    };
    let counted = forced("RPM,MAP\n900,98\n910,97\nRPM,MAP\n0,101\n", &sheet)
        .unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(counted.breaks.len(), 1);
}

#[test]
fn other_names_in_the_middle_are_refused() {
    for other in ["Time,MAP,RPM\n", "Time,RPM,Oil\n"] {
        let text = format!("Time,RPM,MAP\n0,900,98\n1,910,97\n{other}5,98,900\n6,97,910\n");
        let error = forced(&text, &Forced::default())
            .err()
            .map(|e| e.to_string());
        let error = error.unwrap_or_default();
        assert!(
            error.contains("names its columns anew in line 4")
                && error.contains("split the file there"),
            "{other}: {error}"
        );
    }
    let (_, remark) = table("Time,RPM,MAP\n0,900,98\nlap,RPM,high\n1,910,97\n");
    assert_eq!(
        (remark.rows, remark.problems.count(ProblemKind::TextRow)),
        (2, 1)
    );
}

#[test]
fn padding_does_not_hide_the_numbers() {
    let mut text = String::from("Time,RPM,MAP\n");
    for row in 0..3000 {
        text.push_str(&format!(
            "{:>40.2},{:>40},{:>40}\n",
            f64::from(row) * 0.1,
            900 + row % 7,
            98
        ));
    }
    assert!(text.len() > 1 << 18);
    let (log, table) = table(&text);
    assert_eq!((log.dialect().names_line, table.rows), (1, 3000));
}
