//! Verdicts: what a check says.

use rhai::plugin::*;

use crate::dsl::column::{Column, Quantity};
use crate::dsl::limits::Limit;
use crate::dsl::ops::{Outcome, complain};
use crate::dsl::unit_slips;
use crate::dsl::verdict::{Verdict, over_time};
use crate::findings::{Figure, Line};
use crate::units::Unit;

fn declared(value: f64, unit: &str, from: &str) -> Outcome<Limit> {
    match Unit::parse(unit) {
        Some(w) if !from.trim().is_empty() => Ok(Limit {
            quantity: Quantity {
                value: w.to_standard(value),
                unit: w.unit,
            },
            from: from.to_string(),
        }),
        Some(_) => complain(
            "a limit says where it comes from\na third value: a published source, or \"common practice\"",
        ),
        None => complain(unit_slips::unknown(unit)),
    }
}

fn put(mut v: Verdict, name: &str, value: f64, unit: Unit) -> Verdict {
    v.finding.numbers.retain(|n| n.0 != name);
    v.finding
        .numbers
        .push((name.to_string(), Figure { value, unit }));
    v
}

fn draw(mut v: Verdict, columns: &[Column], line: Option<(&str, Quantity)>) -> Verdict {
    let title = columns
        .iter()
        .map(|c| c.name.as_str())
        .collect::<Vec<_>>()
        .join(", ");
    if let Some(mut trace) = over_time(&title, columns, &v.finding.spans) {
        if let Some((label, q)) = line
            && q.unit.difference() == trace.unit.difference()
        {
            trace.lines.push(Line {
                label: label.to_string(),
                at: q.value,
            });
        }
        v.drawn.push((v.finding.plots.len(), columns.to_vec()));
        v.finding.plots.push(trace);
    }
    v
}

/// Package.
#[export_module]
pub mod words {
    use super::{declared, draw, put};
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::family::Family;
    use crate::dsl::limits::Limit;
    use crate::dsl::ops::{Outcome, complain};
    use crate::dsl::table::Table;
    use crate::dsl::verdict::Verdict;
    use crate::findings::{
        Across, NotRun, Series, Text, Trace, Verdict as Judgement, known_cautions,
    };
    use crate::span::Spans;
    use crate::units::Unit;
    use rhai::Array;

