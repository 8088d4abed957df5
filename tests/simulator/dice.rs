//! Seeded chance. Every purpose has its own ChaCha stream, so that fitting a
//! fault or adding a channel leaves the weather and the driver of a seed alone.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rand_distr::{Distribution, Poisson, StandardNormal};

/// What a stream of random numbers is for.
#[derive(Debug, Clone, Copy)]
pub enum Stream {
    /// Weather, battery and the scatter between healthy parts.
    Day = 1,
    /// The driver's hands and timing.
    Driver = 2,
    /// Combustion, cycle by cycle.
    Burn = 3,
    /// Knock and noise events.
    Knock = 4,
    /// Sensor noise.
    Noise = 5,
    /// Place and severity of a fault.
    Fault = 6,
    /// Crank signal.
    Trigger = 7,
    /// Loose plugs and a slow card.
    Wires = 8,
}

/// A seeded stream of random numbers.
#[derive(Debug, Clone)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of `seed` kept for one purpose.
    pub fn new(seed: u64, stream: Stream) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream as u64);
        Self(rng)
    }

    /// Uniform in 0..1; the top 53 bits, so that the value is the same on every machine.
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Gaussian, standard deviation 1.
    pub fn gauss(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Gaussian with mean and standard deviation.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * self.gauss()
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        p > 0.0 && self.unit() < p
    }

    /// Whole number in `0..n`.
    pub fn pick(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// A Poisson count of that mean; 0 for a mean that is not positive.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        Poisson::new(mean).map_or(0, |p| p.sample(&mut self.0) as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_repeat_and_differ() {
        let draw = |seed, stream| {
            let mut dice = Dice::new(seed, stream);
            (0..4).map(|_| dice.unit()).collect::<Vec<_>>()
        };
        assert_eq!(draw(7, Stream::Day), draw(7, Stream::Day));
        assert_ne!(draw(7, Stream::Day), draw(7, Stream::Driver));
        assert_ne!(draw(7, Stream::Day), draw(8, Stream::Day));
    }

    /// A Poisson variable has equal mean and variance (textbook definition).
    #[test]
    fn poisson_mean_equals_variance() {
        let mut dice = Dice::new(1, Stream::Knock);
        let counts: Vec<f64> = (0..20_000).map(|_| f64::from(dice.poisson(2.5))).collect();
        let n = counts.len() as f64;
        let mean = counts.iter().sum::<f64>() / n;
        let var = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / n;
        assert!((mean - 2.5).abs() < 0.05, "mean {mean}");
        assert!((var - 2.5).abs() < 0.12, "variance {var}");
        assert_eq!(dice.poisson(0.0), 0);
    }
}
