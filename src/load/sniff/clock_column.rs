//! Which column is the clock, and in which unit it counts.

use super::candidate::{Candidate, Judged, Refused, SURE, VAGUE, judge};
use super::clock_parts::{date_column, date_order, fraction_column, order_evidence};
use super::clock_unit::{self, unit_of};
use super::course::{Course, Fault};
use super::describe::short;
use super::grid::Grid;
use super::rate::Rate;
use crate::load::cells::LogMarks;
use crate::load::clock::{Clock, ClockStyle};
use crate::load::dialect::{Encoding, Forced, Heading};
use crate::load::error::{LoadError, OTHER_CLOCK, SORT_ROWS};
use crate::load::moment::zone_s;

/// Other columns that could be the clock and are shown.
const OTHERS_SHOWN: usize = 3;

/// What the columns of a log come to.
#[derive(Default)]
struct Choice {
    best: Option<Candidate>,
    others: Vec<Candidate>,
    refused: Vec<Refused>,
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
    let choice = match &forced.clock {
        Some(name) => Choice {
            best: Some(head.forced_clock(name, forced)?),
            ..Choice::default()
        },
        None => head.choose(forced),
    };
    if let Some(best) = &choice.best {
        let clock = head.describe(best, forced, evidence)?;
        evidence.extend(head.runners_up(&choice, Some(&clock)));
        return Ok(Decided {
            clock: Some(clock),
            clockless: None,
        });
    }
    evidence.push("No column could be the clock, by its heading or its course.".to_owned());
    evidence.extend(head.runners_up(&choice, None));
    let clockless = choice.refused.first().map(|refused| head.refusal(refused));
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

    /// The best candidate, the others, and columns that only their course keeps from being the clock; each list with the
    /// likeliest first.
    fn choose(&self, forced: &Forced) -> Choice {
        let (mut others, mut refused) = (Vec::new(), Vec::new());
        for heading in self.headings {
            match judge(heading, self.course(heading, forced)) {
                Judged::Candidate(candidate) => others.push(candidate),
                Judged::Refused(column) => refused.push(column),
                Judged::Other => {}
            }
        }
        others.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.column.cmp(&b.column)));
        refused.sort_by(|a, b| b.word.total_cmp(&a.word));
        // Rows out of order are not to be timed by whatever else happens to grow.
        let out_of_order = refused.iter().any(Refused::is_out_of_order);
        if others.is_empty() || (out_of_order && others.iter().all(|other| other.word < VAGUE)) {
            return Choice {
                best: None,
                others,
                refused,
            };
        }
        let mut best = others.remove(0);
        // The fraction of a second moves in more rows than the second that it belongs to.
        if let Some(at) = others.iter().position(|other| {
            let part = self.fraction_of(other);
            part.is_some_and(|(part, _)| part == best.column)
        }) {
            std::mem::swap(&mut best, &mut others[at]);
        }
        Choice {
            best: Some(best),
            others,
            refused,
        }
    }

    /// What is to be said about the columns that were not chosen.
    fn runners_up(&self, choice: &Choice, clock: Option<&Clock>) -> Vec<String> {
        let part = clock.and_then(|clock| clock.fraction).map(|part| part.0);
        let others = choice.others.iter().filter(|other| {
            other.word >= VAGUE && other.course.forward > 0 && Some(other.column) != part
        });
        let others = others.take(OTHERS_SHOWN).map(|other| {
            format!(
                "Column {} could be the clock too, but less speaks for it ({}; it goes forward in {} and back in {} of {} steps); `clock = {:?}` under `[log]` in the build sheet chooses it.",
                self.shown(other.column),
                other.why,
                other.course.forward,
                other.course.back,
                other.course.steps(),
                self.headings.get(other.column).map_or("", |heading| &heading.name),
            )
        });
        let refused = choice.refused.iter().filter(|refused| {
            clock.is_none() || (refused.word >= SURE && refused.fault != Fault::Blank)
        });
        let refused = refused.map(|refused| {
            format!(
                "Column {} {}, so it is not taken as the clock.",
                self.shown(refused.column),
                refused.does(self.encoding)
            )
        });
        others.chain(refused).collect()
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

    fn refusal(&self, refused: &Refused) -> LoadError {
        let heading = self.headings.get(refused.column);
        LoadError::ClockUnusable {
            file: self.file.to_owned(),
            column: heading.map_or_else(String::new, |heading| heading.name.clone()),
            does: refused.does(self.encoding),
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
            clock.zone_s = zone_s(&course.shown);
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
