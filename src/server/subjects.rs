//! The subjects as the wire tells them to those who show them. Nothing is decided here.

use std::collections::BTreeSet;

use super::company::Company;
use super::lateness::Devices;
use super::missing::missing;
use super::past::PastTimes;
use super::told::{self, Present};
use super::view;
use crate::call::{self, Call, Fight, MemberId, Stage};
use crate::wire::{self, Subject, small};

/// What is told besides the call itself.
pub(super) struct Around<'a> {
    /// How people came; nothing where the call alone is looked at.
    pub(super) company: Option<&'a Company>,
    pub(super) devices: &'a Devices,
    pub(super) troubles: Vec<String>,
    /// Beats of the usual count-in, where the production has chosen.
    pub(super) count_in: Option<u32>,
    /// How long things took before.
    pub(super) past: &'a PastTimes,
}

/// What is true now of the subjects that are shown, with the state that everybody has.
pub(super) fn present(call: &Call, state: wire::State, around: Around<'_>, shown: &BTreeSet<Subject>) -> Present {
    let mut present = Present { roster: roster(call, around.company), ..Present::of(state) };
    for subject in shown {
        match subject {
            Subject::Roster => {}
            Subject::Devices => {
                present.devices = call.roster().iter().map(|(id, _)| device_view(id, around.devices)).collect();
            }
            Subject::Holds => present.holds = holds(call),
            Subject::Attendance => {
                let noted = call.signing().noted();
                let view =
                    |(person, present): (&str, bool)| wire::AttendanceView { person: person.to_owned(), present };
                present.attendance = noted.map(view).collect();
            }
            Subject::Fights => {
                present.fights = call.fights().iter().map(|fight| fight_choice(fight, around.count_in)).collect();
            }
            Subject::Troubles => {
                present.troubles.clone_from(&around.troubles);
                let linked = call.roster().iter().filter(|(_, member)| member.linked);
                let names = linked.map(|(id, member)| (id, member.name.as_str()));
                present.troubles.extend(around.devices.doubtful_clocks(names));
            }
            Subject::Checks => {
                present.checks =
                    call.signing().checks().map(|(check, signature)| check_view(check, signature)).collect();
            }
            Subject::Why => present.why = (call.why().reasons.clone(), call.why().near_misses),
            Subject::NearMisses => {
                let (misses, count) = call.near_misses();
                present.near_misses = (count, misses.iter().map(near_miss_view).collect());
            }
            Subject::Tonight => present.tonight = tonight(call, around.past),
            Subject::Casts => present.casts = call.fights().iter().map(|fight| cast_view(call, fight)).collect(),
            Subject::Missing => present.missing = (call.generation().0, missing(call, around.devices)),
        }
    }
    present
}

fn roster(call: &Call, company: Option<&Company>) -> Vec<wire::MemberView> {
    let cast = call.cast_of_run();
    let part = |id, member| call.part_by(cast.as_ref(), id, member);
    call.roster().iter().map(|(id, member)| member_view(id, member, part(id, member), company)).collect()
}

/// A member who plays `part` now.
fn member_view(id: MemberId, member: &call::Member, part: Option<&str>, company: Option<&Company>) -> wire::MemberView {
    let came = company.and_then(|company| company.came(id));
    wire::MemberView {
        member: id.0,
        name: member.name.clone(),
        role: member.role,
        part: part.map(str::to_owned),
        link: if member.linked { wire::Link::Linked } else { wire::Link::Lost },
        ready: member.ready,
        joined: came.map(|came| came.joined.to_string()).unwrap_or_default(),
        device: came.and_then(|came| came.device).map(|device| device.to_string()),
        notes_taken: came.is_none_or(|came| came.notes_taken),
        claims: company.and_then(|company| company.claims(id)).map(|of| of.0),
    }
}

/// What concerns a member alone.
pub(super) fn you(call: &Call, company: &Company, id: MemberId) -> Option<wire::You> {
    let cast = call.cast_of_run();
    let view = |id| {
        let member = call.roster().get(id)?;
        Some(member_view(id, member, call.part_by(cast.as_ref(), id, member), Some(company)))
    };
    let member = view(id)?;
    let newcomers: Vec<wire::MemberView> = company.newcomers(id).into_iter().filter_map(view).collect();
    let of = member.claims.and_then(|of| view(MemberId(of)));
    Some(told::you(&member, newcomers.iter(), of.as_ref()))
}

fn device_view(member: MemberId, devices: &Devices) -> wire::DeviceView {
    let device = devices.get(member);
    wire::DeviceView {
        member: member.0,
        visible: device.visible,
        bound_us: device.bound.map(|bound| bound.0),
        late_us: device.late.map(|late| late.0),
    }
}

/// The hold that stands and those before it.
fn holds(call: &Call) -> Vec<wire::HoldRecord> {
    let standing = match call.stage() {
        Stage::Held(hold, _) => Some(hold.as_ref()),
        _ => None,
    };
    standing.into_iter().chain(call.past_holds()).map(hold_record).collect()
}

