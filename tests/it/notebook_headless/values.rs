//! What the shipped notebooks show, held against figures that are worked out here from the bare cells of the CSV, without
//! the program's reader, phases or statistics.

use super::Ran;
use super::bare::{Bare, median};

#[test]
fn first_start_shows_what_the_log_holds() {
    let (ran, log) = (
        Ran::of("first-start", "first-start.csv"),
        Bare::read("first-start.csv"),
    );
    let time = log.all("Time");
    let (from, to) = (time[0].0, time[time.len() - 1].0);
    ran.near("recording-figures", 0, "from, s", from, 0.005);
    ran.near("recording-figures", 0, "length, s", to - from, 0.5);
    ran.near("recording-figures", 0, "row_every, s", 0.02, 0.0005);
    ran.near("recording-figures", 0, "gaps", 0.0, 0.0);

    let row = |name: &str| {
        let rows = ran.table("channels");
        rows.iter()
            .position(|r| r["channel"] == name)
            .expect("a channel")
    };
    for (name, column, off) in [
        ("battery_v", "Battery", 0.0051),
        ("rpm", "Engine Speed", 0.51),
        ("egt_3", "EGT Cyl 3", 0.51),
        ("oil_pressure", "Oil Press", 0.51),
        ("tps", "Throttle", 0.051),
    ] {
        let values: Vec<f64> = log.all(column).iter().map(|c| c.1).collect();
        ran.near("channels", row(name), "readings", values.len() as f64, 0.0);
        let least = values.iter().copied().fold(f64::MAX, f64::min);
        ran.near("channels", row(name), "min", least, off);
        ran.near("channels", row(name), "median", median(values), off);
        ran.near("channels", row(name), "max", log.max(column), off);
    }

    let (fired, stopped) = log.running();
    let (turned, _) = log.over("Engine Speed", 0.0);
    // The log says itself when the starter was on, twice as seldom as it says the speed.
    let starter = log.over("Starter", 0.0);
    ran.near(
        "phases-figures",
        1,
        "length, s",
        starter.1 - starter.0,
        0.15,
    );
    ran.near("phases-figures", 2, "length, s", stopped - fired, 1.5);
    ran.near(
        "supply-figures",
        0,
        "median, V",
        median(log.within("Battery", from, turned - 1.0)),
        0.02,
    );
    ran.near(
        "supply-figures",
        1,
        "median, V",
        median(log.within("Battery", starter.0, starter.1)),
        0.15,
    );
    ran.near(
        "supply-figures",
        2,
        "median, V",
        median(log.within("Battery", fired, stopped)),
        0.02,
    );
    let losses = log.last("Sync Errors") - log.all("Sync Errors")[0].1;
    ran.near("trigger-figures", 1, "losses", losses, 0.0);
    ran.near(
        "oil-figures",
        0,
        "turned_before_100_kPa, s",
        log.over("Oil Press", 100.0).0 - turned,
        0.08,
    );
    let oil = median(log.within("Oil Press", fired + 3.0, stopped));
    ran.near("oil-figures", 0, "median_running, kPa", oil, 1.0);
    let fuel = median(log.within("Fuel Press", fired, stopped));
    ran.near("fuel-figures", 0, "fuel_pressure, kPa", fuel, 1.0);
    for cylinder in 1..=6 {
        let egt = format!("EGT Cyl {cylinder}");
        let before = median(log.within(&egt, from, turned - 1.0));
        let row = cylinder - 1;
        ran.near("cylinders-figures", row, "before, degC", before, 0.51);
        ran.near(
            "cylinders-figures",
            row,
            "greatest, degC",
            log.max(&egt),
            0.51,
        );
        ran.near(
            "cylinders-figures",
            row,
            "rose_by, degC",
            log.max(&egt) - before,
            0.51,
        );
    }
    ran.near(
        "heat-figures",
        0,
        "greatest, degC",
        log.max("Coolant Temp"),
        0.51,
    );
    ran.near(
        "heat-figures",
        1,
        "at_the_end, degC",
        log.last("Oil Temp"),
        0.51,
    );
    assert!(
        ran.plain("review-all").contains("No check warns"),
        "{}",
        ran.plain("review-all")
    );
}

#[test]
fn cylinders_finds_the_dead_one_by_as_much_as_the_log_shows() {
    let log = Bare::read("first-start-dead-cylinder.csv");
    let ran = Ran::of("cylinders", "first-start-dead-cylinder.csv");
    let (fired, stopped) = log.running();
    let settled = (fired + 30.0, stopped - 0.3);
    for cylinder in 1..=6 {
        let egt = format!("EGT Cyl {cylinder}");
        let own = log
            .all(&egt)
            .iter()
            .filter(|c| (settled.0..settled.1).contains(&c.0));
        let off = own.map(|(time, value)| {
            value
                - median(
                    (1..=6)
                        .map(|k| log.at(&format!("EGT Cyl {k}"), *time))
                        .collect(),
                )
        });
        let values = log.within(&egt, settled.0, settled.1);
        ran.near("offsets", cylinder - 1, "median, degC", median(values), 2.0);
        ran.near(
            "offsets",
            cylinder - 1,
            "from_the_centre, degC",
            median(off.collect()),
            2.0,
        );
    }
    // Its own bank, cylinders 4 to 6, has a median that is not that of all.
    assert_eq!(ran.table("odd")[0]["furthest"], "cylinder 4");
    assert_eq!(ran.table("lit")[0]["channel"], "egt_4");
    let hot = log.all("EGT Cyl 4").iter().filter(|c| c.1 > 200.0).count();
    assert_eq!(hot, 0, "the sample's cylinder 4 is dead");
    ran.near("lit", 0, "time_over_200_degC, s", 0.0, 0.0);
    let dead = log.within("EGT Cyl 4", settled.0, settled.1);
    ran.near(
        "follows",
        0,
        "greatest, degC",
        dead.iter().copied().fold(f64::MIN, f64::max),
        1.0,
    );
    let over = log
        .all("Lambda")
        .iter()
        .filter(|c| (settled.0..settled.1).contains(&c.0));
    let over = over.map(|(time, value)| value - log.at("Lambda Target", *time));
    ran.near(
        "mixture-figures",
        0,
        "over, lambda",
        median(over.collect()),
        0.02,
    );
    let warned: Vec<String> = ran.table_of_warnings();
    assert!(warned.iter().any(|w| w == "egt-cylinder"), "{warned:?}");
}

