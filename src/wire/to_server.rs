//! What members say. Every message is checked against the sender's role by the server; HOLD is obeyed from anybody.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::{PlannedView, SoundAsk, Subject};
use crate::call::{Role, Way};
use crate::event::EventId;

/// A message from a member to the server.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "kind", rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum ToServer {
    /// Asks what an invitation is for, before trading it. The answer is [`crate::wire::ToMember::Invited`].
    Look {
        /// The version of this wire that the page speaks: [`crate::wire::PROTOCOL`].
        protocol: u32,
        /// The secret of the invitation.
        invitation: String,
    },
    /// Trades an invitation for a personal key and begins as a member. The answer is
    /// [`crate::wire::ToMember::Welcome`] with the key in it.
    Join {
        /// The version of this wire.
        protocol: u32,
        /// The secret of the invitation.
        invitation: String,
        /// What the person is called.
        name: String,
        /// The fighter they play, if they perform.
        part: Option<String>,
        /// A name for the page, made by it: a line of the same page before is over. Without one the page is another one.
        #[serde(default)]
        page: Option<String>,
    },
    /// Comes back with a personal key, after a reload or a lost link.
    Return {
        /// The version of this wire.
        protocol: u32,
        /// The personal key.
        key: String,
        /// A name for the page, as in [`ToServer::Join`].
        #[serde(default)]
        page: Option<String>,
        /// The taps on HOLD that nobody has answered: they are obeyed before the return itself is answered.
        #[serde(default)]
        taps: Vec<HoldTap>,
    },
    /// A clock exchange (RFC 5905's T1). Answered by [`crate::wire::ToMember::Clock`].
    Clock {
        /// The member's own monotonic clock when this was sent, microseconds.
        #[ts(type = "number")]
        sent_us: i64,
    },
    /// "I am here": every 300 ms.
    Pulse {
        /// False while the page is hidden: a hidden page's timers cannot be trusted.
        visible: bool,
        /// Bound of the member's clock error, microseconds; nothing before the first estimate.
        #[ts(type = "number | null")]
        bound_us: Option<i64>,
        /// Best round trip of late, microseconds.
        #[ts(type = "number | null")]
        round_trip_us: Option<i64>,
    },
    /// Says which subjects this page shows; it is told of them and of no others. Asking again replaces what was asked
    /// before, and on a new link nothing is shown until it is asked. The answers are [`crate::wire::ToMember::Subject`].
    Show {
        /// Which.
        subjects: Vec<Subject>,
    },
    /// HOLD. Obeyed whoever sends it, whatever is going on.
    Hold(HoldTap),
    /// Lets go of a hold. Nothing moves because of it.
    Release {
        /// The hold that is meant.
        hold: u32,
        /// The last call that the person's screen had shown ([`crate::wire::HoldView::last_event`]): if somebody has
        /// called since, the release is refused.
        #[ts(type = "string")]
        seen: EventId,
    },
    /// Ends the run with a reason. It can be started again only from places.
    Stop {
        /// Why.
        reason: String,
    },
    /// A performer's "ready" at places, or its withdrawal.
    Ready {
        /// True when ready.
        ready: bool,
        /// The generation of the places that are meant.
        #[ts(type = "number")]
        generation: u64,
    },
    /// Takes or gives up a part (understudies too); one's own without `member`.
    TakePart {
        /// Whose part changes; the desk may name anybody.
        member: Option<u32>,
        /// The fighter; nothing gives the part up.
        part: Option<String>,
    },
    /// Sets up a run and calls places for it: everybody says ready anew.
    Places {
        /// What is to be run.
        setup: Setup,
        /// The last event that the person's screen had shown ([`crate::wire::State::last_event`]): if the call stands
        /// elsewhere since, it is refused.
        #[ts(type = "string")]
        seen: EventId,
    },
    /// Sets up an item of tonight's order and calls places for it.
    PlacesFor {
        /// The item ([`crate::wire::ItemView::item`]).
        item: u32,
        /// As in [`ToServer::Places`].
        #[ts(type = "string")]
        seen: EventId,
    },
    /// Gives tonight's order, whole (desk only).
    Order {
        /// The items, in order; [`crate::call::MOST_ITEMS`] at the most.
        items: Vec<OrderItem>,
        /// The version on the screen ([`crate::wire::SubjectTold::Tonight`]): if somebody has changed the order since, it is
        /// refused.
        #[ts(type = "number")]
        seen: u64,
    },
    /// Casts somebody for a part of a fight tonight (desk only).
    Cast {
        /// The fight.
        fight: String,
        /// The fighter.
        part: String,
        /// Whom; nothing leaves it to whoever usually has the part.
        member: Option<u32>,
    },
    /// Starts the count-in.
    Start {
        /// The generation of the places that are meant.
        #[ts(type = "number")]
        generation: u64,
        /// Start although somebody is not ready or not linked; journalled with the names.
        anyway: bool,
        /// The last event that the person's screen had shown ([`crate::wire::State::last_event`]): if something has
        /// happened since that a start is decided by, it is refused.
        #[ts(type = "string")]
        seen: EventId,
    },
    /// The next move of a walk-through, or the one before. Asked for twice from the same screen it is one step.
    Step {
        /// The generation that is meant.
        #[ts(type = "number")]
        generation: u64,
        /// The step that was on the person's screen ([`crate::wire::Cue::step`]), 0 before the first.
        from: u32,
        /// Which way.
        way: Way,
    },
    /// A new speed from the next phrase on.
    Speed {
        /// Percent of performance tempo, 10 to 150.
        percent: u16,
    },
    /// Adds a note to a hold.
    Note {
        /// The hold.
        hold: u32,
        /// The words.
        text: String,
    },
    /// Says why a hold was called: after it, never with it. Whoever called it may, and desk and captain. Given again, the last
    /// one counts.
    Reason {
        /// The hold.
        hold: u32,
        /// One of the company's reasons ([`crate::wire::SubjectTold::Why`]).
        reason: String,
    },
    /// Reports that something nearly went wrong. Anybody may. Answered by [`crate::wire::ToMember::Taken`].
    NearMiss {
        /// The run that is meant.
        run: Option<u32>,
        /// Where in it.
        place: Option<MovePlace>,
        /// Whether the name goes with it. Without, no name is kept anywhere.
        named: bool,
        /// One of the company's reasons.
        reason: Option<String>,
        /// What there is to say of it.
        note: Option<String>,
    },
    /// Signs a check before the call (desk and captain). Signed again, the last signature counts.
    Sign {
        /// The check, as [`crate::wire::SubjectTold::Checks`] lists it.
        check: String,
        /// False when it is not in order.
        in_order: bool,
        /// What there is to say of it.
        note: Option<String>,
        /// Who signs, when that is somebody at the member's side.
        by: Option<String>,
    },
    /// Notes whether somebody is there (desk only).
    Attend {
        /// Their name; they need not have joined.
        person: String,
        /// Whether they are there.
        present: bool,
    },
    /// Tries the hold before a call (desk and captain): every page gets [`crate::wire::ToMember::Trial`]; the result stands
    /// among the checks.
    TryHold {},
    /// The answer to [`crate::wire::ToMember::Trial`], by the page itself.
    Tried {
        /// The trial.
        trial: u32,
        /// True when the page was in sight and has shown it.
        shown: bool,
        /// True when the device has sounded or shaken.
        felt: bool,
    },
    /// Ends the call: the run, if any, is over and everybody may go.
    EndCall {
        /// Who signs the record of the call; nothing when nobody does.
        signed_by: Option<String>,
    },
    /// How a cue came out at this member.
    Report(Fired),
    /// Asks for the invitations of every role (desk only).
    Invitations {},
    /// Makes the invitation of a role worthless and hands out a new one (desk only).
    Revoke {
        /// The role.
        role: Role,
        /// Also cut off everybody who joined with it.
        members: bool,
    },
    /// The desk changes who may come in.
    Door {
        /// How.
        ask: DoorAsk,
    },
    /// What only the sound page asks.
    Sound {
        /// What.
        ask: SoundAsk,
    },
    /// Leaves for good: the key is worth nothing afterwards.
    Leave {},
}

