//! What is not everybody's: the subjects that a page asks for when it shows them. Each is told whole once and then as
//! changes, gathered: at most five times a second.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::{HoldView, Spot};
use crate::call::{NearMisses, Role};

/// Something that a page can show, and is told of only then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// Everybody who has joined.
    Roster,
    /// How everybody's page is: in sight or not, how well its clock is known, how late its cues were shown.
    Devices,
    /// The hold that stands and the last ones before it, with their notes.
    Holds,
    /// The fights that can be run.
    Fights,
    /// What is wrong with the production's files and the outputs.
    Troubles,
    /// The checks before the call.
    Checks,
    /// Whom the desk noted as there or not.
    Attendance,
    /// Who is not there for the run that is set up.
    Missing,
    /// The company's reasons for holds, and whether near misses are reported.
    Why,
    /// What nearly went wrong in this call.
    NearMisses,
    /// Tonight's order: what is done, what is next, who is needed.
    Tonight,
    /// Who plays what tonight, in every fight.
    Casts,
}

impl Subject {
    /// All of them.
    pub const ALL: [Subject; 12] = [
        Subject::Roster,
        Subject::Devices,
        Subject::Holds,
        Subject::Fights,
        Subject::Troubles,
        Subject::Checks,
        Subject::Attendance,
        Subject::Missing,
        Subject::Why,
        Subject::NearMisses,
        Subject::Tonight,
        Subject::Casts,
    ];
}

/// A subject, whole or what has changed of it. Where there is a `whole`, true means that what was told before counts no
/// more, and false that the entries listed are added to it or take the place of those with the same key, and that those
/// in `gone` go. The others are short lists in an order that matters, and always come whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "subject", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum SubjectTold {
    /// Of the roster, by number.
    Roster {
        /// True when these are all.
        whole: bool,
        /// Who is new or has changed.
        members: Vec<MemberView>,
        /// The numbers of those who have left.
        gone: Vec<u32>,
    },
    /// Of the devices, by the member's number.
    Devices {
        /// True when these are all.
        whole: bool,
        /// Those that are new or have changed.
        devices: Vec<DeviceView>,
        /// The numbers of those who have left.
        gone: Vec<u32>,
    },
    /// Of the holds, by the hold's number.
    Holds {
        /// True when these are all.
        whole: bool,
        /// Those that are new or have changed.
        holds: Vec<HoldRecord>,
        /// The numbers of those that are too old to be told.
        gone: Vec<u32>,
    },
    /// Of the attendance, by the person's name.
    Attendance {
        /// True when these are all.
        whole: bool,
        /// Who was noted.
        people: Vec<AttendanceView>,
        /// Of whom nothing is noted any more.
        gone: Vec<String>,
    },
    /// The fights that can be run, in the production's order.
    Fights {
        /// All of them.
        fights: Vec<FightChoice>,
    },
    /// What is wrong, a sentence each.
    Troubles {
        /// All of them.
        troubles: Vec<String>,
    },
    /// The checks before the call, in the company's order, then those signed that are no longer on its list.
    Checks {
        /// All of them.
        checks: Vec<CheckView>,
    },
    /// Who is not there for the run that is set up.
    Missing {
        /// The generation of which this is true: places that are called anew begin with nobody ready.
        #[ts(type = "number")]
        generation: u64,
        /// Every part that is not there, in the score's order.
        parts: Vec<MissingPart>,
    },
    /// Why holds are called, as the company says it, and whether near misses are reported.
    Why {
        /// The reasons, in the order in which they are offered.
        reasons: Vec<String>,
        /// Whether near misses are reported, and with whose name.
        near_misses: NearMisses,
    },
    /// What nearly went wrong in this call.
    NearMisses {
        /// How many times.
        count: u32,
        /// The last of them, newest first.
        misses: Vec<NearMissView>,
    },
    /// Tonight's order.
    Tonight {
        /// Which order it is: whoever changes it names this.
        #[ts(type = "number")]
        version: u64,
        /// The items, in order.
        items: Vec<ItemView>,
    },
    /// Who plays what tonight, in every fight that can be run, in the production's order.
    Casts {
        /// The fights.
        fights: Vec<FightCastView>,
    },
}

/// An item of tonight's order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ItemView {
    /// Its number.
    pub item: u32,
    /// What is to be done.
    pub planned: PlannedView,
    /// Whether it is done.
    pub stands: ItemStands,
    /// Why it cannot be done by the scores as they are now, in a sentence.
    pub cannot: Option<String>,
    /// Who plays in it, by number.
    pub players: Vec<u32>,
    /// Its parts that nobody plays.
    pub open: Vec<String>,
    /// How long it took in the middle of the last times, from its places to its end, seconds; nothing where it was never done
    /// like this.
    pub about_s: Option<u32>,
}

/// Where an item of tonight's order stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum ItemStands {
    /// It is to be done. The first of these is next.
    ToDo,
    /// A run of it is set up, goes, is held or was stopped.
    Now,
    /// A run came to the end of it, or the desk says so.
    Done,
}

/// What is to be done, by the names that people use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct PlannedView {
    /// The fight.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
    /// The first phrase; nothing for the fight's first.
    pub from: Option<String>,
    /// The last phrase; nothing for the fight's last.
    pub to: Option<String>,
    /// Percent of performance tempo, 10 to 150; nothing in a walk-through, move by move.
    pub percent: Option<u16>,
    /// Beats of count-in; nothing for the house's usual.
    pub count_in: Option<u32>,
}

