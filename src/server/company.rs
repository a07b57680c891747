//! Who is in: invitations, keys, and the line that each member has. It is driven like the call: the hub lends it the call
//! and tells it the time of day, and it answers with deeds.

use std::collections::HashMap;

use jiff::Timestamp;
use tracing::info;

use super::deed::{Deed, Goodbye};
use super::digest::digest;
use super::directory::{Directory, NoEntry};
use super::keeper::Keep;
use super::request::{Admitted, Asker, LineNews, LinkId, Looked, Refusal};
use super::{close, qr};
use crate::call::{Call, Input, Member, MemberId, Power, Role};
use crate::event::What;
use crate::hex;
use crate::journal::{MemberJoined, Record};
use crate::names;
use crate::wire::{InvitationView, PartChoice, SecureLink, ToMember};

/// What newcomers are told of the house.
pub(super) struct Place {
    pub(super) production: String,
    pub(super) base_url: String,
    /// The same over HTTPS, where it is served.
    pub(super) secure_url: Option<String>,
}

/// Who is in.
pub(super) struct Company {
    place: Place,
    directory: Directory,
    links: HashMap<MemberId, LinkId>,
    next_member: u32,
    /// Why the invitations that are in use are not on disk.
    unkept: Option<String>,
}

/// Somebody who wants to join.
pub(super) struct Joining<'a> {
    pub(super) invitation: &'a str,
    pub(super) name: &'a str,
    pub(super) part: Option<String>,
    pub(super) link: LinkId,
}

impl Company {
    pub(super) fn new(place: Place, directory: Directory, next_member: u32) -> Company {
        Company { place, directory, links: HashMap::new(), next_member, unkept: None }
    }

    /// The line of a member.
    pub(super) fn link(&self, member: MemberId) -> Option<LinkId> {
        self.links.get(&member).copied()
    }

