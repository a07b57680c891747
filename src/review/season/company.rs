//! The invented company of the demo season: who they are, who plays whom, and what they say when something goes wrong.

use crate::call::Role;

/// Somebody of the company; their place in the list plus one is their number.
pub(super) struct Somebody {
    pub(super) name: &'static str,
    pub(super) role: Role,
    /// The part on their page.
    pub(super) part: Option<&'static str>,
}

const fn somebody(name: &'static str, role: Role, part: Option<&'static str>) -> Somebody {
    Somebody { name, role, part }
}

pub(super) const COMPANY: [Somebody; 8] = [
    somebody("Ines Halloran", Role::Desk, None),
    somebody("Bram Oduya", Role::Captain, None),
    somebody("Lotte Brandt", Role::Performer, Some("TAVISH")),
    somebody("Yusuf Arel", Role::Performer, Some("ORSINA")),
    somebody("Mirel Quist", Role::Performer, Some("FERRYMAN")),
    somebody("Tomas Fenn", Role::Performer, Some("BRAM")),
    somebody("Ayo Lindqvist", Role::Performer, Some("WREN")),
    somebody("Sanne Roek", Role::Performer, None),
];

/// The desk, the captain and the understudy, by their place.
pub(super) const DESK: usize = 0;
pub(super) const CAPTAIN: usize = 1;
pub(super) const UNDERSTUDY: usize = 7;

/// Who plays a part, by their place.
pub(super) fn usual(part: &str) -> usize {
    match part {
        "TAVISH" => 2,
        "ORSINA" | "SELKE" => 3,
        "FERRYMAN" => 4,
        "BRAM" => 5,
        _ => 6,
    }
}

/// What is checked before a call; the demo's production.toml lists the same.
pub(super) const CHECKS: [&str; 4] =
    ["weapons counted and sound", "floor dry and swept", "marks in place", "injuries asked after"];

pub(super) const REASONS: [&str; 8] = [
    "lost my grip",
    "too close",
    "wrong foot",
    "did not see the cue",
    "late on the parry",
    "distance",
    "blade turned in the hand",
    "ahead of the beat",
];

pub(super) const NOTES: [&str; 5] = [
    "slow it down and walk it twice",
    "eye contact before the turn",
    "half a step further back",
    "ask the director for another reply",
    "fine the second time",
];
