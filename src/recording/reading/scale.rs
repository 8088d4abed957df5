//! One column by itself: does what it holds leave only one reading possible?

use super::{Reading, Setting, Unread, scaled, show, shown, wants_absolute, way};
use crate::recording::dictionary::Entry;
use crate::units::Written;

/// Infers a unit or asks for it. Only for columns of which the sheet says nothing.
pub(super) fn judge(column: &Unread, reading: &mut Reading, setting: &Setting) {
    let entry = reading.entry;
    // What stands against the air is judged there.
    if ["map", "baro"].contains(&entry.name.as_str()) && column.silent() {
        return;
    }
    let before = (reading.from, reading.questions.len());
    match entry.unit.as_str() {
        "lambda" => lambda(column, reading, setting),
        "%" if entry.name.starts_with("fuel_trim") => trim(column, reading),
        "%" => share(column, reading, setting),
        _ => other_unit(column, reading),
    }
    // An absolute pressure is looked at once it is clear what it is measured from.
    let later = wants_absolute(entry) == Some(true);
    if before == (reading.from, reading.questions.len()) && !later {
        out_of_range(column, reading);
    }
}

/// Lambda, as one, in hundredths or thousandths, as an air-fuel ratio on the logger's scale, or as something else.
fn lambda(column: &Unread, reading: &mut Reading, setting: &Setting) {
    let middle = column.numbers.middle();
    let name = reading.name.clone();
    let one = Written {
        factor: 1.0,
        offset: 0.0,
        ..reading.written
    };
    let scale = setting.afr_scale;
    if column.found.afr {
        if (0.5..=2.0).contains(&middle) {
            reading.because.clear();
            let why = format!(
                "the heading speaks of an air-fuel ratio, but it lies around {} and no engine burns that",
                show(middle)
            );
            reading.infer(column, "lambda", one, &why);
        } else if !(7.0..30.0).contains(&middle) {
            let text = format!(
                "`{name}` is headed as an air-fuel ratio but lies around {}: in what is it logged?",
                show(middle)
            );
            reading.questions.push(text);
        }
        return;
    }
    if !column.silent() && (0.3..4.0).contains(&middle) {
        return;
    }
    let around = format!("it lies around {}, where lambda is near 1", show(middle));
    // The customary scale makes 9 to 19 of what an engine can burn, lambda 0.6 to 1.3.
    let afr = (0.62 * scale..=1.3 * scale).contains(&middle);
    let said = if column.silent() {
        ""
    } else {
        " though the heading says lambda"
    };
    if afr && column.silent() {
        let why =
            format!("{around}, and an air-fuel ratio on the customary scale of {scale} is that");
        reading.infer(column, "afr", scaled(one, 1.0 / scale), &why);
    } else if (6.0..30.0).contains(&middle) {
        reading.questions.push(format!(
            "`{name}` lies around {}{said}: is it an air-fuel ratio, and which scale does the logger use (fuel.lambda_scale_afr)?",
            show(middle)
        ));
    } else if let Some((unit, factor)) = multiple(middle, column.numbers.low(), scale)
        && column.silent()
    {
        reading.infer(column, unit, scaled(one, factor), &around);
    } else if (60.0..=2000.0).contains(&middle) {
        reading.questions.push(format!(
            "`{name}` lies around {}{said}: is it lambda or an air-fuel ratio, and how many times over (lambda x 100, afr x 10)?",
            show(middle)
        ));
    } else if (0.0..0.5).contains(&middle) && middle > 0.0 {
        reading.questions.push(format!(
            "`{name}` lies around {}: is it the voltage of a narrow-band sensor instead of lambda?",
            show(middle)
        ));
    }
}

/// Lambda in hundredths or thousandths, or an air-fuel ratio in tenths or hundredths: as little as lambda 0.6 is no
/// mixture that burns (common practice), and that parts the two where they overlap.
fn multiple(middle: f64, low: f64, scale: f64) -> Option<(&'static str, f64)> {
    for (lambda, afr, times) in [
        ("lambda x 100", "afr x 10", 1.0),
        ("lambda x 1000", "afr x 100", 10.0),
    ] {
        let (middle, low) = (middle / times, low / times);
        let as_lambda = (60.0..=125.0).contains(&middle);
        let as_afr = (100.0..=190.0).contains(&middle) && low >= 0.61 * 10.0 * scale;
        match (as_lambda, as_afr) {
            (true, false) => return Some((lambda, 0.01 / times)),
            (false, true) => return Some((afr, 0.1 / (times * scale))),
            _ => {}
        }
    }
    None
}

/// A trim's neutral may be 0, 100 or 1.00.
fn trim(column: &Unread, reading: &mut Reading) {
    let n = &column.numbers;
    let (middle, name) = (n.middle(), reading.name.clone());
    let about = |neutral: &str| {
        format!(
            "`{name}` lies around {}: is {neutral} its neutral, where nothing is corrected?",
            show(middle)
        )
    };
    let own = reading.written;
    if (70.0..=130.0).contains(&middle) && n.low() > 30.0 {
        let why = format!(
            "it lies around {} and no trim doubles the fuel all the way",
            show(middle)
        );
        let written = Written {
            offset: own.offset - 100.0 * own.factor,
            ..own
        };
        reading.infer(column, "100 is neutral", written, &why);
    } else if (0.7..=1.3).contains(&middle) && n.low() > 0.3 && n.highest() < 2.0 {
        // A trim in per cent crosses zero, or rests there while the loop is open.
        if n.kinds() >= 8 {
            let why = format!(
                "it lies between {} and {} and never near zero",
                show(n.low()),
                show(n.highest())
            );
            let written = Written {
                factor: 100.0,
                offset: -100.0,
                ..own
            };
            reading.infer(column, "1 is neutral", written, &why);
        } else {
            reading.questions.push(about("1.00"));
        }
    }
}

