//! Showing, clearing and asking.

use rhai::plugin::*;

use super::line;
use crate::dsl::{Outcome, complain};
use crate::notebook::display::bundle;
use crate::notebook::outlet;
use crate::notebook::session::Output;

fn shown(value: &Dynamic, id: Option<&str>, again: bool) {
    outlet::send(Output::Shown {
        bundle: bundle(value),
        id: id.map(str::to_string),
        again,
    });
}

fn nobody() -> Outcome<String> {
    complain("nobody can be asked here: write the answer into the cell")
}

/// Package.
#[export_module]
pub mod words {
    use super::{line, nobody, shown};
    use crate::dsl::{Outcome, complain};
    use crate::notebook::session::Output;
    use crate::notebook::{help, outlet};
    use rhai::Dynamic;

    /// Shows a value now, in its richest form, wherever in the cell this stands: `show(plot(run.rpm))`.
    pub fn show(value: Dynamic) {
        shown(&value, None, false);
    }
    /// The same under an id, so that `show_again` can replace it.
    #[rhai_fn(name = "show")]
    pub fn show_as(value: Dynamic, id: &str) {
        shown(&value, Some(id), false);
    }
    /// Replaces what was shown under that id, in whichever cell that was.
    pub fn show_again(value: Dynamic, id: &str) {
        shown(&value, Some(id), true);
    }
    /// Writes a line for what should not be missed: front ends set it apart from what `print` writes.
    pub fn print_warning(text: &str) {
        outlet::send(Output::Warned(line(text)));
    }
    /// Takes away what this cell has shown so far.
    pub fn clear() {
        outlet::send(Output::Cleared { wait: false });
    }
    /// The same, but only once something new comes: nothing flickers.
    #[rhai_fn(name = "clear")]
    pub fn clear_waiting(wait: bool) {
        outlet::send(Output::Cleared { wait });
    }
    /// Asks the person for a line of text.
    #[rhai_fn(return_raw)]
    pub fn input(prompt: &str) -> Outcome<String> {
        outlet::ask(prompt, false).map_or_else(nobody, Ok)
    }
    /// The same for what nobody should read over the shoulder.
    #[rhai_fn(return_raw)]
    pub fn input_secret(prompt: &str) -> Outcome<String> {
        outlet::ask(prompt, true).map_or_else(nobody, Ok)
    }
    /// Opens a page beside the notebook with all words of the language.
    #[rhai_fn(name = "help")]
    pub fn help_all() {
        if let Some(page) = help::page("") {
            outlet::send(Output::Page(page));
        }
    }
    /// Opens a page beside the notebook about a word, a check, a channel or a phase: `help("lasting")`.
    #[rhai_fn(name = "help", return_raw)]
    pub fn help_about(name: &str) -> Outcome<()> {
        match help::page(name) {
            Some(page) => {
                outlet::send(Output::Page(page));
                Ok(())
            }
            None => complain(format!(
                "there is no help about `{name}`: help() lists the words"
            )),
        }
    }
}
