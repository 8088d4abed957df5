//! Which column is the clock, and in which unit it counts.

use super::clock_parts::{date_column, date_order, fraction_column, order_evidence};
use super::clock_unit::{self, time_unit, unit_of};
use super::course::{Course, Fault};
use super::describe::short;
use super::grid::Grid;
use super::rate::Rate;
use crate::load::cells::LogMarks;
use crate::load::clock::{Clock, ClockStyle};
use crate::load::dialect::{Encoding, Forced, Heading};
use crate::load::error::{LoadError, OTHER_CLOCK, SORT_ROWS};
use crate::load::file::words;
use crate::load::words::{ClockName, clock_name};

/// Other columns that could be the clock and are shown.
const OTHERS_SHOWN: usize = 3;

/// A column that should be the clock and cannot be.
struct Refused {
    word: f64,
    column: usize,
    course: Course,
    fault: Fault,
}

/// The head of a log as far as the clock goes.
pub(super) struct Head<'a> {
    pub file: &'a str,
    pub encoding: Encoding,
    pub grid: &'a Grid<'a>,
    pub headings: &'a [Heading],
    pub marks: &'a LogMarks,
}

/// The clock, or why there is none.
pub(super) struct Decided {
    pub clock: Option<Clock>,
    /// What to say when the log is to be read without one.
    pub clockless: Option<LoadError>,
}

/// A heading that surely means the clock scores so much; below the second, hardly anything but the course speaks for one.
const SURE: f64 = 3.0;
const VAGUE: f64 = 1.0;

/// A column that could be the clock.
struct Candidate {
    score: f64,
    /// What its heading and the form of its cells add to that.
    word: f64,
    column: usize,
    course: Course,
    why: String,
}

/// Decides where the time of a row comes from, and says why.
///
/// # Errors
/// When the build sheet forces what this log cannot give.
pub(super) fn decide(
    head: &Head,
    forced: &Forced,
    rate: Option<&Rate>,
    evidence: &mut Vec<String>,
) -> Result<Decided, LoadError> {
    if let Some(hz) = forced.sample_hz {
        evidence.push(format!(
            "Times are counted off at {hz} rows a second: the build sheet says so."
        ));
    }
    let (chosen, refused) = match &forced.clock {
        Some(name) => (Some(head.forced_clock(name, forced)?), Vec::new()),
        None => head.choose(forced, evidence),
    };
    if let Some(chosen) = chosen {
        let clock = head.describe(&chosen, forced, evidence)?;
        return Ok(Decided {
            clock: Some(clock),
            clockless: None,
        });
    }
    let clockless = refused.first().map(|refused| head.refusal(refused));
    evidence.push("No column could be the clock, by its heading or its course.".to_owned());
    if let Some(rate) = rate.filter(|_| forced.sample_hz.is_none()) {
        evidence.push(format!(
            "Times are counted off at {} rows a second, because line {} says `{}`; `sample_hz` under `[log]` in the build sheet sets another rate.",
            rate.hz,
            rate.line,
            short(&rate.text),
        ));
    }
    let hz = forced.sample_hz.or(rate.map(|rate| rate.hz));
    Ok(Decided {
        clock: hz.map(|hz| Clock {
            style: ClockStyle::FromSampleRate,
            forced_hz: Some(hz),
            ..Clock::default()
        }),
        clockless,
    })
}

