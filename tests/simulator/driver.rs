//! The person at the wheel: a list of acts, worked off one after another.

use super::Kind;
use super::car::Car;
use super::controller::LIMIT;
use super::course::Course;
use super::crank::rpm_in_gear;
use super::dice::{Dice, Stream};
use super::physics::lag;

/// One act of the driver; times in s, speeds of the engine in rpm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// Key on, nothing turns.
    Rest(f64),
    /// Pump switch held.
    Prime(f64),
    /// Starter until it runs, or so long at most.
    Crank(f64),
    /// Foot off.
    Idle(f64),
    /// Held speed in neutral.
    Hold(f64, f64),
    /// A stab of the throttle to this opening, for this long, and off again.
    Blip(f64, f64),
    /// In gear at a held engine speed.
    Cruise(usize, f64, f64),
    /// Up the hill, flat out.
    Climb,
    /// Brake to a standstill.
    Halt,
    /// Ignition off, key on.
    Kill(f64),
}

/// What the driver can see.
#[derive(Debug, Clone, Copy)]
pub struct View {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Road speed, m/s.
    pub speed: f64,
    /// Coolant, degC.
    pub coolant: f64,
    /// Distance from the start line, m.
    pub x: f64,
}

/// Hands and feet.
#[derive(Debug, Clone, Copy, Default)]
pub struct Hands {
    /// Throttle 0..1.
    pub throttle: f64,
    /// Clutch 0 open, 1 shut.
    pub clutch: f64,
    /// Gear, 0 neutral.
    pub gear: usize,
    /// Brakes, m/s2.
    pub brake: f64,
    /// Starter button.
    pub starter: bool,
    /// Pump switch.
    pub prime: bool,
    /// Kill switch.
    pub kill: bool,
    /// Torque cut by the gear lever.
    pub shift_cut: bool,
}

/// The driver.
#[derive(Debug, Clone)]
pub struct Driver {
    acts: Vec<Act>,
    at: usize,
    act_s: f64,
    ran_s: f64,
    stalled_s: f64,
    tries: u32,
    sum: f64,
    want_rpm: f64,
    tremor: f64,
    tremble: Dice,
    shift: Option<(usize, f64)>,
    since_shift: f64,
    up_at: f64,
    uses_limiter: bool,
    limited_s: f64,
    away_s: f64,
    warm: bool,
    /// The hill.
    pub course: Course,
    /// Hands now.
    pub hands: Hands,
    /// Metres are counted from here on.
    pub on_course: bool,
}

/// Length of a gear change, s.
const SHIFT_S: f64 = 0.26;
/// So long a driver bears an engine that stays fast with the foot off, s; braking from speed takes no longer.
const LONGEST_OFF_S: f64 = 8.0;
/// Starts tried again before the driver gives up.
const MOST_TRIES: u32 = 2;

fn first_start(dice: &mut Dice, look_s: f64) -> Vec<Act> {
    let mut acts = vec![
        Act::Rest(dice.between(2.5, 4.0)),
        Act::Prime(dice.between(3.0, 4.0)),
        Act::Rest(dice.between(5.0, 7.0)),
        Act::Crank(8.0),
        Act::Idle(dice.between(24.0, 30.0)),
    ];
    for rpm in [
        1500.0, 2000.0, 2500.0, 3000.0, 3500.0, 3000.0, 2500.0, 2000.0, 1500.0,
    ] {
        let rpm = rpm + dice.normal(0.0, 20.0);
        acts.push(Act::Hold(rpm, dice.between(19.0, 23.0)));
    }
    acts.push(Act::Idle(dice.between(9.0, 12.0)));
    for _ in 0..3 {
        acts.push(Act::Blip(dice.between(0.30, 0.45), dice.between(0.45, 0.6)));
        acts.push(Act::Idle(dice.between(4.5, 6.5)));
    }
    acts.extend([
        Act::Idle(dice.between(10.0, 14.0) + look_s),
        Act::Kill(dice.between(24.0, 30.0)),
    ]);
    acts
}

/// How much longer the driver lets it idle warm before the kill, s: now and then to look round the engine for leaks, and
/// always to watch an idle that swings.
fn look_round(car: &Car, seed: u64) -> f64 {
    let mut own = Dice::new(seed ^ 0x1d1e, Stream::Driver);
    if own.chance(0.4) || car.idle_gain > 1.0 {
        own.between(35.0, 60.0)
    } else {
        0.0
    }
}

