use serde_json::json;

use super::*;
use crate::notebook::Options;

fn page_of(cells: &[(&str, &str)]) -> String {
    let cell = |(index, (kind, source)): (usize, &(&str, &str))| {
        let mut cell = json!({ "cell_type": kind, "id": format!("c{index}"), "metadata": {}, "source": source });
        if *kind == "code" {
            cell["outputs"] = json!([]);
            cell["execution_count"] = Value::Null;
        }
        cell
    };
    let cells: Vec<Value> = cells.iter().enumerate().map(cell).collect();
    let all = json!({ "nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells });
    let mut notebook = Notebook::parse(&all.to_string()).expect("a notebook");
    super::super::run(&mut notebook, Options::default(), true);
    markup(&notebook, "walk.ipynb", "run over x.csv")
}

#[test]
fn words_code_and_outputs_stand_in_order() {
    let page = page_of(&[
        ("markdown", "# A *walk*\n\nWords.\n\n- one\n- two"),
        ("code", "let a = 1; // why\nprint(`<b> // no`); a + 1"),
        ("raw", "<as it is>"),
    ]);
    let places = [
        "<title>A walk</title>",
        "<h1>A <em>walk</em></h1>",
        "<li>two</li>",
        "let a = 1; <i>// why</i>",
        "print(`&lt;b&gt; // no`)",
        "<pre class=\"said\">&lt;b&gt; // no\n</pre>",
        "<pre class=\"said value\">2</pre>",
        "<pre>&lt;as it is&gt;</pre>",
        "<footer>run over x.csv</footer>",
    ];
    let mut from = 0;
    for place in places {
        let at = page[from..].find(place);
        assert!(
            at.is_some(),
            "{place} is not there, or not in order:\n{page}"
        );
        from += at.unwrap_or_default();
    }
}

#[test]
fn without_a_heading_the_page_is_called_as_its_file() {
    assert!(page_of(&[("markdown", "words")]).contains("<title>walk.ipynb</title>"));
}

#[test]
fn words_cannot_bring_markup_and_links_lead_only_to_pages() {
    let page = page_of(&[(
        "markdown",
        "x <script>alert(1)</script> <img src=y> [a](javascript:alert(1)) [b](https://example.org/b) ![c](https://example.org/c.png)\n\n<script>alert(2)</script>",
    )]);
    let body = page.split("<main>").nth(1).expect("a body");
    for never in ["<script", "<img", "javascript:", "c.png"] {
        assert!(!body.contains(never), "{never}: {body}");
    }
    assert!(body.contains("href=\"https://example.org/b\""), "{body}");
}

#[test]
fn a_failed_cell_shows_its_error_without_colour_codes() {
    let page = page_of(&[("code", "nothing_here")]);
    assert!(page.contains("class=\"failed\" role=\"alert\""), "{page}");
    assert!(
        page.contains("cell 1 (id `c0`), line 1, column 1"),
        "{page}"
    );
    assert!(!page.contains('\u{1b}'));
}

#[test]
fn styles_of_values_come_once() {
    let table = "table([#{ a: 1 }])";
    let page = page_of(&[("code", table), ("code", table)]);
    assert_eq!(page.matches("<table").count(), 2);
    assert_eq!(page.matches(".plugread table{").count(), 1);
}

#[test]
fn comments_are_told_from_texts() {
    let of = |source: &str| {
        comments(source)
            .into_iter()
            .map(|r| source[r].to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(of("a // b\nc"), ["// b"]);
    assert_eq!(of("\"// no \\\" // no\" // yes"), ["// yes"]);
    assert_eq!(of("/ /"), Vec::<String>::new());
}
