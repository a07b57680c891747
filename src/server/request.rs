//! What connections ask of the hub. Holds do not come this way: they have a lane of their own.

use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};

use super::device_kind::DeviceKind;
use super::ending::End;
use super::past::PastTimes;
use crate::call::{
    Act, Drive, Fight, HoldId, Input, MemberId, Ordered, Planned, Pulling, Reported, Role, SetupRequest, Step, Tap,
    TrialAnswer, UsualEvening, Why,
};
use crate::event::Who;
use crate::names;
use crate::sound::Library;
use crate::units::{Generation, Micros};
use crate::wire::{
    DoorAsk, DriveKind, Fired, HoldTap, OrderItem, PartChoice, PlannedView, Setup, SoundAsk, Subject, ToMember,
    ToServer,
};

/// The longest name of a tap, in bytes.
const LONGEST_TAP: usize = 64;
/// The longest name of a page, in bytes.
const LONGEST_PAGE: usize = 64;

/// The number of a connection; a member who comes back has a new one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct LinkId(pub(super) u64);

/// Who says something, and over which of their lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Speaker {
    pub(super) member: MemberId,
    pub(super) link: LinkId,
}

/// Holds, on a lane of their own, in front of everything.
#[derive(Debug)]
pub(super) enum HoldLane {
    /// The brake was pulled. Everybody has the stop already.
    Pulled(Pulling),
    /// The stop of a pull was written to so many lines, and how long that took from the read that held the tap.
    Stopped { lines: usize, took: Micros },
    /// A tap that did not pull: its sender is to be answered.
    Tap(MemberId, Tap),
}

/// What the sockets' thread tells of its lines.
#[derive(Debug)]
pub(super) enum LineNews {
    /// A member has been silent for a second.
    Silent(MemberId, LinkId),
    /// A silent member was heard again.
    Heard(MemberId, LinkId),
    /// A line has ended, and why.
    Closed(MemberId, LinkId, End),
    /// Every line has ended: the thread failed and has begun again.
    AllClosed,
}

/// What is on disk now. From the journal's thread, which waits for nothing.
#[derive(Debug)]
pub(super) enum Written {
    /// A hold, or one more call of it.
    Hold { hold: HoldId, tap: Option<(MemberId, String)> },
    /// A tap that came too late to hold anything.
    Late { member: MemberId, tap: String },
}

impl Written {
    /// What the call is told of it.
    pub(super) fn input(self) -> Input {
        match self {
            Written::Hold { hold, tap } => Input::HoldWritten { hold, tap },
            Written::Late { member, tap } => Input::LateWritten { member, tap },
        }
    }
}

/// What the hub is told of keeping.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Keeping {
    /// Why choices of the sound page are not on disk.
    pub(super) sound: Option<String>,
    /// Why invitations are not on disk.
    pub(super) invitations: Option<String>,
    /// Who made invitations new that could not be written.
    pub(super) inviters: Vec<LinkId>,
}

/// Everything else.
#[derive(Debug)]
pub(super) enum Request {
    /// What is this invitation for?
    Look { invitation: String, reply: oneshot::Sender<Result<Looked, Refusal>> },
    /// An invitation is traded for a key.
    Join { joins: Joins, device: DeviceKind, link: LinkId, reply: oneshot::Sender<Result<Admitted, Refusal>> },
    /// A page has answered a trial of the hold.
    Tried { by: Speaker, trial: u32, answer: TrialAnswer },
    /// Somebody comes back with a key.
    Return { comes: Comes, device: DeviceKind, link: LinkId, reply: oneshot::Sender<Result<Admitted, Refusal>> },
    /// Whose key is this? Asked for what comes over HTTP.
    Who { key: String, reply: oneshot::Sender<Option<Asker>> },
    /// A member asks the call for something.
    Act(Speaker, Act),
    /// Something nearly went wrong; `said` is without a name, which is kept only if it is to be.
    NearMiss { by: Speaker, named: bool, said: Reported },
    /// A page says how it is.
    Pulse { by: Speaker, visible: bool, bound: Option<Micros> },
    /// A member's device says how a cue came out.
    Report(MemberId, Fired),
    /// A page shows these subjects and no others.
    Show(LinkId, Vec<Subject>),
    /// The desk wants the invitations.
    Invitations(Speaker),
    /// The desk makes an invitation worthless.
    Revoke { by: Speaker, role: Role, members: bool },
    /// The desk changes who may come in.
    Door { by: Speaker, ask: DoorAsk },
    /// What the sound page asks.
    Sound(Speaker, SoundAsk),
    /// Something that was worked out elsewhere is to be said over a line.
    Say(LinkId, Box<ToMember>),
    /// What was chosen at the desk or on the sound page was written, or could not be.
    Kept(Keeping),
    /// A member leaves for good.
    Leave(MemberId),
    /// The foot switch asks for the next move.
    FootStep,
    /// The scores, the company's checks, its reasons and its evenings were read anew.
    Fights { fights: Vec<Arc<Fight>>, checks: Vec<String>, why: Why, evening: UsualEvening, troubles: Vec<String> },
    /// How long things took before.
    Past(PastTimes),
    /// The recordings were read anew.
    Recordings(Box<Library>),
    /// The production's files cannot be read as they are now; what was read before stays.
    Trouble(String),
}

