//! Numbers as logged, out of numbers in the standard unit.
//!
//! A log writes numbers with a few decimals. Turned into the standard unit and back they are off by the rounding of
//! doubles, far less than the last decimal: rounding to it gives back the very number that was logged. Every value is
//! tried before a column is kept this way.

/// More decimals than loggers write.
const MOST_DECIMALS: i32 = 12;

/// A way back from the standard unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// Standard units in one unit of the log.
    pub factor: f64,
    /// Added after multiplying.
    pub offset: f64,
    /// Decimals of the log.
    pub decimals: i32,
}

impl Way {
    /// The numbers as logged, in place.
    pub fn back(self, values: &mut [f64]) {
        let tens = 10_f64.powi(self.decimals);
        for value in values {
            *value = ((*value - self.offset) / self.factor * tens).round() / tens;
        }
    }
}

/// How a channel's numbers relate to those of its column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Relation {
    /// They are the same.
    Same,
    /// The logged ones can be had back exactly.
    Reversible(Way),
    /// They have to be kept beside.
    Apart,
}

/// Finds out how `standard` was made from `logged`; NaN stands for "none" in both.
pub fn relation(logged: &[f64], standard: &[f64]) -> Relation {
    if same(logged, standard) {
        return Relation::Same;
    }
    let found = way(logged, standard).filter(|way| {
        let mut again = standard.to_vec();
        way.back(&mut again);
        same(logged, &again)
    });
    found.map_or(Relation::Apart, Relation::Reversible)
}

/// Bit by bit, but that one NaN is as good as another.
fn same(a: &[f64], b: &[f64]) -> bool {
    let equal = |(a, b): (&f64, &f64)| a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan());
    a.len() == b.len() && a.iter().zip(b).all(equal)
}

/// The straight line through the lowest and the highest reading.
fn way(logged: &[f64], standard: &[f64]) -> Option<Way> {
    let pairs = logged.iter().zip(standard);
    let known = || {
        pairs
            .clone()
            .filter(|pair| pair.0.is_finite() && pair.1.is_finite())
    };
    let low = known().min_by(|a, b| a.0.total_cmp(b.0))?;
    let high = known().max_by(|a, b| a.0.total_cmp(b.0))?;
    let (factor, offset) = if high.0 > low.0 {
        let factor = (high.1 - low.1) / (high.0 - low.0);
        let offset = low.1 - factor * low.0;
        let size = low.1.abs().max(high.1.abs());
        // Dust of the rounding: no unit is shifted by so little.
        (
            factor,
            if offset.abs() <= 1e-9 * size {
                0.0
            } else {
                offset
            },
        )
    } else if *low.0 != 0.0 {
        (low.1 / low.0, 0.0)
    } else {
        (1.0, *low.1)
    };
    let usable = factor.is_finite() && offset.is_finite() && factor != 0.0;
    let decimals = decimals(logged).filter(|_| usable)?;
    Some(Way {
        factor,
        offset,
        decimals,
    })
}

/// The fewest decimals that write all of the numbers.
fn decimals(logged: &[f64]) -> Option<i32> {
    let mut decimals = 0;
    let mut tens = 1.0;
    for value in logged.iter().filter(|v| v.is_finite()) {
        while (value * tens).round() / tens != *value {
            decimals += 1;
            if decimals > MOST_DECIMALS {
                return None;
            }
            tens = 10_f64.powi(decimals);
        }
    }
    Some(decimals)
}
