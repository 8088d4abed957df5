//! What is really wrong in a case, for the tests to hold a review against.

use super::faults::Fault;

/// The known truth of one fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Name of the fault.
    pub fault: &'static str,
    /// Checks (ids of the design's table) that ought to warn.
    pub expect_warn: Vec<&'static str>,
    /// The check that a review ought to open with.
    pub start_here: &'static str,
    /// Others that a review may rightly open with, since they lead to the same first act.
    pub may_open: &'static [&'static str],
    /// The culprit, where the fault has one.
    pub cylinder: Option<u32>,
    /// What was changed in the car, in words.
    pub physical: String,
}

/// The truth of a fault.
pub fn of(fault: &Fault) -> Truth {
    let (expect_warn, physical) = told(fault);
    let cylinder = match *fault {
        Fault::HotSpot { cylinder, .. }
        | Fault::ProbeOpen { cylinder, .. }
        | Fault::ProbeSlow { cylinder, .. }
        | Fault::ProbeBlind { cylinder, .. }
        | Fault::WeakInjector { cylinder, .. }
        | Fault::DeadSpark { cylinder }
        | Fault::DeadFuel { cylinder } => Some(cylinder as u32),
        _ => None,
    };
    Truth {
        fault: fault.kind().name(),
        start_here: expect_warn.first().copied().unwrap_or_default(),
        expect_warn,
        may_open: may_open(fault),
        cylinder,
        physical,
    }
}

/// Findings that stand nearer to the base than the fault's own and lead to the same first act.
fn may_open(fault: &Fault) -> &'static [&'static str] {
    match fault {
        // a flat battery turns the engine at too low a voltage: either says to charge it and look again
        Fault::WeakBattery { .. } => &["crank-voltage"],
        // pressure that dips in corners: both send the person to level, pickup and baffles before another start
        Fault::BarePickup { .. } => &["oil-vs-speed"],
        // a regulator that sticks shows as too high a base pressure before the engine turns
        Fault::PressureHigh { .. } => &["fuel-hold"],
        // a joint so bad that the controller goes dark: it asks for a meter at battery, cable and strap as well
        Fault::StarterCable { .. } | Fault::BadEarth { .. } => &["power-break"],
        // worn out so far that pressure comes late as well: both ask for a gauge at the gallery
        Fault::WornBearings { .. } => &["oil-before-fire"],
        // so lean that it lights late as well: the same cylinder, and the same look at its injector
        Fault::WeakInjector { .. } => &["first-fire"],
        // exhaust over its limit with the fuel shut off: it says what burns, and asks for the same look at the injectors
        Fault::Afterfire { .. } => &["egt-limit"],
        _ => &[],
    }
}

