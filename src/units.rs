//! Units: what a number means, and whether two numbers may meet.
//!
//! Everything inside plugread is held in the standard units of the channel dictionary, so a [`Unit`] is only a
//! dimension. A temperature and a difference of temperatures are two units: 120 degF is 48.9 degC, but a spread of
//! 120 degF is 66.7 degC.

use std::fmt;

/// Base quantities, each in its standard unit. `ms` stands apart from `s` because injector pulses and holds are never
/// added to each other; `1000 cycles` is the base for engine cycles because that is how knock is quoted.
const BASES: [&str; 13] = [
    "s",
    "rpm",
    "%",
    "kPa",
    "degC",
    "V",
    "A",
    "deg",
    "km/h",
    "g",
    "ms",
    "lambda",
    "1000 cycles",
];
const S: usize = 0;
const RPM: usize = 1;
const PERCENT: usize = 2;
const KPA: usize = 3;
const DEGC: usize = 4;
const VOLT: usize = 5;
const AMP: usize = 6;
const DEG: usize = 7;
const KMH: usize = 8;
const G: usize = 9;
const MS: usize = 10;
const LAMBDA: usize = 11;
const KCYCLE: usize = 12;
const COUNT: usize = 99;

/// The unit of a standard-unit number: exponents of the base quantities, and whether it is a point on the
/// temperature scale (`degC`) or a difference (`degC difference`).
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Unit {
    powers: [i8; BASES.len()],
    point: bool,
}

/// A unit as somebody wrote it: the standard unit and how to get there (`standard = value * factor + offset`).
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Written {
    /// The standard unit of the same quantity.
    pub unit: Unit,
    /// Multiplier into the standard unit.
    pub factor: f64,
    /// Added after multiplying; other than zero only for points on a temperature scale.
    pub offset: f64,
}

impl Written {
    /// The value in the standard unit.
    pub fn to_standard(self, value: f64) -> f64 {
        value * self.factor + self.offset
    }
    /// The standard value as it reads in the written unit.
    pub fn from_standard(self, value: f64) -> f64 {
        (value - self.offset) / self.factor
    }
}

/// Spelling, base, factor, offset; read in capitals or small letters alike. Factors: NIST SP 811 appendix B by way of the exact definitions (1 psi is
/// 4.4482216152605 N on 0.00064516 m2; 1 inHg is 3.386388640 kPa at 0 degC; 1 mph is 1.609344 km/h).
const ATOMS: &[(&str, usize, f64, f64)] = &[
    ("s", S, 1.0, 0.0),
    ("sec", S, 1.0, 0.0),
    ("second", S, 1.0, 0.0),
    ("seconds", S, 1.0, 0.0),
    ("min", S, 60.0, 0.0),
    ("minute", S, 60.0, 0.0),
    ("minutes", S, 60.0, 0.0),
    ("h", S, 3600.0, 0.0),
    ("rpm", RPM, 1.0, 0.0),
    ("1/min", RPM, 1.0, 0.0),
    ("min-1", RPM, 1.0, 0.0),
    ("r/min", RPM, 1.0, 0.0),
    ("rev/min", RPM, 1.0, 0.0),
    ("krpm", RPM, 1000.0, 0.0),
    ("%", PERCENT, 1.0, 0.0),
    ("percent", PERCENT, 1.0, 0.0),
    ("pct", PERCENT, 1.0, 0.0),
    ("kPa", KPA, 1.0, 0.0),
    ("Pa", KPA, 0.001, 0.0),
    ("hPa", KPA, 0.1, 0.0),
    ("mbar", KPA, 0.1, 0.0),
    ("bar", KPA, 100.0, 0.0),
    ("psi", KPA, 6.894_757_293_168_361, 0.0),
    ("MPa", KPA, 1000.0, 0.0),
    ("atm", KPA, 101.325, 0.0),
    ("inHg", KPA, 3.386_388_640, 0.0),
    ("mmHg", KPA, 0.133_322_387_4, 0.0),
    ("kgf/cm2", KPA, 98.0665, 0.0),
    ("kg/cm2", KPA, 98.0665, 0.0),
    ("degC", DEGC, 1.0, 0.0),
    ("C", DEGC, 1.0, 0.0),
    ("Celsius", DEGC, 1.0, 0.0),
    ("degF", DEGC, 1.0 / 1.8, -32.0 / 1.8),
    ("F", DEGC, 1.0 / 1.8, -32.0 / 1.8),
    ("Fahrenheit", DEGC, 1.0 / 1.8, -32.0 / 1.8),
    ("K", DEGC, 1.0, -273.15),
    ("kelvin", DEGC, 1.0, -273.15),
    ("V", VOLT, 1.0, 0.0),
    ("volt", VOLT, 1.0, 0.0),
    ("volts", VOLT, 1.0, 0.0),
    ("mV", VOLT, 0.001, 0.0),
    ("A", AMP, 1.0, 0.0),
    ("amp", AMP, 1.0, 0.0),
    ("amps", AMP, 1.0, 0.0),
    ("mA", AMP, 0.001, 0.0),
    ("deg", DEG, 1.0, 0.0),
    ("degree", DEG, 1.0, 0.0),
    ("degrees", DEG, 1.0, 0.0),
    ("\u{b0}", DEG, 1.0, 0.0),
    ("BTDC", DEG, 1.0, 0.0),
    ("degBTDC", DEG, 1.0, 0.0),
    ("km/h", KMH, 1.0, 0.0),
    ("kmh", KMH, 1.0, 0.0),
    ("kph", KMH, 1.0, 0.0),
    ("mph", KMH, 1.609_344, 0.0),
    ("m/s", KMH, 3.6, 0.0),
    ("g", G, 1.0, 0.0),
    ("m/s2", G, 1.0 / 9.806_65, 0.0),
    ("ms", MS, 1.0, 0.0),
    ("msec", MS, 1.0, 0.0),
    ("us", MS, 0.001, 0.0),
    ("lambda", LAMBDA, 1.0, 0.0),
    ("cycle", KCYCLE, 0.001, 0.0),
    ("cycles", KCYCLE, 0.001, 0.0),
    ("1000 cycles", KCYCLE, 1.0, 0.0),
    ("count", COUNT, 1.0, 0.0),
    ("counts", COUNT, 1.0, 0.0),
    ("event", COUNT, 1.0, 0.0),
    ("events", COUNT, 1.0, 0.0),
    ("", COUNT, 1.0, 0.0),
    ("-", COUNT, 1.0, 0.0),
];

