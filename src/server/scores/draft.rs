//! What is said of a draft: the same reading and the same checks that a saved score gets, its phrases with their fastest
//! safe tempo, and the beats of one phrase for whoever wants to hear it. Pure: a production and a text in, values out.

use crate::check::{Fastest, MoveLimit, unchecked};
use crate::figure::{Drawn, Picture};
use crate::production::{Production, WithSet};
use crate::score::compare::side_by_side;
use crate::score::model::Score;
use crate::score::position::Lines;
use crate::score::problem::Severity;
use crate::score::read;
use crate::score::reference::reference;
use crate::score::render::reports;
use crate::score::vocabulary::{ReplyArgument, Words};
use crate::timeline::{Click, Moment, PhraseRange, Plan, PlannedMove};
use crate::units::Speed;
use crate::wire::{
    self, ActionWord, Compared, ComparedLine, ComparedRow, DraftPhrase, DraftPicture, DraftReport, FindingSeverity,
    FindingView, PictureAsked, PictureView, Preview, PreviewAsked, PreviewMoment, ReplyNeeds, ReplyWord, SafeTempo,
    SafeWithSet, ScoreWords, TargetWord, small,
};

/// More findings than these help nobody at once: whoever mends the first sees the next.
const MOST_FINDINGS: usize = 500;

/// What is wrong with a draft, and how fast its phrases can go.
pub(super) fn report(production: &Production, file: &str, text: &str) -> DraftReport {
    let fight = production.read_fight(text.as_bytes(), file);
    let lines = Lines::new(fight.text());
    let found = fight.findings();
    let told = found.get(..MOST_FINDINGS).unwrap_or(&found);
    let findings = reports(told, fight.text(), file)
        .into_iter()
        .map(|report| FindingView {
            code: report.code.to_owned(),
            severity: severity(report.severity),
            line: small(report.line),
            column: small(report.column),
            end_line: small(report.end_line),
            end_column: small(report.end_column),
            message: report.message,
            expected: report.expected,
            help: report.help,
        })
        .collect();
    let phrases = fight.score().zip(fight.checked.as_ref());
    let phrases =
        phrases.map_or_else(Vec::new, |(score, checked)| phrases_of(score, &checked.fastest, &fight.with_sets, &lines));
    let left_out = u32::try_from(found.len() - told.len()).unwrap_or(u32::MAX);
    let unchecked = unchecked(&production.rules).to_owned();
    DraftReport { findings, left_out, phrases, runs: fight.score().is_some(), unchecked }
}

fn severity(severity: Severity) -> FindingSeverity {
    match severity {
        Severity::Error => FindingSeverity::Error,
        Severity::Warning => FindingSeverity::Warning,
        Severity::Advice => FindingSeverity::Advice,
    }
}

fn phrases_of(score: &Score, fastest: &Fastest, sets: &[WithSet], lines: &Lines<'_>) -> Vec<DraftPhrase> {
    let line_of = |byte: usize| small(lines.position(byte).line);
    let safe = |limit: &MoveLimit| SafeTempo {
        bpm: limit.bpm,
        percent: (limit.factor * 100.0).floor().clamp(0.0, f64::from(u32::MAX)) as u32,
        line: line_of(limit.span.start),
        words: limit.words.clone(),
    };
    let limit_of = |fastest: &Fastest, number: usize| {
        let limits = fastest.phrases.iter().find(|limits| limits.phrase == number);
        limits.and_then(|limits| limits.limit.as_ref()).map(safe)
    };
    let phrases = score.phrases.iter().enumerate();
    phrases
        .map(|(number, phrase)| {
            let as_written = limit_of(fastest, number);
            let with = |set: &WithSet| {
                Some(SafeWithSet { weapons: set.weapons.clone(), safe: limit_of(set.fastest.as_ref()?, number) })
            };
            let with_sets = sets.iter().filter_map(with).filter(|set| set.safe != as_written).collect();
            DraftPhrase { name: phrase.name.clone(), line: line_of(phrase.span.start), safe: as_written, with_sets }
        })
        .collect()
}

/// Two texts beside each other. How their lines end makes no difference.
pub(super) fn compared(older: &str, newer: &str) -> Compared {
    let [older, newer] = [older, newer].map(|text| text.replace("\r\n", "\n"));
    let line =
        |line: Option<(usize, &str)>| line.map(|(at, text)| ComparedLine { line: small(at), text: text.to_owned() });
    let rows = side_by_side(&older, &newer).into_iter();
    Compared { rows: rows.map(|row| ComparedRow { older: line(row.older), newer: line(row.newer) }).collect() }
}

