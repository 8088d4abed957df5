//! The traps of the field notes, each with the cases that a naive check would get wrong. The cases themselves run in
//! `checks.rs`; here stands which trap they are for, so that none loses its case unnoticed.

use std::collections::BTreeMap;

use plugread::checks::cases;

use crate::support::catalog;

/// Section, trap, and cases as `check: name`.
type Trap = (&'static str, &'static str, &'static [&'static str]);

/// Sections 1 to 7. What the notes say of phases and units stands in the tests of `phases` and `recording`.
const TRAPS: &[Trap] = &[
    (
        "1",
        "one bad reading of a slow channel fills many rows",
        &[
            "oil-before-fire: one bad reading of a channel that is read twice a second",
            "channel-spikes: coolant twice in three seconds, read every 2 s",
        ],
    ),
    (
        "1",
        "speed, time and heat rise together in one pull",
        &["charge-vs-speed: one climb and the log ends on top"],
    ),
    (
        "1",
        "why a check did not run",
        &[
            "oil-vs-speed: no oil pressure logged",
            "charge-voltage: total loss: nothing charges by design",
            "charge-voltage: never faster than a slow idle",
        ],
    ),
    (
        "2",
        "two injections a cycle double the duty",
        &[
            "injector-duty: two injections of 7.4 ms a cycle",
            "injector-duty: the same pulse, and the sheet is silent: it asks",
        ],
    ),
    (
        "2",
        "no alternator figure without the pulley ratio",
        &[
            "charge-vs-speed: slips from 1700 rpm on, where its shaft turns at 3740",
            "amps-budget: an alternator geared one to one",
        ],
    ),
    (
        "2",
        "a shared sensor blames the wrong cylinder",
        &[
            "lean-under-load: cylinder 4 is cold, but this sensor hears the other bank: the lean reading is real",
            "knock-by-cylinder: one of two sensors: no cylinder is named",
        ],
    ),
    (
        "2",
        "supplies go by their cells, lithium by itself",
        &[
            "battery-rest: eight healthy cells",
            "charge-voltage: eight cells at 19.2 V",
            "charge-voltage: eight cells charged like six",
            "battery-rest: lithium, over anything that lead-acid shows",
        ],
    ),
    (
        "3",
        "a probe or position that nobody mapped is no cylinder",
        &[
            "knock-by-cylinder: a firing position that nobody mapped",
            "egt-spread: nobody says which cylinder: a position and no cylinder",
            "first-fire: nobody says which cylinder: a position and no cylinder",
        ],
    ),
    (
        "3",
        "few counts, but the controller pulls the spark back",
        &["knock-vs-load: few counts, but the controller pulls six degrees"],
    ),
    (
        "3",
        "neutral trim is 0, 100 or 1.00",
        &[
            "fuel-trim: neutral is 100, reading 124",
            "fuel-trim: neutral is 100, reading 103",
            "fuel-trim: a factor of 1.25",
            "fuel-trim: a factor of 1.03",
        ],
    ),
    (
        "3",
        "the sign of current is a question",
        &["voltage-outlook: 12.9 V at speed, 35 A measured"],
    ),
    (
        "3",
        "wrong units show warm, not at rest",
        &[
            "channel-agree: oil pressure in bar",
            "channel-agree: coolant in degF once warm",
            "oil-vs-speed: logged in bar without saying so: warns, asks, and does not cry stop",
        ],
    ),
    (
        "3",
        "absolute and sealed senders",
        &[
            "channel-agree: an absolute oil sender",
            "channel-agree: an oil sender sealed at sea level, at 2000 m",
            "oil-vs-speed: an absolute sender hides the air pressure in its reading",
        ],
    ),
    (
        "3",
        "differential fuel pressure may be logged already",
        &[
            "fuel-pressure: the logger shows the difference",
            "fuel-pressure-fall: the logger shows the difference",
        ],
    ),
    (
        "3",
        "individual throttles idle high and jump",
        &[
            "lean-under-load: individual throttles: load goes by the throttle",
            "throttle-agree: individual throttles: MAP stands high with them shut",
            "fuel-pressure: individual throttles: MAP stands high and jumps",
        ],
    ),
    (
        "3",
        "MAP against baro: the larger of 2 kPa and 1.5 % of full scale",
        &[
            "channel-agree: MAP 3 kPa over baro on a 2.5 bar sensor",
            "channel-agree: MAP and baro 2.6 kPa apart with a sensor of 105 kPa",
        ],
    ),
    (
        "3",
        "cold only if three temperatures agree; a logger that starts with the engine",
        &[
            "channel-agree: a warm engine started again",
            "channel-agree: logging starts with the engine: the zeros after the stop serve",
            "channel-agree: no rest at all",
        ],
    ),
    (
        "4",
        "warm-up does not exclude idle or steady",
        &["egt-cylinder: the same while the engine is cold"],
    ),
    (
        "4",
        "push and roller starts turn unfired",
        &[
            "crank-speed: turned by a roller",
            "oil-before-fire: started by pushing",
            "start-time: turned by a roller",
        ],
    ),
    (
        "4",
        "a spin with fuel off is priming",
        &[
            "start-time: priming only",
            "start-time: 30 s of priming with fuel off, then it fires at once",
        ],
    ),
    (
        "4",
        "after a cut lambda and knock are blank",
        &[
            "lean-under-load: the air of a shift cut",
            "knock-vs-load: noise at the limiter and on overrun",
            "knock-floor: the last charges still burn for 0.3 s after each cut",
        ],
    ),
    (
        "4",
        "a log that ends before key-off, or with the power",
        &[
            "heat-soak: 50 s after the stop the log ends",
            "power-break: the last rows lose four volts at 3000 rpm",
        ],
    ),
    (
        "5 trigger",
        "counts reset, wrap, count first turns and rock-back, or are a flag",
        &[
            "sync-loss: a count of one byte that wraps",
            "sync-loss: the count begins anew when the controller restarts",
            "sync-loss: first turns and rock-back are counted on every engine",
            "sync-loss: a flag that comes up twice",
        ],
    ),
    (
        "5 trigger",
        "a dog-box shift is quick and healthy",
        &[
            "speed-jumps: dog-box shifts: 2000 rpm in 60 ms",
            "speed-jumps: half speed for 0.8 s",
            "speed-jumps: ten readings a second",
        ],
    ),
    (
        "5 trigger",
        "low voltage loses the position",
        &[
            "crank-voltage: neither starter flag nor speed: the dip alone",
            "sync-loss: the supply was at 8 V in the same moment",
        ],
    ),
    (
        "5 supply",
        "volts at the controller, after its wires",
        &["charge-vs-speed: holds 0.8 V under the sheet's regulator: wires and heat"],
    ),
    (
        "5 supply",
        "rest voltage with the pump on reads low",
        &["battery-rest: the pump pulls it down for most of the wait"],
    ),
    (
        "5 supply",
        "slow rows miss the inrush or hit it",
        &[
            "crank-voltage: two rows a second hit the inrush",
            "crank-voltage: thirty readings a second do not",
            "crank-voltage: the inrush goes to 7.5 V for a moment",
        ],
    ),
    (
        "5 supply",
        "regulators compensate for heat; a field cut is deliberate",
        &[
            "charge-voltage: a regulator that takes 0.9 V off between 10 and 60 degC",
            "charge-vs-speed: the field is cut at full throttle on purpose",
        ],
    ),
    (
        "5 supply",
        "a 100 Hz log cannot pass diode ripple",
        &[
            "charge-ripple: quiet, 100 readings a second: proves nothing",
            "charge-ripple: ripple of 240 dips a second seen at 1000",
        ],
    ),
    (
        "5 oil",
        "a straight floor asks for more than the relief valve gives",
        &[
            "oil-vs-speed: 340 kPa at 7000 rpm, where the relief valve opens at 420",
            "oil-vs-speed: roller bearings at 60 kPa",
            "oil-vs-speed: oil at 60 degC says nothing yet",
        ],
    ),
    (
        "5 oil",
        "surge against this run's own pressure; a dry sump that draws air",
        &[
            "oil-surge: three dips, each behind a corner",
            "oil-surge: oil that warms from 20 to 100 degC loses half its pressure",
            "oil-surge: a dry sump that flutters by 14 %",
        ],
    ),
    (
        "5 fuel",
        "diaphragm and engine-driven pumps",
        &[
            "fuel-pressure: a diaphragm pump that pulses between 20 and 50",
            "fuel-pressure: an engine-driven pump: square of speed",
            "fuel-pressure: an engine-driven pump 12 % off",
        ],
    ),
    (
        "5 lambda",
        "valid when heated, fed, after a cut and not frozen",
        &[
            "lambda-vs-target: a sensor that heats up for 27 s",
            "lambda-vs-target: supply at 10.2 V: the heater fails the sensor",
            "lean-under-load: the sensor says itself that it is not valid",
            "lambda-probe: stands still for 12 s of work",
            "lambda-probe: never sees air in three fuel cuts",
        ],
    ),
    (
        "5 lambda",
        "before a turbine, and in a short open pipe",
        &[
            "lambda-probe: 80 kPa of exhaust pressure: a word of doubt",
            "lambda-vs-target: lean at idle and nowhere else: a short open pipe",
        ],
    ),
    (
        "5 lambda",
        "a dead cylinder makes the shared lambda read lean: never add fuel",
        &[
            "lean-under-load: cylinder 4 does not burn and its air reads lean: no fuel, no stop",
            "fuel-trim: cylinder 4 is cold: no fuel for its air",
            "first-fire: and lambda reads lean: no fuel is added",
            "egt-cylinder: a cylinder that does not burn; lambda reads lean",
        ],
    ),
    (
        "5 lambda",
        "the same trim on all banks is the batch of fuel",
        &["fuel-trim: both banks at -14 %: the batch of fuel"],
    ),
    (
        "5 EGT",
        "healthy probes of different lag",
        &[
            "egt-spread: probes of 1.5 and 4 s after a step of 400 degC",
            "egt-spread: pulls whose ends are 60 degC apart",
            "egt-bank: slow and quick, 17 s after a step of 400 degC",
        ],
    ),
    (
        "5 EGT",
        "averaged, maximum-only or stair-step EGT",
        &[
            "egt-spread: one average written four times",
            "egt-limit: greatest values that never fall",
            "egt-probe: a reading every 4 s",
        ],
    ),
    (
        "5 EGT",
        "a dead pair hides from the median; under four probes nobody is named",
        &[
            "egt-spread: a dead pair in one bank of three",
            "egt-spread: two of four dead",
            "egt-spread: three probes 120 degC apart: nobody is named",
        ],
    ),
    (
        "5 knock",
        "many cells cry wolf, exposure by the cylinders heard",
        &[
            "knock-vs-load: two isolated counts in a cell",
            "knock-vs-load: two sensors, load from the throttle",
            "knock-by-cylinder: a sensor of four cylinders beside one of two",
            "knock-by-cylinder: two counts against none: chance",
        ],
    ),
    (
        "5 knock",
        "carburettors burn on overrun",
        &["knock-floor: carburettors burn on overrun"],
    ),
    (
        "5 afterfire",
        "probes trail the gas; anti-lag",
        &[
            "afterfire: a thick sheath climbs on for two seconds after the cut",
            "afterfire: anti-lag by the sheet",
        ],
    ),
    (
        "5 cooling",
        "a sender in an air pocket reads low and calm",
        &[
            "coolant-noise: an air pocket: low and calm with a hot exhaust",
            "coolant-noise: rises by 6 degC in three minutes",
        ],
    ),
    (
        "5 recording",
        "what stands and is healthy; a filter without scatter",
        &[
            "channel-flat: what stands and is healthy",
            "channel-rail: throttle at 0 and at 100",
            "channel-spikes: a shut throttle that flickers by one count",
        ],
    ),
    (
        "6",
        "oil before the fire: a dry spin, and after the fire",
        &[
            "oil-before-fire: a spin of 23 s with fuel off brings none",
            "oil-before-fire: it comes 5.8 s after the fire",
            "oil-before-fire: it comes and goes away again for 0.6 s",
        ],
    ),
    (
        "6",
        "spark position while cranking",
        &[
            "position-proof: 17 deg",
            "position-proof: it kicks back once",
            "position-proof: timing has been checked",
        ],
    ),
    (
        "6",
        "fuel that comes up, holds and does not flood",
        &[
            "fuel-hold: needs five seconds to come up",
            "fuel-hold: a rail that loses 30 % in 38 s",
            "fuel-hold: cranked for 20 s with the fuel on",
        ],
    ),
    (
        "6",
        "which cylinders lit",
        &[
            "first-fire: one of six stays with the warmed air",
            "first-fire: a slow probe",
        ],
    ),
    (
        "6",
        "running away and running on",
        &[
            "start-flare: up to 2600 right after the start",
            "start-flare: turns for five seconds after the kill",
        ],
    ),
    (
        "6",
        "the controller dropped out and came back",
        &[
            "power-break: uptime begins anew after a hole",
            "power-break: every count falls to zero across a gap",
            "power-break: the supply had sagged under the sheet's figure",
        ],
    ),
];

