//! One cylinder event after another: air, fuel and its wall film, spark, work, heat, knock.

use super::car::Car;
use super::controller::{Controller, dead_time, injector_flow};
use super::dice::{Dice, Stream};
use super::engine::Engine;
use super::physics::{MOST, SWEPT, air_per_cycle, ramp};

/// Crank angle of one event, rad.
pub fn event_rad(engine: &Engine) -> f64 {
    engine.turns * std::f64::consts::TAU / engine.cylinders() as f64
}

/// Time constant of the wall film, s.
const FILM_TAU: f64 = 0.28;

/// What surrounds the cylinders at an event.
#[derive(Debug, Clone, Copy)]
pub struct Around {
    /// Crank speed, rpm.
    pub rpm: f64,
    /// Manifold, kPa.
    pub map: f64,
    /// Real volumetric efficiency.
    pub ve: f64,
    /// Intake air, degC.
    pub intake: f64,
    /// Coolant, degC.
    pub coolant: f64,
    /// Pressure over the injectors, kPa.
    pub over_injectors: f64,
    /// Supply of the injectors, V.
    pub volts: f64,
}

/// The six cylinders.
#[derive(Debug, Clone)]
pub struct Cylinders {
    burn: Dice,
    ears: Dice,
    next: usize,
    film: [f64; MOST],
    film_guess: [f64; MOST],
    wet_cycles: [u32; MOST],
    catches_at: [u32; MOST],
    air: [f64; MOST],
    fuel: [f64; MOST],
    /// Work of the event now on its way, as mean torque, Nm.
    pub torque: f64,
    /// Heat set free in the last cycle of each cylinder, J.
    pub heat: [f64; MOST],
    /// Lambda burnt in each cylinder.
    pub lambda: [f64; MOST],
    /// Share of the charge that burnt.
    pub burnt: [f64; MOST],
    /// Knock counted per cylinder since power-up.
    pub knocks: [u32; MOST],
    /// Fuel delivered in all, g.
    pub fuel_used: f64,
}

impl Cylinders {
    /// Dry and cold.
    pub fn new(car: &Car, seed: u64) -> Self {
        let mut burn = Dice::new(seed, Stream::Burn);
        let cold = if car.coolant_c < 40.0 { 2 } else { 1 };
        let catches_at = std::array::from_fn(|c| {
            if c < car.engine.cylinders() {
                1 + burn.pick(2 + cold) as u32 + car.late_catch
            } else {
                0
            }
        });
        Self {
            burn,
            ears: Dice::new(seed, Stream::Knock),
            next: 0,
            film: [0.0; MOST],
            film_guess: [0.0; MOST],
            wet_cycles: [0; MOST],
            catches_at,
            air: [0.0; MOST],
            fuel: [0.0; MOST],
            torque: 0.0,
            heat: [0.0; MOST],
            lambda: [4.0; MOST],
            burnt: [0.0; MOST],
            knocks: [0; MOST],
            fuel_used: 0.0,
        }
    }

    /// The next cylinder in the firing order has its turn.
    pub fn event(&mut self, car: &Car, ctrl: &Controller, a: &Around) {
        let engine = car.engine;
        let n = engine.cylinders();
        let c = engine.order[self.next];
        self.next = (self.next + 1) % n;
        // a two-stroke keeps half as much of what its cylinder could hold
        let ve = a.ve * engine.turns / 2.0;
        let air = air_per_cycle(ve, a.map, SWEPT * 1000.0 / n as f64, a.intake);
        let fuel = if engine.carburettor {
            // jets follow the air; they know neither cut nor enrichment but the choke
            let rich = 0.93 - 0.07 * ramp(a.map, 62.0, 84.0) - 0.0015 * (60.0 - a.coolant).max(0.0);
            self.wet_cycles[c] += 1;
            let flows = car.fuel_ok[c];
            if flows {
                car.injector[c] * air / (engine.afr * rich)
            } else {
                0.0
            }
        } else {
            self.inject(car, ctrl, a, c)
        };
        let lambda = if fuel > 1e-6 {
            (air / (car.tank_afr * fuel)).min(4.0)
        } else {
            4.0
        };
        let lit = ctrl.sparking && car.spark_ok[c] && self.wet_cycles[c] >= self.catches_at[c];
        let burnt = if lit {
            self.quality(lambda, a.map)
        } else {
            0.0
        };
        let energy = air / engine.afr * engine.heat * energy_share(lambda) * burnt;
        let cov =
            0.022 + 0.05 * (1.0 - ramp(a.map, 25.0, 60.0)) + 0.0006 * (60.0 - a.coolant).max(0.0);
        let scatter = (1.0 + cov * self.burn.gauss()).max(0.2);
        self.torque = energy * efficiency(a, ctrl.advance) * scatter / event_rad(engine);
        self.air[c] = air;
        // what left the cylinder unburnt partly burns on the sensor
        self.fuel[c] = if burnt > 0.0 { fuel } else { 0.5 * fuel };
        self.heat[c] = energy;
        self.lambda[c] = lambda;
        self.burnt[c] = burnt;
        self.listen(car, ctrl.advance, a, c, burnt);
    }

