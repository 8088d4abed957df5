//! Stretches of time: sorted, apart from each other, in seconds of the run.

/// One stretch of time, from the first sample in it to the end of the last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
}

impl Span {
    /// Length, s.
    pub fn length(self) -> f64 {
        self.to_s - self.from_s
    }
    /// True where the two share time, or touch.
    pub fn overlaps(self, other: Span) -> bool {
        self.from_s <= other.to_s && other.from_s <= self.to_s
    }
}

/// Spans in order of time, none touching the next.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Spans(Vec<Span>);

impl Spans {
    /// Sorts and joins; drops what runs backwards or is no number.
    pub fn new(mut list: Vec<Span>) -> Spans {
        list.retain(|s| s.to_s >= s.from_s);
        list.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        let mut out: Vec<Span> = Vec::with_capacity(list.len());
        for span in list {
            match out.last_mut() {
                Some(last) if span.from_s <= last.to_s => last.to_s = last.to_s.max(span.to_s),
                _ => out.push(span),
            }
        }
        Spans(out)
    }
    /// One span.
    pub fn one(from_s: f64, to_s: f64) -> Spans {
        Spans::new(vec![Span { from_s, to_s }])
    }
    /// The spans, in order.
    pub fn list(&self) -> &[Span] {
        &self.0
    }
    /// True where there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// Sum of the lengths, s.
    pub fn total(&self) -> f64 {
        self.0.iter().fold(0.0, |sum, s| sum + s.length())
    }
    /// True where the moment lies in one of them.
    pub fn contains(&self, t: f64) -> bool {
        let at = self.0.partition_point(|s| s.to_s < t);
        self.0.get(at).is_some_and(|s| s.from_s <= t)
    }
    /// In either.
    pub fn or(&self, other: &Spans) -> Spans {
        Spans::new(self.0.iter().chain(&other.0).copied().collect())
    }
    /// In both.
    pub fn and(&self, other: &Spans) -> Spans {
        let (mut i, mut j, mut out) = (0, 0, Vec::new());
        while let (Some(a), Some(b)) = (self.0.get(i), other.0.get(j)) {
            let (from_s, to_s) = (a.from_s.max(b.from_s), a.to_s.min(b.to_s));
            if from_s < to_s || (from_s == to_s && (a.length() == 0.0 || b.length() == 0.0)) {
                out.push(Span { from_s, to_s });
            }
            if a.to_s < b.to_s { i += 1 } else { j += 1 }
        }
        Spans::new(out)
    }
    /// In these but not in the others.
    pub fn except(&self, other: &Spans) -> Spans {
        let mut out = Vec::new();
        for span in &self.0 {
            let mut from_s = span.from_s;
            let first = other.0.partition_point(|b| b.to_s < span.from_s);
            for cut in other.0[first..]
                .iter()
                .take_while(|b| b.from_s <= span.to_s)
            {
                if cut.from_s > from_s {
                    out.push(Span {
                        from_s,
                        to_s: cut.from_s,
                    });
                }
                from_s = from_s.max(cut.to_s);
            }
            if from_s < span.to_s
                || (span.length() == 0.0 && from_s == span.from_s && !other.contains(from_s))
            {
                out.push(Span {
                    from_s,
                    to_s: span.to_s,
                });
            }
        }
        Spans::new(out)
    }
    /// Those at least so long, s.
    pub fn at_least(&self, seconds: f64) -> Spans {
        Spans(
            self.0
                .iter()
                .filter(|s| s.length() >= seconds - 1e-9)
                .copied()
                .collect(),
        )
    }
    /// Starts moved earlier and ends later by so many seconds; negative figures shrink.
    pub fn grown(&self, before: f64, after: f64) -> Spans {
        Spans::new(
            self.0
                .iter()
                .map(|s| Span {
                    from_s: s.from_s - before,
                    to_s: s.to_s + after,
                })
                .collect(),
        )
    }
    /// Spans less than so many seconds apart become one.
    pub fn joined(&self, gap: f64) -> Spans {
        let mut out: Vec<Span> = Vec::with_capacity(self.0.len());
        for span in &self.0 {
            match out.last_mut() {
                Some(last) if span.from_s - last.to_s <= gap => last.to_s = span.to_s,
                _ => out.push(*span),
            }
        }
        Spans(out)
    }
    /// First start and last end.
    pub fn hull(&self) -> Option<Span> {
        Some(Span {
            from_s: self.0.first()?.from_s,
            to_s: self.0.last()?.to_s,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spans(list: &[(f64, f64)]) -> Spans {
        Spans::new(
            list.iter()
                .map(|&(from_s, to_s)| Span { from_s, to_s })
                .collect(),
        )
    }

    #[test]
    fn joins_on_building() {
        assert_eq!(
            spans(&[(5.0, 6.0), (0.0, 2.0), (1.0, 3.0), (9.0, 8.0)]),
            spans(&[(0.0, 3.0), (5.0, 6.0)])
        );
    }

    #[test]
    fn set_operations() {
        let (a, b) = (
            spans(&[(0.0, 10.0), (20.0, 30.0)]),
            spans(&[(2.0, 3.0), (8.0, 22.0)]),
        );
        assert_eq!(a.and(&b), spans(&[(2.0, 3.0), (8.0, 10.0), (20.0, 22.0)]));
        assert_eq!(a.except(&b), spans(&[(0.0, 2.0), (3.0, 8.0), (22.0, 30.0)]));
        assert_eq!(a.or(&b), spans(&[(0.0, 30.0)]));
        assert_eq!(a.total(), 20.0);
    }

    #[test]
    fn membership_and_lengths() {
        let a = spans(&[(0.0, 1.0), (5.0, 9.0)]);
        assert!(a.contains(5.0) && a.contains(9.0) && !a.contains(3.0) && !a.contains(10.0));
        assert_eq!(a.at_least(2.0), spans(&[(5.0, 9.0)]));
        assert_eq!(a.joined(4.0), spans(&[(0.0, 9.0)]));
        assert_eq!(a.grown(0.0, -2.0), spans(&[(5.0, 7.0)]));
    }
}