/// Section 8: healthy behaviour that has to stay quiet.
const HEALTHY: &[Trap] = &[
    (
        "8.1",
        "overrun, shift, limiter",
        &[
            "speed-jumps: a limiter's sawtooth",
            "over-rev: a limiter that works swings about its limit",
            "knock-by-cylinder: one hears the limiter and the overrun",
            "egt-spread: uneven on overrun",
            "egt-bank: fuel cut on a long overrun",
            "lean-under-load: the air of a shift cut",
            "staged-share: the air of a shift for 0.8 s",
        ],
    ),
    (
        "8.2",
        "a lean blip at tip-in",
        &[
            "lean-under-load: a lean blip of 0.6 s as the throttle opens",
            "lean-under-load: a lean blip as the throttle opens further under load",
        ],
    ),
    (
        "8.3",
        "the first cold minutes",
        &[
            "egt-spread: the cold first minutes",
            "egt-bank: the cold first minutes",
            "lambda-vs-target: cold: the target is a wish",
            "idle-stability: cold: fast and uneven by right",
            "start-flare: 2200 cold: a fast idle",
            "channel-flat: cold oil on the relief valve",
            "charge-voltage: two rows a second, low for the first 20 s",
        ],
    ),
    (
        "8.4",
        "a cam that lopes",
        &[
            "idle-stability: a cam that lopes three times a second by 25 %",
            "idle-stability: one that lopes twice a second by 30 %",
        ],
    ),
    (
        "8.5",
        "a fan or pump that switches on at low idle",
        &[
            "charge-voltage: a fan switches on at low idle",
            "charge-ripple: rough within 1.6 s of a fan that switches",
            "idle-stability: a fan that comes and goes",
            "charge-vs-speed: a large fan runs up: low for 5.5 s, two of them its own",
        ],
    ),
];

