//! Order statistics of long lists without sorting, or even copying, all of them.

/// From so many values on, looking for the neighbourhood of a rank first is quicker than parting all of them.
const LONG: usize = 4096;
/// So many values, evenly spread over the list, tell about where a rank lies.
const SAMPLE: usize = 1024;
/// Ranks of the sample to either side that are taken in: three standard deviations of the middle rank, 16.
const MARGIN: usize = 48;
/// Values looked at together.
const BLOCK: usize = 512;

/// The value of a rank and the one behind it, of finite values: exactly what sorting gives. `None` for a short list, or one
/// whose sample led astray.
pub(super) fn at_rank(values: &[f64], rank: usize) -> Option<(f64, f64)> {
    at_rank_of(&[values], rank)
}

/// The same of values that lie in several places.
pub(super) fn at_rank_of(parts: &[&[f64]], rank: usize) -> Option<(f64, f64)> {
    let length = parts.iter().map(|part| part.len()).sum();
    if length < LONG || rank >= length {
        return None;
    }
    let mut sample = sample(parts, length);
    sample.sort_unstable_by(f64::total_cmp);
    let about = rank * SAMPLE / length;
    let from = about.checked_sub(MARGIN).map(|at| sample[at]);
    let to = sample.get(about + MARGIN).copied();
    let (low, high) = (
        from.unwrap_or(f64::NEG_INFINITY),
        to.unwrap_or(f64::INFINITY),
    );
    // No branch to guess wrongly: each value is written, and counts where it lies between the two.
    let mut near: Vec<f64> = Vec::with_capacity(length / 8);
    let mut below = 0;
    let mut kept = [0.0; BLOCK];
    for block in parts.iter().flat_map(|part| part.chunks(BLOCK)) {
        let mut count = 0;
        for v in block {
            below += usize::from(*v < low);
            kept[count] = *v;
            count += usize::from((*v >= low) & (*v <= high));
            debug_assert!(v.is_finite());
        }
        near.extend_from_slice(&kept[..count]);
    }
    let place = rank.checked_sub(below).filter(|at| *at < near.len())?;
    let last = rank + 1 == length;
    if place + 1 >= near.len() && !last {
        return None;
    }
    let (_, &mut value, above) = near.select_nth_unstable_by(place, f64::total_cmp);
    let next = above.iter().copied().min_by(f64::total_cmp);
    Some((value, next.unwrap_or(value)))
}

/// Values evenly spread over all of them.
fn sample(parts: &[&[f64]], length: usize) -> Vec<f64> {
    let (mut before, mut rest) = (0, parts.iter());
    let mut part: &[f64] = &[];
    let value = |i: usize| {
        let at = i * length / SAMPLE;
        while at - before >= part.len() {
            before += part.len();
            part = rest.next()?;
        }
        Some(part[at - before])
    };
    (0..SAMPLE).map_while(value).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sorted_at(values: &[f64], rank: usize) -> (f64, f64) {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        (sorted[rank], sorted[(rank + 1).min(sorted.len() - 1)])
    }

    #[test]
    fn gives_what_sorting_gives() {
        let n = 20_000_usize;
        let scattered = |i: usize| ((i * 7919) % 20_011) as f64;
        let lists: [Vec<f64>; 5] = [
            (0..n).map(scattered).collect(),
            (0..n).map(|i| i as f64).collect(),
            (0..n).map(|i| (i % 7) as f64).collect(),
            (0..n).map(|_| 3.0).collect(),
            (0..n)
                .map(|i| (i as f64 / 50.0).sin() * scattered(i))
                .collect(),
        ];
        let mut told = 0;
        for list in &lists {
            for rank in [0, 1, 2000, 9_999, 10_000, 18_000, n - 2, n - 1] {
                if let Some(pair) = at_rank(list, rank) {
                    assert_eq!(pair, sorted_at(list, rank), "rank {rank}");
                    told += 1;
                }
            }
        }
        assert!(told >= 36, "only {told} of 40 by the short way");
    }

    #[test]
    fn a_sample_that_leads_astray_is_noticed() {
        // Every value that the sample takes is 1, all others are 2.
        let n = 8 * SAMPLE;
        let values: Vec<f64> = (0..n).map(|i| if i % 8 == 0 { 1.0 } else { 2.0 }).collect();
        for rank in [0, n / 2, n - 1] {
            let told = at_rank(&values, rank);
            assert!(told.is_none_or(|pair| pair == sorted_at(&values, rank)));
        }
    }
}
