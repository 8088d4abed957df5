//! Brings the parts together and steps them; the logger watches.

use super::Case;
use super::air::{Manifold, real_ve, throttle_area};
use super::car::Car;
use super::combustion::{Around, Cylinders};
use super::controller::{Controller, Readings};
use super::course::Course;
use super::crank::{Crank, Road, Torques};
use super::dice::{Dice, Stream};
use super::driver::{Driver, Hands, View};
use super::electric::{Electric, Loads};
use super::exhaust::{Exhaust, Gas};
use super::heat::{Firing, Heat};
use super::oil::Oil;
use super::physics::{MOST, air_pressure, lag, ramp};
use super::trigger::Trigger;

/// Step of the fast parts, s.
pub const STEP: f64 = 0.002;
/// Fast steps to one slow step of the thermal parts.
const SLOW: u32 = 10;

/// The whole car at one moment.
#[derive(Debug, Clone)]
pub struct World {
    /// The car's numbers.
    pub car: Car,
    /// Time since key-on, s.
    pub t: f64,
    /// The driver.
    pub driver: Driver,
    /// Hands now.
    pub hands: Hands,
    /// Electrical system.
    pub electric: Electric,
    /// Crank signal.
    pub trigger: Trigger,
    /// Controller.
    pub ctrl: Controller,
    /// Manifold.
    pub manifold: Manifold,
    /// Cylinders.
    pub six: Cylinders,
    /// Moving masses.
    pub crank: Crank,
    /// Temperatures.
    pub heat: Heat,
    /// Oil.
    pub oil: Oil,
    /// Exhaust.
    pub exhaust: Exhaust,
    /// Fuel rail, kPa gauge.
    pub fuel_kpa: f64,
    /// Real throttle blade, 0..1.
    pub blade: f64,
    /// Coolant sender, degC, before its wire.
    pub coolant_sender: f64,
    /// Outside pressure, kPa.
    pub baro: f64,
    /// Height, m.
    pub height: f64,
    /// Distance from the start line, m.
    pub x: f64,
    /// Sideways acceleration, g.
    pub lateral: f64,
    /// Pressure before the throttle, kPa.
    pub charge: f64,
    /// Lambda as the amplifier gives it.
    pub lambda: f64,
    /// Oil sender, kPa.
    pub oil_sender: f64,
    wires: Dice,
    coolant_open_s: f64,
    fuel_open_s: f64,
    map_seen: f64,
    burn_w: f64,
    count: u32,
}

impl World {
    /// The car at key-on.
    pub fn new(case: &Case) -> Self {
        let mut car = Car::of(case.engine, case.kind, case.seed);
        if let Some(nuisance) = case.nuisance {
            nuisance.fit(&mut car);
        }
        if let Some(fault) = &case.fault {
            fault.fit(&mut car);
        }
        let baro = air_pressure(car.height_m) + car.weather_kpa;
        Self {
            t: 0.0,
            driver: Driver::new(case.kind, &car, case.seed),
            hands: Hands::default(),
            electric: Electric::new(&car),
            trigger: Trigger::new(case.seed),
            ctrl: Controller::default(),
            manifold: Manifold {
                map: baro,
                flow: 0.0,
            },
            six: Cylinders::new(&car, case.seed),
            crank: Crank::default(),
            heat: Heat::new(&car),
            oil: Oil::default(),
            exhaust: Exhaust::new(&car),
            fuel_kpa: 0.0,
            blade: 0.0,
            coolant_sender: car.coolant_c,
            baro,
            height: car.height_m,
            x: 0.0,
            lateral: 0.0,
            charge: baro,
            lambda: 1.0,
            oil_sender: 0.0,
            wires: Dice::new(case.seed, Stream::Wires),
            coolant_open_s: 0.0,
            fuel_open_s: 0.0,
            map_seen: baro,
            burn_w: 0.0,
            count: 0,
            car,
        }
    }

    /// MAP as the sensor gives it, kPa.
    pub fn map_read(&self) -> f64 {
        self.map_seen + self.car.map_ground
    }

    /// Coolant as the log shows it: an open wire reads the cold end.
    pub fn coolant_read(&self) -> f64 {
        if self.t >= self.car.coolant_open || self.coolant_open_s > 0.0 {
            -40.0
        } else {
            self.coolant_sender
        }
    }

    /// Fuel pressure as its sender gives it: an open plug reads nothing.
    pub fn fuel_read(&self) -> f64 {
        if self.fuel_open_s > 0.0 {
            0.0
        } else {
            self.fuel_kpa
        }
    }