/// Somebody comes with an invitation.
#[derive(Debug)]
pub(super) struct Joins {
    pub(super) invitation: String,
    pub(super) name: String,
    pub(super) part: Option<String>,
    /// The page that they come with.
    pub(super) page: Option<String>,
}

/// Somebody comes back.
#[derive(Debug)]
pub(super) struct Comes {
    pub(super) key: String,
    /// The page that they come with; a page that gives no name is another one each time.
    pub(super) page: Option<String>,
    /// The names of the taps that came with the key: what became of them is told over the new link.
    pub(super) taps: Vec<String>,
}

/// The answer to a look.
#[derive(Debug)]
pub(super) struct Looked {
    pub(super) production: String,
    pub(super) role: Role,
    pub(super) parts: Vec<PartChoice>,
}

/// Somebody is in. Their welcome waits for their socket already.
#[derive(Clone, Copy, Debug)]
pub(super) struct Admitted {
    pub(super) member: MemberId,
}

/// Who asks for something over HTTP.
#[derive(Clone, Debug)]
pub(super) struct Asker {
    pub(super) member: MemberId,
    pub(super) name: String,
    pub(super) role: Role,
}

impl Asker {
    /// Who asks, as an event names them.
    pub(super) fn who(&self) -> Who {
        Who { name: self.name.clone(), member: self.member.of_person(), role: Some(self.role) }
    }
}

/// Somebody is not let in.
#[derive(Debug)]
pub(super) struct Refusal {
    /// A sentence for a person.
    pub(super) reason: String,
    /// What they can do.
    pub(super) then: Then,
}

/// What somebody can do who is not let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Then {
    /// Nothing with this secret.
    Nothing,
    /// Say it otherwise, or again, over the same connection.
    SayAgain,
    /// Come again a while later, by itself.
    ComeAgain,
}

/// The way from connections to the hub.
#[derive(Clone, Debug)]
pub(super) struct ToHub {
    pub(super) holds: mpsc::UnboundedSender<HoldLane>,
    pub(super) lines: mpsc::UnboundedSender<LineNews>,
    pub(super) written: mpsc::UnboundedSender<Written>,
    pub(super) requests: mpsc::Sender<Request>,
}

impl ToHub {
    /// Taps that can hold nothing any more, whatever they were meant for.
    pub(super) fn too_late(&self, member: MemberId, taps: Vec<Tap>) {
        for tap in taps {
            // A hub that is gone has stopped everything.
            let _ = self.holds.send(HoldLane::Tap(member, tap));
        }
    }
}

fn ordered(OrderItem { item, planned, done }: OrderItem) -> Ordered {
    let PlannedView { fight, weapons, from, to, percent, count_in } = planned;
    Ordered { id: item, planned: Planned { fight, weapons, from, to, percent, count_in }, done }
}

fn setup_of(setup: Setup) -> SetupRequest {
    SetupRequest {
        fight: setup.fight,
        weapons: setup.weapons,
        first: usize::try_from(setup.from).unwrap_or(usize::MAX),
        from_move: setup.from_move,
        last: usize::try_from(setup.to).unwrap_or(usize::MAX),
        percent: setup.percent,
        count_in: setup.count_in,
        drive: match setup.drive {
            DriveKind::Clock => Drive::Clock,
            DriveKind::Step => Drive::Step,
        },
    }
}