impl Head<'_> {
    fn course(&self, heading: &Heading, forced: &Forced) -> Course {
        let column = heading.column;
        let order = date_order(self.grid, column, forced.date_order).order;
        let unit = forced.clock_unit.or_else(|| unit_of(heading));
        Course::new(self.grid, column, self.marks.of(column), unit, order)
    }

    /// What a column is called in a sentence.
    fn shown(&self, column: usize) -> String {
        let heading = self.headings.get(column);
        let name = heading.map_or("", |heading| match heading.raw.as_str() {
            "" => heading.name.as_str(),
            raw => raw,
        });
        format!("{} `{name}`", column + 1)
    }

    /// The column that the sheet names.
    fn forced_clock(&self, name: &str, forced: &Forced) -> Result<Candidate, LoadError> {
        let refuse = |wanted| LoadError::BadForced {
            file: self.file.to_owned(),
            entry: "clock",
            value: format!("{name:?}"),
            wanted,
        };
        let is = |heading: &&Heading| heading.raw == name || heading.name == name;
        let alike = |heading: &&Heading| {
            let name = name.trim().to_lowercase();
            heading.raw.to_lowercase() == name || heading.name.to_lowercase() == name
        };
        let found = self.headings.iter().find(is);
        let Some(heading) = found.or_else(|| self.headings.iter().find(alike)) else {
            return Err(refuse(
                "no column has that heading; `plugread channels` lists the headings of a log",
            ));
        };
        let course = self.course(heading, forced);
        match course.fault() {
            None => Ok(Candidate {
                score: 0.0,
                word: SURE,
                column: heading.column,
                course,
                why: "the build sheet says so".to_owned(),
            }),
            Some(Fault::Blank) => Err(refuse("most cells of that column are blank")),
            Some(Fault::NoTimes) => Err(refuse("the cells of that column are no times")),
            Some(Fault::Reversed) => Err(refuse(
                "that column runs backward; sort the rows by it, the earliest first",
            )),
            Some(Fault::Shuffled) => Err(refuse(
                "that column goes forward and back; sort the rows by it, the earliest first",
            )),
        }
    }

    /// The best candidate, and columns that only their course keeps from being the clock, the likeliest first.
    fn choose(
        &self,
        forced: &Forced,
        evidence: &mut Vec<String>,
    ) -> (Option<Candidate>, Vec<Refused>) {
        let mut candidates: Vec<Candidate> = Vec::new();
        let mut refused: Vec<Refused> = Vec::new();
        for heading in self.headings {
            let course = self.course(heading, forced);
            let Some((word, why)) = word_score(heading, &course) else {
                continue;
            };
            if let Some(fault) = course.fault() {
                if word > VAGUE {
                    refused.push(Refused {
                        word,
                        column: heading.column,
                        course,
                        fault,
                    });
                }
                continue;
            }
            let steady = if course.back == 0 { 1.0 } else { 0.3 };
            let first = if heading.column == 0 { 0.3 } else { 0.0 };
            let moved = if course.forward > 0 { 0.5 } else { 0.0 };
            candidates.push(Candidate {
                score: word + steady + first + moved + 1.5 * course.moving(),
                word,
                column: heading.column,
                course,
                why,
            });
        }
        candidates.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.column.cmp(&b.column)));
        refused.sort_by(|a, b| b.word.total_cmp(&a.word));
        for refused in &refused {
            evidence.push(format!(
                "Column {} {}, so it is not taken as the clock.",
                self.shown(refused.column),
                self.does(refused)
            ));
        }
        // Rows out of order are not to be timed by whatever else happens to grow.
        let out_of_order = refused.iter().any(|refused| {
            refused.word >= SURE && matches!(refused.fault, Fault::Reversed | Fault::Shuffled)
        });
        if candidates.is_empty() || (out_of_order && candidates.iter().all(|c| c.word < VAGUE)) {
            return (None, refused);
        }
        let mut best = candidates.remove(0);
        // The fraction of a second moves in more rows than the second that it belongs to.
        if let Some(at) = candidates.iter().position(|other| {
            self.fraction_of(other)
                .is_some_and(|(part, _)| part == best.column)
        }) {
            std::mem::swap(&mut best, &mut candidates[at]);
        }
        for other in candidates.iter().take(OTHERS_SHOWN) {
            let part = self.fraction_of(&best);
            if part.is_some_and(|(part, _)| part == other.column) {
                continue;
            }
            let heading = &self.headings[other.column];
            evidence.push(format!(
                "Column {} could be the clock too, but less speaks for it ({}; it goes forward in {} and back in {} of {} steps); `clock = {:?}` under `[log]` in the build sheet chooses it.",
                self.shown(other.column),
                other.why,
                other.course.forward,
                other.course.back,
                other.course.steps(),
                heading.name,
            ));
        }
        (Some(best), refused)
    }

    /// The column with the fraction of each second of a clock, if it has one.
    fn fraction_of(&self, clock: &Candidate) -> Option<(usize, ClockStyle)> {
        let unit = unit_of(self.headings.get(clock.column)?).unwrap_or_default();
        fraction_column(
            self.grid,
            self.headings,
            self.marks,
            clock.column,
            &clock.course,
            unit,
        )
    }

    /// What the course of a column did, to follow its name.
    fn does(&self, refused: &Refused) -> String {
        let course = &refused.course;
        let (back, steps) = (course.back, course.steps());
        match refused.fault {
            Fault::Blank => "is blank in most rows".to_owned(),
            Fault::NoTimes => {
                let cell = words(&course.shown, self.encoding);
                format!("holds cells such as `{cell}`, which are no times that are known")
            }
            Fault::Reversed => format!("runs backward in {back} of {steps} steps looked at"),
            Fault::Shuffled => format!(
                "goes back in {back} of {steps} steps looked at, so the rows are not in the order in which they were recorded"
            ),
        }
    }

    fn refusal(&self, refused: &Refused) -> LoadError {
        let heading = self.headings.get(refused.column);
        LoadError::ClockUnusable {
            file: self.file.to_owned(),
            column: heading.map_or_else(String::new, |heading| heading.name.clone()),
            does: self.does(refused),
            advice: match refused.fault {
                Fault::Reversed | Fault::Shuffled => SORT_ROWS,
                Fault::Blank | Fault::NoTimes => OTHER_CLOCK,
            }
            .to_owned(),
        }
    }

    /// All that is known of the clock chosen.
    fn describe(
        &self,
        chosen: &Candidate,
        forced: &Forced,
        evidence: &mut Vec<String>,
    ) -> Result<Clock, LoadError> {
        let (column, course) = (chosen.column, &chosen.course);
        let refuse = |entry, value, wanted| LoadError::BadForced {
            file: self.file.to_owned(),
            entry,
            value,
            wanted,
        };
        evidence.push(format!(
            "Column {} is taken as the clock: {}; it goes forward in {} and back in {} of {} steps looked at.",
            self.shown(column),
            chosen.why,
            course.forward,
            course.back,
            course.steps(),
        ));
        if let Some(style) = forced.clock_unit
            && course.written != Some(style)
            && (course.written.is_some() || !style.is_a_count())
        {
            let wanted = match course.written {
                Some(_) => "the stamps of this log are written out, so leave the entry out",
                None => "the stamps of this log are single numbers; name what they count",
            };
            return Err(refuse("clock_unit", format!("{:?}", style.name()), wanted));
        }
        let Some(heading) = self.headings.get(column) else {
            return Err(LoadError::NoClock {
                file: self.file.to_owned(),
            });
        };
        let unit = clock_unit::decide(heading, course, forced.clock_unit);
        evidence.extend(unit.evidence);
        let mut clock = Clock {
            column: Some(column),
            style: unit.style,
            from_first: unit.from_first,
            forced_hz: forced.sample_hz,
            ..Clock::default()
        };
        if unit.style == ClockStyle::HoursMinutesSeconds
            && let Some(date) = date_column(self.grid, self.headings, column)
        {
            evidence.push(format!(
                "Column {} holds a date in every row looked at and goes with it.",
                self.shown(date)
            ));
            clock.date_column = Some(date);
            clock.style = ClockStyle::DateTime;
            clock.from_first = true;
        }
        if clock.style == ClockStyle::DateTime {
            let dates = clock.date_column.unwrap_or(column);
            let order = date_order(self.grid, dates, forced.date_order);
            if order.contradicted && forced.date_order.is_some() {
                let wanted = "a date of this log has a number past 12 where the month would be";
                let value = format!("{:?}", order.name());
                return Err(refuse("date_order", value, wanted));
            }
            (clock.date_order, clock.date_order_assumed) = (order.order, order.assumed);
            evidence.extend(order_evidence(order, forced.date_order.is_some()));
        }
        clock.fraction = self.fraction_of(chosen);
        if let Some((part, style)) = clock.fraction {
            evidence.push(format!(
                "Column {} counts {} within each second and goes with it.",
                self.shown(part),
                style.name()
            ));
        }
        Ok(clock)
    }
}

/// What speaks for a column by its heading or its form. `None`: nothing does.
fn word_score(heading: &Heading, course: &Course) -> Option<(f64, String)> {
    let unit = heading.unit.as_deref().and_then(time_unit);
    let (score, why) = match clock_name(&heading.name) {
        ClockName::Exact => (3.0, "its heading is a word for a clock".to_owned()),
        ClockName::Holds(word) => (2.0, format!("its heading holds the word `{word}`")),
        ClockName::Misspelt(word) => (1.2, format!("its heading is one letter away from `{word}`")),
        ClockName::Other => (0.3, "its heading speaks of a time".to_owned()),
        ClockName::No if course.written.is_some() => {
            (0.5, "its cells are written as times".to_owned())
        }
        ClockName::No if unit.is_some() && course.forward > 0 && course.back == 0 => {
            (0.5, "its unit is one of time and it only grows".to_owned())
        }
        ClockName::No if heading.column == 0 && course.is_even() => (
            0.2,
            "it is the first column and grows by equal steps".to_owned(),
        ),
        ClockName::No => return None,
    };
    let form = if course.written.is_some() { 0.2 } else { 0.0 };
    Some((score + form, why))
}
