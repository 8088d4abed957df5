//! `plugread plot`: channels over time, against each other, by phase, by cylinder, or in cells of speed and load.

mod pick;

use std::path::Path;

use super::args::{PlotArgs, Side};
use super::{End, Refusal, out, read_sheet};
use crate::dsl::lazy::{cut, hold};
use crate::dsl::run::Shared;
use crate::findings::{Across, Series, Trace};
use crate::load::Log;
use crate::phases::Phases;
use crate::pipeline;
use crate::plots::{Axis, CellMap, Grid, Size, round_width};
use crate::recording::{self, Recording};
use crate::sheet::{LoadFrom, Sheet, nearest};
use crate::span::Spans;
use crate::units::Reading;
use pick::Drawn;

/// The whole picture, and one among several.
const ALONE: (u32, u32) = (1200, 500);
const STACKED: (u32, u32) = (1200, 260);
const BESIDE: (u32, u32) = (480, 320);

pub fn run(args: &PlotArgs) -> Result<End, Refusal> {
    let inputs: Vec<&Path> = std::iter::once(&args.log)
        .chain(&args.sheet)
        .map(std::path::PathBuf::as_path)
        .collect();
    out::spare_inputs(args.out.as_deref(), &inputs)?;
    let form = Form::of(args.out.as_deref())?;
    let sheet = read_sheet(args.sheet.as_deref())?;
    let reading = pipeline::reading(&sheet);
    let log = pipeline::open(&args.log, &sheet)?;
    let phases_asked = args.during.is_some() || args.by == Some(Side::Phase);
    let words = args.channels.iter().chain(&args.against);
    let named: Vec<String> = words
        .flat_map(|w| std::iter::once(w.clone()).chain(pick::standard(w)))
        .collect();
    let rec = Recording::read(log.as_ref(), &sheet, |name| {
        phases_asked
            || (args.grid && matches!(name, "rpm" | "map" | "tps"))
            || named.iter().any(|c| name == *c || pick::stem(c).is_some_and(|s| name.starts_with(s)))
            // A heading may stand for any of them.
            || named.iter().any(|c| log.headings().iter().any(|h| h.raw.eq_ignore_ascii_case(c) || h.name.eq_ignore_ascii_case(c)))
    })?;
    let shared = Shared::prepare(rec, sheet);
    let page = page(args, &shared, log.as_ref())?;
    out::write(args.out.as_deref(), &page.drawn(&form, &reading)?)?;
    Ok(End::Quiet)
}

/// What is written.
enum Form {
    Svg,
    Png,
}

impl Form {
    fn of(out: Option<&Path>) -> Result<Form, Refusal> {
        let Some(path) = out else {
            return Ok(Form::Svg);
        };
        match path.extension() {
            Some(e) if e.eq_ignore_ascii_case("png") => Ok(Form::Png),
            Some(e) if e.eq_ignore_ascii_case("svg") => Ok(Form::Svg),
            // A pipe or a terminal has no ending.
            None if crate::whole::is_stream(path) => Ok(Form::Svg),
            _ => Err(Refusal(format!(
                "{}: a picture is written as .svg or .png; give the file that ending",
                path.display()
            ))),
        }
    }
}

/// One sheet of paper.
enum Page {
    Pictures(Pictures),
    Cells(CellMap),
}

impl Page {
    fn drawn(&self, form: &Form, reading: &Reading) -> Result<Vec<u8>, Refusal> {
        Ok(match (self, form) {
            (Page::Pictures(pictures), Form::Svg) => pictures.grid().svg(reading)?.into_bytes(),
            (Page::Pictures(pictures), Form::Png) => pictures.grid().png(reading)?,
            (Page::Cells(map), Form::Svg) => map.svg(reading)?.into_bytes(),
            (Page::Cells(map), Form::Png) => map.png(reading)?,
        })
    }
}

/// Pictures in rows.
struct Pictures {
    title: String,
    traces: Vec<Trace>,
    columns: usize,
    each: Size,
}

impl Pictures {
    fn grid(&self) -> Grid<'_> {
        Grid::new(&self.title, &self.traces, self.columns, self.each)
    }
}

