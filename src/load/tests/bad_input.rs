//! Input that cannot be a log: each kind its own clear sentence.

use std::path::Path;

use super::forced;
use crate::load::{Forced, LoadError, open};

fn error(text: &str) -> String {
    match forced(text, &Forced::default()) {
        Ok(_) => panic!("loaded: {text}"),
        Err(error) => error.to_string(),
    }
}

#[test]
fn what_the_person_reads() {
    for (text, wanted) in [
        ("", "run.csv is empty; copy it from the logger again"),
        ("\n\n \n", "run.csv is empty"),
        (
            "Time,RPM,EGT\n",
            "run.csv names its channels in line 1 but has no data rows",
        ),
        (
            "Run 5\n\nTime,RPM,EGT\ns,rpm,degC\n",
            "names its channels in line 3 but has no data",
        ),
        ("\0\u{1}\u{2}\u{3}\u{4}", "not a text file"),
        ("{\"time\": [1, 2]}", "run.csv is JSON"),
        ("[{\"time\": 1}]", "run.csv is JSON"),
        (
            "Dear friend,\nthe engine ran.\nIt was loud, very loud.\n",
            "holds text but no rows of numbers",
        ),
        (
            "0,1000\n1,1010\n",
            "starts with numbers in line 1 and never names",
        ),
        (
            "RPM,MAP\n1000,30\n1010,31\n1000,30\n",
            "put `sample_hz = 100` (rows a second) under `[log]`",
        ),
        (
            "Time,MAP\n5,30\n5,31\n5,30\n",
            "the clock column `Time` shows `5` in all 3 rows",
        ),
    ] {
        let got = error(text);
        assert!(got.contains(wanted), "{text:?}: {got}");
        assert!(got.contains("run.csv") && !got.contains('\n'));
    }
}

#[test]
fn no_row_that_can_be_used() {
    let text = "Time,A,B,C\n1,2\n";
    let got = error(text);
    assert!(
        got.contains("none of them could be used (line 2: 2 fields where 4 are expected)"),
        "{got}"
    );
}

#[test]
fn files_that_cannot_be_opened() {
    let missing = open(Path::new("no/such/run.csv"), &Forced::default()).err();
    assert!(matches!(missing, Some(LoadError::Missing { file }) if file == "no/such/run.csv"));
    let folder = open(Path::new("."), &Forced::default()).err();
    assert!(matches!(folder, Some(LoadError::Folder { .. })));
    // A test may run as a user whom nothing is refused, so the wording is checked on the error itself.
    let refused = std::io::Error::from(std::io::ErrorKind::PermissionDenied);
    let refused = LoadError::from_io(Path::new("run.csv"), &refused);
    assert!(matches!(refused, LoadError::NotPermitted { .. }));
    assert!(refused.to_string().contains("may not be read"));
}

#[test]
fn forced_entries_that_cannot_be_meant() {
    let base = Forced::default();
    for sheet in [
        Forced {
            delimiter: Some('a'),
            ..base.clone()
        },
        Forced {
            delimiter: Some('·'),
            ..base.clone()
        },
        Forced {
            decimal: Some(';'),
            ..base.clone()
        },
        Forced {
            sample_hz: Some(0.0),
            ..base.clone()
        },
        Forced {
            sample_hz: Some(f64::NAN),
            ..base.clone()
        },
    ] {
        let got = forced("Time,A\n0,1\n1,2\n", &sheet).err();
        assert!(
            matches!(got, Some(LoadError::BadForced { .. })),
            "{sheet:?}"
        );
    }
}
