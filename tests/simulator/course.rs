//! The hill: straights, corners and gradient by distance.

use super::dice::Dice;

/// One corner.
#[derive(Debug, Clone, Copy)]
pub struct Corner {
    /// Entry and exit, m from the start line.
    pub from: f64,
    /// Exit, m.
    pub to: f64,
    /// Speed through it, m/s.
    pub speed: f64,
    /// Sideways acceleration at that speed, g; right is positive.
    pub lateral: f64,
}

/// The course of a hill climb.
#[derive(Debug, Clone)]
pub struct Course {
    /// Corners in order.
    pub corners: Vec<Corner>,
    /// Finish line, m.
    pub length: f64,
}

impl Course {
    /// The hill, a little different by line and grip of the day.
    pub fn new(dice: &mut Dice) -> Self {
        // length of the straight before, length of the corner, km/h, side
        const HILL: [(f64, f64, f64, f64); 14] = [
            (190.0, 45.0, 68.0, 1.0),
            (150.0, 60.0, 76.0, -1.0),
            (120.0, 40.0, 58.0, 1.0),
            (260.0, 90.0, 98.0, -1.0),
            (130.0, 35.0, 52.0, 1.0),
            (110.0, 50.0, 70.0, -1.0),
            (330.0, 260.0, 124.0, 1.0),
            (170.0, 45.0, 66.0, -1.0),
            (100.0, 40.0, 56.0, 1.0),
            (240.0, 70.0, 86.0, -1.0),
            (160.0, 40.0, 60.0, -1.0),
            (210.0, 200.0, 108.0, 1.0),
            (140.0, 45.0, 64.0, -1.0),
            (180.0, 60.0, 80.0, 1.0),
        ];
        let grip = dice.normal(1.0, 0.015).clamp(0.96, 1.03);
        let mut at = 0.0;
        let mut corners = Vec::new();
        for (straight, length, kmh, side) in HILL {
            at += straight;
            let speed = kmh / 3.6 * grip * dice.normal(1.0, 0.012);
            let lateral = side * dice.between(0.82, 1.0);
            corners.push(Corner {
                from: at,
                to: at + length,
                speed,
                lateral,
            });
            at += length;
        }
        Self {
            corners,
            length: at + 210.0,
        }
    }

    /// Fastest speed at `x` m from which every corner ahead can still be made, m/s.
    pub fn allowed(&self, x: f64) -> f64 {
        const BRAKE: f64 = 6.5;
        self.corners
            .iter()
            .filter(|c| x < c.to && c.from < x + 300.0)
            .map(|c| {
                let ahead = (c.from - x).max(0.0);
                (c.speed * c.speed + 2.0 * BRAKE * ahead).sqrt()
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// Is `x` inside a corner?
    pub fn cornering(&self, x: f64) -> bool {
        self.corners.iter().any(|c| x >= c.from && x < c.to)
    }

    /// Sideways acceleration at `x` m and `speed` m/s, g.
    pub fn lateral(&self, x: f64, speed: f64) -> f64 {
        self.corners
            .iter()
            .map(|c| {
                let turn_in = ((x - c.from + 6.0) / 12.0).clamp(0.0, 1.0);
                let turn_out = ((c.to + 6.0 - x) / 12.0).clamp(0.0, 1.0);
                c.lateral * (speed / c.speed).powi(2) * turn_in.min(turn_out)
            })
            .sum()
    }

    /// Gradient at `x` m.
    pub fn slope(x: f64) -> f64 {
        0.055 + 0.02 * (x / 260.0).sin()
    }
}
