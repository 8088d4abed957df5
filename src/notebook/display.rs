//! Values as a person reads them: plain words, markup, and pictures as drawing and as pixels.

use rhai::{Array, Dynamic, Map};

use super::bundle::Bundle;
use super::outlet;
use super::session::{Opened, Store};
use super::thin::thinned;
use super::words::{Compared, Grid, Picture, ReviewOf, Tried};
use crate::dsl::column::{Column, Quantity, Truth};
use crate::dsl::family::Family;
use crate::dsl::run::Run;
use crate::dsl::table::Table;
use crate::dsl::verdict::Verdict;
use crate::findings::{Finding, Text, Trace};
use crate::plots::{self, Ribbon, Size};
use crate::reports::{
    Format, Look, escape, finding_fragment, finding_lines, fragment, part, render,
};
use crate::span::{Span, Spans};
use crate::stats;
use crate::units::{Reading, Unit};

mod compared;
mod tables;

pub use tables::Sheet;

/// A value in all its forms, for the session whose cell runs.
pub fn bundle(value: &Dynamic) -> Bundle {
    let opened = outlet::store().map(|s| s.opened()).unwrap_or_default();
    seen(opened, value)
}

/// A value in all its forms.
pub fn bundle_of(store: &Store, value: &Dynamic) -> Bundle {
    seen(store.opened(), value)
}

fn seen(opened: Opened, value: &Dynamic) -> Bundle {
    let view = View {
        reading: opened.reading,
        opened,
    };
    view.bundle(value)
}

/// What values are seen with.
struct View {
    reading: Reading,
    opened: Opened,
}

/// A picture of a single column beside its figures.
const SMALL: (u32, u32) = (420, 200);
/// One of a family.
const MEMBER: (u32, u32) = (250, 190);

impl View {
    fn bundle(&self, value: &Dynamic) -> Bundle {
        if let Some(v) = value.read_lock::<Column>() {
            return self.column(&v);
        }
        if let Some(v) = value.read_lock::<Family>() {
            return self.family(&v);
        }
        if let Some(v) = value.read_lock::<Spans>() {
            return self.spans(&v);
        }
        if let Some(v) = value.read_lock::<Truth>() {
            return self.truth(&v);
        }
        if let Some(v) = value.read_lock::<Table>() {
            return Sheet::of_table(&v, &self.reading).bundle();
        }
        if let Some(v) = value.read_lock::<Grid>() {
            return Sheet::of_grid(&v, &self.reading).bundle();
        }
        if let Some(v) = value.read_lock::<Picture>() {
            return self.picture(&v.0);
        }
        if let Some(v) = value.read_lock::<Run>() {
            return run(&v);
        }
        if let Some(v) = value.read_lock::<ReviewOf>() {
            return review(&v);
        }
        if let Some(v) = value.read_lock::<Tried>() {
            return finding(&v.finding, &v.reading);
        }
        if let Some(v) = value.read_lock::<Verdict>() {
            return finding(&v.finding, &self.reading);
        }
        if let Some(v) = value.read_lock::<Compared>() {
            return self.compared(&v);
        }
        Bundle::plain(self.words(value))
    }

