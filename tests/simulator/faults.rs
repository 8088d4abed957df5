//! Faults: each changes parts of the car. Severity and place come from the seed,
//! within a range that an experienced eye would find in the log.

use super::Kind;
use super::car::{Car, Stretch, Teeth};
use super::dice::{Dice, Stream};

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
}

impl Fault {
    /// A fault of that kind; severity and place follow from the seed.
    pub fn seeded(kind: FaultKind, seed: u64) -> Self {
        // each kind of fault draws its own place
        let mut d = Dice::new(seed ^ (kind as u64 + 1) << 32, Stream::Fault);
        let cylinder = 1 + d.pick(6);
        match kind {
            FaultKind::LoggerStall => Self::LoggerStall {
                from: d.between(60.0, 200.0),
                len: d.between(1.5, 4.0),
            },
            FaultKind::ClockBack => Self::ClockBack {
                at: d.between(60.0, 200.0),
                by: d.between(0.8, 12.0),
            },
            FaultKind::CoolantOpen => Self::CoolantOpen {
                at: d.between(40.0, 180.0),
            },
            FaultKind::MapGround => Self::MapGround {
                kpa: d.between(5.0, 9.0),
            },
            FaultKind::PowerDrop => Self::PowerDrop {
                from: d.between(95.0, 150.0),
                len: d.between(0.3, 2.0),
                with_logger: d.chance(0.5),
            },
            FaultKind::WeakBattery => Self::WeakBattery {
                charge: d.between(0.22, 0.40),
            },
            FaultKind::StarterCable => Self::StarterCable {
                ohm: d.between(0.009, 0.0105),
            },
            FaultKind::BadEarth => Self::BadEarth {
                ohm: d.between(0.009, 0.0105),
            },
            FaultKind::GapLow => Self::GapLow {
                rpm: d.between(1250.0, 1500.0),
            },
            FaultKind::GapHigh => Self::GapHigh {
                rpm: d.between(4200.0, 5600.0),
            },
            FaultKind::ExtraTeeth => Self::ExtraTeeth {
                factor: d.between(1.38, 1.65),
                every_s: d.between(3.0, 8.0),
            },
            FaultKind::HalfSpeed => Self::HalfSpeed {
                above: d.between(2000.0, 2600.0),
                len: d.between(0.5, 1.2),
                every_s: d.between(5.0, 10.0),
            },
            FaultKind::RegulatorHigh => Self::RegulatorHigh {
                volts: d.between(16.5, 17.0),
            },
            FaultKind::NoCharge => Self::NoCharge,
            FaultKind::BeltSlip => Self::BeltSlip {
                rpm: d.between(3000.0, 4000.0),
                share: d.between(0.86, 0.92),
            },
            FaultKind::AlternatorFade => Self::AlternatorFade {
                rise: d.between(29.0, 35.0),
            },
            FaultKind::WornBearings => Self::WornBearings {
                share: d.between(0.30, 0.40),
            },
            FaultKind::BarePickup => Self::BarePickup {
                g: d.between(0.55, 0.70),
            },
            FaultKind::LostPrime => Self::LostPrime {
                s: d.between(9.0, 14.0),
            },
            FaultKind::EngineNoise => Self::EngineNoise {
                half: d.pick(2),
                chance: d.between(0.010, 0.03),
            },
            FaultKind::OverAdvance => Self::OverAdvance {
                deg: d.between(11.0, 14.0),
            },
            FaultKind::HotSpot => Self::HotSpot {
                cylinder,
                deg: d.between(11.0, 14.0),
            },
            FaultKind::ProbeOpen => Self::ProbeOpen {
                cylinder,
                at: d.between(50.0, 170.0),
            },
            FaultKind::ProbeSlow => Self::ProbeSlow {
                cylinder,
                tau: d.between(12.0, 20.0),
            },
            FaultKind::ProbeBlind => Self::ProbeBlind {
                cylinder,
                depth: d.between(0.18, 0.32),
            },
            FaultKind::WeakInjector => Self::WeakInjector {
                cylinder,
                share: d.between(0.62, 0.69),
            },
            FaultKind::DeadSpark => Self::DeadSpark { cylinder },
            FaultKind::DeadFuel => Self::DeadFuel { cylinder },
            FaultKind::WeakPump => Self::WeakPump {
                g_s: d.between(11.5, 13.2),
            },
            FaultKind::RegulatorHose => Self::RegulatorHose,
            FaultKind::FuelLeak => Self::FuelLeak {
                share: d.between(0.03, 0.08),
            },
            FaultKind::BlockedRadiator => Self::BlockedRadiator {
                share: d.between(0.20, 0.30),
            },
            FaultKind::HotStandstill => Self::HotStandstill {
                air: d.between(26.0, 34.0),
                s: d.between(520.0, 600.0),
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
                for noise in &mut car.noise[3 * half..3 * half + 3] {
                    *noise = chance;
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
            Self::WeakPump { g_s } => car.pump_g_s = g_s,
            Self::RegulatorHose => car.regulator_hose = false,
            Self::FuelLeak { share } => car.fuel_leak = share,
            Self::BlockedRadiator { share } => car.radiator = share,
            Self::HotStandstill { air, s } => {
                car.bay_c += air - car.air_c;
                car.air_c = air;
                car.standing_s = s;
            }
        }
    }
}
