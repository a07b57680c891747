//! What the company plays: two fights in which the same person may be cast, the usual order of an evening, and what anybody
//! can read in the scores without the program: the phrases, the parts, and who does and answers which move on which beat.

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use crate::call::{Fight, Planned, UsualEvening};
use crate::score::read;
use crate::score::vocabulary::Vocabulary;

const TEXTS: [&str; 2] = [
    r#"fight "The Quay"
beats 4
tempo 132
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  place MARET -1,3
  place OSK 1,3
  1  MARET cut head / OSK parry 5
  3  OSK cut flank / MARET parry 4
  5  MARET cut head / OSK parry 5
phrase "Two"
  1  OSK cut head / MARET parry 5
  3  MARET cut flank / OSK parry 4
phrase "Three"
  1  MARET cut head / OSK parry 5
  3  OSK cut head / MARET parry 5
"#,
    r#"fight "The Stair"
beats 4
tempo 144
fighters
  OSK   rapier right
  TILDA rapier right
phrase "Up"
  place OSK -1,3
  place TILDA 1,3
  1  TILDA cut head / OSK parry 5
  3  OSK cut flank / TILDA parry 4
phrase "Down"
  1  OSK cut head / TILDA parry 5
"#,
];

/// A fight, as it is read off the paper.
#[derive(Debug, Default)]
pub(super) struct Bout {
    pub(super) fight: String,
    pub(super) parts: Vec<String>,
    pub(super) phrases: Vec<String>,
    pub(super) moves: Vec<Blow>,
}

/// A move: who does it to whom, in which phrase, on which beat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Blow {
    pub(super) phrase: usize,
    pub(super) beat: String,
    pub(super) who: String,
    pub(super) to: String,
}

impl Bout {
    /// The place of a phrase among its phrases.
    pub(super) fn phrase(&self, name: &str) -> Option<usize> {
        self.phrases.iter().position(|phrase| phrase == name)
    }
}

/// The fights, in the production's order.
pub(super) fn bouts() -> &'static [Bout] {
    static BOUTS: LazyLock<Vec<Bout>> = LazyLock::new(|| TEXTS.iter().map(|text| bout(text)).collect());
    &BOUTS
}

/// The fight of that name.
pub(super) fn bout_of(fight: &str) -> Option<&'static Bout> {
    bouts().iter().find(|bout| bout.fight == fight)
}

fn bout(text: &str) -> Bout {
    let mut bout = Bout::default();
    let quoted = |line: &str| line.split('"').nth(1).unwrap_or_default().to_owned();
    for line in text.lines() {
        match line.split_whitespace().collect::<Vec<_>>()[..] {
            ["fight", ..] => bout.fight = quoted(line),
            ["phrase", ..] => bout.phrases.push(quoted(line)),
            [part, _, "right"] => bout.parts.push(part.to_owned()),
            [beat, who, _, _, "/", to, ..] => {
                let phrase = bout.phrases.len() - 1;
                bout.moves.push(Blow { phrase, beat: beat.to_owned(), who: who.to_owned(), to: to.to_owned() });
            }
            _ => {}
        }
    }
    bout
}

/// The fights as the server has them.
pub(super) fn fights() -> Vec<Arc<Fight>> {
    let fight = |(digit, text): (char, &&str)| {
        let score = read(text, "evening.fight", &Vocabulary::built_in()).score.expect("the fight can be read");
        Arc::new(Fight::unchecked(score, digit.to_string().repeat(64), (*text).into()))
    };
    ['1', '2'].into_iter().zip(&TEXTS).map(fight).collect()
}

/// What the house usually does: the first fight to performance tempo, the second move by move.
pub(super) fn usual() -> UsualEvening {
    let whole = |at: usize, percent| Planned {
        fight: bouts()[at].fight.clone(),
        weapons: None,
        from: None,
        to: None,
        percent,
        count_in: None,
    };
    let covers = BTreeMap::from([("OSK".to_owned(), vec!["Ana".to_owned()])]);
    UsualEvening { order: vec![whole(0, Some(100)), whole(1, None)], covers, count_in: None }
}

#[test]
fn the_fights_are_read_off_the_paper() {
    let [quay, stair] = bouts() else { panic!("{:?}", bouts()) };
    assert_eq!((quay.moves.len(), stair.moves.len()), (7, 3));
    assert_eq!((quay.parts.join(" "), stair.parts.join(" ")), ("MARET OSK".to_owned(), "OSK TILDA".to_owned()));
    assert_eq!(stair.phrases, ["Up", "Down"]);
    let blow = Blow { phrase: 0, beat: "3".into(), who: "OSK".into(), to: "TILDA".into() };
    assert_eq!(stair.moves[1], blow);
}