    fn inject(&mut self, car: &Car, ctrl: &Controller, a: &Around, c: usize) -> f64 {
        let cycle_s = 60.0 * car.engine.turns / a.rpm.max(60.0);
        let keep = (-cycle_s / FILM_TAU).exp();
        // the controller corrects for the film as it believes it to be
        let x = ctrl.film_share;
        let ask = if ctrl.pulse > 0.0 {
            ((ctrl.fuel_g - self.film_guess[c] * (1.0 - keep)) / (1.0 - x)).max(0.0)
        } else {
            0.0
        };
        self.film_guess[c] = self.film_guess[c] * keep + x * ask;
        let open_ms = if ask > 0.0 {
            1000.0 * ask / injector_flow(car) * ctrl.first_share + ctrl_dead(car, ctrl)
                - dead_time(a.volts)
        } else {
            0.0
        };
        let pressure = (a.over_injectors / 300.0).max(0.0).sqrt();
        let ok = if car.fuel_ok[c] { 1.0 } else { 0.0 };
        let shot = ok * car.injector[c] * injector_flow(car) * pressure * open_ms.max(0.0) / 1000.0;
        let shot = shot + ask * (1.0 - ctrl.first_share) * car.staged_flow * pressure;
        let share = x * (1.0 + 0.10 * car.film_error) + 0.01 * car.film_error;
        let got = shot * (1.0 - share) + self.film[c] * (1.0 - keep);
        self.film[c] = self.film[c] * keep + share * shot;
        if shot > 0.0 {
            self.wet_cycles[c] += 1;
        }
        self.fuel_used += shot;
        got
    }

    /// Share of the charge that burns: too rich or too lean misfires now and then.
    fn quality(&mut self, lambda: f64, map: f64) -> f64 {
        // a dense charge still burns where a thin one no longer does
        let lean_end = 1.18 + 0.28 * map / 100.0;
        let miss = ramp(lambda, lean_end, lean_end + 0.25).max(ramp(0.52 - lambda, 0.0, 0.12));
        if self.burn.chance(miss) { 0.0 } else { 1.0 }
    }

    fn listen(&mut self, car: &Car, advance: f64, a: &Around, c: usize, burnt: f64) {
        let mut p = car.noise[c] * ramp(a.rpm, 2600.0, 4200.0);
        if burnt > 0.0 && a.rpm > 1500.0 {
            let limit = knock_limit(a) + car.knock_margin[c];
            p += (0.004 * (0.65 * (advance - limit)).exp()).min(0.3);
        }
        if self.ears.chance(p) {
            self.knocks[c] += 1;
        }
    }

    /// Lambda of all six together, as the collector mixes them; no fuel at all reads 4.
    pub fn mixed(&self, tank_afr: f64) -> f64 {
        let air: f64 = self.air.iter().sum();
        let fuel: f64 = self.fuel.iter().sum();
        if fuel > 1e-6 {
            (air / (tank_afr * fuel)).min(4.0)
        } else {
            4.0
        }
    }
}

