//! Round numbers along an axis.

/// Where the marks of an axis stand and what they say.
#[derive(Clone, Debug, PartialEq)]
pub struct Ticks {
    /// First and last value of the axis.
    pub range: (f64, f64),
    /// Position and words of each mark, in order.
    pub marks: Vec<(f64, String)>,
}

/// Steps of minutes and seconds that a reader adds up without thinking, s.
const CLOCK_STEPS: [f64; 13] = [
    15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 14_400.0, 28_800.0,
    86_400.0,
];

/// From this length on a time axis reads in minutes and seconds, s.
pub const CLOCK_FROM_S: f64 = 300.0;

/// Marks for values between `low` and `high`, about `wanted` of them. The range grows to the marks around it.
pub fn outside(low: f64, high: f64, wanted: usize) -> Ticks {
    let step = round_step(high - low, wanted);
    let (first, last) = ((low / step).floor(), (high / step).ceil());
    Ticks {
        range: (first * step, last * step),
        marks: marks(first, last, step),
    }
}

/// Marks inside `low` to `high`; the range stays as it is.
pub fn inside(low: f64, high: f64, wanted: usize) -> Ticks {
    let step = round_step(high - low, wanted);
    let (first, last) = ((low / step - 1e-9).ceil(), (high / step + 1e-9).floor());
    Ticks {
        range: (low, high),
        marks: marks(first, last, step),
    }
}

/// Marks of a time axis in minutes and seconds, inside `low` to `high` seconds.
pub fn clock(low: f64, high: f64, wanted: usize) -> Ticks {
    let raw = (high - low) / wanted.max(1) as f64;
    let step = if raw < CLOCK_STEPS[0] * 0.67 {
        round_step(high - low, wanted)
    } else {
        CLOCK_STEPS
            .into_iter()
            .find(|s| *s >= raw * 0.75)
            .unwrap_or_else(|| round_step(high - low, wanted))
    };
    let decimals = (-step.log10().floor()).clamp(0.0, 3.0) as usize;
    let (first, last) = ((low / step - 1e-9).ceil(), (high / step + 1e-9).floor());
    let count = (last - first).clamp(0.0, 200.0) as usize;
    let marks = (0..=count)
        .map(|i| (first + i as f64) * step)
        .map(|t| (t, minutes_to(t, decimals)))
        .collect();
    Ticks {
        range: (low, high),
        marks,
    }
}

/// Seconds as `m:ss`.
pub fn minutes(seconds: f64) -> String {
    minutes_to(seconds, 0)
}

/// Seconds as `m:ss.s`, with so many decimals.
pub fn minutes_to(seconds: f64, decimals: usize) -> String {
    let parts = 10f64.powi(i32::try_from(decimals).unwrap_or(0));
    let whole = (seconds.abs() * parts).round() / parts;
    let sign = if seconds < 0.0 && whole > 0.0 {
        "-"
    } else {
        ""
    };
    let wide = if decimals == 0 { 2 } else { decimals + 3 };
    // What is left of a full minute may round up to another one.
    let minutes = (whole / 60.0 + 1e-9).floor();
    let rest = (whole - minutes * 60.0).max(0.0);
    format!("{sign}{minutes:.0}:{rest:0wide$.decimals$}")
}

fn round_step(span: f64, wanted: usize) -> f64 {
    let raw = span / wanted.max(1) as f64;
    if !raw.is_finite() || raw <= 0.0 {
        return 1.0;
    }
    let size = 10f64.powf(raw.log10().floor());
    let lead = raw / size;
    let round = [1.0, 2.0, 5.0].into_iter().find(|s| *s >= lead * 0.999);
    round.unwrap_or(10.0) * size
}

fn marks(first: f64, last: f64, step: f64) -> Vec<(f64, String)> {
    let count = (last - first).clamp(0.0, 200.0) as usize;
    let values: Vec<f64> = (0..=count).map(|i| (first + i as f64) * step).collect();
    let largest = values.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    values
        .into_iter()
        .map(|v| {
            let words = if largest >= 1e6 || decimals > 4 {
                short_power(v, step)
            } else {
                format!("{v:.decimals$}")
            };
            // A step of 0.1 leaves -0.0 where the axis crosses zero.
            let words = if v.abs() < step / 2.0 {
                "0".to_string()
            } else {
                words
            };
            (v, words)
        })
        .collect()
}

/// A number as `2.5e9`, with no more digits than tell neighbours apart.
fn short_power(value: f64, step: f64) -> String {
    if value == 0.0 {
        return "0".to_string();
    }
    let digits = (value.abs().log10().floor() - step.log10().floor()).clamp(0.0, 12.0) as usize;
    format!("{value:.digits$e}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(ticks: &Ticks) -> Vec<&str> {
        ticks.marks.iter().map(|m| m.1.as_str()).collect()
    }

    #[test]
    fn marks_are_round_and_surround_the_values() {
        let ticks = outside(12.3, 14.4, 5);
        assert_eq!(
            words(&ticks),
            ["12.0", "12.5", "13.0", "13.5", "14.0", "14.5"]
        );
        assert_eq!(ticks.range, (12.0, 14.5));
        assert_eq!(
            words(&outside(-130.0, 90.0, 4)),
            ["-200", "-100", "0", "100"]
        );
    }

    #[test]
    fn a_long_axis_reads_in_minutes() {
        let ticks = clock(3.0, 610.0, 7);
        assert_eq!(words(&ticks), ["2:00", "4:00", "6:00", "8:00", "10:00"]);
        assert_eq!(
            (minutes(-61.0), minutes(-0.2)),
            ("-1:01".into(), "0:00".into())
        );
    }

    #[test]
    fn a_short_axis_on_a_clock_tells_parts_of_a_second() {
        let ticks = clock(201.0, 203.0, 5);
        assert_eq!(
            words(&ticks),
            ["3:21.0", "3:21.5", "3:22.0", "3:22.5", "3:23.0"]
        );
        assert_eq!(
            words(&clock(55.0, 95.0, 4)),
            ["1:00", "1:10", "1:20", "1:30"]
        );
        assert_eq!(minutes_to(59.97, 1), "1:00.0");
        assert_eq!(minutes_to(-0.04, 1), "0:00.0");
    }

    #[test]
    fn huge_and_tiny_values_stay_short() {
        for (low, high) in [(0.0, 4e12), (-2e-7, 9e-7), (1e9, 1e9 + 4.0)] {
            let ticks = outside(low, high, 5);
            assert!(ticks.marks.len() < 12, "{ticks:?}");
            for (i, (_, word)) in ticks.marks.iter().enumerate() {
                assert!(word.len() <= 14, "{word}");
                assert!(i == 0 || *word != ticks.marks[i - 1].1, "{ticks:?}");
            }
        }
    }
}
