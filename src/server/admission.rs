//! What the hub does with requests: who is let in, who leaves, who hands out invitations.

use super::digest::digest;
use super::directory::NoEntry;
use super::hub::Hub;
use super::keeper::Keep;
use super::request::{Admitted, Asker, Keeping, LinkId, Looked, Refusal, Request};
use super::sockets::Frame;
use super::{close, qr, subjects, view};
use crate::call::{Input, Member, MemberId, Power, Role};
use crate::event::What;
use crate::hex;
use crate::journal::{MemberJoined, Record};
use crate::time::utc_now;
use crate::wire::{InvitationView, PartChoice, SecureLink, SoundTold, ToMember, Welcome};

/// The longest name of a person, in characters.
const LONGEST_NAME: usize = 40;

impl Hub {
    pub(super) fn request(&mut self, request: Request) {
        match request {
            Request::Look { invitation, reply } => drop(reply.send(self.look(&invitation))),
            Request::Join { invitation, name, part, link, reply } => {
                drop(reply.send(self.join(&invitation, &name, part, link)));
            }
            Request::Return { key, taps, link, reply } => drop(reply.send(self.come_back(&key, &taps, link))),
            Request::Who { key, reply } => drop(reply.send(self.who(&key))),
            Request::Act(member, act) => {
                self.give(Input::From(member, act));
            }
            Request::Pulse { member, visible, bound } => {
                if self.devices.pulse(member, visible, bound) {
                    self.untold = true;
                }
            }
            Request::Report(member, fired) => self.report(member, &fired),
            Request::Tried { member, trial, answer } => self.give(Input::Tried { member, trial, answer }),
            Request::Show(member, subjects) => self.told.show(member, &subjects),
            Request::Invitations(member) => self.invitations(member),
            Request::Revoke { member, role, members } => self.revoke(member, role, members),
            Request::Leave(member) => self.leave(member),
            Request::Sound(member, ask) => self.sound_ask(member, ask),
            Request::Say(member, message) => self.send(member, &message),
            Request::Kept(keeping) => self.kept(keeping),
            Request::FootStep => self.give(Input::FootStep),
            Request::Fights { fights, checks, troubles } => {
                self.parts.troubles = troubles;
                self.give(Input::ReadAnew { fights, checks });
                self.tell_watchers(&SoundTold::Scores);
            }
            Request::Recordings(library) => self.new_recordings(*library),
            Request::Trouble(trouble) => {
                self.parts.troubles = vec![trouble];
                self.untold = true;
            }
        }
    }

    fn who(&self, key: &str) -> Option<Asker> {
        let member = self.parts.directory.member_of(key)?;
        let known = self.parts.call.roster().get(member)?;
        Some(Asker { member, name: known.name.clone(), role: known.role })
    }

    fn look(&self, invitation: &str) -> Result<Looked, Refusal> {
        let role = self.invited(invitation)?;
        let parts = if role.may(Power::Perform) { self.parts_to_play() } else { Vec::new() };
        Ok(Looked { production: self.parts.production.clone(), role, parts })
    }

