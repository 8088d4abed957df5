//! The page of a review: what can be checked without a browser. `tests/python/report_page.py` opens it in one.

use base64::Engine as _;
use sha2::{Digest as _, Sha256};

use crate::support::home;

/// The page runs one script and names its hash; a browser refuses the script where the two differ.
#[test]
fn the_hash_is_that_of_the_script() {
    let script = std::fs::read(home().join("src/reports/page.js")).expect("the script");
    let hash = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(&script));
    let file = home().join("src/reports/page.js.sha256");
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(&file, format!("{hash}\n")).expect("written");
    }
    let kept = std::fs::read_to_string(&file).expect("its hash");
    assert_eq!(
        kept.trim(),
        hash,
        "after a change to page.js: UPDATE_DOCS=1 cargo test --release --test it -- page"
    );
}
