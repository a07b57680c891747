//! Who is in: invitations, keys, and the line that each member has. It is driven like the call: the hub lends it the call
//! and tells it the time of day, and it answers with deeds.

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::Timestamp;
use tracing::info;

use self::claims::Claims;
use super::close;
use super::deed::{Deed, Goodbye};
use super::device_kind::DeviceKind;
use super::directory::Directory;
use super::pace::Comings;
use super::pages_open::{MOST_PAGES, PagesOpen, Superseded};
use super::reached::{Limit, Reached};
use super::request::{Admitted, Asker, Comes, LineNews, LinkId, Refusal, Speaker, Then};
use crate::call::{Call, Input, MemberId, Power};
use crate::event::Who;
use crate::journal::{Parting, Record};
use crate::names::Likeness;
use crate::units::ServerTime;
use crate::wire::Back;

mod claims;
mod door;
mod invitations;
mod joining;
mod near_misses;
mod texts;

/// What somebody reads whose notes are not taken.
pub(super) const NO_NOTES: &str = "The stage manager takes no notes from this page now. Say it to them.";

/// What newcomers are told of the house.
pub(super) struct Address {
    pub(super) production: String,
    pub(super) base_url: String,
    /// The same over HTTPS, where it is served.
    pub(super) secure_url: Option<String>,
    /// The fingerprint of the authority behind the certificate, where that is ours.
    pub(super) fingerprint: Option<String>,
}

/// How somebody came, and what the desk takes from them.
#[derive(Clone, Debug)]
pub(super) struct Came {
    likeness: Likeness,
    /// When they joined.
    pub(super) joined: Timestamp,
    /// With what kind of device they came last; nothing before they are back after a start of the server.
    pub(super) device: Option<DeviceKind>,
    pub(super) notes_taken: bool,
    /// The name that they gave; it may be another's.
    named: Likeness,
    /// The name of the page that they joined with.
    page: Option<String>,
}

/// Somebody who joined before this start of the server.
pub(super) struct JoinedBefore {
    pub(super) member: MemberId,
    pub(super) name: String,
    pub(super) joined: Timestamp,
    pub(super) notes_taken: bool,
    /// Whose name they gave, while nobody has said whether they are that person.
    pub(super) claims: Option<MemberId>,
}

/// Who is in.
pub(super) struct Company {
    address: Address,
    directory: Directory,
    open: PagesOpen,
    came: BTreeMap<MemberId, Came>,
    claims: Claims,
    /// How quickly they come.
    comings: Comings,
    reached: Arc<Reached>,
    next_member: u32,
    /// Why the invitations that are in use are not on disk.
    unkept: Option<String>,
}

impl Company {
    /// A company of those who joined before this start of the server.
    pub(super) fn new(
        address: Address,
        directory: Directory,
        joined: Vec<JoinedBefore>,
        (next_member, reached): (u32, Arc<Reached>),
    ) -> Company {
        let comings = Comings::of(reached.limits());
        let (mut came, mut claims) = (BTreeMap::new(), Claims::default());
        for JoinedBefore { member, name, joined, notes_taken, claims: of } in joined {
            let likeness = Likeness::of(&name);
            let named = likeness.clone();
            came.insert(member, Came { likeness, joined, device: None, notes_taken, named, page: None });
            if let Some(of) = of {
                claims.add(member, of);
            }
        }
        Company {
            address,
            directory,
            open: PagesOpen::default(),
            came,
            claims,
            comings,
            reached,
            next_member,
            unkept: None,
        }
    }

    /// The same, and why the invitations that are in use are not on disk.
    pub(super) fn unkept_because(self, unkept: Option<String>) -> Company {
        Company { unkept, ..self }
    }

    /// How a member came.
    pub(super) fn came(&self, member: MemberId) -> Option<&Came> {
        self.came.get(&member)
    }

    /// Whose name a newcomer gave, while nobody has said whether they are that person.
    pub(super) fn claims(&self, newcomer: MemberId) -> Option<MemberId> {
        self.claims.of(newcomer)
    }

    /// The newcomers who gave a member's name.
    pub(super) fn newcomers(&self, of: MemberId) -> Vec<MemberId> {
        self.claims.newcomers(of)
    }

