//! Opening logs, reviewing them, and laying two of a kind beside each other.

use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use rhai::plugin::*;

use super::super::outlet;
use super::super::session::{Opened, Store};
use crate::dsl::column::Column;
use crate::dsl::explain::Reviewed;
use crate::dsl::run::{Run, Shared};
use crate::dsl::{Outcome, complain};
use crate::findings::Review;
use crate::pipeline;
use crate::recording::Recording;
use crate::sheet::Sheet;
use crate::stop;

/// A review in a cell.
#[derive(Clone)]
pub struct ReviewOf {
    /// All of it.
    pub review: Arc<Review>,
    /// As scripts ask it.
    pub reviewed: Reviewed,
}

/// Two of a kind, side by side.
#[derive(Clone)]
pub enum Compared {
    /// Two columns.
    Columns(Box<(Column, Column)>),
    /// Two runs.
    Runs(Run, Run),
    /// Two reviews.
    Reviews(ReviewOf, ReviewOf),
}

/// Work on a thread of its own, so that nobody waits for it who wants to stop: none where it was given up.
pub fn apart<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
    let (end, done) = channel();
    let flag = stop::current();
    let started = std::thread::Builder::new()
        .name("reading".to_string())
        .spawn(move || {
            let _ = end.send(stop::under(flag, work));
        });
    started.ok()?;
    loop {
        match done.recv_timeout(Duration::from_millis(5)) {
            Ok(made) => return Some(made),
            Err(RecvTimeoutError::Timeout) if !stop::asked() => {}
            Err(_) => return None,
        }
    }
}

/// The session whose cell runs.
pub fn store() -> Outcome<Arc<Store>> {
    outlet::store().map_or_else(|| complain("this works in a notebook's cell alone"), Ok)
}

fn opened(log: &str, sheet: Option<&str>) -> Outcome<Run> {
    let store = store()?;
    let (log, sheet) = match &store.given {
        Some(given) => (given.log.clone(), given.sheet.clone()),
        None => (log.into(), sheet.map(Into::into)),
    };
    let reads = Arc::clone(&store);
    match apart(move || read(&reads, &log, sheet.as_deref())) {
        Some(Ok(shared)) => {
            note(&store, &shared);
            Ok(Run::new(&shared))
        }
        Some(Err(what)) => complain(what),
        None => complain("the log was not read to its end"),
    }
}

/// Keeps for help what was opened.
fn note(store: &Store, shared: &Shared) {
    let rec = &shared.recording;
    let channels = rec.channels.values().filter(|c| !c.series.is_empty());
    let opened = Opened {
        channels: channels
            .map(|c| (c.name.clone(), c.unit.key(), c.column.clone()))
            .collect(),
        from_to: Some((rec.start_s(), rec.end_s())),
        reading: pipeline::reading(&shared.sheet),
    };
    if let Ok(mut kept) = store.opened.lock() {
        *kept = opened;
    }
}

fn read(store: &Store, log: &Path, sheet: Option<&Path>) -> Result<Arc<Shared>, String> {
    let sheet = match sheet {
        Some(path) => {
            let sheet = crate::sheet::read(path).map_err(|e| e.to_string())?;
            pipeline::accept_sheet(&sheet, store.catalog()?).map_err(|e| e.to_string())?;
            sheet
        }
        None => Sheet::default(),
    };
    let log = pipeline::open(log, &sheet).map_err(|e| e.to_string())?;
    let recording = Recording::read(log.as_ref(), &sheet, |_| true).map_err(|e| e.to_string())?;
    Ok(Arc::new(Shared::prepare(recording, sheet)))
}