    fn invited(&self, invitation: &str) -> Result<Role, Refusal> {
        self.parts.directory.role_of(invitation, utc_now()).map_err(|why| Refusal {
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

    /// Every fighter of every fight, once, with who plays them.
    fn parts_to_play(&self) -> Vec<PartChoice> {
        let mut choices: Vec<PartChoice> = Vec::new();
        for fighter in self.parts.call.fights().iter().flat_map(|fight| &fight.score.fighters) {
            if choices.iter().all(|choice| choice.part != fighter.name) {
                let holder = self.parts.call.roster().holder_of(&fighter.name);
                choices.push(PartChoice {
                    part: fighter.name.clone(),
                    taken_by: holder.map(|(_, member)| member.name.clone()),
                });
            }
        }
        choices
    }

    fn join(&mut self, invitation: &str, name: &str, part: Option<String>, link: LinkId) -> Result<Admitted, Refusal> {
        let role = self.invited(invitation)?;
        let again = |reason: String| Refusal { reason, for_good: false };
        let name = checked_name(name).map_err(again)?;
        let before = self.take_the_place_of(&name, role).map_err(again)?;
        if let Some(part) = &part {
            self.part_is_free(part, role, before.as_ref().map(|(id, _)| *id)).map_err(again)?;
        }
        let member = MemberId(self.parts.next_member);
        let key = self.parts.directory.admit(member, role).map_err(|error| again(error.to_string()))?;
        self.parts.next_member += 1;
        let part = part.or_else(|| before.as_ref().and_then(|(_, member)| member.part.clone()));
        if let Some((old, _)) = before {
            self.parts.directory.replace(old);
            self.part_from(old, "The same person has joined anew on another device.", close::REPLACED);
        }
        let utc = utc_now();
        self.parts.journal.record(Record::MemberJoined(MemberJoined {
            member: member.0,
            name: name.clone(),
            role,
            part: part.clone(),
            key_sha256: hex::encode(&digest(&key)),
            utc,
        }));
        self.parts.lines.open(link, member);
        self.links.insert(member, link);
        self.give(Input::Joined { member, name, role, part });
        self.welcome(member, Some(key));
        Ok(Admitted { member })
    }

    /// A name stands for one person. Whoever lost their link may come back by invitation under the same name.
    fn take_the_place_of(&self, name: &str, role: Role) -> Result<Option<(MemberId, Member)>, String> {
        let same = |(_, member): &(MemberId, &Member)| member.name.to_lowercase() == name.to_lowercase();
        match self.parts.call.roster().iter().find(same) {
            None => Ok(None),
            Some((id, member)) if member.role == role && !member.linked => Ok(Some((id, member.clone()))),
            Some(_) => Err(format!("Somebody here is already called {name}. Add a letter or a second name.")),
        }
    }

    fn part_is_free(&self, part: &str, role: Role, comes_back: Option<MemberId>) -> Result<(), String> {
        if !role.may(Power::Perform) {
            return Err(format!("A {} plays no part. Join without one.", role.title()));
        }
        if !self.parts.call.fights().iter().any(|fight| fight.fighter(part).is_some()) {
            return Err(format!("Nobody called {part} fights in this production. Choose a part from the list."));
        }
        match self.parts.call.roster().holder_of(part) {
            Some((holder, member)) if Some(holder) != comes_back => Err(format!(
                "{} has {part}. Choose another part, or join without one and ask the stage manager.",
                member.name
            )),
            _ => Ok(()),
        }
    }

    fn come_back(&mut self, key: &str, taps: &[String], link: LinkId) -> Result<Admitted, Refusal> {
        let known =
            self.parts.directory.member_of(key).filter(|member| self.parts.call.roster().get(*member).is_some());
        let Some(member) = known else {
            let reason =
                "This device's key is not valid any more. Open your invitation again, or ask the stage manager.";
            return Err(Refusal { reason: reason.to_owned(), for_good: true });
        };
        // Another page may have come back: it says so if it is a sound page.
        self.page.watchers.remove(&member);
        self.told.unlinked(member);
        self.parts.lines.open(link, member);
        if let Some(old) = self.links.insert(member, link) {
            let reason = "This part was opened on another screen, so this one has stopped.";
            self.parts.lines.goodbye(old, reason, close::REPLACED, true);
        }
        self.give(Input::LinkBack(member));
        // The call may have known nothing of a lost link; its loss holds over the new one all the same.
        self.watch_lines();
        self.welcome(member, None);
        // The call may have taken them before the return, and have answered over the link that is gone.
        for tap in taps {
            if let Some(fate) = self.parts.call.fate_of(member, tap) {
                self.answer_tap(member, tap.clone(), fate);
            }
        }
        Ok(Admitted { member })
    }

    /// The whole present state in one message, before anything else on this link.
    fn welcome(&mut self, member: MemberId, key: Option<String>) {
        let Some(you) = self.parts.call.roster().get(member).map(subjects::you) else { return };
        let (call, state) = (&self.parts.call, self.state());
        self.told.linked(member, you.clone(), &state);
        let welcome = ToMember::Welcome(Box::new(Welcome {
            member: member.0,
            key,
            you,
            horizon_us: self.parts.horizon.0,
            state,
            run: call.run().map(|run| view::run_sheet(run, call.generation())),
        }));
        self.send_as(member, &welcome, Frame::Welcome);
    }

    fn leave(&mut self, member: MemberId) {
        self.forget(member, "You have left. To come back, open your invitation again.", close::NORMAL);
    }

    /// A member's key is worth nothing from now on; their link is closed.
    fn forget(&mut self, member: MemberId, reason: &str, code: u16) {
        self.parts.directory.forget(member);
        self.part_from(member, reason, code);
    }

    fn part_from(&mut self, member: MemberId, reason: &str, code: u16) {
        self.parts.journal.record(Record::MemberRevoked { member: member.0, utc: utc_now() });
        self.devices.forget(member);
        self.told.unlinked(member);
        if let Some(link) = self.links.remove(&member) {
            self.parts.lines.goodbye(link, reason, code, true);
        }
        self.give(Input::Gone(member));
    }

    fn may_invite(&mut self, member: MemberId, asked: &str) -> bool {
        let role = self.parts.call.roster().get(member).map(|member| member.role);
        let may = role.is_some_and(|role| role.may(Power::Invite));
        if !may {
            self.refuse(member, asked, "Only the stage manager hands out invitations.".to_owned());
        }
        may
    }

    fn invitations(&mut self, member: MemberId) {
        if self.may_invite(member, "invitations") {
            let invitations = self.invitation_views();
            self.send(member, &ToMember::Invitations { invitations });
        }
    }

    fn invitation_views(&self) -> Vec<InvitationView> {
        let link = |base: &str, secret: &str| format!("{base}/join#{secret}");
        // Where phones have HTTPS alone there is one link, not two.
        let secure = self.parts.secure_url.as_deref().filter(|url| *url != self.parts.base_url);
        let now = utc_now();
        self.parts
            .directory
            .invitations()
            .map(|(role, invitation)| InvitationView {
                role,
                link: link(&self.parts.base_url, invitation.secret.reveal()),
                qr_svg: qr::svg(&link(&self.parts.base_url, invitation.secret.reveal())),
                secure: secure
                    .map(|base| link(base, invitation.secret.reveal()))
                    .map(|link| SecureLink { qr_svg: qr::svg(&link), link }),
                joined: invitation.joined,
                until: invitation.until.to_string(),
                ran_out: now >= invitation.until,
            })
            .collect()
    }

    fn revoke(&mut self, member: MemberId, role: Role, members: bool) {
        if !self.may_invite(member, "revoke") {
            return;
        }
        if let Err(error) = self.parts.directory.renew(role, utc_now()) {
            return self.refuse(member, "revoke", error.to_string());
        }
        self.keeper.keep(Keep::Invitations(self.parts.directory.to_keep(), member));
        self.note_down(None, What::Invitation { role });
        if members {
            for revoked in self.parts.directory.joined_as(role).into_iter().filter(|revoked| *revoked != member) {
                self.forget(
                    revoked,
                    "Your invitation was withdrawn. Ask the stage manager for a new one.",
                    close::REVOKED,
                );
            }
        }
        self.invitations(member);
    }

    /// Something could not be written, or could be again.
    fn kept(&mut self, keeping: Keeping) {
        let Keeping { sound, invitations, inviters } = keeping;
        for member in inviters {
            self.refuse(member, "revoke", invitations.clone().unwrap_or_default());
        }
        if self.invitations_unkept != invitations {
            self.invitations_unkept = invitations;
            self.untold = true;
        }
        self.sound_kept(sound);
    }
}

/// A name that can be read aloud and told apart: no control characters, not empty, not endless.
fn checked_name(name: &str) -> Result<String, String> {
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    if name.is_empty() {
        return Err("Write your name first.".to_owned());
    }
    if name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(format!("A name may have {LONGEST_NAME} letters at the most. Write a shorter one."));
    }
    Ok(name)
}
