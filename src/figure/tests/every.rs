//! Every move that the rows of a vocabulary allow, for two right hands.

use crate::figure::{Armed, Drawn, DrawnReply};
use crate::score::model::{Hand, Side, Word};
use crate::score::vocabulary::{Action, ReplyArgument, Vocabulary};

/// A move, and how it is written.
pub(super) struct Case {
    pub(super) name: String,
    pub(super) drawn: Drawn,
}

/// A move without its answer.
pub(super) fn lone(action: &str, target: Option<&str>, side: Option<Side>) -> Drawn {
    let armed = Armed { hand: Hand::Right, weapon: Some("rapier".to_owned()) };
    Drawn {
        action: action.into(),
        target: target.map(Word::from),
        side,
        touch: None,
        carried: None,
        answer: None,
        doer: armed.clone(),
        partner: armed,
        free_hand: false,
        answers_with_free_hand: false,
    }
}

/// The same with one.
pub(super) fn answered(drawn: &Drawn, reply: &str, arg: Option<&str>, side: Option<Side>) -> Drawn {
    let answer = DrawnReply { reply: reply.into(), arg: arg.map(Word::from), side };
    Drawn { answer: Some(answer), ..drawn.clone() }
}

/// The targets and sides that an action can name.
fn aims<'v>(vocabulary: &'v Vocabulary, row: &'v Action) -> Vec<(Option<&'v str>, Option<Side>)> {
    let sides = |word: &'v String| match vocabulary.targets.get(word) {
        Some(target) if target.sided => {
            vec![(Some(word.as_str()), Some(Side::Left)), (Some(word.as_str()), Some(Side::Right))]
        }
        _ => vec![(Some(word.as_str()), None)],
    };
    let named = row.targets.iter().flat_map(sides);
    named.chain((!row.target_needed).then_some((None, None))).collect()
}

/// Every action at every target that it fits, with no answer and with every answer that fits.
pub(super) fn every(vocabulary: &Vocabulary) -> Vec<Case> {
    let mut cases = Vec::new();
    for (action, row) in &vocabulary.actions {
        for (target, side) in aims(vocabulary, row) {
            let drawn = lone(action, target, side);
            let answers = answers(vocabulary, action, row, target, side);
            cases.push(Case { name: name(&drawn), drawn: drawn.clone() });
            cases.extend(answers.into_iter().map(|(reply, arg)| {
                let hit = if vocabulary.targets.contains_key(arg.unwrap_or_default()) { side } else { None };
                let drawn = answered(&drawn, reply, arg, hit);
                Case { name: name(&drawn), drawn }
            }));
        }
    }
    cases
}

fn answers<'v>(
    vocabulary: &'v Vocabulary,
    action: &str,
    row: &Action,
    target: Option<&'v str>,
    side: Option<Side>,
) -> Vec<(&'v str, Option<&'v str>)> {
    if !row.attack {
        return Vec::new();
    }
    let fits = |(_, reply): &(&'v String, &crate::score::vocabulary::Reply)| {
        reply.actions.contains(action) && target.is_none_or(|target| reply.targets.contains(target))
    };
    let lines = target
        .and_then(|word| vocabulary.targets.get(word))
        .map(|row_of| row_of.lines_of(side, Hand::Right, row.straight));
    let closes = |number: &&'v String| {
        lines.as_ref().is_some_and(|lines| vocabulary.parries.get(*number).is_some_and(|parry| parry.closes_any(lines)))
    };
    let mut found = Vec::new();
    for (word, reply) in vocabulary.replies.iter().filter(fits) {
        match reply.kind.argument() {
            ReplyArgument::None => found.push((word.as_str(), None)),
            ReplyArgument::Target => found.extend(target.map(|target| (word.as_str(), Some(target)))),
            ReplyArgument::Parry => found
                .extend(vocabulary.parries.keys().filter(closes).map(|number| (word.as_str(), Some(number.as_str())))),
        }
    }
    found
}

/// How it is written in a score.
pub(super) fn name(drawn: &Drawn) -> String {
    let side = |side: Option<Side>| match side {
        Some(Side::Left) => " left",
        Some(Side::Right) => " right",
        None => "",
    };
    let target = drawn.target.as_deref().map_or_else(String::new, |target| format!(" {target}{}", side(drawn.side)));
    let answer = drawn.answer.as_ref().map_or_else(String::new, |answer| {
        let arg = answer.arg.as_deref().map_or_else(String::new, |arg| format!(" {arg}"));
        format!(" / {}{arg}", answer.reply)
    });
    format!("{}{target}{answer}", drawn.action)
}