    /// In plain words, on one line where it fits.
    fn words(&self, value: &Dynamic) -> String {
        if value.is_unit() {
            return "()".to_string();
        }
        if let Some(q) = value.read_lock::<Quantity>() {
            return self.reading.show(q.value, q.unit);
        }
        if let Some(text) = value.read_lock::<rhai::ImmutableString>() {
            return Text::parse(&text).read(&self.reading);
        }
        if let Some(list) = value.read_lock::<Array>() {
            return listed("[", list.iter().map(|v| self.quoted(v)), "]");
        }
        if let Some(map) = value.read_lock::<Map>() {
            let each = map.iter().map(|(k, v)| format!("{k}: {}", self.quoted(v)));
            return listed("#{ ", each, " }");
        }
        if let Some(limits) = value.read_lock::<crate::dsl::limits::Limits>() {
            let each = limits.list().iter().map(|(name, limit)| {
                let q = limit.quantity;
                format!("{name}: {}", self.reading.show(q.value, q.unit))
            });
            return listed("limits ", each, "");
        }
        if let Some(check) = value.read_lock::<super::words::Own>() {
            return format!("check {}: {}", check.id, check.title());
        }
        if let Some(comm) = value.read_lock::<super::words::Comm>() {
            return format!("comm {} ({})", comm.target, comm.id);
        }
        if let Some(cause) = value.read_lock::<crate::dsl::explain::Cause>() {
            return cause.0.cause.read(&self.reading);
        }
        if value.is_fnptr() {
            return "function".to_string();
        }
        // What has a richer form is named in one line.
        let bundle = match value.type_name() {
            "i64" | "f64" | "bool" | "char" | "range" => return value.to_string(),
            _ if value.is::<Column>() || value.is::<Spans>() || value.is::<Family>() => {
                self.brief(value)
            }
            _ => None,
        };
        bundle.unwrap_or_else(|| {
            let name = value.type_name();
            name.rsplit("::").next().unwrap_or(name).to_string()
        })
    }

    /// A column, family or spans in a line of their own.
    fn brief(&self, value: &Dynamic) -> Option<String> {
        if let Some(c) = value.read_lock::<Column>() {
            return Some(format!(
                "column {} in {}",
                c.name,
                unit_words(c.unit, &self.reading)
            ));
        }
        if let Some(f) = value.read_lock::<Family>() {
            return Some(format!("family {} of {}", f.name, f.members.len()));
        }
        let spans = value.read_lock::<Spans>()?;
        Some(format!(
            "{} spans, {:.1} s",
            spans.list().len(),
            spans.total()
        ))
    }

    /// As [`View::words`], text between quotation marks.
    fn quoted(&self, value: &Dynamic) -> String {
        if value.is_string() {
            format!("{:?}", self.words(value))
        } else {
            self.words(value)
        }
    }

    fn column(&self, column: &Column) -> Bundle {
        let facts = self.facts(column);
        let head = column.name.clone();
        let lines: Vec<String> = facts.iter().map(|(k, v)| format!("  {k}: {v}")).collect();
        let plain = format!("{head}\n{}", lines.join("\n"));
        let trace = single(column);
        let rows: String = facts
            .iter()
            .map(|(k, v)| {
                format!(
                    "<tr><th scope=\"row\">{k}</th><td>{}</td></tr>\n",
                    escape(v)
                )
            })
            .collect();
        let size = Size::new(SMALL.0, SMALL.1);
        let drawn = plots::svg(&trace, &self.reading, size).unwrap_or_default();
        let html = part(&format!(
            "<div style=\"display:flex;flex-wrap:wrap;gap:1rem;align-items:flex-start\"><figure style=\"margin:0\">{drawn}</figure>\n\
             <table style=\"width:auto\"><caption>{}</caption>{rows}</table></div>\n",
            escape(&head)
        ));
        with_picture(
            Bundle::plain(plain).html(html),
            &trace,
            &self.reading,
            Size::PAGE,
        )
    }

    /// Figures of a column by name.
    fn facts(&self, column: &Column) -> Vec<(&'static str, String)> {
        let series = column.series();
        let unit = unit_words(column.unit, &self.reading);
        let mut facts = vec![("unit", unit)];
        if let Some(cylinder) = column.cylinder {
            facts.push(("cylinder", cylinder.to_string()));
        }
        let figure = |f: fn(&[f64]) -> Option<f64>| {
            let q = column.stat(f);
            q.map_or_else(
                || "none".to_string(),
                |q| self.reading.show(q.value, q.unit),
            )
        };
        facts.push(("min", figure(|v| v.iter().copied().reduce(f64::min))));
        facts.push(("median", figure(stats::median)));
        facts.push(("max", figure(|v| v.iter().copied().reduce(f64::max))));
        let times = match (series.times.first(), series.times.last()) {
            (Some(from), Some(to)) => format!("{} from {from:.1} s to {to:.1} s", series.len()),
            _ => "none".to_string(),
        };
        facts.push(("readings", times));
        let known = column.known();
        let gaps = known.list().len().saturating_sub(1);
        let words = if gaps == 0 {
            "none".to_string()
        } else {
            let longest = known.list().windows(2).map(|w| w[1].from_s - w[0].to_s);
            format!("{gaps}, longest {:.1} s", longest.fold(0.0, f64::max))
        };
        facts.push(("gaps", words));
        facts
    }

