//! Faults laid over a real run, as they would have shown in its columns. None of this looks at the checks.

use super::run::{CLOCK, COOLANT, RPM, Run, VOLTS};

/// A draw of numbers that is the same every time (splitmix64).
pub struct Draw(u64);

impl Draw {
    /// From the words that name a run, and a seed.
    pub fn new(words: &str, seed: u64) -> Draw {
        let mix = |h: u64, b: u8| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3);
        Draw(words.bytes().fold(0xcbf2_9ce4_8422_2325 ^ seed, mix))
    }
    /// Between 0 and 1.
    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    /// Between two figures.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }
    /// A place in a list.
    pub fn place(&mut self, from: usize, to: usize) -> usize {
        from + (self.share() * (to - from) as f64) as usize
    }
}

/// How bad it is.
#[derive(Clone, Copy, Debug)]
pub enum Severity {
    /// A person looks twice.
    Mild,
    /// Plain to see.
    Plain,
    /// Nobody misses it.
    Severe,
}

impl Severity {
    /// All of them.
    pub const ALL: [Severity; 3] = [Severity::Mild, Severity::Plain, Severity::Severe];

    fn of<T: Copy>(self, figures: [T; 3]) -> T {
        figures[self as usize]
    }
}

/// A fault: changes the run and gives back where it began, or nothing where this run cannot show it.
pub type Fault = fn(&mut Run, &mut Draw, Severity) -> Option<f64>;

/// From some minute on nothing charges: the surface charge goes within one or two minutes, then the loads draw the battery
/// down by a tenth of a volt a minute.
pub fn alternator(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let (first, last) = (run.times[run.fired] + 90.0, run.end() - 180.0);
    if last < first {
        return None;
    }
    let from = draw.between(first, last);
    let tau = severity.of([120.0, 60.0, 20.0]);
    for (row, t) in run.rows.iter_mut().zip(&run.times) {
        if *t > from && row[RPM] > 400.0 {
            let battery = 12.3 - 0.1 * (t - from) / 60.0;
            if row[VOLTS] > battery {
                row[VOLTS] = battery + (row[VOLTS] - battery) * (-(t - from) / tau).exp();
            }
        }
    }
    Some(from)
}

/// Over some speed the belt slips, the more the faster; slower it grips again.
pub fn belt(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let mut speeds: Vec<f64> = run.rows[run.fired + 60..].iter().map(|r| r[RPM]).collect();
    speeds.sort_by(f64::total_cmp);
    let top = speeds[speeds.len() * 98 / 100];
    if top < 1900.0 {
        return None;
    }
    let from = draw.between(1500.0, (top - 400.0).min(2000.0));
    let slope = severity.of([1.0, 1.5, 2.5]);
    for row in &mut run.rows {
        if row[RPM] > from {
            row[VOLTS] = (row[VOLTS] - 0.4 - slope * (row[RPM] - from) / 1000.0).max(11.9);
        }
    }
    Some(from)
}

/// While it still warms, the coolant's reading freezes. Frozen at the thermostat's level it could not be told.
pub fn stuck(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let under = severity.of([60.0, 50.0, 40.0]);
    let fits = |i: &usize| {
        run.rows[*i][COOLANT] < under
            && run.times[*i] > run.times[run.fired] + 20.0
            && run.end() - run.times[*i] > 240.0
    };
    let places: Vec<usize> = (run.fired..run.rows.len()).filter(fits).collect();
    if places.is_empty() {
        return None;
    }
    let from = places[draw.place(0, places.len())];
    let level = run.rows[from][COOLANT];
    for row in &mut run.rows[from..] {
        row[COOLANT] = level;
    }
    Some(run.times[from])
}

/// Single readings of the coolant leap, as by a loose plug.
pub fn leaps(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let size = severity.of([15.0, 30.0, 60.0]);
    for _ in 0..severity.of([6, 10, 25]) {
        let at = draw.place(run.fired + 60, run.rows.len() - 5);
        let sign = if draw.share() < 0.5 { -1.0 } else { 1.0 };
        run.rows[at][COOLANT] += sign * size * draw.between(0.8, 1.2);
    }
    Some(size)
}

/// The clock stands for some seconds, then shows the right time again.
pub fn stands(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let rows = severity.of([16, 60, 240]);
    let from = draw.place(run.fired + 60, run.rows.len() - rows - 60);
    let stamp = run.rows[from][CLOCK];
    for row in &mut run.rows[from..from + rows] {
        row[CLOCK] = stamp;
    }
    Some(run.times[from])
}

/// The clock stands from some moment on.
pub fn dies(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let left = severity.of([120, 300, 600]);
    let from = draw.place(run.fired + 60, run.rows.len() - left);
    let stamp = run.rows[from][CLOCK];
    for row in &mut run.rows[from..] {
        row[CLOCK] = stamp;
    }
    Some(run.times[from])
}

/// The clock is set back while the engine runs, at worst to zero.
pub fn back(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    let from = draw.place(run.fired + 120, run.rows.len() - 60);
    let by = severity.of([5.0, 60.0, 1e9_f64]).min(run.rows[from][CLOCK]);
    for row in &mut run.rows[from..] {
        row[CLOCK] -= by;
    }
    Some(run.times[from])
}

/// Rows tell the same seconds twice, again and again.
pub fn repeats(run: &mut Run, draw: &mut Draw, severity: Severity) -> Option<f64> {
    for _ in 0..severity.of([3, 6, 12]) {
        let (at, rows) = (
            draw.place(run.fired + 120, run.rows.len() - 60),
            draw.place(10, 40),
        );
        let stamps: Vec<f64> = run.rows[at - rows..at].iter().map(|r| r[CLOCK]).collect();
        for (row, stamp) in run.rows[at..].iter_mut().zip(stamps) {
            row[CLOCK] = stamp;
        }
    }
    Some(0.0)
}
