//! One test binary: each further one would link the libraries again.

mod docs;