    fn family(&self, family: &Family) -> Bundle {
        let traces: Vec<Trace> = family
            .members
            .iter()
            .map(|c| Trace {
                title: if c.label == c.name {
                    c.name.clone()
                } else {
                    format!("{}, {}", c.name, c.label)
                },
                ..single(c)
            })
            .collect();
        let table = Sheet::of_grid(&super::words::figures(family.members.iter()), &self.reading);
        let plain = format!(
            "{}: {} members\n{}",
            family.name,
            family.members.len(),
            table.plain()
        );
        let across = if traces.len().is_multiple_of(3) { 3 } else { 4 };
        let grid = plots::Grid::new(&family.name, &traces, across, Size::new(MEMBER.0, MEMBER.1));
        let svg = grid.svg(&self.reading).unwrap_or_default();
        let html = part(&format!("<figure>{svg}</figure>\n{}", table.markup()));
        let bundle = Bundle::plain(plain).html(html);
        match grid.png(&self.reading) {
            Ok(png) if !svg.is_empty() => bundle.picture(svg, &png),
            _ => bundle,
        }
    }

    fn truth(&self, truth: &Truth) -> Bundle {
        let spans = truth.spans();
        let share = truth.share().map_or_else(
            || "nothing is known".to_string(),
            |s| format!("true for {:.1} % of the known time", 100.0 * s),
        );
        self.over_run("true", &spans, &share)
    }

    fn spans(&self, spans: &Spans) -> Bundle {
        let list = spans.list();
        let head = format!(
            "{} {}, {:.1} s in all",
            list.len(),
            if list.len() == 1 { "span" } else { "spans" },
            spans.total()
        );
        self.over_run("", spans, &head)
    }

    /// Spans as a list and as a ribbon over the run.
    fn over_run(&self, name: &str, spans: &Spans, head: &str) -> Bundle {
        const LISTED: usize = 20;
        let list = spans.list();
        let line = |s: &Span| {
            format!(
                "{:.1} s to {:.1} s, {:.1} s long",
                s.from_s,
                s.to_s,
                s.length()
            )
        };
        let mut lines: Vec<String> = list.iter().take(LISTED).map(line).collect();
        if list.len() > LISTED {
            lines.push(format!("and {} more", list.len() - LISTED));
        }
        let plain = format!(
            "{head}{}",
            lines.iter().map(|l| format!("\n  {l}")).collect::<String>()
        );
        let hull = spans.hull().unwrap_or(Span {
            from_s: 0.0,
            to_s: 1.0,
        });
        let (from, to) = self.opened.from_to.unwrap_or((hull.from_s, hull.to_s));
        let ribbon = Ribbon {
            title: head.to_string(),
            run: Span {
                from_s: from.min(hull.from_s),
                to_s: to.max(hull.to_s),
            },
            rows: vec![(name.to_string(), spans.clone())],
        };
        let items: String = lines
            .iter()
            .map(|l| format!("<li>{}</li>\n", escape(l)))
            .collect();
        ribboned(
            Bundle::plain(plain),
            &ribbon,
            &format!("<p>{}</p>\n", escape(head)),
            &format!("<ul>\n{items}</ul>\n"),
        )
    }

    fn picture(&self, trace: &Trace) -> Bundle {
        let told = plots::describe(trace, &self.reading);
        let bundle = Bundle::plain(format!("{}: {told}", trace.title));
        with_picture(bundle, trace, &self.reading, Size::PAGE)
    }
}

/// A bundle with a ribbon between what stands over and under it.
fn ribboned(bundle: Bundle, ribbon: &Ribbon, over: &str, under: &str) -> Bundle {
    let svg = ribbon.svg().unwrap_or_default();
    let html = part(&format!("{over}<figure>{svg}</figure>\n{under}"));
    let bundle = bundle.html(html);
    match ribbon.png() {
        Ok(png) if !svg.is_empty() => bundle.picture(svg, &png),
        _ => bundle,
    }
}

