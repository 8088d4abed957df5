//! The readings behind the pictures of a page, as data for the small script that reads them out under the pointer.

use crate::findings::{Across, Series, Trace};
use crate::plots::Field;
use crate::units::{Reading, Unit};

/// Parts of a second in which times are kept.
const PARTS: f64 = 1000.0;

/// Decimals of points beyond those that are shown: the ring has to stand where the point was drawn.
const FINER: usize = 2;
/// Beyond this nothing is drawn.
const ABSURD: f64 = 1e15;

/// What the script knows of the pictures: each series once, however many pictures show it.
#[derive(Default)]
pub struct Points {
    series: Vec<String>,
    plots: Vec<String>,
    clouds: Vec<String>,
    phases: Vec<String>,
    drawn: Vec<String>,
}

/// Where the readings stand, on the picture for a desk and on that for a phone.
pub struct Fields {
    /// On a desk or on paper.
    pub desk: Field,
    /// On a phone.
    pub phone: Field,
}

impl Points {
    /// Notes a picture; gives its number.
    pub fn picture(&mut self, trace: &Trace, reading: &Reading, fields: &Fields) -> usize {
        if let Some(across) = &trace.across {
            self.clouds.push(cloud(trace, across, reading));
            return self.plot("", Some(self.clouds.len() - 1), fields);
        }
        let list = trace.series.iter().map(|s| {
            let one = series(&s.label, &s.points, trace.unit, reading);
            match self.series.iter().position(|known| *known == one) {
                Some(at) => at.to_string(),
                None => {
                    self.series.push(one);
                    (self.series.len() - 1).to_string()
                }
            }
        });
        let list: Vec<String> = list.collect();
        self.plot(&list.join(","), None, fields)
    }
    /// Two drawings of a picture. Where the page has the same already they only point to it: several checks look at the
    /// same channels.
    pub fn once(&mut self, wide: String, narrow: String) -> (String, String) {
        let known = self.drawn.iter().position(|d| *d == wide);
        let at = known.unwrap_or(self.drawn.len());
        let one = |svg: &str, which: &str| match (known, svg.split_once('>')) {
            (Some(_), Some((head, _))) => {
                // The same drawing, so it needs nothing but its place.
                format!("{head}><use href=\"#drawn-{at}-{which}\"/></svg>")
            }
            (None, Some((head, rest))) => {
                let rest = rest.replacen("</svg>", "</g></svg>", 1);
                format!("{head}><g id=\"drawn-{at}-{which}\">{rest}")
            }
            _ => svg.to_string(),
        };
        let both = (one(&wide, "d"), one(&narrow, "p"));
        if known.is_none() {
            self.drawn.push(wide);
        }
        both
    }
    /// Notes a ribbon, which has no readings; gives its number.
    pub fn ribbon(&mut self, fields: &Fields) -> usize {
        self.plot("", None, fields)
    }
    /// Notes a phase of the run.
    pub fn phase(&mut self, name: &str, from_s: f64, to_s: f64) {
        self.phases
            .push(format!("[{},{:.3},{:.3}]", quoted(name), from_s, to_s));
    }
    fn plot(&mut self, series: &str, cloud: Option<usize>, fields: &Fields) -> usize {
        let field = |f: &Field| {
            let edges = [f.left, f.right, f.top, f.bottom];
            let edges: Vec<String> = edges.iter().map(|e| format!("{e:.1}")).collect();
            edges.join(",")
        };
        let Field { x, y, .. } = fields.desk;
        let cloud = cloud.map_or(String::new(), |at| format!("\"cloud\":{at},"));
        self.plots.push(format!(
            "{{\"s\":[{series}],{cloud}\"desk\":[{}],\"phone\":[{}],\"x\":[{},{}],\"y\":[{},{}]}}",
            field(&fields.desk),
            field(&fields.phone),
            x.0,
            x.1,
            y.0,
            y.1
        ));
        self.plots.len() - 1
    }
    /// All of it as JSON that may stand inside a page; `clock` where the page tells time in minutes.
    pub fn json(&self, clock: bool) -> String {
        format!(
            "{{\"clock\":{clock},\"phases\":[{}],\n\"plots\":[{}],\n\"clouds\":[{}],\n\"series\":[{}]}}",
            self.phases.join(","),
            self.plots.join(",\n"),
            self.clouds.join(",\n"),
            self.series.join(",\n")
        )
    }
}

/// Times as steps in milliseconds, values as whole numbers of the last decimal that is worth showing; `null` breaks.
fn series(label: &str, points: &[(f64, f64)], unit: Unit, reading: &Reading) -> String {
    let digits = digits(points.iter().map(|p| p.1), unit, reading);
    let (_, symbol) = reading.convert(0.0, unit);
    let (mut times, mut heights) = (Vec::new(), Vec::new());
    let mut before = 0i64;
    for (t, v) in points.iter().filter(|p| p.0.is_finite()) {
        let at = (t * PARTS).round() as i64;
        times.push((at - before).to_string());
        before = at;
        heights.push(whole(*v, digits, unit, reading));
    }
    format!(
        "{{\"n\":{},\"u\":{},\"d\":{digits},\"t\":[{}],\"v\":[{}]}}",
        quoted(label),
        quoted(&symbol),
        times.join(","),
        heights.join(",")
    )
}