    /// Declares a limit in about(): value, unit, origin. `limit(80, "degC difference", "common practice")`.
    #[rhai_fn(name = "limit", return_raw)]
    pub fn limit_float(value: f64, unit: &str, from: &str) -> Outcome<Limit> {
        declared(value, unit, from)
    }
    /// The same for a whole number.
    #[rhai_fn(name = "limit", return_raw)]
    pub fn limit_int(value: i64, unit: &str, from: &str) -> Outcome<Limit> {
        declared(value as f64, unit, from)
    }
    /// Nothing in this log crossed the limits.
    pub fn pass(reason: &str) -> Verdict {
        Verdict::new(Judgement::Pass, reason)
    }
    /// Something did.
    pub fn warn(reason: &str) -> Verdict {
        Verdict::new(Judgement::Warn, reason)
    }
    /// Not judged: a channel or an entry of the build sheet is missing. Say in `question` what would let it run.
    pub fn missing(reason: &str) -> Verdict {
        Verdict::not_run(NotRun::Missing, reason)
    }
    /// Not judged: the build sheet says that the engine has no such part.
    pub fn not_fitted(reason: &str) -> Verdict {
        Verdict::not_run(NotRun::NotFitted, reason)
    }
    /// Not judged: the run never did what this check needs to see.
    pub fn no_occasion(reason: &str) -> Verdict {
        Verdict::not_run(NotRun::NoOccasion, reason)
    }
    /// When.
    pub fn at(mut v: Verdict, spans: Spans) -> Verdict {
        v.finding.spans = v.finding.spans.or(&spans);
        for plot in &mut v.finding.plots {
            plot.marked = v.finding.spans.clone();
        }
        v
    }
    /// The culprits, by number. `()` among them, an unknown cylinder, is left out.
    pub fn cylinders(mut v: Verdict, list: Array) -> Verdict {
        for n in list
            .into_iter()
            .filter_map(|d| d.as_int().ok())
            .filter_map(|n| u32::try_from(n).ok())
        {
            if !v.finding.cylinders.contains(&n) {
                v.finding.cylinders.push(n);
            }
        }
        v.finding.cylinders.sort_unstable();
        v
    }
    /// A figure by name.
    #[rhai_fn(name = "number")]
    pub fn number(v: Verdict, name: &str, q: Quantity) -> Verdict {
        put(v, name, q.value, q.unit)
    }
    /// A bare figure by name.
    #[rhai_fn(name = "number")]
    pub fn number_float(v: Verdict, name: &str, value: f64) -> Verdict {
        put(v, name, value, Unit::NONE)
    }
    /// A bare figure by name.
    #[rhai_fn(name = "number")]
    pub fn number_int(v: Verdict, name: &str, value: i64) -> Verdict {
        put(v, name, value as f64, Unit::NONE)
    }
    /// What decided, so that the review says how to change it: limits by name, and entries of the build sheet where those
    /// count: `.decided_by(["under", "electrical.regulator_v"])`.
    pub fn decided_by(mut v: Verdict, names: Array) -> Verdict {
        for name in names.into_iter().filter_map(|d| d.into_string().ok()) {
            if !v.finding.decided_by.contains(&name) {
                v.finding.decided_by.push(name);
            }
        }
        v
    }
    /// The smallest test that splits the possible causes.
    pub fn next_step(mut v: Verdict, text: &str) -> Verdict {
        v.finding.next_step = Some(Text::parse(text));
        v
    }
    /// A danger: one line that stands above everything else and that nothing demotes.
    pub fn stop_now(mut v: Verdict, text: &str) -> Verdict {
        v.finding.stop_now = Some(Text::parse(text));
        v
    }
    /// A question that this leaves open, or what would let the check run.
    pub fn question(mut v: Verdict, text: &str) -> Verdict {
        v.finding.questions.push(Text::parse(text));
        v
    }
    /// One more caution by id.
    #[rhai_fn(return_raw)]
    pub fn caution(mut v: Verdict, id: &str) -> Outcome<Verdict> {
        if !known_cautions().any(|k| k == id) {
            return complain(format!(
                "there is no caution `{id}`; there are {}",
                known_cautions().collect::<Vec<_>>().join(", ")
            ));
        }
        v.finding.cautions.push(id.to_string());
        Ok(v)
    }
    /// The channels that this verdict is about: a warning casts doubt only on findings that use them. Without it, all
    /// that the check needs, but for `time` and `rpm`.
    pub fn judged(mut v: Verdict, names: Array) -> Verdict {
        v.judged_said = true;
        v.finding
            .judged
            .extend(names.into_iter().filter_map(|d| d.into_string().ok()));
        v
    }
    /// A picture of a column over time.
    #[rhai_fn(name = "plot")]
    pub fn plot_column(v: Verdict, column: Column) -> Verdict {
        draw(v, &[column], None)
    }
    /// A picture of a column over time with a line across it.
    #[rhai_fn(name = "plot")]
    pub fn plot_column_line(v: Verdict, column: Column, label: &str, at: Quantity) -> Verdict {
        draw(v, &[column], Some((label, at)))
    }
    /// A picture of a family over time.
    #[rhai_fn(name = "plot")]
    pub fn plot_family(mut v: Verdict, family: Family) -> Verdict {
        let count = v.finding.plots.len();
        v = draw(v, &family.members, None);
        if let Some(plot) = v.finding.plots.get_mut(count) {
            plot.title = family.name;
        }
        v
    }
    /// A picture of columns of one unit over time.
    #[rhai_fn(name = "plot")]
    pub fn plot_columns(v: Verdict, columns: Array) -> Verdict {
        let columns: Vec<Column> = columns
            .into_iter()
            .filter_map(|d| d.try_cast::<Column>())
            .collect();
        draw(v, &columns, None)
    }
    /// A picture of one column of a table against another.
    #[rhai_fn(name = "plot", return_raw)]
    pub fn plot_table(mut v: Verdict, table: Table, of: &str, against: &str) -> Outcome<Verdict> {
        let (Some(ys), Some(xs), Some(uy), Some(ux)) = (
            table.values(of),
            table.values(against),
            table.unit(of),
            table.unit(against),
        ) else {
            return complain(format!(
                "the table has no `{of}` and `{against}`; it has {}",
                table.names().join(", ")
            ));
        };
        // How much of the run stands behind each point, where the table knows.
        let spent = table.values("seconds").unwrap_or_default();
        let (mut points, mut seconds) = (Vec::new(), Vec::new());
        for (row, point) in xs.into_iter().zip(ys).enumerate() {
            if point.0.is_finite() && point.1.is_finite() {
                points.push(point);
                seconds.extend(spent.get(row));
            }
        }
        let label = match table.about(of) {
            Some(channel) => format!("{channel}, {of}"),
            None => of.to_string(),
        };
        v.finding.plots.push(Trace {
            title: format!("{of} against {against}"),
            across: Some(Across {
                name: table.about(against).unwrap_or(against).to_string(),
                unit: ux,
                seconds,
            }),
            unit: uy,
            series: vec![Series { label, points }],
            lines: Vec::new(),
            marked: Spans::default(),
        });
        Ok(v)
    }
    /// Gives the last picture a title and, where it is drawn against another quantity, names for its axes.
    pub fn titled(mut v: Verdict, title: &str) -> Verdict {
        if let Some(plot) = v.finding.plots.last_mut() {
            plot.title = title.to_string();
        }
        v
    }
    /// The figure under a name, or `()`.
    #[rhai_fn(name = "number_of", pure)]
    pub fn number_of(v: &mut Verdict, name: &str) -> Dynamic {
        let figure = v.finding.numbers.iter().find(|n| n.0 == name).map(|n| n.1);
        figure.map_or(Dynamic::UNIT, |f| {
            Dynamic::from(Quantity {
                value: f.value,
                unit: f.unit,
            })
        })
    }
}