fn page(args: &PlotArgs, shared: &Shared, log: &dyn Log) -> Result<Page, Refusal> {
    let rec = &shared.recording;
    let mut chosen: Vec<Drawn> = Vec::new();
    for wanted in &args.channels {
        for drawn in pick::find(wanted, rec, log)? {
            if !chosen.iter().any(|c| c.name == drawn.name) {
                chosen.push(drawn);
            }
        }
    }
    let window = window(args, shared)?;
    if args.grid {
        return cells(&chosen, shared, &window, args);
    }
    let against = match &args.against {
        None => None,
        Some(wanted) => match pick::find(wanted, rec, log)?.as_slice() {
            [one] => Some(one.clone()),
            _ => {
                return Err(Refusal(format!(
                    "`{wanted}` is a whole family: draw against one channel, such as rpm"
                )));
            }
        },
    };
    let draw = |title: &str, list: &[Drawn], within: &Spans| match &against {
        None => over_time(title, list, within, args, rec),
        Some(other) => against_each_other(title, list, other, within),
    };
    let name = file_name(rec);
    let traces: Vec<Trace> = match args.by {
        None => by_unit(&chosen)
            .iter()
            .map(|list| draw(&listed(list, &name), list, &window))
            .collect(),
        Some(Side::Cylinder) => by_cylinder(&chosen, &shared.sheet)?
            .iter()
            .map(|one| draw(&one.label, std::slice::from_ref(one), &window))
            .collect(),
        Some(Side::Phase) => by_phase(&chosen, &shared.phases, &window)?
            .iter()
            .map(|(phase, spans)| draw(phase, &chosen, spans))
            .collect(),
    };
    if traces.iter().all(|t| {
        t.series
            .iter()
            .all(|s| s.points.iter().all(|p| p.1.is_nan()))
    }) {
        return Err(Refusal(format!(
            "{}: there are no readings in that stretch",
            rec.path
        )));
    }
    let (columns, each) = match (args.by, traces.len()) {
        (Some(_), count) => (count.min(3), BESIDE),
        (None, 1) => (1, ALONE),
        (None, _) => (1, STACKED),
    };
    let title = listed(&chosen, &name);
    Ok(Page::Pictures(Pictures {
        title,
        traces,
        columns,
        each: Size::new(each.0, each.1),
    }))
}

/// The time that is asked for.
fn window(args: &PlotArgs, shared: &Shared) -> Result<Spans, Refusal> {
    let rec = &shared.recording;
    let (from, to) = (
        args.from.unwrap_or(rec.start_s()),
        args.to.unwrap_or(rec.end_s()),
    );
    if from.is_nan() || to.is_nan() || from >= to {
        return Err(Refusal(format!(
            "the picture would begin at {from} s and end at {to} s: the run goes from {:.1} s to {:.1} s",
            rec.start_s(),
            rec.end_s()
        )));
    }
    let window = Spans::one(from, to);
    let Some(phase) = &args.during else {
        return Ok(window);
    };
    let Some(spans) = shared.phases.get(phase) else {
        let near = nearest(phase, Phases::names().iter().copied());
        let near = near.map_or(String::new(), |n| format!(" Did you mean `{n}`?"));
        return Err(Refusal(format!(
            "there is no phase `{phase}`.{near} There are {}",
            Phases::names().join(", ")
        )));
    };
    let spans = spans.and(&window);
    if spans.is_empty() {
        return Err(Refusal(format!(
            "{}: the run has no `{phase}` there",
            rec.path
        )));
    }
    Ok(spans)
}

fn file_name(rec: &Recording) -> String {
    let name = Path::new(&rec.path).file_name();
    name.map_or_else(|| rec.path.clone(), |n| n.to_string_lossy().into_owned())
}

fn listed(list: &[Drawn], name: &str) -> String {
    let names: Vec<&str> = list.iter().map(|d| d.name.as_str()).collect();
    format!("{}, {name}", names.join(", "))
}

/// Those of one unit together, in the order in which they were named.
fn by_unit(chosen: &[Drawn]) -> Vec<Vec<Drawn>> {
    let mut out: Vec<Vec<Drawn>> = Vec::new();
    for drawn in chosen {
        let fits = |list: &&mut Vec<Drawn>| {
            list.first()
                .is_some_and(|f| f.unit.difference() == drawn.unit.difference())
        };
        match out.iter_mut().find(fits) {
            Some(list) => list.push(drawn.clone()),
            None => out.push(vec![drawn.clone()]),
        }
    }
    out
}

/// One unit, or a sentence: pictures side by side stand on the same axes.
fn one_unit(chosen: &[Drawn]) -> Result<(), Refusal> {
    let units: Vec<String> = by_unit(chosen)
        .iter()
        .filter_map(|l| l.first())
        .map(|d| d.unit.to_string())
        .collect();
    if units.len() < 2 {
        return Ok(());
    }
    Err(Refusal(format!(
        "side by side on the same axes want one unit, and these have {} ({})",
        units.len(),
        units.join(", ")
    )))
}

/// The members that belong to a cylinder, in firing order where the sheet says one.
fn by_cylinder(chosen: &[Drawn], sheet: &Sheet) -> Result<Vec<Drawn>, Refusal> {
    one_unit(chosen)?;
    let mut list: Vec<Drawn> = chosen
        .iter()
        .filter(|d| d.cylinder.is_some())
        .cloned()
        .collect();
    if list.is_empty() {
        return Err(Refusal("none of these belongs to a cylinder: name a family such as egt, and see sensors.egt_cylinder in the build sheet".to_string()));
    }
    let order = sheet.engine.firing_order.clone().unwrap_or_default();
    let place = |cylinder: u32| {
        order
            .iter()
            .position(|c| *c == cylinder)
            .unwrap_or(order.len())
    };
    list.sort_by_key(|d| d.cylinder.map(|c| (place(c), c)));
    Ok(list)
}