/// Throttle, pedal and duties: 0 to 1 or 0 to 100.
fn share(column: &Unread, reading: &mut Reading, setting: &Setting) {
    let n = &column.numbers;
    let small = n.highest() <= 1.2 && n.lowest() >= -0.1 && n.kinds() > 3;
    if reading.entry.range[1] < 100.0 || !small || n.highest() <= 0.2 {
        return;
    }
    let opens = ["tps", "tps_2", "pedal", "injector_duty"].contains(&reading.name.as_str());
    let revved = opens && setting.revs && n.highest() > 0.3;
    // A heading that says % is believed otherwise: an engine that only idled hardly opens its throttle.
    if !column.silent() && !revved {
        return;
    }
    if revved {
        let why = format!(
            "it never passes {}, and the engine went over 3000 rpm with it",
            show(n.highest())
        );
        let written = Written {
            factor: 100.0,
            ..reading.written
        };
        reading.infer(column, "0 to 1", written, &why);
    } else {
        reading.questions.push(format!(
            "`{}` never passes {}: is it logged from 0 to 1 instead of in per cent?",
            reading.name,
            show(n.highest())
        ));
    }
}

/// High values outside of the usual, which another unit would explain.
fn other_unit(column: &Unread, reading: &mut Reading) {
    let entry = reading.entry;
    let Some([low, top]) = entry.usual else {
        return;
    };
    let n = &column.numbers;
    let raw = if entry.unit == "g" {
        n.farthest()
    } else {
        n.high()
    };
    let high = reading.standard(raw);
    if unclear_g(column, reading, high) || (low..=top).contains(&high) {
        return;
    }
    let impossible = impossible(entry, column, high);
    // A heading that states its unit is believed as long as the values are possible at all.
    if !column.silent() && !impossible {
        return;
    }
    let fits = fitting(column, reading.entry, raw);
    if fits.is_empty() {
        return;
    }
    if let [one] = fits[..]
        && impossible
        && column.silent()
        && let Some(written) = way(entry, one)
    {
        let why = format!(
            "it reaches {}, which cannot be {}; in {one} that is {}",
            show(raw),
            entry.unit_words(),
            shown(written.to_standard(raw), &entry.unit)
        );
        return reading.infer(column, one, written, &why);
    }
    let said = if column.silent() {
        "the heading does not say"
    } else {
        "the heading says so"
    };
    let carburettor = if entry.name == "fuel_pressure" && column.silent() && high > 15.0 {
        " (20-50 kPa is right for a carburettor)"
    } else {
        ""
    };
    reading.questions.push(format!(
        "`{}` reaches {} when read in {} ({said}): is it logged in {}?{carburettor}",
        reading.name,
        show(high),
        entry.unit_words(),
        fits.join(" or ")
    ));
}

/// The units of the dictionary's list in which the high readings would be usual ones.
pub(super) fn fitting(column: &Unread, entry: &'static Entry, raw: f64) -> Vec<&'static str> {
    let Some([low, top]) = entry.usual else {
        return Vec::new();
    };
    let least = entry.range[0];
    (entry.may_be.iter())
        .map(String::as_str)
        .filter(|symbol| {
            way(entry, symbol).is_some_and(|w| {
                let lowest = w.to_standard(column.numbers.low());
                (low..=top).contains(&w.to_standard(raw)) && lowest >= least
            })
        })
        .collect()
}

/// Readings that the standard unit cannot hold.
fn impossible(entry: &Entry, column: &Unread, high: f64) -> bool {
    let [least, most] = entry.range;
    let n = &column.numbers;
    match entry.name.as_str() {
        // Slower than a clock's hand, and yet it turns.
        "rpm" => {
            let fractions = n.share_of(|v| v.fract() != 0.0);
            (0.5..30.0).contains(&n.highest()) && fractions > 0.4 && n.kinds() >= 30
        }
        // No injector and no coil answers to so little (common practice: 0.1 ms is what an injector ignores).
        "injector_pulse" | "dwell" => {
            (n.highest() < 0.06 && n.highest() > 0.0) || !(least..=most).contains(&high)
        }
        _ => !(least..=most).contains(&high),
    }
}

/// From here on few cars corner on tyres alone, g (common practice).
const MUCH_G: f64 = 1.9;

/// Acceleration that may be either: asked, where the heading does not speak of g.
fn unclear_g(column: &Unread, reading: &mut Reading, high: f64) -> bool {
    let entry = reading.entry;
    let header = column.header.to_lowercase();
    let words: Vec<&str> = header.split(|c: char| !c.is_alphanumeric()).collect();
    let says_g = words
        .iter()
        .any(|w| ["g", "gs", "latg", "longg", "glat", "glong"].contains(w));
    if entry.unit != "g" || !column.silent() || says_g || !(MUCH_G..=entry.range[1]).contains(&high)
    {
        return false;
    }
    reading.questions.push(format!(
        "`{}` reaches {} and says no unit: read in g; is it m/s2?",
        reading.name,
        show(high)
    ));
    true
}

/// Asks about readings that cannot be.
pub(super) fn out_of_range(column: &Unread, reading: &mut Reading) {
    let entry = reading.entry;
    let [low, top] = entry.range;
    let value = reading.standard(column.numbers.middle());
    if (low..=top).contains(&value) {
        return;
    }
    reading.questions.push(format!(
        "half of `{}` lies around {}, outside of what is possible ({} to {}): is it the right column, and in the right unit?",
        reading.name,
        shown(value, &entry.unit),
        show(low),
        show(top)
    ));
}
