//! When the log began, as a line before the data says.

use super::rate::has;
use crate::load::words::words_of;

/// When the log began, as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Started {
    pub text: String,
    pub line: usize,
}

/// Words before a date that is the log's own; the first ones say so most clearly.
const BEGAN: [&str; 36] = [
    "start",
    "started",
    "starts",
    "starting",
    "begin",
    "begins",
    "began",
    "begun",
    "log",
    "logged",
    "logging",
    "record",
    "recorded",
    "recording",
    "session",
    "run",
    "created",
    "captured",
    "date",
    "time",
    "datetime",
    "timestamp",
    "day",
    "clock",
    "datum",
    "zeit",
    "uhrzeit",
    "beginn",
    "fecha",
    "hora",
    "data",
    "ora",
    "heure",
    "debut",
    "inicio",
    "jour",
];
const CLEAREST: usize = 8;
/// Words before a date that is that of something else.
const NOT_BEGAN: [&str; 29] = [
    "export",
    "exported",
    "print",
    "printed",
    "firmware",
    "version",
    "build",
    "built",
    "calibration",
    "calibrated",
    "map",
    "tune",
    "modified",
    "saved",
    "opened",
    "end",
    "ended",
    "ends",
    "stop",
    "stopped",
    "finish",
    "finished",
    "duration",
    "length",
    "lap",
    "laps",
    "expires",
    "software",
    "hardware",
];

/// When the log began, if a line says so.
pub(super) fn started(lines: &[(usize, String)]) -> Option<Started> {
    let (mut day, mut time): (Option<Found>, Option<Found>) = (None, None);
    for (line, text) in lines {
        let Some(trust) = trust(text) else { continue };
        let date = date_in(text);
        let clock = time_in(text, date.map_or(0, |(_, end)| end));
        let found = |(start, end): (usize, usize)| Found {
            trust,
            line: *line,
            text: text[start..end].trim().to_owned(),
        };
        let better = |old: &Option<Found>| old.as_ref().is_none_or(|old| trust > old.trust);
        match (date, clock) {
            (Some(date), clock) if better(&day) => {
                day = Some(found(date));
                // A time on the same line belongs to that date.
                time = clock.map(found).or(time);
            }
            (None, Some(clock)) if better(&time) => time = Some(found(clock)),
            _ => {}
        }
    }
    let line = day.as_ref().or(time.as_ref())?.line;
    let parts: Vec<String> = [day, time]
        .into_iter()
        .flatten()
        .map(|part| part.text)
        .collect();
    Some(Started {
        text: parts.join(" "),
        line,
    })
}

struct Found {
    trust: u8,
    line: usize,
    text: String,
}

/// How surely a date on this line is that of the log. `None`: not at all.
fn trust(text: &str) -> Option<u8> {
    let first_digit = text.find(|c: char| c.is_ascii_digit())?;
    let mut words = words_of(&text[..first_digit]);
    words.retain(|word| month(word).is_none() && !WEEKDAYS.contains(&word.as_str()));
    if has(&words, &NOT_BEGAN) {
        None
    } else if has(&words, &BEGAN[..CLEAREST]) {
        Some(3)
    } else if has(&words, &BEGAN) {
        Some(2)
    } else {
        words.is_empty().then_some(1)
    }
}

const WEEKDAYS: [&str; 14] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
    "mon",
    "tue",
    "wed",
    "thu",
    "fri",
    "sat",
    "sun",
];

/// The number of a month by its English name or the first three letters of it.
fn month(word: &str) -> Option<usize> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let at = MONTHS
        .iter()
        .position(|month| word.len() >= 3 && month.starts_with(word))?;
    Some(at + 1)
}

/// Where a date stands: `2024-05-04`, `04.05.2024`, `5/4/24`, `4 May 2024`, `May 4, 2024`.
fn date_in(text: &str) -> Option<(usize, usize)> {
    let tokens = tokens(text);
    let digits = |at: usize, most: usize| {
        tokens.get(at).filter(|t| {
            let word = &text[t.0..t.1];
            word.len() <= most && word.bytes().all(|c| c.is_ascii_digit())
        })
    };
    let named = |at: usize| {
        let token = tokens.get(at)?;
        month(&text[token.0..token.1].to_lowercase())
    };
    let between = |a: usize, b: usize| Some(&text[tokens.get(a)?.1..tokens.get(b)?.0]);
    for at in 0..tokens.len() {
        let (Some(first), Some(third)) = (tokens.get(at), digits(at + 2, 4)) else {
            continue;
        };
        let (one, two) = (between(at, at + 1)?, between(at + 1, at + 2)?);
        let whole = (first.0, third.1);
        let year_somewhere =
            first.1 - first.0 == 4 || third.1 - third.0 == 4 || third.1 - third.0 == 2;
        let in_numbers = digits(at, 4).is_some() && digits(at + 1, 2).is_some();
        if in_numbers && one == two && matches!(one, "-" | "." | "/") && year_somewhere {
            return Some(whole);
        }
        let loose = |gap: &str| gap.len() <= 2 && gap.chars().all(|c| " -./,".contains(c));
        let day_first = digits(at, 2).is_some() && named(at + 1).is_some();
        let month_first = named(at).is_some() && digits(at + 1, 2).is_some();
        if (day_first || month_first) && loose(one) && loose(two) && third.1 - third.0 == 4 {
            return Some(whole);
        }
    }
    None
}

