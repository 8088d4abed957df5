//! Which check rests on which: from the recording up, without circles.

use std::collections::{BTreeMap, BTreeSet};

/// The graph of checks. An id that no check file bears yet is known all the same, and passes through to its bases.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    order: Vec<String>,
    bases: BTreeMap<String, Vec<String>>,
}

/// A slip in somebody's `builds_on`.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum GraphError {
    /// Builds on a check that nobody knows.
    #[error("check `{id}` builds on `{base}`, which is no check: mend its `builds_on`")]
    Unknown {
        /// The check.
        id: String,
        /// What it names.
        base: String,
    },
    /// Two checks rest on each other.
    #[error("checks rest on each other in a circle: {path}: mend one `builds_on`")]
    Circle {
        /// The ids in order, joined by arrows.
        path: String,
    },
}

impl Graph {
    /// Builds the graph from ids with their bases, in the order in which a review lists them.
    ///
    /// # Errors
    /// An unknown base, or a circle.
    pub fn new(checks: Vec<(String, Vec<String>)>) -> Result<Graph, GraphError> {
        let order: Vec<String> = checks.iter().map(|c| c.0.clone()).collect();
        let bases: BTreeMap<String, Vec<String>> = checks.into_iter().collect();
        for (id, list) in &bases {
            for base in list {
                if !bases.contains_key(base) {
                    return Err(GraphError::Unknown {
                        id: id.clone(),
                        base: base.clone(),
                    });
                }
            }
        }
        let graph = Graph { order, bases };
        let mut done = BTreeSet::new();
        for id in &graph.order {
            graph.walk(id, &mut Vec::new(), &mut done)?;
        }
        Ok(graph)
    }

    fn walk(
        &self,
        id: &str,
        path: &mut Vec<String>,
        done: &mut BTreeSet<String>,
    ) -> Result<(), GraphError> {
        if let Some(at) = path.iter().position(|p| p == id) {
            let mut circle = path[at..].to_vec();
            circle.push(id.to_string());
            return Err(GraphError::Circle {
                path: circle.join(" -> "),
            });
        }
        if done.contains(id) {
            return Ok(());
        }
        path.push(id.to_string());
        for base in self.bases.get(id).into_iter().flatten() {
            self.walk(base, path, done)?;
        }
        path.pop();
        done.insert(id.to_string());
        Ok(())
    }

    /// All ids, in review order.
    pub fn order(&self) -> &[String] {
        &self.order
    }
    /// Place of an id in the review order; unknown ids come last.
    pub fn place(&self, id: &str) -> usize {
        self.order
            .iter()
            .position(|o| o == id)
            .unwrap_or(self.order.len())
    }
    /// True where the id is known, built or not.
    pub fn knows(&self, id: &str) -> bool {
        self.bases.contains_key(id)
    }
    /// The bases as declared.
    pub fn bases(&self, id: &str) -> &[String] {
        self.bases.get(id).map_or(&[], Vec::as_slice)
    }
    /// Everything below an id, nearest kin and all, in review order.
    pub fn ancestors(&self, id: &str) -> Vec<String> {
        let mut seen = BTreeSet::new();
        let mut todo: Vec<&str> = self.bases(id).iter().map(String::as_str).collect();
        while let Some(next) = todo.pop() {
            if seen.insert(next.to_string()) {
                todo.extend(self.bases(next).iter().map(String::as_str));
            }
        }
        let mut list: Vec<String> = seen.into_iter().collect();
        list.sort_by_key(|a| self.place(a));
        list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph(list: &[(&str, &[&str])]) -> Result<Graph, GraphError> {
        Graph::new(
            list.iter()
                .map(|(id, on)| {
                    (
                        (*id).to_string(),
                        on.iter().map(|s| (*s).to_string()).collect(),
                    )
                })
                .collect(),
        )
    }

    #[test]
    fn ancestors_go_all_the_way_down() {
        let g = graph(&[("a", &[]), ("b", &["a"]), ("c", &["b"]), ("d", &["c", "a"])]).unwrap();
        assert_eq!(g.ancestors("d"), ["a", "b", "c"]);
        assert!(g.ancestors("a").is_empty());
    }

    #[test]
    fn slips_are_named() {
        assert_eq!(
            graph(&[("a", &["z"])]).unwrap_err(),
            GraphError::Unknown {
                id: "a".into(),
                base: "z".into()
            }
        );
        let circle = graph(&[("a", &["b"]), ("b", &["a"])]).unwrap_err();
        assert!(matches!(circle, GraphError::Circle { path } if path == "a -> b -> a"));
    }
}
