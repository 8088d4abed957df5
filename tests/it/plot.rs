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

/// Left, upper and lower, and right edge of each picture's readings, as the axes are drawn.
fn edges(svg: &str) -> Vec<[i64; 4]> {
    let lines = svg.lines().filter(|l| l.starts_with("<polyline"));
    let axes = lines.filter_map(|line| {
        let points = line.split_once("points=\"")?.1.split_once('"')?.0;
        let numbers: Vec<i64> = points
            .split([' ', ','])
            .filter(|n| !n.is_empty())
            .map(|n| n.parse().expect("a whole number"))
            .collect();
        match numbers.as_slice() {
            // Down at the left, then along the foot.
            [l, top, l2, foot, right, foot2] if l == l2 && foot == foot2 && top < foot => {
                Some([*l, *top, *foot, *right])
            }
            _ => None,
        }
    });
    axes.collect()
}

#[test]
fn pictures_of_one_page_line_up() {
    for more in [
        &["rpm", "knock", "battery_v", "egt", "lambda"][..],
        &["egt", "battery_v", "--against", "rpm"],
    ] {
        let found = edges(&svg(more));
        assert!(found.len() > 1, "{more:?}: {found:?}");
        for one in &found {
            assert_eq!((one[0], one[3]), (found[0][0], found[0][3]), "{more:?}");
        }
    }
    // Side by side: each as high and as wide as its neighbours.
    let beside = edges(&svg(&["egt", "--by", "cylinder"]));
    assert_eq!(beside.len(), 6);
    for row in beside.chunks(3) {
        for one in row {
            assert_eq!((one[1], one[2]), (row[0][1], row[0][2]));
            assert_eq!(one[3] - one[0], row[0][3] - row[0][0]);
        }
    }
}

#[test]
fn an_axis_of_counters_says_that_it_counts() {
    let drawn = svg(&["knock"]);
    assert!(drawn.contains("knock, count"), "{drawn}");
    assert!(!drawn.contains(">\nvalue\n<"), "{drawn}");
}

/// A standard name that is not logged stands for no other channel, however alike they are called.
#[test]
fn a_name_that_is_not_logged_stands_for_no_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("without.csv");
    let whole = std::fs::read_to_string(LOG).expect("the log");
    let heading = "Oil Press (kPa)";
    assert_eq!(whole.matches(heading).count(), 1);
    std::fs::write(&path, whole.replace(heading, "Aux 9")).expect("a log");
    let path = path.to_string_lossy();
    for word in ["oil_pressure", "oil-pressure", "Oil Pressure"] {
        let out = plugread(&["plot", &path, word]);
        let told = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{word}: {told}");
        assert!(out.stdout.is_empty(), "{word}");
        assert!(told.contains("`oil_pressure`") && told.contains("is not in this log"));
        assert!(
            told.contains("near it in name is `fuel_pressure`"),
            "{told}"
        );
        assert!(!told.contains("Did you mean"), "{told}");
        assert_eq!(told.lines().count(), 1, "{told}");
    }
    // What is logged may be spelled with other strokes.
    assert_eq!(svg(&["oil-pressure"]), svg(&["oil_pressure"]));
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