    /// The lines of some members: of those who have one.
    pub(super) fn lines<'a>(&self, members: impl IntoIterator<Item = &'a MemberId>) -> Vec<LinkId> {
        members.into_iter().filter_map(|member| self.link(*member)).collect()
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
        let goodbye = |link: &LinkId| goodbye(*link, reason, close::GOING_AWAY, false);
        self.links.values().map(goodbye).collect()
    }

    /// What has become of a line. What is told of one that a member has no more is nothing.
    pub(super) fn line(&mut self, call: &Call, news: LineNews) -> Vec<Deed> {
        match news {
            LineNews::Silent(member, link) if self.is_current(member, link) => {
                vec![Deed::Give(Input::LinkLost(member))]
            }
            LineNews::Heard(member, link) if self.is_current(member, link) => vec![Deed::Give(Input::LinkBack(member))],
            LineNews::Closed(member, link, why) if self.is_current(member, link) => {
                let name = call.roster().get(member).map(|known| known.name.as_str()).unwrap_or_default();
                info!(name, "link closed: {why}");
                self.links.remove(&member);
                gone(member).into()
            }
            LineNews::Silent(..) | LineNews::Heard(..) | LineNews::Closed(..) => Vec::new(),
            LineNews::AllClosed => std::mem::take(&mut self.links).into_keys().flat_map(gone).collect(),
        }
    }

    fn is_current(&self, member: MemberId, link: LinkId) -> bool {
        self.link(member) == Some(link)
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
            },
            for_good: true,
        })
    }

    /// Somebody trades an invitation for a key.
    ///
    /// # Errors
    /// Why they are not let in; nothing has happened then.
    pub(super) fn join(
        &mut self,
        call: &Call,
        joining: Joining<'_>,
        utc: Timestamp,
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let Joining { invitation, name, part, link } = joining;
        let role = self.invited(invitation, utc)?;
        let again = |reason: String| Refusal { reason, for_good: false };
        let name = names::checked(name).map_err(again)?;
        let before = place_taken_over(call, &name, role).map_err(again)?;
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
        self.links.insert(member, link);
        deeds.extend([
            Deed::Record(Record::MemberJoined(joined)),
            Deed::Open(link, member),
            Deed::Give(Input::Joined { member, name, role, part }),
            Deed::Welcome(member, Some(key)),
        ]);
        Ok((deeds, Admitted { member }))
    }

    /// Somebody comes back with a key, and with these taps.
    ///
    /// # Errors
    /// The key is nobody's.
    pub(super) fn come_back(
        &mut self,
        call: &Call,
        key: &str,
        taps: Vec<String>,
        link: LinkId,
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let known = self.directory.member_of(key).filter(|member| call.roster().get(*member).is_some());
        let Some(member) = known else {
            let reason =
                "This device's key is not valid any more. Open your invitation again, or ask the stage manager.";
            return Err(Refusal { reason: reason.to_owned(), for_good: true });
        };
        let mut deeds = vec![Deed::Unlinked(member), Deed::Open(link, member)];
        let old = self.links.insert(member, link);
        let reason = "This part was opened on another screen, so this one has stopped.";
        deeds.extend(old.map(|old| goodbye(old, reason, close::REPLACED, true)));
        deeds.extend([
            Deed::Give(Input::LinkBack(member)),
            // The call may have known nothing of a lost link; its loss holds over the new one all the same.
            Deed::Watch,
            Deed::Welcome(member, None),
            // The call may have taken them before the return, and have answered over the link that is gone.
            Deed::Answer(member, taps),
        ]);
        Ok((deeds, Admitted { member }))
    }

    /// A member leaves for good.
    pub(super) fn leave(&mut self, member: MemberId, utc: Timestamp) -> Vec<Deed> {
        self.forget(member, "You have left. To come back, open your invitation again.", close::NORMAL, utc)
    }

    /// A member's key is worth nothing from now on; their line is closed.
    fn forget(&mut self, member: MemberId, reason: &str, code: u16, utc: Timestamp) -> Vec<Deed> {
        self.directory.forget(member);
        self.part_from(member, reason, code, utc)
    }

    fn part_from(&mut self, member: MemberId, reason: &str, code: u16, utc: Timestamp) -> Vec<Deed> {
        let link = self.links.remove(&member);
        let mut deeds = vec![
            Deed::Record(Record::MemberRevoked { member: member.0, utc }),
            Deed::Forget(member),
            Deed::Unlinked(member),
        ];
        deeds.extend(link.map(|link| goodbye(link, reason, code, true)));
        deeds.push(Deed::Give(Input::Gone(member)));
        deeds
    }

    /// The desk wants the invitations.
    pub(super) fn invitations(&self, call: &Call, member: MemberId, utc: Timestamp) -> Vec<Deed> {
        match may_invite(call, member) {
            Ok(()) => vec![self.invitations_to(member, utc)],
            Err(reason) => vec![Deed::Refuse(member, "invitations", reason)],
        }
    }

    fn invitations_to(&self, member: MemberId, utc: Timestamp) -> Deed {
        Deed::Say(member, Box::new(ToMember::Invitations { invitations: self.invitation_views(utc) }))
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
        };
        self.directory.invitations().map(view).collect()
    }

    /// The desk makes an invitation worthless, and with `members` those who came with it.
    pub(super) fn revoke(
        &mut self,
        call: &Call,
        (member, role, members): (MemberId, Role, bool),
        utc: Timestamp,
    ) -> Vec<Deed> {
        let renewed =
            may_invite(call, member).and_then(|()| self.directory.renew(role, utc).map_err(|error| error.to_string()));
        if let Err(reason) = renewed {
            return vec![Deed::Refuse(member, "revoke", reason)];
        }
        let keep = Keep::Invitations(self.directory.to_keep(), member);
        let mut deeds = vec![Deed::Keep(keep), Deed::Note(None, What::Invitation { role })];
        if members {
            let reason = "Your invitation was withdrawn. Ask the stage manager for a new one.";
            for revoked in self.directory.joined_as(role).into_iter().filter(|revoked| *revoked != member) {
                deeds.extend(self.forget(revoked, reason, close::REVOKED, utc));
            }
        }
        deeds.push(self.invitations_to(member, utc));
        deeds
    }

    /// Invitations could not be written, or could be again; `inviters` made them.
    pub(super) fn kept(&mut self, trouble: Option<String>, inviters: Vec<MemberId>) -> Vec<Deed> {
        let refuse = |member| Deed::Refuse(member, "revoke", trouble.clone().unwrap_or_default());
        let mut deeds: Vec<Deed> = inviters.into_iter().map(refuse).collect();
        if self.unkept != trouble {
            self.unkept = trouble;
            deeds.push(Deed::Changed);
        }
        deeds
    }
}

fn goodbye(link: LinkId, reason: &str, code: u16, for_good: bool) -> Deed {
    Deed::Goodbye(Goodbye { link, reason: reason.to_owned(), code, for_good })
}

/// A member's line has ended.
fn gone(member: MemberId) -> [Deed; 2] {
    [Deed::Unlinked(member), Deed::Give(Input::LinkLost(member))]
}

fn may_invite(call: &Call, member: MemberId) -> Result<(), String> {
    let may = call.roster().get(member).is_some_and(|member| member.role.may(Power::Invite));
    may.then_some(()).ok_or_else(|| "Only the stage manager hands out invitations.".to_owned())
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

/// A name stands for one person. Whoever lost their link may come back by invitation under the same name, and takes the
/// place of who they were; a name that only looks like theirs takes nobody's place.
fn place_taken_over(call: &Call, name: &str, role: Role) -> Result<Option<(MemberId, Member)>, String> {
    let find = |is_it: fn(&str, &str) -> bool| call.roster().iter().find(|(_, member)| is_it(&member.name, name));
    match find(names::same) {
        Some((id, member)) if member.role == role && !member.linked => Ok(Some((id, member.clone()))),
        Some(_) => Err(format!("Somebody here is already called {name}. Add a letter or a second name.")),
        None => match find(names::alike) {
            Some((_, member)) => Err(format!(
                "That looks like {}, who is here already. Add a second name, so that nobody mixes you up.",
                member.name
            )),
            None => Ok(None),
        },
    }
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