    /// Loose plugs open for a moment while the engine shakes them.
    fn shake(&mut self, rpm: f64) {
        self.coolant_open_s -= STEP;
        self.fuel_open_s -= STEP;
        if rpm < 400.0 {
            return;
        }
        if let Some(every) = self.car.coolant_pin
            && self.wires.chance(STEP / every)
        {
            self.coolant_open_s = self.wires.between(0.3, 0.8);
        }
        if let Some(every) = self.car.fuel_pin
            && self.wires.chance(STEP / every)
        {
            self.fuel_open_s = self.wires.between(0.03, 0.07);
        }
    }

    /// Is the controller's relay closed?
    pub fn relay(&self) -> bool {
        self.car.relay_open.is_none_or(|s| !s.holds(self.t))
    }

    /// One fast step; false when the driver has gone home.
    pub fn step(&mut self) -> bool {
        let view = View {
            rpm: self.crank.rpm(),
            speed: self.crank.speed,
            coolant: self.heat.coolant,
            x: self.x,
        };
        let Some(hands) = self.driver.step(&view, STEP) else {
            return false;
        };
        self.hands = hands;
        self.t += STEP;
        self.count += 1;
        let rpm = self.crank.rpm();
        self.electrics(rpm);
        self.trigger.step(&self.car, rpm, STEP);
        self.control();
        let mut opening = hands.throttle;
        if let Some((at, open)) = self.car.blade_stuck
            && self.t >= at
        {
            opening = opening.max(open);
        }
        self.blade = lag(self.blade, opening, STEP, 0.025);
        self.shake(rpm);
        self.compress();
        let area = throttle_area(self.blade) + self.ctrl.idle_area.max(6e-6) + self.car.air_leak;
        self.manifold
            .step(&self.car, area, self.charge, self.heat.intake, rpm, STEP);
        self.map_seen = lag(self.map_seen, self.manifold.map, STEP, 0.008);
        self.fuel();
        self.turn(rpm);
        self.move_on();
        let powered = if self.ctrl.alive {
            self.ctrl.uptime
        } else {
            0.0
        };
        self.exhaust.sense(
            self.car.lambda_tau,
            self.six.mixed(self.car.tank_afr),
            self.manifold.flow,
            rpm,
            powered,
            STEP,
        );
        if self.t < self.car.lambda_stuck {
            self.lambda = self.exhaust.lambda;
        }
        if self.t < self.car.oil_stuck {
            self.oil_sender = self.oil.kpa;
        }
        if self.count.is_multiple_of(SLOW) {
            self.warm(rpm, STEP * f64::from(SLOW));
        }
        true
    }

    /// A turbocharger: it comes up with the flow through it, and the wastegate holds its target.
    fn compress(&mut self) {
        let target = self.car.engine.boost;
        if target <= 0.0 {
            self.charge = self.baro;
            return;
        }
        let most = target + self.car.boost_over - self.baro;
        let spool = ramp(self.manifold.flow, 28.0, 75.0);
        let goal = self.baro + most * spool * (1.0 - self.car.boost_leak);
        let tau = if goal > self.charge { 0.45 } else { 0.2 };
        self.charge = lag(self.charge, goal, STEP, tau);
    }

    /// What the charge cooler leaves of some 0.9 degC to each kPa of boost, degC.
    fn charge_heat(&self) -> f64 {
        if self.car.engine.boost <= 0.0 {
            return 0.0;
        }
        0.9 * (self.charge - self.baro).max(0.0) * (1.0 - self.car.charge_cooler)
    }

    fn electrics(&mut self, rpm: f64) {
        let alive = self.ctrl.alive;
        let loads = Loads {
            key: true,
            controller: alive,
            pump: alive && self.ctrl.pump && !self.car.engine.carburettor,
            spark_rpm: if alive && self.ctrl.sparking {
                rpm
            } else {
                0.0
            },
            duty: if alive { self.ctrl.duty / 100.0 } else { 0.0 },
            heater: alive,
        };
        let bay = self.heat.bay;
        self.electric
            .step(&self.car, &loads, self.hands.starter, rpm, bay, STEP);
    }

    fn control(&mut self) {
        // a controller that sees an open sender falls back on a warm engine
        let coolant = self.coolant_read();
        let readings = Readings {
            volts: self.electric.controller_v,
            rpm: self.trigger.rpm,
            synced: self.trigger.synced,
            map: self.map_read(),
            throttle: self.blade,
            lambda: self.lambda,
            coolant: if coolant < -35.0 { 80.0 } else { coolant },
            intake: self.heat.intake,
            kill: self.hands.kill,
            shift_cut: self.hands.shift_cut,
            prime: self.hands.prime,
            fed: self.relay(),
        };
        if self.ctrl.step(&self.car, &readings, STEP) {
            self.trigger.reset();
            self.six.knocks = [0; MOST];
        }
    }

