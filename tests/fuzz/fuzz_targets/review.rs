//! Any bytes that read as a log get a whole review, without a script that fails.
#![no_main]

mod account;

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use plugread::checks::Catalog;
use plugread::pipeline;
use plugread::reports::{Format, Look, render_all};
use plugread::sheet::Sheet;

fuzz_target!(|bytes: &[u8]| {
    static CATALOG: OnceLock<Catalog> = OnceLock::new();
    let Some((log, table)) = account::read_all(bytes) else { return };
    let catalog = CATALOG.get_or_init(|| Catalog::load(None).expect("the built-in checks"));
    let outcome = pipeline::review_log(&log, &Sheet::default(), catalog).expect("what was read can be reviewed");
    assert!(outcome.script_errors.is_empty(), "{:?}", outcome.script_errors);
    assert_eq!(outcome.review.log.rows, table.rows);
    for format in Format::ALL {
        assert!(!render_all(std::slice::from_ref(&outcome.review), format, &Look::default()).is_empty());
    }
});