    /// Whether the desk takes what somebody notes.
    pub(super) fn takes_notes_of(&self, member: MemberId) -> bool {
        self.came.get(&member).is_none_or(|came| came.notes_taken)
    }

    /// The lines of some members, of every page that they have open.
    pub(super) fn lines<'a>(&self, members: impl IntoIterator<Item = &'a MemberId>) -> Vec<LinkId> {
        members.into_iter().flat_map(|member| self.open.lines(*member)).collect()
    }

    /// True while nobody has a page open.
    pub(super) fn is_empty(&self) -> bool {
        self.open.all().next().is_none()
    }

    /// The production's name.
    pub(super) fn production(&self) -> &str {
        &self.address.production
    }

    /// Why the invitations that are in use are not on disk.
    pub(super) fn unkept(&self) -> Option<&String> {
        self.unkept.as_ref()
    }

    /// The keys, for those who read sockets.
    pub(super) fn directory(&self) -> &Directory {
        &self.directory
    }

    /// The server stops: everybody is told.
    pub(super) fn end(&self) -> Vec<Deed> {
        let reason = "The server is stopping. This page comes back by itself.";
        self.open.all().map(|page| goodbye(page.link, reason, close::GOING_AWAY, Back::ByItself)).collect()
    }

    /// What has become of a line. A member is lost with the last of their pages that is heard. What is told of a line that
    /// a member has no more is nothing.
    pub(super) fn line(&mut self, call: &Call, news: LineNews) -> Vec<Deed> {
        match news {
            LineNews::Silent(member, link) => {
                let known = self.open.is_heard(Speaker { member, link }, false);
                self.heard_or_lost(member, known)
            }
            LineNews::Heard(member, link) => {
                let known = self.open.is_heard(Speaker { member, link }, true);
                self.heard_or_lost(member, known)
            }
            LineNews::Closed(member, link, end) => {
                let page = Speaker { member, link };
                if !self.open.close(page) {
                    return Vec::new();
                }
                let name = call.roster().get(member).map(|known| known.name.as_str()).unwrap_or_default();
                info!(name, "link closed: {end}");
                if end.code() == close::TOO_MANY {
                    self.reached.note(Limit::Messages(name.to_owned()));
                }
                let mut deeds = vec![Deed::Unlinked(page)];
                deeds.extend(self.heard_or_lost(member, true));
                deeds
            }
            LineNews::AllClosed => {
                let pages: Vec<Speaker> = std::mem::take(&mut self.open).all().collect();
                let gone = |page: Speaker| [Deed::Unlinked(page), Deed::Give(Input::LinkLost(page.member))];
                pages.into_iter().flat_map(gone).collect()
            }
        }
    }

    /// The call is told whether somebody is linked whose line has changed; it knows what is news.
    fn heard_or_lost(&self, member: MemberId, changed: bool) -> Vec<Deed> {
        let input = if self.open.hears(member) { Input::LinkBack(member) } else { Input::LinkLost(member) };
        changed.then_some(Deed::Give(input)).into_iter().collect()
    }

    /// Whose key that is.
    pub(super) fn who(&self, call: &Call, key: &str) -> Option<Asker> {
        let member = self.directory.member_of(key)?;
        let known = call.roster().get(member)?;
        Some(Asker { member, name: known.name.clone(), role: known.role })
    }

    /// Somebody comes back with a key: with a page that they had before, or with one more.
    ///
    /// # Errors
    /// The key is nobody's.
    pub(super) fn come_back(
        &mut self,
        call: &Call,
        comes: Comes,
        (link, device): (LinkId, DeviceKind),
        now: ServerTime,
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let Comes { key, page, taps } = comes;
        let known = self.directory.member_of(&key).and_then(|id| Some((id, call.roster().get(id)?)));
        let Some((member, known)) = known else {
            let reason =
                "This device's key is not valid any more. Open your invitation again, or ask the stage manager.";
            return Err(Refusal { reason: reason.to_owned(), then: Then::Nothing });
        };
        if !self.comings.returns(member, now) {
            self.reached.note(Limit::Returns(known.name.clone()));
            let reason = "This page comes back too often. It tries again by itself.".to_owned();
            return Err(Refusal { reason, then: Then::ComeAgain });
        }
        let by = Speaker { member, link };
        let mut deeds = vec![Deed::Open(link, member)];
        let ended = self.open.open(by, page);
        let is_over = ended.is_some_and(|(ended, _)| ended == by);
        deeds.extend(ended.into_iter().flat_map(superseded));
        if is_over {
            return Ok((deeds, Admitted { member }));
        }
        if let Some(came) = self.came.get_mut(&member) {
            came.device = Some(device);
        }
        deeds.extend([
            Deed::Give(Input::LinkBack(member)),
            // The call may have known nothing of a lost link; its loss holds over the new one all the same.
            Deed::Watch,
            Deed::Welcome(by, None),
            // The call may have taken them before the return, and have answered over the link that is gone.
            Deed::Answer(member, taps),
        ]);
        Ok((deeds, Admitted { member }))
    }

    /// A member leaves for good.
    pub(super) fn leave(&mut self, member: MemberId, utc: Timestamp) -> Vec<Deed> {
        self.directory.forget(member);
        let reason = "You have left. To come back, open your invitation again.";
        self.part_from(member, reason, Parting::Left, utc)
    }

    /// A member has come by another way: the key that they had may only hold from now on.
    fn replace(&mut self, old: MemberId, utc: Timestamp) -> Vec<Deed> {
        self.directory.replace(old);
        self.part_from(old, "The same person has joined anew on another device.", Parting::Replaced, utc)
    }

    fn part_from(&mut self, member: MemberId, reason: &str, parting: Parting, utc: Timestamp) -> Vec<Deed> {
        let code = match parting {
            Parting::Left => close::NORMAL,
            Parting::Replaced => close::REPLACED,
            Parting::Removed => close::REVOKED,
        };
        self.came.remove(&member);
        self.claims.forget(member);
        self.comings.forget(member);
        let revoked = Record::MemberRevoked { member: member.0, parting, utc };
        let mut deeds = vec![Deed::Record(revoked), Deed::Forget(member)];
        for page in self.open.close_all(member) {
            deeds.extend([Deed::Unlinked(page), goodbye(page.link, reason, code, Back::Never)]);
        }
        deeds.push(Deed::Give(Input::Gone(member)));
        deeds
    }

    /// Invitations could not be written, or could be again; `inviters` made them.
    pub(super) fn kept(&mut self, trouble: Option<String>, inviters: Vec<LinkId>) -> Vec<Deed> {
        let refuse = |link| Deed::Refuse(link, "revoke", trouble.clone().unwrap_or_default());
        let mut deeds: Vec<Deed> = inviters.into_iter().map(refuse).collect();
        if self.unkept != trouble {
            self.unkept = trouble;
            deeds.push(Deed::Changed);
        }
        deeds
    }
}

fn goodbye(link: LinkId, reason: &str, code: u16, back: Back) -> Deed {
    Deed::Goodbye(Goodbye { link, reason: reason.to_owned(), code, back })
}

/// A page's line ends because of another one.
fn superseded((page, why): (Speaker, Superseded)) -> [Deed; 2] {
    let goodbye = match why {
        Superseded::SamePage => goodbye(page.link, "This page has a new link.", close::REPLACED, Back::ByItself),
        Superseded::OneTooMany => {
            let reason = format!("You have opened {MOST_PAGES} other pages since, so this one was closed.");
            goodbye(page.link, &reason, close::REPLACED, Back::WhenAsked)
        }
    };
    [Deed::Unlinked(page), goodbye]
}

/// A member, as an event names them.
fn who(call: &Call, member: MemberId) -> Option<Who> {
    let known = call.roster().get(member)?;
    Some(Who { name: known.name.clone(), member: member.of_person(), role: Some(known.role) })
}

fn may_invite(call: &Call, member: MemberId) -> Result<(), String> {
    let may = call.roster().get(member).is_some_and(|member| member.role.may(Power::Invite));
    may.then_some(()).ok_or_else(|| "Only the stage manager decides who comes in.".to_owned())
}
