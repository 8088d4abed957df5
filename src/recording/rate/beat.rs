//! The beat in the lengths of stretches that hold one value.

/// How many rows apart the readings of a repeated channel are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Beat {
    /// Rows from reading to reading; not always whole.
    pub rows: f64,
    /// Stretches up to this many rows hold one reading.
    single: f64,
}

/// Stretches of more readings than this say nothing about the beat.
const MOST_READINGS: f64 = 8.0;
/// Shortest beat, rows: two, less the error of its estimate.
const SHORTEST: f64 = 1.8;
/// The row in which a reading first appears is off by less than one row.
const OFF_ROWS: f64 = 0.95;
/// Beyond that, the beat itself may be off by this share, once it is long enough for that to show.
const OFF_SHARE: f64 = 0.08;
const LONG_ROWS: f64 = 5.0;
/// Share of stretches that must be multiples of the beat.
const ON_BEAT: f64 = 0.92;
/// Evidence against chance, as the logarithm of odds: e^12 is 160,000 to one.
const SURE: f64 = 12.0;
/// The same for a beat that other columns have shown already: e^7 is 1,000 to one.
const SURE_BESIDE: f64 = 7.0;
/// A stretch shorter than this share of the beat is a reading that came too soon for it.
const SOONER: f64 = 0.6;
/// Share of changes by more than one resolution with which a channel is no slow climb.
const LEAPING: f64 = 0.25;
/// Share of stretches with several readings, which a slow climb does not have on one beat.
const SEVERAL: f64 = 0.2;
/// So many different numbers of readings in a stretch are many.
const MANY_KINDS: usize = 4;
/// Stretches whose lengths scatter less than this, as a share of their mean, are one reading each.
const SCATTER: f64 = 0.5;

impl Beat {
    /// How many readings a stretch holds.
    pub(super) fn readings(self, length: f64) -> usize {
        if length <= self.single {
            return 1;
        }
        ((length / self.rows).round() as usize).max(1)
    }

    /// The beat of these stretches, where they have one. `leaps`: share of changes by more than one resolution;
    /// `most`: the longest beat, rows.
    pub(super) fn find(runs: &[u32], leaps: f64, most: f64) -> Option<Beat> {
        let mut sorted = runs.to_vec();
        sorted.sort_unstable();
        let short = f64::from(*sorted.get(sorted.len() / 10)?);
        let base: Vec<f64> = sorted
            .iter()
            .map(|r| f64::from(*r))
            .filter(|r| (0.8 * short..=1.6 * short).contains(r))
            .collect();
        let first = base.iter().sum::<f64>() / base.len().max(1) as f64;
        let at = |rows: f64, kinds| {
            let possible = (SHORTEST..=most).contains(&rows);
            possible.then(|| on_beat(runs, refined(runs, rows), leaps, kinds))?
        };
        // Where single readings are rare, the shortest usual stretch holds two of them, or three; but then there are
        // stretches of many lengths.
        at(first, 1)
            .or_else(|| uneven(&sorted, leaps, most))
            .or_else(|| at(first / 2.0, MANY_KINDS))
            .or_else(|| at(first / 3.0, MANY_KINDS))
    }

    /// A beat that other columns showed, if these stretches agree with it. Where all columns are read in turn, one whose
    /// value seldom changes is read like the others unless it changes sooner.
    pub(super) fn given(runs: &[u32], rows: f64, in_turn: bool) -> Option<Beat> {
        let told = Told::of(runs, rows);
        let sooner = runs
            .iter()
            .filter(|r| f64::from(**r) < SOONER * rows)
            .count();
        let agrees = if in_turn {
            sooner as f64 <= (1.0 - ON_BEAT) * runs.len() as f64
        } else {
            told.share() >= ON_BEAT && told.odds() >= SURE_BESIDE
        };
        (agrees && rows >= SHORTEST).then_some(Beat { rows, single: 0.0 })
    }
}

/// True where runs of one row are frequent enough that each row must bring a reading.
pub(super) fn moves_freely(runs: &[u32]) -> bool {
    let short = runs.iter().filter(|r| **r == 1).count();
    short >= 4 && short as f64 >= 0.05 * runs.len() as f64
}

