//! What a person who decides must have seen: calling places and starting are decided in sight of what stands on a screen,
//! and whoever has not seen the last of it decides about something else than what is there.

use super::{Event, What};

/// Which decisions an event bears on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// The start of a run: who plays what, what was checked.
    Start,
    /// Calling places and the start: where the call stands.
    Stage,
}

impl What {
    /// Which decisions must have been made in sight of it; nothing when none. Links, ready and notes are no matter of
    /// sight: the call itself looks at links and ready when it is asked to start, and they change too often to be waited for.
    pub fn sight(&self) -> Option<Sight> {
        match self {
            What::Places { .. }
            | What::Start { .. }
            | What::Hold { .. }
            | What::HoldJoined(_)
            | What::Release { .. }
            | What::Stop { .. }
            | What::Complete
            | What::End { .. } => Some(Sight::Stage),
            What::Joined { part: Some(_) }
            | What::Left { part: Some(_) }
            | What::Part { .. }
            | What::Cast { .. }
            | What::Attendance { part: Some(_), .. }
            | What::Check { in_order: false, .. } => Some(Sight::Start),
            _ => None,
        }
    }
}

impl Event {
    /// What has happened, for whoever has not seen it: a sentence about somebody, or about the run.
    pub fn since(&self) -> String {
        let name = self.name().unwrap_or("Somebody");
        match &self.what {
            What::Places { set_up: Some(set_up) } => format!("{name} has called places since, for {set_up}."),
            What::Places { set_up: None } => format!("{name} has called places since."),
            What::Start { .. } => format!("{name} has started the run since."),
            What::Hold { .. } | What::HoldJoined(_) => format!("{name} has called hold since."),
            What::Release { .. } => format!("{name} has released the hold since."),
            What::Stop { .. } => format!("{name} has stopped it since."),
            What::Complete => "The run has come to its end since.".to_owned(),
            What::End { .. } => format!("{name} has ended the call since."),
            What::Joined { part: Some(part) } => format!("{name} has joined since and plays {part}."),
            What::Left { part: Some(part) } => format!("{name}, who plays {part}, has left since."),
            What::Part { part: Some(part) } => format!("{name} plays {part} since."),
            What::Part { part: None } => format!("{name} plays no part any more."),
            What::Cast { fight, part, person: Some(person), .. } => {
                format!("{person} plays {part} in “{fight}” since.")
            }
            What::Cast { fight, part, person: None, .. } => format!("{part} in “{fight}” is as usual since."),
            What::Attendance { person, present: false, .. } => format!("{person} is noted as absent since."),
            What::Check { check, .. } => format!("{name} has signed “{check}” as not in order since."),
            _ => "Something has happened since.".to_owned(),
        }
    }
}
