//! What is told about a function beforehand, so that mostly it need not be worked out.

use super::rolling::Window;

/// What is told about a function beforehand, so that the ends of what goes in give the ends of what comes out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Nothing.
    Any,
    /// It only rises or only falls, in each of its arguments.
    OneWay,
    /// So on either side of that value.
    TurnsAt(f64),
    /// So, as long as what it divides by does not pass zero.
    Quotient,
}

/// What is told about a function of near neighbours beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Neighbours {
    /// Nothing.
    Any,
    /// It makes one value of each sample, at the same times, and none lies outside of those of the neighbours.
    Among,
    /// So, but the values are distances among them: from none to so many times the widest.
    Apart(f64),
    /// It tells how far each sample lies from the one before, which is not looked for further back than that, s.
    Before {
        /// In what.
        per: Per,
        /// How long a sample is believed, s.
        believed_s: f64,
    },
    /// So, of a counter: what it gained, over gaps as well.
    Gains,
}

impl Neighbours {
    /// True for what is so quickly worked out again that nobody need keep it.
    pub fn is_quick(self) -> bool {
        matches!(self, Neighbours::Before { .. } | Neighbours::Gains)
    }
}

/// What a counter gained between two readings.
fn gained(before: f64, now: f64, most: f64) -> f64 {
    if now >= before {
        return now - before;
    }
    for top in [255.0, 65_535.0] {
        // A wrap: it stood near the top of its range, and that range is never exceeded.
        if most <= top && before > top - 16.0 && now < 16.0 {
            return now + top + 1.0 - before;
        }
    }
    0.0
}

/// What several checks make of a channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kept {
    /// A rolling window of that length, s.
    Rolled(Window, f64),
}

/// How a difference to the sample before is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Per {
    /// As it is.
    Reading,
    /// For each second between the two.
    Second,
    /// As what a counter gained that never shows more than that. Where an 8- or 16-bit counter wrapped, that is mended; one
    /// that was reset gained nothing.
    Gain(f64),
}

impl Per {
    /// From `a` to `b`, `dt` seconds later.
    pub fn of(self, dt: f64, a: f64, b: f64) -> f64 {
        match self {
            Per::Reading => b - a,
            Per::Second => (b - a) / dt,
            Per::Gain(most) => gained(a, b, most),
        }
    }
    /// Between which values it lies for readings between `low` and `high`, at least `dt` seconds apart.
    pub fn ends(self, dt: f64, low: f64, high: f64) -> (f64, f64) {
        match self {
            Per::Gain(_) if low == high => (0.0, 0.0),
            Per::Gain(_) => (0.0, f64::INFINITY),
            _ => {
                let most = self.of(dt, low, high);
                (-most, most)
            }
        }
    }
}
