//! Tiny columns for cases, written as text: `12.6 for 10, 10.2 for 1.5, 13 to 14.2 for 5, blank for 2`.
//!
//! Pieces follow each other in time. A piece holds a value or moves from one to another, for so many seconds; after it may
//! stand `noise N` (a fixed sequence of about that standard deviation) and `wave N every S` (a sine). `@5` in front gives
//! the column a rate of its own, 5 readings a second: the cells between stay blank. `lag 4` in front shows it as a sensor
//! with a time constant of 4 s would (the noise comes after the sensor): `@5 lag 4 20 for 5, 600 for 40 noise 1`.

/// One column: readings at times.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiny {
    pieces: Vec<Piece>,
    rate_hz: Option<f64>,
    lag_s: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct Piece {
    from: Option<f64>,
    to: f64,
    seconds: f64,
    noise: f64,
    wave: Option<(f64, f64)>,
}

impl Tiny {
    /// Reads the notation. The error is a sentence.
    pub fn parse(text: &str) -> Result<Tiny, String> {
        let mut rest = text.trim();
        let mut rate_hz = None;
        if let Some(after) = rest.strip_prefix('@') {
            let (rate, pieces) = after
                .split_once(' ')
                .ok_or_else(|| format!("`{text}`: pieces are wanted after the rate"))?;
            rate_hz = Some(number(rate, text)?);
            rest = pieces;
        }
        let mut lag_s = 0.0;
        if let Some(after) = rest.strip_prefix("lag ") {
            let (seconds, pieces) = after
                .split_once(' ')
                .ok_or_else(|| format!("`{text}`: pieces are wanted after the lag"))?;
            lag_s = number(seconds, text)?;
            rest = pieces;
        }
        let pieces = rest
            .split(',')
            .map(|p| piece(p.trim(), text))
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Tiny {
            pieces,
            rate_hz,
            lag_s,
        })
    }
    /// Length, s.
    pub fn seconds(&self) -> f64 {
        self.pieces.iter().map(|p| p.seconds).sum()
    }
    /// The readings at the given row times, NaN where the cell is blank.
    pub fn readings(&self, times: &[f64], seed: u64) -> Vec<f64> {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        let mut next = f64::NEG_INFINITY;
        let mut shown: Option<(f64, f64)> = None;
        times
            .iter()
            .map(|t| {
                let shake = dice.next();
                let (level, noise) = self.at(*t, shake);
                let sensed = match shown {
                    Some((before, was)) if self.lag_s > 0.0 && level.is_finite() => {
                        let keep = (-(*t - before) / self.lag_s).exp();
                        was * keep + level * (1.0 - keep)
                    }
                    _ => level,
                };
                if sensed.is_finite() {
                    shown = Some((*t, sensed));
                }
                if let Some(rate) = self.rate_hz {
                    if *t < next - 1e-9 {
                        return f64::NAN;
                    }
                    next = if next.is_finite() {
                        next + 1.0 / rate
                    } else {
                        *t + 1.0 / rate
                    };
                }
                sensed + noise
            })
            .collect()
    }
    /// Level and noise at a time.
    fn at(&self, t: f64, shake: f64) -> (f64, f64) {
        let mut start = 0.0;
        for p in &self.pieces {
            if t < start + p.seconds - 1e-9 {
                let Some(from) = p.from else {
                    return (f64::NAN, 0.0);
                };
                let level = from + (p.to - from) * (t - start) / p.seconds;
                let wave = p.wave.map_or(0.0, |(size, every)| {
                    size * (std::f64::consts::TAU * t / every).sin()
                });
                return (level + wave, p.noise * shake);
            }
            start += p.seconds;
        }
        (f64::NAN, 0.0)
    }
}

fn number(word: &str, all: &str) -> Result<f64, String> {
    word.trim()
        .parse()
        .map_err(|_| format!("`{all}`: `{}` is no number", word.trim()))
}

fn piece(text: &str, all: &str) -> Result<Piece, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let wrong = || {
        format!(
            "`{all}`: the piece `{text}` wants e.g. `12.6 for 10`, `13 to 14.2 for 5` or `blank for 2`"
        )
    };
    let at = words.iter().position(|w| *w == "for").ok_or_else(wrong)?;
    let seconds = number(words.get(at + 1).ok_or_else(wrong)?, all)?;
    let (from, to) = match words[..at] {
        ["blank"] => (None, 0.0),
        [value] => (Some(number(value, all)?), number(value, all)?),
        [a, "to", b] => (Some(number(a, all)?), number(b, all)?),
        _ => return Err(wrong()),
    };
    let mut out = Piece {
        from,
        to,
        seconds,
        noise: 0.0,
        wave: None,
    };
    let mut tail = &words[at + 2..];
    while !tail.is_empty() {
        match tail {
            ["noise", size, ..] => {
                out.noise = number(size, all)?;
                tail = &tail[2..];
            }
            ["wave", size, "every", period, ..] => {
                out.wave = Some((number(size, all)?, number(period, all)?));
                tail = &tail[4..];
            }
            _ => return Err(wrong()),
        }
    }
    if seconds <= 0.0 {
        Err(wrong())
    } else {
        Ok(out)
    }
}

/// A fixed sequence of about unit standard deviation: the sum of four uniform figures (xorshift, Marsaglia 2003).
struct Dice(u64);
impl Dice {
    fn next(&mut self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..4 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            sum += (self.0 >> 11) as f64 / (1u64 << 53) as f64 - 0.5;
        }
        sum * 3f64.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_notation_reads_as_it_is_written() {
        let t = Tiny::parse(
            "12.6 for 2, 13 to 14 for 2, blank for 1, 5 for 1 noise 0.1 wave 2 every 0.5",
        )
        .unwrap();
        assert_eq!(t.seconds(), 6.0);
        let r = t.readings(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.5], 1);
        assert_eq!(&r[..4], &[12.6, 12.6, 13.0, 13.5]);
        assert!(r[4].is_nan() && (r[5] - 5.0).abs() < 3.0);
    }

    #[test]
    fn a_rate_of_its_own_leaves_blanks() {
        let times: Vec<f64> = (0..20).map(|i| f64::from(i) * 0.1).collect();
        let r = Tiny::parse("@2 7 for 2").unwrap().readings(&times, 1);
        assert_eq!(r.iter().filter(|v| v.is_finite()).count(), 4);
    }

    #[test]
    fn a_lag_shows_63_percent_of_a_step_after_its_time() {
        let times: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.1).collect();
        let r = Tiny::parse("lag 4 0 for 5, 100 for 15")
            .unwrap()
            .readings(&times, 1);
        assert!((r[90] - 63.2).abs() < 2.0 && r[49] == 0.0, "{}", r[90]);
    }

    #[test]
    fn slips_are_sentences() {
        for text in [
            "",
            "12",
            "12 for",
            "a for 3",
            "1 to for 3",
            "3 for 0",
            "3 for 2 jitter 4",
            "lag 4",
        ] {
            assert!(Tiny::parse(text).unwrap_err().contains('`'), "{text}");
        }
    }
}
