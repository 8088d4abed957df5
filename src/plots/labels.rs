//! Where words may stand without covering each other.

/// Moves heights apart so that each has `gap` to the next and all lie between `top` and `bottom`, in their order.
/// More of them than there is room for come closer together evenly.
pub fn apart(wanted: &[f64], top: f64, bottom: f64, gap: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]).then(a.cmp(b)));
    let room = (bottom - top) / (wanted.len().max(2) - 1) as f64;
    let gap = gap.min(room);
    let mut placed = vec![0.0; wanted.len()];
    let mut floor = top;
    for at in &order {
        placed[*at] = wanted[*at].clamp(top, bottom).max(floor);
        floor = placed[*at] + gap;
    }
    let mut ceiling = bottom;
    for at in order.iter().rev() {
        placed[*at] = placed[*at].min(ceiling);
        ceiling = placed[*at] - gap;
    }
    placed
}

/// A box on the page: left, top, right, bottom.
pub type Patch = (f64, f64, f64, f64);

/// A box where words could go.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The box.
    pub patch: Patch,
    /// How far it is from what it names, in steps.
    pub far: u32,
}

/// The place that covers least: other words and lines first of all, then the nearest, then the one over the fewest
/// readings; of equals the first.
pub fn freest(places: &[Place], taken: &[Patch], points: &[(f64, f64)]) -> Option<Patch> {
    let meets = |c: &Patch, t: &Patch| c.0 < t.2 && t.0 < c.2 && c.1 < t.3 && t.1 < c.3;
    let inside = |c: &Patch, p: &(f64, f64)| p.0 >= c.0 && p.0 <= c.2 && p.1 >= c.1 && p.1 <= c.3;
    let cost = |place: &&Place| {
        let words = taken.iter().filter(|t| meets(&place.patch, t)).count();
        let readings = points.iter().filter(|p| inside(&place.patch, p)).count();
        (words, place.far, readings)
    };
    places.iter().min_by_key(cost).map(|place| place.patch)
}

/// Points that still differ on paper: of those in one pixel column the first, the lowest, the highest and the last.
/// `step` is the column width.
pub fn on_paper(points: &[(f64, f64)], step: f64) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for column in points.chunk_by(|a, b| (a.0 / step).floor() == (b.0 / step).floor()) {
        let low = (0..column.len()).min_by(|a, b| column[*a].1.total_cmp(&column[*b].1));
        let high = (0..column.len()).max_by(|a, b| column[*a].1.total_cmp(&column[*b].1));
        let mut keep = [Some(0), low, high, Some(column.len() - 1)];
        keep.sort_unstable();
        for (i, at) in keep.iter().enumerate() {
            if let Some(at) = at
                && (i == 0 || keep[i - 1] != Some(*at))
            {
                out.push(column[*at]);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_their_order_and_their_distance() {
        let placed = apart(&[50.0, 50.0, 51.0, 10.0, 99.0, 99.0], 0.0, 100.0, 12.0);
        let mut sorted = placed.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(
            sorted.windows(2).all(|w| w[1] - w[0] >= 12.0 - 1e-9),
            "{placed:?}"
        );
        assert!(sorted[0] >= 0.0 && sorted[5] <= 100.0);
        assert!(placed[3] < placed[0] && placed[0] < placed[1] && placed[1] < placed[2]);
    }

    #[test]
    fn a_crowd_shares_the_room() {
        let placed = apart(&[5.0; 21], 0.0, 100.0, 12.0);
        assert!(
            placed.iter().all(|y| (-1e-9..=100.0 + 1e-9).contains(y)),
            "{placed:?}"
        );
        assert!((placed[20] - 100.0).abs() < 1e-9);
    }

    #[test]
    fn words_go_where_least_is_hidden() {
        let at = |left: f64, far| Place {
            patch: (left, 0.0, left + 10.0, 10.0),
            far,
        };
        let points = [(5.0, 5.0), (6.0, 5.0), (25.0, 5.0)];
        let left = |places: &[Place], taken: &[Patch]| freest(places, taken, &points).map(|p| p.0);
        assert_eq!(left(&[at(0.0, 1), at(20.0, 1)], &[]), Some(20.0));
        assert_eq!(
            left(&[at(0.0, 1), at(20.0, 3)], &[]),
            Some(0.0),
            "near beats bare paper"
        );
        let words = (1.0, 9.0, 4.0, 20.0);
        assert_eq!(left(&[at(0.0, 1), at(20.0, 3)], &[words]), Some(20.0));
        assert_eq!(left(&[], &[]), None);
    }

    #[test]
    fn thinning_on_paper_keeps_each_peak() {
        let mut points: Vec<(f64, f64)> = (0..1000).map(|i| (f64::from(i) * 0.01, 1.0)).collect();
        points[423].1 = 9.0;
        points[424].1 = -9.0;
        let thin = on_paper(&points, 1.0);
        assert!(thin.len() <= 40 && thin.contains(&points[423]) && thin.contains(&points[424]));
        assert!(thin.windows(2).all(|w| w[0].0 <= w[1].0));
    }
}
