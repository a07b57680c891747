//! What the sound page is told: how the outputs are, which sounds there are, and where in a fight they are heard.

use std::collections::BTreeSet;

use crate::call::Fight;
use crate::outputs::Outputs;
use crate::production::trims::Trims;
use crate::sound::delay::{Judgement, judge};
use crate::sound::{Library, Listed, Sound};
use crate::timeline::{PhraseRange, Plan};
use crate::units::{Micros, ServerTime, Speed};
use crate::wire::{
    JudgementView, OutputView, SentView, SoundCueView, SoundCues, SoundOutput, SoundPhrase, SoundTold, SoundView,
    SpeakersView,
};

/// What went out is shown for so long.
const SHOWN: Micros = Micros::seconds(10);
/// And no more than so many.
pub(super) const MOST_SENT: usize = 40;
/// The most cues that are told of one fight: far more than anybody trims.
const MOST_CUES: usize = 3_000;
/// The most beats of a phrase that are told.
const MOST_BEATS: usize = 1_000;

/// The sounds there are, with what was chosen for each of them; `kept` is what is wrong with keeping it.
pub(super) fn sounds(sound: &Sound, trims: &Trims, kept: impl Iterator<Item = String>) -> SoundTold {
    let library = sound.library();
    let view = |listed: Listed<'_>| {
        let chosen = trims.get(listed.name);
        SoundView {
            sound: listed.name.to_owned(),
            takes: u32::from(listed.takes),
            recorded: listed.recorded,
            trim_us: listed.adjustment.trim.0,
            attack_us: listed.attack.map(|attack| attack.0),
            gain_db: listed.adjustment.gain.0,
            choke: listed.adjustment.choke.map(u32::from),
            who: chosen.and_then(|chosen| chosen.who.clone()),
            when: chosen.and_then(|chosen| chosen.when).map(|when| when.to_string()),
        }
    };
    let mut sounds: Vec<SoundView> =
        library.as_ref().map_or_else(Vec::new, |library| library.listing().map(view).collect());
    sounds.sort_by(|a, b| a.sound.cmp(&b.sound));
    let recordings = library.as_ref().map_or(&[][..], |library| library.troubles());
    let troubles = recordings.iter().cloned().chain(kept).collect();
    SoundTold::Sounds { sounds, troubles }
}

/// What went out of late, the newest first: what was known of it, and what has gone out since; what is too old goes.
pub(super) fn sent(known: Vec<SentView>, now: ServerTime, sound: &Sound, outputs: &Outputs) -> Vec<SentView> {
    let library = sound.library();
    let mut all = known;
    all.extend(sound.take_sent().iter().map(|sent| SentView {
        output: SoundOutput::Speakers,
        label: library.as_ref().and_then(|library| library.name_of(sent.kind)).unwrap_or("sound").to_owned(),
        due_us: sent.due.0,
        late_us: sent.heard.since(sent.due).0,
        audible: sent.audible,
    }));
    all.extend(outputs.midi().take_sent().iter().filter_map(|sent| {
        let label = outputs.midi_label(sent)?;
        let (due_us, late_us) = (sent.due.0, sent.lateness().0);
        Some(SentView { output: SoundOutput::Midi, label, due_us, late_us, audible: true })
    }));
    all.extend(outputs.osc().take_sent().into_iter().map(|sent| SentView {
        output: SoundOutput::Osc,
        label: sent.label,
        due_us: sent.due.0,
        late_us: sent.at.since(sent.due).0,
        audible: true,
    }));
    all.retain(|sent| now.since(ServerTime(sent.due_us)) <= SHOWN);
    all.sort_by_key(|sent| std::cmp::Reverse(sent.due_us));
    all.truncate(4 * MOST_SENT);
    all
}

/// How MIDI is.
pub(super) fn midi(outputs: &Outputs) -> OutputView {
    let status = outputs.midi().status();
    let lost = small(status.lost.saturating_add(status.dropped));
    OutputView { well: status.well, says: status.says, sent: small(status.sent), late: small(status.late), lost }
}

/// How OSC is.
pub(super) fn osc(outputs: &Outputs) -> OutputView {
    let status = outputs.osc().status();
    OutputView { well: status.well, says: status.says, sent: small(status.sent), late: 0, lost: small(status.lost) }
}

