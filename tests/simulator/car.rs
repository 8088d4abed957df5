//! One car on one day: every number that differs between healthy engines and
//! days, and every number that a fault can change. Faults alter these fields and
//! nothing else; no column is ever painted over.

use super::Kind;
use super::dice::{Dice, Stream};
use super::engine::{Engine, HILL_SPECIAL};
use super::physics::MOST;

/// A stretch of time: start and length in s.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    /// Start, s of log time.
    pub from: f64,
    /// Length, s.
    pub len: f64,
}

impl Stretch {
    /// Is `t` inside?
    pub fn holds(&self, t: f64) -> bool {
        t >= self.from && t < self.from + self.len
    }
}

/// How a crank signal is spoilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Teeth {
    /// Every tooth is seen.
    Clean,
    /// Too wide an air gap: the signal is too weak below this speed, rpm.
    WeakBelow(f64),
    /// Run-out and vibration: position is lost above this speed, rpm.
    LostAbove(f64),
    /// Noise counted as teeth: bursts that multiply the speed, one every so many seconds.
    Extra { factor: f64, every_s: f64 },
    /// Every second tooth missed for a while: half speed.
    Halved { above: f64, len: f64, every_s: f64 },
}

/// The car.
#[derive(Debug, Clone)]
pub struct Car {
    /// Its engine.
    pub engine: &'static Engine,
    /// Outside air, degC.
    pub air_c: f64,
    /// Weather, kPa away from the standard air of the height.
    pub weather_kpa: f64,
    /// Height of the yard, m.
    pub height_m: f64,
    /// Coolant and metal at key-on, degC.
    pub coolant_c: f64,
    /// Oil at key-on, degC.
    pub oil_c: f64,
    /// Engine bay at key-on, degC.
    pub bay_c: f64,
    /// Battery charge, 0..1.
    pub charge: f64,
    /// Battery internal resistance at 25 degC and full, ohm.
    pub battery_ohm: f64,
    /// Shared main cable from battery to starter stud and back through earth, ohm.
    pub main_ohm: f64,
    /// Feed from the stud to the controller, ohm.
    pub feed_ohm: f64,
    /// Regulator set point at 30 degC, V.
    pub regulator_v: f64,
    /// Field circuit is whole.
    pub field_ok: bool,
    /// Engine speed above which the belt slips, rpm.
    pub slip_above: Option<f64>,
    /// Share of shaft speed lost when slipping fully.
    pub slip_share: f64,
    /// Alternator temperature at which half its output is gone, degC.
    pub fade_at: f64,
    /// Multiplies the oil pressure below the relief valve: 1 healthy.
    pub oil_tightness: f64,
    /// Lateral g that bares the oil pickup.
    pub pickup_g: f64,
    /// Seconds of turning before the oil pump has drawn.
    pub oil_prime_s: f64,
    /// Relief valve, kPa.
    pub relief_kpa: f64,
    /// Friction and torque scatter.
    pub friction: f64,
    /// Real breathing against the controller's table, three wavelets.
    pub table_error: [f64; 3],
    /// Flow of each injector against its rating.
    pub injector: [f64; MOST],
    /// Fuel reaches the cylinder.
    pub fuel_ok: [bool; MOST],
    /// Spark reaches the cylinder.
    pub spark_ok: [bool; MOST],
    /// Fuel pump capability, g/s at 300 kPa and 13.5 V.
    pub pump_g_s: f64,
    /// The regulator's hose to the manifold is connected.
    pub regulator_hose: bool,
    /// Fuel pressure lost by leakage, share per s.
    pub fuel_leak: f64,
    /// Healthy offset of each exhaust gas, degC.
    pub egt_offset: [f64; MOST],
    /// Time constant of each EGT probe, s.
    pub probe_tau: [f64; MOST],
    /// How far each probe reaches into the gas, 0..1.
    pub probe_depth: [f64; MOST],
    /// From this time on the EGT probe is open, s.
    pub probe_open: [f64; MOST],
    /// Knock limit of each cylinder against the common one, deg.
    pub knock_margin: [f64; MOST],
    /// Mechanical noise heard as knock, chance per cylinder-cycle at high speed.
    pub noise: [f64; MOST],
    /// Too much advance in the high-load part of the ignition table, deg.
    pub advance_error: f64,
    /// Free area of the radiator, 1 healthy.
    pub radiator: f64,
    /// From this time on the coolant sender's wire is open, s.
    pub coolant_open: f64,
    /// MAP reading above truth through a ground offset, kPa.
    pub map_ground: f64,
    /// Crank signal.
    pub teeth: Teeth,
    /// The controller's relay drops out.
    pub relay_open: Option<Stretch>,
    /// The logger hangs on the same relay and stops writing with it.
    pub logger_on_relay: bool,
    /// The card writes nothing.
    pub logger_stall: Option<Stretch>,
    /// The logger's clock is set back: when, and by how much, s.
    pub clock_back: Option<Stretch>,
    /// Time for which the standing car idles, s.
    pub standing_s: f64,
    /// Stoichiometric air to fuel of what is in the tank.
    pub tank_afr: f64,
    /// Rating of the injectors, known to the controller, cm3/min.
    pub injector_cc: f64,
    /// Fuel pressure of a regulator that sticks, kPa.
    pub regulator_stuck: Option<f64>,
    /// Flow of the second injectors against their rating.
    pub staged_flow: f64,
    /// From this time on the lambda sensor's output stands still, s.
    pub lambda_stuck: f64,
    /// Lag of the lambda sensor through soot, s.
    pub lambda_tau: f64,
    /// Limit of the controller against the right one, rpm; the driver uses it.
    pub limit_raised: f64,
    /// Share of the heat that the oil loses.
    pub oil_cooling: f64,
    /// How far the coolant sender stands in coolant, 0..1.
    pub sender_depth: f64,
    /// The coolant sender's plug is loose: opens about every so many seconds.
    pub coolant_pin: Option<f64>,
    /// The same of the fuel pressure sender.
    pub fuel_pin: Option<f64>,
    /// From this time on the oil pressure sender stands still, s.
    pub oil_stuck: f64,
    /// Strength of the idle control.
    pub idle_gain: f64,
    /// Resistance of the starter against a sound one.
    pub starter_wear: f64,
    /// Rows that a slow card loses, share.
    pub rows_lost: f64,
    /// Rating of the alternator, A.
    pub alternator_a: f64,
    /// Half the height of the ripple that a dead diode leaves, V.
    pub ripple_v: f64,
    /// Fire in the pipe while the fuel is cut, degC of gas; 0 none.
    pub afterfire_c: f64,
    /// Open area behind the throttle, m2.
    pub air_leak: f64,
    /// The second throttle sensor reads too much, %.
    pub second_tps: f64,
    /// From this time on the blade hangs open this far, s and 0..1.
    pub blade_stuck: Option<(f64, f64)>,
    /// Hot air drawn from the bay: share of the bay's heat.
    pub bay_breath: f64,
    /// Share of the charge's heat that the charge cooler takes out.
    pub charge_cooler: f64,
    /// Share of the boost that a leak loses.
    pub boost_leak: f64,
    /// Boost over the target through a wastegate that does not open, kPa.
    pub boost_over: f64,
    /// Advance commanded while cranking, deg.
    pub crank_advance: f64,
    /// Turns too many until each cylinder catches.
    pub late_catch: u32,
    /// Film that the controller reckons wrongly with, 1 the usual error.
    pub film_error: f64,
}