/// The picture of the move that stands on a line of a draft: in a pattern the first that is made of it.
pub(super) fn picture(production: &Production, asked: &PictureAsked) -> DraftPicture {
    let none = DraftPicture { picture: None, of: None, why: None };
    let reading = read(asked.text.as_bytes(), &asked.file, &production.vocabulary);
    let Some(score) = &reading.score else { return none };
    let Some(whole) = PhraseRange::whole(score) else { return none };
    let lines = Lines::new(&reading.text);
    let plan = Plan::new(score, whole, Speed::FULL, 0);
    let stands_here = |it: &&PlannedMove| small(lines.position(it.span.start).line) == asked.line;
    let Some(planned) = plan.moves().iter().find(stands_here) else { return none };
    let of = Some(planned.words(score));
    match Picture::or_why(&production.vocabulary, &Drawn::of_planned(score, planned)) {
        Ok(picture) => DraftPicture { picture: Some(PictureView::of(&picture)), of, why: None },
        Err(why) => DraftPicture { picture: None, of, why: Some(why.to_owned()) },
    }
}

/// One phrase of a draft, with a bar of count-in, at a speed.
///
/// # Errors
/// A sentence: the draft cannot be run as it is, it has no such phrase, or the speed is out of range.
pub(super) fn preview(production: &Production, asked: &PreviewAsked) -> Result<Preview, String> {
    let fight = production.read_fight(asked.text.as_bytes(), &asked.file);
    let score = fight.score().ok_or("Mend the errors first: a phrase can be heard once every line is understood.")?;
    let phrase = usize::try_from(asked.phrase).unwrap_or(usize::MAX);
    let range = PhraseRange::new(score, phrase, phrase).ok_or("There is no such phrase any more. Choose another.")?;
    let speed = Speed::percent(asked.percent).ok_or("Choose a speed from 10 % to 150 %.")?;
    let plan = Plan::new(score, range, speed, score.beats_per_bar);
    let lines = Lines::new(fight.text());
    let moments = plan.moments().iter().map(|moment| moment_view(score, &plan, moment, &lines)).collect();
    let name = score.phrases.get(phrase).map(|phrase| phrase.name.clone()).unwrap_or_default();
    Ok(Preview { name, moments, seconds: plan.duration().as_seconds() })
}

fn moment_view(score: &Score, plan: &Plan, moment: &Moment, lines: &Lines<'_>) -> PreviewMoment {
    // Only what begins on this moment: a range of moves that is empty says what comes next, not what is.
    let moves = plan.moves().get(moment.moves.clone()).unwrap_or_default();
    let walks = plan.walks().get(moment.walks.clone()).unwrap_or_default();
    let sounds = plan.sounds().get(moment.sounds.clone()).unwrap_or_default();
    let spans = moves.iter().map(|it| &it.span).chain(walks.iter().map(|it| &it.span));
    let spans = spans.chain(sounds.iter().map(|it| &it.span));
    // What is written in a pattern is shown there and where it is used.
    let uses = moves.iter().filter_map(|it| it.used.as_ref()).chain(walks.iter().filter_map(|it| it.used.as_ref()));
    let spans = spans.chain(uses);
    let mut found: Vec<u32> = spans.map(|span| small(lines.position(span.start).line)).collect();
    found.sort_unstable();
    found.dedup();
    let words = moves.iter().map(|planned| planned.words(score));
    PreviewMoment {
        seconds: moment.time.as_seconds(),
        beat: moment.beat.beat_label(),
        click: match moment.click {
            Click::Accent => wire::Click::Accent,
            Click::Beat => wire::Click::Beat,
            Click::None => wire::Click::None,
        },
        count_in: moment.count_in,
        lines: found,
        words: words.collect(),
    }
}

/// The words that a production's scores are written in.
pub(super) fn words(production: &Production) -> ScoreWords {
    let vocabulary = &production.vocabulary;
    let actions = vocabulary.actions.iter();
    let replies = vocabulary.replies.iter().map(|(word, reply)| ReplyWord {
        word: word.clone(),
        argument: match reply.kind.argument() {
            ReplyArgument::None => ReplyNeeds::Nothing,
            ReplyArgument::Parry => ReplyNeeds::Parry,
            ReplyArgument::Target => ReplyNeeds::Target,
        },
        actions: these(&reply.actions),
        targets: these(&reply.targets),
    });
    let mut sounds: Vec<String> = vocabulary.sounds.keys().chain(&production.rules.sounds).cloned().collect();
    sounds.sort();
    sounds.dedup();
    ScoreWords {
        actions: actions.map(|(word, row)| ActionWord { word: word.clone(), targets: row.targets.clone() }).collect(),
        targets: vocabulary
            .targets
            .iter()
            .map(|(word, row)| TargetWord { word: word.clone(), sided: row.sided })
            .collect(),
        replies: replies.collect(),
        parries: vocabulary.parry_words().map(str::to_owned).collect(),
        weapons: vocabulary.weapons.keys().cloned().collect(),
        sounds,
        reference: reference(vocabulary),
    }
}

/// Some words; nothing for all of them.
fn these(words: &Words) -> Option<Vec<String>> {
    match words {
        Words::Any => None,
        Words::These(words) => Some(words.clone()),
    }
}
