//! Who may do what. Every power that a message can ask for is named here, and one table grants it; HOLD is not in the
//! table because nobody can be refused it.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

/// What somebody is in the room.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum Role {
    /// The stage manager, at the desk.
    Desk,
    /// The fight captain.
    Captain,
    /// Somebody who fights, or stands in for one who does.
    Performer,
    /// The sound operator.
    Sound,
    /// The fight director.
    Director,
    /// An assistant or observer.
    Observer,
}

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
    /// Every role, in the order in which lists show them.
    pub const ALL: [Role; 6] =
        [Role::Desk, Role::Captain, Role::Performer, Role::Sound, Role::Director, Role::Observer];

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

    /// The role's name as people say it.
    pub const fn title(self) -> &'static str {
        match self {
            Role::Desk => "stage manager",
            Role::Captain => "fight captain",
            Role::Performer => "performer",
            Role::Sound => "sound operator",
            Role::Director => "fight director",
            Role::Observer => "observer",
        }
    }

    /// The role's name in files, links and logs.
    pub const fn word(self) -> &'static str {
        match self {
            Role::Desk => "desk",
            Role::Captain => "captain",
            Role::Performer => "performer",
            Role::Sound => "sound",
            Role::Director => "director",
            Role::Observer => "observer",
        }
    }

    /// The role with that [`Role::word`].
    pub fn from_word(word: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.word() == word)
    }
}
