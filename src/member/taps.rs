//! The taps on HOLD that are not settled: neither written on the server's disk nor known to hold nothing. A tap is sent
//! at once over any open connection, again every half second while nobody has answered, and over every new link until
//! it is written, always under the same id. The pages' twin is `clients/core/taps.ts`.

use crate::clock::MemberTime;
use crate::rules::{TAPS_WITH_KEY, UNTOLD};
use crate::wire::{HoldTap, TapOutcome};

/// What became of the last tap, as the person is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TapState {
    /// There is none, or the run goes on after it.
    #[default]
    None,
    /// It went out over a good link less than [`UNTOLD`] ago.
    Sending,
    /// Nobody is known to have heard of it: the person must call it out loud.
    Untold,
    /// The server refused the member before it answered: nobody will hear of it.
    Refused,
    /// The server answered.
    Answered(TapOutcome),
}

/// The unsettled taps, oldest first.
#[derive(Debug, Default)]
pub(super) struct Taps {
    unsettled: Vec<Unsettled>,
    state: TapState,
    /// When what nobody has answered is sent again; nothing without a link.
    again: Option<MemberTime>,
}

#[derive(Debug)]
struct Unsettled {
    tap: HoldTap,
    /// True once the server has answered "held". It is kept until it is written.
    told: bool,
}

impl Taps {
    /// The taps that an earlier life of this member left unsettled.
    pub(super) fn kept(taps: Vec<HoldTap>) -> Taps {
        let state = if taps.is_empty() { TapState::None } else { TapState::Untold };
        let unsettled = taps.into_iter().map(|tap| Unsettled { tap: HoldTap { queued: true, ..tap }, told: false });
        Taps { unsettled: unsettled.collect(), state, again: None }
    }

    /// HOLD was tapped, over a link or not, which was heard of late (`good`) or not; what is to be sent now comes back.
    /// Tapped again for the same generation while nobody has answered, it is the same tap: five taps in a fright are one
    /// call. A reason that it did not have makes it another one.
    pub(super) fn tap(&mut self, now: MemberTime, tap: HoldTap, linked: bool, good: bool) -> Vec<HoldTap> {
        let reason = |other: &HoldTap| tap.reason.is_none() || tap.reason == other.reason;
        if !self.waiting().any(|waiting| waiting.generation == tap.generation && reason(waiting)) {
            self.unsettled.push(Unsettled { tap, told: false });
        }
        self.state = if good { TapState::Sending } else { TapState::Untold };
        if linked {
            self.again.get_or_insert(now + UNTOLD);
        }
        self.waiting().cloned().collect()
    }

    /// A new connection is open: what comes with the key, and what is sent right after it. What may not have arrived over
    /// the old one counts as tapped without a link: it must not hold a run that began since.
    pub(super) fn opened(&mut self) -> (Vec<HoldTap>, Vec<HoldTap>) {
        self.unsettled.iter_mut().for_each(|each| each.tap.queued = true);
        let mut with_key: Vec<HoldTap> = self.unsettled.iter().map(|each| each.tap.clone()).collect();
        let after = with_key.split_off(with_key.len().min(TAPS_WITH_KEY));
        (with_key, after)
    }

    /// The link is up.
    pub(super) fn linked(&mut self, now: MemberTime) {
        self.again = self.are_waiting().then(|| now + UNTOLD);
    }

    /// What is to be sent again now: nobody has answered it for long enough.
    pub(super) fn due(&mut self, now: MemberTime) -> Vec<HoldTap> {
        if self.again.is_none_or(|again| again > now) {
            return Vec::new();
        }
        self.again = Some(now + UNTOLD);
        self.state = TapState::Untold;
        self.waiting().cloned().collect()
    }

    /// When something is to be sent again.
    pub(super) fn again(&self) -> Option<MemberTime> {
        self.again
    }

    /// The link is lost: nobody has heard of what waits.
    pub(super) fn lost(&mut self) {
        self.again = None;
        if self.are_waiting() {
            self.state = TapState::Untold;
        }
    }

    /// The server does not know this member: it will hear of nothing any more.
    pub(super) fn refused(&mut self) {
        self.again = None;
        if self.are_waiting() {
            self.state = TapState::Refused;
        }
        self.unsettled.clear();
    }

    /// The server's answer. One to a tap that is not kept says nothing.
    pub(super) fn answered(&mut self, tap: &str, outcome: TapOutcome) {
        let Some(place) = self.unsettled.iter().position(|each| each.tap.tap == tap) else { return };
        match outcome {
            TapOutcome::Held => self.unsettled[place].told = true,
            TapOutcome::Written | TapOutcome::Unkept | TapOutcome::Late => drop(self.unsettled.remove(place)),
        }
        if !self.are_waiting() {
            self.again = None;
            self.state = TapState::Answered(outcome);
        }
    }

    /// Nothing is held: what became of answered taps is old news.
    pub(super) fn nothing_held(&mut self) {
        if !self.are_waiting() {
            self.state = TapState::None;
        }
    }

    /// What became of the last tap.
    pub(super) fn state(&self) -> TapState {
        self.state
    }

    /// True while nobody is known to have heard of a tap.
    pub(super) fn are_waiting(&self) -> bool {
        self.waiting().next().is_some()
    }

    /// The taps that nobody is known to have heard of.
    pub(super) fn waiting(&self) -> impl Iterator<Item = &HoldTap> {
        self.unsettled.iter().filter(|each| !each.told).map(|each| &each.tap)
    }

    /// Every tap that is not settled.
    pub(super) fn unsettled(&self) -> impl Iterator<Item = &HoldTap> {
        self.unsettled.iter().map(|each| &each.tap)
    }
}
