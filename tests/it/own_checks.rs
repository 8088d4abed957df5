//! Slips in a check of one's own, as a person makes them who knows the language from scripts/LANGUAGE.md alone: each is told once,
//! with the place, the text marked there, and what would be right.

use std::path::Path;

use crate::support::{plugread, text};

/// What `checks try` says of the check that `checks new` writes, with one text in it replaced.
fn told(folder: &Path, from: &str, to: &str) -> String {
    let place = folder.to_string_lossy();
    let path = folder.join("own.rhai");
    if path.exists() {
        std::fs::remove_file(&path).expect("it goes");
    }
    let new = plugread(&["checks", "new", "own", "--scripts", &place]);
    assert_eq!(new.status.code(), Some(0), "{}", text(&new.stderr));
    let script = std::fs::read_to_string(&path).expect("a script");
    let slip = script.replacen(from, to, 1);
    assert_ne!(slip, script, "{from}");
    std::fs::write(&path, slip).expect("a script");
    let out = plugread(&["checks", "try", "own", "--scripts", &place]);
    assert_ne!(out.status.code(), Some(0), "{to}: {}", text(&out.stdout));
    format!("{}{}", text(&out.stdout), text(&out.stderr))
}

/// The line of the template behind which slips of `judge` are put: they stand in line 21.
const BEFORE: &str = "    let running = run.during(\"running\");\n";

/// Where, what is marked, what is wrong, what would be right.
type Wanted = (&'static str, &'static str, &'static str, &'static str);

/// Empty where all is as wanted.
fn differs(told: &str, (place, marked, what, wanted): Wanted) -> bool {
    let Some(at) = told.find(&format!("own.rhai, {place}: ")) else {
        return true;
    };
    let mut lines = told[at..].lines();
    let head = lines.next().unwrap_or_default();
    let shown = lines.next().unwrap_or_default();
    let marks = lines.next().unwrap_or_default();
    let right = lines.next().unwrap_or_default();
    let from = marks.find('^').unwrap_or(0);
    let marks = marks.matches('^').count();
    let under: String = shown.chars().skip(from).take(marks).collect();
    !head.ends_with(what)
        || under != marked
        || !right.starts_with("  wanted: ")
        || !right.contains(wanted)
        || told.matches(what).count() != 1
}