/// Dead time that the controller added to the pulse, ms.
fn ctrl_dead(car: &Car, ctrl: &Controller) -> f64 {
    ctrl.pulse - 1000.0 * ctrl.fuel_g * ctrl.first_share / injector_flow(car)
}

/// Energy set free against that of a stoichiometric charge of the same air.
fn energy_share(lambda: f64) -> f64 {
    if lambda < 1.0 {
        1.03 - 2.2 * (lambda - 0.89).powi(2)
    } else {
        1.003 / lambda
    }
}

/// Indicated efficiency by load and by distance from best timing.
fn efficiency(a: &Around, advance: f64) -> f64 {
    let load = (a.map / 97.0).min(1.0);
    let best = 28.0 + 13.0 * (1.0 - load) - 6.0 * ramp(1500.0 - a.rpm, 0.0, 900.0);
    let timing = 1.0 - 0.0006 * (advance - best).powi(2);
    (0.365 - 0.12 * (1.0 - load).powf(1.4)) * timing.max(0.3)
}

/// Share of the work that is lost by a spark so many degrees from the best.
fn lost(deg: f64) -> f64 {
    (0.0006 * deg.max(0.0).powi(2)).min(0.7)
}

/// Advance at which a healthy cylinder begins to knock on E85, deg.
fn knock_limit(a: &Around) -> f64 {
    let speed = 15.0 * (1.0 - (-(a.rpm - 900.0).max(0.0) / 2300.0).exp());
    let full = 13.0 + speed + 7.0;
    full + 45.0 * (1.0 - a.map / 97.0).max(0.0)
        - 0.10 * (a.intake - 25.0)
        - 0.08 * (a.coolant - 88.0)
        - 0.06 * (a.map - 105.0).max(0.0)
}

/// Gas temperature at the port of a burning cylinder, degC.
pub fn gas_temperature(rpm: f64, map: f64, lambda: f64, advance: f64, best: f64) -> f64 {
    let speed = 1.0 - (-rpm / 2300.0).exp();
    let base = 268.0 + speed * (320.0 + 320.0 * map.min(105.0) / 100.0);
    let lean = (lambda - 1.05).max(0.0);
    let rich = (1.05 - lambda).clamp(0.0, 0.3);
    base + 62.0 - 2600.0 * rich * rich - 600.0 * lean * lean
        + 2.2 * (best - advance).clamp(-15.0, 15.0)
        // spark so late under load leaves the charge to burn on in the port: of the work that the piston no longer gets
        // (0.0006 for each square degree, see `efficiency`) some 7/10 leave with the gas, and the whole work of a good
        // spark (0.365 of the fuel) would warm the gas (0.35 of it, some 760 degC over the air) by about as much again
        + 555.0 * (lost(best - advance) - lost(15.0)).max(0.0) * ramp(map, 60.0, 80.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice on alcohol blends, no source: 350..500 degC idling, 750..820 at full load.
    #[test]
    fn exhaust_temperatures() {
        let idle = gas_temperature(1100.0, 38.0, 0.95, 14.0, 14.0);
        assert!((380.0..480.0).contains(&idle), "{idle}");
        let full = gas_temperature(6500.0, 96.0, 0.86, 27.0, 27.0);
        assert!((740.0..830.0).contains(&full), "{full}");
    }

    /// Poisson rate per 1000 cylinder-cycles: 0.004 chance is 4, counted with its own scatter.
    #[test]
    fn knock_rate_at_the_limit() {
        let car = Car::healthy(super::super::Kind::HillRun, 1);
        let mut six = Cylinders::new(&car, 1);
        let a = Around {
            rpm: 5000.0,
            map: 97.0,
            ve: 0.9,
            intake: 25.0,
            coolant: 88.0,
            over_injectors: 300.0,
            volts: 14.0,
        };
        let mut quiet = car;
        quiet.knock_margin = [0.0; MOST];
        let limit = knock_limit(&a);
        for _ in 0..100_000 {
            six.listen(&quiet, limit, &a, 0, 1.0);
        }
        // 400 expected, standard deviation 20
        assert!(
            (f64::from(six.knocks[0]) - 400.0).abs() < 80.0,
            "{}",
            six.knocks[0]
        );
    }
}