impl ToServer {
    /// What is asked for, in a word, for whoever must be told that it is not done; nothing for what a page says by itself.
    pub fn asks_for(&self) -> Option<&'static str> {
        match self {
            ToServer::Release { .. } => Some("release"),
            ToServer::Stop { .. } => Some("stop"),
            ToServer::Ready { .. } => Some("ready"),
            ToServer::TakePart { .. } => Some("part"),
            ToServer::Places { .. } | ToServer::PlacesFor { .. } => Some("places"),
            ToServer::Order { .. } => Some("order"),
            ToServer::Cast { .. } => Some("cast"),
            ToServer::Start { .. } => Some("start"),
            ToServer::Step { .. } => Some("step"),
            ToServer::Speed { .. } => Some("speed"),
            ToServer::Note { .. } => Some("note"),
            ToServer::Reason { .. } => Some("reason"),
            ToServer::NearMiss { .. } => Some("near-miss"),
            ToServer::Sign { .. } => Some("sign"),
            ToServer::Attend { .. } => Some("attend"),
            ToServer::EndCall { .. } => Some("end"),
            ToServer::TryHold {} => Some("try-hold"),
            ToServer::Invitations {} => Some("invitations"),
            ToServer::Revoke { .. } => Some("revoke"),
            ToServer::Door { .. } => Some("door"),
            ToServer::Sound { .. } => Some("sound"),
            ToServer::Leave {} => Some("leave"),
            ToServer::Look { .. }
            | ToServer::Join { .. }
            | ToServer::Return { .. }
            | ToServer::Clock { .. }
            | ToServer::Pulse { .. }
            | ToServer::Hold(_)
            | ToServer::Tried { .. }
            | ToServer::Show { .. }
            | ToServer::Report(_) => None,
        }
    }
}