/// What is measured in each of [`BASES`], in words.
const NAMES: [&str; BASES.len()] = [
    "time",
    "engine speed",
    "share",
    "pressure",
    "temperature",
    "voltage",
    "current",
    "angle",
    "road speed",
    "acceleration",
    "short time, as of an injector pulse",
    "lambda",
    "engine cycles",
];

/// The units of one kind of quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitsOfKind {
    /// What is measured in them: `pressure`.
    pub name: &'static str,
    /// The standard unit; empty for a bare number.
    pub standard: &'static str,
    /// Units of different size, the standard one first.
    pub units: Vec<&'static str>,
    /// Other spellings of these.
    pub others: Vec<&'static str>,
}

/// All units by what they measure, counts last.
pub fn kinds() -> Vec<UnitsOfKind> {
    let named = NAMES.iter().zip(BASES).enumerate();
    let named = named.map(|(base, (name, standard))| (base, *name, standard));
    let all = named.chain([(COUNT, "count, gear, on or off", "")]);
    all.map(|(base, name, standard)| {
        let (mut units, mut others, mut sizes) = (vec![standard], Vec::new(), vec![(1.0, 0.0)]);
        for (spelling, _, factor, offset) in ATOMS.iter().filter(|a| a.1 == base) {
            if *spelling == standard {
                continue;
            }
            if sizes.contains(&(*factor, *offset)) {
                others.push(*spelling);
            } else {
                sizes.push((*factor, *offset));
                units.push(*spelling);
            }
        }
        UnitsOfKind {
            name,
            standard,
            units,
            others,
        }
    })
    .collect()
}

/// Lower case, without the blanks and degree signs that loggers sprinkle in: `"\u{b0} C"` becomes `degc`.
fn plain(text: &str) -> String {
    let mut s = text.trim().to_lowercase();
    // Nothing in it to replace, as in nearly all that scripts write.
    if s.is_ascii() && !s.contains(['^', '_']) && !s.contains("deg ") {
        return s;
    }
    s = s.replace("\u{b5}", "u").replace("\u{3bc}", "u");
    for (from, to) in [
        ("\u{b0} ", "deg"),
        ("\u{b0}c", "degc"),
        ("\u{b0}f", "degf"),
        ("deg c", "degc"),
        ("deg f", "degf"),
        ("\u{3bb}", "lambda"),
        ("\u{b2}", "2"),
        ("^2", "2"),
        ("_", " "),
    ] {
        s = s.replace(from, to);
    }
    s
}

