//! Cells that are more than a plain number: words, units, thousands.

use super::{log, problems, table, values};
use crate::load::ProblemKind;

fn evidence(text: &str) -> String {
    log(text).dialect().evidence.join("\n")
}

#[test]
fn switches_become_one_and_zero() {
    for (on, off) in [
        ("ON", "OFF"),
        ("on", "off"),
        ("Yes", "No"),
        ("open", "closed"),
        ("TRUE", "FALSE"),
        ("Active", "Inactive"),
        ("1", "OFF"),
        ("on", "0"),
    ] {
        let text = format!("Time,Fan,RPM\n0,{off},1000\n1,{on},1010\n2,---,1020\n3,{off},1030\n");
        let (_, table) = table(&text);
        assert_eq!(
            values(&table, 1),
            [Some(0.0), Some(1.0), None, Some(0.0)],
            "{text}"
        );
        let fan = &table.columns[1];
        assert_eq!((fan.filled, fan.blank, fan.unreadable), (3, 1, 0));
        assert_eq!(table.problems.total, 0);
        assert!(
            evidence(&text).contains("Column 2 `Fan` holds words for on and off"),
            "{text}"
        );
    }
}

/// `OFF` in a column of numbers is what loggers write for a sensor that is off: it must never read as 0.
#[test]
fn a_lone_word_among_numbers_is_no_reading() {
    let text = "Time,Lambda,EGT (degC),Oil\n0,0.98,500,3.5\n1,OFF,OPEN,ERR\n2,0.99,502,3.6\n3,1.01,503,0\n";
    let (_, table) = table(text);
    assert_eq!(
        values(&table, 1),
        [Some(0.98), None, Some(0.99), Some(1.01)]
    );
    assert_eq!(
        values(&table, 2),
        [Some(500.0), None, Some(502.0), Some(503.0)]
    );
    assert_eq!(
        problems(&table),
        [
            (3, "`OFF` under Lambda is not a number"),
            (3, "`OPEN` under EGT is not a number"),
            (3, "`ERR` under Oil is not a number"),
        ]
    );
    assert!(
        table.columns[1..]
            .iter()
            .all(|column| (column.filled, column.unreadable) == (3, 1))
    );
}

/// The head shows only words, the numbers come long after it: the words were no readings.
#[test]
fn words_that_numbers_follow_are_no_readings() {
    let mut text = String::from("Time,Lambda,Fan,RPM\n");
    for row in 0..10_000 {
        let lambda = if row < 9000 {
            "OFF".to_owned()
        } else {
            format!("{:.2}", 0.9 + f64::from(row % 9) / 100.0)
        };
        let fan = if row < 8000 { "off" } else { "on" };
        text.push_str(&format!("{:.1},{lambda},{fan},900\n", f64::from(row) * 0.1));
    }
    let (_, table) = table(&text);
    let [lambda, fan] = [&table.columns[1], &table.columns[2]];
    assert_eq!(
        (lambda.filled, lambda.unreadable, lambda.words),
        (1000, 9000, 0)
    );
    assert!(lambda.values[..9000].iter().all(|value| value.is_nan()));
    assert_eq!((fan.filled, fan.words), (10_000, 10_000));
    assert_eq!(fan.values.iter().sum::<f64>(), 2000.0);
    assert_eq!(table.problems.count(ProblemKind::UnreadableCell), 9000);
    assert_eq!(
        problems(&table)[0],
        (
            2,
            "`OFF` under Lambda is no reading: the column holds numbers such as 0.9"
        )
    );
}

#[test]
fn words_that_come_after_the_head() {
    // Nothing but zeros or blanks in the head, words behind it: a switch, and that is said.
    for first in ["0", ""] {
        let mut text = String::from("Time,Fan,RPM\n");
        for row in 0..10_000 {
            let fan = if row < 9000 {
                first
            } else if row % 2 == 0 {
                "On"
            } else {
                "Off"
            };
            text.push_str(&format!("{:.1},{fan},900\n", f64::from(row) * 0.1));
        }
        let (_, table) = table(&text);
        assert_eq!(table.columns[1].words, 1000);
        assert_eq!(table.columns[1].values[9000..9004], [1.0, 0.0, 1.0, 0.0]);
        let told = problems(&table);
        assert_eq!(told.len(), 1);
        assert_eq!(told[0].0, 9002);
        assert!(told[0].1.contains("read as 1 and 0"), "{told:?}");
        assert_eq!(table.problems.rows_lost(), 0);
    }
}

/// A knock count that rests at 0, a pump that reads 1: one word among them is the logger's, not the sensor's.
#[test]
fn a_lone_word_among_zeros_or_ones_is_no_reading() {
    let mut text = String::from("Time,Knock,Pump\n");
    for row in 0..200 {
        let knock = if row == 150 { "OFF" } else { "0" };
        let pump = if row == 150 { "ERR" } else { "1" };
        text.push_str(&format!("{row},{knock},{pump}\n"));
    }
    let (log, table) = table(&text);
    let unreadable: Vec<usize> = table
        .columns
        .iter()
        .map(|column| column.unreadable)
        .collect();
    assert_eq!(unreadable, [0, 1, 1]);
    assert!(table.columns[1].values[150].is_nan());
    let told = problems(&table);
    assert!(told.contains(&(
        152,
        "`OFF` under Knock is no reading: the column holds 0 or 1 nearly everywhere else"
    )));
    assert!(told.contains(&(152, "`ERR` under Pump is not a number")));
    assert!(
        !log.dialect()
            .evidence
            .iter()
            .any(|said| said.contains("on and off"))
    );
}

