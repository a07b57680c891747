//! What a decision must have been made in sight of: the last event of where the call stands, and the last one that bears
//! on a start besides.

use crate::event::{Entry, Event, EventId, Sight};

/// The last events that whoever decides must have seen.
#[derive(Debug)]
pub(super) struct Sights {
    /// The name in front of those of this call's events.
    none: EventId,
    stage: Option<Event>,
    start: Option<Event>,
}

impl Sights {
    /// Nothing has happened since the event of that name.
    pub(super) fn new(none: EventId) -> Sights {
        Sights { none, stage: None, start: None }
    }

    /// Something happened.
    pub(super) fn take(&mut self, entry: &Entry) {
        let Entry::Event(event) = entry else { return };
        match event.what.sight() {
            Some(Sight::Stage) => self.stage = Some(Event::clone(event)),
            Some(Sight::Start) => self.start = Some(Event::clone(event)),
            None => {}
        }
    }

    /// The last of them.
    pub(super) fn last(&self) -> EventId {
        [&self.stage, &self.start].into_iter().flatten().map(|event| event.id).max().unwrap_or(self.none)
    }

    /// The number of whoever brought the call where it stands, if they are a member.
    pub(super) fn stage_by(&self) -> Option<u32> {
        self.stage.as_ref().and_then(Event::member)
    }

    /// Whether somebody who has seen that event, and all before it, may decide.
    ///
    /// # Errors
    /// What has happened since that bears on what they decide, in a sentence.
    pub(super) fn refuse_unseen(&self, decision: Sight, seen: EventId) -> Result<(), String> {
        if (seen.session, seen.maker) != (self.none.session, self.none.maker) {
            return Err("The server has started anew since.".to_owned());
        }
        let bears = [self.stage.as_ref(), self.start.as_ref().filter(|_| decision == Sight::Start)];
        let last = bears.into_iter().flatten().filter(|event| event.id > seen).max_by_key(|event| event.id);
        last.map_or(Ok(()), |event| Err(event.since()))
    }
}
