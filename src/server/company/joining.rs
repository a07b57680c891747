//! Coming in: what an invitation is for, and trading it for a key and a place.

use jiff::Timestamp;

use super::claims::MOST_NEWCOMERS;
use super::{Came, Company, superseded};
use crate::call::{Act, Call, Input, MemberId, Power, Role};
use crate::hex;
use crate::journal::{MemberJoined, Record};
use crate::names::{self, Likeness};
use crate::server::deed::Deed;
use crate::server::device_kind::DeviceKind;
use crate::server::digest::digest;
use crate::server::directory::NoEntry;
use crate::server::reached::Limit;
use crate::server::request::{Admitted, Joins, LinkId, Looked, Refusal, Speaker, Then};
use crate::units::ServerTime;
use crate::wire::PartChoice;

/// The place that somebody gets who joins.
struct Place {
    name: String,
    likeness: Likeness,
    /// Who it was that they are: that member is gone.
    instead_of: Option<MemberId>,
    /// Whose name they gave, when it has to be asked whether they are that person.
    claims: Option<MemberId>,
}

impl Company {
    /// What an invitation is for.
    ///
    /// # Errors
    /// It is good for nothing, or no longer.
    pub(in crate::server) fn look(&self, call: &Call, invitation: &str, utc: Timestamp) -> Result<Looked, Refusal> {
        let role = self.invited(invitation, utc)?;
        let parts = if role.may(Power::Perform) { parts_to_play(call) } else { Vec::new() };
        Ok(Looked { production: self.address.production.clone(), role, parts })
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
            then: if matches!(why, NoEntry::Closed(_)) { Then::SayAgain } else { Then::Nothing },
        })
    }

    /// Somebody trades an invitation for a key.
    ///
    /// # Errors
    /// Why they are not let in; nothing has happened then.
    pub(in crate::server) fn join(
        &mut self,
        call: &Call,
        joins: Joins,
        (link, device): (LinkId, DeviceKind),
        (now, utc): (ServerTime, Timestamp),
    ) -> Result<(Vec<Deed>, Admitted), Refusal> {
        let Joins { invitation, name, part, page } = joins;
        let role = self.invited(&invitation, utc)?;
        let again = |reason: String| Refusal { reason, then: Then::SayAgain };
        self.has_room(role, now).map_err(again)?;
        let name = names::checked(&name, self.reached.limits().name_letters).map_err(again)?;
        if let Some(member) = self.has_joined(call, &name, role, page.as_ref()) {
            let key = self.directory.another_key(member).map_err(|error| again(error.to_string()))?;
            return Ok(self.welcome_again(call, member, (link, page), (key, part), utc));
        }
        let named = Likeness::of(&name);
        let Place { name, likeness, instead_of, claims } = self.place_for(call, name, role).map_err(again)?;
        let part = part_given(call, part, role, (instead_of, claims)).map_err(again)?;
        let member = MemberId(self.next_member);
        let key = self.directory.admit(member, role).map_err(|error| again(error.to_string()))?;
        self.next_member += 1;
        let mut deeds = Vec::new();
        let replaced = instead_of.map(|old| self.replace(old, utc));
        let key_sha256 = hex::encode(&digest(&key));
        let (joined, of) = (name.clone(), part.clone());
        let joined = MemberJoined { member: member.0, name: joined, role, part: of, key_sha256, utc };
        let by = Speaker { member, link };
        self.open.open(by, page.clone());
        self.came.insert(member, Came { likeness, joined: utc, device: Some(device), notes_taken: true, named, page });
        deeds.push(Deed::Record(Record::MemberJoined(joined)));
        if let Some(of) = claims {
            self.claims.add(member, of);
            deeds.push(Deed::Record(Record::MemberClaims { member: member.0, of: Some(of.0), utc }));
        }
        deeds.extend([Deed::Open(link, member), Deed::Give(Input::Joined { member, name, role, part, instead_of })]);
        deeds.extend(replaced.into_iter().flatten());
        deeds.push(Deed::Welcome(by, Some(key)));
        Ok((deeds, Admitted { member }))
    }

    /// The member that this very page has joined as already: its welcome was lost on the way, with the key.
    fn has_joined(&self, call: &Call, name: &str, role: Role, page: Option<&String>) -> Option<MemberId> {
        let likeness = Likeness::of(name);
        let is_it = |came: &Came| page.is_some() && came.page.as_ref() == page;
        let found = self.came.iter().find(|(_, came)| is_it(came) && came.named.is_same(&likeness))?;
        call.roster().get(*found.0).filter(|member| member.role == role).map(|_| *found.0)
    }

    /// Welcomes a page once more as who it is, with another key.
    fn welcome_again(
        &mut self,
        call: &Call,
        member: MemberId,
        (link, page): (LinkId, Option<String>),
        (key, part): (String, Option<String>),
        utc: Timestamp,
    ) -> (Vec<Deed>, Admitted) {
        let by = Speaker { member, link };
        let key_sha256 = hex::encode(&digest(&key));
        let mut deeds =
            vec![Deed::Record(Record::MemberKey { member: member.0, key_sha256, utc }), Deed::Open(link, member)];
        deeds.extend(self.open.open(by, page).into_iter().flat_map(superseded));
        deeds.extend([Deed::Give(Input::LinkBack(member)), Deed::Watch]);
        if part.is_some() && call.roster().get(member).is_some_and(|known| known.part != part) {
            deeds.push(Deed::Give(Input::From(member, Act::TakePart { member, part })));
        }
        deeds.push(Deed::Welcome(by, Some(key)));
        (deeds, Admitted { member })
    }

    /// Whether one more may join with the invitation of a role now.
    ///
    /// # Errors
    /// There are as many as may be, or they come too quickly.
    fn has_room(&mut self, role: Role, now: ServerTime) -> Result<(), String> {
        let limits = *self.reached.limits();
        let full = if self.came.len() >= limits.members {
            Limit::Members
        } else if self.directory.joined_as(role).len() >= limits.members_by_invitation {
            Limit::MembersAs(role)
        } else if !self.comings.joins(role, now) {
            self.reached.note(Limit::Joins(role));
            return Err("Many people are joining at this moment. Wait a few seconds, then touch Join again.".to_owned());
        } else {
            return Ok(());
        };
        self.reached.note(full);
        Err("As many people have joined as this call has room for. Ask the stage manager to make room.".to_owned())
    }

    /// A name stands for one person. Whoever gives the name of somebody who has not been in this call takes the place of
    /// who they were; of somebody who has, they are asked about, and until then are somebody else with a number behind the
    /// name. A name that could only be mistaken for another is refused.
    fn place_for(&self, call: &Call, name: String, role: Role) -> Result<Place, String> {
        let likeness = Likeness::of(&name);
        let find = |is_it: fn(&Likeness, &Likeness) -> bool| {
            let found = self.came.iter().filter(|(_, came)| is_it(&came.likeness, &likeness));
            found.filter_map(|(id, _)| Some((*id, call.roster().get(*id)?))).next()
        };
        match find(Likeness::is_same) {
            Some((_, member)) if member.role != role => {
                let title = member.role.title();
                Err(format!("Somebody here is already called {name}, a {title}. Add a letter or a second name."))
            }
            Some((of, member)) if !member.came => {
                Ok(Place { name, likeness, instead_of: Some(of), claims: self.claims.of(of) })
            }
            Some((of, _)) => self.place_beside(call, name, of),
            None => match find(Likeness::is_like) {
                Some((_, member)) => Err(format!(
                    "That looks like {}, who is here already. Add a second name, so that nobody mixes you up.",
                    member.name
                )),
                None => Ok(Place { name, likeness, instead_of: None, claims: None }),
            },
        }
    }

    /// The place of somebody who gives the name of that member: that of an earlier newcomer of the name who is not linked
    /// any more, or one more.
    fn place_beside(&self, call: &Call, name: String, of: MemberId) -> Result<Place, String> {
        let newcomers = self.claims.newcomers(of);
        let lost = newcomers.iter().find_map(|id| {
            let member = call.roster().get(*id).filter(|member| !member.linked)?;
            Some((*id, member.name.clone()))
        });
        if let Some((old, name)) = lost {
            return Ok(Place { likeness: Likeness::of(&name), name, instead_of: Some(old), claims: Some(of) });
        }
        if newcomers.len() >= MOST_NEWCOMERS {
            return Err(format!(
                "{MOST_NEWCOMERS} people have come as {name} already, and nobody has said yet who they are. Ask the stage manager, or add a second name."
            ));
        }
        let is_free = |likeness: &Likeness| self.came.values().all(|came| !came.likeness.is_like(likeness));
        let mut numbered = (2u32..).map(|number| format!("{name} ({number})"));
        let free = numbered.find_map(|name| {
            let likeness = Likeness::of(&name);
            is_free(&likeness).then_some((name, likeness))
        });
        let (name, likeness) = free.ok_or("There is no room for one more of that name. Add a second name.")?;
        Ok(Place { name, likeness, instead_of: None, claims: Some(of) })
    }
}