fn reviewed(run: &Run) -> Outcome<ReviewOf> {
    let (store, shared) = (store()?, Arc::clone(&run.shared));
    let judged = apart(move || {
        let catalog = store.catalog()?;
        Ok(pipeline::judge_shared(&shared, catalog).review)
    });
    match judged {
        Some(Ok(review)) => Ok(ReviewOf {
            reviewed: Reviewed::new(review.findings.clone()),
            review: Arc::new(review),
        }),
        Some(Err(what)) => {
            let what: String = what;
            complain(what)
        }
        None => complain("the review was not done to its end"),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{Compared, ReviewOf, opened, reviewed};
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::run::Run;
    use crate::dsl::{Outcome, complain};
    use crate::notebook::words::Tried;
    use crate::span::Spans;
    use rhai::{Array, Dynamic};

    /// Opens a log: `let run = open("first-start.csv")`. Channels by their standard names: `run.rpm`, `run.egt`.
    #[rhai_fn(return_raw)]
    pub fn open(log: &str) -> Outcome<Run> {
        opened(log, None)
    }
    /// Opens a log with the build sheet of its engine: `let run = open("first-start.csv", "hill-special.toml")`.
    #[rhai_fn(name = "open", return_raw)]
    pub fn open_with_sheet(log: &str, sheet: &str) -> Outcome<Run> {
        opened(log, Some(sheet))
    }
    /// Runs all checks over a run: `review(run)`.
    #[rhai_fn(return_raw)]
    pub fn review(run: Run) -> Outcome<ReviewOf> {
        reviewed(&run)
    }
    /// The finding of one check: `review(run).finding("egt-spread")`.
    #[rhai_fn(return_raw, pure)]
    pub fn finding(review: &mut ReviewOf, id: &str) -> Outcome<Tried> {
        let finding = review.reviewed.finding(id)?.clone();
        Ok(Tried::new(finding, review.review.reading))
    }
    /// The verdict of all: `pass`, `warn` or `not-run`.
    #[rhai_fn(get = "verdict", pure)]
    pub fn verdict(review: &mut ReviewOf) -> String {
        review.review.verdict.word().to_string()
    }
    /// The check to look at first, or `()`.
    #[rhai_fn(get = "start_here", pure)]
    pub fn start_here(review: &mut ReviewOf) -> Dynamic {
        let first = review.review.start_here.clone();
        first.map_or(Dynamic::UNIT, Into::into)
    }
    /// Ids of the checks that warned, in the review's order.
    #[rhai_fn(get = "warnings", pure)]
    pub fn warnings(review: &mut ReviewOf) -> Array {
        let list = review.review.findings.iter();
        list.filter(|f| f.verdict == crate::findings::Verdict::Warn)
            .map(|f| f.id.clone().into())
            .collect()
    }
    /// True where that check warned.
    #[rhai_fn(return_raw, name = "warned", pure)]
    pub fn review_warned(review: &mut ReviewOf, id: &str) -> Outcome<bool> {
        Ok(review.reviewed.finding(id)?.verdict == crate::findings::Verdict::Warn)
    }
    /// When a check warned.
    #[rhai_fn(return_raw, name = "spans_of", pure)]
    pub fn review_spans(review: &mut ReviewOf, id: &str) -> Outcome<Spans> {
        Ok(review.reviewed.finding(id)?.spans.clone())
    }
    /// A figure of a check by its name, or `()`.
    #[rhai_fn(return_raw, name = "number_of", pure)]
    pub fn review_number(review: &mut ReviewOf, id: &str, name: &str) -> Outcome<Dynamic> {
        let numbers = &review.reviewed.finding(id)?.numbers;
        let figure = numbers.iter().find(|n| n.0 == name);
        Ok(figure.map_or(Dynamic::UNIT, |(_, figure)| {
            Dynamic::from(Quantity {
                value: figure.value,
                unit: figure.unit,
            })
        }))
    }
    /// Names of the channels that the log has.
    #[rhai_fn(get = "channels", pure)]
    pub fn channels(run: &mut Run) -> Array {
        let channels = run.shared.recording.channels.values();
        channels
            .filter(|c| !c.series.is_empty())
            .map(|c| c.name.clone().into())
            .collect()
    }
    /// Two columns side by side: both in one picture, their figures in one table.
    #[rhai_fn(return_raw)]
    pub fn compare(a: Column, b: Column) -> Outcome<Compared> {
        if a.unit.difference() != b.unit.difference() {
            return complain(format!(
                "{} is in {} and {} in {}: they cannot be compared",
                a.name,
                a.unit.key(),
                b.name,
                b.unit.key()
            ));
        }
        Ok(Compared::Columns(Box::new((a, b))))
    }
    /// Two runs side by side: what both logged, its medians while running, and the phases.
    #[rhai_fn(name = "compare")]
    pub fn compare_runs(a: Run, b: Run) -> Compared {
        Compared::Runs(a, b)
    }
    /// Two reviews side by side: which checks say something else.
    #[rhai_fn(name = "compare")]
    pub fn compare_reviews(a: ReviewOf, b: ReviewOf) -> Compared {
        Compared::Reviews(a, b)
    }
}
