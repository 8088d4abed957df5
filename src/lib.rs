//! plugread: reads an engine's CSV log after a run and says what to look at first.
//!
//! The modules stand in the order of the data: bytes are loaded into a table, the table becomes a recording under
//! standard names, phases say what the engine was doing, checks judge it, and their findings make a review.

pub mod diagnostic;
pub mod memory;
pub mod span;
pub mod stats;
pub mod stop;
pub mod trade;
pub mod units;
pub mod whole;

pub mod load;
pub mod sheet;

pub mod recording;

pub mod columnar;

pub mod phases;

pub mod findings;

pub mod dsl;

pub mod checks;

pub mod pipeline;

pub mod plots;

pub mod reports;

#[cfg(feature = "notebook")]
pub mod notebook;

pub mod cli;
