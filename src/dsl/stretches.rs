//! Stretches of time in the making: where something is known, where it is true, where it has been true for long enough.

use super::lazy::{Lazy, Values};
use crate::span::{Span, Spans};

/// The stretches in which something is known, in the making.
pub(super) struct Known {
    believed: f64,
    interval: f64,
    /// Where the stretch began, and the last sample of it.
    since: Option<(f64, f64)>,
    out: Vec<Span>,
}

impl Known {
    /// Visits all samples of an expression, inside the window.
    pub fn of(lazy: &Lazy, window: Option<&Spans>) -> Spans {
        let mut known = Known {
            believed: lazy.believed_s() + 1e-9,
            interval: lazy.interval_s(),
            since: None,
            out: Vec::new(),
        };
        lazy.visit_times(&mut |times| {
            known.add(times);
            true
        });
        if let Some((from_s, to_s)) = known.since {
            known.out.push(Span { from_s, to_s });
        }
        let spans = Spans::new(known.out);
        match window {
            Some(window) => spans.and(window),
            None => spans,
        }
    }

    fn add(&mut self, times: &[f64]) {
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            return;
        };
        let believed = self.believed;
        let mut from = match self.since {
            Some((from, before)) if first - before <= believed => from,
            Some((from_s, before)) => {
                self.end(from_s, before);
                *first
            }
            None => *first,
        };
        if gaps(times, believed) {
            for pair in times.windows(2).filter(|pair| pair[1] - pair[0] > believed) {
                self.end(from, pair[0]);
                from = pair[1];
            }
        }
        self.since = Some((from, *last));
    }

    /// The last sample before a gap stands for one interval.
    fn end(&mut self, from_s: f64, last: f64) {
        let to_s = last + self.interval;
        self.out.push(Span { from_s, to_s });
    }
}

/// Whether somewhere the next sample comes later than that, s. Looked at by the block: a gap is rare.
fn gaps(times: &[f64], believed: f64) -> bool {
    let late = |pair: &[f64]| pair[1] - pair[0] > believed;
    times.windows(2).fold(false, |any, pair| any | late(pair))
}

/// Samples looked at together.
const BLOCK: usize = 1024;

/// Spans in the making: each true sample stands until the next one.
pub(super) struct Open {
    believed: f64,
    interval: f64,
    /// The sample before, where it was true.
    since: Option<f64>,
    out: Vec<Span>,
}

impl Open {
    /// Visits all samples of an expression of yes and no.
    pub fn of(lazy: &Lazy) -> Spans {
        let mut open = Open {
            believed: lazy.believed_s() + 1e-9,
            interval: lazy.interval_s(),
            since: None,
            out: Vec::new(),
        };
        lazy.visit_told(&mut |times, values| {
            match values {
                Values::Each(values) => open.add(times, values),
                Values::All(one) => open.add_all(times, one != 0.0),
            }
            true
        });
        // The last sample of all stands for its own moment only.
        if let Some(t) = open.since {
            open.push(Span { from_s: t, to_s: t });
        }
        Spans::new(open.out)
    }

    fn add(&mut self, times: &[f64], values: &[f64]) {
        // Mostly a whole block is true, or none of it. Counted without an early end: that would cost more than it saves.
        for (times, values) in times.chunks(BLOCK).zip(values.chunks(BLOCK)) {
            let yes: usize = values.iter().map(|v| usize::from(*v != 0.0)).sum();
            if yes == 0 {
                self.add_all(times, false);
            } else if yes == values.len() {
                self.add_all(times, true);
            } else {
                self.add_each(times, values);
            }
        }
    }

    fn add_all(&mut self, times: &[f64], yes: bool) {
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            return;
        };
        match self.since {
            None if !yes => {}
            Some(from_s)
                if yes && first - from_s <= self.believed && !gaps(times, self.believed) =>
            {
                let to_s = *last;
                self.push(Span { from_s, to_s });
                self.since = Some(to_s);
            }
            _ if yes => self.add_each(times, &vec![1.0; times.len()]),
            // The one before stands until the first of these.
            _ => self.add_each(&[*first], &[0.0]),
        }
    }

    fn add_each(&mut self, times: &[f64], values: &[f64]) {
        for (t, v) in times.iter().zip(values) {
            if let Some(from_s) = self.since {
                let to_s = if t - from_s <= self.believed {
                    *t
                } else {
                    from_s + self.interval
                };
                self.push(Span { from_s, to_s });
            }
            self.since = (*v != 0.0).then_some(*t);
        }
    }

    fn push(&mut self, span: Span) {
        match self.out.last_mut() {
            Some(last) if span.from_s <= last.to_s => last.to_s = span.to_s,
            _ => self.out.push(span),
        }
    }
}

/// Share of a hold's window that must be over the limit: one reading back under it does not reset a hold.
const HOLD_SHARE: f64 = 0.8;

/// Where it has been true for so long, s, in one known stretch.
pub(super) fn held(yes: &[Span], stretch: Span, hold: f64) -> Vec<Span> {
    let mut before = vec![0.0];
    for span in yes {
        before.push(before.last().copied().unwrap_or(0.0) + span.length());
    }
    // True time before a moment.
    let upto = |t: f64| {
        let at = yes.partition_point(|s| s.from_s < t);
        let partly = at
            .checked_sub(1)
            .map_or(0.0, |i| (yes[i].to_s - t).max(0.0));
        before[at] - partly
    };
    let mut out = Vec::new();
    let mut try_window = |from: f64| {
        let to = from + hold;
        if from < stretch.from_s - 1e-9 || to > stretch.to_s + 1e-9 {
            return;
        }
        if upto(to) - upto(from) >= HOLD_SHARE * hold - 1e-9 {
            out.push(Span {
                from_s: from,
                to_s: to,
            });
        }
    };
    for span in yes {
        try_window(span.from_s);
        try_window(span.to_s - hold);
        // Long spans are covered end to end by windows that start inside them.
        let mut from = span.from_s + hold;
        while from + hold < span.to_s {
            try_window(from);
            from += hold;
        }
    }
    let joined = Spans::new(out);
    // Trim to where it is really true.
    let hull: Vec<Span> = joined
        .list()
        .iter()
        .filter_map(|w| {
            let first = yes.iter().find(|s| s.to_s > w.from_s)?;
            let last = yes.iter().rev().find(|s| s.from_s < w.to_s)?;
            Some(Span {
                from_s: first.from_s.max(w.from_s),
                to_s: last.to_s.min(w.to_s),
            })
        })
        .collect();
    hull
}
