//! Recordings made from formulas of time, and the spans that they must give.

mod cuts;
mod made;
mod open_data;
mod runs;
mod starts;
