//! The way out of a running cell: words of the language that print, show or ask send here. It belongs to the thread
//! that runs the cell.

use std::cell::RefCell;
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, channel};

use super::session::{Output, Store};
use crate::stop;

/// What a running cell sends.
pub enum Sent {
    /// Something to show.
    Output(Output),
    /// A question to the person, and where the answer goes: none where there can be none.
    Ask {
        /// The question.
        prompt: String,
        /// True where what is typed may not be seen.
        secret: bool,
        /// For the answer.
        answer: std::sync::mpsc::Sender<Option<String>>,
    },
}

thread_local! {
    static WAY: RefCell<Option<(SyncSender<Sent>, Arc<Store>)>> = const { RefCell::new(None) };
}

/// Works with that way out, and with what the session keeps.
pub fn through<T>(way: SyncSender<Sent>, store: Arc<Store>, work: impl FnOnce() -> T) -> T {
    WAY.set(Some((way, store)));
    let done = work();
    WAY.set(None);
    done
}

/// What the session keeps; none outside a cell.
pub fn store() -> Option<Arc<Store>> {
    WAY.with_borrow(|way| way.as_ref().map(|way| Arc::clone(&way.1)))
}

/// Sends something to show. Outside a cell it goes nowhere, as it does from a cell that was given up.
pub fn send(output: Output) {
    if !stop::asked() {
        WAY.with_borrow(|way| {
            way.as_ref()
                .is_some_and(|way| way.0.send(Sent::Output(output)).is_ok())
        });
    }
}

/// Asks the person. None where nobody can answer.
pub fn ask(prompt: &str, secret: bool) -> Option<String> {
    let (answer, heard) = channel();
    let asked = WAY.with_borrow(|way| {
        way.as_ref().is_some_and(|way| {
            way.0
                .send(Sent::Ask {
                    prompt: prompt.to_string(),
                    secret,
                    answer,
                })
                .is_ok()
        })
    });
    asked.then(|| heard.recv().ok().flatten()).flatten()
}
