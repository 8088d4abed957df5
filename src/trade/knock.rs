//! Knock: the ring of the gas in the cylinder (Draper 1938).

/// First zeros of the derivative of the Bessel functions, for the modes (1,0), (2,0), (0,1), (3,0), (1,1) in the order of
/// their pitch (scipy.special.jnp_zeros, reference values, section 5).
const MODES: [f64; 5] = [1.8412, 3.0542, 3.8317, 4.2012, 5.3314];

/// Frequency in Hz of the ring in a bore in mm at a speed of sound in m/s: `f = alpha c / (pi B)` for the `mode` from 1, in
/// the order of their pitch. It falls as the gas cools, and the sensor hears the block too: a band, not a line.
pub fn frequency(bore_mm: f64, sound_m_s: f64, mode: usize) -> Option<f64> {
    let alpha = MODES.get(mode.checked_sub(1)?)?;
    (bore_mm > 0.0 && sound_m_s > 0.0)
        .then(|| alpha * sound_m_s / (std::f64::consts::PI * bore_mm / 1000.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 5.
    #[test]
    fn draper() {
        for (bore, low, middle, high) in [
            (70.0, 7535.0, 7954.0, 8372.0),
            (80.0, 6593.0, 6960.0, 7326.0),
            (86.0, 6133.0, 6474.0, 6815.0),
            (90.0, 5861.0, 6186.0, 6512.0),
            (100.0, 5275.0, 5568.0, 5861.0),
            (110.0, 4795.0, 5061.0, 5328.0),
        ] {
            for (sound, hz) in [(900.0, low), (950.0, middle), (1000.0, high)] {
                near(frequency(bore, sound, 1).unwrap(), hz, 1.0);
            }
        }
        for (mode, hz) in [(2, 10739.0), (3, 13473.0), (4, 14772.0), (5, 18746.0)] {
            near(frequency(86.0, 950.0, mode).unwrap(), hz, 1.5);
        }
        assert_eq!(frequency(86.0, 950.0, 0), None);
        assert_eq!(frequency(86.0, 950.0, 6), None);
    }
}
