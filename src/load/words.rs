//! Words of the trade that tell a unit from a name and a clock from other columns.

/// Units as loggers write them, in lower case, without blanks and degree signs.
const UNITS: &str = "\
    s, sec, secs, second, seconds, ms, msec, msecs, us, usec, µs, μs, ns, min, mins, minutes, h, hr, hrs, hours, \
    hh:mm:ss, hh:mm:ssfff, mm:ss, utc, rpm, r/min, rev/min, 1/min, min-1, /min, rpm/s, hz, khz, deg/s, rad/s, \
    %, pct, percent, ratio, raw, count, counts, cnt, #, -, --, none, n/a, unitless, on/off, bool, boolean, flag, \
    bit, bits, state, gear, x, 1, \
    pa, hpa, kpa, mpa, kpaa, kpag, kpa(a), kpa(g), kpaabs, kpagauge, psi, psia, psig, psi(a), psi(g), bar, bara, \
    barg, mbar, mbara, inhg, mmhg, inh2o, mmh2o, atm, kg/cm2, \
    c, degc, celsius, f, degf, fahrenheit, k, kelvin, \
    v, volt, volts, mv, vdc, a, amp, amps, ma, ohm, ohms, kohm, ω, ah, w, kw, db, \
    deg, degs, degree, degrees, btdc, degbtdc, degca, degcrk, rad, ca, \
    km/h, kmh, kph, mph, m/s, ft/s, kn, kts, km, m, mi, mile, miles, ft, cm, mm, in, inch, inches, g, m/s2, m/s^2, \
    m/s², ft/s2, \
    l, ml, cc, mm3, mg, kg, gal, l/h, l/hr, l/min, l/100km, mpg, cc/min, cm3/min, ml/min, g/s, g/min, kg/h, kg/hr, \
    kg/min, lb/h, lb/hr, lb/min, lbs/min, mg/stk, mg/st, mg/cyl, mm3/st, m3/h, cfm, \
    lambda, λ, la, afr, phi, nm, lbft, lb-ft, ftlb, ft-lb, hp, bhp, ps, v/s, kpa/s";

/// Whole headings that mean the clock, as blank-parted lower-case words.
const CLOCK_NAMES: &str = "\
    time, timestamp, time stamp, clock, elapsed, elapsed time, time elapsed, log time, logtime, run time, runtime, \
    running time, seconds, secs, sec, s, t, ms, msec, milliseconds, microseconds, time s, time sec, time ms, \
    date time, datetime, date and time, time of day, utc, utc time, local time, session time, record time, \
    recording time, sample time, zeit, temps, tiempo, tempo, tijd, tid, czas";

/// Single words that speak for a clock, inside a longer heading or with a slip of the pen.
const CLOCK_WORDS: &str =
    "time, timestamp, clock, elapsed, datetime, runtime, uptime, logtime, seconds, zeit";

/// Words one letter away from one of those, which mean something else.
const NOT_A_SLIP: &str = "\
    tire, tires, tile, tide, dime, lime, mime, rime, tie, block, lock, click, cloak, flock, crock";

/// Words that make a heading with "time" in it a measurement rather than the clock.
const NOT_THE_CLOCK: &str = "\
    since, mil, codes, cleared, pulse, injection, injector, inj, open, opening, dwell, burn, lap, delay, dead, \
    response, charge, rise, fall, reaction, best, last, sector, spark, to, with, remaining, left";

/// The entries of one of these lists.
fn entries(list: &'static str) -> impl Iterator<Item = &'static str> {
    list.split(", ")
}

/// Whether a piece of text is a unit. Empty text is not.
pub(crate) fn is_unit(text: &str) -> bool {
    let plain: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '°' | 'º' | '˚' | '.' | '_'))
        .flat_map(char::to_lowercase)
        .collect();
    if plain.is_empty() {
        return !text.trim().is_empty() && text.contains(['°', 'º', '˚']);
    }
    entries(UNITS).any(|unit| unit == plain)
}

/// Parts a heading into its name and the unit in brackets behind it. Empty brackets are dropped; round brackets
/// around something that is no unit, as in `EGT (front)`, belong to the name.
pub(crate) fn name_and_unit(raw: &str) -> (String, Option<String>) {
    let raw = raw.trim();
    let (open, sure) = match raw.chars().last() {
        Some(')') => ('(', false),
        Some(']') => ('[', true),
        Some('}') => ('{', false),
        _ => return (raw.to_owned(), None),
    };
    let Some(at) = opening(raw, open) else {
        return (raw.to_owned(), None);
    };
    let name = raw[..at].trim();
    let unit = raw[at + 1..raw.len() - 1].trim();
    if unit.is_empty() {
        (name.to_owned(), None)
    } else if sure || is_unit(unit) || unit.contains(['/', '%', '°', '^', '²', '³', '·']) {
        (name.to_owned(), unit_text(unit))
    } else {
        (raw.to_owned(), None)
    }
}

/// The bracket that the last one closes.
fn opening(text: &str, open: char) -> Option<usize> {
    let close = text.chars().last()?;
    let mut depth = 0_usize;
    for (at, c) in text.char_indices().rev() {
        if c == close {
            depth += 1;
        } else if c == open {
            depth -= 1;
            if depth == 0 {
                return Some(at);
            }
        }
    }
    None
}

