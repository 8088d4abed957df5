//! Faults: each changes parts of the car. Severity and place come from the seed,
//! within a range that an experienced eye would find in the log.

use super::Kind;
use super::car::{Car, Stretch, Teeth};
use super::dice::{Dice, Stream};
use super::engine::Engine;

/// A fault with its severity and place. Cylinders count from 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// The card writes nothing for a while, s.
    LoggerStall { from: f64, len: f64 },
    /// The logger's clock is set back, s.
    ClockBack { at: f64, by: f64 },
    /// The coolant sender's wire breaks, s.
    CoolantOpen { at: f64 },
    /// MAP sensor earthed badly: reads high, kPa.
    MapGround { kpa: f64 },
    /// The controller's relay opens while running, s.
    PowerDrop {
        from: f64,
        len: f64,
        with_logger: bool,
    },
    /// Battery nearly flat, share of charge.
    WeakBattery { charge: f64 },
    /// Main cable to the starter stud with a bad joint, ohm.
    StarterCable { ohm: f64 },
    /// The same in the earth strap between engine and battery, ohm.
    BadEarth { ohm: f64 },
    /// Air gap of the crank sensor too wide: lost below this speed, rpm.
    GapLow { rpm: f64 },
    /// Air gap with run-out: lost above this speed, rpm.
    GapHigh { rpm: f64 },
    /// Noise read as teeth: speed jumps up and back.
    ExtraTeeth { factor: f64, every_s: f64 },
    /// Every second tooth missed for a while: half speed.
    HalfSpeed { above: f64, len: f64, every_s: f64 },
    /// Voltage regulator set or earthed wrongly, V.
    RegulatorHigh { volts: f64 },
    /// Field circuit open: no charge.
    NoCharge,
    /// Slack belt: slips above this engine speed, losing this share of shaft speed.
    BeltSlip { rpm: f64, share: f64 },
    /// Alternator loses its output when hot: half is gone so many degC above the bay at key-on.
    AlternatorFade { rise: f64 },
    /// Worn bearings: share of the healthy pressure.
    WornBearings { share: f64 },
    /// The pickup comes bare in corners above this, g.
    BarePickup { g: f64 },
    /// Oil pump lost its prime, s of turning until it draws.
    LostPrime { s: f64 },
    /// Valve gear or piston noise heard as knock by one half (0 front, 1 rear).
    EngineNoise { half: usize, chance: f64 },
    /// High-load ignition table too far advanced, deg.
    OverAdvance { deg: f64 },
    /// Hot spot in one cylinder: its knock limit is lower, deg.
    HotSpot { cylinder: usize, deg: f64 },
    /// EGT probe broken open, s.
    ProbeOpen { cylinder: usize, at: f64 },
    /// EGT probe slow, s.
    ProbeSlow { cylinder: usize, tau: f64 },
    /// EGT probe pulled back out of the gas: depth that is left.
    ProbeBlind { cylinder: usize, depth: f64 },
    /// One injector flows little: share of its rating.
    WeakInjector { cylinder: usize, share: f64 },
    /// No spark in one cylinder.
    DeadSpark { cylinder: usize },
    /// No fuel in one cylinder.
    DeadFuel { cylinder: usize },
    /// Fuel pump or filter: most flow, g/s.
    WeakPump { g_s: f64 },
    /// Pressure regulator without its hose to the manifold.
    RegulatorHose,
    /// Rail leaks down with the pump off: share lost per s.
    FuelLeak { share: f64 },
    /// Radiator blocked: free share.
    BlockedRadiator { share: f64 },
    /// Left idling on a hot day: air degC and s.
    HotStandstill { air: f64, s: f64 },
    /// Spark so late that the charge burns on in the port, deg.
    LateIgnition { deg: f64 },
    /// All injectors gummed up alike: share of their rating.
    LeanJets { share: f64 },
    /// Another fuel in the tank, which wants more air for its mass and so comes out lean: share.
    FuelBatch { share: f64 },
    /// Injectors too small, and entered so in the controller: share of the right size.
    SmallInjectors { cc: f64 },
    /// Lambda amplifier hung, s.
    LambdaFrozen { at: f64 },
    /// Lambda sensor sooted, s of lag.
    LambdaSlow { tau: f64 },
    /// Speed limit set too high and used, rpm.
    LimitHigh { rpm: f64 },
    /// Up the hill with cold oil, degC at key-on.
    ColdOil { c: f64 },
    /// Oil cooler blocked and the oil hot from the run before, degC.
    HotOil { c: f64 },
    /// Coolant sender in a pocket of air: share of it that feels.
    AirPocket { depth: f64 },
    /// Plug of the coolant sender loose, s between openings.
    LooseSender { every_s: f64 },
    /// Plug of the fuel pressure sender loose, s between openings.
    LoosePin { every_s: f64 },
    /// Oil pressure sender hung, s.
    OilStuck { at: f64 },
    /// Idle control too strong: times.
    IdleHunt { gain: f64 },
    /// Rail of one bank restricted: share of the fuel.
    BankFuel { bank: usize, share: f64 },
    /// Starter worn: times its resistance.
    WornStarter { times: f64 },
    /// Card too slow: share of rows lost.
    SlowCard { share: f64 },
    /// Alternator too small for its loads, A.
    SmallAlternator { a: f64 },
    /// Diode of the alternator dead: half the ripple, V.
    DeadDiode { v: f64 },
    /// Injectors drip on overrun and it burns in the pipe, degC of gas.
    Afterfire { c: f64 },
    /// Hose off behind the throttle, mm2 of opening.
    StartFlare { mm2: f64 },
    /// Cold-air duct off: share of the heat of the bay.
    HotIntake { share: f64 },
    /// Fuel pressure regulator sticks, kPa.
    PressureHigh { kpa: f64 },
    /// Too much advance commanded while cranking, deg.
    CrankAdvance { deg: f64 },
    /// Fouled plugs: cycles until a cylinder catches.
    LateCatch { cycles: f64 },
    /// Second throttle sensor off in the middle of its travel, %.
    SecondTps { pct: f64 },
    /// Throttle blade hangs open, s and share.
    BladeHangs { at: f64, open: f64 },
    /// Boost hose leaks: share of boost lost.
    BoostLeak { share: f64 },
    /// Wastegate does not open, kPa over the target.
    Overboost { kpa: f64 },
    /// Charge cooler blocked: share of heat taken out.
    ChargeCooler { share: f64 },
    /// Second set of injectors clogged: share of its rating.
    StagedWeak { share: f64 },
}

