//! Text that is no sheet: how problems look, and slips of TOML.

use super::*;

#[test]
fn a_problem_shows_file_line_text_underline_and_what_is_wanted() {
    let error = parse(
        "car.toml",
        "[engine]\ncylinders = 6\nfiring_order = [1, 5, 3, 7, 2, 4]\n",
    )
    .expect_err("wrong");
    let expected = "car.toml, line 3, column 26: there is no cylinder 7, the engine has 6\n  \
                    3 | firing_order = [1, 5, 3, 7, 2, 4]\n    \
                      |                          ^\n  \
                    wanted: cylinder numbers from 1 to 6, each once";
    assert_eq!(error.to_string(), expected);
}

#[test]
fn text_that_is_no_toml() {
    one(
        "[engine]\ncompression_ratio = 9,5 # high\n",
        2,
        "9,5",
        "this number has a decimal comma",
        "a decimal point: 9.5",
    );
    one(
        "[electrical]\nnominal_v = 12 V\n",
        2,
        "12 V",
        "\"12 V\" is neither a number, nor true or false, nor text in quotes",
        "a number from 2 to 120 V, without quotes",
    );
    one(
        "[oil]\nsystem = wet\n",
        2,
        "wet",
        "\"wet\" is neither a number, nor true or false, nor text in quotes",
        "one of \"wet\", \"dry\", in quotes",
    );
    one(
        "[oil]\nsystem = “wet”\n",
        2,
        "“wet”",
        "these are curved quotes, as word processors write them",
        "straight quotes: \" or '",
    );
    one(
        "[cooling]\nfan = True\n",
        2,
        "True",
        "this is not spelt in the way TOML wants it",
        "true or false, without quotes",
    );
    one(
        "[oil]\nrelief =   # ask\n",
        2,
        "",
        "there is no value after the =",
        "a number from 50 to 2000 kPa, without quotes",
    );
    one(
        "[oil]\n  relief 450\n",
        2,
        "relief 450",
        "this line is neither an entry, nor a section, nor a remark",
        "name = value, or [section], or # before a remark",
    );
    one(
        "[oil]\nrelief = 450\nrelief = 460\n",
        3,
        "relief",
        "this is already given further up",
        "each entry and each section once; keep the one that is right",
    );
    one(
        "[oil]\nrelief = 450\n[fuel]\n[oil]\nbearings = \"x\"\n",
        4,
        "oil",
        "this is already given further up",
        "each entry and each section once; keep the one that is right",
    );
    one(
        "[engine]\nfiring_order = [1, 3,\n[fuel]\nkind = \"e85\"\n",
        2,
        "[1, 3,",
        "this is opened and not closed before the next entry",
        "] where it ends",
    );
    one(
        "[engine]\nfiring_order = [1, 3,\n 4, 2\n\n",
        2,
        "[1, 3,",
        "this is opened and not closed before the next entry",
        "] where it ends",
    );
    one(
        "[engine]\nfiring_order = [\n 1, x, 2,\n]\n",
        3,
        "x",
        "\"x\" is neither a number, nor true or false, nor text in quotes",
        "a number, true or false, or text in quotes",
    );
    one(
        "[oil\nrelief = 450\n",
        1,
        "",
        "this is not valid TOML: unclosed table",
        "`]`",
    );
}

#[test]
fn every_problem_is_told_at_once() {
    let text = "[engine]\ncylinders = six\nfiring_order = [1, 5, 3, 6, 2, 2]\nstrokes = 5\n[olil]\n[fuel]\nkind = e85\n\
                base_pressure = 3,0\n[limits]\n\"x\" = 3\n";
    let lines: Vec<_> = problems(text)
        .iter()
        .filter_map(|problem| Some(problem.place?.line))
        .collect();
    assert_eq!(lines, [2, 3, 4, 5, 7, 8, 10]);
    let told = parse("car.toml", text).expect_err("wrong").to_string();
    assert!(
        told.ends_with("7 problems in the build sheet; nothing of it was used."),
        "{told}"
    );
}

#[test]
fn a_sheet_cannot_write_to_the_terminal() {
    let text = format!("[engine]\nname = {}\u{1b}[31mred\n", "x".repeat(300));
    let told = parse("car\u{1b}.toml", &text)
        .expect_err("wrong")
        .to_string();
    assert!(!told.contains('\u{1b}'), "{told:?}");
    // The line itself is cut; only the wording may name the value in full.
    assert!(
        told.lines()
            .filter(|line| line.contains(" | "))
            .all(|line| line.chars().count() < 120),
        "{told}"
    );
}

#[test]
fn files_that_cannot_be_sheets() {
    let folder = std::env::temp_dir().join(format!("plugread-sheet-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a throwaway folder");
    let told = |name: &str, bytes: Option<&[u8]>| {
        let path = folder.join(name);
        if let Some(bytes) = bytes {
            std::fs::write(&path, bytes).expect("a throwaway file");
        }
        let told = read(&path)
            .map(|sheet| sheet.path)
            .map_err(|error| error.to_string());
        (path, told)
    };
    let (path, good) = told("good.toml", Some(b"[oil]\nrelief = 450\n"));
    assert_eq!(good, Ok(Some(path)));
    let (_, absent) = told("absent.toml", None);
    assert!(absent.is_err_and(|told| told.ends_with("could not be read: there is no such file")));
    let (_, latin) = told("latin.toml", Some(b"[engine]\nname = \"M\xfcller\"\n"));
    let latin = latin.expect_err("not UTF-8");
    assert!(
        latin.contains("line 2, column 10: this character is not written in UTF-8"),
        "{latin}"
    );
    let (_, huge) = told("huge.toml", Some(&vec![b'#'; (1 << 20) + 1]));
    assert!(huge.is_err_and(|told| told.contains("was the log given in its place?")));
    std::fs::remove_dir_all(&folder).expect("the throwaway folder goes");
}
#[test]
fn a_log_given_as_a_sheet_ends_in_few_words() {
    let found = problems(&"x;812;13.9\n".repeat(500));
    assert_eq!(found.len(), 21);
    assert_eq!(found[0].place, None);
    let what = "too much of this is no TOML: the rest was not judged";
    assert_eq!(found[0].what, what);
}

#[test]
fn large_sheets_do_not_take_forever() {
    let limits: String = (0..20_000).map(|i| format!("k{i}.a = 1\n")).collect();
    let started = std::time::Instant::now();
    assert_eq!(good(&format!("[limits]\n{limits}")).limits.len(), 20_000);
    assert_eq!(problems(&limits.replace(".a", "")).len(), 20_000);
    // Generous: a second or two on a busy machine; quadratic reading took more than ten.
    assert!(started.elapsed().as_secs() < 5, "{:?}", started.elapsed());
}
