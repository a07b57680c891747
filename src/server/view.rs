//! The call as the wire tells it to everybody: state, run, cue and hold. Nothing is decided here.

use crate::call::{self, Begin, Call, CueOut, Drive, Hold, Reason, Run, Spot, Stage};
use crate::check::{InHand, Posture, Stand};
use crate::score::model::{Hand, Word};
use crate::timeline::{Click, Part, Reader};
use crate::units::{Generation, ServerTime};
use crate::wire::{self, small};

use super::feet;
use super::lateness::Devices;
use super::missing;

/// What the state says besides the call.
pub(super) struct Around<'a> {
    pub(super) production: &'a str,
    pub(super) devices: &'a Devices,
    pub(super) sound: wire::Health,
    pub(super) hold_call: bool,
    pub(super) log: wire::Health,
}

/// What everybody needs to know of the call.
pub(super) fn state(call: &Call, now: ServerTime, around: Around<'_>) -> wire::State {
    let run = call.run();
    wire::State {
        now_us: now.0,
        generation: call.generation().0,
        production: around.production.to_owned(),
        last_event: call.last_event(),
        stage: stage(call),
        because: because(call),
        setup: run.map(setup),
        run: run.map(|run| run.number),
        over: call.is_over(),
        next_speed: call
            .next_speed()
            .map(|(speed, phrase)| wire::NextSpeed { percent: speed.as_percent(), phrase: phrase.to_owned() }),
        ready: missing::ready(call, around.devices).map(ready),
        hold: match call.stage() {
            Stage::Held(standing, _) => Some(hold(standing)),
            _ => None,
        },
        released: call.released().map(hold),
        spot: call.spot().map(spot),
        sound: around.sound,
        hold_call: around.hold_call,
        log: around.log,
    }
}

fn ready((ready, of): (usize, usize)) -> wire::ReadyCount {
    wire::ReadyCount { ready: small(ready), of: small(of) }
}