/// Decimals that are worth showing for the greatest of these values.
fn digits(values: impl Iterator<Item = f64>, unit: Unit, reading: &Reading) -> usize {
    let known = values.filter(|v| v.is_finite());
    let greatest = known.fold(0.0f64, |m, v| m.max(v.abs()));
    let shown = reading.show(greatest, unit);
    let number = shown.split(' ').next().unwrap_or_default();
    number.split_once('.').map_or(0, |n| n.1.len())
}

/// A value in the reader's unit as a whole number of its last decimal; `null` where it is none.
fn whole(value: f64, digits: usize, unit: Unit, reading: &Reading) -> String {
    let (v, _) = reading.convert(value, unit);
    let scale = 10f64.powi(i32::try_from(digits).unwrap_or(0));
    if v.is_finite() && v.abs() < ABSURD {
        ((v * scale).round() as i64).to_string()
    } else {
        "null".to_string()
    }
}

/// Points of one quantity against another: both values of each, and the seconds of the run behind it where they are known.
fn cloud(trace: &Trace, across: &Across, reading: &Reading) -> String {
    let known = |s: &'_ Series| -> Vec<(usize, (f64, f64))> {
        let numbered = s.points.iter().copied().enumerate();
        numbered
            .filter(|(_, p)| p.0.abs() < ABSURD && p.1.abs() < ABSURD)
            .collect()
    };
    let all: Vec<Vec<(usize, (f64, f64))>> = trace.series.iter().map(known).collect();
    let every = || all.iter().flatten().map(|(_, p)| *p);
    let (dx, dy) = (
        digits(every().map(|p| p.0), across.unit, reading),
        digits(every().map(|p| p.1), trace.unit, reading),
    );
    let list = trace.series.iter().zip(&all).enumerate();
    let list = list.map(|(i, (s, points))| {
        let seconds = |at: &usize| across.seconds.get(*at).filter(|_| i == 0);
        let rows = points.iter().map(|(at, (x, y))| {
            let place = |v: f64, unit, digits: usize| {
                let (v, _) = reading.convert(v, unit);
                format!("{v:.*}", digits + FINER)
            };
            let x = place(*x, across.unit, dx);
            let y = place(*y, trace.unit, dy);
            match seconds(at) {
                Some(s) => format!("[{x},{y},{s:.2}]"),
                None => format!("[{x},{y}]"),
            }
        });
        let rows: Vec<String> = rows.collect();
        format!("{{\"n\":{},\"p\":[{}]}}", quoted(&s.label), rows.join(","))
    });
    let list: Vec<String> = list.collect();
    let symbol = |unit| quoted(&reading.convert(0.0, unit).1);
    format!(
        "{{\"x\":{{\"n\":{},\"u\":{},\"d\":{dx}}},\"y\":{{\"u\":{},\"d\":{dy}}},\"s\":[{}]}}",
        quoted(&across.name),
        symbol(across.unit),
        symbol(trace.unit),
        list.join(",")
    )
}

/// A JSON string that cannot end the element in which it stands.
fn quoted(words: &str) -> String {
    serde_json::Value::from(words)
        .to_string()
        .replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_tell_both_values_and_the_time_behind_them() {
        let trace = Trace {
            title: "volts against speed".into(),
            across: Some(Across {
                seconds: vec![12.5, 3.0, 0.25],
                ..Across::of("rpm", Unit::standard("rpm"))
            }),
            unit: Unit::standard("V"),
            series: vec![Series {
                label: "battery_v, median".into(),
                points: vec![(1125.0, 14.1), (1375.0, f64::NAN), (1625.0, 13.996)],
            }],
            lines: Vec::new(),
            marked: crate::span::Spans::default(),
        };
        let across = trace.across.as_ref().expect("an axis");
        let told = cloud(&trace, across, &Reading::default());
        assert_eq!(
            told,
            "{\"x\":{\"n\":\"rpm\",\"u\":\"rpm\",\"d\":0},\"y\":{\"u\":\"V\",\"d\":2},\
             \"s\":[{\"n\":\"battery_v, median\",\"p\":[[1125.00,14.1000,12.50],[1625.00,13.9960,0.25]]}]}"
        );
    }

    #[test]
    fn readings_come_back_as_they_were() {
        let points = [(1.0, 12.604), (1.02, f64::NAN), (3.5, -0.001)];
        let told = series(
            "a</script>",
            &points,
            Unit::standard("V"),
            &Reading::default(),
        );
        assert_eq!(
            told,
            "{\"n\":\"a\\u003c/script\\u003e\",\"u\":\"V\",\"d\":2,\"t\":[1000,20,2480],\"v\":[1260,null,0]}"
        );
        assert!(serde_json::from_str::<serde_json::Value>(&told).is_ok());
    }
}
