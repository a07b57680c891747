//! Answers: is every attack answered, and does the answer fit what comes? A parry has to close a line that the attack
//! comes in on, seen from the defender's weapon hand; an avoidance has to be one for that target; a `take` has to name
//! the place that was hit.

use crate::score::model::{Answer, Item, Move, Side};
use crate::score::problem::Problem;
use crate::score::vocabulary::{Action, Line, Reply, ReplyKind, Touch, Words};
use crate::score::words;

use super::scene::{Scene, one_of};

/// A101 … A106.
pub(super) fn find(scene: &Scene<'_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    scene.score.phrases.iter().for_each(|phrase| look(scene, &phrase.items, &mut problems));
    problems
}

fn look(scene: &Scene<'_>, items: &[Item], problems: &mut Vec<Problem>) {
    for item in items {
        match item {
            Item::Move(written) => problems.extend(look_at(scene, written)),
            Item::Repeat(repeat) => look(scene, &repeat.items, problems),
            _ => {}
        }
    }
}

fn look_at(scene: &Scene<'_>, written: &Move) -> Option<Problem> {
    let action = scene.vocabulary.actions.get(&written.action)?;
    if !action.attack {
        return None;
    }
    let Some(answer) = &written.answer else { return Some(unanswered(scene, written)) };
    let reply = scene.vocabulary.replies.get(&answer.reply)?;
    unfit(scene, written, answer, reply).or_else(|| match reply.kind {
        ReplyKind::Parry | ReplyKind::CircularParry => open_line(scene, written, answer),
        ReplyKind::Take => wrong_place(scene, written, answer),
        ReplyKind::Avoid | ReplyKind::Yield | ReplyKind::Block => None,
    })
}

/// A101: an attack that nobody answers.
fn unanswered(scene: &Scene<'_>, written: &Move) -> Problem {
    let who = scene.fighter(written.who);
    let action = words::action(written);
    Problem::error("A101", written.span.clone(), format!("nobody answers {who}'s {action}"))
        .help(format!("write who answers and how after a `/`: {}", one_of(&fitting(scene, written))))
}

/// A102: a reply that is none to this action. A103: one that is none to this target.
fn unfit(scene: &Scene<'_>, written: &Move, answer: &Answer, reply: &Reply) -> Option<Problem> {
    let (code, to) = if !reply.actions.contains(&written.action) {
        ("A102", format!("`{}`", written.action))
    } else {
        // An attack that names no target cannot be said to go where the reply does not help.
        let target = written.target.as_ref().filter(|target| !reply.targets.contains(target))?;
        ("A103", format!("an attack to the {target}"))
    };
    let who = scene.fighter(answer.who);
    let message = format!("{who}'s {} is no answer to {to}", words::reply(answer));
    Some(Problem::error(code, answer.span.clone(), message).help(format!("use {}", one_of(&fitting(scene, written)))))
}

/// A104: a parry that leaves the attacked line open. A105: one that may, because the attack names no side.
fn open_line(scene: &Scene<'_>, written: &Move, answer: &Answer) -> Option<Problem> {
    let (number, parry) = scene.vocabulary.parry(answer.arg.as_deref()?)?;
    let word = written.target.as_deref()?;
    let target = scene.vocabulary.targets.get(word)?;
    let hand = scene.score.fighters.get(answer.who.0)?.hand;
    let closes = |side| parry.closes_any(&target.lines(side, hand));
    if !closes(written.side) {
        return Some(left_open(scene, written, answer, number, &target.lines(written.side, hand)));
    }
    let depends = target.sided && written.side.is_none() && closes(Some(Side::Left)) != closes(Some(Side::Right));
    depends.then(|| {
        let message = format!("which side of the {word}? parry {number} closes only one of them");
        Problem::warning("A105", written.span.clone(), message)
            .help("write `left` or `right`, as the one who is hit sees it")
    })
}

