//! Pages that are made from the code must be up to date.

use std::path::Path;

/// `UPDATE_DOCS=1 cargo test --release` writes them anew.
fn up_to_date(file: &str, wanted: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(&path, wanted).expect("the page can be written");
    }
    let found = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        found == wanted,
        "{file} is out of date: run UPDATE_DOCS=1 cargo test --release docs"
    );
}

#[test]
fn the_language_page_is_up_to_date() {
    let engine = plugread::dsl::engine(
        plugread::dsl::Bounds::default(),
        plugread::dsl::engine::StopFlag::default(),
    );
    up_to_date(
        "scripts/LANGUAGE.md",
        &plugread::dsl::reference::page(&engine),
    );
}
