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
#[expect(
    clippy::unwrap_used,
    reason = "the code that the plugin macro writes unwraps types it has checked"
)]
mod words;

pub use bounds::Allowance;
pub use session::{CellError, Front, Given, Interrupter, Options, Output, Session};
