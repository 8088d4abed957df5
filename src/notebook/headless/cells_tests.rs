use serde_json::json;

use super::*;

fn notebook(cells: &[(&str, &[&str])]) -> Notebook {
    let cell = |(index, (source, tags)): (usize, &(&str, &[&str]))| {
        json!({ "cell_type": "code", "id": format!("c{}", index + 1), "metadata": { "tags": tags },
                "source": source, "outputs": [], "execution_count": null })
    };
    let cells: Vec<Value> = cells.iter().enumerate().map(cell).collect();
    let all = json!({ "nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells });
    Notebook::parse(&all.to_string()).expect("a notebook")
}

fn ran(cells: &[(&str, &[&str])], go_on: bool) -> (Notebook, Vec<Fault>) {
    let mut notebook = notebook(cells);
    let faults = run(&mut notebook, Options::default(), go_on);
    (notebook, faults)
}

fn plain(notebook: &Notebook, index: usize) -> Vec<String> {
    let text = |o: &Value| {
        let text = o["data"]["text/plain"].as_str().or(o["text"].as_str());
        text.or(o["evalue"].as_str()).unwrap_or("?").to_string()
    };
    notebook.outputs(index).iter().map(text).collect()
}

#[test]
fn values_words_and_counts_go_into_the_cells() {
    let (notebook, faults) = ran(
        &[
            (
                "let a = 20; print(\"one\"); print(\"two\"); print_warning(\"three\"); a + 1",
                &[],
            ),
            ("  ", &[]),
            ("a * 2;", &[]),
            ("show(a); a + 2", &[]),
        ],
        false,
    );
    assert!(faults.is_empty(), "{faults:?}");
    assert_eq!(plain(&notebook, 0), ["one\ntwo\n", "three\n", "21"]);
    let kinds: Vec<_> = notebook
        .outputs(0)
        .iter()
        .map(|o| &o["output_type"])
        .collect();
    assert_eq!(kinds, ["stream", "stream", "execute_result"]);
    assert_eq!(notebook.outputs(0)[1]["name"], "stderr");
    assert_eq!(notebook.outputs(0)[2]["execution_count"], 1);
    assert_eq!(plain(&notebook, 2), Vec::<String>::new());
    assert_eq!(plain(&notebook, 3), ["20", "22"]);
    let counts: Vec<_> = (0..4).map(|i| notebook.count(i)).collect();
    assert_eq!(counts, [Some(1), None, Some(2), Some(3)]);
}

#[test]
fn it_stops_at_the_first_error_and_names_its_cell_and_place() {
    let cells: [(&str, &[&str]); 3] = [("1", &[]), ("let x = 2;\nx + nothing", &[]), ("3", &[])];
    let (notebook, faults) = ran(&cells, false);
    assert_eq!(faults.len(), 1);
    assert_eq!((faults[0].number, faults[0].id.as_str()), (2, "c2"));
    let lines = faults[0].lines();
    assert_eq!(
        lines[..3],
        [
            "cell 2 (id `c2`), line 2, column 5: nothing is called `nothing`",
            "  2 | x + nothing",
            "    |     ^^^^^^^"
        ]
    );
    assert!(lines.iter().all(|l| !l.contains('\u{1b}')), "{lines:?}");
    assert_eq!(notebook.outputs(1)[0]["output_type"], "error");
    assert_eq!((notebook.count(2), notebook.outputs(2).len()), (None, 0));

    let (notebook, faults) = ran(&cells, true);
    assert_eq!(faults.len(), 1);
    assert_eq!(
        (plain(&notebook, 2), notebook.count(2)),
        (vec!["3".to_string()], Some(3))
    );
}

#[test]
fn tags_let_a_cell_fail_or_leave_it_out() {
    let (notebook, faults) = ran(
        &[
            ("nothing", &["raises-exception"]),
            ("1", &["skip-execution"]),
            ("2", &[]),
        ],
        false,
    );
    assert!(faults.is_empty(), "{faults:?}");
    assert_eq!(notebook.outputs(0)[0]["output_type"], "error");
    assert_eq!((notebook.count(1), notebook.count(2)), (None, Some(2)));
}

#[test]
fn what_is_shown_again_changes_where_it_was_and_clearing_takes_away() {
    let (notebook, faults) = ran(
        &[
            ("show(1, \"place\"); show(2)", &[]),
            ("show_again(10, \"place\"); 3", &[]),
            (
                "print(\"a\"); show(4, \"other\"); clear(); print(\"b\");",
                &[],
            ),
            (
                "show_again(5, \"other\"); print(\"c\"); clear(true); print(\"d\"); clear(true);",
                &[],
            ),
        ],
        false,
    );
    assert!(faults.is_empty(), "{faults:?}");
    assert_eq!(plain(&notebook, 0), ["10", "2"]);
    assert_eq!(plain(&notebook, 1), ["3"]);
    assert_eq!(plain(&notebook, 2), ["b\n"]);
    assert_eq!(plain(&notebook, 3), ["d\n"]);
}

#[test]
fn nobody_can_be_asked() {
    let (_, faults) = ran(&[("input(\"your name?\")", &[])], false);
    assert!(
        faults[0].lines()[0].contains("nobody can be asked"),
        "{faults:?}"
    );
}

#[test]
fn colours_go() {
    assert_eq!(uncoloured("\u{1b}[1;31mred\u{1b}[0m, plain"), "red, plain");
}
