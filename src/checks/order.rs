//! The order of a review and the checks that are known but not written yet: `scripts/order.toml`.

use std::collections::BTreeMap;

use serde::Deserialize;

/// The file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Order {
    system: Vec<System>,
    waiting: BTreeMap<String, Vec<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct System {
    name: String,
    checks: Vec<String>,
}

impl Order {
    /// The one that is built in.
    pub fn built_in() -> Result<Order, String> {
        toml::from_str(include_str!("../../scripts/order.toml"))
            .map_err(|e| format!("scripts/order.toml: {e}"))
    }
    /// All known ids in order, with the bases to use for those without a file. `bases` gives those of checks that have one,
    /// with their system; checks of a system's own that the order does not name follow at the end of that system.
    pub fn arrange(
        &self,
        bases: &BTreeMap<String, (String, Vec<String>)>,
    ) -> Vec<(String, Vec<String>)> {
        let mut out = Vec::new();
        let listed = |id: &str| self.system.iter().any(|s| s.checks.iter().any(|c| c == id));
        for system in &self.system {
            for id in &system.checks {
                let own = bases.get(id).map(|b| b.1.clone());
                out.push((
                    id.clone(),
                    own.or_else(|| self.waiting.get(id).cloned())
                        .unwrap_or_default(),
                ));
            }
            for (id, (_, on)) in bases
                .iter()
                .filter(|(id, (of, _))| *of == system.name && !listed(id))
            {
                out.push((id.clone(), on.clone()));
            }
        }
        for (id, (system, on)) in bases {
            if !listed(id) && !self.system.iter().any(|s| s.name == *system) {
                out.push((id.clone(), on.clone()));
            }
        }
        out
    }
}
