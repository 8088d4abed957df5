//! Tests of the whole simulated car: healthy runs look healthy, faults act, logs repeat.

use super::{Case, Fault, FaultKind, Kind, Log, all_faults, simulate};

fn run(kind: Kind, fault: Option<FaultKind>, seed: u64) -> Log {
    simulate(&Case::new(
        kind,
        fault.map(|f| Fault::seeded(f, seed)),
        seed,
    ))
}

fn values(log: &Log, header: &str) -> Vec<f64> {
    log.column(header)
        .into_iter()
        .flatten()
        .filter_map(|c| *c)
        .collect()
}

fn largest(log: &Log, header: &str) -> f64 {
    values(log, header).into_iter().fold(f64::MIN, f64::max)
}

fn median(mut x: Vec<f64>) -> f64 {
    x.sort_by(f64::total_cmp);
    x.get(x.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Median of a column over the rows whose engine speed lies in a range.
fn at_speed(log: &Log, header: &str, low: f64, high: f64) -> f64 {
    let rpm = log.column("Engine Speed").unwrap_or_default();
    let cells = log.column(header).unwrap_or_default();
    let there = rpm.iter().zip(cells).filter_map(|(r, c)| {
        let r = (*r)?;
        if r >= low && r < high { *c } else { None }
    });
    median(there.collect())
}

/// Common practice, no source: what an experienced builder calls healthy.
#[test]
fn healthy_cars_look_healthy() {
    for seed in 100..110 {
        let log = run(Kind::FirstStart, None, seed);
        let minutes = log.rows() as f64 / 50.0 / 60.0;
        assert!((4.0..7.0).contains(&minutes), "{seed}: {minutes} min");
        let rest = median(values(&log, "Battery")[50..120].to_vec());
        assert!((12.35..12.65).contains(&rest), "{seed}: rest {rest} V");
        let charging = at_speed(&log, "Battery", 1800.0, 4000.0);
        assert!(
            (13.8..14.5).contains(&charging),
            "{seed}: charging {charging} V"
        );
        let cranking = at_speed(&log, "Battery", 140.0, 300.0);
        assert!(
            (9.6..11.2).contains(&cranking),
            "{seed}: cranking {cranking} V"
        );
        let cranked = values(&log, "Starter").iter().sum::<f64>() / 25.0;
        assert!(
            (0.6..2.8).contains(&cranked),
            "{seed}: cranked for {cranked} s"
        );
        let warm = largest(&log, "Coolant Temp");
        assert!((60.0..92.0).contains(&warm), "{seed}: coolant {warm} degC");
        let map = at_speed(&log, "MAP", 1000.0, 1200.0);
        assert!((28.0..45.0).contains(&map), "{seed}: idle MAP {map} kPa");
        assert!(largest(&log, "Sync Errors") < 12.0);
    }
    for seed in 100..106 {
        let log = run(Kind::HillRun, None, seed);
        assert!(largest(&log, "Engine Speed") < 7600.0, "{seed}");
        let hottest = largest(&log, "EGT Cyl 2");
        assert!(
            (740.0..880.0).contains(&hottest),
            "{seed}: EGT {hottest} degC"
        );
        assert!(largest(&log, "Coolant Temp") < 108.0, "{seed}");
        assert!(largest(&log, "Oil Temp") < 128.0, "{seed}");
        let hot = at_speed(&log, "Oil Press", 4500.0, 7300.0);
        assert!(hot > 350.0, "{seed}: oil {hot} kPa");
        assert!(
            largest(&log, "Knock Sensor A") + largest(&log, "Knock Sensor B") < 10.0,
            "{seed}"
        );
        let lambda = at_speed(&log, "Lambda", 6000.0, 7000.0);
        assert!((0.83..0.90).contains(&lambda), "{seed}: lambda {lambda}");
    }
}

#[test]
fn the_same_case_gives_the_same_bytes() {
    let fault = Some(FaultKind::HotSpot);
    let text = run(Kind::HillRun, fault, 4).to_csv();
    assert_eq!(text, run(Kind::HillRun, fault, 4).to_csv());
    assert!(text.len() < 4_000_000, "{} bytes", text.len());
    assert_ne!(text, run(Kind::HillRun, fault, 5).to_csv());
}

/// Weather and driver belong to the seed: a fault in one port leaves the air outside alone.
#[test]
fn a_fault_leaves_the_day_alone() {
    let well = run(Kind::FirstStart, None, 9);
    let ill = run(Kind::FirstStart, Some(FaultKind::ProbeOpen), 9);
    assert_eq!(well.column("Coolant Temp"), ill.column("Coolant Temp"));
    assert_eq!(well.column("Engine Speed"), ill.column("Engine Speed"));
}

#[test]
fn every_fault_changes_the_log_and_has_a_truth() {
    for (fault, kind) in all_faults() {
        // each on the first engine that can have it
        let engine = super::engine::ALL
            .into_iter()
            .find(|e| Fault::fits(fault, e) && (fault != FaultKind::FuelBatch || e.closed_loop))
            .expect("an engine for it");
        let well = Case {
            engine,
            ..Case::new(kind, None, 3)
        };
        let ill = Case {
            engine,
            ..Case::new(
                kind,
                Some(Fault::graded(fault, 0.5, engine.cylinders(), 3)),
                3,
            )
        };
        assert!(well.truth().is_none());
        let truth = ill.truth().expect("a fault has a truth");
        assert_eq!(truth.fault, fault.name());
        assert!(
            truth.expect_warn.contains(&truth.start_here),
            "{}",
            truth.fault
        );
        assert!(truth.physical.len() > 10);
        assert_ne!(
            simulate(&well).to_csv(),
            simulate(&ill).to_csv(),
            "{}",
            truth.fault
        );
        assert_eq!(FaultKind::named(fault.name()), Some(fault));
    }
}

/// The one weak cylinder runs off its neighbours by more than any healthy scatter.
#[test]
fn a_dead_cylinder_is_cold() {
    for (fault, seed) in [(FaultKind::DeadFuel, 21), (FaultKind::DeadSpark, 22)] {
        let case = Case::new(Kind::FirstStart, Some(Fault::seeded(fault, seed)), seed);
        let truth = case.truth().expect("a fault has a truth");
        let log = simulate(&case);
        for c in 1..=6 {
            let egt = at_speed(&log, &format!("EGT Cyl {c}"), 1800.0, 3600.0);
            assert_eq!(
                egt < 250.0,
                truth.cylinder == Some(c),
                "cylinder {c}: {egt} degC"
            );
        }
    }
}

/// Energy and continuity: a slack belt leaves the low speeds charged, a fading alternator does not.
#[test]
fn charging_faults_differ() {
    let belt = run(Kind::HillRun, Some(FaultKind::BeltSlip), 31);
    assert!(at_speed(&belt, "Battery", 2000.0, 3000.0) > 13.7);
    assert!(at_speed(&belt, "Battery", 6000.0, 7300.0) < 13.4);
    let fade = run(Kind::HillRun, Some(FaultKind::AlternatorFade), 31);
    let volts = values(&fade, "Battery");
    assert!(median(volts[40 * 50..60 * 50].to_vec()) > 13.7);
    assert!(median(volts[260 * 50..280 * 50].to_vec()) < 12.8);
    let none = run(Kind::FirstStart, Some(FaultKind::NoCharge), 31);
    assert!(at_speed(&none, "Battery", 2500.0, 4000.0) < 12.6);
    let high = run(Kind::FirstStart, Some(FaultKind::RegulatorHigh), 31);
    assert!(at_speed(&high, "Battery", 2500.0, 4000.0) > 16.0);
}

/// A pressure regulator holds the difference over the injectors: gauge + baro - MAP.
#[test]
fn fuel_pressure_follows_the_manifold() {
    let log = run(Kind::FirstStart, None, 41);
    let difference = |log: &Log| {
        at_speed(log, "Fuel Press", 1900.0, 3600.0) + median(values(log, "Baro"))
            - at_speed(log, "MAP", 1900.0, 3600.0)
    };
    assert!((difference(&log) - 300.0).abs() < 4.0);
    let off = run(Kind::FirstStart, Some(FaultKind::RegulatorHose), 41);
    assert!(difference(&off) > 350.0);
}

#[test]
fn a_stalled_card_leaves_a_gap_and_a_set_clock_runs_back() {
    let steps = |log: &Log| {
        let t = values(log, "Time");
        t.windows(2)
            .map(|w| w[1] - w[0])
            .fold((f64::MAX, f64::MIN), |(a, b), d| (a.min(d), b.max(d)))
    };
    assert!(steps(&run(Kind::FirstStart, Some(FaultKind::LoggerStall), 51)).1 > 1.4);
    assert!(steps(&run(Kind::FirstStart, Some(FaultKind::ClockBack), 51)).0 < -0.5);
    let (low, high) = steps(&run(Kind::FirstStart, None, 51));
    assert!(low > 0.015 && high < 0.025);
}

#[test]
fn power_lost_restarts_the_controller() {
    let (mut with, mut without) = (0, 0);
    for seed in 60..68 {
        let fault = Fault::seeded(FaultKind::PowerDrop, seed);
        let log = simulate(&Case::new(Kind::HillRun, Some(fault), seed));
        let uptime = values(&log, "Uptime");
        assert!(uptime.windows(2).any(|w| w[1] < w[0] - 10.0), "{seed}");
        match fault {
            Fault::PowerDrop {
                with_logger: true, ..
            } => with += 1,
            _ => without += 1,
        }
    }
    assert!(
        with > 0 && without > 0,
        "both ways of losing power are drawn"
    );
}
