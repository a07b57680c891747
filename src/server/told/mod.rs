//! Who is told what. The state goes to everybody when it has changed, and is as long however many there are. A page says
//! which subjects it shows; it is told each of them whole once and then what has changed, and nobody is told of what they
//! do not show. What concerns one member alone, their part and whether they are ready, goes to that member. Changes are
//! gathered: at most five times a second, however much happens, except when the call's stage, its generation or its hold
//! changes, which is told at once, and for a new link, which does not wait with an empty page.
//!
//! Pure: it is given the time and the present values, and says what goes to whom. Of each subject it keeps one copy, the
//! value that was told last, and of each link which subjects it shows: its memory grows with the members and not with
//! their square, and what one member's change costs does not depend on how many show nothing.

mod tables;

use std::collections::{BTreeMap, BTreeSet, HashMap};

pub(super) use self::tables::Present;
use self::tables::Tables;
use crate::call::{HoldId, MemberId};
use crate::server::pace::Bucket;
use crate::server::request::{LinkId, Speaker};
use crate::units::{Generation, Micros, ServerTime};
use crate::wire::{MemberView, Newcomer, Stage, State, Subject, SubjectTold, ToMember, You};

/// Changes are gathered for so long.
const GATHERED: Micros = Micros::millis(200);
/// What a new link asks to be shown waits only so long: its page is empty until then.
const FIRST: Micros = Micros::millis(20);

/// Which links show what, and what they were told.
#[derive(Debug)]
pub(super) struct Told {
    /// So many bytes a second each link is told of subjects.
    bytes_a_second: f64,
    links: HashMap<LinkId, Link>,
    tables: Tables,
    /// The state that every link has; nothing when some have another.
    state: Option<State>,
    /// True when something that is told may have changed, or somebody asked for a subject.
    changed: bool,
    /// True when a new link waits for the first subjects that it shows.
    first: bool,
    /// When it was told last, and how the call stood then.
    last: Option<(ServerTime, Matters)>,
}

/// What is told at once when it changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Matters {
    pub(super) stage: Stage,
    pub(super) generation: Generation,
    pub(super) hold: Option<HoldId>,
}

/// What one link was told.
#[derive(Debug)]
struct Link {
    member: MemberId,
    you: You,
    /// True once it has said what it shows.
    asked: bool,
    /// The subjects it shows, and whether it has been told the whole of them.
    shows: BTreeMap<Subject, bool>,
    /// The bytes that it may still be told.
    left: Bucket,
    /// True while it has been told too much.
    spent: bool,
    /// True while something waits because of that.
    waits: bool,
}

/// A message for some links.
#[derive(Debug, PartialEq)]
pub(super) struct Telling {
    /// To whom. Never empty.
    pub(super) to: Vec<LinkId>,
    /// What.
    pub(super) message: ToMember,
}

impl Told {
    /// Nobody is told anything yet. A link is told so many bytes of subjects a second, and whatever it shows first.
    pub(super) fn new(bytes_a_second: f64) -> Told {
        Told {
            bytes_a_second,
            links: HashMap::new(),
            tables: Tables::default(),
            state: None,
            changed: false,
            first: false,
            last: None,
        }
    }

    /// A member has a new link, whose welcome says `you` and `state`. It shows nothing.
    pub(super) fn linked(&mut self, Speaker { member, link }: Speaker, you: You, state: &State) {
        let left = Bucket::full(self.bytes_a_second, self.bytes_a_second);
        let link_of = Link { member, you, asked: false, shows: BTreeMap::new(), left, spent: false, waits: false };
        self.links.insert(link, link_of);
        if self.state.as_ref().is_some_and(|told| !is_same(told, state)) {
            (self.state, self.changed) = (None, true);
        }
    }

    /// A link is gone.
    pub(super) fn unlinked(&mut self, link: LinkId) {
        self.links.remove(&link);
    }

    /// A page shows these subjects and no others. Those it was shown before are not told again from the start.
    pub(super) fn show(&mut self, link: LinkId, subjects: &[Subject]) {
        let Some(link) = self.links.get_mut(&link) else { return };
        let shows = subjects.iter().map(|subject| (*subject, link.shows.get(subject).copied().unwrap_or(false)));
        link.shows = shows.collect();
        let new = link.shows.values().any(|whole| !whole);
        self.changed |= new;
        self.first |= !std::mem::replace(&mut link.asked, true) && new;
    }

    /// Something that is told may have changed.
    pub(super) fn changed(&mut self) {
        self.changed = true;
    }

    /// The subjects that somebody shows: only these are needed of what is present.
    pub(super) fn shown(&self) -> BTreeSet<Subject> {
        self.links.values().flat_map(|link| link.shows.keys().copied()).collect()
    }

    /// When [`Told::tell`] wants to be called, if nothing happens before.
    pub(super) fn deadline(&self) -> Option<ServerTime> {
        let gathered =
            self.last.map_or(ServerTime::default(), |(at, _)| at + if self.first { FIRST } else { GATHERED });
        self.changed.then_some(gathered)
    }

    /// True when [`Told::tell`] wants to be called now that the call stands like that.
    pub(super) fn is_due(&self, now: ServerTime, matters: Matters) -> bool {
        let at_once = self.last.is_none_or(|(_, told)| told != matters);
        self.changed && (at_once || self.deadline().is_some_and(|at| at <= now))
    }