/// Where the call stands.
pub(super) fn stage(call: &Call) -> wire::Stage {
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

fn setup(run: &Run) -> wire::Setup {
    let setup = &run.setup;
    wire::Setup {
        fight: setup.fight.score.name.clone(),
        weapons: setup.fight.weapons.clone(),
        from: small(setup.range.first),
        from_move: setup.begin.as_ref().map(|begin| begin.number),
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

/// A hold, as everybody sees it.
pub(super) fn hold(hold: &Hold) -> wire::HoldView {
    wire::HoldView {
        hold: hold.id.0,
        generation: hold.generation.0,
        at_us: hold.at.0,
        spot: hold.spot.clone().map(spot),
        percent: hold.speed.map(|speed| speed.as_percent()),
        also: hold.under_way.iter().skip(1).take(wire::UNDER_WAY_TOLD).map(|it| it.words.clone()).collect(),
        calls: hold.calls,
        last_event: hold.last_event,
        caller_count: small(hold.callers.len()),
        callers: callers(hold),
        reason: hold.reason.clone().map(|Reason { says, by }| wire::ReasonView { says, by }),
        written: hold.written,
        released_by: hold.released_by.clone(),
    }
}

/// The first caller and the latest ones, in order of arrival: a release must have seen the last call.
fn callers(hold: &Hold) -> Vec<wire::Caller> {
    let mut latest: Vec<usize> = (1..hold.callers.len()).collect();
    latest.sort_by_key(|number| hold.callers.get(*number).map(|caller| std::cmp::Reverse(caller.last_call)));
    latest.truncate(wire::CALLERS_TOLD - 1);
    latest.sort_unstable();
    let told = hold.callers.first().into_iter().chain(latest.iter().filter_map(|number| hold.callers.get(*number)));
    told.map(caller).collect()
}

fn caller(caller: &call::Caller) -> wire::Caller {
    let reason = caller.reason.as_ref().map(|reason| reason.chars().take(wire::REASON_TOLD).collect());
    wire::Caller {
        member: caller.member.of_person().filter(|_| !caller.by_lost_link),
        name: caller.name.clone(),
        role: caller.role,
        times: caller.times,
        reason,
        screen: caller.screen.clone().map(spot),
    }
}

/// A place in the fight.
pub(super) fn spot(spot: Spot) -> wire::Spot {
    wire::Spot {
        cue: spot.cue.unwrap_or_default(),
        phrase: spot.phrase,
        phrase_name: spot.phrase_name,
        beat: spot.beat,
        r#move: spot.number,
        words: spot.words,
    }
}

/// A run, described once. Nothing of it changes when a part changes hands: who plays whom is in the roster.
pub(super) fn run_sheet(run: &Run, generation: Generation) -> wire::RunSheet {
    let fight = &run.setup.fight;
    wire::RunSheet {
        run: run.number,
        generation: generation.0,
        revision: fight.revision.chars().take(12).collect(),
        fight: fight.score.name.clone(),
        weapons: fight.weapons.clone(),
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
        begins: run.setup.begin.as_ref().map(|it| begins(run, it)),
        moves: (0..run.plan.moves().len()).filter_map(|at| move_view(run, at)).collect(),
        feet: feet::feet(&fight.score, &run.plan),
        near: feet::near(fight, &run.plan),
        fighters: fight.score.fighters.iter().map(|fighter| fighter.name.clone()).collect(),
        bystanders: fight.score.bystanders.iter().map(|bystander| bystander.name.clone()).collect(),
        pictures: fight.pictures.id().map(str::to_owned),
        floor: fight.floor.as_ref().map(|floor| floor.id.clone()),
    }
}

/// The move in the middle of a phrase at which a run begins.
fn begins(run: &Run, begin: &Begin) -> wire::BeginView {
    let fighters = &run.setup.fight.score.fighters;
    let stand = |it: &Stand| wire::StandView {
        fighter: fighters.get(it.fighter.0).map(|fighter| fighter.name.clone()).unwrap_or_default(),
        on_mark: it.on_mark,
        x: it.at.map(|at| at.x.0),
        y: it.at.map(|at| at.y.0),
        posture: match it.posture {
            Posture::Standing => wire::PostureView::Standing,
            Posture::Kneeling => wire::PostureView::Kneeling,
            Posture::Down => wire::PostureView::Down,
            Posture::Dead => wire::PostureView::Dead,
        },
        hands: it.hands.iter().map(in_hand).collect(),
    };
    let beat = run.plan.moves().first().map(|first| first.beat.beat_label()).unwrap_or_default();
    wire::BeginView { number: begin.number, beat, stands: begin.stands.iter().map(stand).collect() }
}

fn in_hand(it: &InHand) -> wire::InHandView {
    let hand = match it.hand {
        Some(Hand::Right) => Some(wire::HandView::Right),
        Some(Hand::Left) => Some(wire::HandView::Left),
        Some(Hand::None) | None => None,
    };
    wire::InHandView { weapon: it.weapon.clone(), hand }
}

/// A move of the run's plan, by its place in it.
fn move_view(run: &Run, at: usize) -> Option<wire::MoveView> {
    let planned = run.plan.moves().get(at)?;
    let name = |id: crate::score::model::FighterId| {
        run.setup.fight.score.fighters.get(id.0).map(|fighter| fighter.name.clone()).unwrap_or_default()
    };
    Some(wire::MoveView {
        phrase: run.plan.phrases().get(planned.phrase_in_range).map_or(0, |phrase| small(phrase.phrase)),
        number: planned.number,
        at_ticks: planned.at.0,
        beat: planned.beat.beat_label(),
        who: name(planned.who),
        action: planned.action.to_string(),
        to: planned.to.map(name),
        reply: planned.reply.as_ref().map(Word::to_string),
        sounds: planned.sounds.iter().flat_map(|cue| &cue.names).map(Word::to_string).collect(),
        text: planned.text.clone(),
        picture: run.pictures.get(at).copied().flatten(),
    })
}

/// A cue, addressed to one kind of reader.
pub(super) fn cue(run: &Run, out: &CueOut, reader: Reader) -> Option<wire::Cue> {
    let moment = run.plan.moments().get(out.moment)?;
    let phrase = run.plan.phrases().get(moment.phrase_in_range)?;
    let content = run.plan.cue(out.moment, reader);
    let tell = |told: &[(Part, usize)]| -> Vec<wire::CueMove> {
        told.iter()
            .filter_map(|(part, number)| {
                Some(wire::CueMove { part: part_word(*part), r#move: move_view(run, *number)? })
            })
            .collect()
    };
    Some(wire::Cue {
        run: out.run,
        generation: out.generation.0,
        cue: small(out.moment),
        step: out.step,
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
        walks: feet::walks(run, &content.walks, reader),
        next: tell(&content.next),
        next_in_beats: content.next_in.map(|ticks| ticks.as_beats()),
        next_walks: feet::walks(run, &content.next_walks, reader),
        next_walk_in_beats: content.next_walk_in.map(|ticks| ticks.as_beats()),
    })
}

fn part_word(part: Part) -> wire::Part {
    match part {
        Part::Act => wire::Part::Act,
        Part::Answer => wire::Part::Answer,
        Part::Watch => wire::Part::Watch,
    }
}
