//! The call as the wire tells it: state, run, cue and hold. Nothing is decided here.

use crate::call::{self, Call, CueOut, Drive, Fight, Hold, MemberId, Run, Spot, Stage};
use crate::timeline::{Click, Part, PlannedMove, Reader};
use crate::units::ServerTime;
use crate::wire;

use super::lateness::Devices;

/// What the state says besides the call.
pub(super) struct Around<'a> {
    pub(super) production: &'a str,
    pub(super) troubles: &'a [String],
    pub(super) count_in: Option<u32>,
    pub(super) devices: &'a Devices,
    pub(super) sound: wire::Health,
    pub(super) hold_call: bool,
    pub(super) log: wire::Health,
}

/// Everything about the call but the moves.
pub(super) fn state(call: &Call, now: ServerTime, around: Around<'_>) -> wire::State {
    let run = call.run();
    wire::State {
        now_us: now.0,
        generation: call.generation().0,
        production: around.production.to_owned(),
        stage: stage(call),
        because: because(call),
        fights: call.fights().iter().map(|fight| fight_choice(fight, around.count_in)).collect(),
        troubles: around.troubles.to_vec(),
        setup: run.map(setup),
        run: run.map(|run| run.number),
        next_speed: call
            .next_speed()
            .map(|(speed, phrase)| wire::NextSpeed { percent: speed.as_percent(), phrase: phrase.to_owned() }),
        roster: call.roster().iter().map(|(id, member)| member_view(id, member, around.devices)).collect(),
        hold: match call.stage() {
            Stage::Held(standing, _) => Some(hold(standing)),
            _ => None,
        },
        past_holds: call.past_holds().iter().map(hold).collect(),
        spot: call.spot().map(spot),
        checks: call.signing().checks().map(|(check, signature)| check_view(check, signature)).collect(),
        attendance: call
            .signing()
            .noted()
            .map(|(person, present)| wire::AttendanceView { person: person.to_owned(), present })
            .collect(),
        sound: around.sound,
        hold_call: around.hold_call,
        log: around.log,
    }
}

fn check_view(check: &str, signature: Option<&call::Signature>) -> wire::CheckView {
    let signed = signature.map(|signature| wire::SignatureView {
        by: signature.by.clone(),
        at_us: signature.at.0,
        in_order: signature.in_order,
        note: signature.note.clone(),
    });
    wire::CheckView { check: check.to_owned(), signed }
}

fn stage(call: &Call) -> wire::Stage {
    match call.stage() {
        Stage::Idle => wire::Stage::Idle,
        Stage::Places(_) => wire::Stage::Places,
        Stage::Going(..) if call.counts_in() => wire::Stage::CountIn,
        Stage::Going(..) => wire::Stage::Running,
        Stage::Held(..) => wire::Stage::Held,
        Stage::Stopped(..) => wire::Stage::Stopped,
        Stage::Complete(_) => wire::Stage::Complete,
    }
}

fn because(call: &Call) -> Option<String> {
    match call.stage() {
        Stage::Stopped(_, reason) => Some(reason.clone()),
        _ => None,
    }
}

fn fight_choice(fight: &Fight, count_in: Option<u32>) -> wire::FightChoice {
    let score = &fight.score;
    wire::FightChoice {
        fight: score.name.clone(),
        revision: fight.revision.chars().take(12).collect(),
        phrases: score.phrases.iter().map(|phrase| phrase.name.clone()).collect(),
        fighters: score.fighters.iter().map(|fighter| fighter.name.clone()).collect(),
        beats_per_bar: score.beats_per_bar,
        count_in: count_in.unwrap_or(score.beats_per_bar),
        errors: small(fight.errors),
        warnings: small(fight.warnings),
    }
}

fn setup(run: &Run) -> wire::Setup {
    let setup = &run.setup;
    wire::Setup {
        fight: setup.fight.score.name.clone(),
        from: small(setup.range.first),
        to: small(setup.range.last),
        percent: setup.speed.as_percent(),
        count_in: setup.count_in,
        drive: drive(setup.drive),
    }
}

fn drive(drive: Drive) -> wire::DriveKind {
    match drive {
        Drive::Clock => wire::DriveKind::Clock,
        Drive::Step => wire::DriveKind::Step,
    }
}

fn member_view(id: MemberId, member: &call::Member, devices: &Devices) -> wire::MemberView {
    let device = devices.get(id);
    wire::MemberView {
        member: id.0,
        name: member.name.clone(),
        role: member.role,
        part: member.part.clone(),
        link: if member.linked { wire::Link::Linked } else { wire::Link::Lost },
        ready: member.ready,
        visible: device.visible,
        bound_us: device.bound.map(|bound| bound.0),
        late_us: device.lateness().map(|late| late.0),
    }
}

