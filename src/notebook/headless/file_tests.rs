use serde_json::{Value, json};

use super::*;

fn valid() -> Value {
    json!({
        "nbformat": 4, "nbformat_minor": 5,
        "metadata": { "kernelspec": { "name": "plugread", "display_name": "plugread" }, "kept": [1, 2.50] },
        "cells": [
            { "cell_type": "markdown", "id": "a", "metadata": { "mine": true }, "source": ["# One\n", "two"],
              "attachments": {} },
            { "cell_type": "code", "id": "b-2_C", "metadata": { "tags": ["raises-exception"] }, "source": "1 + 1",
              "outputs": [{ "output_type": "stream", "name": "stdout", "text": "old" }], "execution_count": 7 },
            { "cell_type": "raw", "id": "c", "metadata": {}, "source": "" },
        ],
    })
}

fn parse(value: &Value) -> Result<Notebook, Invalid> {
    Notebook::parse(&value.to_string())
}

/// What is said of a notebook that was changed at a place.
fn said(change: impl FnOnce(&mut Value)) -> String {
    let mut value = valid();
    change(&mut value);
    parse(&value).expect_err("it is wrong").to_string()
}

#[test]
fn all_that_is_not_ours_is_kept() {
    let notebook = parse(&valid()).expect("a notebook");
    let again: Value = serde_json::from_str(&notebook.text()).expect("JSON");
    assert_eq!(again, valid());
    assert!(notebook.text().starts_with("{\n \"cells\": [\n  {"));
    assert!(notebook.text().ends_with("}\n"));
}

#[test]
fn cells_are_read_from_texts_and_from_lists_of_lines() {
    let cells = parse(&valid()).expect("a notebook").cells();
    let told: Vec<_> = cells
        .iter()
        .map(|c| (c.kind, c.id.as_str(), c.source.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            (Kind::Markdown, "a", "# One\ntwo"),
            (Kind::Code, "b-2_C", "1 + 1"),
            (Kind::Raw, "c", "")
        ]
    );
    assert_eq!(cells[1].tags, ["raises-exception"]);
}

#[test]
fn an_emptied_notebook_has_no_outputs_and_no_counts() {
    let mut notebook = parse(&valid()).expect("a notebook");
    assert_eq!((notebook.outputs(1).len(), notebook.count(1)), (1, Some(7)));
    notebook.empty();
    assert_eq!((notebook.outputs(1).len(), notebook.count(1)), (0, None));
    let again: Value = serde_json::from_str(&notebook.text()).expect("JSON");
    assert_eq!(again["cells"][0], valid()["cells"][0]);
    assert_eq!(
        again["cells"][1]["metadata"],
        valid()["cells"][1]["metadata"]
    );
}

#[test]
fn each_wrong_notebook_is_told_in_a_sentence() {
    let garbled = Notebook::parse("{\"cells\": [\n  1,").expect_err("cut off");
    assert!(garbled.to_string().contains("line 2"), "{garbled}");
    for (told, wanted) in [
        (said(|n| *n = json!([1])), "not an object with `cells`"),
        (
            said(|n| n["nbformat"] = Value::Null),
            "does not say its `nbformat`",
        ),
        (
            said(|n| n["nbformat"] = json!(3)),
            "nbformat 3.5, and 4.5 is read here: open and save it",
        ),
        (
            said(|n| n["nbformat_minor"] = json!(4)),
            "nbformat 4.4, and 4.5",
        ),
        (
            said(|n| n["nbformat_minor"] = json!(6)),
            "it is newer than this program",
        ),
        (
            said(|n| n["metadata"] = json!(1)),
            "its `metadata` is missing",
        ),
        (said(|n| n["cells"] = json!({})), "its `cells` are missing"),
        (said(|n| n["more"] = json!(1)), "knows no `more`"),
        (
            said(|n| n["metadata"]["kernelspec"]["name"] = json!("python3")),
            "for the kernel `python3`",
        ),
        (
            said(|n| n["cells"][1]["cell_type"] = json!("heading")),
            "cell 2 is not valid: a cell is `code`",
        ),
        (
            said(|n| drop(n["cells"][1].as_object_mut().map(|c| c.remove("id")))),
            "cell 2 is not valid: its `id` is missing",
        ),
        (
            said(|n| n["cells"][2]["id"] = json!("a")),
            "cell 3 is not valid: another cell has the id `a`",
        ),
        (
            said(|n| n["cells"][2]["id"] = json!("not so")),
            "1 to 64 letters",
        ),
        (
            said(|n| n["cells"][2]["id"] = json!("x".repeat(65))),
            "1 to 64 letters",
        ),
        (said(|n| n["cells"][2]["id"] = json!("")), "1 to 64 letters"),
        (
            said(|n| n["cells"][1]["source"] = json!([1])),
            "(id `b-2_C`) its `source`",
        ),
        (
            said(|n| n["cells"][1]["outputs"] = Value::Null),
            "its `outputs` are missing",
        ),
        (
            said(|n| n["cells"][1]["execution_count"] = json!("1")),
            "its `execution_count`",
        ),
        (
            said(|n| n["cells"][0]["outputs"] = json!([])),
            "knows no `outputs` in such a cell",
        ),
        (
            said(|n| n["cells"][0]["metadata"] = Value::Null),
            "(id `a`) its `metadata`",
        ),
        (
            said(|n| n["cells"][0] = json!("words")),
            "cell 1 is not valid: it is no object",
        ),
    ] {
        assert!(told.contains(wanted), "{told}\nwanted: {wanted}");
        assert!(!told.contains('\n'), "{told}");
    }
}
