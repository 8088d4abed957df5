//! The engine controller: targets, tables, cuts, idle. It knows only what its sensors say.

use super::air::table_ve;
use super::car::Car;
use super::physics::{SWEPT, air_per_cycle, duty, ramp};

/// Below this the controller browns out once its capacitors are empty, V.
const BROWN_OUT_V: f64 = 5.5;
/// Time the capacitors last, s.
const HOLD_UP_S: f64 = 0.06;
/// Idle speed, warm, rpm.
const IDLE: f64 = 1100.0;
/// An idle that stays fast for longer than any overrun lasts is pulled down, s.
const LONG_FAST_S: f64 = 6.5;
/// Speed limit, rpm.
pub const LIMIT: f64 = 7600.0;

/// What the controller reads.
#[derive(Debug, Clone, Copy)]
pub struct Readings {
    /// Supply, V.
    pub volts: f64,
    /// Speed, rpm.
    pub rpm: f64,
    /// Position known.
    pub synced: bool,
    /// Manifold, kPa.
    pub map: f64,
    /// Throttle 0..1.
    pub throttle: f64,
    /// Lambda, as its sensor says.
    pub lambda: f64,
    /// Coolant, degC.
    pub coolant: f64,
    /// Intake air, degC.
    pub intake: f64,
    /// The driver's kill switch is pulled.
    pub kill: bool,
    /// The gear lever asks for a torque cut.
    pub shift_cut: bool,
    /// Prime switch.
    pub prime: bool,
    /// Key on and relay closed.
    pub fed: bool,
}

/// State and outputs.
#[derive(Debug, Clone, Default)]
pub struct Controller {
    low_s: f64,
    boot_s: f64,
    still_s: f64,
    shut_s: f64,
    idle_sum: f64,
    fast_s: f64,
    overrun: bool,
    limiting: bool,
    /// Awake and in charge.
    pub alive: bool,
    /// Seconds since power-up.
    pub uptime: f64,
    /// Seconds since the engine ran by itself.
    pub fired_s: f64,
    /// Fuel is cut now.
    pub cut: bool,
    /// Spark is given.
    pub sparking: bool,
    /// Ignition advance commanded, deg.
    pub advance: f64,
    /// Lambda wanted.
    pub target: f64,
    /// Fuel wanted per cylinder and cycle, g.
    pub fuel_g: f64,
    /// Share of fuel that it expects to land on the walls.
    pub film_share: f64,
    /// Pulse commanded, dead time included, ms.
    pub pulse: f64,
    /// Duty of the injectors, %.
    pub duty: f64,
    /// Share of the fuel that the first set of injectors gives.
    pub first_share: f64,
    /// Duty of the second set, %.
    pub staged: f64,
    /// Correction by lambda, -0.2 to 0.2.
    pub trim: f64,
    /// Open area of the idle valve, m2.
    pub idle_area: f64,
    /// Fuel pump relay.
    pub pump: bool,
}

/// Injector dead time in ms by supply.
pub fn dead_time(volts: f64) -> f64 {
    0.9 + 0.14 * (14.0 - volts).clamp(-3.0, 7.0)
}

/// Injector flow at 300 kPa, g/s.
pub fn injector_flow(car: &Car) -> f64 {
    car.injector_cc * car.engine.density / 60.0
}

/// Ignition table: load in kPa of MAP.
pub fn advance_table(rpm: f64, map: f64) -> f64 {
    let speed = 15.0 * (1.0 - (-(rpm - 900.0).max(0.0) / 2300.0).exp());
    13.0 + speed + 12.0 * (1.0 - map / 97.0).max(0.0) * ramp(rpm, 1300.0, 2200.0)
        - 0.06 * (map - 105.0).max(0.0)
}

impl Controller {
    /// One step. Returns true when the controller has just restarted.
    pub fn step(&mut self, car: &Car, r: &Readings, dt: f64) -> bool {
        let was_alive = self.alive;
        self.low_s = if r.volts < BROWN_OUT_V {
            self.low_s + dt
        } else {
            0.0
        };
        if !r.fed || self.low_s > HOLD_UP_S {
            *self = Self {
                boot_s: 0.0,
                ..Self::default()
            };
            return false;
        }
        if !self.alive {
            self.boot_s += dt;
            if self.boot_s < 0.15 {
                return false;
            }
            self.alive = true;
            self.uptime = 0.0;
        }
        self.uptime += dt;
        self.cuts(car, r, dt);
        self.idle(car, r, dt);
        self.close_loop(car, r, dt);
        self.tables(car, r);
        self.still_s = if r.rpm > 0.0 { 0.0 } else { self.still_s + dt };
        let turned_lately = self.still_s < 1.5 && self.uptime > 1.5;
        self.pump = r.prime || r.rpm > 0.0 || turned_lately;
        !was_alive
    }

