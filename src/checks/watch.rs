//! What checks may spend beside operations: time, and memory of scripts that are not built in. A native word counts as one
//! operation however long it works, so somebody has to look at the clock.

use std::sync::{Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::memory;
use crate::stop::{self, Flag};

/// The watch looks so often.
const EVERY: Duration = Duration::from_millis(10);
/// It asks for memory once in so many looks.
const MEMORY_EVERY: u32 = 5;
/// Time of one check: hundreds of times what any built-in one takes, and more for a log of very many rows. A script that is
/// not built in is stopped between two of its operations before that; this is for work that does not come back.
const LEAST: Duration = Duration::from_secs(20);
const EACH_ROW: Duration = Duration::from_micros(20);
/// Bytes for scripts that are not built in; those that are take a few columns each.
const MOST_MEMORY: u64 = 1 << 30;

/// Why a check was stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// It took longer than this.
    Time(Duration),
    /// It took more memory than this, bytes.
    Memory(u64),
}

impl Over {
    /// As a sentence about the script.
    pub fn words(self) -> String {
        match self {
            Over::Time(most) => format!("it took more than {} s and was stopped", most.as_secs()),
            Over::Memory(most) => format!(
                "it took more than {} MB of memory and was stopped",
                most >> 20
            ),
        }
    }
}

struct Running {
    id: usize,
    flag: Flag,
    since: Instant,
    /// Not built in: its memory is watched.
    foreign: bool,
    over: Option<Over>,
}

#[derive(Default)]
struct State {
    running: Vec<Running>,
    next: usize,
    done: bool,
}

/// Watches checks that run.
pub struct Watch {
    state: Mutex<State>,
    ended: Condvar,
    most: Duration,
    /// The most that may be held, and how much more that is than what was held before, bytes.
    memory: Mutex<Option<(u64, u64)>>,
    /// The same as it was at first.
    first: Option<(u64, u64)>,
    outer: Option<Flag>,
}

impl Watch {
    /// For the checks of a log of so many rows, run in this thread's name: what asks this thread to stop asks them, too.
    pub fn new(rows: usize) -> Watch {
        let rows = u32::try_from(rows).unwrap_or(u32::MAX);
        let first = most_memory();
        Watch {
            state: Mutex::default(),
            ended: Condvar::new(),
            most: LEAST + EACH_ROW * rows,
            memory: Mutex::new(first),
            first,
            outer: stop::current(),
        }
    }

    /// Counts memory from now on: what scripts that have ended took may be held back for a while. Half as much again as at first
    /// is the most for all of them.
    pub fn count_anew(&self) {
        let mut memory = self.memory.lock().unwrap_or_else(PoisonError::into_inner);
        if let (Some((most, more)), Some((anew, _))) = (self.first, most_memory()) {
            *memory = Some((anew.min(most + more / 2), more));
        }
    }

    /// Works on `work` with the watch beside it.
    pub fn beside<T>(&self, work: impl FnOnce() -> T) -> T {
        std::thread::scope(|scope| {
            // Without a thread for it nobody watches: operations are bounded all the same.
            let watching = std::thread::Builder::new().name("watch".into());
            let _ = watching.spawn_scoped(scope, || self.look());
            let done = work();
            self.lock().done = true;
            self.ended.notify_all();
            done
        })
    }

    /// One check, and why it was stopped, if it was.
    pub fn over<T>(&self, foreign: bool, check: impl FnOnce() -> T) -> (T, Option<Over>) {
        let flag = Flag::default();
        let id = {
            let mut state = self.lock();
            state.next += 1;
            let id = state.next;
            state.running.push(Running {
                id,
                flag: flag.clone(),
                since: Instant::now(),
                foreign,
                over: None,
            });
            id
        };
        let done = stop::under(Some(flag), check);
        let mut state = self.lock();
        let at = state.running.iter().position(|one| one.id == id);
        let over = at.and_then(|at| state.running.swap_remove(at).over);
        (done, over)
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn look(&self) {
        let mut looks = 0_u32;
        let mut state = self.lock();
        while !state.done {
            let waited = self.ended.wait_timeout(state, EVERY);
            state = waited.unwrap_or_else(PoisonError::into_inner).0;
            let asked = self.outer.as_ref().is_some_and(Flag::raised);
            for one in &mut state.running {
                if asked {
                    one.flag.raise();
                } else if one.over.is_none() && one.since.elapsed() > self.most {
                    one.over = Some(Over::Time(self.most));
                    one.flag.raise();
                }
            }
            looks += 1;
            if looks.is_multiple_of(MEMORY_EVERY) && state.running.iter().any(|one| one.foreign) {
                self.look_at_memory(&mut state);
            }
        }
    }

    /// Of several, the one that has run longest is taken to be the one that took it.
    fn look_at_memory(&self, state: &mut State) {
        let known = *self.memory.lock().unwrap_or_else(PoisonError::into_inner);
        let Some((most, more)) = known else {
            return;
        };
        if memory::held().is_none_or(|held| held <= most) {
            return;
        }
        let foreign = state.running.iter_mut().filter(|one| one.foreign);
        if let Some(one) = foreign
            .filter(|one| one.over.is_none())
            .min_by_key(|one| one.since)
        {
            one.over = Some(Over::Memory(more));
            one.flag.raise();
        }
    }
}

fn most_memory() -> Option<(u64, u64)> {
    let (held, more) = memory::held().zip(memory::allowance())?;
    let more = more.min(MOST_MEMORY);
    Some((held + more, more))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_takes_too_long_is_stopped_and_nothing_else() {
        let mut watch = Watch::new(0);
        watch.most = Duration::from_millis(30);
        let until_asked = || {
            let began = Instant::now();
            while !stop::asked() && began.elapsed() < Duration::from_secs(20) {
                std::thread::yield_now();
            }
        };
        let (quick, slow) = watch.beside(|| {
            let quick = watch.over(true, || 7);
            (quick, watch.over(false, until_asked).1)
        });
        assert_eq!(quick, (7, None));
        assert_eq!(slow, Some(Over::Time(Duration::from_millis(30))));
    }

    #[test]
    fn who_asks_the_whole_review_to_stop_asks_each_check() {
        let flag = Flag::default();
        let watch = stop::under(Some(flag.clone()), || Watch::new(0));
        let over = watch.beside(|| {
            flag.raise();
            let until_asked = || {
                while !stop::asked() {
                    std::thread::yield_now();
                }
            };
            watch.over(true, until_asked).1
        });
        assert_eq!(over, None);
    }
}
