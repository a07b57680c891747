//! The brake's shared words under every interleaving of two taps, a release, places and a start. The words are sequentially
//! consistent (`src/brake/latch.rs`), so whatever the processor does is one order of their single steps, and all orders are
//! gone through: each thread runs the real latch up to its next step, with the answers that it has had so far; states that
//! were met before are not met again. Beside it, `brake_interleavings.rs` lets a model checker do the same as far as it
//! gets.

use std::cell::RefCell;
use std::collections::{HashMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

use holdfast::brake::{Latch, Word};
use holdfast::units::Generation;

/// One step on one word.
#[derive(Clone, Copy, Debug)]
enum Step {
    Read(usize),
    Raise(usize, u64),
    Count(usize),
}

/// The latch's four words, and the lane over which pulls reach the call.
type Memory = [u64; 5];
const LANE: usize = 4;

fn apply(memory: &mut Memory, step: Step) -> u64 {
    match step {
        Step::Read(word) => memory[word],
        Step::Raise(word, value) => {
            let was = memory[word];
            memory[word] = was.max(value);
            was
        }
        Step::Count(word) => {
            memory[word] += 1;
            memory[word] - 1
        }
    }
}

thread_local! {
    /// The answers that the thread which runs has had, how many it has taken again, and the step that it wants next.
    static TAPE: RefCell<(Vec<u64>, usize, Option<Step>)> = const { RefCell::new((Vec::new(), 0, None)) };
}

/// Thrown at the step whose answer is not known yet.
struct Waits;

fn ask(step: Step) -> u64 {
    let known = TAPE.with_borrow_mut(|(answers, taken, wanted)| {
        let answer = answers.get(*taken).copied();
        *taken += 1;
        if answer.is_none() {
            *wanted = Some(step);
        }
        answer
    });
    known.unwrap_or_else(|| resume_unwind(Box::new(Waits)))
}

/// A word at that place.
struct Place(usize);

impl Word for Place {
    fn read(&self) -> u64 {
        ask(Step::Read(self.0))
    }

    fn glance(&self) -> u64 {
        ask(Step::Read(self.0))
    }

    fn raise(&self, value: u64) -> u64 {
        ask(Step::Raise(self.0, value))
    }

    fn count(&self) -> u64 {
        ask(Step::Count(self.0))
    }
}

fn latch() -> Latch<Place> {
    Latch::of(Place(0), Place(1), Place(2), Place(3))
}

/// What a thread has done once it is over: generations that it let live, with whether they were admitted, and how many
/// pulls it had taken when it released.
type Done = (Vec<(Generation, bool)>, u64);

/// What the thread that reads a HOLD does.
fn tap() -> Done {
    latch().pull();
    ask(Step::Count(LANE));
    (Vec::new(), 0)
}

/// What the call does: it releases the hold that it has taken, calls places, and starts; a pull that it takes in between
/// is a hold, and it decides nothing more.
fn call() -> Done {
    let latch = latch();
    let taken = ask(Step::Read(LANE));
    latch.free(taken);
    let mut admitted = vec![(Generation(2), latch.admit(Generation(2), taken).is_ok())];
    for generation in [Generation(3), Generation(3)] {
        if ask(Step::Read(LANE)) != taken {
            break;
        }
        admitted.push((generation, latch.admit(generation, taken).is_ok()));
    }
    (admitted, taken)
}

/// Runs a thread on the answers that it has had.
fn run(thread: fn() -> Done, answers: &[u64]) -> Result<Done, Step> {
    TAPE.set((answers.to_vec(), 0, None));
    catch_unwind(AssertUnwindSafe(thread)).map_err(|thrown| {
        if !thrown.is::<Waits>() {
            resume_unwind(thrown);
        }
        TAPE.with_borrow(|(_, _, wanted)| wanted.expect("it waits for a step"))
    })
}

/// A hold stands: generation 1 lived, was pulled, and the call has taken the pull.
fn held() -> Memory {
    let mut memory = Memory::default();
    for thread in [
        (|| {
            let _ = latch().admit(Generation(1), 0);
            (Vec::new(), 0)
        }) as fn() -> Done,
        tap,
    ] {
        let mut answers = Vec::new();
        while let Err(step) = run(thread, &answers) {
            answers.push(apply(&mut memory, step));
        }
    }
    memory
}

fn is_sound(memory: &Memory, (admitted, taken): &Done) {
    let [_, dead, pulls, freed, _] = *memory;
    assert_eq!((pulls, freed), (3, *taken), "exactly what was not taken goes on holding");
    for (generation, lives) in admitted {
        assert!(*lives || generation.0 <= dead, "what was refused is dead");
        assert!(pulls == freed || generation.0 <= dead, "{generation:?} lives although the brake is pulled");
    }
    let last = admitted.last().expect("it has released");
    assert!(pulls > freed || (last.1 && last.0.0 > dead), "after the last release it lives");
}

#[test]
fn nothing_lives_while_it_is_pulled_in_any_order_of_any_steps() {
    let threads: [fn() -> Done; 3] = [tap, tap, call];
    let mut runs: HashMap<(usize, Vec<u64>), Result<Done, Step>> = HashMap::new();
    let mut open = vec![(held(), [const { Vec::<u64>::new() }; 3])];
    let mut met: HashSet<(Memory, [Vec<u64>; 3])> = open.iter().cloned().collect();
    let mut ends = 0;
    while let Some((memory, answers)) = open.pop() {
        let mut over = true;
        for (number, thread) in threads.iter().enumerate() {
            let at = (number, answers[number].clone());
            let done = runs.entry(at).or_insert_with_key(|(_, answers)| run(*thread, answers));
            let Err(step) = done else { continue };
            over = false;
            let (mut memory, mut answers) = (memory, answers.clone());
            answers[number].push(apply(&mut memory, *step));
            if met.insert((memory, answers.clone())) {
                open.push((memory, answers));
            }
        }
        if over {
            ends += 1;
            let done = run(call, &answers[2]).expect("it is over");
            is_sound(&memory, &done);
        }
    }
    assert!(met.len() > 1_000 && ends > 10, "{} states, {ends} ends: taps and call have met", met.len());
}
