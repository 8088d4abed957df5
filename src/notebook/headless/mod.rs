//! Notebooks without a notebook program: a file's cells run over a log, and what they show is written back into it, or
//! onto a page. Nothing here reads or writes a file; whoever calls does.

mod cells;
mod file;
mod page;

pub use cells::{Fault, run};
pub use file::{Invalid, Notebook};
pub use page::markup;
