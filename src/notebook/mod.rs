//! The notebook: the language of the checks in cells. `session` runs cells and knows no sockets; `kernel` speaks the
//! message protocol of notebook programs and knows no values.

mod bounds;
pub mod bundle;
mod display;
mod errors;
mod functions;
pub mod headless;
pub mod help;
pub mod install;
pub mod kernel;
mod outlet;
mod scan;
pub mod session;
mod thin;
mod words;

pub use bounds::Allowance;
pub use session::{CellError, Front, Given, Interrupter, Options, Output, Session};