    fn cuts(&mut self, car: &Car, r: &Readings, dt: f64) {
        self.shut_s = if r.throttle < 0.012 {
            self.shut_s + dt
        } else {
            0.0
        };
        let warm = r.coolant > 35.0;
        self.overrun = if self.overrun {
            self.shut_s > 0.0 && r.rpm > 1650.0
        } else {
            warm && self.shut_s > 0.12 && r.rpm > 2200.0
        };
        let limit = LIMIT + car.limit_raised;
        self.limiting = r.rpm > if self.limiting { limit - 120.0 } else { limit };
        self.overrun &= !car.engine.carburettor;
        self.cut = self.overrun || self.limiting || r.shift_cut || r.kill;
        let held = car.engine.carburettor && self.limiting;
        self.sparking = r.synced && !r.kill && !r.shift_cut && !held;
        self.fired_s = if r.rpm > 600.0 {
            self.fired_s + dt
        } else {
            0.0
        };
    }

    /// Speed wanted at idle, rpm: faster while cold.
    fn idle_target(r: &Readings) -> f64 {
        IDLE + 8.0 * (62.0 - r.coolant).clamp(0.0, 55.0)
    }

    /// Lambda is held at part load, once its sensor is warm; up to a fifth either way.
    fn close_loop(&mut self, car: &Car, r: &Readings, dt: f64) {
        let may = car.engine.closed_loop && self.uptime > 35.0 && self.fired_s > 15.0;
        if may && !self.cut && self.target > 0.93 && r.lambda < 1.45 {
            self.trim = (self.trim + 0.25 * (r.lambda / self.target - 1.0) * dt).clamp(-0.2, 0.2);
        }
    }

    fn idle(&mut self, car: &Car, r: &Readings, dt: f64) {
        let goal = Self::idle_target(r);
        let base = 28.0 + 0.52 * (70.0 - r.coolant).clamp(0.0, 70.0);
        let error = goal - r.rpm;
        // on the way down from a blip it waits
        self.fast_s = if r.throttle < 0.015 && r.rpm > goal + 350.0 {
            self.fast_s + dt
        } else {
            0.0
        };
        let near = r.rpm < goal + 350.0 || self.fast_s > LONG_FAST_S;
        if r.throttle < 0.015 && self.fired_s > 1.0 && near {
            let pull = 0.018 * car.idle_gain * error.max(-350.0) * dt;
            let least: f64 = if self.fast_s > LONG_FAST_S {
                -45.0
            } else {
                -16.0
            };
            self.idle_sum = (self.idle_sum + pull).clamp(least.min(self.idle_sum), 34.0);
        }
        // a dashpot: never shut right down while the speed is still falling towards idle
        let push = if error < -350.0 {
            4.0
        } else {
            (0.016 * error).clamp(-9.0, 14.0)
        };
        let start = if self.fired_s < 1.0 { 6.0 } else { 0.0 };
        self.idle_area = (base + self.idle_sum + push + start).clamp(6.0, 110.0) * 1e-6;
    }

    fn tables(&mut self, car: &Car, r: &Readings) {
        let running = self.fired_s > 0.0;
        let cold = (60.0 - r.coolant).max(0.0);
        let rich = 0.0018 * cold + 0.05 * (-self.fired_s / 12.0).exp();
        let load = ramp(r.map, 62.0, 84.0);
        let level = if r.throttle < 0.015 { 0.95 } else { 0.96 };
        self.target = (level + (0.86 - level) * load - rich * (1.0 - 0.6 * load)).max(0.7);

        let air = air_per_cycle(table_ve(r.rpm, r.map), r.map, SWEPT * 1000.0, r.intake);
        let enrich = if running { 1.0 } else { 1.05 + 0.004 * cold };
        let engine = car.engine;
        let cycle = engine.turns / 2.0;
        let each = air * cycle / engine.cylinders() as f64;
        self.fuel_g = each / (engine.afr * self.target) * enrich * (1.0 + self.trim);
        // the second set comes in with boost and takes up to half
        self.first_share = if engine.staged {
            1.0 - 0.5 * ramp(r.map, 125.0, 165.0)
        } else {
            1.0
        };
        self.film_share = 0.14 + 0.0028 * cold;
        self.pulse = if self.cut || !r.synced {
            0.0
        } else {
            1000.0 * self.fuel_g * self.first_share / injector_flow(car) + dead_time(r.volts)
        };
        self.duty = duty(self.pulse, r.rpm) * 2.0 / engine.turns;
        self.staged = if self.pulse > 0.0 && self.first_share < 0.995 {
            duty(
                1000.0 * self.fuel_g * (1.0 - self.first_share) / injector_flow(car),
                r.rpm,
            )
        } else {
            0.0
        };

        self.advance = if r.rpm < 450.0 {
            car.crank_advance
        } else if r.throttle < 0.015 && r.rpm < 1900.0 {
            (14.0 + 0.025 * (Self::idle_target(r) - r.rpm)).clamp(6.0, 22.0)
        } else {
            advance_table(r.rpm, r.map) + car.advance_error * ramp(r.map, 58.0, 76.0)
        };
    }
}
