//! Points of one quantity against another, as many as paper can show.

/// Points of one quantity against another: one for each place on the paper that has some.
pub fn cloud_of(xs: &[f64], ys: &[f64]) -> Vec<(f64, f64)> {
    const SIDE: f64 = 400.0;
    let known = || {
        let pairs = xs.iter().copied().zip(ys.iter().copied());
        pairs.filter(|(x, y)| x.is_finite() && y.is_finite())
    };
    let reach = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |r, v| {
            (r.0.min(v), r.1.max(v))
        })
    };
    let (x_reach, y_reach) = (
        reach(&mut known().map(|p| p.0)),
        reach(&mut known().map(|p| p.1)),
    );
    let place = |v: f64, (low, high): (f64, f64)| {
        if high > low {
            ((v - low) / (high - low) * SIDE) as i64
        } else {
            0
        }
    };
    let mut taken = std::collections::BTreeSet::new();
    known()
        .filter(|(x, y)| taken.insert((place(*x, x_reach), place(*y, y_reach))))
        .collect()
}
