//! Crank wheel as the controller sees it: speed from teeth, and lost position.

use super::car::{Car, Teeth};
use super::dice::{Dice, Stream};
use super::physics::lag;

/// State of the crank signal.
#[derive(Debug, Clone)]
pub struct Trigger {
    dice: Dice,
    turns: f64,
    lost_s: f64,
    wrong: f64,
    wrong_s: f64,
    wrong_len: f64,
    next_wrong: f64,
    was_turning: bool,
    /// Speed as measured, rpm.
    pub rpm: f64,
    /// Position is known, so that spark and fuel may be timed.
    pub synced: bool,
    /// Position lost so often since power-up.
    pub errors: u32,
}

impl Trigger {
    /// A crank at rest.
    pub fn new(seed: u64) -> Self {
        let mut dice = Dice::new(seed, Stream::Trigger);
        let next_wrong = dice.between(2.0, 5.0);
        Self {
            dice,
            turns: 0.0,
            lost_s: 0.0,
            wrong: 1.0,
            wrong_s: 0.0,
            wrong_len: 0.0,
            next_wrong,
            was_turning: false,
            rpm: 0.0,
            synced: false,
            errors: 0,
        }
    }

    /// The controller restarts: position and counter are forgotten.
    pub fn reset(&mut self) {
        self.turns = 0.0;
        self.synced = false;
        self.errors = 0;
        self.was_turning = false;
        self.rpm = 0.0;
    }

    /// One step with the true crank speed in rpm.
    pub fn step(&mut self, car: &Car, rpm: f64, dt: f64) {
        let turning = rpm > 30.0;
        if turning != self.was_turning {
            // the first teeth out of rest, and the rock-back at the stop, are always miscounted
            self.errors += 1 + self.dice.poisson(0.6);
            self.was_turning = turning;
        }
        if !turning {
            self.turns = 0.0;
            self.synced = false;
            self.rpm = if rpm < 15.0 { 0.0 } else { rpm };
            return;
        }
        self.turns += rpm / 60.0 * dt;
        self.lose(car, rpm, dt);
        if self.lost_s > 0.0 {
            self.lost_s -= dt;
            if self.lost_s <= 0.0 {
                self.turns = 0.0;
            }
        }
        self.synced = self.lost_s <= 0.0 && self.turns > 1.6;
        self.miscount(car, rpm, dt);
        // speed is averaged over one firing interval
        let seen = rpm * self.wrong * (1.0 + 0.0006 * self.dice.gauss());
        self.rpm = lag(self.rpm, seen, dt, (10.0 / rpm).max(0.004));
    }

    fn lose(&mut self, car: &Car, rpm: f64, dt: f64) {
        let rate = match car.teeth {
            Teeth::WeakBelow(n) if rpm < n => 0.15 + 1.5 * (1.0 - rpm / n),
            Teeth::LostAbove(n) if rpm > n => 0.7 + 1.6 * ((rpm - n) / 1500.0).min(1.5),
            _ => 0.0,
        };
        if rate > 0.0 && self.lost_s <= 0.0 && self.dice.chance(rate * dt) {
            self.errors += 1;
            self.lost_s = self.dice.between(0.03, 0.08);
        }
    }

    fn miscount(&mut self, car: &Car, rpm: f64, dt: f64) {
        let (factor, len, every, above) = match car.teeth {
            Teeth::Extra { factor, every_s } => (factor, 0.12, every_s, 1300.0),
            Teeth::Halved {
                above,
                len,
                every_s,
            } => (0.5, len, every_s, above),
            _ => return,
        };
        if self.wrong_s > 0.0 {
            self.wrong_s -= dt;
            let inside = self.wrong_s > 0.0 && self.wrong_s < self.wrong_len;
            self.wrong = if inside { factor } else { 1.0 };
            return;
        }
        self.wrong = 1.0;
        if rpm > above {
            self.next_wrong -= dt;
            if self.next_wrong <= 0.0 {
                self.wrong_len = len * self.dice.between(0.85, 1.25);
                self.wrong_s = self.wrong_len;
                self.next_wrong = every * self.dice.between(0.6, 1.4);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    #[test]
    fn a_clean_wheel_counts_only_the_first_turns() {
        let car = Car::healthy(Kind::FirstStart, 2);
        let mut t = Trigger::new(2);
        for _ in 0..500 {
            t.step(&car, 220.0, 0.002);
        }
        let at_one_second = t.errors;
        assert!(t.synced && (1..=5).contains(&at_one_second));
        for _ in 0..50_000 {
            t.step(&car, 5000.0, 0.002);
        }
        assert_eq!(t.errors, at_one_second);
        assert!((t.rpm - 5000.0).abs() < 25.0);
    }
}