fn all_told(slips: &[(&str, &str, Wanted)]) {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut wrong = Vec::new();
    for (from, to, wanted) in slips {
        let told = told(folder.path(), from, to);
        if differs(&told, *wanted) {
            wrong.push(format!("{to}\n  wanted {wanted:?}\n{told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

fn all_told_in_judge(slips: &[(&str, Wanted)]) {
    let to: Vec<String> = slips
        .iter()
        .map(|(slip, _)| format!("{BEFORE}    {slip}\n"))
        .collect();
    let slips: Vec<_> = slips
        .iter()
        .zip(&to)
        .map(|((_, wanted), to)| (BEFORE, to.as_str(), *wanted))
        .collect();
    all_told(&slips);
}

#[test]
fn an_open_bracket_is_told_where_it_was_opened() {
    all_told_in_judge(&[
        (
            "if running.is_empty() {\n        return pass(\"x\");",
            (
                "line 21, column 27",
                "{",
                "this is not the language: this `{` is opened and never closed",
                "a `}` where it ends, before the `}` in line 40, column 1",
            ),
        ),
        (
            "let hot = (run.bay_temp > limits.most.lasting(limits.hold);",
            (
                "line 21, column 15",
                "(",
                "this is not the language: this `(` is opened and never closed",
                "a `)` where it ends, before the `;` in line 21, column 63",
            ),
        ),
        (
            "let rest = run.rpm.during(running;",
            (
                "line 21, column 30",
                "(",
                "this is not the language: this `(` is opened and never closed",
                "a `)` where it ends, before the `;` in line 21, column 38",
            ),
        ),
        (
            "let list = [1, 2;",
            (
                "line 21, column 16",
                "[",
                "this is not the language: this `[` is opened and never closed",
                "a `]` where it ends",
            ),
        ),
        (
            "if running.is_empty() { return pass(\"x\"); } }",
            (
                "line 22, column 16",
                "run",
                "this is not the language: `run` stands outside of all functions here",
                "what was opened in line 19 is closed in line 21 already",
            ),
        ),
        (
            "let x = (1 2);",
            (
                "line 21, column 16",
                "2",
                "this is not the language: this does not follow from what stands before it",
                "an operator such as + or < between the two",
            ),
        ),
    ]);
}

#[test]
fn words_of_other_languages_are_told_as_such() {
    let no_word = |word: &str| format!("this is not the language: `{word}` is no word of it");
    let slips = [
        ("if running.is_empty() and true { }", 27, "and", "`&&`"),
        ("let x = running.is_empty() or true;", 32, "or", "`||`"),
        ("if not running.is_empty() { }", 8, "not", "`!` in front"),
        ("if true { } elif true { }", 17, "elif", "`else if`"),
        (
            "if true { } elif (run.rpm.max() > 3) { }",
            17,
            "elif",
            "`else if`",
        ),
        ("let x = None;", 13, "None", "`()`"),
        ("let x = null;", 13, "null", "`()`"),
        ("var x = 3;", 5, "var", "`let name"),
        ("let x = True;", 13, "True", "`true`"),
    ];
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (slip, column, word, right) in slips {
        let told = told(folder.path(), BEFORE, &format!("{BEFORE}    {slip}\n"));
        let place = format!("line 21, column {column}: {}", no_word(word));
        assert!(told.contains(&place), "{slip}\n{told}");
        let marks = format!("^{}\n  wanted: {right}", "^".repeat(word.len() - 1));
        assert!(told.contains(&marks), "{slip}\n{told}");
    }
    all_told_in_judge(&[
        (
            "let x = 3; if x = 3 { }",
            (
                "line 21, column 21",
                "=",
                "this is not the language: `=` gives a name its value, it does not ask",
                "`==` asks whether two are equal",
            ),
        ),
        (
            "return pass('text');",
            (
                "line 21, column 17",
                "'text'",
                "this is not the language: a text stands between two \", not between two '",
                "\"text\"",
            ),
        ),
        (
            "return pass('t');",
            (
                "line 21, column 12",
                "pass",
                "what stands between two ' is a single letter, no text",
                "a text between two \"",
            ),
        ),
        (
            "let hot = run.bay_temp > 90 degC;",
            (
                "line 21, column 33",
                "degC",
                "this is not the language: a unit cannot stand behind a figure",
                "`quantity(90, \"degC\")`",
            ),
        ),
        (
            "# a remark",
            (
                "line 21, column 5",
                "#",
                "this is not the language: `#` begins no comment",
                "`//`",
            ),
        ),
    ]);
}

#[test]
fn misspelt_names_get_near_ones() {
    all_told_in_judge(&[
        (
            "let x = run.egtt1;",
            (
                "line 21, column 17",
                "egtt1",
                "no channel is called `egtt1`",
                "did you mean `egt_1`?",
            ),
        ),
        (
            "if run.has(\"collant-temp\") { return pass(\"x\"); }",
            (
                "line 21, column 12",
                "has",
                "no channel is called `collant-temp`",
                "did you mean `coolant_temp`?",
            ),
        ),
        (
            "let x = run[\"water_temp\"];",
            (
                "line 21, column 16",
                "[",
                "no channel is called `water_temp`",
                "did you mean `coolant_temp`?",
            ),
        ),
        (
            "let x = run.column(\"egtt1\");",
            (
                "line 21, column 17",
                "column",
                "there is no `column (Run, text)`",
                "`run.rpm`, or `run[\"rpm\"]`",
            ),
        ),
        (
            "let x = run.sheet.engin;",
            (
                "line 21, column 23",
                "engin",
                "the build sheet has no section `engin`",
                "did you mean `engine`?",
            ),
        ),
        (
            "let x = run.sheet.engine.rev_limt_rpm;",
            (
                "line 21, column 30",
                "rev_limt_rpm",
                "the build sheet has no `rev_limt_rpm` under `engine`",
                "did you mean `rev_limit_rpm`?",
            ),
        ),
        (
            "let x = run.sheet.altitude_m;",
            (
                "line 21, column 23",
                "altitude_m",
                "the build sheet has no section `altitude_m`",
                "did you mean `run.sheet.air.altitude_m`?",
            ),
        ),
        (
            "let x = run.during(\"runing\");",
            (
                "line 21, column 17",
                "during",
                "there is no phase `runing`",
                "did you mean `running`?",
            ),
        ),
        (
            "let x = limits.mst;",
            (
                "line 21, column 20",
                "mst",
                "there is no limit `mst` in about()",
                "did you mean `most`?",
            ),
        ),
    ]);
}

#[test]
fn units_and_kinds_that_do_not_fit_say_what_would() {
    all_told_in_judge(&[
        (
            "let x = quantity(3, \"degreesC\");",
            (
                "line 21, column 13",
                "quantity",
                "`degreesC` is no unit that is known here",
                "did you mean `degC`? Units of temperature: degC, degF, K",
            ),
        ),
        (
            "let x = run.rpm.max().as_number(\"V\");",
            (
                "line 21, column 27",
                "as_number",
                "rpm cannot be told in `V`",
                "a unit of engine speed: rpm, krpm",
            ),
        ),
        (
            "let x = run.bay_temp + quantity(3, \"V\");",
            (
                "line 21, column 26",
                "+",
                "cannot work out bay_temp (degC) + 3 V: the units do not fit",
                "degC on both sides, or V on both",
            ),
        ),
        (
            "let x = run.rpm > 3000;",
            (
                "line 21, column 21",
                ">",
                "cannot work out rpm (rpm) > 3000 (a bare number): the units do not fit",
                "give the number a unit: quantity(3000, \"rpm\")",
            ),
        ),
        (
            "if run.rpm > quantity(3000, \"rpm\") { }",
            (
                "line 21, column 16",
                ">",
                "a comparison of a column is yes or no at each moment, not once for all",
                "`.lasting(hold)`",
            ),
        ),
    ]);
    // What a family is needs one in the cases.
    let family = "rpm: \"0 for 5, 3000 for 60\", egt_1: \"600 for 65\"";
    let folder = tempfile::tempdir().expect("a throwaway folder");
    for (slip, place, what) in [
        (
            "run.egt.max()",
            "line 21, column 21",
            "a family has no `max`: it is several columns side by side",
        ),
        (
            "run.egt.kolumns",
            "line 21, column 21",
            "a family has no `kolumns`: it is several columns side by side",
        ),
        (
            "run.egt > limits.most",
            "line 21, column 21",
            "`>` cannot work on a family: it is several columns side by side",
        ),
    ] {
        let to = format!("{BEFORE}    if run.has(\"egt\") {{ let x = 1; }}\n");
        let script = told(folder.path(), BEFORE, &format!("{to}    let x = {slip};\n"));
        // No case of the template has one: that is what is said first.
        assert!(script.contains("this log has no `egt`"), "{script}");
        let path = folder.path().join("own.rhai");
        let text_of = std::fs::read_to_string(&path).expect("a script");
        let mended = text_of
            .replace("rpm: \"0 for 5, 3000 for 60\"", family)
            .replace("    if run.has(\"egt\") { let x = 1; }\n", "");
        std::fs::write(&path, mended).expect("a script");
        let scripts = folder.path().to_string_lossy();
        let out = plugread(&["checks", "try", "own", "--scripts", &scripts]);
        let told = text(&out.stdout);
        assert!(
            told.contains(&format!("own.rhai, {place}: {what}")),
            "{told}"
        );
        assert_eq!(told.matches(what).count(), 1, "{told}");
        let right = told.lines().find_map(|l| l.strip_prefix("  wanted: "));
        let right = right.unwrap_or_default();
        assert!(
            right.contains(".highest()") || right.contains("`columns`"),
            "{told}"
        );
    }
}

/// What a newcomer tries on columns, spans, tables, verdicts and limits, after other languages.
#[test]
fn what_a_value_cannot_do_is_told_with_what_it_can() {
    let first = "let x = run.rpm";
    let slips = [
        (
            "[0];",
            20,
            "no single sample is taken out of a column",
            "`.during(spans)`",
        ),
        (
            ".during(\"running\");",
            21,
            "there is no `during (Column, text)`",
            "Spans of a phase are run.during(\"running\")",
        ),
        (
            ".during(run.running);",
            32,
            "no channel is called `running`",
            "`run.during(\"running\")`",
        ),
        (
            ".rolling_median(1);",
            21,
            "there is no `rolling_median (Column, whole number)`",
            "quantity(5, \"s\")",
        ),
        (
            ".during(running).total();",
            37,
            "there is no `total (Column)`",
            "`total` works on Spans, and this is a Column",
        ),
        (
            ".max() > run.sheet.engine.rev_limit_rpm;",
            27,
            "`>` has nothing, (), on one side: an entry of the build sheet that nobody filled in, or a figure of an empty column",
            "if limit == ()",
        ),
        (
            " + \"text\";",
            21,
            "a column is no figure for a sentence",
            "`.max()`",
        ),
        (
            "; running & running;",
            30,
            "`&` cannot work on Spans and Spans: there is no `&` for these",
            "`.and(other)`",
        ),
        (
            "; for one in x { }",
            33,
            "this is no list to go through",
            "`table.rows()`",
        ),
        (
            "; limits.most = 3;",
            29,
            "the limit `most` is not changed in a script",
            "a build sheet changes the limit itself",
        ),
        (
            "; return fail(\"x\");",
            29,
            "there is no `fail (text)`",
            "a verdict: pass(...)",
        ),
        (
            "; return warn(\"x\").cylinder(3);",
            39,
            "there is no `cylinder (Verdict, whole number)`",
            "did you mean `cylinders`?",
        ),
        (
            "; return warn(\"x\").cylinders(3);",
            39,
            "there is no `cylinders (Verdict, whole number)`",
            "a list stands between [ and ]",
        ),
        (
            ".max()) ;",
            26,
            "this is not the language: this `)` closes nothing",
            "one `)` less",
        ),
        (
            " => limits.most;",
            21,
            "this is not the language: `=>` compares nothing",
            "`>=`",
        ),
        (
            "; let e = run.sheet.engine; e.rev_limt_rpm;",
            50,
            "there is no `rev_limt_rpm` in this map",
            "did you mean `rev_limit_rpm`?",
        ),
        (
            "; let y = sheet.engine;",
            30,
            "nothing is called `sheet` by itself",
            "`run.sheet`",
        ),
        (
            "; return pass(\"at most ${x}\");",
            43,
            "a figure in ${...} is not filled in between two \"",
            "two ` around this text",
        ),
    ];
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut wrong = Vec::new();
    for (slip, column, what, right) in slips {
        let to = format!("{BEFORE}    {first}{slip}\n");
        let told = told(folder.path(), BEFORE, &to);
        let place = format!("own.rhai, line 21, column {column}: {what}\n");
        let wanted = told.lines().find_map(|l| l.strip_prefix("  wanted: "));
        let fits = wanted.is_some_and(|wanted| wanted.contains(right));
        if told.matches(&place).count() != 1 || !fits {
            wrong.push(format!("{slip}: {column}\n{told}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn what_about_says_wrong_is_told_in_its_line() {
    let needs = "needs: [\"bay_temp\", \"rpm\"]";
    all_told(&[
        (
            needs,
            "needs: [\"bay_tmp\", \"rpm\"]",
            (
                "line 8, column 13",
                "\"bay_tmp\"",
                "needs names `bay_tmp`, which is no standard name",
                "did you mean `bay_temp`?",
            ),
        ),
        (
            needs,
            "needs: [\"rpm\", \"ergt_*\"]",
            (
                "line 8, column 20",
                "\"ergt_*\"",
                "needs names the family `ergt_*`, which is not known",
                "did you mean `egt_*`?",
            ),
        ),
        (
            needs,
            "needs: \"rpm\"",
            (
                "line 8, column 5",
                "needs",
                "needs is a text",
                "a list of texts: needs: [\"...\"]",
            ),
        ),
        (
            needs,
            "need: [\"rpm\"]",
            (
                "line 8, column 5",
                "need",
                "about() has `need`, which means nothing here",
                "did you mean `needs`?",
            ),
        ),
        (
            "\"hot-exhaust\"",
            "\"hot-exaust\"",
            (
                "line 15, column 16",
                "\"hot-exaust\"",
                "cautions names `hot-exaust`, which is no caution",
                "did you mean `hot-exhaust`?",
            ),
        ),
        (
            "\"channel-rail\"",
            "\"chanel-rail\"",
            (
                "line 6, column 17",
                "\"chanel-rail\"",
                "builds_on names `chanel-rail`, which is no check",
                "did you mean `channel-rail`?",
            ),
        ),
        (
            "limit(90.0, \"degC\",",
            "limit(90.0, \"degc.\",",
            (
                "line 11, column 15",
                "limit",
                "`degc.` is no unit that is known here",
                "did you mean `degC`?",
            ),
        ),
        (
            "title: \"Own\"",
            "title: 3",
            (
                "line 4, column 5",
                "title",
                "title is a whole number",
                "a text: title:",
            ),
        ),
        (
            "fn judge(run, limits)",
            "fn juge(run, limits)",
            (
                "line 19, column 4",
                "juge",
                "there is no `fn judge(run, limits)`",
                "with that name and these two",
            ),
        ),
        (
            "fn judge(run, limits)",
            "fn judge(run)",
            (
                "line 28, column 31",
                "limits",
                "nothing is called `limits` in this function",
                "`fn judge(run, limits)` is handed it",
            ),
        ),
        (
            ".decided_by([\"most\"])",
            ".decided_by([\"mst\"])",
            (
                "line 33, column 22",
                "\"mst\"",
                "decided_by names `mst`, which is no limit of about() and no entry of the build sheet",
                "did you mean `most`?",
            ),
        ),
        (
            "return pass(`At most ${heat.max()} under the bonnet.`).number(\"highest\", heat.max());",
            "return;",
            (
                "line 19, column 4",
                "judge",
                "what comes out is nothing: ()",
                "a verdict at the end of every way through",
            ),
        ),
    ]);
}

#[test]
fn a_case_that_means_nothing_is_refused_in_its_line() {
    let healthy = "role: \"healthy\", want: \"pass\",";
    let column = "bay_temp: \"40 to 60 for 65\"";
    all_told(&[
        (
            "want: \"not-run\"",
            "want: \"missing\"",
            (
                "line 53, column 63",
                "\"missing\"",
                "`missing` is no verdict, but why there is none",
                "want: \"not-run\", kind: \"missing\"",
            ),
        ),
        (
            healthy,
            "role: \"healthy\", want: \"pas\",",
            (
                "line 51, column 56",
                "\"pas\"",
                "`pas` cannot stand behind `want` of a case",
                "did you mean `pass`? One of pass, warn, not-run",
            ),
        ),
        (
            healthy,
            "role: \"helthy\", want: \"pass\",",
            (
                "line 51, column 39",
                "\"helthy\"",
                "`helthy` cannot stand behind `role` of a case",
                "One of warns, just short, healthy, missing",
            ),
        ),
        (
            healthy,
            "role: \"healthy\",",
            (
                "line 51, column 14",
                "\"as it should be\"",
                "this case does not say what it wants",
                "want: one of pass, warn, not-run",
            ),
        ),
        (
            healthy,
            "role: \"healthy\", wants: \"pass\",",
            (
                "line 51, column 50",
                "wants",
                "a case has no `wants`",
                "did you mean `want`?",
            ),
        ),
        (
            column,
            "bay_tmp: \"40 for 65\"",
            (
                "line 52, column 50",
                "bay_tmp",
                "`bay_tmp` is no standard name",
                "did you mean `bay_temp`?",
            ),
        ),
        (
            column,
            "bay_temp: 40",
            (
                "line 52, column 50",
                "bay_temp",
                "the column `bay_temp` is a whole number",
                "values and seconds",
            ),
        ),
        (
            healthy,
            "role: \"healthy\", want: \"pass\", sheet: \"[engin]\",",
            (
                "line 51, column 64",
                "sheet",
                "the sheet of this case, line 1, column 2: there is no section \"engin\"",
                "[engine]",
            ),
        ),
    ]);
}

/// Three cases run into one line; the others come out as they should.
#[test]
fn a_line_that_stops_several_cases_is_told_once_with_their_names() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let slip = "if !hot.is_empty() { let x = limits.mot; }\n    if hot.is_empty()";
    let said = told(folder.path(), "if hot.is_empty()", slip);
    assert_eq!(said.matches("there is no limit `mot`").count(), 1, "{said}");
    let names = "  not tried for this: long and far over it; just over it for long enough\n";
    assert!(said.contains(names), "{said}");
    assert_eq!(said.matches("as wanted: own: ").count(), 4, "{said}");
    assert!(said.contains("6 cases tried, 2 not as wanted"), "{said}");
}

/// What scripts/LANGUAGE.md lists is known to scripts: every unit and every channel.
#[test]
fn every_listed_unit_and_channel_is_known() {
    let page = std::fs::read_to_string("scripts/LANGUAGE.md").expect("the page");
    let of = |heading: &str| {
        let (_, rest) = page.split_once(heading).expect("a section");
        rest.split("\n## ").next().unwrap_or_default().to_string()
    };
    let quoted = |row: &str| -> Vec<String> {
        let names = row.split('`').skip(1).step_by(2);
        names.map(str::to_string).collect()
    };
    let units = of("\n## Units\n");
    let rows: Vec<&str> = units
        .lines()
        .filter(|l| l.starts_with("| "))
        .skip(2)
        .collect();
    assert!(rows.len() >= 14, "{units}");
    let units: Vec<String> = rows.iter().flat_map(|row| quoted(row)).collect();
    let channels = of("\n## Standard channel names\n");
    let names: Vec<String> = channels
        .lines()
        .filter(|l| l.starts_with("| `"))
        .map(|row| quoted(row).remove(0))
        .collect();
    assert!(names.len() >= 50, "{channels}");
    let mut judge = String::new();
    for unit in &units {
        judge.push_str(&format!("    quantity(1, \"{unit}\");\n"));
    }
    for name in &names {
        judge.push_str(&format!("    run.has(\"{name}\");\n"));
    }
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let script = format!(
        "fn about() {{ #{{ title: \"All\", needs: [\"rpm\"] }} }}\nfn judge(run, limits) {{\n{judge}    pass(\"all known\")\n}}\n\
         fn cases() {{ [#{{ name: \"all\", role: \"healthy\", want: \"pass\", says: \"all known\", channels: #{{ rpm: \"0 for 2\" }} }}] }}\n"
    );
    std::fs::write(folder.path().join("all.rhai"), script).expect("a script");
    let scripts = folder.path().to_string_lossy();
    let out = plugread(&["checks", "try", "all", "--scripts", &scripts]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stdout));
    // Names that the project's design fixes (section 5) are among them.
    for name in ["rpm", "map", "lambda", "coolant_temp", "egt_1", "battery_v"] {
        assert!(names.iter().any(|n| n == name), "{name}");
    }
}