/// How much later than their times the last sounds were heard: the median.
fn left(sent: &[SentView]) -> Option<Micros> {
    let heard = sent.iter().filter(|sent| sent.output == SoundOutput::Speakers);
    let mut late: Vec<i64> = heard.map(|sent| sent.late_us).collect();
    late.sort_unstable();
    late.get(late.len() / 2).copied().map(Micros)
}

/// How the loudspeakers are, and how loud they were since the last time.
pub(super) fn speakers(sound: &Sound, sent: &[SentView]) -> SpeakersView {
    let (level, status, left) = (sound.take_level(), sound.status(), left(sent));
    SpeakersView {
        well: status.well,
        says: status.says.clone(),
        device: status.device.clone(),
        rate: status.rate,
        buffer: status.buffer,
        device_us: status.delay.device.0,
        calibrated_us: status.delay.calibrated.0,
        air_us: status.delay.air.0,
        whole_us: status.delay.whole().0,
        left_us: left.map(|left| left.0),
        judgement: match judge(left.unwrap_or(Micros::ZERO)) {
            Judgement::InTime => JudgementView::InTime,
            Judgement::Early => JudgementView::Early,
            Judgement::Late => JudgementView::Late,
        },
        sounded: small(status.sounded),
        late: small(status.late),
        silenced: small(status.silenced),
        dropped: small(status.dropped),
        underruns: small(status.underruns),
        peak_db: level.peak.0,
        rms_db: level.rms.0,
    }
}

/// The sound cues of a fight at a speed, phrase by phrase.
pub(super) fn cues(fight: &Fight, speed: Speed, library: Option<&Library>) -> SoundTold {
    let known: BTreeSet<&str> = library.into_iter().flat_map(Library::names).chain(["click", "accent"]).collect();
    let plan = PhraseRange::whole(&fight.score).map(|range| Plan::new(&fight.score, range, speed, 0));
    let mut phrases = plan.as_ref().map_or_else(Vec::new, empty_phrases);
    let sounds = plan.as_ref().map_or(&[][..], Plan::sounds);
    for (plan, sound) in plan.iter().flat_map(|plan| sounds.iter().take(MOST_CUES).map(move |sound| (plan, sound))) {
        let number = sound.phrase_in_range;
        let (Some(phrase), Some(planned)) = (phrases.get_mut(number), plan.phrases().get(number)) else { continue };
        let by = sound.by_move.and_then(|by| plan.moves().get(by));
        phrase.cues.push(SoundCueView {
            sound: sound.name.to_string(),
            at_us: (sound.time - planned.time).0,
            score_trim_us: sound.trim.0,
            level_db: sound.level.0,
            beat: (sound.at - planned.at).beat_label(),
            r#move: by.map(|by| by.number),
            words: by.map(|by| fight.words(by)).or_else(|| sound.text.clone()),
            known: known.contains(sound.name.as_str()),
        });
    }
    let left_out = u32::try_from(sounds.len().saturating_sub(MOST_CUES)).unwrap_or(u32::MAX);
    SoundTold::Cues(Box::new(SoundCues {
        fight: fight.score.name.clone(),
        revision: fight.revision.chars().take(12).collect(),
        percent: speed.as_percent(),
        phrases,
        left_out,
    }))
}

fn empty_phrases(plan: &Plan) -> Vec<SoundPhrase> {
    let end = |number: usize| plan.phrases().get(number + 1).map_or_else(|| plan.duration(), |next| next.time);
    let phrases = plan.phrases().iter().enumerate();
    phrases
        .map(|(number, phrase)| {
            let beats = plan.moments().iter().filter(|moment| moment.phrase_in_range == number);
            let beats = beats.filter(|moment| moment.beat.is_whole_beat());
            SoundPhrase {
                name: phrase.name.clone(),
                length_us: (end(number) - phrase.time).0,
                beats_us: beats.map(|moment| (moment.time - phrase.time).0).take(MOST_BEATS).collect(),
                cues: Vec::new(),
            }
        })
        .collect()
}

fn small(number: u64) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