impl Car {
    /// A healthy car for a scenario; all scatter comes from the seed.
    pub fn healthy(kind: Kind, seed: u64) -> Self {
        Self::of(&HILL_SPECIAL, kind, seed)
    }

    /// The same with another engine.
    pub fn of(engine: &'static Engine, kind: Kind, seed: u64) -> Self {
        let n = engine.cylinders();
        let mut day = Dice::new(seed, Stream::Day);
        let air_c = day.between(5.0, 30.0);
        let warm = match kind {
            Kind::FirstStart => None,
            Kind::HillRun => Some((day.between(70.0, 78.0), day.between(66.0, 74.0))),
            Kind::Standstill => Some((day.between(75.0, 80.0), day.between(70.0, 76.0))),
        };
        // an engine that stood overnight lags the air by a degree or so
        let cold = air_c + day.normal(-0.5, 0.6);
        let (coolant_c, oil_c) = warm.unwrap_or((cold, cold + day.normal(0.0, 0.3)));
        let bay_c = if warm.is_some() { air_c + 14.0 } else { air_c };
        let mut each = |mean: f64, sd: f64| -> [f64; MOST] {
            std::array::from_fn(|c| {
                if c < n {
                    mean + sd * day.gauss().clamp(-2.0, 2.0)
                } else {
                    mean
                }
            })
        };
        let injector = each(1.0, 0.008);
        let egt_offset = each(0.0, 12.0);
        let knock_margin = each(0.0, 0.6);
        let probe_depth = each(1.0, 0.008);
        Self {
            engine,
            air_c,
            weather_kpa: day.normal(0.0, 0.9).clamp(-2.0, 2.0),
            height_m: 200.0,
            coolant_c,
            oil_c,
            bay_c,
            charge: day.between(0.85, 1.0),
            battery_ohm: day.between(0.0068, 0.0080),
            main_ohm: day.between(0.0025, 0.0035),
            feed_ohm: day.between(0.006, 0.010),
            regulator_v: 14.2 + day.normal(0.0, 0.05).clamp(-0.1, 0.1),
            field_ok: engine.charging,
            slip_above: None,
            slip_share: 0.0,
            fade_at: f64::INFINITY,
            oil_tightness: day.between(0.95, 1.08),
            pickup_g: f64::INFINITY,
            oil_prime_s: day.between(0.4, 0.9),
            relief_kpa: 450.0 + day.between(-8.0, 8.0),
            friction: day.between(0.95, 1.06),
            table_error: std::array::from_fn(|_| day.between(0.0, std::f64::consts::TAU)),
            injector,
            fuel_ok: [true; MOST],
            spark_ok: [true; MOST],
            pump_g_s: day.between(38.0, 44.0) * engine.fuel_scale(),
            regulator_hose: true,
            fuel_leak: day.between(0.0003, 0.0009),
            egt_offset,
            probe_tau: std::array::from_fn(|c| if c < n { day.between(1.5, 4.0) } else { 2.0 }),
            probe_depth,
            probe_open: [f64::INFINITY; MOST],
            knock_margin,
            noise: [0.0; MOST],
            advance_error: 0.0,
            radiator: if engine.boost > 0.0 { 1.8 } else { 1.0 },
            coolant_open: f64::INFINITY,
            map_ground: day.normal(0.0, 0.25).clamp(-0.5, 0.5),
            teeth: Teeth::Clean,
            relay_open: None,
            logger_on_relay: false,
            logger_stall: None,
            clock_back: None,
            standing_s: day.between(370.0, 430.0),
            tank_afr: engine.afr,
            injector_cc: engine.injector_cc,
            regulator_stuck: None,
            staged_flow: 1.0,
            lambda_stuck: f64::INFINITY,
            lambda_tau: 0.0,
            limit_raised: 0.0,
            oil_cooling: 1.0,
            sender_depth: 1.0,
            coolant_pin: None,
            fuel_pin: None,
            oil_stuck: f64::INFINITY,
            idle_gain: 1.0,
            starter_wear: 1.0,
            rows_lost: 0.0,
            alternator_a: 68.0,
            ripple_v: 0.0,
            afterfire_c: 0.0,
            air_leak: 0.0,
            second_tps: 0.0,
            blade_stuck: None,
            bay_breath: 0.0,
            charge_cooler: 0.7,
            boost_leak: 0.0,
            boost_over: 0.0,
            crank_advance: 10.0,
            late_catch: 0,
            film_error: 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_car() {
        let a = format!("{:?}", Car::healthy(Kind::HillRun, 3));
        assert_eq!(a, format!("{:?}", Car::healthy(Kind::HillRun, 3)));
        assert_ne!(a, format!("{:?}", Car::healthy(Kind::HillRun, 4)));
    }
}
