//! Who may do what. Every power that a message can ask for is named here, and one table grants it; HOLD is not in the
//! table because nobody can be refused it.

use crate::event::Role;

/// Something that only some may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Power {
    /// Choose fight, range, speed and drive; call places; start; restart; end the call.
    Drive,
    /// Advance a walk-through by one move.
    Step,
    /// Release a hold.
    Release,
    /// Stop the run with a reason.
    Stop,
    /// Add a note to a hold.
    Note,
    /// Say ready and take a part.
    Perform,
    /// Hand out and revoke invitations, and give parts to people.
    Invite,
    /// Save a score.
    Write,
    /// Test, trim, mute and choose the sound outputs.
    Sound,
    /// Sign a check before a call.
    Sign,
    /// Note who is there.
    Attend,
}

impl Power {
    /// The power in a sentence: "… has no power to …".
    pub const fn phrase(self) -> &'static str {
        match self {
            Power::Drive => "drive the run",
            Power::Step => "step on",
            Power::Release => "release a hold",
            Power::Stop => "stop the run",
            Power::Note => "add notes",
            Power::Perform => "take part in the fight",
            Power::Invite => "invite people or give parts",
            Power::Write => "save scores",
            Power::Sound => "work the sound",
            Power::Sign => "sign checks",
            Power::Attend => "note who is there",
        }
    }
}

impl Role {
    /// True when this role has that power.
    pub const fn may(self, power: Power) -> bool {
        match power {
            Power::Drive | Power::Invite | Power::Attend => matches!(self, Role::Desk),
            Power::Step | Power::Release | Power::Stop | Power::Note | Power::Sign => {
                matches!(self, Role::Desk | Role::Captain)
            }
            Power::Perform => matches!(self, Role::Performer),
            Power::Write => matches!(self, Role::Director | Role::Desk),
            Power::Sound => matches!(self, Role::Desk | Role::Sound),
        }
    }
}
