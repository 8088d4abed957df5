//! The language of the checks: Rhai with columns, families, spans and tables as values, and units on everything.
//!
//! Native functions work out figures; none of them judges, and none serves one check alone.

mod brackets;
pub mod column;
pub mod engine;
pub mod explain;
pub mod family;
mod foreign;
pub mod lag;
pub mod lazy;
mod leaf;
pub mod limits;
pub mod names;
mod ops;
mod program;
pub mod rates;
pub mod reference;
mod rolling;
pub mod run;
mod script_error;
pub mod script_text;
mod sheet_map;
mod sheet_slips;
pub mod slips;
pub mod table;
pub mod thin;
mod ticks;
mod unit_slips;
pub mod verdict;
#[expect(
    clippy::unwrap_used,
    reason = "the code that the plugin macro writes unwraps types it has checked"
)]
mod words;

pub use engine::{Bounds, engine};
pub use ops::{Outcome, complain};
pub use script_error::ScriptError;
