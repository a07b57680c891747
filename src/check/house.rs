//! The house: nothing louder or faster than the production allows, no sound that does not exist, no flash too many.

use crate::score::model::{Item, Move, Phrase, SoundCue, Span, TempoChange, Word};
use crate::score::problem::Problem;
use crate::units::{Bpm, Micros};

use super::answer::blades_meet;
use super::point_at_use;
use super::scene::Scene;

/// H401 … H406.
pub(super) fn find(scene: &Scene<'_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (index, phrase) in scene.score.phrases.iter().enumerate() {
        problems.extend(first_tempo(scene, index, phrase));
        look(scene, &phrase.items, None, &mut problems);
    }
    problems
}

fn look(scene: &Scene<'_>, items: &[Item], used: Option<&Span>, problems: &mut Vec<Problem>) {
    for item in items {
        let before = problems.len();
        match item {
            Item::Move(written) => {
                problems.extend(written.sounds.iter().flat_map(|cue| cue_problems(scene, cue)));
                problems.extend(silent_blades(scene, written));
                problems.extend(far_from_its_blow(scene, written));
            }
            Item::Sound(lone) => problems.extend(cue_problems(scene, &lone.sounds)),
            Item::Tempo(TempoChange::Step { to, span, .. }) => problems.extend(tempo(scene, *to, span)),
            Item::Tempo(TempoChange::Ramp { start, end, span, .. }) => {
                let fastest = if end > start { *end } else { *start };
                problems.extend(tempo(scene, fastest, span));
            }
            Item::Repeat(repeat) => {
                look(scene, &repeat.items, repeat.used.as_ref().map(|used| &used.span).or(used), problems);
                continue;
            }
            Item::Walk(_) | Item::Place(_) | Item::Rest(_) => {}
        }
        point_at_use(problems.get_mut(before..).unwrap_or_default(), used);
    }
}

/// A phrase's own tempo; for the first phrase, when it has none, the fight's.
fn first_tempo(scene: &Scene<'_>, index: usize, phrase: &Phrase) -> Vec<Problem> {
    let stated = phrase.tempo.or((index == 0).then_some(scene.score.tempo));
    stated.map_or(Vec::new(), |bpm| tempo(scene, bpm, &phrase.span))
}

/// H401: faster than allowed. H404: too fast to flash on every beat.
fn tempo(scene: &Scene<'_>, bpm: Bpm, span: &Span) -> Vec<Problem> {
    let mut problems = Vec::new();
    let most = scene.rules.max_bpm;
    if bpm.get() > most {
        let message = format!("{bpm} beats a minute is faster than the {most} that the house allows");
        problems.push(Problem::warning("H401", span.clone(), message).help("write it slower, or in longer beats"));
    }
    let flashes = scene.rules.max_flashes;
    if bpm.get() >= 60.0 * flashes {
        let message = format!("at {bpm} beats a minute, a flash on every beat is more than {flashes} in a second");
        let per_bar = bpm.get() / f64::from(scene.score.beats_per_bar.max(1));
        let instead = if per_bar < 60.0 * flashes {
            "phones will flash on the first beat of each bar only"
        } else {
            "phones will not flash here"
        };
        problems.push(Problem::advice("H404", span.clone(), message).help(instead));
    }
    problems
}

/// H402: louder than allowed. H403: a sound that is not there.
fn cue_problems(scene: &Scene<'_>, cue: &SoundCue) -> Vec<Problem> {
    let mut problems = Vec::new();
    if cue.level > scene.rules.max_level() {
        let message =
            format!("{:+} dB is louder than the {:+} dB that the house allows", cue.level.0, scene.rules.max_level_db);
        problems.push(
            Problem::warning("H402", cue.span.clone(), message)
                .help("turn it down here, or make the sound itself louder"),
        );
    }
    let unknown = |name: &&Word| {
        let name = name.as_str();
        !scene.vocabulary.sounds.contains_key(name) && !scene.rules.sounds.contains(name)
    };
    problems.extend(cue.names.iter().filter(unknown).map(|name| {
        let message = format!("there is no sound named `{name}`: nothing will be heard");
        Problem::warning("H403", cue.span.clone(), message)
            .help("use a sound of the vocabulary, or add the recording to the production")
    }));
    problems
}

/// A sound and a picture that are further apart are felt to be so: 90 ms when the sound comes first, 185 ms when it comes
/// last. ITU-R BT.1359-1 (1998), the bounds of acceptability.
const EARLIEST: Micros = Micros::millis(-90);
const LATEST: Micros = Micros::millis(185);

/// H406: a sound that is heard long before or after its blow. What a body does after its beat, such as a fall, has its
/// sound in that time.
fn far_from_its_blow(scene: &Scene<'_>, written: &Move) -> Option<Problem> {
    let cue = written.sounds.as_ref().filter(|cue| cue.trim < EARLIEST || cue.trim > LATEST)?;
    let of_action = scene.vocabulary.actions.get(written.action.as_str()).map_or(Micros::ZERO, |row| row.after);
    let reply = written.answer.as_ref().and_then(|answer| scene.vocabulary.replies.get(answer.reply.as_str()));
    let after = of_action.max(reply.map_or(Micros::ZERO, |row| row.after));
    if cue.trim >= EARLIEST && cue.trim <= LATEST.max(after) {
        return None;
    }
    let (length, when) = (cue.trim.as_millis().abs(), if cue.trim < Micros::ZERO { "before" } else { "after" });
    let message = format!(
        "the {} of {}'s {} is heard {length} ms {when} it",
        cue.names.join("+"),
        scene.fighter(written.who),
        written.action
    );
    let help = "bring it nearer to its beat, or write a sound of its own on a line with its own beat";
    Some(Problem::warning("H406", cue.span.clone(), message).help(help))
}

/// H405: blades that meet without a sound.
fn silent_blades(scene: &Scene<'_>, written: &Move) -> Option<Problem> {
    if written.sounds.is_some() {
        return None;
    }
    let action = scene.vocabulary.actions.get(written.action.as_str())?;
    (action.attack && blades_meet(scene, written, action)).then(|| {
        let sound = action.sound.as_deref().unwrap_or("steel");
        let message = format!(
            "blades meet in {}'s {} and nothing is cued to be heard",
            scene.fighter(written.who),
            written.action
        );
        Problem::advice("H405", written.span.clone(), message).help(format!("add `! {sound}`"))
    })
}