/// Time for which a driver who uses the limiter stays on it before he changes up, s.
const ON_LIMITER_S: f64 = 0.45;

fn hill_run(dice: &mut Dice) -> Vec<Act> {
    vec![
        Act::Rest(dice.between(2.0, 3.0)),
        Act::Prime(3.0),
        Act::Rest(dice.between(5.0, 6.5)),
        Act::Crank(8.0),
        Act::Idle(dice.between(14.0, 18.0)),
        Act::Cruise(2, 2300.0, dice.between(13.0, 15.0)),
        Act::Cruise(2, 3600.0, dice.between(13.0, 15.0)),
        Act::Cruise(3, 2700.0, dice.between(12.0, 14.0)),
        Act::Halt,
        Act::Idle(dice.between(6.0, 9.0)),
        Act::Climb,
        Act::Cruise(4, 3000.0, dice.between(11.0, 13.0)),
        Act::Halt,
        Act::Idle(4.0),
        Act::Cruise(3, 3900.0, dice.between(14.0, 16.0)),
        Act::Cruise(3, 3000.0, dice.between(14.0, 16.0)),
        Act::Cruise(3, 2300.0, dice.between(12.0, 14.0)),
        Act::Halt,
        Act::Idle(dice.between(8.0, 10.0)),
        Act::Kill(dice.between(24.0, 28.0)),
    ]
}

impl Driver {
    /// The driver of a scenario.
    pub fn new(kind: Kind, car: &Car, seed: u64) -> Self {
        let mut dice = Dice::new(seed, Stream::Driver);
        let acts = match kind {
            Kind::FirstStart => first_start(&mut dice, look_round(car, seed)),
            Kind::HillRun => hill_run(&mut dice),
            Kind::Standstill => vec![
                Act::Rest(3.0),
                Act::Prime(3.0),
                Act::Rest(dice.between(4.5, 6.0)),
                Act::Crank(8.0),
                Act::Idle(car.standing_s),
                Act::Kill(26.0),
            ],
        };
        let course = Course::new(&mut dice);
        // one who trusts in the limiter changes up only once it has cut in
        let uses_limiter = car.limit_raised > 0.0;
        let up_at = if uses_limiter {
            LIMIT + car.limit_raised - 150.0
        } else {
            dice.between(7050.0, 7250.0)
        };
        Self {
            acts,
            at: 0,
            act_s: 0.0,
            ran_s: 0.0,
            stalled_s: 0.0,
            tries: 0,
            sum: 0.0,
            want_rpm: 1100.0,
            tremor: 0.0,
            tremble: dice,
            shift: None,
            since_shift: 9.0,
            up_at,
            uses_limiter,
            limited_s: 0.0,
            away_s: 0.0,
            warm: kind == Kind::HillRun,
            course,
            hands: Hands::default(),
            on_course: false,
        }
    }

    /// One step; `None` when the last act is over.
    pub fn step(&mut self, v: &View, dt: f64) -> Option<Hands> {
        let act = *self.acts.get(self.at)?;
        self.act_s += dt;
        self.since_shift += dt;
        self.tremor = lag(self.tremor, 0.0, dt, 0.8) + 0.0011 * dt.sqrt() * self.tremble.gauss();
        let mut h = Hands {
            gear: self.hands.gear,
            clutch: self.hands.clutch,
            ..Hands::default()
        };
        let (throttle, done) = match act {
            Act::Rest(s) => (0.0, self.act_s > s),
            Act::Prime(s) => {
                h.prime = true;
                (0.0, self.act_s > s)
            }
            Act::Crank(most) => {
                self.ran_s = if v.rpm > 560.0 { self.ran_s + dt } else { 0.0 };
                h.starter = true;
                (0.0, self.ran_s > 0.22 || self.act_s > most)
            }
            Act::Idle(s) => (self.idle(&mut h), self.act_s > s),
            Act::Hold(rpm, s) => (self.hold(&mut h, rpm, v, dt), self.act_s > s),
            Act::Blip(open, s) => (open, self.act_s > s),
            Act::Cruise(gear, rpm, s) => (self.cruise(&mut h, gear, rpm, v, dt), self.act_s > s),
            Act::Climb => (self.climb(&mut h, v, dt), v.x > self.course.length),
            Act::Halt => {
                h.brake = 3.5;
                h.clutch = if v.rpm < 1500.0 { 0.0 } else { 1.0 };
                (0.0, v.speed < 0.1)
            }
            Act::Kill(s) => {
                h.kill = true;
                (self.idle(&mut h), self.act_s > s)
            }
        };
        self.on_course |= act == Act::Climb;
        // a foot has a speed
        let before = self.hands.throttle;
        h.throttle = throttle
            .clamp(before - 9.0 * dt, before + 5.0 * dt)
            .clamp(0.0, 1.0);
        self.restart_if_stalled(act, v, dt);
        self.kill_if_it_runs_away(throttle, v, dt);
        if done {
            self.next(v);
        }
        self.hands = h;
        Some(h)
    }

