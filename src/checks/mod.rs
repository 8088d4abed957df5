//! Checks: one Rhai file each, found, read, judged, and tried on their own cases.

mod about;
mod case_keys;
pub mod cases;
mod catalog;
mod differs;
mod explain;
pub mod explain_cases;
mod judge;
pub mod notice;
mod order;
pub mod reference;
mod slip;
mod tiny;
mod watch;

pub use about::{About, Need};
pub use catalog::{Catalog, CatalogError, Check, Script};
pub use differs::Differs;
pub use explain::{explain, explain_all};
pub use judge::{judge, judge_all, judge_with, limits_of, sheet_value};
