//! What somebody is in the room. What each may do stands in `call/role.rs`.

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

impl Role {
    /// Every role, in the order in which lists show them.
    pub const ALL: [Role; 6] =
        [Role::Desk, Role::Captain, Role::Performer, Role::Sound, Role::Director, Role::Observer];

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
