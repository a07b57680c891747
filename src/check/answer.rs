//! Answers: is every attack answered, and does the answer fit what comes? A parry has to close a line that the attack
//! comes in on, seen from the defender's weapon hand; an avoidance has to be one for that target; a `take` has to name
//! the place that was hit.

use crate::score::model::{Answer, FREE_HAND, FighterId, Hand, Item, Move, Side, Span, StatedTouch};
use crate::score::problem::{Problem, Severity};
use crate::score::vocabulary::{Action, Line, Reply, ReplyKind, Target, Touch, Vital, Words};
use crate::score::words;

use super::point_at_use;
use super::scene::{Scene, one_of};

/// A101 … A108.
pub(super) fn find(scene: &Scene<'_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    scene.score.phrases.iter().for_each(|phrase| look(scene, &phrase.items, None, &mut problems));
    problems
}

fn look(scene: &Scene<'_>, items: &[Item], used: Option<&Span>, problems: &mut Vec<Problem>) {
    for item in items {
        match item {
            Item::Move(written) => {
                let mut found = look_at(scene, written);
                point_at_use(found.as_mut_slice(), used);
                problems.extend(found);
            }
            Item::Repeat(repeat) => {
                look(scene, &repeat.items, repeat.used.as_ref().map(|used| &used.span).or(used), problems);
            }
            _ => {}
        }
    }
}

fn look_at(scene: &Scene<'_>, written: &Move) -> Option<Problem> {
    let action = scene.vocabulary.actions.get(written.action.as_str())?;
    if !action.attack {
        return None;
    }
    let Some(answer) = &written.answer else { return Some(unanswered(scene, written)) };
    let reply = scene.vocabulary.replies.get(answer.reply.as_str())?;
    unfit(scene, written, answer, reply).or_else(|| past_the_faces(scene, written)).or_else(|| match reply.kind {
        ReplyKind::Parry | ReplyKind::CircularParry => {
            let open = open_line(scene, written, answer, reply);
            if open.as_ref().is_some_and(|open| open.severity == Severity::Error) {
                return open;
            }
            parried_air(scene, written, answer, action).or(open)
        }
        ReplyKind::Meet => parried_air(scene, written, answer, action),
        ReplyKind::Take => {
            wrong_place(scene, written, answer).or_else(|| landed_on_a_vital_place(scene, written, answer, action))
        }
        ReplyKind::Yield => landed_on_a_vital_place(scene, written, answer, action),
        ReplyKind::Avoid if written.manner.touch == Some(StatedTouch::Contact) => {
            landed_on_a_vital_place(scene, written, answer, action)
        }
        ReplyKind::Avoid | ReplyKind::Block => None,
    })
}

/// What touches, as the score says it of this move or else the vocabulary of the action.
pub(super) fn touch(written: &Move, action: &Action) -> Touch {
    touch_of(written.manner.touch, action)
}

/// What touches when an action is done, and the score says this of it.
pub(super) fn touch_of(stated: Option<StatedTouch>, action: &Action) -> Touch {
    match stated {
        Some(StatedTouch::Contact) if action.needs_weapon => Touch::Blades,
        Some(StatedTouch::Contact) => Touch::Bodies,
        Some(StatedTouch::Placed) => Touch::Placed,
        Some(StatedTouch::Clear) => Touch::Nothing,
        None => action.touch,
    }
}