    fn next(&mut self, v: &View) {
        self.at += 1;
        self.act_s = 0.0;
        self.ran_s = 0.0;
        self.sum = 0.0;
        self.want_rpm = v.rpm;
    }

    /// An engine that died gets the starter again, once the driver has noticed.
    fn restart_if_stalled(&mut self, act: Act, v: &View, dt: f64) {
        let ought_to_run = matches!(
            act,
            Act::Idle(_) | Act::Hold(..) | Act::Blip(..) | Act::Cruise(..) | Act::Climb
        );
        self.stalled_s = if ought_to_run && v.rpm < 60.0 {
            self.stalled_s + dt
        } else {
            0.0
        };
        if self.stalled_s > 2.5 {
            self.stalled_s = 0.0;
            self.act_s = 0.0;
            self.hands.gear = 0;
            self.tries += 1;
            if self.tries > MOST_TRIES {
                // it will not start today
                self.acts.truncate(self.at);
                self.acts.push(Act::Kill(20.0));
            } else {
                self.acts.insert(self.at, Act::Crank(8.0));
            }
        }
    }

    /// On the road nobody waits for long with the foot off while the engine will not come down.
    fn kill_if_it_runs_away(&mut self, throttle: f64, v: &View, dt: f64) {
        self.away_s = if throttle < 0.005 && v.rpm > 2500.0 {
            self.away_s + dt
        } else {
            0.0
        };
        if self.warm && self.away_s > LONGEST_OFF_S {
            self.away_s = 0.0;
            self.acts.truncate(self.at + 1);
            self.acts.push(Act::Kill(25.0));
            self.at += 1;
            self.act_s = 0.0;
        }
    }

    fn idle(&mut self, h: &mut Hands) -> f64 {
        h.gear = 0;
        h.clutch = 0.0;
        h.brake = 3.0;
        0.0
    }

    fn hold(&mut self, h: &mut Hands, rpm: f64, v: &View, dt: f64) -> f64 {
        self.idle(h);
        self.want_rpm += (rpm - self.want_rpm).clamp(-600.0 * dt, 600.0 * dt);
        let error = self.want_rpm - v.rpm;
        self.sum = (self.sum + 1.3e-5 * error * dt).clamp(-0.06, 0.12);
        let guess = 0.020 + 0.034 * ((self.want_rpm - 1200.0) / 1000.0).max(0.0).powf(0.9);
        (guess + self.sum + 2.2e-5 * error + self.tremor).clamp(0.016, 0.4)
    }

    /// Gear change under way: returns the throttle while it lasts.
    fn change(&mut self, h: &mut Hands, v: &View, dt: f64) -> Option<f64> {
        let (gear, left) = self.shift?;
        let up = gear > h.gear;
        if left <= 0.0 {
            h.gear = gear;
            h.clutch = 1.0;
            self.shift = None;
            self.since_shift = 0.0;
            return None;
        }
        self.shift = Some((gear, left - dt));
        h.clutch = 0.0;
        h.shift_cut = up && left > 0.05;
        let match_rpm = rpm_in_gear(gear, v.speed);
        Some(if up {
            0.15
        } else if v.rpm < match_rpm - 150.0 {
            0.45
        } else {
            0.03
        })
    }