    /// What goes to whom, now that `present` is so. Of a subject that nobody shows, `present` may leave out everything.
    /// The state comes last: whoever sees places called knows already that nobody is ready.
    pub(super) fn tell(&mut self, now: ServerTime, matters: Matters, present: &Present) -> Vec<Telling> {
        (self.changed, self.first) = (false, false);
        self.last = Some((now, matters));
        self.look_what_is_left(now);
        let mut tellings = self.own(present);
        for subject in Subject::ALL {
            let shown = self.links.values().any(|link| link.shows.contains_key(&subject));
            let change = self.tables.take(subject, present, shown);
            let (new, knowing) = self.showing(subject, change.is_some());
            tellings.extend(told(knowing, change));
            if !new.is_empty() {
                tellings.extend(told(new, Some(self.tables.whole(subject))));
            }
        }
        tellings.extend(self.everybodys(&present.state));
        self.changed |= self.links.values().any(|link| link.waits);
        tellings
    }

    /// So many bytes of what [`Told::tell`] gave go to each of these links.
    pub(super) fn spent(&mut self, links: &[LinkId], bytes: usize) {
        for link in links {
            if let Some(link) = self.links.get_mut(link) {
                link.left.spend(bytes as f64);
            }
        }
    }

    /// The members of whom a page waits for what it shows, because it has been told too much.
    pub(super) fn waiting(&self) -> BTreeSet<MemberId> {
        self.links.values().filter(|link| link.waits).map(|link| link.member).collect()
    }

    /// Who has been told too much.
    fn look_what_is_left(&mut self, now: ServerTime) {
        for link in self.links.values_mut() {
            (link.spent, link.waits) = (link.left.has(now) < 0.0, false);
        }
    }

    /// To everybody the state, when it says something new.
    fn everybodys(&mut self, state: &State) -> Option<Telling> {
        if self.state.as_ref().is_some_and(|told| is_same(told, state)) {
            return None;
        }
        self.state = Some(state.clone());
        let to: Vec<LinkId> = self.links.keys().copied().collect();
        (!to.is_empty()).then(|| Telling { to, message: ToMember::State(Box::new(state.clone())) })
    }

    /// To each member, on each of their pages, what has changed of their own.
    fn own(&mut self, present: &Present) -> Vec<Telling> {
        let roster: HashMap<u32, &MemberView> = present.roster.iter().map(|member| (member.member, member)).collect();
        let mut newcomers: HashMap<u32, Vec<&MemberView>> = HashMap::new();
        for newcomer in &present.roster {
            if let Some(of) = newcomer.claims {
                newcomers.entry(of).or_default().push(newcomer);
            }
        }
        let mut tellings = Vec::new();
        for (id, link) in &mut self.links {
            let Some(member) = roster.get(&link.member.0) else { continue };
            let theirs = newcomers.get(&member.member).into_iter().flatten().copied();
            let of = member.claims.and_then(|of| roster.get(&of).copied());
            let you = you(member, theirs, of);
            if link.you != you {
                link.you = you;
                tellings.push(Telling { to: vec![*id], message: ToMember::You(link.you.clone()) });
            }
        }
        tellings
    }

    /// Who shows a subject: those who have not been told it yet, who count as told from now on, and the others. Whoever has
    /// been told too much is neither: when there is something for them, they are told the whole of it later.
    fn showing(&mut self, subject: Subject, changed: bool) -> (Vec<LinkId>, Vec<LinkId>) {
        let (mut new, mut knowing) = (Vec::new(), Vec::new());
        for (id, link) in &mut self.links {
            match link.shows.get_mut(&subject) {
                Some(whole) if link.spent => {
                    *whole &= !changed;
                    link.waits |= !*whole;
                }
                Some(whole) if *whole => knowing.push(*id),
                Some(whole) => {
                    *whole = true;
                    new.push(*id);
                }
                None => {}
            }
        }
        (new, knowing)
    }
}

fn told(to: Vec<LinkId>, tells: Option<SubjectTold>) -> Option<Telling> {
    let tells = tells.filter(|_| !to.is_empty())?;
    Some(Telling { to, message: ToMember::Subject { tells } })
}

/// True when a state says nothing new. The time always passes, and where a run is the cues say.
fn is_same(told: &State, now: &State) -> bool {
    let phrase = |state: &State| state.spot.as_ref().map(|spot| spot.phrase);
    let rest = |state: &State| State { now_us: 0, spot: None, ..state.clone() };
    phrase(told) == phrase(now) && rest(told) == rest(now)
}

/// What concerns a member alone, of what the roster says: of them, of the newcomers who gave their name, and of the member
/// whose name they gave.
pub(super) fn you<'r>(
    member: &MemberView,
    newcomers: impl Iterator<Item = &'r MemberView>,
    of: Option<&MemberView>,
) -> You {
    let newcomer = |newcomer: &MemberView| Newcomer {
        member: newcomer.member,
        name: newcomer.name.clone(),
        device: newcomer.device.clone(),
    };
    You {
        name: member.name.clone(),
        role: member.role,
        part: member.part.clone(),
        ready: member.ready,
        newcomers: newcomers.map(newcomer).collect(),
        waits: of.map(|of| of.name.clone()),
    }
}

#[cfg(test)]
mod tests;
