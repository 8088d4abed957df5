//! `plugread plot`.

use super::args::PlotArgs;
use super::{End, Refusal, out, read_sheet};
use crate::dsl::lazy::cut;
use crate::dsl::run::FAMILIES;
use crate::findings::{Series, Trace};
use crate::pipeline;
use crate::plots::{self, Size};
use crate::recording::{Channel, Recording};
use crate::span::Spans;

pub fn run(args: &PlotArgs) -> Result<End, Refusal> {
    let inputs: Vec<&std::path::Path> = [Some(&args.log), args.sheet.as_ref()]
        .into_iter()
        .flatten()
        .map(std::path::PathBuf::as_path)
        .collect();
    out::spare_inputs(args.out.as_deref(), &inputs)?;
    let sheet = read_sheet(args.sheet.as_deref())?;
    let log = pipeline::open(&args.log, &sheet)?;
    let rec = Recording::read(log.as_ref(), &sheet, |name| {
        args.channels
            .iter()
            .any(|c| name == c || stem(c).is_some_and(|s| name.starts_with(s)))
    })?;
    let mut chosen: Vec<&Channel> = Vec::new();
    for wanted in &args.channels {
        let found = stem(wanted)
            .map(|s| rec.family(s))
            .filter(|f| !f.is_empty())
            .or_else(|| rec.channel(wanted).map(|c| vec![c]));
        let Some(found) = found else {
            let known: Vec<&str> = rec.understood.iter().map(|u| u.name.as_str()).collect();
            return Err(Refusal(format!(
                "{} has no channel `{wanted}`; it has {}",
                rec.path,
                known.join(", ")
            )));
        };
        chosen.extend(found);
    }
    let traces = traces(&rec, &chosen, args)?;
    let reading = pipeline::reading(&sheet);
    let size = Size::new(1200, 500);
    let png = args
        .out
        .as_deref()
        .and_then(|p| p.extension())
        .is_some_and(|e| e.eq_ignore_ascii_case("png"));
    if traces.len() > 1 {
        let units: Vec<String> = traces.iter().map(|t| t.unit.to_string()).collect();
        return Err(Refusal(format!(
            "these channels have {} units ({}): draw one picture for each",
            traces.len(),
            units.join(", ")
        )));
    }
    let Some(trace) = traces.first() else {
        return Err(Refusal("there is nothing to draw".to_string()));
    };
    if png {
        out::write(args.out.as_deref(), &plots::png(trace, &reading, size)?)?;
    } else {
        if let Some(other) = args
            .out
            .as_deref()
            .filter(|p| !p.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg")))
        {
            return Err(Refusal(format!(
                "{}: a picture is written as .svg or .png; give the file that ending",
                other.display()
            )));
        }
        out::write(
            args.out.as_deref(),
            plots::svg(trace, &reading, size)?.as_bytes(),
        )?;
    }
    Ok(End::Quiet)
}

/// One trace for each unit among the channels.
fn traces(rec: &Recording, chosen: &[&Channel], args: &PlotArgs) -> Result<Vec<Trace>, Refusal> {
    let (from, to) = (
        args.from.unwrap_or(rec.start_s()),
        args.to.unwrap_or(rec.end_s()),
    );
    if from >= to {
        return Err(Refusal(format!(
            "the picture would begin at {from} s and end at {to} s: the run goes from {:.1} s to {:.1} s",
            rec.start_s(),
            rec.end_s()
        )));
    }
    let window = Spans::one(from, to);
    let mut out: Vec<Trace> = Vec::new();
    for channel in chosen {
        let series = cut(&channel.series, &window);
        let drawn = Series::over_time(
            &channel.name,
            &series.times,
            &series.values,
            channel.believed_s(),
        );
        match out
            .iter_mut()
            .find(|t| t.unit.difference() == channel.unit.difference())
        {
            Some(trace) => {
                trace.title = format!("{}, {}", trace.title, channel.name);
                trace.series.push(drawn);
            }
            None => out.push(Trace {
                title: channel.name.clone(),
                across: None,
                unit: channel.unit,
                series: vec![drawn],
                lines: Vec::new(),
                marked: Spans::default(),
            }),
        }
    }
    Ok(out)
}

fn stem(name: &str) -> Option<&'static str> {
    FAMILIES.iter().find(|f| f.0 == name).map(|f| f.1)
}