/// A bundle with a picture; where it cannot be drawn, without.
fn with_picture(bundle: Bundle, trace: &Trace, reading: &Reading, size: Size) -> Bundle {
    match (
        plots::svg(trace, reading, size),
        plots::png(trace, reading, size),
    ) {
        (Ok(svg), Ok(png)) => bundle.picture(svg, &png),
        _ => bundle,
    }
}

/// A picture of one column.
fn single(column: &Column) -> Trace {
    Trace {
        title: column.name.clone(),
        across: None,
        unit: column.unit,
        series: vec![thinned(
            &column.name,
            &column.series(),
            column.lazy.believed_s(),
        )],
        lines: Vec::new(),
        marked: Spans::default(),
    }
}

/// A unit as the reader sees it.
fn unit_words(unit: Unit, reading: &Reading) -> String {
    let symbol = reading.convert(1.0, unit).1;
    if symbol.is_empty() {
        "none".to_string()
    } else {
        symbol
    }
}

/// Entries between two marks, the many of them cut short.
fn listed(open: &str, each: impl ExactSizeIterator<Item = String>, close: &str) -> String {
    const MOST: usize = 100;
    let count = each.len();
    let mut words: Vec<String> = each.take(MOST).collect();
    if count > MOST {
        words.push(format!("and {} more", count - MOST));
    }
    let line = format!("{open}{}{close}", words.join(", "));
    if line.chars().count() <= 110 {
        return line;
    }
    format!(
        "{}\n  {}\n{}",
        open.trim_end(),
        words.join(",\n  "),
        close.trim_start()
    )
}

fn run(run: &Run) -> Bundle {
    let (rec, phases) = (&run.shared.recording, &run.shared.phases);
    let names: Vec<&str> = rec
        .channels
        .values()
        .filter(|c| !c.series.is_empty())
        .map(|c| c.name.as_str())
        .collect();
    let head = format!(
        "{}: {} rows, {:.1} s at {:.0} Hz, {} channels",
        rec.path,
        rec.rows,
        rec.duration_s(),
        rec.sample_hz(),
        names.len()
    );
    let mut rows: Vec<(String, Spans)> = Vec::new();
    for (name, span) in phases.list() {
        let one = Spans::one(span.from_s, span.to_s);
        match rows.iter_mut().find(|r| r.0 == name) {
            Some((_, spans)) => *spans = spans.or(&one),
            None => rows.push((name.to_string(), one)),
        }
    }
    let told: Vec<String> = rows
        .iter()
        .map(|(name, spans)| format!("{name} {:.1} s", spans.total()))
        .collect();
    let mut plain = format!(
        "{head}\n  phases: {}\n  channels: {}",
        told.join(", "),
        names.join(", ")
    );
    let mut under = format!("<p>{}</p>\n", escape(&names.join(", ")));
    if !rec.problems.is_empty() {
        let words = format!(
            "{} problems of the file: review(run) lists them",
            rec.problems.len()
        );
        plain.push_str(&format!("\n  {words}"));
        under.push_str(&format!("<p>{words}</p>\n"));
    }
    let ribbon = Ribbon {
        title: head.clone(),
        run: Span {
            from_s: rec.start_s(),
            to_s: rec.end_s(),
        },
        rows,
    };
    ribboned(
        Bundle::plain(plain),
        &ribbon,
        &format!("<p>{}</p>\n", escape(&head)),
        &under,
    )
}

fn review(of: &ReviewOf) -> Bundle {
    let text = render(&of.review, Format::Text, &Look::default());
    let prefix = format!("{}-", super::kernel::unique());
    Bundle::plain(text.trim_end()).html(fragment(&of.review, &prefix))
}

fn finding(finding: &Finding, reading: &Reading) -> Bundle {
    let lines = finding_lines(finding, reading);
    let bundle = Bundle::plain(lines.join("\n")).html(finding_fragment(finding, reading));
    match finding.plots.first() {
        Some(trace) => with_picture(bundle, trace, reading, Size::PAGE),
        None => bundle,
    }
}