fn on_beat(runs: &[u32], rows: f64, leaps: f64, kinds: usize) -> Option<Beat> {
    let told = Told::of(runs, rows);
    let several = told.several as f64 >= SEVERAL * told.count as f64 && told.kinds >= 3;
    let alive = leaps >= LEAPING || several;
    (rows >= SHORTEST
        && alive
        && told.kinds >= kinds
        && told.share() >= ON_BEAT
        && told.odds() >= SURE)
        .then_some(Beat { rows, single: 0.0 })
}

/// Readings at no fixed beat (two rates in turn, a logger that is kept waiting): the stretches scatter little, and
/// nearly every change is a leap, so that each stretch is one reading.
fn uneven(sorted: &[u32], leaps: f64, most: f64) -> Option<Beat> {
    let n = sorted.len();
    let middle = f64::from(*sorted.get(n / 2)?);
    let usual: Vec<f64> = sorted
        .iter()
        .map(|r| f64::from(*r))
        .filter(|r| *r <= 3.0 * middle)
        .collect();
    let count = usual.len() as f64;
    let mean = usual.iter().sum::<f64>() / count;
    let spread = (usual.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / count).sqrt();
    let high = f64::from(sorted[n * 9 / 10]);
    (n >= 30
        && count >= 0.9 * n as f64
        && leaps >= 2.0 * LEAPING
        && (SHORTEST..=most).contains(&mean)
        && spread <= SCATTER * mean)
        .then_some(Beat {
            rows: mean,
            single: 2.5 * high.max(mean),
        })
}

/// The beat that fits the stretches of few readings best.
fn refined(runs: &[u32], mut rows: f64) -> f64 {
    for _ in 0..3 {
        let (mut length, mut readings) = (0.0, 0.0);
        for run in runs.iter().map(|r| f64::from(*r)) {
            let n = (run / rows).round();
            if (1.0..=MOST_READINGS).contains(&n) && (run - n * rows).abs() <= off(rows) {
                length += run;
                readings += n;
            }
        }
        if readings > 0.0 {
            rows = length / readings;
        }
    }
    rows
}

/// How far a stretch may be off a multiple of the beat, rows.
fn off(rows: f64) -> f64 {
    OFF_ROWS
        + if rows >= LONG_ROWS {
            OFF_SHARE * rows
        } else {
            0.0
        }
}

fn fits(run: f64, rows: f64) -> Option<f64> {
    let n = (run / rows).round();
    (n >= 1.0 && (run - n * rows).abs() <= off(rows)).then_some(n)
}

/// How the stretches lie to a beat.
struct Told {
    /// Stretches of few enough readings to tell.
    count: usize,
    on: usize,
    /// Of those on the beat: with more than one reading.
    several: usize,
    /// How many different numbers of readings there are.
    kinds: usize,
    /// Share of lengths that would be on the beat by chance.
    chance: f64,
}

impl Told {
    fn of(runs: &[u32], rows: f64) -> Told {
        let longest = (MOST_READINGS + 0.5) * rows;
        let mut told = Told {
            count: 0,
            on: 0,
            several: 0,
            kinds: 0,
            chance: 1.0,
        };
        let mut seen = [false; MOST_READINGS as usize + 2];
        for run in runs.iter().map(|r| f64::from(*r)).filter(|r| *r <= longest) {
            told.count += 1;
            if let Some(n) = fits(run, rows) {
                told.on += 1;
                told.several += usize::from(n > 1.0);
                if let Some(seen) = seen.get_mut(n as usize) {
                    *seen = true;
                }
            }
        }
        told.kinds = seen.iter().filter(|s| **s).count();
        let lengths = longest as u32;
        let by_chance = (1..=lengths).filter(|r| fits(f64::from(*r), rows).is_some());
        told.chance = by_chance.count() as f64 / f64::from(lengths.max(1));
        told
    }

    fn share(&self) -> f64 {
        self.on as f64 / self.count.max(1) as f64
    }

    /// Logarithm of the odds that so many are on the beat not by chance (the Chernoff bound of the binomial).
    fn odds(&self) -> f64 {
        let (share, chance) = (self.share(), self.chance.clamp(1e-9, 1.0 - 1e-9));
        if share <= chance {
            return 0.0;
        }
        let part = |s: f64, c: f64| if s > 0.0 { s * (s / c).ln() } else { 0.0 };
        self.count as f64 * (part(share, chance) + part(1.0 - share, 1.0 - chance))
    }
}
