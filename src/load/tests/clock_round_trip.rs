//! A run written with any clock comes back with its times, within what the clock printed.

use proptest::prelude::*;

use super::table;

/// How a clock is written.
#[derive(Clone, Copy, Debug)]
enum Style {
    Seconds,
    Milliseconds,
    Microseconds,
    UnixSeconds,
    UnixMilliseconds,
    SpreadsheetDays,
    OfDay,
    OfDayComma,
    OfDayColon,
    OfDayNoon,
    MinutesSeconds,
    Iso,
    Basic,
    DayFirst,
    MonthFirst,
    TwoColumns,
    ThreeColumns,
    WrappedMilliseconds,
    SecondsOfDay,
}

const STYLES: [Style; 19] = [
    Style::Seconds,
    Style::Milliseconds,
    Style::Microseconds,
    Style::UnixSeconds,
    Style::UnixMilliseconds,
    Style::SpreadsheetDays,
    Style::OfDay,
    Style::OfDayComma,
    Style::OfDayColon,
    Style::OfDayNoon,
    Style::MinutesSeconds,
    Style::Iso,
    Style::Basic,
    Style::DayFirst,
    Style::MonthFirst,
    Style::TwoColumns,
    Style::ThreeColumns,
    Style::WrappedMilliseconds,
    Style::SecondsOfDay,
];

impl Style {
    /// Headings of the clock, and how exactly a stamp is printed, in seconds.
    fn headings(self) -> (&'static str, f64) {
        match self {
            Self::Microseconds => ("Time (us)", 1e-3),
            Self::Milliseconds | Self::WrappedMilliseconds => ("Time (ms)", 1e-3),
            Self::Seconds | Self::SecondsOfDay => ("Time (s)", 1e-3),
            Self::SpreadsheetDays => ("Time", 1e-3),
            Self::TwoColumns => ("Date;Time", 1e-3),
            Self::ThreeColumns => ("Date;Time;ms", 1e-3),
            _ => ("Time", 1e-3),
        }
    }

    /// The stamp of so many milliseconds after midnight of 12 June 2026, a night later for those of a whole day and more.
    fn stamp(self, ms: u64) -> String {
        // 12 June 2026 is day 20616 since 1970 and day 46185 of a spreadsheet (day 45658 is 1 January 2025).
        const UNIX_MS: u64 = 20_616 * 86_400_000;
        let day = 12 + ms / 86_400_000;
        let (h, m, s, f) = (
            ms / 3_600_000 % 24,
            ms / 60_000 % 60,
            ms / 1000 % 60,
            ms % 1000,
        );
        let of_day = format!("{h:02}:{m:02}:{s:02}");
        match self {
            Self::Seconds => format!("{}.{f:03}", ms / 1000),
            Self::Milliseconds => ms.to_string(),
            Self::Microseconds => (ms * 1000).to_string(),
            Self::UnixSeconds => format!("{}.{f:03}", (UNIX_MS + ms) / 1000),
            Self::UnixMilliseconds => (UNIX_MS + ms).to_string(),
            Self::SpreadsheetDays => format!("{:.9}", 46_185.0 + ms as f64 / 86_400_000.0),
            Self::OfDay => format!("{of_day}.{f:03}"),
            Self::OfDayComma => format!("{of_day},{f:03}"),
            Self::OfDayColon => format!("{of_day}:{f:03}"),
            Self::OfDayNoon => {
                let (twelve, noon) = ((h + 11) % 12 + 1, if h < 12 { "AM" } else { "PM" });
                format!("{twelve}:{m:02}:{s:02}.{f:03} {noon}")
            }
            Self::MinutesSeconds => format!("{m:02}:{s:02}.{f:03}"),
            Self::Iso => format!("2026-06-{day}T{of_day}.{f:03}+02:00"),
            Self::Basic => format!("202606{day}T{h:02}{m:02}{s:02}.{f:03}Z"),
            Self::DayFirst => format!("{day}.06.2026 {of_day}.{f:03}"),
            Self::MonthFirst => format!("6/{day}/26 {of_day}.{f:03}"),
            Self::TwoColumns => format!("2026-06-{day};{of_day}.{f:03}"),
            Self::ThreeColumns => format!("{day}/06/2026;{of_day};{f}"),
            Self::WrappedMilliseconds => (ms % 65_536).to_string(),
            Self::SecondsOfDay => format!("{}.{f:03}", ms / 1000 % 86_400),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn times_come_back(
        style in 0..STYLES.len(),
        start in 0_u64..86_400_000,
        late in any::<bool>(),
        step in prop::sample::select(vec![5_u64, 10, 20, 50, 100, 250]),
        jitter in prop::collection::vec(0_u64..3, 60),
    ) {
        let style = STYLES[style];
        // Half of the runs pass midnight, the hour or the end of the counter.
        let start = if late { 86_400_000 - 30 * step } else { start };
        let truth: Vec<u64> = (0_u64..).zip(&jitter).map(|(row, jitter)| start + row * step + jitter).collect();
        let (heading, precision) = style.headings();
        let mut text = format!("{heading};RPM;EGT\n");
        for ms in &truth {
            text.push_str(&format!("{};{};{}\n", style.stamp(*ms), 900 + ms % 13, 500 + ms % 7));
        }
        let (log, table) = table(&text);
        prop_assert_eq!(table.rows, truth.len(), "{}", text);
        prop_assert_eq!(table.breaks.len(), 0, "{}\n{:?}", text, log.dialect().evidence);
        for (time, ms) in table.time_s.iter().zip(&truth) {
            let wanted = (ms - start) as f64 / 1e3;
            let got = time - table.time_s[0] + (truth[0] - start) as f64 / 1e3;
            prop_assert!(
                (got - wanted).abs() <= precision + 1e-9,
                "{:?}: {} for {}\n{}\n{:?}", style, got, wanted, text, log.dialect().evidence
            );
        }
    }
}