fn left_open(scene: &Scene<'_>, written: &Move, answer: &Answer, number: &str, lines: &[Line]) -> Problem {
    let comes = match lines {
        [] => "where no blade closes".to_owned(),
        lines => format!("{} for {}", line_words(lines), scene.fighter(answer.who)),
    };
    let (who, action) = (scene.fighter(written.who), words::action(written));
    let target = written.target.as_deref().unwrap_or_default();
    let message = format!("parry {number} leaves the {target} open: {who}'s {action} comes in {comes}");
    Problem::error("A104", answer.span.clone(), message).help(format!("use {}", one_of(&fitting(scene, written))))
}

/// A106: a `take` that names another place than was hit.
fn wrong_place(scene: &Scene<'_>, written: &Move, answer: &Answer) -> Option<Problem> {
    let target = written.target.as_deref()?;
    let who = scene.fighter(answer.who);
    let place = answer.arg.as_deref()?;
    let other_side = matches!((written.side, answer.side), (Some(hit), Some(taken)) if hit != taken);
    let hit = [Some(target), written.side.map(|side| side.word())].into_iter().flatten().collect::<Vec<_>>().join(" ");
    (other_side || !scene.vocabulary.take_fits(target, place)).then(|| {
        let message = format!("{who}'s {} names another place than was hit: the {hit}", words::reply(answer));
        let places = scene.vocabulary.targets.get(target).map_or(Vec::new(), |row| row.takes.clone());
        let help =
            if other_side { format!("write `{} {hit}`", answer.reply) } else { format!("name {}", one_of(&places)) };
        Problem::error("A106", answer.span.clone(), message).help(help)
    })
}

/// The replies that would answer a move: parries by number when its answerer is known, the others by their word. At
/// most six, for a person has to read them.
fn fitting(scene: &Scene<'_>, written: &Move) -> Vec<String> {
    let fits = |words: &Words| written.target.as_deref().is_none_or(|target| words.contains(target));
    let rows = scene.vocabulary.replies.iter();
    let fitting = rows.filter(|(_, reply)| reply.actions.contains(&written.action) && fits(&reply.targets));
    let mut replies: Vec<String> = parries(scene, written);
    replies.extend(fitting.filter_map(|(word, reply)| match reply.kind {
        ReplyKind::Parry | ReplyKind::CircularParry => None,
        ReplyKind::Take => written.target.as_ref().map(|target| format!("{word} {target}")),
        ReplyKind::Avoid | ReplyKind::Yield | ReplyKind::Block => Some(word.clone()),
    }));
    replies.truncate(6);
    replies
}

fn parries(scene: &Scene<'_>, written: &Move) -> Vec<String> {
    let vocabulary = scene.vocabulary;
    let answerer = written.answer.as_ref().map(|answer| answer.who).or_else(|| scene.only_other(written.who));
    let hand = answerer.and_then(|who| scene.score.fighters.get(who.0)).map(|fighter| fighter.hand);
    let target = written.target.as_ref().and_then(|target| vocabulary.targets.get(target));
    let direct = vocabulary.replies.iter().find(|(_, reply)| reply.kind == ReplyKind::Parry);
    let (Some(hand), Some(target), Some((word, reply))) = (hand, target, direct) else { return Vec::new() };
    if !reply.actions.contains(&written.action) {
        return Vec::new();
    }
    let lines = target.lines(written.side, hand);
    let closing = vocabulary.parries.iter().filter(|(_, parry)| parry.closes_any(&lines));
    closing.map(|(number, _)| format!("{word} {number}")).collect()
}

fn line_words(lines: &[Line]) -> String {
    one_of(&lines.iter().map(|line| line.word().to_owned()).collect::<Vec<_>>())
}

/// What a row says of touching, for the house check.
pub(super) fn blades_meet(scene: &Scene<'_>, written: &Move, action: &Action) -> bool {
    let avoided = written.answer.as_ref().and_then(|answer| scene.vocabulary.replies.get(&answer.reply));
    action.touch == Touch::Blades && avoided.is_none_or(|reply| reply.kind != ReplyKind::Avoid)
}