/// The lines by which a move comes in on somebody.
fn lines(scene: &Scene<'_>, written: &Move, target: &Target, side: Option<Side>, hand: Hand) -> Vec<Line> {
    let straight = scene.vocabulary.actions.get(written.action.as_str()).is_some_and(|action| action.straight);
    target.lines_of(side, hand, straight)
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
fn open_line(scene: &Scene<'_>, written: &Move, answer: &Answer, reply: &Reply) -> Option<Problem> {
    let (number, parry) = scene.vocabulary.parry(answer.arg.as_deref()?)?;
    let word = written.target.as_deref()?;
    let target = scene.vocabulary.targets.get(word)?;
    let hand = hand_of(scene, answer.who, answer.with.as_deref())?;
    // A circle carries what came in across the body back into its own line, at the same height.
    let across = || scene.vocabulary.parries.get(scene.vocabulary.mirrored_parry(number)?);
    let across = if reply.kind == ReplyKind::CircularParry { across() } else { None };
    let closes = |side| {
        let lines = lines(scene, written, target, side, hand);
        parry.closes_any(&lines) || across.is_some_and(|across| across.closes_any(&lines))
    };
    if !closes(written.side) {
        return Some(left_open(scene, written, answer, number, &lines(scene, written, target, written.side, hand)));
    }
    let depends = target.sided && written.side.is_none() && closes(Some(Side::Left)) != closes(Some(Side::Right));
    depends.then(|| {
        let message = format!("which side of the {word}? parry {number} closes only one of them");
        Problem::warning("A105", written.span.clone(), message)
            .help("write `left` or `right`, as the one who is hit sees it")
    })
}

/// The hand that a weapon is in, or the one that holds none. Inside and outside are seen from it.
fn hand_of(scene: &Scene<'_>, who: FighterId, with: Option<&str>) -> Option<Hand> {
    let fighter = scene.score.fighters.get(who.0)?;
    let other = |hand| match hand {
        Hand::Right => Hand::Left,
        Hand::Left => Hand::Right,
        Hand::None => Hand::None,
    };
    Some(match with {
        Some(FREE_HAND) => other(fighter.hand),
        Some(word) if word != fighter.weapon => {
            fighter.second.as_ref().filter(|second| second.weapon == word).map_or(fighter.hand, |second| second.hand)
        }
        _ => fighter.hand,
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

/// A108: a parry or a meeting blade against what is swung to pass clear.
fn parried_air(scene: &Scene<'_>, written: &Move, answer: &Answer, action: &Action) -> Option<Problem> {
    if !action.needs_weapon || touch(written, action) != Touch::Nothing {
        return None;
    }
    let (who, other) = (scene.fighter(written.who), scene.fighter(answer.who));
    let message = format!(
        "{who}'s {} is swung to pass clear, and {other}'s {} puts a blade in its way",
        words::action(written),
        words::reply(answer)
    );
    let avoiding = one_of(&fitting(scene, written));
    let help = if written.manner.touch == Some(StatedTouch::Clear) {
        format!("let {other} {avoiding}, or take `clear` away")
    } else {
        format!("let {other} {avoiding}, or write a blow that is meant for the blade, such as a cut")
    };
    Some(Problem::error("A108", answer.span.clone(), message).help(help))
}

/// A107: a blow of a weapon that lands, or is laid on, where none may.
fn landed_on_a_vital_place(scene: &Scene<'_>, written: &Move, answer: &Answer, action: &Action) -> Option<Problem> {
    let word = written.target.as_deref()?;
    let vital = scene.vocabulary.targets.get(word)?.vital;
    let touch = touch(written, action);
    if lands_bare_handed(written, action) && vital != Vital::No {
        return Some(blow_that_lands(scene, written, answer, action));
    }
    // A point that goes straight in is laid on or passes; in full it lands nowhere.
    let in_full = action.straight && written.manner.touch == Some(StatedTouch::Contact);
    let lands = touch == Touch::Blades && (vital != Vital::No || in_full);
    let laid_on = touch == Touch::Placed && vital == Vital::Never;
    if !action.needs_weapon || !(lands || laid_on) {
        return None;
    }
    let (who, other) = (scene.fighter(written.who), scene.fighter(answer.who));
    let what = words::action(written);
    Some(if lands {
        let message = format!(
            "{who}'s {what} would land: {other}'s {} stops nothing, and the {word} must not be hit",
            answer.reply
        );
        let way =
            if vital == Vital::Placed { "`placed` when the blade is laid on, `clear` when" } else { "`clear` when" };
        let help = format!(
            "write {way} it passes and only looks like a hit, or let {other} answer it: {}",
            defences(scene, written)
        );
        Problem::error("A107", written.span.clone(), message).help(help)
    } else {
        let message = format!("{who}'s {what} lays a blade on {other}'s {word}, where not even a placed one belongs");
        let help = "write `clear` behind it when it only looks like a touch, or choose a place below the neck";
        Problem::warning("A107", written.span.clone(), message).help(help)
    })
}

/// True for a blow of hand or foot of which the score says that it lands.
fn lands_bare_handed(written: &Move, action: &Action) -> bool {
    written.manner.touch == Some(StatedTouch::Contact) && !action.needs_weapon && action.touch == Touch::Nothing
}

/// A110.
fn blow_that_lands(scene: &Scene<'_>, written: &Move, answer: &Answer, action: &Action) -> Problem {
    let (who, other) = (scene.fighter(written.who), scene.fighter(answer.who));
    let (what, word) = (words::action(written), written.target.as_deref().unwrap_or_default());
    let message = format!("{who}'s {what} would land on {other}'s {word}, where no blow may");
    // An open hand is taught to land on a cheek, by those who have been taught it.
    let severity = if action.open_hand { Severity::Warning } else { Severity::Error };
    Problem::new(severity, "A110", written.span.clone(), message)
        .help("take `contact` away: it passes clear and is sounded by somebody")
}

/// A111: a bind that carries the points past the faces.
fn past_the_faces(scene: &Scene<'_>, written: &Move) -> Option<Problem> {
    let (from, to) = written.manner.carried.as_ref()?;
    let high = |number: &str| {
        let closes = scene.vocabulary.parries.get(number)?.closes;
        matches!(closes, Line::HighInside | Line::HighOutside | Line::Overhead).then_some(closes)
    };
    let (one, other) = (high(from)?, high(to)?);
    (one != other).then(|| {
        let who = scene.fighter(written.who);
        let message = format!("{who} carries the blades from {from} to {to}, both high: the points pass the faces");
        Problem::warning("A111", written.span.clone(), message)
            .help("carry them down, to the line across and below or straight below")
    })
}

/// The replies that keep a blow from landing.
fn defences(scene: &Scene<'_>, written: &Move) -> String {
    let landing = |reply: &String| {
        let word = reply.split(' ').next().unwrap_or_default();
        let kind = scene.vocabulary.replies.get(word).map(|row| row.kind);
        matches!(kind, Some(ReplyKind::Take | ReplyKind::Yield))
    };
    one_of(&fitting(scene, written).into_iter().filter(|reply| !landing(reply)).collect::<Vec<_>>())
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
        ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Meet => None,
        ReplyKind::Take => written.target.as_ref().map(|target| format!("{word} {target}")),
        ReplyKind::Avoid | ReplyKind::Yield | ReplyKind::Block => Some(word.clone()),
    }));
    replies.truncate(6);
    replies
}

fn parries(scene: &Scene<'_>, written: &Move) -> Vec<String> {
    let vocabulary = scene.vocabulary;
    let answerer = written.answer.as_ref().map(|answer| answer.who).or_else(|| scene.only_other(written.who));
    let with = written.answer.as_ref().and_then(|answer| answer.with.as_deref());
    let hand = answerer.and_then(|who| hand_of(scene, who, with));
    let target = written.target.as_ref().and_then(|target| vocabulary.targets.get(target.as_str()));
    let direct = vocabulary.replies.iter().find(|(_, reply)| reply.kind == ReplyKind::Parry);
    let (Some(hand), Some(target), Some((word, reply))) = (hand, target, direct) else { return Vec::new() };
    let air = |action: &Action| action.needs_weapon && touch(written, action) == Touch::Nothing;
    if !reply.actions.contains(&written.action) || vocabulary.actions.get(written.action.as_str()).is_some_and(air) {
        return Vec::new();
    }
    let lines = lines(scene, written, target, written.side, hand);
    let closing = vocabulary.parries.iter().filter(|(_, parry)| parry.closes_any(&lines));
    closing.map(|(number, _)| format!("{word} {number}")).collect()
}

fn line_words(lines: &[Line]) -> String {
    one_of(&lines.iter().map(|line| line.word().to_owned()).collect::<Vec<_>>())
}

/// True when blades ring: one is parried or met, or one binds another. A blow that lands, misses or is blocked with an
/// arm does not.
pub(super) fn blades_meet(scene: &Scene<'_>, written: &Move, action: &Action) -> bool {
    let answered = written.answer.as_ref().and_then(|answer| scene.vocabulary.replies.get(answer.reply.as_str()));
    meets(answered.map(|reply| reply.kind), touch(written, action))
}

/// The same by the kind of the answer and what touches.
pub(super) fn meets(answered: Option<ReplyKind>, touch: Touch) -> bool {
    match answered {
        Some(ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Meet) => touch != Touch::Nothing,
        Some(ReplyKind::Yield) | None => touch == Touch::Blades,
        Some(ReplyKind::Take | ReplyKind::Avoid | ReplyKind::Block) => false,
    }
}
