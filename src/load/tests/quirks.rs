//! Ways of writing the same small log.

use super::{forced, log, near, problems, read_all, table, values};
use crate::load::{Encoding, Forced, from_bytes};

const NAMES: [&str; 3] = ["Time", "RPM", "EGT 1"];

fn names(text: &str) -> Vec<String> {
    log(text)
        .headings()
        .iter()
        .map(|h| h.name.clone())
        .collect()
}

/// Every writing of the log `0 1000 500.5 / 0.5 1100 510.25 / 1 1200 520` gives the same table.
#[test]
fn one_log_in_many_writings() {
    let plain = "Time,RPM,EGT 1\n0,1000,500.5\n0.5,1100,510.25\n1,1200,520\n";
    let preamble = "Logger export\nDriver,somebody\n# run 12\nRate,100\n\n";
    let texts = [
        plain.to_owned(),
        plain.replace('\n', "\r\n"),
        plain.replace('\n', "\r"),
        plain.replace('\n', "\r\r\n"),
        plain.replace(',', ";"),
        plain.replace(',', "\t"),
        plain.replace(',', "|"),
        plain.replace(',', " , "),
        plain.replace(',', ";").replace('.', ","),
        plain.replace(',', "\t").replace('.', ","),
        plain
            .replace(',', "\",\"")
            .replace('\n', "\"\n\"")
            .trim_end_matches('"')
            .replacen("Time", "\"Time", 1),
        plain.trim_end().to_owned(),
        format!("\u{feff}{plain}"),
        format!("{preamble}{plain}"),
        format!(
            "{}{}",
            preamble.replace(',', ";"),
            plain.replace(',', ";").replace('.', ",")
        ),
        plain.replace("EGT 1\n", "EGT 1\ns,rpm,degC\n"),
        plain.replace("Time", "s,rpm,degC\nTime"),
        plain.replace("Time,RPM,EGT 1", "Time (s),RPM [rpm],EGT 1 (degC)"),
        plain.replace("Time,RPM,EGT 1", "Time (),RPM [],EGT 1 ()"),
        plain
            .replace("500.5\n", "500.5,\n")
            .replace("510.25\n", "510.25,\n")
            .replace("520\n", "520,\n"),
        plain.replace('\n', ",\n"),
        plain.replace('\n', ",,\n"),
        format!("#{plain}"),
        plain.replace("1000,500.5", "1e3,+5.005E2"),
        plain.replace("0.5,1100", ".5,\"1,100.0\""),
    ];
    for text in &texts {
        let (log, table) = table(text);
        let found: Vec<&str> = log.headings().iter().map(|h| h.name.as_str()).collect();
        assert_eq!(found, NAMES, "{text:?}\n{:#?}", log.dialect());
        assert_eq!(&*table.time_s, [0.0, 0.5, 1.0], "{text:?}");
        assert_eq!(
            values(&table, 1),
            [Some(1000.0), Some(1100.0), Some(1200.0)],
            "{text:?}"
        );
        assert_eq!(
            values(&table, 2),
            [Some(500.5), Some(510.25), Some(520.0)],
            "{text:?}"
        );
        assert_eq!(table.problems.total, 0, "{text:?} {:?}", table.problems);
        assert!((table.sample_hz - 2.0).abs() < 1e-9);
        let last = table.line_of(2);
        let ends = if text.contains('\n') { '\n' } else { '\r' };
        let lines: Vec<&str> = text.split(ends).collect();
        assert!(
            lines[last - 1]
                .trim_start_matches(['"', ' '])
                .starts_with('1'),
            "{text:?} {last}"
        );
        assert_eq!(table.row_of(last), Some(2));
    }
}

#[test]
fn units_from_brackets_and_from_their_row() {
    let units = |text: &str| -> Vec<Option<String>> {
        log(text)
            .headings()
            .iter()
            .map(|h| h.unit.clone())
            .collect()
    };
    let wanted = [
        Some("s".to_owned()),
        Some("rpm".to_owned()),
        None,
        Some("°C".to_owned()),
    ];
    assert_eq!(
        units("Time (s),RPM [rpm],Gear (),EGT (front) [°C]\n0,1,2,3\n1,2,3,4\n"),
        wanted
    );
    assert_eq!(
        units("Time,RPM,Gear,EGT\ns,rpm,-,°C\n0,1,2,3\n1,2,3,4\n"),
        wanted
    );
    assert_eq!(
        units("(s),[rpm],,(°C)\nTime,RPM,Gear,EGT\n0,1,2,3\n1,2,3,4\n"),
        wanted
    );
    let log = log("Time,RPM,Gear,EGT\ns,rpm,-,°C\n\n0,1,2,3\n1,2,3,4\n");
    let dialect = log.dialect();
    assert_eq!(
        (
            dialect.names_line,
            dialect.units_line,
            dialect.first_data_line
        ),
        (1, Some(2), 4)
    );
    assert_eq!(
        names(
            "Group A,,Group B,\nTime,RPM,MAP,EGT\ns,rpm,kPa,degC\nfloat,float,float,float\n0,1,2,3\n"
        ),
        ["Time", "RPM", "MAP", "EGT"]
    );
}