/// A unit as written, brackets around it gone; a dash or nothing says that there is none.
pub(crate) fn unit_text(text: &str) -> Option<String> {
    let text = text.trim();
    let inner = text
        .strip_prefix('(')
        .and_then(|t| t.strip_suffix(')'))
        .or_else(|| text.strip_prefix('[').and_then(|t| t.strip_suffix(']')))
        .unwrap_or(text)
        .trim();
    let says_nothing = matches!(
        inner.to_ascii_lowercase().as_str(),
        "" | "-" | "--" | "none" | "n/a"
    );
    (!says_nothing).then(|| inner.to_owned())
}

/// Why a heading may be the clock's, and how strongly it speaks for that.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ClockName {
    /// It is a word for a clock.
    Exact,
    /// It holds such a word.
    Holds(&'static str),
    /// It holds one with a letter wrong.
    Misspelt(&'static str),
    /// It speaks of a time, but of another one.
    Other,
    /// Nothing of the kind.
    No,
}

/// What a heading without its unit says about being a clock.
pub(crate) fn clock_name(name: &str) -> ClockName {
    let words = words_of(name);
    let joined = words.join(" ");
    if entries(CLOCK_NAMES).any(|name| name == joined) {
        return ClockName::Exact;
    }
    let other = entries(NOT_THE_CLOCK).any(|other| words.iter().any(|word| word == other));
    let mut best = ClockName::No;
    for word in &words {
        let found = entries(CLOCK_WORDS).find(|clock| clock == word);
        let slip = || {
            let known = word.len() < 4 || entries(NOT_A_SLIP).any(|other| other == word);
            let mut clocks = entries(CLOCK_WORDS).filter(|_| !known);
            clocks.find(|clock| one_slip_apart(word, clock))
        };
        if let Some(clock) = found {
            best = ClockName::Holds(clock);
        } else if best == ClockName::No
            && let Some(clock) = slip()
        {
            best = ClockName::Misspelt(clock);
        }
    }
    if other && best != ClockName::No {
        ClockName::Other
    } else {
        best
    }
}

/// Lower-case words of a heading, parted at anything but letters and digits and at `aB`.
pub(crate) fn words_of(name: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut was_lower = false;
    for c in name.chars() {
        if !c.is_alphanumeric() || (was_lower && c.is_uppercase()) {
            words.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(word) = words.last_mut()
        {
            word.extend(c.to_lowercase());
        }
        was_lower = c.is_lowercase();
    }
    words.retain(|word| !word.is_empty());
    words
}

/// One letter changed, added, dropped, or two neighbours swapped.
fn one_slip_apart(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let (short, long) = if a.len() <= b.len() { (a, b) } else { (b, a) };
    let same = short.iter().zip(&long).take_while(|(x, y)| x == y).count();
    let (rest, other) = (&short[same..], &long[same..]);
    match long.len() - short.len() {
        0 if rest.is_empty() => false,
        0 => {
            let swapped = rest.len() >= 2
                && rest[0] == other[1]
                && rest[1] == other[0]
                && rest[2..] == other[2..];
            rest[1..] == other[1..] || swapped
        }
        1 => *rest == other[1..],
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_in_headings() {
        for (raw, name, unit) in [
            ("ENGINE_RPM ()", "ENGINE_RPM", None),
            ("EGT Cyl 3 (degC)", "EGT Cyl 3", Some("degC")),
            ("EGT Cyl 3 [°F]", "EGT Cyl 3", Some("°F")),
            ("EGT (front)", "EGT (front)", None),
            ("Lambda (bank 1) [λ]", "Lambda (bank 1)", Some("λ")),
            ("MAP [kPa(a)]", "MAP", Some("kPa(a)")),
            ("MAP (kPa (a))", "MAP", Some("kPa (a)")),
            ("Fuel (cc/min)", "Fuel", Some("cc/min")),
            ("Gear [-]", "Gear", None),
            ("rpm", "rpm", None),
            ("odd)", "odd)", None),
            ("(s)", "", Some("s")),
        ] {
            let got = name_and_unit(raw);
            assert_eq!((got.0.as_str(), got.1.as_deref()), (name, unit), "{raw}");
        }
        assert_eq!(unit_text(" [kPa] ").as_deref(), Some("kPa"));
        assert_eq!(unit_text("-"), None);
        for unit in ["°C", "deg C", "°", "kPa", "μs", "RPM", "%"] {
            assert!(is_unit(unit), "{unit}");
        }
        for word in ["", " ", "Oil", "time", "Cyl 3"] {
            assert!(!is_unit(word), "{word}");
        }
    }

    #[test]
    fn clock_headings() {
        use ClockName::{Exact, Holds, Misspelt, No, Other};
        for (name, wanted) in [
            ("Time", Exact),
            ("LOG_TIME", Exact),
            ("logTime", Exact),
            ("t", Exact),
            ("ENGINE_RUN_TIME", Holds("time")),
            ("ENGINE_RUN_TINE", Misspelt("time")),
            ("Tiem", Misspelt("time")),
            ("Elapsd", Misspelt("elapsed")),
            ("TIME_SINCE_TROUBLE_CODES_CLEARED", Other),
            ("TIME_RUN_WITH_MIL_ON", Other),
            ("Injection time", Other),
            ("TIMING_ADVANCE", No),
            ("Tire temp", No),
            ("Block temp", No),
            ("rpm", No),
            ("", No),
        ] {
            assert_eq!(clock_name(name), wanted, "{name}");
        }
    }
}