fn atom(text: &str) -> Option<(Unit, f64, f64)> {
    let text = text.trim();
    let (_, base, factor, offset) = ATOMS.iter().find(|a| a.0.eq_ignore_ascii_case(text))?;
    let mut unit = Unit::NONE;
    if *base != COUNT {
        unit.powers[*base] = 1;
    }
    Some((unit, *factor, *offset))
}

impl Unit {
    /// A bare number: counts, gears, on/off, ratios.
    pub const NONE: Unit = Unit {
        powers: [0; BASES.len()],
        point: false,
    };

    /// Reads a unit as loggers, sheets and scripts write it: `psi`, `degF`, `degF difference`, `V/s`,
    /// `kPa per 1000 rpm`, `per 1000 cycles`. `None` for one that is not known.
    pub fn parse(text: &str) -> Option<Written> {
        let mut text = plain(text);
        let mut difference = false;
        for word in [" difference", " rise", " diff"] {
            if let Some(rest) = text.strip_suffix(word) {
                text = rest.to_string();
                difference = true;
            }
        }
        for word in [" absolute", " abs", " gauge", "(a)", "(g)", " a", " g"] {
            if let Some(rest) = text.strip_suffix(word)
                && atom(rest).is_some_and(|(u, ..)| u.powers[KPA] == 1)
            {
                text = rest.to_string();
            }
        }
        if let Some((mut unit, factor, offset)) = atom(&text) {
            unit.point = unit.powers[DEGC] == 1 && !difference;
            let offset = if unit.point { offset } else { 0.0 };
            return Some(Written {
                unit,
                factor,
                offset,
            });
        }
        Self::parse_ratio(&text)
    }

    fn parse_ratio(text: &str) -> Option<Written> {
        let text = if let Some(rest) = text.strip_prefix("per ") {
            format!(" per {rest}")
        } else {
            text.to_string()
        };
        let (above, below) = text.split_once(" per ").or_else(|| text.split_once('/'))?;
        let (mut unit, mut factor, _) = atom(above)?;
        let (by, by_factor) = match atom(below) {
            Some((by, by_factor, _)) => (by, by_factor),
            None => {
                let (number, word) = below.trim().split_once(' ')?;
                let (by, by_factor, _) = atom(word)?;
                (by, by_factor * number.parse::<f64>().ok()?)
            }
        };
        for (power, below) in unit.powers.iter_mut().zip(by.powers) {
            *power -= below;
        }
        factor /= by_factor;
        Some(Written {
            unit,
            factor,
            offset: 0.0,
        })
    }

    /// A standard unit by its symbol. Panics never: an unknown symbol, a slip in our own tables, gives a bare number;
    /// the dictionary's test reads every symbol through [`Unit::parse`].
    pub fn standard(symbol: &str) -> Unit {
        Unit::parse(symbol).map_or(Unit::NONE, |w| w.unit)
    }

    /// True for a point on the temperature scale.
    pub fn is_point(self) -> bool {
        self.point
    }
    /// True for a bare number.
    pub fn is_none(self) -> bool {
        self == Unit::NONE
    }
    /// The unit of a difference of two values of this unit.
    pub fn difference(self) -> Unit {
        Unit {
            point: false,
            ..self
        }
    }

    /// The unit of a sum, where the two may be added: two degC readings may not, a reading and a difference may.
    pub fn plus(self, other: Unit) -> Option<Unit> {
        if self.powers != other.powers || (self.point && other.point) {
            return None;
        }
        Some(Unit {
            powers: self.powers,
            point: self.point || other.point,
        })
    }
    /// The unit of a difference, where the two may be subtracted.
    pub fn minus(self, other: Unit) -> Option<Unit> {
        if self.powers != other.powers || (!self.point && other.point) {
            return None;
        }
        Some(Unit {
            powers: self.powers,
            point: self.point && !other.point,
        })
    }
    /// The unit of a product. A temperature point in a product counts as a difference from 0 degC.
    pub fn times(self, other: Unit) -> Unit {
        if other.is_none() {
            return self.difference();
        }
        let mut out = self.difference();
        for (power, more) in out.powers.iter_mut().zip(other.powers) {
            *power += more;
        }
        out
    }
    /// The unit of a quotient.
    pub fn over(self, other: Unit) -> Unit {
        let mut out = self.difference();
        for (power, less) in out.powers.iter_mut().zip(other.powers) {
            *power -= less;
        }
        out
    }