/// An item of tonight's order, as the desk gives it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct OrderItem {
    /// Which one it is; nothing for a new one.
    pub item: Option<u32>,
    /// What is to be done.
    pub planned: PlannedView,
    /// Whether it is done; nothing leaves that as it is.
    pub done: Option<bool>,
}

/// A move of a run, as a person names it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct MovePlace {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its number in the phrase, counted from 1.
    #[serde(rename = "move")]
    pub r#move: u32,
}

/// What the desk changes of who may come in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "what", rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum DoorAsk {
    /// Somebody is taken out of the call: their pages close, and their key is worth nothing any more.
    Remove {
        /// The member.
        member: u32,
    },
    /// What somebody notes is taken, or not.
    Notes {
        /// The member.
        member: u32,
        /// Whether it is taken.
        taken: bool,
    },
    /// A newcomer is the one whose name they gave, or somebody else. The one whose name it is may say so as well as the desk.
    Same {
        /// The newcomer.
        member: u32,
        /// Whether they are.
        same: bool,
    },
    /// Every newcomer who gave the name of somebody who is not linked is that person.
    SameAll {},
    /// Newcomers are let in as a role, or not.
    Role {
        /// The role.
        role: Role,
        /// Whether they are.
        open: bool,
    },
}

/// A tap on HOLD.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct HoldTap {
    /// Chosen by the sender, never the same twice: a tap sent again after a lost link is the same tap.
    pub tap: String,
    /// The generation on the caller's screen when it was tapped.
    #[ts(type = "number")]
    pub generation: u64,
    /// True when it was tapped while there was no link.
    pub queued: bool,
    /// When it was tapped, on the server's clock as the member knew it.
    #[ts(type = "number | null")]
    pub tapped_us: Option<i64>,
    /// The number of the cue on the caller's screen when it was tapped.
    pub screen_cue: Option<u32>,
    /// Why, if there was time to say.
    pub reason: Option<String>,
}

/// What is to be run, and how.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct Setup {
    /// The fight's name, as [`crate::wire::SubjectTold::Fights`] lists it.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    #[serde(default)]
    pub weapons: Option<String>,
    /// The first phrase, counted from 0.
    pub from: u32,
    /// The move of the first phrase from which it is run, counted from 1; nothing for its beginning.
    #[serde(default)]
    pub from_move: Option<u32>,
    /// The last phrase.
    pub to: u32,
    /// Percent of performance tempo, 10 to 150.
    pub percent: u16,
    /// Beats of count-in, 0 to 64.
    pub count_in: u32,
    /// What drives the run.
    pub drive: DriveKind,
}

/// What drives a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum DriveKind {
    /// The clock: every beat has its time.
    Clock,
    /// The desk or the captain, move by move: nothing is timed.
    Step,
}

/// How a cue came out at a member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct Fired {
    /// The cue's generation.
    #[ts(type = "number")]
    pub generation: u64,
    /// The cue's number.
    pub cue: u32,
    /// When it was due.
    #[ts(type = "number")]
    pub due_us: i64,
    /// When it was shown, on the server's clock as the member knows it; nothing if it came too late to be shown.
    #[ts(type = "number | null")]
    pub fired_us: Option<i64>,
    /// The bound of the member's clock error then.
    #[ts(type = "number | null")]
    pub bound_us: Option<i64>,
}
