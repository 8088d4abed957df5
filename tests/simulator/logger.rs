//! The logger: what is sampled how often, how finely, and with what noise.

use super::car::Stretch;
use super::dice::{Dice, Stream};
use super::engine::Engine;
use super::log::{Column, Log};
use super::nuisance::Nuisance;
use super::physics::MOST;
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
    read: Box<dyn Fn(&World) -> f64>,
}

fn channel(
    header: &'static str,
    from: Source,
    hz: f64,
    decimals: usize,
    step: f64,
    noise: f64,
    read: impl Fn(&World) -> f64 + 'static,
) -> Channel {
    Channel {
        header,
        from,
        hz,
        decimals,
        step,
        noise,
        read: Box::new(read),
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

fn knocks(w: &World, bank: usize) -> f64 {
    let engine = w.car.engine;
    let heard = (0..engine.cylinders()).filter(|&c| engine.bank(c) == bank);
    heard.map(|c| f64::from(w.six.knocks[c])).sum()
}

const KNOCK: [&str; MOST] = [
    "Knock Cyl 1",
    "Knock Cyl 2",
    "Knock Cyl 3",
    "Knock Cyl 4",
    "Knock Cyl 5",
    "Knock Cyl 6",
    "Knock Cyl 7",
    "Knock Cyl 8",
    "Knock Cyl 9",
    "Knock Cyl 10",
    "Knock Cyl 11",
    "Knock Cyl 12",
];
const EGT: [&str; MOST] = [
    "EGT Cyl 1 (degC)",
    "EGT Cyl 2 (degC)",
    "EGT Cyl 3 (degC)",
    "EGT Cyl 4 (degC)",
    "EGT Cyl 5 (degC)",
    "EGT Cyl 6 (degC)",
    "EGT Cyl 7 (degC)",
    "EGT Cyl 8 (degC)",
    "EGT Cyl 9 (degC)",
    "EGT Cyl 10 (degC)",
    "EGT Cyl 11 (degC)",
    "EGT Cyl 12 (degC)",
];

/// Every channel but the time.
fn channels(engine: &Engine) -> Vec<Channel> {
    use Source::{Controller as C, Logger as L};
    let mut all = vec![
        channel("Engine Speed (rpm)", C, 50.0, 0, 1.0, 0.0, |w| {
            w.trigger.rpm
        }),
        channel("MAP (kPa)", C, 50.0, 1, 0.1, 0.3, map),
        channel("Throttle (%)", C, 50.0, 1, 0.1, 0.06, |w| {
            0.4 + 99.2 * w.blade
        }),
        channel("Battery (V)", C, 50.0, 2, 0.02, 0.018, |w| {
            w.electric.controller_v * w.car.engine.cells / 6.0
        }),
        channel("Lambda", C, 25.0, 3, 0.005, 0.003, |w| w.lambda),
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
        channel("Oil Press (kPa)", C, 25.0, 0, 1.0, 2.5, |w| w.oil_sender),
        channel("Fuel Press (kPa)", C, 25.0, 0, 1.0, 1.8, |w| w.fuel_read()),
        channel("Baro (kPa)", C, 1.0, 1, 0.1, 0.04, |w| w.baro),
    ];
    let n = engine.cylinders();
    for (c, header) in KNOCK.into_iter().enumerate().take(n) {
        all.push(channel(header, C, 10.0, 0, 1.0, 0.0, move |w| {
            f64::from(w.six.knocks[c])
        }));
    }
    all.push(channel("Knock Sensor A", C, 10.0, 0, 1.0, 0.0, |w| {
        knocks(w, 0)
    }));
    if !engine.second_bank.is_empty() {
        all.push(channel("Knock Sensor B", C, 10.0, 0, 1.0, 0.0, |w| {
            knocks(w, 1)
        }));
    }
    for (c, header) in EGT.into_iter().enumerate().take(n) {
        all.push(channel(header, L, 10.0, 0, 1.0, 0.8, move |w| egt(w, c)));
    }
    all.extend([
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
    ]);
    fitted(all, engine)
}

/// Channels as this engine has them.
fn fitted(mut all: Vec<Channel>, engine: &Engine) -> Vec<Channel> {
    use Source::Controller as C;
    if engine.carburettor {
        let no = [
            "Lambda Target",
            "Injector Pulse (ms)",
            "Injector Duty (%)",
            "Fuel Cut",
        ];
        all.retain(|c| !no.contains(&c.header));
    }
    if !engine.oil {
        all.retain(|c| !c.header.starts_with("Oil"));
    }
    if engine.closed_loop {
        all.push(channel("Fuel Trim (%)", C, 10.0, 1, 0.1, 0.0, |w| {
            100.0 * w.ctrl.trim
        }));
    }
    if engine.boost > 0.0 {
        let target = engine.boost;
        all.push(channel(
            "Boost Target (kPa)",
            C,
            10.0,
            0,
            1.0,
            0.0,
            move |w| {
                // asked for once there is flow enough to give it
                if w.blade > 0.7 && w.trigger.rpm > 3600.0 {
                    target
                } else {
                    w.baro
                }
            },
        ));
    }
    if engine.staged {
        all.push(channel("Staged Duty (%)", C, 25.0, 1, 0.1, 0.0, |w| {
            w.ctrl.staged
        }));
    }
    if engine.by_wire {
        all.push(channel("Pedal (%)", C, 50.0, 1, 0.1, 0.06, |w| {
            100.0 * w.hands.throttle
        }));
        all.push(channel("Throttle 2 (%)", C, 50.0, 1, 0.1, 0.06, |w| {
            // a worn track: off in the middle of the travel, right at its ends
            let off = w.car.second_tps * (std::f64::consts::PI * w.blade).sin();
            0.4 + 99.2 * w.blade + off
        }));
    }
    all
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
    let mut card = Dice::new(case.seed ^ 0x5eed, Stream::Wires);
    let odd = case.nuisance;
    let mut specs = channels(case.engine);
    soften(&mut specs, odd, &mut card);
    let hz = odd
        .and_then(Nuisance::row_hz)
        .unwrap_or_else(|| row_hz(case.kind));
    let every: Vec<u64> = specs
        .iter()
        .map(|c| (hz / c.hz).round().max(1.0) as u64)
        .collect();
    let mut time = Column {
        header: "Time (s)",
        decimals: if hz > 100.0 { 3 } else { 2 },
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
    let steps = (1.0 / hz / STEP).round().max(1.0) as u64;
    let per_step = (hz * STEP).round().max(1.0) as u64;
    let last_s = if hz > 100.0 { 100.0 } else { LONGEST_S };
    let first_s = if odd == Some(Nuisance::FromTheMiddle) {
        55.0
    } else {
        0.0
    };
    let mut count = 0_u64;
    while world.step() && world.t < last_s {
        count += 1;
        if !count.is_multiple_of(steps) || world.t < first_s || !writing(&world) {
            continue;
        }
        for part in 0..per_step {
            let row = count / steps * per_step + part;
            if card.chance(world.car.rows_lost) {
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
    }
    columns.insert(0, time);
    let what = match case.kind {
        Kind::FirstStart => "first start",
        Kind::HillRun => "hill run",
        Kind::Standstill => "standing, idle",
    };
    let car = if case.engine.name == "hill-special" {
        "Hill special; ".to_owned()
    } else {
        format!("{}; ", case.engine.name)
    };
    let kind = if case.engine.name == "hill-special" {
        "straight six on E85".to_owned()
    } else {
        format!("{} cylinders", case.engine.cylinders())
    };
    let preamble = vec![
        format!("Run log: {car}{what}"),
        format!("Row rate: {hz:.0} Hz; car: {kind}; units in brackets"),
    ];
    Log { preamble, columns }
}

/// Channels as an odd logger has them.
fn soften(specs: &mut Vec<Channel>, odd: Option<Nuisance>, dice: &mut Dice) {
    let Some(odd) = odd else {
        return;
    };
    if odd == Nuisance::FewChannels {
        specs.retain(|c| c.header == "Engine Speed (rpm)" || !dice.chance(0.33));
    }
    for spec in specs {
        if odd == Nuisance::NoisySensors {
            spec.noise *= 3.0;
        }
        if let Some(step) = odd.step(spec.header) {
            spec.step = spec.step.max(step);
        }
    }
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