#[test]
fn a_probe_that_is_open_throughout_is_no_switch() {
    let (_, first) = table("Time,EGT 3,RPM\n0,OPEN,1000\n1,OPEN,1010\n2,OPEN,1020\n");
    assert_eq!(values(&first, 1), [None, None, None]);
    assert_eq!(first.columns[1].unreadable, 3);
    assert_eq!(
        problems(&first)[0],
        (
            2,
            "`OPEN` under EGT 3 is no reading: the column holds nothing else, as a sensor without connection does"
        )
    );
    // A unit says that it measures, even with nothing but one word.
    let (_, second) = table("Time,EGT 3 (degC),RPM\n0,OFF,1000\n1,off,1010\n");
    assert_eq!(second.columns[1].unreadable, 2);
    assert_eq!(
        problems(&second)[1],
        (3, "`off` under EGT 3 is not a number")
    );
    // On and off are said to be the unit.
    let (_, third) = table("Time,Valve [on/off],RPM\n0,open,1000\n1,closed,1010\n");
    assert_eq!(values(&third, 1), [Some(1.0), Some(0.0)]);
}

#[test]
fn units_glued_to_the_numbers() {
    let text = "Time,Battery,Throttle,Coolant,MAP (kPa),Gear\n\
        0.0 s,12.5 V,0%,45°C,98 kPa,1\n\
        0.1 s,12.6 V,3.5%,45.5°C,98.5 kPa,1\n\
        0.2 s,---,100%,\u{2212}3°C,,2\n\
        0.3 s,980 mV,98 %,46 °C,97,2\n";
    let (log, table) = table(text);
    let units: Vec<Option<&str>> = log.headings().iter().map(|h| h.unit.as_deref()).collect();
    assert_eq!(
        units,
        [
            Some("s"),
            Some("V"),
            Some("%"),
            Some("°C"),
            Some("kPa"),
            None
        ]
    );
    assert_eq!(&*table.time_s, [0.0, 0.1, 0.2, 0.3]);
    assert_eq!(values(&table, 1), [Some(12.5), Some(12.6), None, None]);
    assert_eq!(
        values(&table, 2),
        [Some(0.0), Some(3.5), Some(100.0), Some(98.0)]
    );
    assert_eq!(
        values(&table, 3),
        [Some(45.0), Some(45.5), Some(-3.0), Some(46.0)]
    );
    assert_eq!(
        values(&table, 4),
        [Some(98.0), Some(98.5), None, Some(97.0)]
    );
    assert_eq!(
        problems(&table),
        [(5, "`980 mV` under Battery is not a number")]
    );
    assert!(
        evidence(text).contains("The cells of column 2 `Battery` end in `V`, so that is its unit.")
    );
}

#[test]
fn units_of_the_cells_outweigh_the_heading() {
    let (log, table) = table("Time,Oil (bar)\n0,345 kPa\n1,350 kPa\n");
    assert_eq!(log.headings()[1].unit.as_deref(), Some("kPa"));
    assert_eq!(
        problems(&table),
        [(
            1,
            "Oil is headed `bar` and its cells end in `kPa`: the cells are believed"
        )]
    );
    // Degrees are degrees.
    let (_, second) = super::table("Time,Oil (degC)\n0,45°C\n1,46°C\n");
    assert_eq!(problems(&second), []);
}

#[test]
fn units_in_latin_1() {
    let bytes = b"Time;Oil\n0;45,5\xb0C\n1;46,0\xb0C\n2;46,5\xb0C\n".to_vec();
    let log = crate::load::from_bytes("run.csv", bytes, &crate::load::Forced::default());
    let log = log.unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(log.headings()[1].unit.as_deref(), Some("°C"));
    assert_eq!(
        values(&super::read_all(&log), 1),
        [Some(45.5), Some(46.0), Some(46.5)]
    );
}

#[test]
fn thousands_in_every_writing() {
    for (text, delimiter) in [
        ("Time;A\n0,5;1 234,5\n1,0;12 345,5\n", ';'),
        ("Time;A\n0,5;1\u{a0}234,5\n1,0;12\u{a0}345,5\n", ';'),
        ("Time;A\n0,5;1\u{202f}234,5\n1,0;12\u{2009}345,5\n", ';'),
        ("Time;A\n0,5;1.234,5\n1,0;12.345,5\n", ';'),
        ("Time;A\n0.5;1'234.5\n1.0;12'345.5\n", ';'),
        ("Time;A\n0.5;1,234.5\n1.0;12,345.5\n", ';'),
        ("Time,A\n0.5,\"1,234.5\"\n1.0,\"12,345.5\"\n", ','),
        ("Time,A\n0.5,1 234.5\n1.0,12 345.5\n", ','),
        ("Time\tA\n0.5\t1 234.5\n1.0\t12 345.5\n", '\t'),
    ] {
        let (log, table) = table(text);
        assert_eq!(log.dialect().delimiter, delimiter, "{text}");
        assert_eq!(values(&table, 1), [Some(1234.5), Some(12_345.5)], "{text}");
        assert_eq!(&*table.time_s, [0.5, 1.0], "{text}");
    }
}

#[test]
fn an_open_question_of_marks_says_how_to_force_it() {
    let text = "Time;A\n0;1,234\n1;2,345\n";
    assert!(evidence(text).contains("`decimal = \".\"` under `[log]`"));
}

#[test]
fn hexadecimal_and_gears_stay_unreadable() {
    let (_, table) = table("Time,Flags,Gear,RPM\n0,0x1F,N,900\n1,0x20,1,1000\n2,0xA0,R,900\n");
    assert_eq!(table.columns[1].unreadable, 3);
    assert_eq!(values(&table, 2), [None, Some(1.0), None]);
}
