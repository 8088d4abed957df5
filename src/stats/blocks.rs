//! Medians of many short lists of one length, sorted side by side.

use super::quantile_of_finite;

/// Lists that are sorted together.
const TOGETHER: usize = 8;
/// Longer lists are parted one by one.
const LONGEST: usize = 32;

/// Sorts each place of the rows: the least values come to the first row. Neighbours are exchanged in turn (odd-even
/// transposition), the same ones everywhere: no branch to guess wrongly, and all places at once.
pub fn sort_rows<const N: usize>(rows: &mut [[f64; N]]) {
    for turn in 0..rows.len() {
        for pair in rows[turn % 2..].chunks_exact_mut(2) {
            let [low, high] = pair else { continue };
            for (a, b) in low.iter_mut().zip(high) {
                let least = if *b < *a { *b } else { *a };
                let most = if *b < *a { *a } else { *b };
                (*a, *b) = (least, most);
            }
        }
    }
}

/// The median of each place of sorted rows, at least one.
pub fn middle_row<const N: usize>(rows: &[[f64; N]]) -> [f64; N] {
    let (low, high) = (rows[(rows.len() - 1) / 2], rows[rows.len() / 2]);
    std::array::from_fn(|i| low[i] + (high[i] - low[i]) * 0.5)
}

/// The median of each block of finite values; `blocks` are first and behind-last place of each, none of them empty.
pub fn medians(values: &[f64], blocks: &[(usize, usize)]) -> Vec<f64> {
    let mut out = Vec::with_capacity(blocks.len());
    let mut rows = [[0.0; TOGETHER]; LONGEST];
    for group in blocks.chunks(TOGETHER) {
        let length = group[0].1 - group[0].0;
        let alike = group.len() == TOGETHER && group.iter().all(|b| b.1 - b.0 == length);
        match rows.get_mut(..length) {
            Some(rows) if alike => {
                for (lane, (from, to)) in group.iter().enumerate() {
                    for (row, value) in rows.iter_mut().zip(&values[*from..*to]) {
                        row[lane] = *value;
                    }
                }
                sort_rows(rows);
                out.extend(middle_row(rows));
            }
            _ => out.extend(group.iter().map(|(from, to)| {
                quantile_of_finite(&values[*from..*to], 0.5).unwrap_or(f64::NAN)
            })),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_sorted_together_have_the_medians_that_each_has() {
        let values: Vec<f64> = (0..5000).map(|i| ((i * 7919) % 101) as f64).collect();
        for length in [1_usize, 2, 3, 10, 25, 32, 33, 60] {
            let mut blocks: Vec<(usize, usize)> =
                (0..60).map(|i| (i * length, (i + 1) * length)).collect();
            // One is shorter, and the last group is not full.
            if length > 1 {
                blocks[20].1 -= 1;
            }
            let one_by_one: Vec<f64> = blocks
                .iter()
                .map(|(from, to)| quantile_of_finite(&values[*from..*to], 0.5).unwrap())
                .collect();
            assert_eq!(medians(&values, &blocks), one_by_one, "{length}");
        }
    }
}
