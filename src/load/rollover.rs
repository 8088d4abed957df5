//! Clocks that begin anew by design: at midnight, on the hour, or when their counter is full.
//!
//! The round is added, so that the stamps go on; what the clock really did wrong stays for the check that judges it.

use super::clock::{Clock, ClockStyle};
use super::midnight::{over_midnight, read_dates_again};
use super::moment::DAY_S;

/// The step over the end of a round may be so many times the usual one.
const STEPS_OVER_THE_END: f64 = 5.0;

/// A clock's round, in seconds: its length and the numbers that it runs through.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Round {
    length: f64,
    from: f64,
    shown: &'static str,
}

/// Carries the stamps (seconds, NaN where blank) on where the clock begins a new round. Gives plain sentences of what was
/// done.
pub(crate) fn carry_on(stamps: &mut [f64], clock: &Clock) -> Vec<String> {
    let mut said = Vec::new();
    if clock.style == ClockStyle::DateTime {
        if clock.date_order_assumed {
            said.extend(read_dates_again(stamps, clock));
        }
        said.extend(over_midnight(stamps, clock));
        return said;
    }
    said.extend(digits_of_the_day(stamps, clock.style));
    let mut last = f64::NEG_INFINITY;
    let falls = stamps
        .iter()
        .filter(|stamp| stamp.is_finite())
        .any(|stamp| {
            let falls = *stamp < last;
            last = *stamp;
            falls
        });
    if !falls {
        return said;
    }
    if let Some((round, what)) = written_round(clock.style) {
        let rounds = more_than_half_a_round(stamps, round);
        if rounds > 0 {
            said.push(format!(
                "The clock {what}{} and was carried on.",
                times(rounds)
            ));
            return said;
        }
    }
    if let Some((round, rounds)) = full_counter(stamps, clock.style) {
        said.push(format!(
            "The clock begins anew after {} and did so{}; the steps over the end fit, so it was carried on.",
            round.shown,
            times(rounds)
        ));
    }
    said
}

fn times(count: usize) -> String {
    match count {
        1 => " once".to_owned(),
        n => format!(" {n} times"),
    }
}

/// `101559.9`, then `101600.0`: hours, minutes and seconds in one number, as satellite receivers give them. As seconds
/// such a clock would leap by forty at every minute, and never show a number between 60 and 99 in those places.
fn digits_of_the_day(stamps: &mut [f64], style: ClockStyle) -> Option<String> {
    if style != ClockStyle::Seconds {
        return None;
    }
    let parts = |stamp: f64| {
        let whole = stamp.floor();
        let (hours, minutes) = ((whole / 1e4).floor(), (whole / 1e2).floor() % 1e2);
        (hours, minutes, stamp - hours * 1e4 - minutes * 1e2)
    };
    let fits = |stamp: &f64| {
        let (hours, minutes, seconds) = parts(*stamp);
        stamp.is_nan() || (*stamp >= 0.0 && hours < 24.0 && minutes < 60.0 && seconds < 60.0)
    };
    if !stamps.iter().all(fits) {
        return None;
    }
    let seconds = |stamp: f64| {
        let (hours, minutes, seconds) = parts(stamp);
        hours * 3600.0 + minutes * 60.0 + seconds
    };
    let mut leaps = stamps
        .windows(2)
        .filter(|pair| pair[1] - pair[0] >= 40.0)
        .peekable();
    leaps.peek()?;
    let usual = usual_step(stamps.iter().copied().filter(|stamp| stamp.is_finite()))?;
    if !leaps.all(|pair| seconds(pair[1]) - seconds(pair[0]) <= STEPS_OVER_THE_END * usual) {
        return None;
    }
    for stamp in stamps.iter_mut() {
        *stamp = seconds(*stamp);
    }
    Some("The clock leaps by forty at every minute, so its digits were read as hours, minutes and seconds.".to_owned())
}

/// The round of stamps with colons.
const fn written_round(style: ClockStyle) -> Option<(f64, &'static str)> {
    match style {
        ClockStyle::HoursMinutesSeconds => Some((DAY_S, "passed midnight")),
        // Spreadsheets show `mm:ss.0` and drop the hours.
        ClockStyle::MinutesSeconds => Some((3600.0, "began a new hour, which it does not show,")),
        _ => None,
    }
}