macro_rules! fault_kinds {
    ($($kind:ident $name:literal $scenario:ident),* $(,)?) => {
        /// A fault without its severity.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum FaultKind { $(#[doc = $name] $kind),* }

        impl FaultKind {
            /// Name, as on the command line.
            pub fn name(self) -> &'static str {
                match self { $(Self::$kind => $name),* }
            }

            /// The kind of that name.
            pub fn named(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$kind),)* _ => None }
            }
        }

        impl Fault {
            /// The kind of this fault.
            pub fn kind(&self) -> FaultKind {
                match self { $(Self::$kind { .. } => FaultKind::$kind),* }
            }
        }

        /// Every fault with the scenario in which it is to be found.
        pub fn all_faults() -> Vec<(FaultKind, Kind)> {
            vec![$((FaultKind::$kind, Kind::$scenario)),*]
        }
    };
}

fault_kinds! {
    LoggerStall "logger-stall" FirstStart,
    ClockBack "clock-back" FirstStart,
    CoolantOpen "coolant-open" FirstStart,
    MapGround "map-ground" FirstStart,
    PowerDrop "power-drop" HillRun,
    WeakBattery "weak-battery" FirstStart,
    StarterCable "starter-cable" FirstStart,
    BadEarth "bad-earth" FirstStart,
    GapLow "gap-low" FirstStart,
    GapHigh "gap-high" HillRun,
    ExtraTeeth "extra-teeth" FirstStart,
    HalfSpeed "half-speed" HillRun,
    RegulatorHigh "regulator-high" FirstStart,
    NoCharge "no-charge" FirstStart,
    BeltSlip "belt-slip" HillRun,
    AlternatorFade "alternator-fade" HillRun,
    WornBearings "worn-bearings" HillRun,
    BarePickup "bare-pickup" HillRun,
    LostPrime "lost-prime" FirstStart,
    EngineNoise "engine-noise" HillRun,
    OverAdvance "over-advance" HillRun,
    HotSpot "hot-spot" HillRun,
    ProbeOpen "probe-open" FirstStart,
    ProbeSlow "probe-slow" HillRun,
    ProbeBlind "probe-blind" HillRun,
    WeakInjector "weak-injector" HillRun,
    DeadSpark "dead-spark" FirstStart,
    DeadFuel "dead-fuel" FirstStart,
    WeakPump "weak-pump" HillRun,
    RegulatorHose "regulator-hose" FirstStart,
    FuelLeak "fuel-leak" FirstStart,
    BlockedRadiator "blocked-radiator" HillRun,
    HotStandstill "hot-standstill" Standstill,
    LateIgnition "late-ignition" HillRun,
    LeanJets "lean-all" HillRun,
    FuelBatch "fuel-batch" HillRun,
    SmallInjectors "small-injectors" HillRun,
    LambdaFrozen "lambda-frozen" FirstStart,
    LambdaSlow "lambda-slow" HillRun,
    LimitHigh "limit-high" HillRun,
    ColdOil "cold-oil" HillRun,
    HotOil "hot-oil" HillRun,
    AirPocket "air-pocket" FirstStart,
    LooseSender "loose-sender" HillRun,
    LoosePin "loose-pin" FirstStart,
    OilStuck "oil-sender-stuck" HillRun,
    IdleHunt "idle-hunt" FirstStart,
    BankFuel "bank-fuel" HillRun,
    WornStarter "worn-starter" FirstStart,
    SlowCard "slow-card" HillRun,
    SmallAlternator "small-alternator" HillRun,
    DeadDiode "dead-diode" FirstStart,
    Afterfire "afterfire" HillRun,
    StartFlare "start-flare" FirstStart,
    HotIntake "hot-intake" HillRun,
    PressureHigh "pressure-high" FirstStart,
    CrankAdvance "crank-advance" FirstStart,
    LateCatch "late-catch" FirstStart,
    SecondTps "second-tps" HillRun,
    BladeHangs "blade-hangs" HillRun,
    BoostLeak "boost-leak" HillRun,
    Overboost "overboost" HillRun,
    ChargeCooler "charge-cooler" HillRun,
    StagedWeak "staged-weak" HillRun,
}

