//! The known word nearest to a misspelt one.

/// The known word that was probably meant: same letters in other case, or few slips apart. `None` when nothing is close
/// enough to suggest without misleading; the first of several equally near ones.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word: Vec<char> = word.to_lowercase().chars().take(64).collect();
    let allowed = (word.len() / 3).clamp(1, 3);
    known
        .into_iter()
        .map(|known| (slips(&word, &known.to_lowercase()), known))
        .filter(|(slips, known)| *slips <= allowed && *slips < known.chars().count())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, known)| known)
}

/// Letters to add, drop, change or swap with their neighbour to get from one word to the other.
fn slips(from: &[char], to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=to.len()).collect();
    for (i, a) in from.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, b) in to.iter().enumerate() {
            let mut best = (above[j] + usize::from(a != b))
                .min(above[j + 1] + 1)
                .min(row[j] + 1);
            if i > 0 && j > 0 && *a == to[j - 1] && from[i - 1] == *b {
                best = best.min(before[j - 1] + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut above, row);
    }
    above[to.len()]
}

#[cfg(test)]
mod tests {
    use super::{nearest, slips};

    fn apart(from: &str, to: &str) -> usize {
        slips(&from.chars().collect::<Vec<_>>(), to)
    }

    #[test]
    fn counts_slips() {
        assert_eq!(apart("", "abc"), 3);
        assert_eq!(apart("relief", "relief"), 0);
        assert_eq!(apart("releif", "relief"), 1); // neighbours swapped
        assert_eq!(apart("kitten", "sitting"), 3); // the textbook example of edit distance
    }

    #[test]
    fn suggests_only_what_is_close() {
        let known = ["cylinders", "strokes", "name"];
        assert_eq!(nearest("cilinders", known), Some("cylinders"));
        assert_eq!(nearest("Cylinder", known), Some("cylinders"));
        assert_eq!(nearest("turbo", known), None);
        assert_eq!(nearest("", ["a", "b"]), None);
    }
}
