//! Asking work to stop: a flag that belongs to a thread and to those that it sets to work.
//!
//! Long native words look at [`asked`] now and then and come back early with whatever they have. What they hand back
//! then is worth nothing and is kept nowhere: whoever set the flag throws the result away.

use std::cell::{Cell, RefCell};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Raised once, never lowered: each piece of work has one of its own.
#[derive(Clone, Debug, Default)]
pub struct Flag(Arc<AtomicBool>);

impl Flag {
    /// Asks the work to stop.
    pub fn raise(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
    /// True once somebody asked.
    pub fn raised(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

thread_local! {
    static MINE: RefCell<Option<Flag>> = const { RefCell::new(None) };
    static UNTIL: Cell<Option<Instant>> = const { Cell::new(None) };
}

/// True where the work of this thread is to stop.
pub fn asked() -> bool {
    MINE.with_borrow(|flag| flag.as_ref().is_some_and(Flag::raised))
}

/// True where the work of this thread is to stop; looks only at every 4096th step of a loop.
#[inline]
pub fn asked_at(step: usize) -> bool {
    step & 0xfff == 0 && asked()
}

/// The flag of this thread, to hand on to threads that work for it.
pub fn current() -> Option<Flag> {
    MINE.with_borrow(Clone::clone)
}

/// Works with that flag as the thread's own.
pub fn under<T>(flag: Option<Flag>, work: impl FnOnce() -> T) -> T {
    let before = MINE.replace(flag);
    let done = work();
    MINE.set(before);
    done
}

/// Works on a script that gets so much time: [`is_late`] says when it is over. Native words are not cut short by it, for
/// what they work out may be kept for others.
pub fn within<T>(time: Duration, work: impl FnOnce() -> T) -> T {
    let before = UNTIL.replace(Instant::now().checked_add(time));
    let done = work();
    UNTIL.set(before);
    done
}

/// True where the script at work has had its time.
pub fn is_late() -> bool {
    UNTIL.get().is_some_and(|until| Instant::now() > until)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flag_stops_its_own_thread_only() {
        let flag = Flag::default();
        under(Some(flag.clone()), || {
            assert!(!asked());
            flag.raise();
            assert!(asked() && asked_at(4096) && !asked_at(1));
            assert!(!std::thread::spawn(asked).join().expect("it ends"));
            let handed = current();
            let heard = std::thread::spawn(move || under(handed, asked));
            assert!(heard.join().expect("it ends"));
        });
        assert!(!asked());
    }

    #[test]
    fn time_that_is_up_is_up_only_inside() {
        assert!(!is_late());
        within(Duration::ZERO, || {
            std::thread::sleep(Duration::from_millis(1));
            assert!(is_late());
            within(Duration::from_secs(600), || assert!(!is_late()));
            assert!(is_late() && !asked());
        });
        assert!(!is_late());
    }
}
