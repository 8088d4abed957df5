//! Battery, starter, alternator and loads, meeting at the starter stud.
//! The controller is fed from the stud, so the main cable is shared.

use super::car::Car;
use super::physics::{lag, ramp, rest_volts};

/// Battery capacity, Ah.
const CAPACITY_AH: f64 = 20.0;
/// Alternator pulley ratio.
const RATIO: f64 = 2.2;
/// Starter as a motor with permanent field, referred to the crank.
const STARTER_OHM: f64 = 0.019;
const BRUSH_V: f64 = 0.8;
const STARTER_VS: f64 = 0.355;
const GEAR_LOSS: f64 = 0.86;

/// What draws current, as switched and as turned.
#[derive(Debug, Clone, Copy, Default)]
pub struct Loads {
    /// Key on: logger, gauges, sensors.
    pub key: bool,
    /// Controller alive.
    pub controller: bool,
    /// Fuel pump runs.
    pub pump: bool,
    /// Ignition coils: engine speed while sparking, rpm.
    pub spark_rpm: f64,
    /// Injector duty, 0..1.
    pub duty: f64,
    /// Lambda heater.
    pub heater: bool,
}

/// State of the electrical system.
#[derive(Debug, Clone)]
pub struct Electric {
    charge: f64,
    fast_v: f64,
    slow_v: f64,
    starter_a: f64,
    alternator_a: f64,
    excited: bool,
    ripple_turn: f64,
    /// Alternator temperature, degC.
    pub alternator_c: f64,
    /// At the starter stud, V.
    pub stud_v: f64,
    /// At the controller, V.
    pub controller_v: f64,
    /// Torque of the starter on the crank, Nm.
    pub starter_nm: f64,
    /// Torque that the alternator takes from the crank, Nm.
    pub alternator_nm: f64,
}

impl Electric {
    /// Everything switched off, battery rested.
    pub fn new(car: &Car) -> Self {
        Self {
            charge: car.charge,
            fast_v: 0.0,
            slow_v: 0.0,
            starter_a: 0.0,
            alternator_a: 0.0,
            excited: false,
            ripple_turn: 0.0,
            alternator_c: car.bay_c,
            stud_v: rest_volts(car.charge),
            controller_v: rest_volts(car.charge),
            starter_nm: 0.0,
            alternator_nm: 0.0,
        }
    }

    /// Internal resistance: grows as the battery empties and cools.
    fn battery_ohm(&self, car: &Car) -> f64 {
        let cold = 1.0 + 0.010 * (25.0 - car.air_c).max(0.0);
        car.battery_ohm * cold * (1.0 + 0.7 * (1.0 - self.charge).powi(2))
    }

    /// Shaft speed of the alternator, rpm; a slack belt slips over a speed.
    pub fn shaft_rpm(car: &Car, rpm: f64) -> f64 {
        let slip = car
            .slip_above
            .map_or(0.0, |n| car.slip_share * ramp(rpm, n - 100.0, n + 1500.0));
        RATIO * rpm * (1.0 - slip)
    }

    /// Most current the alternator can give, A: nothing under its cut-in speed.
    fn capability(&self, car: &Car, shaft: f64) -> f64 {
        if !car.field_ok || !self.excited {
            return 0.0;
        }
        let cold = car.alternator_a * (1.0 - (-(shaft - 1450.0).max(0.0) / 1500.0).exp());
        let heat = 1.0 - 0.0013 * (self.alternator_c - 25.0);
        let fade = 1.0 / (1.0 + ((self.alternator_c - car.fade_at) / 4.0).exp());
        cold * heat * fade
    }