/// A fall of more than half its round is the next round. Returns how often that happened.
fn more_than_half_a_round(stamps: &mut [f64], round: f64) -> usize {
    // Stamps past one round carry more hours than a day has: those do not roll over.
    if stamps.iter().any(|stamp| *stamp >= round) {
        return 0;
    }
    let (mut rounds, mut carried, mut last) = (0, 0.0, f64::NEG_INFINITY);
    for stamp in stamps.iter_mut().filter(|stamp| stamp.is_finite()) {
        if last - *stamp > round / 2.0 {
            rounds += 1;
            carried += round;
        }
        last = *stamp;
        *stamp += carried;
    }
    rounds
}

/// Rounds that counters of a style run through: binary ones with and without a sign, then those of the calendar and
/// those of a display with so many digits.
fn rounds(style: ClockStyle) -> Vec<Round> {
    const BINARY: [(f64, &str); 3] = [
        (65_536.0, "65536"),
        (16_777_216.0, "2^24"),
        (4_294_967_296.0, "2^32"),
    ];
    const CALENDAR: [(f64, &str); 5] = [
        (1.0, "one second"),
        (60.0, "one minute"),
        (3600.0, "one hour"),
        (DAY_S, "one day"),
        (7.0 * DAY_S, "one week"),
    ];
    const DECIMAL: [(f64, &str); 6] = [
        (1e4, "10000"),
        (1e5, "100000"),
        (1e6, "1000000"),
        (1e7, "10^7"),
        (1e8, "10^8"),
        (1e9, "10^9"),
    ];
    let counts = |list: &[(f64, &'static str)], sign: f64| -> Vec<Round> {
        let rounds = list.iter().map(|(count, shown)| {
            let length = style.to_seconds(*count);
            Round {
                length,
                from: sign * length / 2.0,
                shown,
            }
        });
        rounds.collect()
    };
    let calendar = CALENDAR.iter().map(|(length, shown)| Round {
        length: *length,
        from: 0.0,
        shown,
    });
    match style {
        // The dial of a clock shows 1 to 12.
        ClockStyle::HoursMinutesSeconds => vec![Round {
            length: DAY_S / 2.0,
            from: 3600.0,
            shown: "twelve hours",
        }],
        ClockStyle::Seconds
        | ClockStyle::Milliseconds
        | ClockStyle::Microseconds
        | ClockStyle::Nanoseconds => {
            let mut rounds = counts(&BINARY, 0.0);
            rounds.extend(counts(&BINARY, -1.0));
            rounds.extend(calendar);
            rounds.extend(counts(&DECIMAL, 0.0));
            rounds
        }
        _ => Vec::new(),
    }
}

/// Finds the round of a counter that falls from the end of it to the start, with a step over the end no longer than
/// usual, and carries it on.
fn full_counter(stamps: &mut [f64], style: ClockStyle) -> Option<(Round, usize)> {
    let finite = || stamps.iter().copied().filter(|stamp| stamp.is_finite());
    let usual = usual_step(finite())?;
    let (least, most) = finite().fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(least, most), stamp| (least.min(stamp), most.max(stamp)),
    );
    let fits = |round: &Round, before: f64, now: f64| {
        let step = now + round.length - before;
        now < before && step > 0.0 && step <= STEPS_OVER_THE_END * usual
    };
    let usable = rounds(style).into_iter().filter(|round| {
        // A round of a few rows is a pattern of steps, not a counter.
        let long = round.length > 3.0 * STEPS_OVER_THE_END * usual;
        long && least >= round.from && most < round.from + round.length
    });
    let mut best: Option<(Round, usize)> = None;
    for round in usable {
        let (mut last, mut count) = (f64::NAN, 0);
        for stamp in finite() {
            count += usize::from(fits(&round, last, stamp));
            last = stamp;
        }
        if count > best.map_or(0, |best| best.1) {
            best = Some((round, count));
        }
    }
    let (round, count) = best?;
    let (mut carried, mut last) = (0.0, f64::NAN);
    for stamp in stamps.iter_mut().filter(|stamp| stamp.is_finite()) {
        if fits(&round, last, *stamp) {
            carried += round.length;
        }
        last = *stamp;
        *stamp += carried;
    }
    Some((round, count))
}