fn hold_record(hold: &call::Hold) -> wire::HoldRecord {
    let notes = hold.notes.iter().map(|note| shortened(note)).collect();
    wire::HoldRecord { hold: view::hold(hold), notes, earlier_notes: hold.forgotten_notes }
}

/// A note as it is told: its beginning, when it is long.
fn shortened(note: &str) -> String {
    match note.char_indices().nth(wire::NOTE_TOLD) {
        Some((end, _)) => format!("{}…", note.get(..end).unwrap_or_default()),
        None => note.to_owned(),
    }
}

fn tonight(call: &Call, past: &PastTimes) -> (u64, Vec<wire::ItemView>) {
    let evening = call.evening();
    let now = call.item_under_way().map(|item| item.id);
    (evening.version(), evening.items().iter().map(|item| item_view(call, item, now == Some(item.id), past)).collect())
}

fn item_view(call: &Call, item: &call::Item, is_now: bool, past: &PastTimes) -> wire::ItemView {
    let planned = &item.planned;
    let fight = call.fights().iter().find(|fight| fight.score.name == planned.fight);
    let cast = fight.map(|fight| call.cast_of(fight)).unwrap_or_default();
    let parts = fight.into_iter().flat_map(|fight| fight.parts());
    let (played, open): (Vec<_>, Vec<_>) = parts.partition(|part| cast.player(part).is_some());
    let request = planned.request(call.fights(), None);
    wire::ItemView {
        item: item.id,
        planned: wire::PlannedView {
            fight: planned.fight.clone(),
            weapons: planned.weapons.clone(),
            from: planned.from.clone(),
            to: planned.to.clone(),
            percent: planned.percent,
            count_in: planned.count_in,
        },
        stands: match (item.is_done(), is_now) {
            (true, _) => wire::ItemStands::Done,
            (false, true) => wire::ItemStands::Now,
            (false, false) => wire::ItemStands::ToDo,
        },
        cannot: request.as_ref().err().cloned(),
        players: played.into_iter().filter_map(|part| cast.player(part)).map(|member| member.0).collect(),
        open: open.into_iter().map(str::to_owned).collect(),
        about_s: request.ok().zip(fight).and_then(|(request, fight)| past.of(&request, &fight.score)),
    }
}

fn cast_view(call: &Call, fight: &Fight) -> wire::FightCastView {
    let cast = call.cast_of(fight);
    let parts = fight.parts().map(|part| {
        let member = cast.player(part);
        let person = member.and_then(|id| call.roster().get(id)).map(|member| member.name.clone());
        wire::PartCastView {
            part: part.to_owned(),
            stands_by: fight.fighter(part).is_none(),
            member: member.map(|member| member.0),
            chosen: call.is_cast(&fight.score.name, part, member),
            usually: call.covered_by(part, person.as_deref().unwrap_or_default()),
            person,
            covers: call.usual_evening().covers.get(part).cloned().unwrap_or_default(),
        }
    });
    wire::FightCastView { fight: fight.score.name.clone(), parts: parts.collect() }
}

fn near_miss_view(miss: &call::NearMiss) -> wire::NearMissView {
    wire::NearMissView {
        at_us: miss.at.0,
        by: miss.by.clone(),
        spot: miss.spot.clone().map(view::spot),
        reason: miss.reason.clone(),
        note: miss.note.as_deref().map(shortened),
    }
}

fn fight_choice(fight: &Fight, count_in: Option<u32>) -> wire::FightChoice {
    let score = &fight.score;
    wire::FightChoice {
        fight: score.name.clone(),
        revision: fight.revision.chars().take(12).collect(),
        phrases: score.phrases.iter().map(|phrase| phrase.name.clone()).collect(),
        fighters: score.fighters.iter().map(|fighter| fighter.name.clone()).collect(),
        bystanders: score.bystanders.iter().map(|bystander| bystander.name.clone()).collect(),
        beats_per_bar: score.beats_per_bar,
        count_in: count_in.unwrap_or(score.beats_per_bar),
        errors: small(fight.errors),
        warnings: small(fight.warnings),
        sets: fight.sets.iter().map(|set| weapons_choice(set)).collect(),
        drill: fight.drill,
    }
}

fn weapons_choice(set: &Fight) -> wire::WeaponsChoice {
    wire::WeaponsChoice {
        weapons: set.weapons.clone().unwrap_or_default(),
        errors: small(set.errors),
        warnings: small(set.warnings),
    }
}

fn check_view(check: &str, signature: Option<&call::Signature>) -> wire::CheckView {
    let signed = signature.map(|signature| wire::SignatureView {
        by: signature.by.clone(),
        at_us: signature.at.0,
        in_order: signature.in_order,
        note: signature.note.clone(),
    });
    wire::CheckView { check: check.to_owned(), trial: check == call::TRIAL, signed }
}
