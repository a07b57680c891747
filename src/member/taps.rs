//! The taps on HOLD that the server has not settled yet. A tap is sent once over each link, always under the same id,
//! until the server says that it is on disk or that it came too late to hold anything.

use crate::wire::{HoldTap, TapOutcome};

/// The unsettled taps, oldest first.
#[derive(Debug, Default)]
pub(super) struct TapQueue(Vec<Waiting>);

#[derive(Debug)]
struct Waiting {
    tap: HoldTap,
    answered: bool,
}

impl TapQueue {
    /// Keeps a tap until it is settled.
    pub(super) fn push(&mut self, tap: HoldTap) {
        self.0.push(Waiting { tap, answered: false });
    }

    /// Everything to send over a new link. What may not have arrived over the old one is queued now: it must not hold a
    /// run that began since.
    pub(super) fn for_new_link(&mut self) -> Vec<HoldTap> {
        self.0.iter_mut().for_each(|waiting| waiting.tap.queued = true);
        self.0.iter().map(|waiting| waiting.tap.clone()).collect()
    }

    /// The server's answer.
    pub(super) fn answered(&mut self, tap: &str, outcome: TapOutcome) {
        match outcome {
            TapOutcome::Held => {
                self.0.iter_mut().filter(|waiting| waiting.tap.tap == tap).for_each(|waiting| waiting.answered = true);
            }
            TapOutcome::Written | TapOutcome::Late => self.0.retain(|waiting| waiting.tap.tap != tap),
        }
    }

    /// How many taps nobody is known to have heard of.
    pub(super) fn untold(&self) -> usize {
        self.0.iter().filter(|waiting| !waiting.answered).count()
    }
}
