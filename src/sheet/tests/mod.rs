//! Tests of the build sheet as a whole.

mod sample;
mod starter;
mod wrong_text;
mod wrong_values;

use super::*;

/// The sample of the project's design, section 4, word for word but for its comments, and the entries that came later.
const SAMPLE: &str = r#"[engine]
name = "Hill special"
cylinders = 6
firing_order = [1, 5, 3, 6, 2, 4]
banks = { front = [1, 2, 3], rear = [4, 5, 6] }
strokes = 4                      # 2, 4, or "rotary"
displacement_cc = 2500
compression_ratio = 9.0
idle_rpm = 1100
rev_limit_rpm = 7600
load_from = "map"                # or "tps"
start_by = "starter"             # roller, push
timing_checked = false
anti_lag = false
[fuel]
kind = "e85"
system = "port"
regulator = "manifold"
base_pressure = 300
injectors_per_cylinder = 1
injections_per_cycle = 1
pulse_includes_dead_time = true
injector_cc_min = 850
lambda_scale_afr = 14.7
lambda_at = { lambda = [1, 2, 3], lambda_2 = [4, 5, 6] }
[air]
altitude_m = 200
boost_limit = 180
[oil]
system = "wet"
relief = 450
bearings = "plain"
[cooling]
fan = true
cap = 110
glycol = 0.5
[electrical]
nominal_v = 12
battery_type = "lead-acid"
battery_ah = 20
battery_tap = "controller"
charging = "alternator"
alternator_a = 65
alternator_ratio = 2.2
regulator_v = 14.2
reset_v = 9.0
loads = { fuel_pump = 11.0, ignition = 8.0, injectors = 6.0 }
[sensors]
egt_cylinder = [1, 2, 3, 4, 5, 6]
knock_sensors = { a = [1, 2, 3], b = [4, 5, 6] }
[limits]
"egt-spread.spread" = 90
[channels]
"egt_1" = "Exh Temp Front"
[log]
delimiter = ";"
decimal = ","
sample_hz = 100
names_line = 3
units_line = 4
clock = "Run Clock"
clock_unit = "ms"
encoding = "windows-1252"
date_order = "dmy"
[units]
"oil_pressure" = "psi"
"map" = "kPa gauge"
[display]
temperature = "degC"
pressure = "psi"
speed = "mph"
"#;

#[track_caller]
fn good(text: &str) -> Sheet {
    match parse("car.toml", text) {
        Ok(sheet) => sheet,
        Err(error) => panic!("{error}\n---\n{text}"),
    }
}

fn problems(text: &str) -> Vec<Problem> {
    match parse("car.toml", text) {
        Ok(_) => Vec::new(),
        Err(error) => error.problems().to_vec(),
    }
}

/// The sheet must have exactly this one problem.
#[track_caller]
fn one(text: &str, line: usize, underlined: &str, what: &str, wanted: &str) {
    let found = problems(text);
    let [problem] = found.as_slice() else {
        panic!("{} problems: {found:#?}", found.len())
    };
    let place = problem.place.expect("a place");
    let seen = (
        place.line,
        problem.underlined(),
        problem.what.as_str(),
        problem.wanted.as_str(),
    );
    assert_eq!(seen, (line, underlined, what, wanted));
}