/// Draws places and severities.
struct Severity {
    dice: Dice,
    grade: Option<f64>,
}

impl Severity {
    /// A place or a time: no matter of severity.
    fn at(&mut self, low: f64, high: f64) -> f64 {
        self.dice.between(low, high)
    }

    /// A figure whose upper end is the worse.
    fn worse(&mut self, low: f64, high: f64) -> f64 {
        let drawn = self.dice.between(low, high);
        self.grade.map_or(drawn, |g| low + (high - low) * g)
    }

    /// The same; where a grade is asked for, the lightest is `least` and not the lower end of what is drawn.
    fn worse_from(&mut self, least: f64, low: f64, high: f64) -> f64 {
        let drawn = self.dice.between(low, high);
        self.grade.map_or(drawn, |g| least + (high - least) * g)
    }

    /// A figure whose lower end is the worse.
    fn worse_low(&mut self, low: f64, high: f64) -> f64 {
        let drawn = self.dice.between(low, high);
        self.grade.map_or(drawn, |g| high - (high - low) * g)
    }

    fn pick(&mut self, n: usize) -> usize {
        self.dice.pick(n)
    }
}

impl Fault {
    /// A fault of that kind; severity and place follow from the seed.
    pub fn seeded(kind: FaultKind, seed: u64) -> Self {
        Self::drawn(kind, None, 6, seed)
    }

    /// The same on an engine of so many cylinders, as bad as asked: 0 light, 1 heavy, both inside the range.
    pub fn graded(kind: FaultKind, grade: f64, cylinders: usize, seed: u64) -> Self {
        Self::drawn(kind, Some(grade), cylinders, seed)
    }

