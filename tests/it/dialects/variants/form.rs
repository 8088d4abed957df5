//! Marks between fields and in numbers, units, and what stands before the names.

use super::{Alike, Variant, base, european, lines};
use crate::dialects::run::Run;
use crate::dialects::style::{Stamp, Style, Units};

pub fn marks() -> Vec<Variant> {
    let parted = |name, delimiter| {
        Variant::style(
            name,
            Style {
                delimiter,
                ..base()
            },
        )
    };
    let comma = |name, delimiter| {
        Variant::style(
            name,
            Style {
                delimiter,
                decimal: ',',
                ..base()
            },
        )
        .said(&["decimal mark is `,`"])
    };
    // Only speed and volts of the run pass a thousand where a group mark would show.
    let grouped =
        |name, style: Style| Variant::style(name, style).with(|run| run.col("rpm").decimals = 1);
    vec![
        Variant::style("plain", base()).said(&["`,`", "utf-8"]),
        parted("semicolons", ';').said(&["`;`"]),
        parted("tabs", '\t').said(&["tab"]),
        parted("pipes", '|').said(&["`|`"]),
        comma("semicolons and decimal commas", ';'),
        comma("tabs and decimal commas", '\t'),
        comma("pipes and decimal commas", '|'),
        comma("commas and quoted decimal commas", ','),
        grouped(
            "thousands with commas, quoted",
            Style {
                group: Some(','),
                ..base()
            },
        ),
        grouped(
            "thousands with commas between semicolons",
            Style {
                delimiter: ';',
                group: Some(','),
                ..base()
            },
        ),
        grouped(
            "thousands with points and decimal commas",
            Style {
                group: Some('.'),
                ..european()
            },
        ),
        Variant::style(
            "whole thousands with points and decimal commas",
            Style {
                group: Some('.'),
                ..european()
            },
        )
        .said(&["parts thousands"]),
    ]
}

/// The run in the units of a workshop that counts in Fahrenheit, psi and miles.
pub fn customary(run: &mut Run) {
    for name in [
        "coolant_temp",
        "intake_temp",
        "oil_temp",
        "egt_1",
        "egt_2",
        "egt_3",
        "egt_4",
        "egt_5",
        "egt_6",
        "bay_temp",
    ] {
        run.in_unit(name, "degF", 1.8, 32.0, 1);
    }
    // NIST SP 811, appendix B: 1 psi = 6.894757 kPa; 1 mi = 1.609344 km.
    for name in ["oil_pressure", "fuel_pressure", "map", "baro"] {
        run.in_unit(name, "psi", 1.0 / 6.894_757, 0.0, 3);
    }
    run.in_unit("speed", "mph", 1.0 / 1.609_344, 0.0, 2);
}

/// The run in bar, kelvin and metres.
fn metric(run: &mut Run) {
    for name in [
        "coolant_temp",
        "oil_temp",
        "intake_temp",
        "egt_1",
        "egt_2",
        "egt_3",
        "egt_4",
        "egt_5",
        "egt_6",
    ] {
        run.in_unit(name, "K", 1.0, 273.15, 2);
    }
    run.in_unit("oil_pressure", "bar", 0.01, 0.0, 3);
    run.in_unit("fuel_pressure", "bar", 0.01, 0.0, 3);
    run.in_unit("map", "mbar", 10.0, 0.0, 0);
    run.in_unit("baro", "hPa", 10.0, 0.0, 0);
    run.in_unit("battery_v", "mV", 1000.0, 0.0, 0);
    // NIST SP 811: standard gravity, 9.80665 m/s2.
    run.in_unit("lateral_g", "m/s2", 9.806_65, 0.0, 3);
    run.in_unit("injector_pulse", "us", 1000.0, 0.0, 0);
}

pub fn units() -> Vec<Variant> {
    let put = |name, units| Variant::style(name, Style { units, ..base() });
    let own = |name, units, change: fn(&mut Run)| put(name, units).with(change).alike(Alike::Near);
    let degrees = |run: &mut Run| {
        for col in run.cols.iter_mut().filter(|c| c.unit == "degC") {
            "\u{b0}C".clone_into(&mut col.unit);
        }
    };
    vec![
        put("units in square brackets", Units::Square),
        put("units in a row after the names", Units::RowAfter).said(&["units"]),
        put("units in a row before the names", Units::RowBefore).said(&["units"]),
        put("units glued to the names", Units::Glued),
        put("no units", Units::Absent),
        put("degree signs in UTF-8", Units::Round).with(degrees),
        own(
            "Fahrenheit, psi and miles in brackets",
            Units::Round,
            customary,
        ),
        own(
            "Fahrenheit, psi and miles in a units row",
            Units::RowAfter,
            customary,
        ),
        own(
            "Fahrenheit, psi and miles glued to the names",
            Units::Glued,
            customary,
        ),
        own(
            "kelvin, bar and metres a second squared",
            Units::RowAfter,
            metric,
        ),
        own(
            "no units, Fahrenheit and psi told by their range",
            Units::Absent,
            |run| {
                for name in ["coolant_temp", "oil_temp"] {
                    run.in_unit(name, "", 1.8, 32.0, 1);
                }
                run.in_unit("oil_pressure", "", 1.0 / 6.894_757, 0.0, 3);
                run.in_unit("map", "", 1.0 / 6.894_757, 0.0, 3);
                run.in_unit("baro", "", 1.0 / 6.894_757, 0.0, 3);
            },
        )
        .said(&["says no unit: inferred as"]),
        own("no units, bar told by its range", Units::Absent, |run| {
            run.in_unit("oil_pressure", "", 0.01, 0.0, 3);
            run.in_unit("fuel_pressure", "", 0.01, 0.0, 3);
        })
        .said(&["says no unit: inferred as"]),
    ]
}

pub fn preambles() -> Vec<Variant> {
    let after = |name, preamble| Variant::style(name, Style { preamble, ..base() });
    let many = |count: usize| {
        (0..count)
            .map(|n| format!("# setting {n} = {}", n * 7 % 100))
            .collect()
    };
    let pairs = lines(&[
        "Car,Hill special",
        "Driver,",
        "Date,2025-06-14",
        "Channels,40",
        "",
        "Fuel,E85",
        "Ratio,9.0",
    ]);
    let no_clock = |name, preamble: &[&str]| {
        Variant::style(
            name,
            Style {
                preamble: lines(preamble),
                stamp: Stamp::None,
                ..base()
            },
        )
        .said(&["20"])
    };
    vec![
        after("keys and values before the names", pairs),
        after("sixty comment lines", many(60)),
        after("five thousand comment lines", many(5000)),
        after(
            "a title with many commas",
            lines(&["Run log, hill special, second run, dry, 18 degC, wind light, E85"]),
        ),
        after(
            "a date before seconds",
            lines(&["Date: 2025-06-14", "Start: 15:59:00", ""]),
        ),
        no_clock(
            "no clock but a row rate",
            &["Run log", "Sample rate: 20 Hz"],
        ),
        no_clock(
            "no clock but a rate as key and value",
            &["Run log,hill", "Sample Rate (Hz),20"],
        ),
        no_clock("no clock but a period", &["# sample interval: 50 ms"]),
    ]
}
