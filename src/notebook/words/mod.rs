//! What cells have beside the language of the checks: logs to open, pictures, tables, reviews, checks of one's own. Each
//! `///` above a function is what help and completion show.

mod checks;
mod comms;
mod console;
mod pictures;
mod runs;

use rhai::plugin::exported_module;
use rhai::{Dynamic, Engine};

pub use checks::{Own, Tried};
pub use comms::{Comm, Comms, Talk, from_json};
pub use pictures::{Entry, Grid, Picture, figures};
pub use runs::{Compared, ReviewOf};

use super::outlet;
use super::session::Output;
use crate::findings::Text;

/// Registers every type and function, and where printed words go.
pub fn register(engine: &mut Engine) {
    engine.register_type_with_name::<ReviewOf>("Whole review");
    engine.register_type_with_name::<Picture>("Picture");
    engine.register_type_with_name::<Grid>("Grid");
    engine.register_type_with_name::<Compared>("Comparison");
    engine.register_type_with_name::<Comm>("Comm");
    engine.register_type_with_name::<checks::Own>("Check");
    engine.register_type_with_name::<Tried>("Finding");
    engine.register_global_module(exported_module!(runs::words).into());
    engine.register_global_module(exported_module!(pictures::words).into());
    engine.register_global_module(exported_module!(console::words).into());
    engine.register_global_module(exported_module!(comms::words).into());
    engine.register_global_module(exported_module!(checks::words).into());
    engine.on_print(|words| outlet::send(Output::Printed(line(words))));
    engine.on_debug(|words, _, _| outlet::send(Output::Printed(line(words))));
}

/// Printed words, their figures in standard units, with the line's end.
fn line(words: &str) -> String {
    format!("{}\n", Text::parse(words).standard())
}

/// A value as plain words.
pub fn plain(value: &Dynamic) -> String {
    let bundle = super::display::bundle(value);
    bundle.text("text/plain").unwrap_or_default().to_string()
}