    fn drawn(kind: FaultKind, grade: Option<f64>, cylinders: usize, seed: u64) -> Self {
        // each kind of fault draws its own place
        let dice = Dice::new(seed ^ (kind as u64 + 1) << 32, Stream::Fault);
        let mut s = Severity { dice, grade };
        let cylinder = 1 + s.pick(cylinders);
        match kind {
            FaultKind::LoggerStall => Self::LoggerStall {
                from: s.at(60.0, 200.0),
                len: s.worse(1.5, 4.0),
            },
            FaultKind::ClockBack => Self::ClockBack {
                at: s.at(60.0, 200.0),
                by: s.worse(0.8, 12.0),
            },
            FaultKind::CoolantOpen => Self::CoolantOpen {
                at: s.at(40.0, 180.0),
            },
            FaultKind::MapGround => Self::MapGround {
                kpa: s.worse(5.0, 9.0),
            },
            FaultKind::PowerDrop => Self::PowerDrop {
                from: s.at(95.0, 150.0),
                len: s.worse(0.3, 2.0),
                with_logger: s.dice.chance(0.5),
            },
            FaultKind::WeakBattery => Self::WeakBattery {
                charge: s.worse_low(0.22, 0.40),
            },
            FaultKind::StarterCable => Self::StarterCable {
                ohm: s.worse(0.009, 0.0105),
            },
            FaultKind::BadEarth => Self::BadEarth {
                ohm: s.worse(0.009, 0.0105),
            },
            FaultKind::GapLow => Self::GapLow {
                rpm: s.worse(1250.0, 1500.0),
            },
            FaultKind::GapHigh => Self::GapHigh {
                rpm: s.worse_low(4200.0, 5600.0),
            },
            FaultKind::ExtraTeeth => Self::ExtraTeeth {
                factor: s.worse(1.38, 1.65),
                every_s: s.worse_low(3.0, 8.0),
            },
            FaultKind::HalfSpeed => Self::HalfSpeed {
                above: s.worse_low(2000.0, 2600.0),
                len: s.worse(0.5, 1.2),
                every_s: s.worse_low(5.0, 10.0),
            },
            FaultKind::RegulatorHigh => Self::RegulatorHigh {
                volts: s.worse(16.5, 17.0),
            },
            FaultKind::NoCharge => Self::NoCharge,
            FaultKind::BeltSlip => Self::BeltSlip {
                rpm: s.worse_low(3000.0, 4000.0),
                // a belt that keeps more than a ninth of its speed at 7000 rpm still charges fully
                share: s.worse(0.89, 0.93),
            },
            FaultKind::AlternatorFade => Self::AlternatorFade {
                rise: s.worse_low(29.0, 35.0),
            },
            FaultKind::WornBearings => Self::WornBearings {
                share: s.worse_low(0.30, 0.40),
            },
            FaultKind::BarePickup => Self::BarePickup {
                g: s.worse_low(0.55, 0.70),
            },
            FaultKind::LostPrime => Self::LostPrime {
                s: s.worse(9.0, 14.0),
            },
            FaultKind::EngineNoise => Self::EngineNoise {
                half: s.pick(2),
                chance: s.worse(0.010, 0.03),
            },
            FaultKind::OverAdvance => Self::OverAdvance {
                deg: s.worse(11.0, 14.0),
            },
            FaultKind::HotSpot => Self::HotSpot {
                cylinder,
                deg: s.worse(11.0, 14.0),
            },
            FaultKind::ProbeOpen => Self::ProbeOpen {
                cylinder,
                at: s.at(50.0, 170.0),
            },
            FaultKind::ProbeSlow => Self::ProbeSlow {
                cylinder,
                tau: s.worse(12.0, 20.0),
            },
            FaultKind::ProbeBlind => Self::ProbeBlind {
                cylinder,
                depth: s.worse_low(0.18, 0.32),
            },
            FaultKind::WeakInjector => Self::WeakInjector {
                cylinder,
                share: s.worse_low(0.62, 0.69),
            },
            FaultKind::DeadSpark => Self::DeadSpark { cylinder },
            FaultKind::DeadFuel => Self::DeadFuel { cylinder },
            FaultKind::WeakPump => Self::WeakPump {
                g_s: s.worse_low(11.5, 13.2),
            },
            FaultKind::RegulatorHose => Self::RegulatorHose,
            FaultKind::FuelLeak => Self::FuelLeak {
                share: s.worse(0.03, 0.08),
            },
            FaultKind::BlockedRadiator => Self::BlockedRadiator {
                share: s.worse_low(0.20, 0.30),
            },
            FaultKind::HotStandstill => Self::HotStandstill {
                // at 26 degC the standing car still has minutes left after 520 s: no fault yet
                air: s.worse_from(29.0, 26.0, 34.0),
                s: s.worse_from(580.0, 520.0, 600.0),
            },
            FaultKind::LateIgnition => Self::LateIgnition {
                // later than 30 deg the spark comes after top dead centre and the engine no longer pulls
                deg: s.worse(24.0, 30.0),
            },
            FaultKind::LeanJets => Self::LeanJets {
                share: s.worse_low(0.74, 0.84),
            },
            FaultKind::FuelBatch => Self::FuelBatch {
                share: s.worse_low(0.78, 0.88),
            },
            FaultKind::SmallInjectors => Self::SmallInjectors {
                cc: s.worse_low(0.235, 0.265),
            },
            FaultKind::LambdaFrozen => Self::LambdaFrozen {
                at: s.at(45.0, 110.0),
            },
            FaultKind::LambdaSlow => Self::LambdaSlow {
                tau: s.worse(3.0, 8.0),
            },
            FaultKind::LimitHigh => Self::LimitHigh {
                rpm: s.worse(350.0, 800.0),
            },
            FaultKind::ColdOil => Self::ColdOil {
                c: s.worse_low(5.0, 25.0),
            },
            FaultKind::HotOil => Self::HotOil {
                c: s.worse(128.0, 142.0),
            },
            FaultKind::AirPocket => Self::AirPocket {
                depth: s.worse_low(0.01, 0.06),
            },
            FaultKind::LooseSender => Self::LooseSender {
                every_s: s.worse_low(8.0, 25.0),
            },
            FaultKind::LoosePin => Self::LoosePin {
                every_s: s.worse_low(4.0, 15.0),
            },
            FaultKind::OilStuck => Self::OilStuck {
                at: s.at(35.0, 80.0),
            },
            FaultKind::IdleHunt => Self::IdleHunt {
                // with 16 times the strength the loop still settles and nothing swings
                gain: s.worse(26.0, 40.0),
            },
            FaultKind::BankFuel => Self::BankFuel {
                bank: s.pick(2),
                share: s.worse_low(0.66, 0.76),
            },
            FaultKind::WornStarter => Self::WornStarter {
                times: s.worse(3.4, 4.6),
            },
            FaultKind::SlowCard => Self::SlowCard {
                share: s.worse(0.12, 0.40),
            },
            FaultKind::SmallAlternator => Self::SmallAlternator {
                a: s.worse_low(12.0, 20.0),
            },
            FaultKind::DeadDiode => Self::DeadDiode {
                v: s.worse(0.35, 0.9),
            },
            FaultKind::Afterfire => Self::Afterfire {
                c: s.worse(780.0, 950.0),
            },
            FaultKind::StartFlare => Self::StartFlare {
                mm2: s.worse(55.0, 110.0),
            },
            FaultKind::HotIntake => Self::HotIntake {
                // beside the exhaust the air is far hotter than in the middle of the bay; 30 degC more take a tenth of the charge
                share: s.worse(1.8, 2.6),
            },
            FaultKind::PressureHigh => Self::PressureHigh {
                kpa: s.worse(370.0, 460.0),
            },
            FaultKind::CrankAdvance => Self::CrankAdvance {
                deg: s.worse(18.0, 30.0),
            },
            FaultKind::LateCatch => Self::LateCatch {
                // five seconds of cranking on a cold morning are no fault yet
                cycles: s.worse(13.0, 20.0),
            },
            FaultKind::SecondTps => Self::SecondTps {
                // a tenth of the travel is where a by-wire controller no longer believes the pair
                pct: s.worse(11.0, 20.0),
            },
            FaultKind::BladeHangs => Self::BladeHangs {
                at: s.at(50.0, 90.0),
                open: s.worse(0.16, 0.35),
            },
            FaultKind::BoostLeak => Self::BoostLeak {
                share: s.worse(0.22, 0.45),
            },
            FaultKind::Overboost => Self::Overboost {
                kpa: s.worse(32.0, 60.0),
            },
            FaultKind::ChargeCooler => Self::ChargeCooler {
                share: s.worse_low(0.05, 0.25),
            },
            FaultKind::StagedWeak => Self::StagedWeak {
                share: s.worse_low(0.15, 0.5),
            },
        }
    }