    fn ask_gear(&mut self, h: &Hands, gear: usize) {
        if self.shift.is_none() && gear != h.gear {
            self.shift = Some((gear, SHIFT_S));
        }
    }

    /// Pull away with a slipping clutch; true while it lasts.
    fn pull_away(h: &mut Hands, v: &View, bite: f64) -> bool {
        if h.gear == 1 && rpm_in_gear(1, v.speed) < 1900.0 && v.rpm < 6000.0 {
            h.clutch = (bite + (v.rpm - 2000.0) / 6000.0).clamp(0.0, 0.8);
            return true;
        }
        false
    }

    fn cruise(&mut self, h: &mut Hands, gear: usize, rpm: f64, v: &View, dt: f64) -> f64 {
        if h.gear == 0 {
            h.gear = 1;
            self.want_rpm = 2000.0;
        }
        if Self::pull_away(h, v, 0.15) {
            return 0.22;
        }
        if let Some(throttle) = self.change(h, v, dt) {
            self.want_rpm = rpm_in_gear(self.shift.map_or(h.gear, |s| s.0), v.speed);
            return throttle;
        }
        h.clutch = (h.clutch + 6.0 * dt).min(1.0);
        if h.gear < gear && rpm_in_gear(h.gear, v.speed) > 3300.0 {
            self.ask_gear(h, h.gear + 1);
        } else if h.gear > gear && rpm_in_gear(h.gear - 1, v.speed) < rpm.max(3000.0) + 500.0 {
            self.ask_gear(h, h.gear - 1);
        }
        let goal = if h.gear < gear { 3600.0 } else { rpm };
        self.want_rpm += (goal - self.want_rpm).clamp(-450.0 * dt, 450.0 * dt);
        let error = self.want_rpm - v.rpm;
        // the brakes take what engine braking leaves
        h.brake = (-(error + 150.0) / 120.0).clamp(0.0, 4.0);
        self.sum = (self.sum + 9.0e-5 * error * dt).clamp(-0.3, 0.6);
        let push = 0.075 + 0.022 * self.want_rpm / 1000.0 + self.sum + 3.5e-4 * error;
        (push + 2.0 * self.tremor).clamp(0.0, 0.8)
    }

    fn wants_up(&mut self, v: &View, dt: f64) -> bool {
        self.limited_s = if v.rpm > self.up_at {
            self.limited_s + dt
        } else {
            0.0
        };
        v.rpm > self.up_at && (!self.uses_limiter || self.limited_s > ON_LIMITER_S)
    }

    fn climb(&mut self, h: &mut Hands, v: &View, dt: f64) -> f64 {
        if h.gear == 0 {
            h.gear = 1;
        }
        if Self::pull_away(h, v, 0.35) {
            return if v.rpm > 4300.0 { 0.35 } else { 0.75 };
        }
        if let Some(throttle) = self.change(h, v, dt) {
            if v.speed > self.course.allowed(v.x) {
                h.brake = 6.0;
            }
            return throttle;
        }
        h.clutch = (h.clutch + 12.0 * dt).min(1.0);
        let allowed = self.course.allowed(v.x);
        let too_fast = v.speed - allowed;
        if self.since_shift > 0.35 {
            let lower = rpm_in_gear(h.gear.saturating_sub(1), v.speed);
            if self.wants_up(v, dt) && h.gear < 4 && too_fast < 0.0 {
                self.ask_gear(h, h.gear + 1);
            } else if h.gear > 1 && lower < 5300.0 {
                self.ask_gear(h, h.gear - 1);
            }
        }
        if too_fast > -0.2 && !self.course.cornering(v.x) {
            h.brake = (2.0 + 3.0 * (too_fast + 0.2)).min(7.5);
            return 0.0;
        }
        if too_fast > 0.8 {
            h.brake = 3.0;
            return 0.0;
        }
        if self.course.cornering(v.x) && too_fast > -1.6 {
            // feather through the corner
            self.sum = (self.sum - 0.12 * (too_fast + 0.3) * dt).clamp(-0.2, 0.4);
            return (0.20 + self.sum - 0.25 * (too_fast + 0.3)).clamp(0.0, 1.0);
        }
        self.sum *= 1.0 - dt;
        1.0
    }
}
