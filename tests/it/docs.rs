//! Pages that are made from the code must be up to date.

use std::path::Path;

use crate::support::{plugread, text};

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

#[test]
fn the_page_of_checks_is_up_to_date() {
    let page = plugread::checks::reference::page(crate::support::catalog());
    up_to_date("scripts/CHECKS.md", &page);
}

/// Three reviews to read, from the top to what passed.
#[test]
fn the_page_of_reviews_is_up_to_date() {
    let told = [
        (
            "first-start-dead-cylinder",
            "A first start with a cylinder that gets no fuel. The shared lambda reads lean, for the air of that cylinder passes the sensor unburnt: who believes it adds fuel to five good cylinders.",
        ),
        (
            "hill-run-fading-alternator",
            "An alternator that gives up as it warms. In the paddock, cold, it would pass every test.",
        ),
        (
            "hill-run-knock",
            "A hot spot in one cylinder. All of them hear some noise at high speed; one of them knocks.",
        ),
    ];
    let mut page = "# Three reviews\n\nMade from the logs of this folder by `plugread review LOG --sheet sample-logs/hill-special.toml`; \
         what passed and what could not be judged is left out here.\n"
        .to_owned();
    for (name, about) in told {
        let log = format!("sample-logs/{name}.csv");
        let came = plugread(&["review", &log, "--sheet", "sample-logs/hill-special.toml"]);
        let all = text(&came.stdout);
        let (top, rest) = all.split_once("\nPassed\n").expect("some checks pass");
        assert!(rest.contains("log-gaps"), "{all}");
        page.push_str(&format!(
            "\n## {name}.csv\n\n{about}\n\n```\n{}\n```\n",
            top.trim_end()
        ));
    }
    up_to_date("sample-logs/REVIEWS.md", &page);
}
