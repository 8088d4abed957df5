//! Ctrl-C and requests to end: nothing half written stays behind.

use crate::whole;

/// From now on, a signal that ends the program first removes what is half written. The exit code is the usual one, 128 and
/// the number of the signal.
#[cfg(unix)]
#[expect(
    clippy::exit,
    reason = "a signal ends the program from a thread that is not its main one"
)]
pub fn watch() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let Ok(mut signals) = signal_hook::iterator::Signals::new([SIGINT, SIGTERM, SIGHUP]) else {
        return;
    };
    let wait = move || {
        if let Some(signal) = signals.forever().next() {
            whole::give_up();
            std::process::exit(128 + signal);
        }
    };
    // Without a thread for it, signals do what they always did.
    let _ = std::thread::Builder::new()
        .name("signals".into())
        .spawn(wait);
}

/// There are no signals here.
#[cfg(not(unix))]
pub fn watch() {}