/// In the first cold minutes the oil floor and the search for unlit cylinders stay on (section 8.3): these warn.
const STAY_ON: &[&str] = &[
    "oil-vs-speed: cold and without pressure at idle",
    "first-fire: one of six stays with the warmed air",
];

#[test]
fn every_trap_of_the_field_notes_has_its_cases() {
    let mut roles: BTreeMap<String, String> = BTreeMap::new();
    for check in catalog().checks() {
        for case in cases::read(catalog(), check).unwrap_or_else(|e| panic!("{e}")) {
            roles.insert(format!("{}: {}", check.script.id, case.name), case.role);
        }
    }
    let mut missing = Vec::new();
    for (section, trap, names) in TRAPS.iter().chain(HEALTHY) {
        assert!(!names.is_empty(), "section {section}: {trap}");
        let lost = names.iter().filter(|n| !roles.contains_key(**n));
        missing.extend(lost.map(|n| format!("section {section}, {trap}: there is no case `{n}`")));
    }
    assert!(missing.is_empty(), "{missing:#?}");
    for (section, trap, names) in HEALTHY {
        for name in *names {
            assert_ne!(roles[*name], "warns", "section {section}, {trap}: {name}");
        }
    }
    for name in STAY_ON {
        assert_eq!(
            roles.get(*name).map(String::as_str),
            Some("warns"),
            "{name}"
        );
    }
}
