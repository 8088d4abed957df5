//! Words of the trade that tell a unit from a name and a clock from other columns.

/// Units as loggers write them, in lower case, without blanks and degree signs.
const UNITS: &str = "\
    s, sec, secs, second, seconds, ms, msec, msecs, us, usec, µs, μs, ns, min, mins, minutes, h, hr, hrs, hours, \
    hh:mm:ss, hh:mm:ssfff, mm:ss, utc, rpm, r/min, rev/min, 1/min, min-1, /min, u/min, upm, tr/min, rpm/s, \
    hz, khz, deg/s, rad/s, \
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
    recording time, sample time, epoch, epoch s, epoch ms, epoch time, unix, unix s, unix ms, unix time, unixtime, \
    t s, t ms, t us, ts, ts ms, tms, tstamp, tick ms, millis, micros, usec, utc ms, ms since boot, us since boot, \
    s since boot, ms since start, s since start, sekunden, \
    zeit, zeitstempel, zeitpunkt, zeitmarke, messzeit, uhrzeit, laufzeit, datum zeit, datum uhrzeit, \
    temps, horodatage, heure, tiempo, marca de tiempo, hora, tempo, ora, orario, instante, tijd, \
    tijdstip, tid, tidpunkt, tidsstempel, klockan, czas, aika";

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
    list.split(',').map(str::trim_start)
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

/// Words of a row that gives the type of each column, in lower case.
const TYPES: &str = "\
    float, float32, float64, single, double, real, int, int8, int16, int32, int64, integer, uint, uint8, uint16, \
    uint32, uint64, unsigned, signed, u8, u16, u32, u64, i8, i16, i32, i64, s8, s16, s32, s64, f32, f64, byte, word, \
    dword, long, short, bool, boolean, char, string, text, str, number, numeric, enum, date, time, datetime, timestamp, \
    analog, analogue, digital";

/// Words in front of the number in a row that counts the channels.
const NUMBERED: &str =
    "ch, chan, channel, kanal, canal, voie, col, column, field, no, nr, num, #, var, sig, signal";

/// Whether a cell of a header row gives a type rather than a name.
pub(crate) fn is_type(text: &str) -> bool {
    let plain = text.trim().to_lowercase();
    entries(TYPES).any(|word| word == plain)
}

/// The number of a cell that only counts channels: `3`, `Ch 3`, `#3`.
pub(crate) fn channel_number(text: &str) -> Option<u32> {
    let plain = text.trim().to_lowercase();
    let digits = plain.trim_start_matches(|c: char| !c.is_ascii_digit());
    let word = plain[..plain.len() - digits.len()].trim_matches([' ', '_', '.', '-', ':']);
    let signed = plain.starts_with(['-', '+']);
    let known = (word.is_empty() && !signed) || entries(NUMBERED).any(|known| known == word);
    let short = (1..=4).contains(&digits.len()) && digits.bytes().all(|c| c.is_ascii_digit());
    (known && short).then(|| digits.parse().ok()).flatten()
}

/// Parts a heading into its name and the unit in brackets behind or before it. Empty brackets are dropped; other than
/// square brackets around something that is no unit, as in `EGT (front)`, belong to the name.
pub(crate) fn name_and_unit(raw: &str) -> (String, Option<String>) {
    let raw = raw.trim();
    if let Some((unit, name)) = unit_in_front(raw) {
        return (name.to_owned(), unit_text(unit));
    }
    let (open, sure) = match raw.chars().last() {
        Some(')') => ('(', false),
        Some(']') => ('[', true),
        Some('}') => ('{', false),
        Some('>') => ('<', false),
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

/// `("kPa", "MAP")` of `[kPa] MAP`.
fn unit_in_front(raw: &str) -> Option<(&str, &str)> {
    let close = match raw.chars().next()? {
        '(' => ')',
        '[' => ']',
        '{' => '}',
        '<' => '>',
        _ => return None,
    };
    let (unit, name) = raw[1..].split_once(close)?;
    (is_unit(unit) && !name.trim().is_empty()).then(|| (unit.trim(), name.trim()))
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
    let pairs = [('(', ')'), ('[', ']'), ('{', '}'), ('<', '>')];
    let inside = |(open, close)| text.strip_prefix(open)?.strip_suffix(close);
    let inner = pairs.into_iter().find_map(inside).unwrap_or(text).trim();
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
            ("MAP {kPa}", "MAP", Some("kPa")),
            ("Speed <km/h>", "Speed", Some("km/h")),
            ("EGT <front>", "EGT <front>", None),
            ("[kPa] MAP", "MAP", Some("kPa")),
            ("(front) EGT", "(front) EGT", None),
            ("[kPa]", "", Some("kPa")),
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
        assert_eq!(unit_text("{kPa}").as_deref(), Some("kPa"));
    }

    #[test]
    fn types_and_numbers_of_columns() {
        assert!(is_type("FLOAT") && is_type(" Int16") && !is_type("Oil") && !is_type(""));
        for (text, number) in [
            ("3", Some(3)),
            ("Ch 3", Some(3)),
            ("CH_03", Some(3)),
            ("#12", Some(12)),
            ("EGT 3", None),
            ("3.5", None),
            ("-3", None),
            ("Ch", None),
            ("", None),
        ] {
            assert_eq!(channel_number(text), number, "{text}");
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
            ("unix_ms", Exact),
            ("Epoch", Exact),
            ("t_ms", Exact),
            ("millis", Exact),
            ("ms since boot", Exact),
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
