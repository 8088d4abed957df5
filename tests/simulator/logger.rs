//! The logger: what is sampled how often, how finely, and with what noise.

use super::car::Stretch;
use super::dice::{Dice, Stream};
use super::log::{Column, Log};
use super::world::{STEP, World};
use super::{Case, Kind};

/// Where a channel comes from: it is blank while its source is dead.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Source {
    Controller,
    Logger,
}

/// One channel of the logger.
struct Channel {
    header: &'static str,
    from: Source,
    /// Samples per second.
    hz: f64,
    decimals: usize,
    /// Smallest step.
    step: f64,
    /// Standard deviation of the noise.
    noise: f64,
    read: fn(&World) -> f64,
}

const fn channel(
    header: &'static str,
    from: Source,
    hz: f64,
    decimals: usize,
    step: f64,
    noise: f64,
    read: fn(&World) -> f64,
) -> Channel {
    Channel {
        header,
        from,
        hz,
        decimals,
        step,
        noise,
        read,
    }
}

fn on(yes: bool) -> f64 {
    if yes { 1.0 } else { 0.0 }
}

fn egt(w: &World, c: usize) -> f64 {
    // an open thermocouple drives its amplifier to the top of the scale
    if w.t >= w.car.probe_open[c] {
        1250.0
    } else {
        w.exhaust.probe[c]
    }
}

fn knocks(w: &World, cylinders: [usize; 3]) -> f64 {
    cylinders.iter().map(|&c| f64::from(w.six.knocks[c])).sum()
}