    /// The name by which [`Unit::parse`] reads this unit back: tells `degC difference` from `degC`.
    pub fn key(self) -> String {
        let symbol = self.to_string();
        if self.powers == Unit::standard("degC").powers && !self.point {
            format!("{symbol} difference")
        } else {
            symbol
        }
    }

    /// Decimals with which a value of this unit is worth printing.
    pub fn decimals(self, value: f64) -> usize {
        let size = value.abs();
        let single = self.powers.iter().filter(|p| **p != 0).count() == 1;
        let is = |base: usize| single && self.powers[base] == 1;
        if is(RPM) || is(DEGC) || is(KPA) || is(KMH) {
            usize::from(size < 3.0 && size > 0.0 && !is(RPM))
        } else if is(VOLT) || is(LAMBDA) || is(G) {
            2
        } else if is(S) {
            if size < 1.0 {
                2
            } else {
                usize::from(size < 100.0)
            }
        } else if is(PERCENT) || is(DEG) || is(AMP) || is(MS) {
            usize::from(size < 100.0)
        } else if value.fract() == 0.0 || size >= 100.0 {
            0
        } else if size >= 10.0 {
            1
        } else if size >= 1.0 {
            2
        } else {
            3
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut above: Vec<String> = Vec::new();
        let mut below: Vec<String> = Vec::new();
        for (name, power) in BASES.iter().zip(self.powers) {
            let side = if power > 0 { &mut above } else { &mut below };
            for _ in 0..power.unsigned_abs() {
                side.push((*name).to_string());
            }
        }
        match (above.is_empty(), below.is_empty()) {
            (_, true) => write!(f, "{}", above.join(" ")),
            (true, false) => write!(f, "per {}", below.join(" ")),
            (false, false) => write!(f, "{}/{}", above.join(" "), below.join(" ")),
        }
    }
}

/// Sea-level pressure, kPa, and temperature, K, lapse, K/m, and exponent of the U.S. Standard Atmosphere 1976 below 11 km.
const SEA_KPA: f64 = 101.325;
const SEA_K: f64 = 288.15;
const LAPSE: f64 = 0.0065;
const EXPONENT: f64 = 5.255_876;

/// Height above the sea, m, at which the air has that pressure, kPa (U.S. Standard Atmosphere 1976).
pub fn height_of_air_m(kpa: f64) -> f64 {
    SEA_K / LAPSE * (1.0 - (kpa / SEA_KPA).powf(1.0 / EXPONENT))
}

/// Pressure of the air, kPa, at a height, m (U.S. Standard Atmosphere 1976).
pub fn air_at_height_kpa(height_m: f64) -> f64 {
    SEA_KPA * (1.0 - LAPSE * height_m / SEA_K).max(0.0).powf(EXPONENT)
}

/// How the person wants to read units (the sheet's `[display]`). Only views use it; JSON is always in standard units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Reading {
    /// Temperatures in degF.
    pub fahrenheit: bool,
    /// Pressures in another unit than kPa.
    pub pressure: PressureUnit,
    /// Road speed in mph.
    pub mph: bool,
}

/// Pressure unit of a view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum PressureUnit {
    /// kPa
    #[default]
    Kpa,
    /// pounds per square inch
    Psi,
    /// bar
    Bar,
}

impl Reading {
    /// Value and symbol of a standard-unit number, as this reader wants it.
    pub fn convert(&self, value: f64, unit: Unit) -> (f64, String) {
        let exponent_one = |base: usize| unit.powers[base] == 1;
        let mut symbol = unit.to_string();
        let mut value = value;
        let mut apply = |base: &str, to: &str| {
            if let (Some(from), Some(into)) = (Unit::parse(base), Unit::parse(to)) {
                let offset = if unit.point { into.offset } else { 0.0 };
                value = (from.to_standard(value) - offset) / into.factor;
                symbol = symbol.replacen(base, to.trim_end_matches(" difference"), 1);
            }
        };
        if self.fahrenheit && exponent_one(DEGC) {
            apply("degC", "degF");
        }
        if exponent_one(KPA) {
            match self.pressure {
                PressureUnit::Psi => apply("kPa", "psi"),
                PressureUnit::Bar => apply("kPa", "bar"),
                PressureUnit::Kpa => {}
            }
        }
        if self.mph && exponent_one(KMH) {
            apply("km/h", "mph");
        }
        (value, symbol)
    }

