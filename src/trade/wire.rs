//! Copper wire: sizes by the American gauge (ASTM B258) and resistance.

/// Annealed copper at 20 degC, ohm mm2 per m: 100 % IACS, 1/58 (NBS Handbook 100).
const RESISTIVITY: f64 = 1.0 / 58.0;
/// Rise a degC over 20.
const PER_DEGREE: f64 = 0.003_93;

/// Cross-section in mm2 of a gauge number: `d = 0.127 mm x 92^((36 - n) / 39)`; 0 is 1/0, -1 is 2/0 and so on.
pub fn awg_mm2(gauge: f64) -> f64 {
    let diameter = 0.127 * 92f64.powf((36.0 - gauge) / 39.0);
    std::f64::consts::PI / 4.0 * diameter * diameter
}

/// Resistance in ohm of so many metres (out and back together) of solid copper wire of a cross-section in mm2 at a
/// temperature in degC. Stranded wire has 2 to 4 % more, and connectors come on top.
pub fn ohms(mm2: f64, metres: f64, celsius: f64) -> Option<f64> {
    (mm2 > 0.0 && metres >= 0.0)
        .then(|| RESISTIVITY * metres / mm2 * (1.0 + PER_DEGREE * (celsius - 20.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 7.
    #[test]
    fn gauges() {
        for (gauge, mm2, warm_20, warm_80) in [
            (10.0, 5.261, 3.277, 4.050),
            (12.0, 3.309, 5.211, 6.439),
            (14.0, 2.081, 8.285, 10.239),
            (16.0, 1.309, 13.174, 16.281),
            (18.0, 0.823, 20.948, 25.887),
            (20.0, 0.518, 33.308, 41.162),
            (22.0, 0.326, 52.962, 65.451),
        ] {
            near(awg_mm2(gauge), mm2, 6e-4);
            let mohm = |t| 1000.0 * ohms(awg_mm2(gauge), 1.0, t).unwrap();
            near(mohm(20.0) / warm_20, 1.0, 2e-4);
            near(mohm(80.0) / warm_80, 1.0, 2e-4);
        }
        // 4/0 is 0.4600 in by ASTM B258.
        near(
            (awg_mm2(-3.0) * 4.0 / std::f64::consts::PI).sqrt(),
            11.684,
            1e-3,
        );
    }

    /// Reference values, section 7: voltage drops, worked.
    #[test]
    fn drops() {
        near(10.0 * ohms(awg_mm2(16.0), 8.0, 20.0).unwrap(), 1.054, 1e-3);
        near(10.0 * ohms(awg_mm2(16.0), 8.0, 80.0).unwrap(), 1.302, 1e-3);
        near(15.0 * ohms(awg_mm2(12.0), 10.0, 20.0).unwrap(), 0.782, 1e-3);
        near(15.0 * ohms(awg_mm2(12.0), 10.0, 60.0).unwrap(), 0.904, 1e-3);
        assert_eq!(ohms(0.0, 1.0, 20.0), None);
    }
}
