//! plugread: reads an engine's CSV log after a run and says what to look at first.

pub mod findings;
pub mod span;
pub mod units;