/// Every channel but the time.
fn channels() -> Vec<Channel> {
    use Source::{Controller as C, Logger as L};
    vec![
        channel("Engine Speed (rpm)", C, 50.0, 0, 1.0, 0.0, |w| {
            w.trigger.rpm
        }),
        channel("MAP (kPa)", C, 50.0, 1, 0.1, 0.3, map),
        channel("Throttle (%)", C, 50.0, 1, 0.1, 0.06, |w| {
            0.4 + 99.2 * w.blade
        }),
        channel("Battery (V)", C, 50.0, 2, 0.02, 0.018, |w| {
            w.electric.controller_v
        }),
        channel("Lambda", C, 25.0, 3, 0.005, 0.003, |w| w.exhaust.lambda),
        channel("Lambda Target", C, 10.0, 3, 0.005, 0.0, |w| w.ctrl.target),
        channel("Ignition Advance (deg)", C, 50.0, 1, 0.1, 0.0, |w| {
            if w.trigger.rpm > 0.0 && w.ctrl.sparking {
                w.ctrl.advance
            } else {
                0.0
            }
        }),
        channel("Injector Pulse (ms)", C, 50.0, 2, 0.01, 0.0, |w| {
            w.ctrl.pulse
        }),
        channel("Injector Duty (%)", C, 25.0, 1, 0.1, 0.0, |w| w.ctrl.duty),
        channel("Fuel Cut", C, 50.0, 0, 1.0, 0.0, |w| {
            on(w.ctrl.cut && w.trigger.rpm > 0.0)
        }),
        channel("Starter", C, 25.0, 0, 1.0, 0.0, |w| on(w.hands.starter)),
        channel("Fan", C, 1.0, 0, 1.0, 0.0, |_| 0.0),
        channel("Sync Errors", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.trigger.errors)
        }),
        channel("Uptime (s)", C, 5.0, 1, 0.1, 0.0, |w| w.ctrl.uptime),
        channel("Coolant Temp (degC)", C, 2.0, 0, 1.0, 0.15, |w| {
            w.coolant_read()
        }),
        channel("Intake Temp (degC)", C, 2.0, 0, 1.0, 0.15, |w| {
            w.heat.intake
        }),
        channel("Oil Temp (degC)", C, 2.0, 0, 1.0, 0.15, |w| w.heat.oil),
        channel("Oil Press (kPa)", C, 25.0, 0, 1.0, 2.5, |w| w.oil.kpa),
        channel("Fuel Press (kPa)", C, 25.0, 0, 1.0, 1.8, |w| w.fuel_kpa),
        channel("Baro (kPa)", C, 1.0, 1, 0.1, 0.04, |w| w.baro),
        channel("Knock Cyl 1", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[0])
        }),
        channel("Knock Cyl 2", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[1])
        }),
        channel("Knock Cyl 3", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[2])
        }),
        channel("Knock Cyl 4", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[3])
        }),
        channel("Knock Cyl 5", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[4])
        }),
        channel("Knock Cyl 6", C, 10.0, 0, 1.0, 0.0, |w| {
            f64::from(w.six.knocks[5])
        }),
        channel("Knock Sensor A", C, 10.0, 0, 1.0, 0.0, |w| {
            knocks(w, [0, 1, 2])
        }),
        channel("Knock Sensor B", C, 10.0, 0, 1.0, 0.0, |w| {
            knocks(w, [3, 4, 5])
        }),
        channel("EGT Cyl 1 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 0)),
        channel("EGT Cyl 2 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 1)),
        channel("EGT Cyl 3 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 2)),
        channel("EGT Cyl 4 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 3)),
        channel("EGT Cyl 5 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 4)),
        channel("EGT Cyl 6 (degC)", L, 10.0, 0, 1.0, 0.8, |w| egt(w, 5)),
        channel("Bay Temp (degC)", L, 1.0, 0, 1.0, 0.2, |w| w.heat.bay),
        channel("Road Speed (km/h)", L, 10.0, 1, 0.1, 0.0, |w| {
            w.crank.speed * 3.6
        }),
        channel("Lateral G (g)", L, 25.0, 2, 0.01, 0.012, |w| {
            w.lateral + 0.002 * (w.t * 190.0).sin() * w.crank.rpm().min(2000.0) / 1000.0
        }),
        channel("Gear", C, 10.0, 0, 1.0, 0.0, |w| w.hands.gear as f64),
        channel("Aux 7", L, 2.0, 2, 0.01, 0.02, |w| {
            2.31 + 0.4 * (w.t / 47.0).sin()
        }),
        channel("Spare Byte 2", C, 1.0, 0, 1.0, 0.0, |w| {
            ((w.t / 3.0) as u64 % 16) as f64
        }),
    ]
}

/// MAP with the pulses of the intake strokes, which show most at low speed.
fn map(w: &World) -> f64 {
    let rpm = w.crank.rpm();
    let pulse = if rpm > 60.0 {
        14.0 / (6.0 + rpm / 150.0)
    } else {
        0.0
    };
    w.map_read() + pulse * (std::f64::consts::TAU * w.crank.phase).cos()
}

/// Rows per second.
fn row_hz(kind: Kind) -> f64 {
    match kind {
        Kind::FirstStart | Kind::HillRun => 50.0,
        Kind::Standstill => 25.0,
    }
}

/// Is the logger able to write at `t`?
fn writing(w: &World) -> bool {
    let stalled = w.car.logger_stall.is_some_and(|s| s.holds(w.t));
    // after power returns it needs a moment to open its file again
    let dark = |s: Stretch| {
        Stretch {
            from: s.from,
            len: s.len + 0.35,
        }
        .holds(w.t)
    };
    !(stalled || w.car.logger_on_relay && w.car.relay_open.is_some_and(dark))
}

/// No scenario takes longer, s.
const LONGEST_S: f64 = 900.0;

/// Runs the car and records it.
pub fn record(case: &Case) -> Log {
    let mut world = World::new(case);
    let mut noise = Dice::new(case.seed, Stream::Noise);
    let specs = channels();
    let hz = row_hz(case.kind);
    let every: Vec<u64> = specs
        .iter()
        .map(|c| (hz / c.hz).round().max(1.0) as u64)
        .collect();
    let mut time = Column {
        header: "Time (s)",
        decimals: 2,
        cells: Vec::new(),
    };
    let mut columns: Vec<Column> = specs
        .iter()
        .map(|c| Column {
            header: c.header,
            decimals: c.decimals,
            cells: Vec::new(),
        })
        .collect();
    let steps = (1.0 / hz / STEP).round() as u64;
    let mut count = 0_u64;
    while world.step() && world.t < LONGEST_S {
        count += 1;
        if !count.is_multiple_of(steps) {
            continue;
        }
        let row = count / steps;
        if !writing(&world) {
            continue;
        }
        let back = world
            .car
            .clock_back
            .map_or(0.0, |s| if world.t >= s.from { s.len } else { 0.0 });
        time.cells.push(Some((row as f64 / hz) - back));
        for (i, spec) in specs.iter().enumerate() {
            // slow channels take turns, so that no row carries them all
            let due = every[i] == 1 || row % every[i] == (i as u64 * 3) % every[i];
            let heard = spec.from == Source::Logger || world.ctrl.alive;
            columns[i]
                .cells
                .push((due && heard).then(|| sample(spec, &world, &mut noise)));
        }
    }
    columns.insert(0, time);
    let what = match case.kind {
        Kind::FirstStart => "first start",
        Kind::HillRun => "hill run",
        Kind::Standstill => "standing, idle",
    };
    let preamble = vec![
        format!("Run log: Hill special; {what}"),
        format!("Row rate: {hz:.0} Hz; car: straight six on E85; units in brackets"),
    ];
    Log { preamble, columns }
}

fn sample(spec: &Channel, world: &World, noise: &mut Dice) -> f64 {
    let mut value = (spec.read)(world);
    if spec.noise > 0.0 {
        value += spec.noise * noise.gauss();
    }
    let gauge = matches!(
        spec.header,
        "Oil Press (kPa)" | "Fuel Press (kPa)" | "Throttle (%)"
    );
    if gauge {
        value = value.max(0.0);
    }
    (value / spec.step).round() * spec.step
}