/// Checks that ought to warn, the one to begin with first, and the fault in words.
fn told(fault: &Fault) -> (Vec<&'static str>, String) {
    match *fault {
        Fault::LoggerStall { from, len } => (
            vec!["log-gaps"],
            format!("the card wrote nothing for {len:.1} s from {from:.0} s on"),
        ),
        Fault::ClockBack { at, by } => (
            vec!["log-clock"],
            format!("the logger's clock was set back by {by:.1} s at {at:.0} s"),
        ),
        Fault::CoolantOpen { at } => (
            vec!["channel-rail"],
            format!(
                "the wire of the coolant sender broke at {at:.0} s and it reads -40 degC since"
            ),
        ),
        Fault::MapGround { kpa } => (
            vec!["channel-agree"],
            format!("the MAP sensor's earth is {kpa:.1} kPa of signal above the controller's"),
        ),
        Fault::PowerDrop {
            from,
            len,
            with_logger,
        } => (
            vec!["power-break"],
            format!(
                "the controller's relay opened for {len:.1} s at {from:.0} s{}",
                if with_logger {
                    ", and the logger hangs on it too"
                } else {
                    ""
                }
            ),
        ),
        Fault::WeakBattery { charge } => (
            vec!["battery-rest"],
            format!("the battery held {:.0} % of its charge", 100.0 * charge),
        ),
        Fault::StarterCable { ohm } => (
            vec!["crank-voltage"],
            format!(
                "a bad joint of {:.0} mOhm in the main cable to the starter stud",
                1000.0 * ohm
            ),
        ),
        Fault::BadEarth { ohm } => (
            vec!["crank-voltage"],
            format!(
                "a bad joint of {:.0} mOhm in the earth strap of the engine",
                1000.0 * ohm
            ),
        ),
        Fault::GapLow { rpm } => (
            vec!["sync-loss"],
            format!("crank sensor set too far off: too weak a signal below {rpm:.0} rpm"),
        ),
        Fault::GapHigh { rpm } => (
            vec!["sync-loss"],
            format!("crank sensor set too far off: position lost now and then above {rpm:.0} rpm"),
        ),
        Fault::ExtraTeeth { factor, every_s } => (
            vec!["speed-jumps"],
            format!(
                "noise read as teeth: speed times {factor:.2} for 0.12 s about every {every_s:.0} s"
            ),
        ),
        Fault::HalfSpeed { above, len, .. } => (
            vec!["speed-jumps"],
            format!(
                "every second tooth missed for about {len:.1} s at a time above {above:.0} rpm"
            ),
        ),
        Fault::RegulatorHigh { volts } => (
            vec!["charge-voltage"],
            format!("the regulator holds {volts:.1} V"),
        ),
        Fault::NoCharge => (
            vec!["charge-voltage"],
            "the field circuit is open: no charge".into(),
        ),
        Fault::BeltSlip { rpm, .. } => (
            vec!["charge-vs-speed"],
            format!("the alternator belt slips above {rpm:.0} rpm"),
        ),
        Fault::AlternatorFade { rise } => (
            vec!["charge-vs-speed"],
            format!(
                "the alternator has lost half of its output once it is {rise:.0} degC warmer than at key-on"
            ),
        ),
        Fault::WornBearings { share } => (
            vec!["oil-vs-speed"],
            format!(
                "worn bearings: {:.0} % of the healthy oil pressure when hot",
                100.0 * share
            ),
        ),
        Fault::BarePickup { g } => (
            vec!["oil-surge"],
            format!("the oil pickup comes bare above {g:.2} g sideways"),
        ),
        Fault::LostPrime { s } => (
            vec!["oil-before-fire"],
            format!("the oil pump had lost its prime and drew only after {s:.0} s of turning"),
        ),
        Fault::EngineNoise { half, chance } => (
            vec!["knock-floor"],
            format!(
                "valve gear noise heard as knock in the {} half, {:.0} per 1000 cycles at speed, burning or not",
                if half == 0 { "front" } else { "rear" },
                1000.0 * chance
            ),
        ),
        Fault::OverAdvance { deg } => (
            vec!["knock-vs-load"],
            format!("{deg:.0} deg too much advance at high load"),
        ),
        Fault::HotSpot { cylinder, deg } => (
            vec!["knock-by-cylinder"],
            format!("a hot spot lowers the knock limit of cylinder {cylinder} by {deg:.0} deg"),
        ),
        Fault::ProbeOpen { cylinder, at } => (
            vec!["channel-rail", "egt-probe"],
            format!(
                "the EGT probe of cylinder {cylinder} broke at {at:.0} s and reads 1250 degC since"
            ),
        ),
        Fault::ProbeSlow { cylinder, tau } => (
            vec!["egt-probe"],
            format!("the EGT probe of cylinder {cylinder} has a lag of {tau:.0} s"),
        ),
        Fault::ProbeBlind { cylinder, depth } => (
            vec!["egt-probe"],
            format!(
                "the EGT probe of cylinder {cylinder} sits {:.0} % in the gas",
                100.0 * depth
            ),
        ),
        Fault::WeakInjector { cylinder, share } => (
            vec!["egt-spread", "egt-cylinder"],
            format!(
                "injector {cylinder} flows {:.0} % of the others",
                100.0 * share
            ),
        ),
        Fault::DeadSpark { cylinder } => (
            vec!["first-fire", "egt-spread", "egt-cylinder"],
            format!("no spark in cylinder {cylinder}"),
        ),
        Fault::DeadFuel { cylinder } => (
            vec!["first-fire", "egt-spread", "egt-cylinder"],
            format!("no fuel in cylinder {cylinder}"),
        ),
        Fault::WeakPump { g_s } => (
            vec!["fuel-pressure-fall", "lean-under-load"],
            format!("the fuel pump gives {g_s:.1} g/s at most"),
        ),
        Fault::RegulatorHose => (
            vec!["fuel-pressure"],
            "the hose from the manifold to the fuel pressure regulator is off".into(),
        ),
        Fault::FuelLeak { share } => (
            vec!["fuel-hold"],
            format!(
                "fuel pressure falls by {:.0} % a second with the pump off",
                100.0 * share
            ),
        ),
        Fault::BlockedRadiator { share } => (
            vec!["coolant-limit"],
            format!("only {:.0} % of the radiator is free", 100.0 * share),
        ),
        Fault::LateIgnition { deg } => (
            vec!["egt-limit"],
            format!("{deg:.0} deg too little advance at high load"),
        ),
        Fault::LeanJets { share } => (
            vec!["lean-under-load", "lambda-vs-target", "fuel-trim"],
            format!("every injector flows {:.0} % of its rating", 100.0 * share),
        ),
        Fault::FuelBatch { share } => (
            vec!["fuel-trim", "lambda-vs-target"],
            format!(
                "another fuel in the tank: it wants {:.0} % of the air",
                100.0 / share
            ),
        ),
        Fault::SmallInjectors { cc } => (
            vec!["injector-duty"],
            format!(
                "injectors of {:.0} % of the size were fitted, and the controller knows it",
                100.0 * cc
            ),
        ),
        Fault::LambdaFrozen { at } => (
            vec!["lambda-probe"],
            format!("the lambda amplifier gives the same since {at:.0} s"),
        ),
        Fault::LambdaSlow { tau } => (
            vec!["lambda-probe"],
            format!("soot slows the lambda sensor down by {tau:.1} s"),
        ),
        Fault::LimitHigh { rpm } => (
            vec!["over-rev"],
            format!("the limiter sits {rpm:.0} rpm too high and the driver uses it"),
        ),
        Fault::ColdOil { c } => (
            vec!["oil-temperature"],
            format!("driven hard with oil of {c:.0} degC at the start"),
        ),
        Fault::HotOil { c } => (
            vec!["oil-temperature"],
            format!("the oil was at {c:.0} degC at key-on and its cooler is blocked"),
        ),
        Fault::AirPocket { depth: _ } => (
            vec!["coolant-noise"],
            "the coolant sender stands in a pocket of air".into(),
        ),
        Fault::LooseSender { every_s } => (
            vec!["coolant-noise", "channel-spikes", "channel-rail"],
            format!("the coolant sender's plug opens about every {every_s:.0} s"),
        ),
        Fault::LoosePin { every_s } => (
            vec!["channel-spikes"],
            format!("the fuel pressure sender's plug opens about every {every_s:.0} s"),
        ),
        Fault::OilStuck { at } => (
            vec!["channel-flat"],
            format!("the oil pressure sender gives the same since {at:.0} s"),
        ),
        Fault::IdleHunt { gain } => (
            vec!["idle-stability"],
            format!("the idle control pushes {gain:.0} times too hard"),
        ),
        Fault::BankFuel { bank, share } => (
            // the exhaust is as warm so much leaner than its hottest mixture as it is richer: then only lambda tells
            vec!["egt-bank", "lambda-vs-target", "lean-under-load"],
            format!(
                "the rail of the {} bank gives {:.0} % of the fuel",
                if bank == 0 { "first" } else { "second" },
                100.0 * share
            ),
        ),
        Fault::WornStarter { times } => (
            vec!["crank-speed"],
            format!("the starter has {times:.1} times its resistance"),
        ),
        Fault::SlowCard { share } => (
            vec!["log-rate"],
            format!("the card lost {:.0} % of the rows", 100.0 * share),
        ),
        Fault::SmallAlternator { a } => (
            vec![
                "amps-budget",
                "charge-vs-speed",
                "charge-voltage",
                "voltage-outlook",
            ],
            format!("the alternator gives {a:.0} A at most"),
        ),
        Fault::DeadDiode { v } => (
            vec!["charge-ripple"],
            format!("a dead diode leaves {v:.2} V of ripple either way"),
        ),
        Fault::Afterfire { c } => (
            vec!["afterfire"],
            format!("on overrun dripping fuel burns in the pipe at {c:.0} degC"),
        ),
        Fault::StartFlare { mm2 } => (
            vec!["start-flare", "idle-stability"],
            format!("{mm2:.0} mm2 of air come in behind the throttle"),
        ),
        Fault::HotIntake { share } => (
            vec!["intake-heat"],
            format!(
                "the air box breathes the bay: {:.0} % of its heat",
                100.0 * share
            ),
        ),
        Fault::PressureHigh { kpa } => (
            vec!["fuel-pressure"],
            format!("the fuel pressure regulator sticks at {kpa:.0} kPa"),
        ),
        Fault::CrankAdvance { deg } => (
            vec!["position-proof"],
            format!("{deg:.0} deg of advance commanded while cranking"),
        ),
        Fault::LateCatch { cycles } => (
            vec!["start-time"],
            format!("fouled plugs: {cycles:.0} cycles until a cylinder catches"),
        ),
        Fault::SecondTps { pct } => (
            vec!["throttle-agree"],
            format!("the second throttle sensor reads {pct:.0} % of travel too much in the middle"),
        ),
        Fault::BladeHangs { at, open } => (
            vec!["throttle-agree", "start-flare"],
            format!("the blade hangs {:.0} % open since {at:.0} s", 100.0 * open),
        ),
        Fault::BoostLeak { share } => (
            vec!["boost-vs-target"],
            format!("a leak loses {:.0} % of the boost", 100.0 * share),
        ),
        Fault::Overboost { kpa } => (
            vec!["overboost", "boost-vs-target"],
            format!("the wastegate does not open: {kpa:.0} kPa over the target"),
        ),
        Fault::ChargeCooler { share } => (
            vec!["intake-heat"],
            format!(
                "the charge cooler takes out {:.0} % of the heat",
                100.0 * share
            ),
        ),
        Fault::StagedWeak { share } => (
            vec!["staged-share", "lean-under-load"],
            format!(
                "the second injectors give {:.0} % of their rating",
                100.0 * share
            ),
        ),
        Fault::HotStandstill { air, s } => (
            vec!["coolant-rise"],
            format!("left idling without air flow for {s:.0} s at {air:.0} degC outside"),
        ),
    }
}
