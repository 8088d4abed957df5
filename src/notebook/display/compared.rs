//! Two of a kind side by side.

use super::{Sheet, View, with_picture};
use crate::dsl::column::{Column, Quantity};
use crate::dsl::run::Run;
use crate::findings::{Figure, Trace};
use crate::notebook::bundle::Bundle;
use crate::notebook::thin::thinned;
use crate::notebook::words::{Compared, Entry, Grid, ReviewOf};
use crate::plots::{self, Size};
use crate::reports::{escape, part};
use crate::span::Spans;
use crate::stats;
use crate::units::Unit;

impl View {
    pub(super) fn compared(&self, two: &Compared) -> Bundle {
        match two {
            Compared::Columns(two) => self.columns(&two.0, &two.1),
            Compared::Runs(a, b) => {
                let table = Sheet::of_grid(&runs(a, b), &self.reading);
                let names = (&a.shared.recording.path, &b.shared.recording.path);
                titled(&format!("a: {}, b: {}", names.0, names.1), &table)
            }
            Compared::Reviews(a, b) => {
                let table = Sheet::of_grid(&reviews(a, b), &self.reading);
                let names = (&a.review.log.path, &b.review.log.path);
                titled(
                    &format!(
                        "a: {}, b: {}; checks that say something else",
                        names.0, names.1
                    ),
                    &table,
                )
            }
        }
    }

    fn columns(&self, a: &Column, b: &Column) -> Bundle {
        // Two runs may name a column alike.
        let label = |c: &Column, which: &str| {
            if a.name == b.name {
                format!("{} {which}", c.name)
            } else {
                c.name.clone()
            }
        };
        let (left, right) = (label(a, "a"), label(b, "b"));
        let trace = Trace {
            title: format!("{left} and {right}"),
            across: None,
            unit: a.unit,
            series: vec![
                thinned(&left, &a.series(), a.lazy.believed_s()),
                thinned(&right, &b.series(), b.lazy.believed_s()),
            ],
            lines: Vec::new(),
            marked: Spans::default(),
        };
        let difference = a.with(
            a.lazy
                .both(&b.lazy, crate::dsl::lazy::Shape::OneWay, |a, b| a - b),
            a.unit.difference(),
        );
        let mut grid = crate::notebook::words::figures([a, b, &difference].into_iter());
        for (row, name) in grid
            .rows
            .iter_mut()
            .zip([left, right, "a less b".to_string()])
        {
            row[0] = Entry::Words(name);
        }
        let table = Sheet::of_grid(&grid, &self.reading);
        let svg = plots::svg(&trace, &self.reading, Size::PAGE).unwrap_or_default();
        let html = part(&format!("<figure>{svg}</figure>\n{}", table.markup()));
        let bundle = Bundle::plain(table.plain()).html(html);
        with_picture(bundle, &trace, &self.reading, Size::PAGE)
    }
}

fn titled(title: &str, table: &Sheet) -> Bundle {
    let html = part(&format!("<p>{}</p>\n{}", escape(title), table.markup()));
    Bundle::plain(format!("{title}\n{}", table.plain())).html(html)
}

fn number(value: f64, unit: Unit) -> Entry {
    Entry::Figure(Quantity { value, unit })
}

/// The phases' lengths, and the median of each channel while running.
fn runs(a: &Run, b: &Run) -> Grid {
    let seconds = Unit::standard("s");
    let mut rows = Vec::new();
    for name in crate::phases::Phases::names() {
        let total = |run: &Run| run.shared.phases.get(name).map_or(0.0, Spans::total);
        let (left, right) = (total(a), total(b));
        if left > 0.0 || right > 0.0 {
            rows.push(vec![
                Entry::Words(format!("time in {name}")),
                number(left, seconds),
                number(right, seconds),
                number(right - left, seconds),
            ]);
        }
    }
    let median = |run: &Run, name: &str| {
        let column = run.column(name)?;
        let running = run.shared.phases.get("running")?;
        column.during(running).stat(stats::median)
    };
    let mut names: Vec<&String> = a.shared.recording.channels.keys().collect();
    names.extend(b.shared.recording.channels.keys());
    names.sort();
    names.dedup();
    for name in names {
        let (left, right) = (median(a, name), median(b, name));
        if left.is_none() && right.is_none() {
            continue;
        }
        let apart = left.zip(right).filter(|(l, r)| l.unit == r.unit);
        let apart = apart.map_or(Entry::Nothing, |(l, r)| {
            number(r.value - l.value, l.unit.difference())
        });
        let entry = |q: Option<Quantity>| q.map_or(Entry::Nothing, Entry::Figure);
        rows.push(vec![
            Entry::Words(format!("{name}, median while running")),
            entry(left),
            entry(right),
            apart,
        ]);
    }
    Grid {
        heads: ["", "a", "b", "b less a"].map(str::to_string).to_vec(),
        rows,
    }
}

/// The checks whose verdict differs, and those that warn in both with their first figure.
fn reviews(a: &ReviewOf, b: &ReviewOf) -> Grid {
    let mut rows = Vec::new();
    for left in &a.review.findings {
        let Some(right) = b.review.finding(&left.id) else {
            continue;
        };
        let same = left.verdict == right.verdict;
        if same && left.verdict != crate::findings::Verdict::Warn {
            continue;
        }
        let figure = |list: &[(String, Figure)]| {
            list.first()
                .map_or(Entry::Nothing, |(_, f)| number(f.value, f.unit))
        };
        rows.push(vec![
            Entry::Words(left.id.clone()),
            Entry::Words(left.verdict.word().to_string()),
            Entry::Words(right.verdict.word().to_string()),
            figure(&left.numbers),
            figure(&right.numbers),
        ]);
    }
    Grid {
        heads: ["check", "a", "b", "figure a", "figure b"]
            .map(str::to_string)
            .to_vec(),
        rows,
    }
}
