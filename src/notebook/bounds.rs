//! What one cell may spend: steps, depth, sizes, and memory.

use rhai::Engine;

use crate::dsl::{Bounds, engine};
use crate::memory;

/// What a session allows a cell.
#[derive(Clone, Copy, Debug)]
pub struct Allowance {
    /// Steps of the language: some seconds of a loop that does nothing.
    pub steps: u64,
    /// Depth of calls.
    pub depth: usize,
    /// Bytes of one text.
    pub text: usize,
    /// Entries of one list with all lists in it.
    pub list: usize,
    /// Bytes of memory that one cell may take, where the machine tells; by default half of what is free, 4 GB at most.
    pub memory: Option<u64>,
    /// Bytes that one cell may print.
    pub printed: usize,
}

impl Default for Allowance {
    fn default() -> Allowance {
        Allowance {
            steps: 100_000_000,
            depth: 64,
            text: 4_000_000,
            list: 50_000,
            memory: None,
            printed: 4_000_000,
        }
    }
}

impl Allowance {
    /// The engine of the cells: that of the checks, with more room.
    pub fn engine(&self) -> Engine {
        let bounds = Bounds {
            operations: self.steps,
            depth: self.depth,
            text: self.text,
            list: self.list,
        };
        let mut engine = engine(bounds, crate::dsl::engine::StopFlag::default());
        engine.set_max_map_size(20_000);
        engine.set_max_variables(5_000);
        engine.set_max_functions(2_000);
        engine
    }
    /// Bytes that a cell may take from now on; none where the machine does not tell.
    pub fn memory(&self) -> Option<u64> {
        self.memory.or_else(memory::allowance)
    }
}

pub use memory::held;