/// A message in the hub's own words; nothing for those that the hub does not take.
pub(super) fn request_of(by: Speaker, message: ToServer) -> Option<Request> {
    let Speaker { member, link } = by;
    let act = |act| Request::Act(by, act);
    Some(match message {
        ToServer::Look { .. }
        | ToServer::Join { .. }
        | ToServer::Return { .. }
        | ToServer::Clock { .. }
        | ToServer::Hold(_) => return None,
        ToServer::Pulse { visible, bound_us, .. } => {
            Request::Pulse { by, visible, bound: bound_us.map(|bound| Micros(bound.clamp(0, 3_600_000_000))) }
        }
        ToServer::Release { hold, seen } => act(Act::Release { hold: HoldId(hold), seen }),
        ToServer::Stop { reason } => act(Act::Stop(reason)),
        ToServer::Ready { ready, generation } => act(Act::Ready { ready, generation: Generation(generation) }),
        ToServer::TakePart { member: whose, part } => {
            act(Act::TakePart { member: whose.map_or(member, MemberId), part })
        }
        ToServer::Places { setup, seen } => act(Act::Places { request: setup_of(setup), seen }),
        ToServer::PlacesFor { item, seen } => act(Act::PlacesFor { item, seen }),
        ToServer::Order { items, seen } => act(Act::Order { items: items.into_iter().map(ordered).collect(), seen }),
        ToServer::Cast { fight, part, member: whom } => act(Act::Cast { fight, part, member: whom.map(MemberId) }),
        ToServer::Start { generation, anyway, seen } => {
            act(Act::Start { generation: Generation(generation), anyway, seen })
        }
        ToServer::Step { generation, from, way } => {
            act(Act::Step(Step { generation: Generation(generation), from: Some(from), way }))
        }
        ToServer::Speed { percent } => act(Act::Speed(percent)),
        ToServer::Note { hold, text } => act(Act::Note { hold: HoldId(hold), text }),
        ToServer::Reason { hold, reason } => act(Act::Reason { hold: HoldId(hold), reason }),
        ToServer::NearMiss { run, place, named, reason, note } => {
            let at = place.map(|place| (place.phrase, place.r#move));
            Request::NearMiss { by, named, said: Reported { by: None, run, at, reason, note } }
        }
        ToServer::Sign { check, in_order, note, by } => {
            act(Act::Sign { check, in_order, note, by: by.map(|by| names::tidied(&by)) })
        }
        ToServer::Attend { person, present } => act(Act::Attend { person: names::tidied(&person), present }),
        ToServer::EndCall { signed_by } => act(Act::EndCall { signed_by: signed_by.map(|by| names::tidied(&by)) }),
        ToServer::TryHold {} => act(Act::TryHold),
        ToServer::Tried { trial, shown, felt } => Request::Tried { by, trial, answer: TrialAnswer { shown, felt } },
        ToServer::Show { subjects } => Request::Show(link, subjects),
        ToServer::Report(fired) => Request::Report(member, fired),
        ToServer::Invitations {} => Request::Invitations(by),
        ToServer::Revoke { role, members } => Request::Revoke { by, role, members },
        ToServer::Door { ask } => Request::Door { by, ask },
        ToServer::Sound { ask } => Request::Sound(by, ask),
        ToServer::Leave {} => Request::Leave(member),
    })
}

/// The name of a page as it is kept.
pub(super) fn page_name(page: Option<String>) -> Option<String> {
    page.map(|page| clip(page, LONGEST_PAGE))
}

/// A tap as the call knows it.
pub(super) fn tap_of(tap: HoldTap) -> Tap {
    Tap {
        id: clip(tap.tap, LONGEST_TAP),
        generation: Generation(tap.generation),
        queued: tap.queued,
        screen_cue: tap.screen_cue,
        reason: tap.reason,
    }
}

fn clip(mut text: String, most: usize) -> String {
    if text.len() > most {
        let end = (0..=most).rev().find(|end| text.is_char_boundary(*end)).unwrap_or(0);
        text.truncate(end);
    }
    text
}
