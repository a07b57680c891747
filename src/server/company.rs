//! Who is in: invitations, keys, and the line that each member has. It is driven like the call: the hub lends it the call
//! and tells it the time of day, and it answers with deeds.

use std::collections::BTreeMap;

use jiff::Timestamp;
use tracing::info;

use super::deed::{Deed, Goodbye};
use super::device_kind::DeviceKind;
use super::digest::digest;
use super::directory::{Directory, NoEntry};
use super::keeper::Keep;
use super::pages_open::{MOST_PAGES, PagesOpen, Superseded};
use super::request::{Admitted, Asker, Comes, Joins, LineNews, LinkId, Looked, Refusal, Speaker};
use super::{close, qr};
use crate::call::{Call, Input, Member, MemberId, Power, Role};
use crate::event::{DoorChange, What, Who};
use crate::hex;
use crate::journal::{MemberJoined, Record};
use crate::names::{self, Likeness};
use crate::wire::{Back, DoorAsk, InvitationView, PartChoice, SecureLink, ToMember};

/// What newcomers are told of the house.
pub(super) struct Place {
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
}

/// Who is in.
pub(super) struct Company {
    place: Place,
    directory: Directory,
    open: PagesOpen,
    came: BTreeMap<MemberId, Came>,
    next_member: u32,
    /// Why the invitations that are in use are not on disk.
    unkept: Option<String>,
}

impl Company {
    /// A company of those who joined before this start of the server, each with their name and when they joined.
    pub(super) fn new(
        place: Place,
        directory: Directory,
        joined: BTreeMap<MemberId, (String, Timestamp)>,
        next_member: u32,
    ) -> Company {
        let came = |(id, (name, joined)): (MemberId, (String, Timestamp))| {
            (id, Came { likeness: Likeness::of(&name), joined, device: None, notes_taken: true })
        };
        let (open, came) = (PagesOpen::default(), joined.into_iter().map(came).collect());
        Company { place, directory, open, came, next_member, unkept: None }
    }

    /// The same, and why the invitations that are in use are not on disk.
    pub(super) fn unkept_because(self, unkept: Option<String>) -> Company {
        Company { unkept, ..self }
    }

    /// How a member came.
    pub(super) fn came(&self, member: MemberId) -> Option<&Came> {
        self.came.get(&member)
    }

    /// Whether the desk takes what somebody notes.
    pub(super) fn takes_notes_of(&self, member: MemberId) -> bool {
        self.came.get(&member).is_none_or(|came| came.notes_taken)
    }

