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
    /// True once it was sent over the link that is there.
    sent: bool,
}

impl TapQueue {
    /// Keeps a tap until it is settled; `sent` when it goes out at once.
    pub(super) fn push(&mut self, tap: HoldTap, sent: bool) {
        self.0.push(Waiting { tap, answered: false, sent });
    }

    /// A new link is there: nothing was sent over it. What may not have arrived over the old one is queued now: it must
    /// not hold a run that began since.
    pub(super) fn new_link(&mut self) {
        for waiting in &mut self.0 {
            waiting.tap.queued = true;
            waiting.sent = false;
        }
    }

    /// What was not sent over this link, to be sent now: the oldest, so many at the most.
    pub(super) fn unsent(&mut self, most: usize) -> Vec<HoldTap> {
        let unsent = self.0.iter_mut().filter(|waiting| !waiting.sent).take(most);
        unsent
            .map(|waiting| {
                waiting.sent = true;
                waiting.tap.clone()
            })
            .collect()
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
