//! NTC temperature sensors: beta and Steinhart-Hart curves, both ways.

use super::KELVIN;

/// Resistance in ohm at a temperature in degC of a sensor with so many ohm at 25 degC and that beta in K:
/// `R = R25 exp(B (1/T - 1/298.15))`.
pub fn beta_ohms(celsius: f64, ohms_25: f64, beta: f64) -> Option<f64> {
    let kelvin = celsius + KELVIN;
    (kelvin > 0.0 && ohms_25 > 0.0 && beta > 0.0)
        .then(|| ohms_25 * (beta * (1.0 / kelvin - 1.0 / 298.15)).exp())
}

/// Temperature in degC at a resistance in ohm: the other way round.
pub fn beta_celsius(ohms: f64, ohms_25: f64, beta: f64) -> Option<f64> {
    (ohms > 0.0 && ohms_25 > 0.0 && beta > 0.0)
        .then(|| 1.0 / ((ohms / ohms_25).ln() / beta + 1.0 / 298.15) - KELVIN)
}

/// Beta in K from two points of (degC, ohm).
pub fn beta_of(a: (f64, f64), b: (f64, f64)) -> Option<f64> {
    let span = 1.0 / (a.0 + KELVIN) - 1.0 / (b.0 + KELVIN);
    (a.1 > 0.0 && b.1 > 0.0 && span != 0.0).then(|| (a.1 / b.1).ln() / span)
}

/// Steinhart and Hart (1968): `1/T = a + b ln R + c (ln R)^3`, T in K, R in ohm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteinhartHart {
    /// Constant part.
    pub a: f64,
    /// Times ln R.
    pub b: f64,
    /// Times the cube of ln R.
    pub c: f64,
}

impl SteinhartHart {
    /// Through three points of (degC, ohm), all different.
    pub fn through(points: [(f64, f64); 3]) -> Option<SteinhartHart> {
        if points.iter().any(|p| p.1 <= 0.0 || p.0 <= -KELVIN) {
            return None;
        }
        let l = points.map(|p| p.1.ln());
        let y = points.map(|p| 1.0 / (p.0 + KELVIN));
        let (g2, g3) = ((y[1] - y[0]) / (l[1] - l[0]), (y[2] - y[0]) / (l[2] - l[0]));
        let c = (g3 - g2) / (l[2] - l[1]) / (l[0] + l[1] + l[2]);
        let b = g2 - c * (l[0] * l[0] + l[0] * l[1] + l[1] * l[1]);
        let a = y[0] - (b + l[0] * l[0] * c) * l[0];
        [a, b, c]
            .iter()
            .all(|x| x.is_finite())
            .then_some(SteinhartHart { a, b, c })
    }
    /// Temperature in degC at a resistance in ohm.
    pub fn celsius(self, ohms: f64) -> Option<f64> {
        let l = (ohms > 0.0).then(|| ohms.ln())?;
        let inverse = self.a + self.b * l + self.c * l.powi(3);
        (inverse > 0.0).then(|| 1.0 / inverse - KELVIN)
    }
    /// Resistance in ohm at a temperature in degC, between 0.1 ohm and 100 Mohm.
    pub fn ohms(self, celsius: f64) -> Option<f64> {
        let wanted = 1.0 / (celsius + KELVIN);
        let at = |l: f64| self.a + self.b * l + self.c * l.powi(3);
        let (mut low, mut high) = (0.1f64.ln(), 1e8f64.ln());
        if !(at(low)..=at(high)).contains(&wanted) {
            return None;
        }
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if at(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some((0.5 * (low + high)).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 8: 10 kOhm, beta 3435 K.
    #[test]
    fn beta_table() {
        for (t, ohms, by) in [
            (-20.0, 77522.6, 0.1),
            (0.0, 28704.3, 0.1),
            (25.0, 10000.0, 0.01),
            (40.0, 5758.8, 0.1),
            (60.0, 2980.9, 0.1),
            (80.0, 1662.4, 0.1),
            (100.0, 987.0, 0.1),
            (120.0, 618.0, 0.1),
        ] {
            near(beta_ohms(t, 10_000.0, 3435.0).unwrap(), ohms, by);
            near(beta_celsius(ohms, 10_000.0, 3435.0).unwrap(), t, 0.01);
        }
        near(
            beta_celsius(5000.0, 10_000.0, 3435.0).unwrap(),
            44.086,
            1e-3,
        );
        near(
            beta_celsius(1000.0, 10_000.0, 3435.0).unwrap(),
            99.472,
            1e-3,
        );
        near(
            beta_of((0.0, 28704.3), (100.0, 987.0)).unwrap(),
            3435.0,
            0.2,
        );
        assert_eq!(beta_celsius(0.0, 10_000.0, 3435.0), None);
    }

    /// Reference values, section 8: a common set for 10 kOhm, and the set through three points.
    #[test]
    fn steinhart_hart_table() {
        let set = SteinhartHart {
            a: 1.129_148e-3,
            b: 2.341_25e-4,
            c: 8.767_41e-8,
        };
        for (ohms, t) in [
            (32650.0, 0.0),
            (19900.0, 10.003),
            (10000.0, 25.0),
            (5326.0, 39.995),
            (3603.0, 49.986),
            (1256.0, 80.002),
            (680.0, 99.921),
        ] {
            near(set.celsius(ohms).unwrap(), t, 1e-3);
            near(set.ohms(t).unwrap() / ohms, 1.0, 1e-4);
        }
        let through =
            SteinhartHart::through([(0.0, 32650.0), (25.0, 10000.0), (100.0, 680.0)]).unwrap();
        near(through.a, 1.125_294e-3, 1e-9);
        near(through.b, 2.347_148e-4, 1e-10);
        near(through.c, 8.565_019e-8, 1e-13);
        near(through.celsius(3603.0).unwrap(), 50.0, 1e-3);
        assert_eq!(
            SteinhartHart::through([(0.0, 1.0), (0.0, 1.0), (1.0, 1.0)]),
            None
        );
    }
}
