//! Small fights for the call's tests, made as values so that they need no text.

use std::sync::Arc;

use holdfast::call::Fight;
use holdfast::score::model::{Answer, Fighter, FighterId, Hand, Item, Manner, Move, Phrase, Rest, Score};
use holdfast::units::{Bpm, Ticks};

/// A fight of two, with these phrases: each a list of the beats (from 0) on which somebody attacks.
pub(crate) fn fight_of(name: &str, bpm: f64, phrases: &[&[i64]]) -> Arc<Fight> {
    duel(name, ["MARET", "OSK"], '0', bpm, phrases)
}

/// The same of those two, with a revision of that digit.
pub(crate) fn duel(name: &str, two: [&str; 2], digit: char, bpm: f64, phrases: &[&[i64]]) -> Arc<Fight> {
    let fighter = |name: &str| Fighter {
        name: name.into(),
        weapon: "rapier".into(),
        hand: Hand::Right,
        sheathed: false,
        second: None,
        span: 0..0,
    };
    let score = Score {
        name: name.into(),
        beats_per_bar: 4,
        tempo: Bpm::new(bpm).unwrap(),
        fighters: two.map(fighter).into(),
        bystanders: Vec::new(),
        phrases: phrases.iter().enumerate().map(|(number, beats)| phrase(number, beats)).collect(),
    };
    Arc::new(Fight::unchecked(score, digit.to_string().repeat(64), String::new()))
}

fn phrase(number: usize, beats: &[i64]) -> Phrase {
    let mut items: Vec<Item> = beats.iter().map(|beat| Item::Move(attack(*beat))).collect();
    items.push(Item::Rest(Rest { length: Ticks::beats(1), span: 0..0 }));
    Phrase { name: format!("phrase {}", number + 1), tempo: None, items, span: 0..0 }
}

fn attack(beat: i64) -> Move {
    let (who, to) = if beat % 2 == 0 { (0, 1) } else { (1, 0) };
    Move {
        at: Ticks::beats(beat),
        who: FighterId(who),
        action: "cut".into(),
        target: Some("head".into()),
        side: None,
        manner: Manner::default(),
        answer: Some(Answer {
            who: FighterId(to),
            reply: "parry".into(),
            arg: Some("5".into()),
            side: None,
            with: None,
            span: 0..0,
        }),
        sounds: None,
        text: None,
        span: 0..0,
    }
}