    /// Changes the car accordingly.
    pub fn fit(&self, car: &mut Car) {
        match *self {
            Self::LoggerStall { from, len } => car.logger_stall = Some(Stretch { from, len }),
            Self::ClockBack { at, by } => car.clock_back = Some(Stretch { from: at, len: by }),
            Self::CoolantOpen { at } => car.coolant_open = at,
            Self::MapGround { kpa } => car.map_ground = kpa,
            Self::PowerDrop {
                from,
                len,
                with_logger,
            } => {
                car.relay_open = Some(Stretch { from, len });
                car.logger_on_relay = with_logger;
            }
            Self::WeakBattery { charge } => car.charge = charge,
            Self::StarterCable { ohm } | Self::BadEarth { ohm } => car.main_ohm += ohm,
            Self::GapLow { rpm } => car.teeth = Teeth::WeakBelow(rpm),
            Self::GapHigh { rpm } => car.teeth = Teeth::LostAbove(rpm),
            Self::ExtraTeeth { factor, every_s } => car.teeth = Teeth::Extra { factor, every_s },
            Self::HalfSpeed {
                above,
                len,
                every_s,
            } => {
                car.teeth = Teeth::Halved {
                    above,
                    len,
                    every_s,
                };
            }
            Self::RegulatorHigh { volts } => car.regulator_v = volts,
            Self::NoCharge => car.field_ok = false,
            Self::BeltSlip { rpm, share } => {
                car.slip_above = Some(rpm);
                car.slip_share = share;
            }
            Self::AlternatorFade { rise } => car.fade_at = car.bay_c + rise,
            Self::WornBearings { share } => car.oil_tightness *= share,
            Self::BarePickup { g } => car.pickup_g = g,
            Self::LostPrime { s } => car.oil_prime_s = s,
            Self::EngineNoise { half, chance } => {
                let engine = car.engine;
                for c in (0..engine.cylinders()).filter(|c| engine.bank(*c) == half) {
                    car.noise[c] = chance;
                }
            }
            Self::OverAdvance { deg } => car.advance_error = deg,
            Self::HotSpot { cylinder, deg } => car.knock_margin[cylinder - 1] -= deg,
            Self::ProbeOpen { cylinder, at } => car.probe_open[cylinder - 1] = at,
            Self::ProbeSlow { cylinder, tau } => car.probe_tau[cylinder - 1] = tau,
            Self::ProbeBlind { cylinder, depth } => {
                car.probe_depth[cylinder - 1] = depth;
                car.probe_tau[cylinder - 1] += 4.0;
            }
            Self::WeakInjector { cylinder, share } => car.injector[cylinder - 1] *= share,
            Self::DeadSpark { cylinder } => car.spark_ok[cylinder - 1] = false,
            Self::DeadFuel { cylinder } => car.fuel_ok[cylinder - 1] = false,
            Self::WeakPump { g_s } => car.pump_g_s = g_s * car.engine.fuel_scale(),
            Self::RegulatorHose => car.regulator_hose = false,
            Self::FuelLeak { share } => car.fuel_leak = share,
            Self::BlockedRadiator { share } => car.radiator = share,
            Self::LateIgnition { deg } => car.advance_error = -deg,
            Self::LeanJets { share } => {
                for i in &mut car.injector {
                    *i *= share;
                }
            }
            Self::FuelBatch { share } => car.tank_afr /= share,
            Self::SmallInjectors { cc } => car.injector_cc *= cc,
            Self::LambdaFrozen { at } => car.lambda_stuck = at,
            Self::LambdaSlow { tau } => car.lambda_tau = tau,
            Self::LimitHigh { rpm } => car.limit_raised = rpm,
            Self::ColdOil { c } => {
                car.oil_c = c;
                car.coolant_c = c;
                car.bay_c = car.air_c;
            }
            Self::HotOil { c } => {
                car.oil_c = c;
                car.oil_cooling = 0.1;
            }
            Self::AirPocket { depth } => car.sender_depth = depth,
            Self::LooseSender { every_s } => car.coolant_pin = Some(every_s),
            Self::LoosePin { every_s } => car.fuel_pin = Some(every_s),
            Self::OilStuck { at } => car.oil_stuck = at,
            Self::IdleHunt { gain } => car.idle_gain = gain,
            Self::BankFuel { bank, share } => {
                let engine = car.engine;
                for c in 0..engine.cylinders() {
                    if engine.bank(c) == bank {
                        car.injector[c] *= share;
                    }
                }
            }
            Self::WornStarter { times } => car.starter_wear = times,
            Self::SlowCard { share } => car.rows_lost = share,
            Self::SmallAlternator { a } => car.alternator_a = a,
            Self::DeadDiode { v } => car.ripple_v = v,
            Self::Afterfire { c } => car.afterfire_c = c,
            Self::StartFlare { mm2 } => car.air_leak = mm2 * 1e-6,
            Self::HotIntake { share } => car.bay_breath = share,
            Self::PressureHigh { kpa } => car.regulator_stuck = Some(kpa),
            Self::CrankAdvance { deg } => car.crank_advance = deg,
            Self::LateCatch { cycles } => car.late_catch = cycles as u32,
            Self::SecondTps { pct } => car.second_tps = pct,
            Self::BladeHangs { at, open } => car.blade_stuck = Some((at, open)),
            Self::BoostLeak { share } => car.boost_leak = share,
            Self::Overboost { kpa } => car.boost_over = kpa,
            Self::ChargeCooler { share } => car.charge_cooler = share,
            Self::StagedWeak { share } => car.staged_flow = share,
            Self::HotStandstill { air, s } => {
                car.bay_c += air - car.air_c;
                car.air_c = air;
                car.standing_s = s;
            }
        }
    }

