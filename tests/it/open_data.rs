//! The carOBD dataset: twelve runs of one ordinary healthy car, two rows a second. Every figure is worked out here anew from
//! the text of the file, by other means than the loader's.

use std::path::Path;

use plugread::findings::{Review, Verdict};
use plugread::pipeline;
use plugread::sheet::Sheet;

use crate::support::{catalog, open_data, told, warned};

/// carOBD dataset, file names.
const FILES: [&str; 12] = [
    "drive1", "drive6", "idle1", "idle14", "idle2", "idle30", "live15", "live20", "live7", "long1",
    "ufpe1", "ufpe18",
];
/// Those in which a person sees the voltage dip at the start.
const DIPS: [&str; 6] = ["drive6", "idle1", "live15", "live20", "ufpe1", "ufpe18"];

/// Columns of the dataset, by position.
const CELLS: usize = 27;
const RUN_TIME: usize = 0;
const RPM: usize = 1;
const VOLTS: usize = 21;

/// Rows of numbers by plain splitting.
fn rows(path: &Path) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(path).expect("the file is text");
    text.lines()
        .skip(1)
        .map(|l| {
            l.split(',')
                .map(str::trim)
                .filter(|c| !c.is_empty())
                .map(|c| c.parse().expect("a number"))
                .collect::<Vec<f64>>()
        })
        // A log may end in the middle of a row: what has not all of its cells is no row in use.
        .filter(|r| r.len() == CELLS)
        .collect()
}

fn review(path: &Path) -> Review {
    let outcome =
        pipeline::review(path, &Sheet::default(), catalog()).unwrap_or_else(|e| panic!("{e}"));
    assert!(
        outcome.script_errors.is_empty(),
        "{:?}",
        outcome.script_errors
    );
    outcome.review
}

fn number(review: &Review, id: &str, name: &str) -> Option<f64> {
    review
        .finding(id)?
        .numbers
        .iter()
        .find(|n| n.0 == name)
        .map(|n| n.1.value)
}

fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

#[test]
fn all_twelve_load_with_their_channels_rows_and_duration() {
    let Some(folder) = open_data() else { return };
    for file in FILES {
        let path = folder.join(format!("{file}.csv"));
        let (review, rows) = (review(&path), rows(&path));
        for name in [
            "rpm",
            "battery_v",
            "coolant_temp",
            "speed",
            "map",
            "tps",
            "intake_temp",
        ] {
            assert!(
                review.log.channels.iter().any(|c| c.name == name),
                "carOBD {file}: no {name}"
            );
        }
        assert_eq!(review.log.rows, rows.len(), "carOBD {file}");
        let text = std::fs::read_to_string(&path).expect("text");
        let cells = |l: &str| l.split(',').filter(|c| !c.trim().is_empty()).count();
        let cut = text
            .lines()
            .skip(1)
            .filter(|l| (1..CELLS).contains(&cells(l)))
            .count();
        let told = review.log.problems.iter().filter(|p| p.line > 1).count();
        assert!(
            told >= cut,
            "carOBD {file}: {cut} rows are cut and {told} problems told"
        );
        // Duration: the run time from its first step to its last, and before that the rows that stand at the first
        // stamp, at the file's own mean row period after it.
        let first = rows[0][RUN_TIME];
        let standing = rows.iter().take_while(|r| r[RUN_TIME] == first).count();
        let moving = rows.len() - standing;
        let span = rows[rows.len() - 1][RUN_TIME] - first;
        let wanted = span / moving as f64 * (rows.len() - 1) as f64;
        let off = (review.log.duration_s - wanted).abs();
        assert!(
            off <= wanted * 0.02 + 4.0,
            "carOBD {file}: {} s, by hand {wanted} s",
            review.log.duration_s
        );
    }
}

#[test]
fn supply_figures_are_what_a_person_reads_from_the_columns() {
    let Some(folder) = open_data() else { return };
    for file in FILES {
        let path = folder.join(format!("{file}.csv"));
        let (review, rows) = (review(&path), rows(&path));
        let charge = review
            .finding("charge-voltage")
            .expect("the check is there");
        assert_eq!(
            charge.verdict,
            Verdict::Pass,
            "carOBD {file}: {}",
            charge.reason.standard()
        );
        // Charging: the median of the volts from 30 s (60 rows) after the engine first turns fast enough to run.
        let fired = rows.iter().position(|r| r[RPM] > 600.0).expect("it runs");
        let running: Vec<f64> = rows[fired + 60..]
            .iter()
            .filter(|r| r[RPM] > 400.0)
            .map(|r| r[VOLTS])
            .collect();
        let wanted = median(running);
        let got = number(&review, "charge-voltage", "median")
            .unwrap_or_else(|| panic!("carOBD {file}: no median"));
        assert!(
            (got - wanted).abs() <= 0.1,
            "carOBD {file}: charging {got} V, by hand {wanted} V"
        );
        if file == "idle2" {
            // It starts with the engine running: no rest, no start.
            assert_ne!(
                review.finding("battery-rest").map(|f| f.verdict),
                Some(Verdict::Warn),
                "{}",
                told(&review)
            );
            continue;
        }
        // Rest: the best of the volts before the first turn, as a meter would show them before anything draws.
        let rest = rows.iter().take_while(|r| r[RPM] == 0.0);
        let best = rest.map(|r| r[VOLTS]).fold(0.0, f64::max);
        let got = number(&review, "battery-rest", "rest")
            .unwrap_or_else(|| panic!("carOBD {file}: no rest voltage"));
        assert!(
            (got - best).abs() <= 0.03,
            "carOBD {file}: rest {got} V, by hand {best} V"
        );
        if DIPS.contains(&file) {
            let around = &rows[fired.saturating_sub(8)..fired + 4];
            let lowest = around
                .iter()
                .map(|r| r[VOLTS])
                .fold(f64::INFINITY, f64::min);
            let got = number(&review, "crank-voltage", "lowest");
            let got = got.unwrap_or_else(|| panic!("carOBD {file}: no lowest voltage"));
            assert!(
                (got - lowest).abs() < 0.001,
                "carOBD {file}: {got} V, by hand {lowest} V"
            );
        }
    }
}

#[test]
fn a_healthy_car_is_left_in_peace() {
    let Some(folder) = open_data() else { return };
    for file in FILES {
        let review = review(&folder.join(format!("{file}.csv")));
        assert!(
            review.stop_now.is_empty(),
            "carOBD {file}: {:?}",
            review.stop_now
        );
        for f in review
            .findings
            .iter()
            .filter(|f| f.verdict == Verdict::Warn)
        {
            assert!(
                !matches!(f.system.as_str(), "charging" | "starting"),
                "carOBD {file}: {} {}",
                f.id,
                f.reason.standard()
            );
        }
        println!("carOBD {file}: warned {:?}", warned(&review));
    }
}