    /// One step of `dt` s. `bay_c` in degC, `rpm` of the crank.
    pub fn step(&mut self, car: &Car, loads: &Loads, starter: bool, rpm: f64, bay_c: f64, dt: f64) {
        let omega = rpm * std::f64::consts::TAU / 60.0;
        let volts = self.stud_v.max(0.0);
        let scale = volts / 13.5;
        let on = |yes: bool, amps: f64| if yes { amps } else { 0.0 };
        let feed_a = on(loads.controller, 2.2)
            + on(loads.heater, 1.2) * scale
            + (8.0 - 0.8) * (loads.spark_rpm / 7600.0).min(1.1)
            + on(loads.spark_rpm > 0.0, 0.8)
            + 6.0 * loads.duty.min(1.0) * scale;
        let load_a = feed_a + on(loads.key, 1.6) + on(loads.pump, 11.0) * scale;

        // the free-wheel of the starter lets the engine run ahead of it
        let goal_a = if starter {
            let drive = (volts - BRUSH_V - STARTER_VS * omega) / (STARTER_OHM * car.starter_wear);
            drive.max(35.0)
        } else {
            0.0
        };
        self.starter_a = lag(
            self.starter_a,
            goal_a,
            dt,
            if starter { 0.008 } else { 0.003 },
        );
        self.starter_nm = STARTER_VS * (self.starter_a - 35.0).max(0.0) * GEAR_LOSS;

        let shaft = Self::shaft_rpm(car, rpm);
        if shaft > 1750.0 {
            self.excited = true;
        } else if shaft < 1250.0 {
            self.excited = false;
        }
        let chain = self.battery_ohm(car) + car.main_ohm;
        let inner = rest_volts(self.charge) + self.fast_v + self.slow_v;
        let set = car.regulator_v - 0.008 * (bay_c - 30.0);
        let want = load_a + self.starter_a + (set - inner) / chain;
        let can = self.capability(car, shaft);
        self.alternator_a = lag(self.alternator_a, want.clamp(0.0, can), dt, 0.07).min(can);

        let battery_a = self.alternator_a - load_a - self.starter_a;
        self.stud_v = inner + chain * battery_a;
        self.controller_v = self.stud_v - car.feed_ohm * feed_a;
        if car.ripple_v > 0.0 {
            // six pairs of poles; one diode dead leaves one wave to each pair
            self.ripple_turn = (self.ripple_turn + shaft / 60.0 * 6.0 * dt).fract();
            let wave = (std::f64::consts::TAU * self.ripple_turn).sin();
            self.controller_v += car.ripple_v * (self.alternator_a / 25.0).min(1.5) * wave;
        }
        self.charge = (self.charge + battery_a * dt / (3600.0 * CAPACITY_AH)).clamp(0.02, 1.0);
        self.fast_v = lag(self.fast_v, 0.004 * battery_a, dt, 1.5);
        // charging is resisted far more than discharging, and most by a full battery
        let (ohm, tau) = if battery_a > 0.0 {
            (0.05 + 0.22 * ((self.charge - 0.75) / 0.25).max(0.0), 9.0)
        } else {
            // a load takes the surface charge off within some 150 A s
            (0.012, (150.0 / battery_a.abs().max(1.0)).clamp(5.0, 60.0))
        };
        self.slow_v = lag(self.slow_v, ohm * battery_a, dt, tau);

        let watts = self.alternator_a * self.stud_v;
        let efficiency = 0.55;
        let omega_safe = omega.max(20.0);
        self.alternator_nm = if omega > 5.0 {
            watts / efficiency / omega_safe
        } else {
            0.0
        };
        // losses in windings and diodes heat it, its own fan cools it
        let heat_c = bay_c + 0.9 * self.alternator_a + 18.0 * ramp(shaft, 500.0, 4000.0);
        self.alternator_c = lag(self.alternator_c, heat_c, dt, 110.0);
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    fn settle(car: &Car, rpm: f64, loads: Loads, starter: bool, s: f64) -> Electric {
        let mut e = Electric::new(car);
        for _ in 0..(s / 0.002) as usize {
            e.step(car, &loads, starter, rpm, 30.0, 0.002);
        }
        e
    }

    /// Ohm's law: R = (rest - crank) / I, the definition used with a crank dip.
    #[test]
    fn crank_dip_follows_the_resistances() {
        let car = Car::healthy(Kind::FirstStart, 5);
        let e = settle(&car, 185.0, Loads::default(), true, 0.5);
        let chain = e.battery_ohm(&car) + car.main_ohm;
        let inner = rest_volts(e.charge) + e.fast_v + e.slow_v;
        let want = chain * e.starter_a;
        assert!((inner - e.stud_v - want).abs() < 0.05);
        assert!(
            e.starter_a > 120.0 && e.starter_a < 280.0,
            "{}",
            e.starter_a
        );
        assert!(
            e.controller_v > 9.6 && e.controller_v < 11.2,
            "{}",
            e.controller_v
        );
    }

    #[test]
    fn the_regulator_holds_its_set_point() {
        let mut car = Car::healthy(Kind::FirstStart, 5);
        car.regulator_v = 14.2;
        let loads = Loads {
            key: true,
            controller: true,
            pump: true,
            ..Loads::default()
        };
        let e = settle(&car, 3000.0, loads, false, 60.0);
        assert!((e.stud_v - 14.2).abs() < 0.03, "{}", e.stud_v);
    }

    /// Alternator test speeds: the rating is at 6000 shaft rpm, next to nothing under cut-in.
    #[test]
    fn capability_by_shaft_speed() {
        let car = Car::healthy(Kind::FirstStart, 5);
        let mut e = Electric::new(&car);
        e.excited = true;
        e.alternator_c = 25.0;
        assert!((e.capability(&car, 6000.0) - 65.0).abs() < 2.0);
        assert!(e.capability(&car, 1400.0) < 0.5);
    }
}