#[test]
fn preambles_are_kept() {
    let text = "Run of Sunday\nSample rate: 10, filter: off\n\n[Data]\nTime;RPM\ns;rpm\n0,0;1000\n0,1;1010\n";
    let (log, table) = table(text);
    let dialect = log.dialect();
    let preamble: Vec<(usize, &str)> = dialect
        .preamble
        .iter()
        .map(|(n, t)| (*n, t.as_str()))
        .collect();
    assert_eq!(
        preamble,
        [
            (1, "Run of Sunday"),
            (2, "Sample rate: 10, filter: off"),
            (4, "[Data]")
        ]
    );
    assert_eq!((dialect.delimiter, dialect.decimal), (';', ','));
    assert_eq!(&*table.time_s, [0.0, 0.1]);
    assert!(
        dialect.evidence.iter().any(|e| e.contains("`;`")),
        "{:?}",
        dialect.evidence
    );
}

#[test]
fn old_encodings() {
    let latin = b"Time (s);Temp (\xb0C);\xd6ldruck (bar)\n0,5;20;1,5\n1,0;21;1,6\n".to_vec();
    let log = from_bytes("run.csv", latin, &Forced::default()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(log.dialect().encoding, Encoding::Windows1252);
    assert_eq!(log.headings()[1].unit.as_deref(), Some("°C"));
    assert_eq!(log.headings()[2].name, "Öldruck");
    assert_eq!(values(&read_all(&log), 2), [Some(1.5), Some(1.6)]);

    let wide = "\u{feff}Time\tTemp (°C)\r\n0\t20\r\n1\t21\r\n".encode_utf16();
    let wide: Vec<u8> = wide.flat_map(u16::to_le_bytes).collect();
    let log = from_bytes("run.csv", wide, &Forced::default()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(log.headings()[1].unit.as_deref(), Some("°C"));
    assert_eq!(values(&read_all(&log), 1), [Some(20.0), Some(21.0)]);
}

#[test]
fn the_sheet_overrides_the_guess() {
    let text = "Time:RPM\n0:1,5\n1:2,5\n";
    let sheet = Forced {
        delimiter: Some(':'),
        decimal: Some(','),
        sample_hz: Some(50.0),
        ..Forced::default()
    };
    let table = forced(text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(values(&table, 1), [Some(1.5), Some(2.5)]);
    near(&table.time_s, &[0.0, 0.02]);
    assert_eq!(table.clock_s.as_deref(), Some(&[0.0, 1.0][..]));
    assert_eq!(table.sample_hz, 50.0);
}

#[test]
fn decimal_marks() {
    let decimal = |text: &str| log(text).dialect().decimal;
    assert_eq!(decimal("Time;A\n0;1,234\n1;2,345\n"), ',');
    assert_eq!(decimal("Time;A\n0;1.234,5\n1;2.345,0\n"), ',');
    assert_eq!(decimal("Time;A\n0;1,234.5\n1;2,345.0\n"), '.');
    assert_eq!(decimal("Time;A\n0;1\n1;2\n"), '.');
    assert_eq!(decimal("Time,A\n\"0,5\",\"1,5\"\n\"1,5\",\"2,5\"\n"), ',');
    assert_eq!(decimal("Time,A\n0,\"1,234\"\n1,\"2,345\"\n"), '.');
    // The first fraction comes long after the head that the sniffer looks at.
    let mut late = String::from("Time;A\n");
    for row in 0..20_000 {
        late.push_str(&format!("{row};{}\n", row % 50));
    }
    late.push_str("20000;1,5\n");
    let (log, table) = table(&late);
    assert_eq!(log.dialect().decimal, ',');
    assert_eq!(values(&table, 1).last(), Some(&Some(1.5)));
}

#[test]
fn one_column_with_the_other_mark() {
    let (log, table) = table("Time;A;B\n0.25;1,5;2,5\n0.50;1,5;2,25\n1.000;2,5;2,125\n");
    assert_eq!(log.dialect().decimal, ',');
    assert_eq!(&*table.time_s, [0.25, 0.5, 1.0]);
    assert_eq!(values(&table, 0), [Some(0.25), Some(0.5), Some(1.0)]);
    assert_eq!(values(&table, 2), [Some(2.5), Some(2.25), Some(2.125)]);
    assert!(
        log.dialect()
            .evidence
            .iter()
            .any(|e| e.starts_with("Column 1 alone"))
    );
}

#[test]
fn a_wrong_decimal_mark_is_named() {
    let (_, table) = table("Time;A;B\n0.5;1.5;1.5\n1.5;2.5;1.5\n2.5;3,5;1.5\n");
    let listed = problems(&table);
    assert_eq!(listed.len(), 1);
    assert!(
        listed[0].1.contains("`decimal` under `[log]`"),
        "{listed:?}"
    );
}

#[test]
fn numbered_headings_are_no_data() {
    assert_eq!(
        names("time,1,2,3\n0,500,510,520\n1,501,511,521\n2,502,512,522\n"),
        ["time", "1", "2", "3"]
    );
}

#[test]
fn the_dialect_can_be_written_down() {
    let (log, table) = table("Time,A\n0,1\n1,x\n");
    let text = serde_json::to_string(&(log.dialect(), log.headings(), &table.problems));
    let text = text.unwrap_or_else(|e| panic!("{e}"));
    assert!(
        text.contains("\"style\":\"seconds\"") && text.contains("unreadable-cell"),
        "{text}"
    );
}