/// Who plays what in a fight tonight.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct FightCastView {
    /// The fight.
    pub fight: String,
    /// Its parts, in the score's order: who fights, then who only stands by.
    pub parts: Vec<PartCastView>,
}

/// Who plays a part of a fight tonight.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct PartCastView {
    /// The part: somebody who fights, or who only stands by.
    pub part: String,
    /// True for somebody who only stands by.
    pub stands_by: bool,
    /// Who plays it, by number; nothing when nobody does.
    pub member: Option<u32>,
    /// What they are called.
    pub person: Option<String>,
    /// True when the desk has cast them for tonight.
    pub chosen: bool,
    /// For whom they cover; where nobody plays it, who is noted as absent and had it.
    pub usually: Option<String>,
    /// Who covers the part by the production's list, the first to be asked first.
    pub covers: Vec<String>,
}

/// One member, as the desk sees them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct MemberView {
    /// The member's number.
    pub member: u32,
    /// What they are called.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// The fighter they play.
    pub part: Option<String>,
    /// The link.
    pub link: Link,
    /// True once they said ready at these places.
    pub ready: bool,
    /// When they joined, RFC 3339 in UTC.
    pub joined: String,
    /// What kind of device they came with, in words; nothing before they are back after a start of the server.
    pub device: Option<String>,
    /// False while the desk takes no notes from them.
    pub notes_taken: bool,
    /// The member whose name they gave, while nobody has said yet whether they are that person.
    pub claims: Option<u32>,
}

/// How a member's page is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DeviceView {
    /// The member's number.
    pub member: u32,
    /// False while their page is hidden.
    pub visible: bool,
    /// Bound of their clock error, microseconds.
    #[ts(type = "number | null")]
    pub bound_us: Option<i64>,
    /// Median of how late their last cues were shown, microseconds.
    #[ts(type = "number | null")]
    pub late_us: Option<i64>,
}

/// A member's link.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Link {
    /// Heard within a second.
    Linked,
    /// Silent or gone.
    Lost,
}

/// A hold with what was noted of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct HoldRecord {
    /// The hold.
    pub hold: HoldView,
    /// What was noted last, oldest first: [`crate::call::MOST_NOTES`] at the most, the first [`NOTE_TOLD`] characters of each.
    /// The log has all of it.
    pub notes: Vec<String>,
    /// How many notes there were before these.
    pub earlier_notes: u32,
}

/// Something that nearly went wrong.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct NearMissView {
    /// When it was reported, server time; before 0 when that was before this server was started.
    #[ts(type = "number")]
    pub at_us: i64,
    /// Who reported it; nothing where they gave no name.
    pub by: Option<String>,
    /// Where it was.
    pub spot: Option<Spot>,
    /// Why.
    pub reason: Option<String>,
    /// What was noted, its first [`NOTE_TOLD`] characters.
    pub note: Option<String>,
}

/// How many characters of a note are told.
pub const NOTE_TOLD: usize = 400;

/// Whether somebody is there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct AttendanceView {
    /// Who.
    pub person: String,
    /// Whether they are there.
    pub present: bool,
}

/// A fight that can be chosen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FightChoice {
    /// Its name.
    pub fight: String,
    /// The first 12 digits of the SHA-256 of its text.
    pub revision: String,
    /// Its phrases, in order.
    pub phrases: Vec<String>,
    /// Its fighters.
    pub fighters: Vec<String>,
    /// Who only stands by in it.
    pub bystanders: Vec<String>,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Beats of the usual count-in.
    pub count_in: u32,
    /// Errors of the checks: starting by the clock must then be confirmed.
    pub errors: u32,
    /// Warnings of the checks.
    pub warnings: u32,
    /// The sets of weapons that can be chosen besides those that the score names.
    pub sets: Vec<WeaponsChoice>,
    /// True for a pattern of a score by itself, which goes round and round: its phrases are the stages.
    pub drill: bool,
}

/// A set of weapons that can be chosen for a fight, and what the checks found with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct WeaponsChoice {
    /// Its name.
    pub weapons: String,
    /// Errors of the checks.
    pub errors: u32,
    /// Warnings.
    pub warnings: u32,
}

/// A check before the call.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct CheckView {
    /// What is checked.
    pub check: String,
    /// True for the trial of the hold, which nobody signs by hand.
    pub trial: bool,
    /// Who signed it; nothing when nobody did.
    pub signed: Option<SignatureView>,
}

/// A signature under a check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SignatureView {
    /// Who.
    pub by: String,
    /// When, server time; before 0 when that was before this server was started.
    #[ts(type = "number")]
    pub at_us: i64,
    /// False when it was signed as not in order.
    pub in_order: bool,
    /// What was noted.
    pub note: Option<String>,
}

/// A part of the run that is not there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct MissingPart {
    /// The fighter.
    pub part: String,
    /// Who plays them; nothing when nobody does.
    pub name: Option<String>,
    /// What they lack.
    pub lack: Lack,
}

/// Why a part is not there for the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Lack {
    /// Nobody plays it.
    Nobody,
    /// The player's link is lost.
    Lost,
    /// The player's page is out of sight.
    Hidden,
    /// The player has not said ready.
    NotReady,
}
