//! `plugread plot` in each of its ways.

use crate::support::{plugread, text};

const LOG: &str = "sample-logs/hill-run-knock.csv";
const SHEET: &str = "sample-logs/hill-special.toml";

fn plot(more: &[&str]) -> std::process::Output {
    let mut args = vec!["plot", LOG, "--sheet", SHEET];
    args.extend(more);
    plugread(&args)
}

fn svg(more: &[&str]) -> String {
    let out = plot(more);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{more:?}: {}",
        text(&out.stderr)
    );
    let svg = text(&out.stdout);
    assert!(
        svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"),
        "{more:?}"
    );
    svg
}

/// Where each of the words first stands, in this order.
fn in_order(svg: &str, words: &[&str]) {
    let mut from = 0;
    for word in words {
        let at = svg[from..].find(word);
        from += at.unwrap_or_else(|| panic!("`{word}` does not stand behind the others:\n{svg}"))
            + word.len();
    }
}

#[test]
fn channels_of_several_units_stand_under_each_other_on_one_time() {
    let svg = svg(&["rpm", "egt", "battery_v"]);
    in_order(
        &svg,
        &[
            "rpm, hill-run-knock.csv",
            "egt_1, egt_2",
            "degC",
            "battery_v, hill-run-knock.csv",
        ],
    );
    // One picture over the whole run for each unit: the last mark of time stands three times.
    assert_eq!(svg.matches("time, ").count(), 3);
}

#[test]
fn cylinders_stand_side_by_side_in_firing_order() {
    let svg = svg(&["egt", "--by", "cylinder"]);
    let titles: Vec<String> = [1, 5, 3, 6, 2, 4]
        .iter()
        .map(|n| format!("cylinder {n}"))
        .collect();
    let drawn = svg.split_once("</desc>").expect("a description").1;
    in_order(
        drawn,
        &titles.iter().map(String::as_str).collect::<Vec<_>>(),
    );
}

#[test]
fn one_channel_against_another_over_the_run_and_by_phase() {
    let whole = svg(&["map", "--against", "rpm"]);
    assert!(whole.contains("rpm") && whole.contains("kPa"));
    let phases = svg(&["map", "--against", "rpm", "--by", "phase"]);
    in_order(
        phases.split_once("</desc>").expect("a description").1,
        &["running", "idle"],
    );
    let idle = svg(&["map", "--against", "rpm", "--during", "idle"]);
    assert_ne!(whole, idle);
}

#[test]
fn medians_in_cells_are_those_of_the_log() {
    let drawn = svg(&["lambda", "--grid"]);
    assert!(
        drawn.contains("across: rpm") && drawn.contains("upwards: map, kPa"),
        "{drawn}"
    );
    assert!(drawn.contains("fewer than 5 samples"));
    // The same, by the other axis where the sheet says so.
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let sheet = folder.path().join("sheet.toml");
    std::fs::write(&sheet, "[engine]\nload_from = \"tps\"\n").expect("a sheet");
    let out = plugread(&[
        "plot",
        LOG,
        "lambda",
        "--grid",
        "--sheet",
        &sheet.to_string_lossy(),
    ]);
    assert!(text(&out.stdout).contains("upwards: tps, %"));
}

#[test]
fn any_heading_of_the_log_can_be_drawn() {
    assert!(svg(&["Aux 7"]).contains("Aux 7, hill-run-knock.csv"));
    // The heading of a channel is the channel.
    assert_eq!(svg(&["Coolant Temp (degC)"]), svg(&["coolant_temp"]));
}

#[test]
fn every_way_comes_as_png_too() {
    let folder = tempfile::tempdir().expect("a throwaway folder");
    let path = folder.path().join("picture.png");
    for more in [
        &["rpm", "egt"][..],
        &["egt", "--by", "cylinder"],
        &["map", "--against", "rpm"],
        &["lambda", "--grid"],
        &["rpm", "--from", "20", "--to", "40"],
    ] {
        let mut args = more.to_vec();
        let name = path.to_string_lossy().into_owned();
        args.extend(["--out", &name]);
        let out = plot(&args);
        assert_eq!(
            out.status.code(),
            Some(0),
            "{more:?}: {}",
            text(&out.stderr)
        );
        let bytes = std::fs::read(&path).expect("a picture");
        assert!(
            bytes.starts_with(b"\x89PNG") && bytes.len() > 5000,
            "{more:?}"
        );
    }
}

#[test]
fn what_cannot_be_drawn_is_one_sentence() {
    for (more, words) in [
        (&["egtt"][..], "Did you mean `egt`?"),
        (&["rpm", "--during", "idel"], "Did you mean `idle`?"),
        (
            &["rpm", "--from", "50", "--to", "20"],
            "would begin at 50 s",
        ),
        (&["rpm", "--from", "nan"], "would begin at NaN"),
        (
            &["rpm", "--from", "100000", "--to", "100001"],
            "no readings",
        ),
        (&["rpm", "egt", "--by", "phase"], "one unit"),
        (
            &["rpm", "--by", "cylinder"],
            "none of these belongs to a cylinder",
        ),
        (&["rpm", "--against", "egt"], "whole family"),
        (&["egt", "--grid"], "one channel at a time"),
        (&["lambda", "--grid", "--against", "rpm"], "its own axes"),
        (&["rpm", "--out", "picture.gif"], ".svg or .png"),
    ] {
        let out = plot(more);
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        let told = text(&out.stderr);
        assert!(
            told.contains(words) && told.lines().count() == 1,
            "{more:?}: {told}"
        );
        assert!(out.stdout.is_empty(), "{more:?}");
    }
}
