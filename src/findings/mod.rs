//! Findings and reviews as plain data: what the checks found, before anybody formats it.
//!
//! Late in the way of the data, early in the imports: checks fill these types, views read them, so a report can be
//! drawn again without a log.

mod cautions;
mod finding;
mod graph;
mod review;
mod text;
mod trace;

pub use cautions::{Caution, caution, known_cautions};
pub use finding::{Figure, Finding, LimitUsed, NotRun, Verdict};
pub use graph::{Graph, GraphError};
pub use review::{
    ChannelFacts, Cylinders, Diagnosis, LogFacts, PhaseSpan, ProblemFacts, Review, StopNow,
    assemble,
};
pub use text::{Piece, Text, mark};
pub use trace::{Across, Line, Series, Trace};
