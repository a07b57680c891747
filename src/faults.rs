//! Work that must not end by a panic. A thread runs it through [`Faults::keep_running`]: a panic is caught, kept as a
//! sentence for the desk, and the work is begun again, at the most once a second, so that a fault that repeats itself
//! neither ends a part of the program in silence nor takes the whole machine. Which thread it was and where is in the log.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

use crate::time::ServerClock;

/// The shortest time from one beginning to the next.
const PAUSE: Duration = Duration::from_secs(1);

/// A part of the program, in the words of the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// What it is, as the beginning of a sentence: "MIDI out".
    pub name: &'static str,
    /// What a fault of it costs and what to do, a whole sentence.
    pub costs: &'static str,
}

/// What failed in some parts of the program. Copies are the same list.
#[derive(Clone, Debug)]
pub struct Faults {
    seen: Arc<Mutex<Vec<Fault>>>,
    pause: Duration,
}

/// How often a part failed, and why it did the last time.
#[derive(Debug)]
struct Fault {
    part: Part,
    times: u32,
    why: String,
    /// It has begun again.
    again: bool,
}

impl Default for Faults {
    fn default() -> Faults {
        Faults::with_pause(PAUSE)
    }
}

impl Faults {
    /// None yet; work that fails is begun again at the most once in so long.
    pub fn with_pause(pause: Duration) -> Faults {
        Faults { seen: Arc::default(), pause }
    }

    /// What failed, a sentence each, in the order in which the parts failed first.
    pub fn sentences(&self) -> Vec<String> {
        self.seen().iter().map(Fault::sentence).collect()
    }

    /// Runs `work` on this thread until it returns. When it panics, `failed` is told why, and it is begun again; what it
    /// holds must be sound after it was left at any place.
    pub fn keep_running<T>(&self, part: Part, mut failed: impl FnMut(&str), mut work: impl FnMut() -> T) -> T {
        let clock = ServerClock::new();
        loop {
            let began = clock.now();
            match catch_unwind(AssertUnwindSafe(&mut work)) {
                Ok(done) => return done,
                Err(payload) => failed(&self.note(part, payload.as_ref(), true)),
            }
            let ran = Duration::from_micros(u64::try_from(clock.now().since(began).0).unwrap_or(0));
            thread::sleep(self.pause.saturating_sub(ran));
        }
    }

    /// Notes a panic that was caught elsewhere, and whether the part goes on; gives what the panic said.
    pub fn note(&self, part: Part, payload: &(dyn Any + Send), again: bool) -> String {
        let why = said(payload).to_owned();
        let mut seen = self.seen();
        match seen.iter_mut().find(|fault| fault.part == part) {
            Some(fault) => (fault.times, fault.why, fault.again) = (fault.times.saturating_add(1), why.clone(), again),
            None => seen.push(Fault { part, times: 1, why: why.clone(), again }),
        }
        why
    }

    fn seen(&self) -> MutexGuard<'_, Vec<Fault>> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Fault {
    fn sentence(&self) -> String {
        let Fault { part: Part { name, costs }, times, why, again } = self;
        let times = if *times == 1 { String::new() } else { format!(" {times} times") };
        let again = if *again { " and has begun again" } else { "" };
        format!("{name} failed{times}{again} ({why}). {costs}")
    }
}

/// What a panic said.
pub fn said(payload: &(dyn Any + Send)) -> &str {
    let text = payload.downcast_ref::<&str>().copied();
    text.or_else(|| payload.downcast_ref::<String>().map(String::as_str)).unwrap_or("it gave no reason")
}

#[cfg(test)]
mod tests {
    use super::*;

    const PART: Part = Part { name: "The counter", costs: "What it counted is lost." };
    const OTHER: Part = Part { name: "The other", costs: "Nothing is lost." };

    #[test]
    fn work_that_panics_is_begun_again_and_told() {
        let faults = Faults::with_pause(Duration::ZERO);
        let (mut runs, mut told) = (0, Vec::new());
        let done = faults.keep_running(
            PART,
            |why| told.push(why.to_owned()),
            || {
                runs += 1;
                assert!(runs >= 4, "number {runs}");
                runs
            },
        );
        assert_eq!(done, 4);
        assert_eq!(told, ["number 1", "number 2", "number 3"]);
        assert_eq!(
            faults.clone().sentences(),
            ["The counter failed 3 times and has begun again (number 3). What it counted is lost."]
        );
    }

    #[test]
    fn each_part_has_its_own_sentence_and_a_panic_without_a_reason_has_one_too() {
        let faults = Faults::with_pause(Duration::ZERO);
        assert!(faults.sentences().is_empty());
        for part in [PART, OTHER] {
            let mut failed = false;
            faults.keep_running(
                part,
                |_| {},
                || {
                    if !std::mem::replace(&mut failed, true) {
                        std::panic::panic_any(7);
                    }
                },
            );
        }
        faults.note(PART, &"for good", false);
        assert_eq!(faults.sentences()[0], "The counter failed 2 times (for good). What it counted is lost.");
        faults.note(PART, &7, true);
        let expected = ["The counter failed 3 times", "The other failed"];
        let costs = [PART.costs, OTHER.costs];
        let expected: Vec<String> = expected
            .iter()
            .zip(costs)
            .map(|(failed, costs)| format!("{failed} and has begun again (it gave no reason). {costs}"))
            .collect();
        assert_eq!(faults.sentences(), expected);
    }

    #[test]
    fn it_is_begun_again_at_the_most_once_in_the_pause() {
        let pause = Duration::from_millis(30);
        let faults = Faults::with_pause(pause);
        let clock = ServerClock::new();
        let mut begun = Vec::new();
        faults.keep_running(
            PART,
            |_| {},
            || {
                begun.push(clock.now());
                assert!(begun.len() > 3);
            },
        );
        assert!(begun.windows(2).all(|pair| pair[1].since(pair[0]).0 >= pause.as_micros() as i64), "{begun:?}");
    }
}