/// Where a time of day stands, from `from` on: `14:03`, `2:03:22.5 PM`.
fn time_in(text: &str, from: usize) -> Option<(usize, usize)> {
    let tokens = tokens(text);
    let two = |t: &(usize, usize)| {
        (1..=2).contains(&(t.1 - t.0)) && text.as_bytes()[t.0].is_ascii_digit()
    };
    for (at, first) in tokens.iter().enumerate().filter(|(_, t)| t.0 >= from) {
        let minute = tokens
            .get(at + 1)
            .filter(|t| two(t) && &text[first.1..t.0] == ":");
        let (true, Some(minute)) = (two(first), minute) else {
            continue;
        };
        let mut end = minute.1;
        let second = tokens.get(at + 2).filter(|t| &text[end..t.0] == ":");
        let mut next = at + 2;
        if let Some(second) = second {
            end = second.1;
            next += 1;
            if let Some(part) = tokens
                .get(next)
                .filter(|t| matches!(&text[end..t.0], "." | ","))
            {
                end = part.1;
                next += 1;
            }
        }
        let half = tokens
            .get(next)
            .filter(|t| text[end..t.0].trim().is_empty());
        if let Some(half) = half
            && ["am", "pm"].contains(&text[half.0..half.1].to_lowercase().as_str())
        {
            end = half.1;
        }
        return Some((first.0, end));
    }
    None
}

/// Runs of digits and runs of letters, as start and end.
fn tokens(text: &str) -> Vec<(usize, usize)> {
    let mut tokens: Vec<(usize, usize)> = Vec::new();
    let mut last: Option<bool> = None;
    for (at, c) in text.char_indices() {
        let kind = (c.is_ascii_digit() || c.is_alphabetic()).then(|| c.is_ascii_digit());
        match (kind, tokens.last_mut()) {
            (Some(_), Some(token)) if kind == last => token.1 = at + c.len_utf8(),
            (Some(_), _) => tokens.push((at, at + c.len_utf8())),
            (None, _) => {}
        }
        last = kind;
    }
    tokens
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn starts_as_they_are_written() {
        let said = |lines: &[&str]| {
            let lines: Vec<(usize, String)> = lines
                .iter()
                .enumerate()
                .map(|(n, line)| (n + 1, (*line).to_owned()))
                .collect();
            started(&lines).map(|s| (s.line, s.text))
        };
        for (lines, line, wanted) in [
            (
                &["Date: 04.05.2024", "Time: 14:03:22"][..],
                1,
                "04.05.2024 14:03:22",
            ),
            (&["Time;14:03", "Date;2024-05-04"], 2, "2024-05-04 14:03"),
            (
                &["Started 4 May 2024 at 2:03:22.5 PM"],
                1,
                "4 May 2024 2:03:22.5 PM",
            ),
            (&["Log of Saturday, May 4, 2024"], 1, "May 4, 2024"),
            (&["2024-05-04T14:03:22"], 1, "2024-05-04 14:03:22"),
            (
                &["Exported: 2024-06-01 10:00:00", "Log started,5/4/24,,"],
                2,
                "5/4/24",
            ),
            (
                &["Date: 1.6.2024 12:00", "Start: 04.05.2024 14:03"],
                2,
                "04.05.2024 14:03",
            ),
        ] {
            assert_eq!(said(lines), Some((line, wanted.to_owned())), "{lines:?}");
        }
        for lines in [
            &["Firmware 2.1.4", "Build date 2024-01-01"][..],
            &["Duration: 00:10:05"],
            &["Engine number 123-45-6"],
            &["Cylinders: 6"],
            &[""],
        ] {
            assert_eq!(said(lines), None, "{lines:?}");
        }
    }
}