    /// The lines of some members, of every page that they have open.
    pub(super) fn lines<'a>(&self, members: impl IntoIterator<Item = &'a MemberId>) -> Vec<LinkId> {
        members.into_iter().flat_map(|member| self.open.lines(*member)).collect()
    }

    /// The production's name.
    pub(super) fn production(&self) -> &str {
        &self.place.production
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
            LineNews::Closed(member, link, why) => {
                let page = Speaker { member, link };
                if !self.open.close(page) {
                    return Vec::new();
                }
                let name = call.roster().get(member).map(|known| known.name.as_str()).unwrap_or_default();
                info!(name, "link closed: {why}");
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

    /// What an invitation is for.
    ///
    /// # Errors
    /// It is good for nothing, or no longer.
    pub(super) fn look(&self, call: &Call, invitation: &str, utc: Timestamp) -> Result<Looked, Refusal> {
        let role = self.invited(invitation, utc)?;
        let parts = if role.may(Power::Perform) { parts_to_play(call) } else { Vec::new() };
        Ok(Looked { production: self.place.production.clone(), role, parts })
    }

    fn invited(&self, invitation: &str, utc: Timestamp) -> Result<Role, Refusal> {
        self.directory.role_of(invitation, utc).map_err(|why| Refusal {
            reason: match why {
                NoEntry::Unknown => {
                    "This invitation is not valid, or no longer. Ask the stage manager for a new one.".to_owned()
                }
                NoEntry::RanOut(at) => {
                    let day = at.strftime("%Y-%m-%d");
                    format!(
                        "This invitation has run out: it was good until {day}. Ask the stage manager for a new one."
                    )
                }
                NoEntry::Closed(role) => {
                    let title = role.title();
                    format!("Nobody new is let in as {title} now. Ask the stage manager to let you in, then try again.")
                }
            },
            for_good: !matches!(why, NoEntry::Closed(_)),
        })
    }

    /// Somebody trades an invitation for a key.
    ///
    /// # Errors
    /// Why they are not let in; nothing has happened then.
    pub(super) fn join(
        &mut self,
        call: &Call,
        joins: Joins,
        (link, device): (LinkId, DeviceKind),
        utc: Timestamp,
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let Joins { invitation, name, part, page } = joins;
        let role = self.invited(&invitation, utc)?;
        let again = |reason: String| Refusal { reason, for_good: false };
        let name = names::checked(&name).map_err(again)?;
        let likeness = Likeness::of(&name);
        let before = self.place_taken_over(call, (&name, &likeness), role).map_err(again)?;
        if let Some(part) = &part {
            part_is_free(call, part, role, before.as_ref().map(|(id, _)| *id)).map_err(again)?;
        }
        let member = MemberId(self.next_member);
        let key = self.directory.admit(member, role).map_err(|error| again(error.to_string()))?;
        self.next_member += 1;
        let part = part.or_else(|| before.as_ref().and_then(|(_, member)| member.part.clone()));
        let mut deeds = Vec::new();
        if let Some((old, _)) = before {
            self.directory.replace(old);
            let reason = "The same person has joined anew on another device.";
            deeds.extend(self.part_from(old, reason, close::REPLACED, utc));
        }
        let key_sha256 = hex::encode(&digest(&key));
        let (joined, of) = (name.clone(), part.clone());
        let joined = MemberJoined { member: member.0, name: joined, role, part: of, key_sha256, utc };
        let by = Speaker { member, link };
        self.open.open(by, page);
        self.came.insert(member, Came { likeness, joined: utc, device: Some(device), notes_taken: true });
        deeds.extend([
            Deed::Record(Record::MemberJoined(joined)),
            Deed::Open(link, member),
            Deed::Give(Input::Joined { member, name, role, part }),
            Deed::Welcome(by, Some(key)),
        ]);
        Ok((deeds, Admitted { member }))
    }

    /// A name stands for one person. Whoever lost their link may come back by invitation under the same name, and takes the
    /// place of who they were; a name that could only be mistaken for theirs is refused.
    fn place_taken_over(
        &self,
        call: &Call,
        (name, likeness): (&str, &Likeness),
        role: Role,
    ) -> Result<Option<(MemberId, Member)>, String> {
        let find = |is_it: fn(&Likeness, &Likeness) -> bool| {
            let found = self.came.iter().filter(|(_, came)| is_it(&came.likeness, likeness));
            found.filter_map(|(id, _)| Some((*id, call.roster().get(*id)?))).next()
        };
        match find(Likeness::is_same) {
            Some((id, member)) if member.role == role && !member.linked => Ok(Some((id, member.clone()))),
            Some(_) => Err(format!("Somebody here is already called {name}. Add a letter or a second name.")),
            None => match find(Likeness::is_like) {
                Some((_, member)) => Err(format!(
                    "That looks like {}, who is here already. Add a second name, so that nobody mixes you up.",
                    member.name
                )),
                None => Ok(None),
            },
        }
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
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let Comes { key, page, taps } = comes;
        let known = self.directory.member_of(&key).filter(|member| call.roster().get(*member).is_some());
        let Some(member) = known else {
            let reason =
                "This device's key is not valid any more. Open your invitation again, or ask the stage manager.";
            return Err(Refusal { reason: reason.to_owned(), for_good: true });
        };
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
        self.part_from(member, "You have left. To come back, open your invitation again.", close::NORMAL, utc)
    }

    fn part_from(&mut self, member: MemberId, reason: &str, code: u16, utc: Timestamp) -> Vec<Deed> {
        self.came.remove(&member);
        let mut deeds = vec![Deed::Record(Record::MemberRevoked { member: member.0, utc }), Deed::Forget(member)];
        for page in self.open.close_all(member) {
            deeds.extend([Deed::Unlinked(page), goodbye(page.link, reason, code, Back::Never)]);
        }
        deeds.push(Deed::Give(Input::Gone(member)));
        deeds
    }

    /// The desk wants the invitations.
    pub(super) fn invitations(&self, call: &Call, by: Speaker, utc: Timestamp) -> Vec<Deed> {
        match may_invite(call, by.member) {
            Ok(()) => vec![self.invitations_to(by.link, utc)],
            Err(reason) => vec![Deed::Refuse(by.link, "invitations", reason)],
        }
    }

    fn invitations_to(&self, link: LinkId, utc: Timestamp) -> Deed {
        Deed::Say(
            link,
            Box::new(ToMember::Invitations {
                invitations: self.invitation_views(utc),
                fingerprint: self.place.fingerprint.clone(),
            }),
        )
    }

    fn invitation_views(&self, utc: Timestamp) -> Vec<InvitationView> {
        let link = |base: &str, secret: &str| format!("{base}/join#{secret}");
        let Place { base_url, secure_url, .. } = &self.place;
        // Where phones have HTTPS alone there is one link, not two.
        let secure = secure_url.as_deref().filter(|url| *url != base_url);
        let view = |(role, invitation): (Role, &super::directory::Invitation)| InvitationView {
            role,
            link: link(base_url, invitation.secret.reveal()),
            qr_svg: qr::svg(&link(base_url, invitation.secret.reveal())),
            secure: secure
                .map(|base| link(base, invitation.secret.reveal()))
                .map(|link| SecureLink { qr_svg: qr::svg(&link), link }),
            joined: invitation.joined,
            until: invitation.until.to_string(),
            ran_out: utc >= invitation.until,
            closed: invitation.closed,
        };
        self.directory.invitations().map(view).collect()
    }

    /// The desk makes an invitation worthless, and with `members` those who came with it.
    pub(super) fn revoke(
        &mut self,
        call: &Call,
        (by, role, members): (Speaker, Role, bool),
        utc: Timestamp,
    ) -> Vec<Deed> {
        let renewed = may_invite(call, by.member)
            .and_then(|()| self.directory.renew(role, utc).map_err(|error| error.to_string()));
        if let Err(reason) = renewed {
            return vec![Deed::Refuse(by.link, "revoke", reason)];
        }
        let keep = Keep::Invitations(self.directory.to_keep(), by.link);
        let mut deeds = vec![Deed::Keep(keep), Deed::Note(who(call, by.member), What::Invitation { role })];
        if members {
            let reason = "Your invitation was withdrawn. Ask the stage manager for a new one.";
            for revoked in self.directory.joined_as(role).into_iter().filter(|revoked| *revoked != by.member) {
                deeds.extend(self.put_out(revoked, reason, utc));
            }
        }
        deeds.push(self.invitations_to(by.link, utc));
        deeds
    }

    /// The desk changes who may come in. Every change is written down, with whoever made it.
    pub(super) fn door(&mut self, call: &Call, by: Speaker, ask: DoorAsk, utc: Timestamp) -> Vec<Deed> {
        let changed = may_invite(call, by.member).and_then(|()| match ask {
            DoorAsk::Remove { member } => self.take_out(call, by.member, MemberId(member), utc),
            DoorAsk::Notes { member, taken } => self.take_notes(call, MemberId(member), taken),
            DoorAsk::Role { role, open } => Ok(self.open_role(by.link, role, open, utc)),
        });
        let (change, mut deeds) = match changed {
            Ok(Some(changed)) => changed,
            Ok(None) => return Vec::new(),
            Err(reason) => return vec![Deed::Refuse(by.link, "door", reason)],
        };
        deeds.insert(0, Deed::Note(who(call, by.member), What::Door(change)));
        deeds
    }

    fn take_out(&mut self, call: &Call, by: MemberId, whom: MemberId, utc: Timestamp) -> Result<Change, String> {
        let name = name_of(call, whom)?;
        if by == whom {
            return Err("You cannot take yourself out of the call. Somebody else at the desk can.".to_owned());
        }
        let reason = "The stage manager has taken you out of the call. Ask them for a new invitation.";
        Ok(Some((DoorChange::Removed { name }, self.put_out(whom, reason, utc))))
    }

    /// The desk lets go of a member: their key may do nothing any more, and their lines are closed.
    fn put_out(&mut self, member: MemberId, reason: &str, utc: Timestamp) -> Vec<Deed> {
        self.directory.remove(member);
        self.part_from(member, reason, close::REVOKED, utc)
    }

    fn take_notes(&mut self, call: &Call, whom: MemberId, taken: bool) -> Result<Change, String> {
        let name = name_of(call, whom)?;
        let came = self.came.get_mut(&whom).filter(|came| came.notes_taken != taken);
        let changed = came.map(|came| came.notes_taken = taken).is_some();
        let change = if taken { DoorChange::NotesTaken { name } } else { DoorChange::NotesRefused { name } };
        Ok(changed.then(|| (change, vec![Deed::Changed])))
    }

    fn open_role(&mut self, link: LinkId, role: Role, open: bool, utc: Timestamp) -> Change {
        let change = if open { DoorChange::Opened { role } } else { DoorChange::Closed { role } };
        let changed = self.directory.close(role, !open);
        let keep = || Deed::Keep(Keep::Invitations(self.directory.to_keep(), link));
        changed.then(|| (change, vec![keep(), self.invitations_to(link, utc)]))
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

/// What the desk changed, and what is to be done for it; nothing when it was so before.
type Change = Option<(DoorChange, Vec<Deed>)>;

/// A member, as an event names them.
fn who(call: &Call, member: MemberId) -> Option<Who> {
    let known = call.roster().get(member)?;
    Some(Who { name: known.name.clone(), member: member.of_person(), role: Some(known.role) })
}

/// What somebody in the call is called.
fn name_of(call: &Call, member: MemberId) -> Result<String, String> {
    let known = call.roster().get(member);
    known.map(|known| known.name.clone()).ok_or_else(|| "That person has left. Look at the list again.".to_owned())
}

fn may_invite(call: &Call, member: MemberId) -> Result<(), String> {
    let may = call.roster().get(member).is_some_and(|member| member.role.may(Power::Invite));
    may.then_some(()).ok_or_else(|| "Only the stage manager decides who comes in.".to_owned())
}

/// Every fighter of every fight, once, with who plays them.
fn parts_to_play(call: &Call) -> Vec<PartChoice> {
    let mut choices: Vec<PartChoice> = Vec::new();
    for fighter in call.fights().iter().flat_map(|fight| &fight.score.fighters) {
        if choices.iter().all(|choice| choice.part != fighter.name) {
            let holder = call.roster().holder_of(&fighter.name);
            let taken_by = holder.map(|(_, member)| member.name.clone());
            choices.push(PartChoice { part: fighter.name.clone(), taken_by });
        }
    }
    choices
}

fn part_is_free(call: &Call, part: &str, role: Role, comes_back: Option<MemberId>) -> Result<(), String> {
    if !role.may(Power::Perform) {
        return Err(format!("A {} plays no part. Join without one.", role.title()));
    }
    if !call.fights().iter().any(|fight| fight.fighter(part).is_some()) {
        return Err(format!("Nobody called {part} fights in this production. Choose a part from the list."));
    }
    match call.roster().holder_of(part) {
        Some((holder, member)) if Some(holder) != comes_back => Err(format!(
            "{} has {part}. Choose another part, or join without one and ask the stage manager.",
            member.name
        )),
        _ => Ok(()),
    }
}