/// The phases that the run had, with their time.
fn by_phase(
    chosen: &[Drawn],
    phases: &Phases,
    window: &Spans,
) -> Result<Vec<(&'static str, Spans)>, Refusal> {
    one_unit(chosen)?;
    let there = |name: &&'static str| {
        let spans = phases.get(name)?.and(window);
        (!spans.is_empty()).then_some((*name, spans))
    };
    Ok(Phases::names().iter().filter_map(there).collect())
}

fn over_time(
    title: &str,
    list: &[Drawn],
    within: &Spans,
    args: &PlotArgs,
    rec: &Recording,
) -> Trace {
    let ends = (
        args.from.unwrap_or(rec.start_s()),
        args.to.unwrap_or(rec.end_s()),
    );
    let series = list.iter().map(|drawn| {
        let mut series = Series::over_time(&drawn.name, &[], &[], drawn.believed_s);
        // Each stretch by itself: between two of them there is nothing to draw.
        for span in within.list() {
            let part = cut(&drawn.series, &Spans::one(span.from_s, span.to_s));
            let part = Series::over_time(&drawn.name, &part.times, &part.values, drawn.believed_s);
            series.points.push((span.from_s, f64::NAN));
            series.points.extend(part.points);
        }
        // All pictures of a page reach over the same time.
        series.points.insert(0, (ends.0, f64::NAN));
        series.points.push((ends.1, f64::NAN));
        series
    });
    Trace {
        title: title.to_string(),
        across: None,
        unit: list.first().map_or(crate::units::Unit::NONE, |d| d.unit),
        series: series.collect(),
        lines: Vec::new(),
        marked: Spans::default(),
    }
}

/// One point for each place on the paper that has some.
fn against_each_other(title: &str, list: &[Drawn], other: &Drawn, within: &Spans) -> Trace {
    let series = list.iter().map(|drawn| {
        let ys = cut(&drawn.series, within);
        let xs = hold(&other.series, &ys.times, other.believed_s);
        Series {
            label: drawn.name.clone(),
            points: crate::plots::cloud_of(&xs, &ys.values),
        }
    });
    Trace {
        title: title.to_string(),
        across: Some(Across::of(&other.name, other.unit)),
        unit: list.first().map_or(crate::units::Unit::NONE, |d| d.unit),
        series: series.collect(),
        lines: Vec::new(),
        marked: Spans::default(),
    }
}

/// The channel that stands for load: the sheet's word first, then MAP, then throttle.
fn load(
    rec: &Recording,
    sheet: &Sheet,
) -> Result<(String, recording::Series, crate::units::Unit, f64), Refusal> {
    let order = match sheet.engine.load_from {
        Some(LoadFrom::Tps) => ["tps", "map"],
        _ => ["map", "tps"],
    };
    let channel = order
        .iter()
        .filter_map(|name| rec.channel(name))
        .find(|c| !c.series.is_empty());
    let channel = channel.ok_or_else(|| {
        Refusal(format!(
            "{}: a grid wants load, `map` or `tps`, and the log has neither",
            rec.path
        ))
    })?;
    Ok((
        channel.name.clone(),
        channel.series.clone(),
        channel.unit,
        channel.believed_s(),
    ))
}

fn cells(
    chosen: &[Drawn],
    shared: &Shared,
    window: &Spans,
    args: &PlotArgs,
) -> Result<Page, Refusal> {
    let rec = &shared.recording;
    if args.against.is_some() || args.by.is_some() {
        return Err(Refusal(
            "--grid has its own axes, speed and load: leave --against and --by out".to_string(),
        ));
    }
    let [drawn] = chosen else {
        return Err(Refusal(format!(
            "a grid shows one channel at a time, and these are {}",
            chosen.len()
        )));
    };
    let rpm = rec.channel("rpm").filter(|c| !c.series.is_empty());
    let rpm = rpm.ok_or_else(|| {
        Refusal(format!(
            "{}: a grid wants engine speed, `rpm`, and the log has none",
            rec.path
        ))
    })?;
    let (load_name, load, load_unit, load_believed) = load(rec, &shared.sheet)?;
    let values = cut(&drawn.series, window);
    let xs = hold(&rpm.series, &values.times, rpm.believed_s());
    let ys = hold(&load, &values.times, load_believed);
    let axes = (
        Axis {
            name: "rpm".to_string(),
            unit: rpm.unit,
            step: round_width(&xs),
        },
        Axis {
            name: load_name,
            unit: load_unit,
            step: round_width(&ys),
        },
    );
    let samples = xs
        .iter()
        .zip(ys.iter())
        .zip(values.values.iter())
        .map(|((x, y), v)| (*x, *y, *v));
    let title = format!("{}, {}", drawn.name, file_name(rec));
    Ok(Page::Cells(CellMap::of(&title, drawn.unit, axes, samples)))
}