    /// A number with its unit, ready to read.
    pub fn show(&self, value: f64, unit: Unit) -> String {
        let (shown, symbol) = self.convert(value, unit);
        let mut decimals = unit.decimals(value);
        if self.pressure == PressureUnit::Bar && unit.powers[KPA] == 1 {
            decimals += 2;
        }
        let number = format!("{shown:.decimals$}");
        let number = if number.trim_start_matches(['-', '0', '.']).is_empty() {
            number.trim_start_matches('-').to_string()
        } else {
            number
        };
        if symbol.is_empty() {
            number
        } else {
            format!("{number} {symbol}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standard(value: f64, unit: &str) -> f64 {
        Unit::parse(unit).expect(unit).to_standard(value)
    }

    /// Check points of NIST SP 811 (appendix B), as computed in the project's reference values, section 13.
    #[test]
    fn published_conversions() {
        for (value, unit, wanted) in [
            (29.92, "inHg", 101.3207),
            (14.7, "psi", 101.3529),
            (60.0, "mph", 96.56064),
            (212.0, "degF", 100.0),
            (-40.0, "\u{b0}F", -40.0),
            (194.0, "deg F", 90.0),
            (100.0, "degF difference", 55.556),
            (120.0, "degF", 48.889),
            (1.0, "atm", 101.325),
            (2.0, "bar", 200.0),
            (1.0, "kgf/cm2", 98.0665),
            (273.15, "K", 0.0),
            (2.0, "krpm", 2000.0),
            (500.0, "mV", 0.5),
        ] {
            let got = standard(value, unit);
            assert!(
                (got - wanted).abs() < 1e-3,
                "{value} {unit}: {got}, wanted {wanted}"
            );
        }
    }

    /// Each is read back as what it is listed under.
    #[test]
    fn listed_units_are_known_and_of_their_kind() {
        for kind in kinds() {
            let standard = Unit::standard(kind.standard);
            for spelling in kind.units.iter().chain(&kind.others) {
                let read = Unit::parse(spelling).expect(spelling);
                assert_eq!(read.unit, standard, "{spelling}");
            }
            assert_eq!(kind.units[0], kind.standard);
        }
        let listed = kinds()
            .iter()
            .map(|k| k.units.len() + k.others.len())
            .sum::<usize>();
        assert_eq!(listed, ATOMS.len());
    }

    #[test]
    fn ratios_carry_their_factor() {
        assert!((standard(60.0, "degC/min") - 1.0).abs() < 1e-12);
        assert!((standard(69.0, "kPa per 1000 rpm") - 0.069).abs() < 1e-12);
        assert!((standard(3.0, "per 1000 cycles") - 3.0).abs() < 1e-12);
        assert_eq!(
            Unit::parse("per 1000 cycles").unwrap().unit.to_string(),
            "per 1000 cycles"
        );
        assert_eq!(Unit::parse("furlong"), None);
    }

    #[test]
    fn temperatures_and_differences_stay_apart() {
        let (point, apart) = (Unit::standard("degC"), Unit::standard("degC difference"));
        assert_eq!(point.minus(point), Some(apart));
        assert_eq!(point.plus(apart), Some(point));
        assert_eq!(point.plus(point), None);
        assert_eq!(apart.minus(point), None);
        assert_eq!(point.plus(Unit::standard("V")), None);
        assert_eq!(Unit::parse(&apart.key()).unwrap().unit, apart);
    }

    #[test]
    fn a_reader_gets_their_own_units() {
        let us = Reading {
            fahrenheit: true,
            pressure: PressureUnit::Psi,
            mph: true,
        };
        assert_eq!(us.show(100.0, Unit::standard("degC")), "212 degF");
        assert_eq!(
            us.show(100.0, Unit::standard("degC difference")),
            "180 degF"
        );
        assert_eq!(us.show(689.5, Unit::standard("kPa")), "100 psi");
        assert_eq!(
            Reading::default().show(14.204, Unit::standard("V")),
            "14.20 V"
        );
        let rate = Unit::standard("degC/min");
        assert!((us.convert(1.0, rate).0 - 1.8).abs() < 1e-9);
    }
}
