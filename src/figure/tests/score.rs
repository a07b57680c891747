//! Moves of a score, as it is written: who has which weapon in which hand.

use crate::figure::{Drawn, Picture};
use crate::score::model::{Hand, Item, Score};
use crate::score::read;
use crate::score::vocabulary::Vocabulary;

const FIGHT: &str = "fight \"Two hands\"
tempo 60
fighters
MARET rapier right dagger left
OSK sabre left
PELL longsword right sheathed dagger left
phrase \"One\"
place MARET 0,0 facing OSK
place OSK 0,2 facing MARET
place PELL 2,2 facing MARET
1 MARET cut flank right / OSK parry 4
4 MARET thrust belly with dagger / PELL parry 4
7 MARET feint head at OSK
10 OSK cut flank left / MARET parry 4 with dagger
";

fn moves(score: &Score) -> Vec<Drawn> {
    let items = score.phrases.iter().flat_map(|phrase| &phrase.items);
    let moves = items.filter_map(|item| if let Item::Move(planned) = item { Some(planned) } else { None });
    moves.map(|planned| Drawn::of(score, planned)).collect()
}

#[test]
fn a_move_is_drawn_with_the_hands_and_weapons_of_its_people() {
    let vocabulary = Vocabulary::built_in();
    let reading = read(FIGHT, "two-hands.fight", &vocabulary);
    let moves = moves(reading.score.as_ref().unwrap_or_else(|| panic!("{}", reading.render(false))));
    let weapons: Vec<_> = moves
        .iter()
        .map(|drawn| (drawn.doer.weapon.as_deref(), drawn.partner.weapon.as_deref(), drawn.partner.hand))
        .collect();
    assert_eq!(
        weapons,
        [
            (Some("rapier"), Some("sabre"), Hand::Left),
            (Some("dagger"), Some("dagger"), Hand::Left),
            (Some("rapier"), Some("sabre"), Hand::Left),
            (Some("sabre"), Some("dagger"), Hand::Left),
        ]
    );
    assert_eq!(moves[1].doer.hand, Hand::Left);
    // For a left-hander the right side is inside: 4 closes it, 3 does not.
    let picture = Picture::of(&vocabulary, &moves[0]).unwrap();
    assert_eq!(picture.words(), "cut to the right flank, in an arc, parried in 4, high, inside");
    let mut wrong = moves[0].clone();
    if let Some(answer) = &mut wrong.answer {
        answer.arg = Some("3".into());
    }
    assert_eq!(Picture::of(&vocabulary, &wrong), None);
}
