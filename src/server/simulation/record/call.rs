//! Where the call stands, by its record: what each event makes of it, and what whoever decides must have seen.

use super::Asked;
use crate::call::Role;
use crate::event::{Event, EventId, What};
use crate::server::simulation::playbill;
use crate::wire::{Setup, Stage, ToServer};

/// How the call stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::server::simulation) enum Stands {
    #[default]
    Idle,
    Places,
    Going,
    Held,
    Stopped,
    Complete,
}

impl Stands {
    /// How it stands by what members are told.
    pub(in crate::server::simulation) fn of(stage: Stage) -> Stands {
        match stage {
            Stage::Idle => Stands::Idle,
            Stage::Places => Stands::Places,
            Stage::CountIn | Stage::Running => Stands::Going,
            Stage::Held => Stands::Held,
            Stage::Stopped => Stands::Stopped,
            Stage::Complete => Stands::Complete,
        }
    }
}

/// The call by the record.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Call {
    pub(super) stands: Stands,
    pub(super) generation: u64,
    /// The last hold, and the event of its last call.
    pub(super) hold: u32,
    pub(super) last_call: Option<EventId>,
    /// The last event that brought the call where it stands, and the last one that changed who plays what.
    pub(super) stood: Option<EventId>,
    pub(super) cast: Option<EventId>,
    /// The last run that was begun, and whether any is set up.
    pub(super) run: u32,
    pub(super) has_run: bool,
    /// How many steps of it were taken.
    pub(super) steps: u32,
}

impl Call {
    /// How it stands after that event, and what whoever decides later must have seen.
    pub(super) fn after(self, event: &Event) -> Call {
        use Stands::{Complete, Going, Held, Idle, Places, Stopped};
        let last = Some(event.id);
        let stood = |stands| Call { stands, stood: last, ..self };
        let ends = |stands| Call { generation: self.generation + 1, ..stood(stands) };
        match &event.what {
            What::Hold { call, .. } => Call { hold: call.hold.0, last_call: last, ..ends(Held) },
            What::HoldJoined(_) => Call { stood: last, last_call: last, ..self },
            What::Places { .. } => Call { has_run: true, ..ends(Places) },
            What::Start { .. } => Call { run: event.run.unwrap_or(self.run), steps: 0, ..stood(Going) },
            What::Step { .. } => Call { steps: self.steps + 1, ..self },
            What::Release { .. } => stood(if self.has_run { Stopped } else { Idle }),
            What::Stop { .. } => ends(Stopped),
            What::Complete => ends(Complete),
            What::End { .. } => Call { has_run: false, ..ends(Idle) },
            What::Joined { part: Some(_) }
            | What::Left { part: Some(_) }
            | What::Part { .. }
            | What::Cast { .. }
            | What::Attendance { part: Some(_), .. }
            | What::Check { in_order: false, .. } => Call { cast: last, ..self },
            _ => self,
        }
    }

    /// How it stands after the server was started anew: a hold that stands, stands, and nothing goes on.
    pub(super) fn anew(self) -> Call {
        let stands = match self.stands {
            Stands::Places | Stands::Going => Stands::Stopped,
            other => other,
        };
        Call { stands, ..self }
    }

    /// True when this is to be done as the call stands, whatever else is so.
    pub(super) fn does(self, asked: &Asked) -> bool {
        let leads = matches!(asked.role, Role::Desk | Role::Captain);
        match &asked.message {
            ToServer::Start { generation, anyway: true, seen } => {
                let seen = Some(*seen) >= self.stood.max(self.cast);
                self.stands == Stands::Places && *generation == self.generation && seen
            }
            ToServer::Release { hold, seen } => {
                leads && self.stands == Stands::Held && *hold == self.hold && Some(*seen) >= self.last_call
            }
            ToServer::Stop { .. } => leads && matches!(self.stands, Stands::Going | Stands::Places),
            // A move that cannot be begun at is refused with a sentence.
            ToServer::Places { setup, .. } if !can_begin(setup) => false,
            ToServer::Places { seen, .. } => {
                !matches!(self.stands, Stands::Held | Stands::Going) && Some(*seen) >= self.stood
            }
            ToServer::Ready { generation, .. } => self.stands == Stands::Places && *generation == self.generation,
            ToServer::NearMiss { .. } => true,
            ToServer::Sign { .. } => leads,
            ToServer::Note { hold, .. } => leads && self.stands == Stands::Held && *hold == self.hold,
            _ => false,
        }
    }
}

/// True when the first phrase has the move at which a run is to begin.
fn can_begin(setup: &Setup) -> bool {
    let Some(bout) = playbill::bout_of(&setup.fight) else { return false };
    let moves = bout.moves.iter().filter(|it| u32::try_from(it.phrase) == Ok(setup.from)).count();
    setup.from_move.is_none_or(|number| number as usize <= moves)
}