    fn fuel(&mut self) {
        if self.car.engine.carburettor {
            // a diaphragm worked by the cam: full pressure from slow speeds on, pulsing
            let rpm = self.crank.rpm();
            let strokes = 2.5 * (std::f64::consts::TAU * 0.5 * self.t * rpm / 60.0).sin();
            let goal = ramp(rpm, 60.0, 600.0) * (28.0 + strokes);
            self.fuel_kpa = lag(
                self.fuel_kpa,
                goal,
                STEP,
                if goal > 1.0 { 0.03 } else { 60.0 },
            );
            return;
        }
        let used = self.manifold.flow / (self.car.engine.afr * self.ctrl.target.max(0.5));
        let volts = (self.electric.stud_v / 13.5).clamp(0.0, 1.2);
        if self.ctrl.alive && self.ctrl.pump && volts > 0.4 {
            let hose = if self.car.regulator_hose {
                self.manifold.map - self.baro
            } else {
                0.0
            };
            // beyond its capability the pump holds only what lets just its own flow out:
            // flow goes with the root of the pressure over the injectors
            let can = self.car.pump_g_s * volts;
            let held = (can / used.max(0.1)).min(1.0).powi(2);
            let vacuum = self.baro - self.manifold.map;
            let goal = ((300.0 + hose + vacuum) * held - vacuum).max(0.0);
            let goal = self.car.regulator_stuck.map_or(goal, |kpa| goal.max(kpa));
            self.fuel_kpa = lag(self.fuel_kpa, goal, STEP, 0.12);
        } else {
            let drawn = if self.ctrl.pulse > 0.0 { 3.0 } else { 0.0 };
            self.fuel_kpa *= 1.0 - STEP * (self.car.fuel_leak + drawn);
        }
    }

    fn turn(&mut self, rpm: f64) {
        let torques = Torques {
            gas: self.six.torque,
            starter: self.electric.starter_nm,
            alternator: self.electric.alternator_nm,
            map: self.manifold.map,
            baro: self.baro,
            oil_c: self.heat.oil,
        };
        let road = Road {
            clutch: self.hands.clutch,
            gear: self.hands.gear,
            brake: self.hands.brake,
            slope: self.slope(),
        };
        let events = self.crank.step(&self.car, &torques, &road, STEP);
        let around = Around {
            rpm,
            map: self.manifold.map,
            ve: real_ve(&self.car, rpm, self.manifold.map),
            intake: self.heat.intake,
            coolant: self.heat.coolant,
            over_injectors: self.fuel_kpa + self.baro - self.manifold.map,
            volts: self.electric.controller_v,
        };
        for _ in 0..events {
            self.six.event(&self.car, &self.ctrl, &around);
        }
        if rpm < 20.0 {
            self.six.torque = 0.0;
        }
    }

    /// Up on the hill, level in the paddock, down again after the finish.
    fn slope(&self) -> f64 {
        if !self.driver.on_course {
            0.0
        } else if self.x < self.driver.course.length {
            Course::slope(self.x)
        } else if self.height > self.car.height_m + 4.0
            && self.x > self.driver.course.length + 330.0
        {
            -0.015
        } else {
            0.0
        }
    }

    fn move_on(&mut self) {
        let moved = self.crank.speed * STEP;
        self.height += moved * self.slope();
        if self.driver.on_course {
            self.x += moved;
        }
        let there = self.driver.on_course && self.x < self.driver.course.length;
        let lateral = if there {
            self.driver.course.lateral(self.x, self.crank.speed)
        } else {
            0.0
        };
        self.lateral = lag(self.lateral, lateral, STEP, 0.12);
        self.oil.step(
            &self.car,
            self.crank.rpm(),
            self.heat.oil,
            self.lateral,
            STEP,
        );
    }

    fn warm(&mut self, rpm: f64, dt: f64) {
        self.baro = air_pressure(self.height) + self.car.weather_kpa;
        let burnt: f64 = self.six.heat.iter().sum();
        let now = if rpm > 60.0 {
            burnt * rpm / (60.0 * self.car.engine.turns)
        } else {
            0.0
        };
        self.burn_w = lag(self.burn_w, now, dt, 0.2);
        let firing = Firing {
            burn_w: self.burn_w,
            friction_w: self.crank.friction_w,
            rpm,
            wind: self.crank.speed,
            map: self.manifold.map,
            flow: self.manifold.flow,
            charge_c: self.charge_heat(),
        };
        self.heat.step(&self.car, &firing, dt);
        // a sender in a pocket of air feels little but the metal's slow warmth
        let felt = if self.car.sender_depth < 1.0 {
            self.car.coolant_c + self.car.sender_depth * (self.heat.coolant - self.car.coolant_c)
        } else {
            self.heat.coolant
        };
        self.coolant_sender = lag(self.coolant_sender, felt, dt, 3.0);
        let gas = Gas {
            rpm,
            map: self.manifold.map,
            advance: self.ctrl.advance,
            metal: self.heat.metal,
        };
        self.exhaust.heat(&self.car, &self.six, &gas, dt);
    }
}
