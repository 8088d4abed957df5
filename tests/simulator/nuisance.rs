//! What makes a healthy run look odd: car, day and logger, with nothing wrong.

use super::car::Car;

/// One oddity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nuisance {
    /// Every sensor three times as noisy.
    NoisySensors,
    /// Two degrees of frost: rich, fast idle, a stiff battery.
    FrostyStart,
    /// A battery of three quarters of its charge at five degrees of frost.
    ColdBattery,
    /// The controller reckons badly with the wall film: lean for a moment at each tip-in.
    LeanTipIn,
    /// Two thousand metres up.
    Height,
    /// The log begins while the engine runs.
    FromTheMiddle,
    /// A third of the channels is not logged.
    FewChannels,
    /// One row a second.
    OneHertz,
    /// A thousand rows a second; the log is cut after 100 s.
    OneKilohertz,
    /// Coarse steps: 0.1 V, 1 kPa, 25 rpm, 2 degC, 0.02 lambda.
    Coarse,
    /// Exhausts that differ by up to 50 degC, always the same way.
    UnevenExhaust,
}

impl Nuisance {
    /// All, with their names on the command line.
    pub const ALL: [(Self, &'static str); 11] = [
        (Self::NoisySensors, "noisy-sensors"),
        (Self::FrostyStart, "frosty-start"),
        (Self::ColdBattery, "cold-battery"),
        (Self::LeanTipIn, "lean-tip-in"),
        (Self::Height, "height"),
        (Self::FromTheMiddle, "from-the-middle"),
        (Self::FewChannels, "few-channels"),
        (Self::OneHertz, "one-hertz"),
        (Self::OneKilohertz, "one-kilohertz"),
        (Self::Coarse, "coarse"),
        (Self::UnevenExhaust, "uneven-exhaust"),
    ];

    /// The oddity of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|n| n.1 == name).map(|n| n.0)
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        Self::ALL.iter().find(|n| n.0 == self).map_or("", |n| n.1)
    }

    /// Changes the car or the day.
    pub fn fit(self, car: &mut Car) {
        let cool = |car: &mut Car, degc: f64| {
            let by = degc - car.air_c;
            car.air_c = degc;
            // a car driven here is as warm as ever inside
            if car.coolant_c < 40.0 {
                car.coolant_c += by;
                car.oil_c += by;
            }
            car.bay_c += by;
        };
        match self {
            Self::FrostyStart => cool(car, -2.0),
            Self::ColdBattery => {
                cool(car, -5.0);
                car.charge = 0.80;
            }
            Self::LeanTipIn => car.film_error = 2.5,
            Self::Height => car.height_m = 2000.0,
            Self::UnevenExhaust => {
                let n = car.engine.cylinders();
                for (c, offset) in car.egt_offset.iter_mut().enumerate().take(n) {
                    // spread over the cylinders out of order, 50 degC from end to end
                    let place = (c * 5 % n) as f64 / (n.max(2) - 1) as f64;
                    *offset = 0.3 * *offset + 40.0 * (place - 0.5);
                }
            }
            _ => {}
        }
    }

    /// Rows per second, where the oddity sets them.
    pub fn row_hz(self) -> Option<f64> {
        match self {
            Self::OneHertz => Some(1.0),
            Self::OneKilohertz => Some(1000.0),
            _ => None,
        }
    }

    /// Step of a channel by its unit, where it is coarse.
    pub fn step(self, header: &str) -> Option<f64> {
        if self != Self::Coarse {
            return None;
        }
        let ends = |unit: &str| header.ends_with(unit);
        if ends("(V)") {
            Some(0.1)
        } else if ends("(kPa)") {
            Some(1.0)
        } else if ends("(rpm)") {
            Some(25.0)
        } else if ends("(degC)") {
            Some(2.0)
        } else if header.starts_with("Lambda") {
            Some(0.02)
        } else {
            None
        }
    }

    /// The build sheet, changed where the day is another.
    pub fn sheet(self, text: &str) -> String {
        if self == Self::Height {
            text.replace("altitude_m = 200", "altitude_m = 2000")
        } else {
            text.to_owned()
        }
    }
}