#[test]
fn charging_shows_the_loss_its_begin_and_its_load() {
    let log = Bare::read("hill-run-fading-alternator.csv");
    let ran = Ran::of("charging", "hill-run-fading-alternator.csv");
    let (fired, stopped) = log.running();
    let first = median(log.within("Battery", fired + 10.0, fired + 70.0));
    let last = median(log.within("Battery", stopped - 60.0, stopped));
    ran.near("lost", 0, "first_minute, V", first, 0.02);
    ran.near("lost", 0, "last_minute, V", last, 0.02);
    ran.near("lost", 0, "lost, V", first - last, 0.03);
    ran.near(
        "heat-figures",
        1,
        "bay, degC",
        median(log.within("Bay Temp", stopped - 60.0, stopped)),
        1.0,
    );
    // The first second from which ten seconds follow that are all but wholly under 13.2 V.
    let under = |from: f64| {
        let ten = log.within("Battery", from, from + 10.0);
        ten.iter().filter(|v| **v < 13.2).count() * 10 > ten.len() * 9
    };
    let since = (0..)
        .map(|n| fired + 10.0 + f64::from(n))
        .find(|t| under(*t));
    ran.near("when-figures", 0, "since, s", since.expect("it sinks"), 3.0);
    let low = log
        .within("Battery", fired + 10.0, stopped)
        .iter()
        .filter(|v| **v < 13.2)
        .count();
    ran.near("when-figures", 0, "in_all, s", low as f64 * 0.02, 5.0);
    // The sheet: 11 A, 8 A and 6 A; 65 A; 20 Ah at its twenty-hour rate. Peukert's law: t = H (C / (I H))^k.
    ran.near("budget-figures", 0, "loads, A", 25.0, 0.0);
    ran.near("budget-figures", 0, "alternator_hot, A", 52.0, 0.0);
    let lasts = 20.0 * (20.0_f64 / (25.0 * 20.0)).powf(1.2) * 3600.0;
    ran.near("budget-figures", 0, "full_battery_lasts, s", lasts, 1.0);
    assert_eq!(ran.table_of_warnings()[0], "charge-vs-speed");
    assert!(ran.plain("first").contains("Charging against engine speed"));
}

#[test]
fn knock_counts_per_cycle_as_the_log_does() {
    let (ran, log) = (
        Ran::of("knock", "hill-run-knock.csv"),
        Bare::read("hill-run-knock.csv"),
    );
    for cylinder in 1..=6 {
        let column = log.all(&format!("Knock Cyl {cylinder}"));
        let counted = column[column.len() - 1].1 - column[0].1;
        ran.near("counts-figures", cylinder - 1, "counted", counted, 0.0);
    }
    assert_eq!(ran.table("most")[0]["most"], "knock_4");
    let (fired, stopped) = log.running();
    let speeds = log.within("Engine Speed", fired, stopped);
    let fastest = speeds.iter().copied().fold(f64::MIN, f64::max);
    ran.near("load-figures", 0, "greatest_speed, rpm", fastest, 0.51);
    let air = log.at("Baro", fired);
    let wide = log.within("MAP", fired, stopped);
    let wide = wide.iter().filter(|kpa| **kpa > 0.9 * air).count();
    ran.near(
        "load-figures",
        0,
        "wide_open_for, s",
        wide as f64 * 0.02,
        1.5,
    );

    let (mut hard, mut light) = ((0.0, 0.0), (0.0, 0.0));
    for (time, rpm) in log
        .all("Engine Speed")
        .iter()
        .filter(|c| (fired..stopped).contains(&c.0))
    {
        let part = if log.at("MAP", *time) >= 80.0 {
            &mut hard
        } else {
            &mut light
        };
        // A four-stroke has a cycle every two turns; a row stands for 0.02 s.
        part.1 += rpm / 120.0 * 0.02 / 1000.0;
    }
    for pair in log.all("Knock Cyl 4").windows(2) {
        let part = if log.at("MAP", pair[1].0) >= 80.0 {
            &mut hard
        } else {
            &mut light
        };
        part.0 += pair[1].1 - pair[0].1;
    }
    for (row, part) in [(0, hard), (1, light)] {
        ran.near("rate-together", row, "counted", part.0, 2.0);
        ran.near(
            "rate-together",
            row,
            "cycles, 1000 cycles",
            part.1,
            0.03 * part.1,
        );
    }
    ran.near(
        "rate-together",
        0,
        "rate, per 1000 cycles",
        hard.0 / hard.1,
        1.0,
    );
    assert_eq!(ran.table_of_warnings(), ["knock-by-cylinder"]);
}