/// A hold, as everybody sees it.
pub(super) fn hold(hold: &Hold) -> wire::HoldView {
    wire::HoldView {
        hold: hold.id.0,
        generation: hold.generation.0,
        at_us: hold.at.0,
        spot: hold.spot.clone().map(spot),
        percent: hold.speed.map(|speed| speed.as_percent()),
        callers: hold.callers.iter().map(caller).collect(),
        written: hold.written,
        released_by: hold.released_by.clone(),
        notes: hold.notes.clone(),
    }
}

fn caller(caller: &call::Caller) -> wire::Caller {
    wire::Caller {
        member: caller.member.of_person().filter(|_| !caller.by_lost_link),
        name: caller.name.clone(),
        role: caller.role,
        reason: if caller.by_lost_link { Some("link lost".to_owned()) } else { caller.reason.clone() },
        screen: caller.screen.clone().map(spot),
    }
}

/// A place in the fight.
pub(super) fn spot(spot: Spot) -> wire::Spot {
    wire::Spot {
        cue: spot.cue,
        phrase: small(spot.phrase),
        phrase_name: spot.phrase_name,
        beat: spot.beat,
        r#move: spot.number,
        words: spot.words,
    }
}

/// A run, described once.
pub(super) fn run_sheet(run: &Run, call: &Call) -> wire::RunSheet {
    let fight = &run.setup.fight;
    wire::RunSheet {
        run: run.number,
        generation: call.generation().0,
        revision: fight.revision.chars().take(12).collect(),
        fight: fight.score.name.clone(),
        drive: drive(run.setup.drive),
        beats_per_bar: fight.score.beats_per_bar,
        count_in: run.setup.count_in,
        start_us: run.start.map(|start| start.0),
        length_ticks: run.plan.length().0,
        phrases: run
            .plan
            .phrases()
            .iter()
            .map(|phrase| wire::PhraseView {
                phrase: small(phrase.phrase),
                name: phrase.name.clone(),
                at_ticks: phrase.at.0,
                length_ticks: phrase.length.0,
                at_us: phrase.time.0,
                percent: phrase.speed.as_percent(),
            })
            .collect(),
        tempo: run
            .plan
            .tempo()
            .stretches()
            .iter()
            .map(|stretch| wire::TempoView {
                at_ticks: stretch.at.0,
                length_ticks: stretch.length.0,
                at_us: stretch.time.0,
                from_bpm: stretch.from_bpm,
                to_bpm: stretch.to_bpm,
            })
            .collect(),
        moves: run.plan.moves().iter().map(|planned| move_view(run, planned)).collect(),
        cast: fight
            .score
            .fighters
            .iter()
            .map(|fighter| wire::CastView {
                part: fighter.name.clone(),
                played_by: call.roster().holder_of(&fighter.name).map(|(_, member)| member.name.clone()),
            })
            .collect(),
    }
}

fn move_view(run: &Run, planned: &PlannedMove) -> wire::MoveView {
    let name = |id: crate::score::model::FighterId| {
        run.setup.fight.score.fighters.get(id.0).map(|fighter| fighter.name.clone()).unwrap_or_default()
    };
    wire::MoveView {
        phrase: run.plan.phrases().get(planned.phrase_in_range).map_or(0, |phrase| small(phrase.phrase)),
        number: planned.number,
        at_ticks: planned.at.0,
        beat: planned.beat.beat_label(),
        who: name(planned.who),
        action: planned.action.clone(),
        to: planned.to.map(name),
        reply: planned.reply.clone(),
        sounds: planned.sounds.as_ref().map(|sounds| sounds.names.clone()).unwrap_or_default(),
        text: planned.text.clone(),
    }
}

/// A cue, addressed to one kind of reader.
pub(super) fn cue(run: &Run, out: &CueOut, reader: Reader) -> Option<wire::Cue> {
    let moment = run.plan.moments().get(out.moment)?;
    let phrase = run.plan.phrases().get(moment.phrase_in_range)?;
    let content = run.plan.cue(out.moment, reader);
    let tell = |told: &[(Part, usize)]| -> Vec<wire::CueMove> {
        told.iter()
            .filter_map(|(part, number)| {
                Some(wire::CueMove { part: part_word(*part), r#move: move_view(run, run.plan.moves().get(*number)?) })
            })
            .collect()
    };
    Some(wire::Cue {
        run: out.run,
        generation: out.generation.0,
        cue: small(out.moment),
        due_us: out.due.map(|due| due.0),
        phrase: small(phrase.phrase),
        phrase_name: phrase.name.clone(),
        beat: moment.beat.beat_label(),
        bar: moment.bar,
        count: moment.count,
        count_in: moment.count_in,
        click: match moment.click {
            Click::Accent => wire::Click::Accent,
            Click::Beat => wire::Click::Beat,
            Click::None => wire::Click::None,
        },
        moves: tell(&content.now),
        next: tell(&content.next),
        next_in_beats: content.next_in.map(|ticks| ticks.as_beats()),
    })
}

fn part_word(part: Part) -> wire::Part {
    match part {
        Part::Act => wire::Part::Act,
        Part::Answer => wire::Part::Answer,
        Part::Watch => wire::Part::Watch,
    }
}

fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