/// The median of the steps forward.
fn usual_step(stamps: impl Iterator<Item = f64>) -> Option<f64> {
    let mut last = f64::INFINITY;
    let mut forward: Vec<f64> = Vec::new();
    for stamp in stamps {
        if stamp > last {
            forward.push(stamp - last);
        }
        last = stamp;
    }
    let middle = forward.len() / 2;
    (!forward.is_empty()).then(|| *forward.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(style: ClockStyle) -> Clock {
        Clock {
            style,
            ..Clock::default()
        }
    }

    fn carried(style: ClockStyle, stamps: &[f64]) -> (Vec<f64>, usize) {
        let mut stamps = stamps.to_vec();
        let said = carry_on(&mut stamps, &clock(style)).len();
        (stamps, said)
    }

    #[test]
    fn midnight_goes_forward() {
        use ClockStyle::{HoursMinutesSeconds as Hms, MinutesSeconds as Ms};
        assert_eq!(
            carried(Hms, &[86_399.5, 0.0, 0.5]),
            (vec![86_399.5, 86_400.0, 86_400.5], 1)
        );
        assert_eq!(carried(Hms, &[50_000.0, 40_000.0]).1, 0);
        assert_eq!(carried(Hms, &[90_000.0, 10.0]).1, 0);
        assert_eq!(carried(Ms, &[3599.0, 1.0]), (vec![3599.0, 3601.0], 1));
        // 12:59:59 to 1:00:00 without AM and PM.
        let dial = [46_798.0, 46_799.0, 3600.0, 3601.0];
        assert_eq!(
            carried(Hms, &dial),
            (vec![46_798.0, 46_799.0, 46_800.0, 46_801.0], 1)
        );
    }

    #[test]
    fn counters_that_are_full_go_on() {
        use ClockStyle::{Microseconds, Milliseconds, Seconds};
        for (style, length, from) in [
            (Milliseconds, 65.536, 0.0),
            (Milliseconds, 65.536, -32.768),
            (Milliseconds, 4_294_967.296, 0.0),
            (Microseconds, 4_294.967_296, 0.0),
            (Microseconds, 4_294.967_296, -2_147.483_648),
            (Seconds, 86_400.0, 0.0),
            (Seconds, 604_800.0, 0.0),
            (Milliseconds, 86_400.0, 0.0),
            (Seconds, 65_536.0, 0.0),
        ] {
            let step = length / 4096.0;
            let truth: Vec<f64> = (0..200)
                .map(|row| from + length - 100.0 * step + f64::from(row) * step)
                .collect();
            let shown: Vec<f64> = truth
                .iter()
                .map(|t| if *t >= from + length { t - length } else { *t })
                .collect();
            let (got, said) = carried(style, &shown);
            let close = got.iter().zip(&truth).all(|(a, b)| (a - b).abs() < 1e-6);
            assert!(close && said == 1, "{style:?} {length} {got:?}");
        }
    }

    #[test]
    fn a_restart_is_no_full_counter() {
        use ClockStyle::{Milliseconds, Seconds};
        for (style, stamps) in [
            (Seconds, vec![0.0, 0.1, 0.2, 0.3, 0.0, 0.1, 0.2]),
            (Milliseconds, vec![65.0, 65.01, 65.02, 0.0, 0.01]),
            (Milliseconds, vec![65.51, 65.52, 65.53, 3.0, 3.01]),
            (Seconds, vec![86_000.0, 86_001.0, 0.0, 1.0]),
            (Milliseconds, vec![70.0, 65.52, 65.53, 0.01, 0.02]),
        ] {
            let (got, said) = carried(style, &stamps);
            assert_eq!((got, said), (stamps, 0));
        }
    }

    #[test]
    fn hours_minutes_and_seconds_in_one_number() {
        let stamp = |row: u32| {
            let tenths = 36_955 * 10 + row;
            let (h, m, s) = (tenths / 36_000, tenths / 600 % 60, tenths % 600);
            f64::from(h * 10_000 + m * 100) + f64::from(s) / 10.0
        };
        let stamps: Vec<f64> = (0..1500).map(stamp).collect();
        let (got, said) = carried(ClockStyle::Seconds, &stamps);
        let even = got
            .windows(2)
            .all(|pair| (pair[1] - pair[0] - 0.1).abs() < 1e-6);
        assert!(even && said == 1 && got[0] == 36_955.0, "{:?}", &got[..3]);
        // A log of seconds with a gap, and one that counts past sixty.
        for stamps in [
            vec![58.0, 59.0, 150.0, 151.0],
            vec![58.0, 59.0, 60.0, 61.0, 159.0],
        ] {
            assert_eq!(carried(ClockStyle::Seconds, &stamps), (stamps, 0));
        }
    }

    #[test]
    fn blank_stamps_stay_blank() {
        let (got, _) = carried(ClockStyle::HoursMinutesSeconds, &[86_399.0, f64::NAN, 1.0]);
        assert!(got[1].is_nan());
        assert_eq!(got[2], 86_401.0);
    }
}