    /// Does the fault make sense on that engine?
    pub fn fits(kind: FaultKind, engine: &Engine) -> bool {
        use FaultKind as K;
        let n = engine.cylinders();
        match kind {
            K::BoostLeak | K::Overboost | K::ChargeCooler => engine.boost > 0.0,
            // a radiator sized for boost, and jets that stay rich, let an engine stand for ten minutes without harm
            K::HotStandstill => engine.boost <= 0.0 && !engine.carburettor,
            K::StagedWeak => engine.staged,
            K::SecondTps | K::BladeHangs => engine.by_wire,
            K::BankFuel => !engine.second_bank.is_empty() && !engine.carburettor,
            K::EngineNoise => !engine.second_bank.is_empty() && !engine.carburettor,
            K::RegulatorHigh
            | K::NoCharge
            | K::BeltSlip
            | K::AlternatorFade
            | K::SmallAlternator
            | K::DeadDiode => engine.charging,
            K::WornBearings
            | K::BarePickup
            | K::LostPrime
            | K::ColdOil
            | K::HotOil
            | K::OilStuck => engine.oil,
            K::ProbeOpen
            | K::ProbeSlow
            | K::ProbeBlind
            | K::HotSpot
            | K::DeadSpark
            | K::DeadFuel
            | K::WeakInjector => n >= 4 && !(engine.carburettor && kind == K::WeakInjector),
            K::WeakPump
            | K::RegulatorHose
            | K::FuelLeak
            | K::SmallInjectors
            | K::LeanJets
            | K::FuelBatch
            | K::IdleHunt
            | K::LoosePin
            | K::PressureHigh
            | K::Afterfire => !engine.carburettor,
            _ => true,
        }
    }
}
