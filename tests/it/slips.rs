//! Shipped scripts with slips of all kinds in them: whatever is left comes back as a finding, never as a panic. The fuzz
//! target `script` holds the same over any text; this runs without its toolchain. `SLIPS=100000 cargo test --release --test
//! it -- slips --nocapture` looks longer.

use std::fs;
use std::path::{Path, PathBuf};

use crate::any_script::judge;
use crate::support::home;

/// Numbers in no particular order, the same in each run (splitmix64).
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) % limit.max(1) as u64).unwrap_or(0)
    }
    fn one_of<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list.get(self.below(list.len())).copied().unwrap_or("")
    }
}

fn scripts_in(folder: &Path, list: &mut Vec<PathBuf>) {
    let entries = fs::read_dir(folder).expect("a folder of scripts");
    for path in entries.map(|e| e.expect("an entry").path()) {
        if path.is_dir() {
            scripts_in(&path, list);
        } else if path.extension().is_some_and(|e| e == "rhai") {
            list.push(path);
        }
    }
}

/// Names, figures, and single signs.
fn pieces(text: &str) -> Vec<&str> {
    let of_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut list = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let to = if of_word(first) {
            rest.find(|c| !of_word(c)).unwrap_or(rest.len())
        } else {
            first.len_utf8()
        };
        let (piece, behind) = rest.split_at(to);
        list.push(piece);
        rest = behind;
    }
    list
}

/// What does harm in the place of something else.
const ODD: [&str; 22] = [
    "0",
    "-1",
    "1e300",
    "-0.0",
    "9223372036854775807",
    "()",
    "[]",
    "#{}",
    "\"\"",
    "`${run}`",
    "run",
    "limits",
    "quantity(0, \"s\")",
    "quantity(-1e300, \"s\")",
    "quantity(1e300, \"rpm\")",
    "run.rpm",
    "run.egt",
    "no_spans()",
    "|x| x",
    "true",
    "!",
    "(0.0/0.0)",
];

fn with_slips(text: &str, donor: &str, dice: &mut Dice) -> String {
    let mut list = pieces(text);
    let others = pieces(donor);
    let is_word = |piece: &&str| piece.starts_with(|c: char| c.is_alphanumeric());
    let words: Vec<&str> = others.iter().copied().filter(is_word).collect();
    for _ in 0..=dice.below(3) {
        // Where a word or figure stands, as a rule: other slips seldom leave a script.
        let places: Vec<usize> = (0..list.len()).filter(|at| is_word(&list[*at])).collect();
        let Some(at) = places.get(dice.below(places.len())).copied() else {
            break;
        };
        match dice.below(8) {
            0 => drop(list.remove(at)),
            1 => list.insert(at, list[at]),
            2 | 3 => list[at] = dice.one_of(&ODD),
            4 | 5 => list[at] = dice.one_of(&words),
            6 => list.swap(at, places[dice.below(places.len())]),
            _ => list[at] = dice.one_of(&others),
        }
    }
    list.concat()
}

#[test]
fn scripts_with_slips_come_back_as_findings() {
    let asked = std::env::var("SLIPS").ok().and_then(|n| n.parse().ok());
    let rounds: usize = asked.unwrap_or(150);
    let mut paths = Vec::new();
    scripts_in(&home().join("scripts"), &mut paths);
    paths.sort();
    // Whole cases of a shipped check take long, and are not what is looked at.
    let read = |path: &PathBuf| fs::read_to_string(path).expect("a script");
    let texts: Vec<String> = paths.iter().map(read).collect();
    let heads: Vec<&str> = texts
        .iter()
        .map(|text| text.split("\nfn cases()").next().unwrap_or(text))
        .filter(|text| text.contains("fn judge("))
        .collect();
    assert!(heads.len() > 30, "{}", heads.len());
    let mut dice = Dice(1);
    let mut judged = 0;
    for round in 0..rounds {
        let text = with_slips(dice.one_of(&heads), dice.one_of(&heads), &mut dice);
        let came = std::panic::catch_unwind(|| judge(&text));
        match came {
            Ok(is_script) => judged += usize::from(is_script),
            Err(_) => panic!("round {round}:\n{text}"),
        }
    }
    eprintln!("{rounds} texts, {judged} of them scripts");
    assert!(judged * 10 > rounds, "{judged} of {rounds} were scripts");
}