/// Every fighter of every fight, and then whoever only stands by, each once, with who plays them.
fn parts_to_play(call: &Call) -> Vec<PartChoice> {
    let scores = || call.fights().iter().map(|fight| &fight.score);
    let fighters = scores().flat_map(|score| score.fighters.iter().map(|it| &it.name));
    let bystanders = scores().flat_map(|score| score.bystanders.iter().map(|it| &it.name));
    let mut choices: Vec<PartChoice> = Vec::new();
    for part in fighters.chain(bystanders) {
        if choices.iter().all(|choice| choice.part != *part) {
            let taken_by = call.keeper_of(part).map(|(_, member)| member.name.clone());
            choices.push(PartChoice { part: part.clone(), taken_by });
        }
    }
    choices
}

/// The part that somebody gets who joins: theirs of before when they ask for none, and none when they ask for that of the
/// member whose name they gave: it comes with the name.
fn part_given(
    call: &Call,
    part: Option<String>,
    role: Role,
    (instead_of, claims): (Option<MemberId>, Option<MemberId>),
) -> Result<Option<String>, String> {
    let Some(part) = part else {
        return Ok(instead_of.and_then(|old| call.roster().get(old)?.part.clone()));
    };
    if !role.may(Power::Perform) {
        return Err(format!("A {} plays no part. Join without one.", role.title()));
    }
    if !call.fights().iter().any(|fight| fight.person(&part).is_some()) {
        return Err(format!("Nobody called {part} is in a fight of this production. Choose a part from the list."));
    }
    match call.keeper_of(&part).map(|(holder, member)| (Some(holder), &member.name)) {
        None => Ok(Some(part)),
        Some((holder, _)) if holder == instead_of => Ok(Some(part)),
        Some((holder, _)) if holder == claims => Ok(None),
        Some((_, name)) => {
            Err(format!("{name} has {part}. Choose another part, or join without one and ask the stage manager."))
        }
    }
}
