//! Slips in the language itself, each with its place and what would be right.

use crate::dsl::ScriptError;
use crate::dsl::engine::{Bounds, StopFlag, engine};

fn shown(script: &str) -> String {
    let engine = engine(Bounds::default(), StopFlag::default());
    let error = match engine.compile(script) {
        Ok(ast) => match engine.eval_ast::<rhai::Dynamic>(&ast) {
            Ok(value) => panic!("{script}: {value}"),
            Err(error) => ScriptError::run("own/mine.rhai", &error),
        },
        Err(error) => return ScriptError::parse("own/mine.rhai", &error, script).shown(),
    };
    error.within(script).shown()
}

/// A script, where it is wrong, what is marked there, and words of what is said.
const SLIPS: [(&str, &str, &str, &[&str]); 30] = [
    (
        "let volts = 3; vlts + 1",
        "1, column 16",
        "^^^^",
        &["nothing is called `vlts`", "did you mean `volts`?"],
    ),
    (
        "let x = 1;\nlet y = x + z;",
        "2, column 13",
        "^",
        &["nothing is called `z`"],
    ),
    (
        "let a = 1\nlet b = 2",
        "2, column 1",
        "^^^",
        &["a semicolon is missing", "each statement"],
    ),
    ("let x = ;", "1, column 9", "^", &["something is missing"]),
    (
        "let x = (1 + 2;",
        "1, column 9",
        "^",
        &[
            "this `(` is opened and never closed",
            "a `)` where it ends, before the `;` in line 1, column 15",
        ],
    ),
    (
        "let x = #{ a: 1, a: 2 };",
        "1, column 18",
        "^",
        &["`a` is given twice"],
    ),
    ("let x = \"open;\nx", "1, column", "^", &["not closed"]),
    ("if 1 { 2 }", "1, column 4", "^", &["boolean"]),
    (
        "let x = “text”;",
        "1, column 9",
        "^",
        &["means nothing here", "straight quotes"],
    ),
    ("eval(\"1\")", "1, column 1", "^^^^", &["eval"]),
    (
        "fn f { 1 }",
        "1, column 6",
        "^",
        &["`fn f` does not say what it takes"],
    ),
    (
        "fn f() { 1 ",
        "1, column 8",
        "^",
        &[
            "this `{` is opened and never closed",
            "the text is over without one",
        ],
    ),
    ("import \"x\" as y;", "1, column", "^^^^^^", &[]),
    (
        "quantity(3, \"V\") + quantity(1, \"degC\")",
        "1, column 18",
        "^",
        &["units do not fit", "V", "degC"],
    ),
    (
        "quantity(3, \"V\") < quantity(1, \"rpm\")",
        "1, column 18",
        "^",
        &["units do not fit", "V", "rpm"],
    ),
    (
        "quantity(3, \"V\") + 1",
        "1, column 18",
        "^",
        &["units do not fit", "wanted: give the number a unit"],
    ),
    (
        "quantity(3, \"Volt s\")",
        "1, column 1",
        "^^^^^^^^",
        &["`Volt s` is no unit", "wanted:"],
    ),
    (
        "quantity(3, \"V\").as_number(\"degC\")",
        "1, column 18",
        "^^^^^^^^^",
        &["V cannot be told in `degC`"],
    ),
    (
        "quantty(3, \"V\")",
        "1, column 1",
        "^^^^^^^",
        &[
            "there is no `quantty (whole number, text)`",
            "did you mean `quantity`?",
        ],
    ),
    (
        "quantity(\"V\", 3)",
        "1, column 1",
        "^^^^^^^^",
        &[
            "quantity (text, whole number)",
            "it goes like this: quantity(",
        ],
    ),
    (
        "quantity(3, \"V\").lasting(3)",
        "1, column 18",
        "^^^^^^^",
        &["there is no `lasting", "it goes like this"],
    ),
    (
        "quantity(3, \"V\").valeu",
        "1, column 18",
        "^^^^^",
        &["Quantity has no `valeu`", "did you mean `.value"],
    ),
    (
        "let m = #{ highest: 1 }; m.higest",
        "1, column 28",
        "^^^^^^",
        &[
            "there is no `higest` in this map",
            "did you mean `highest`?",
        ],
    ),
    (
        "let l = [1, 2]; l[2]",
        "1, column 19",
        "^",
        &["there is no [2] in a list of 2", "0 to 1"],
    ),
    ("[][0]", "1, column 4", "^", &["empty"]),
    (
        "fn hottest(a) { a } hotest(3)",
        "1, column 21",
        "^^^^^^",
        &["there is no `hotest", "did you mean `hottest`?"],
    ),
    (
        "fn inner(a) { a + quantity(1, \"V\") }\nfn outer() {\n    inner(quantity(3, \"degC\"))\n}\nouter()",
        "1, column 17",
        "^",
        &["units do not fit"],
    ),
    (
        "limit(3, \"V\", \"\")",
        "1, column 1",
        "^^^^^",
        &["where it comes from"],
    ),
    (
        "if quantity(3, \"V\") { 1 }",
        "1, column 4",
        "^^^^^^^^",
        &["Quantity", "true or false"],
    ),
    ("const A = 1; A = 2;", "1, column", "^", &["A"]),
];

#[test]
fn slips_are_shown_with_their_place_and_what_would_be_right() {
    let mut wrong = Vec::new();
    for (script, place, marks, words) in SLIPS {
        let shown = shown(script);
        let head = format!("own/mine.rhai, line {place}");
        let marked = shown.lines().nth(2).unwrap_or_default();
        let marked = marked.trim_start_matches([' ', '|']);
        let said = words.iter().all(|word| shown.contains(word));
        if !shown.starts_with(&head) || marked != marks || !said {
            wrong.push(format!(
                "{script}\n  asked {place} {marks} {words:?}\n{shown}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}
