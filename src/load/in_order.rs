//! Hands over what several threads make, in the order of its numbers.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// What was made, on its way to whoever takes it.
///
/// Whoever makes number n must be at it when a later number is handed in, and `take` must not wait for other threads:
/// they may be waiting here.
pub(crate) struct InOrder<T, F> {
    state: Mutex<State<T, F>>,
    /// Wakes those who wait for the ones before theirs.
    moved: Condvar,
    over: AtomicBool,
    /// So many may be held up by one before them.
    most: usize,
}

struct State<T, F> {
    next: u64,
    waiting: BTreeMap<u64, T>,
    take: F,
}

impl<T, F: FnMut(T) -> ControlFlow<()>> InOrder<T, F> {
    pub fn new(take: F, most: usize) -> Self {
        Self {
            state: Mutex::new(State {
                next: 0,
                waiting: BTreeMap::new(),
                take,
            }),
            moved: Condvar::new(),
            over: AtomicBool::new(false),
            most,
        }
    }

    /// Waits until there is room for one more; false when no more is wanted.
    pub fn wants_more(&self) -> bool {
        let mut state = self.lock();
        while state.waiting.len() >= self.most && !self.is_over() {
            state = self
                .moved
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        !self.is_over()
    }

    /// Hands in number `number`, counted from 0.
    pub fn hand_in(&self, number: u64, made: T) {
        let mut state = self.lock();
        state.waiting.insert(number, made);
        let held_up = state.waiting.len() >= self.most;
        while !self.is_over() {
            let next = state.next;
            let Some(made) = state.waiting.remove(&next) else {
                break;
            };
            state.next += 1;
            if (state.take)(made).is_break() {
                self.end();
            }
        }
        if held_up {
            self.moved.notify_all();
        }
    }

    /// Lets nobody wait for a thread that panicked.
    pub fn end_on_panic(&self) -> impl Drop + '_ {
        EndOnPanic(self)
    }

    fn end(&self) {
        self.over.store(true, Ordering::Relaxed);
        self.moved.notify_all();
    }

    fn is_over(&self) -> bool {
        self.over.load(Ordering::Relaxed)
    }

    fn lock(&self) -> MutexGuard<'_, State<T, F>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

struct EndOnPanic<'a, T, F: FnMut(T) -> ControlFlow<()>>(&'a InOrder<T, F>);

impl<T, F: FnMut(T) -> ControlFlow<()>> Drop for EndOnPanic<'_, T, F> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            // Whoever is about to wait has to see it: they look while they hold the lock.
            let _state = self.0.lock();
            self.0.end();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicU64;

    fn run(
        threads: usize,
        most: usize,
        count: u64,
        make: impl Fn(u64) -> u64 + Sync,
        end: u64,
    ) -> Vec<u64> {
        let mut taken = Vec::new();
        let take = |made: u64| {
            taken.push(made);
            if made == end {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        };
        let line = InOrder::new(take, most);
        let next = AtomicU64::new(0);
        std::thread::scope(|scope| {
            for _ in 0..threads {
                scope.spawn(|| {
                    let _guard = line.end_on_panic();
                    while line.wants_more() {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        if number >= count {
                            return;
                        }
                        line.hand_in(number, make(number));
                    }
                });
            }
        });
        drop(line);
        taken
    }

    #[test]
    fn whatever_ends_first_the_order_is_kept() {
        let slow = |number: u64| {
            if number.is_multiple_of(7) {
                std::thread::sleep(std::time::Duration::from_millis(2));
            }
            number
        };
        for (threads, most) in [(1, 1), (2, 1), (4, 2), (8, 32)] {
            let taken = run(threads, most, 200, slow, u64::MAX);
            assert_eq!(taken, (0..200).collect::<Vec<u64>>(), "{threads} {most}");
        }
    }

    #[test]
    fn nothing_is_taken_behind_the_end() {
        let taken = run(4, 2, 200, |number| number, 50);
        assert_eq!(taken, (0..=50).collect::<Vec<u64>>());
    }

    #[test]
    fn nobody_waits_for_one_that_panicked() {
        let make = |number: u64| {
            assert!(number != 20, "this panic is wanted");
            number
        };
        let outcome = std::panic::catch_unwind(|| run(4, 2, 200, make, u64::MAX));
        assert!(outcome.is_err());
    }
}
