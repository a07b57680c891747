//! What pictures and sentences say: no two different things alike, and all words or a reason.

use std::collections::{BTreeMap, BTreeSet};

use super::every::{Case, every};
use crate::figure::scene::{Guard, Meeting, Scene};
use crate::figure::{Picture, View};
use crate::score::model::Side;
use crate::score::vocabulary::Vocabulary;

/// Words of the built-in vocabulary that have no picture in any move, and why.
const WITHOUT: [(&str, &str); 2] =
    [("breathe", "nothing in its row says what moves"), ("listen", "nothing in its row says what moves")];

/// Every action and every reply has a picture in some move, but for a few with a reason.
#[test]
fn every_word_has_a_picture_or_a_reason() {
    let vocabulary = Vocabulary::built_in();
    let cases = every(&vocabulary);
    let mut shown = BTreeSet::new();
    let mut reasons: BTreeMap<&str, &str> = BTreeMap::new();
    for Case { drawn, .. } in &cases {
        let words = || drawn.answer.iter().map(|answer| &answer.reply).chain([&drawn.action]);
        match Picture::or_why(&vocabulary, drawn) {
            Ok(_) => shown.extend(words().map(|word| word.as_str())),
            Err(why) => reasons.extend(words().map(|word| (word.as_str(), why))),
        }
    }
    let all = vocabulary.actions.keys().chain(vocabulary.replies.keys());
    let without: Vec<(&str, &str)> = all
        .filter(|word| !shown.contains(word.as_str()))
        .map(|word| (word.as_str(), reasons.get(word.as_str()).copied().unwrap_or("no move has it")))
        .collect();
    assert_eq!(without, WITHOUT, "words without a picture, and why");
}

/// Few moves of the words that have pictures have none.
#[test]
fn the_moves_without_a_picture_are_few_and_have_reasons() {
    let vocabulary = Vocabulary::built_in();
    let cases = every(&vocabulary);
    let mut without: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for Case { name, drawn } in &cases {
        if let Err(why) = Picture::or_why(&vocabulary, drawn) {
            without.entry(why).or_default().push(name);
        }
    }
    let count: usize = without.values().map(Vec::len).sum();
    assert!(count * 20 < cases.len(), "{count} of {}: {without:#?}", cases.len());
}

/// What must never look alike.
fn meant(scene: &Scene) -> String {
    match scene {
        Scene::Front(front) => {
            let blow = &front.blow;
            let guard = match &front.guard {
                Guard::Closing(closing) => format!("{:?} {:?} {}", closing.line, closing.turn, closing.round),
                other => format!("{other:?}"),
            };
            let way = (blow.limb, blow.goes, blow.feint);
            format!("{:?} {way:?} {guard} {:?} {}", front.aim, front.pose, front.drops)
        }
        Scene::Edge(edge) => {
            let blow = &edge.blow;
            format!("{:?} {:?} {:?} {:?} {:?}", edge.aim, blow.limb, blow.goes, edge.pose, edge.behind)
        }
        Scene::Pair(pair) => {
            let side = pair.aim.map(|aim| aim.side);
            // A place that the move does not name is seen only where hands go to the body.
            let spot = (pair.aim.is_some() || pair.meeting == Meeting::Bodies).then_some(pair.spot);
            format!("{:?} {:?} {:?} {side:?} {:?} {:?}", pair.meeting, pair.pose, pair.drops, spot, pair.blow.goes)
        }
        Scene::Own(own, mirrored) => format!("{own:?} {mirrored}"),
    }
}

/// Another height, side, kind of blow, parry or way of the body is never the same picture.
#[test]
fn different_moves_never_look_alike() {
    let vocabulary = Vocabulary::built_in();
    let mut seen: BTreeMap<String, (String, String)> = BTreeMap::new();
    for Case { name, drawn } in every(&vocabulary) {
        let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
        let form = picture.inline(View::Doer).split("</title>").nth(1).unwrap().to_owned();
        let meant = meant(picture.scene());
        let (first, before) = seen.entry(form).or_insert_with(|| (name.clone(), meant.clone()));
        assert_eq!(*before, meant, "{first} and {name} look alike");
    }
}

/// The sentence names the target, its side, the line of a parry and the way of the body.
#[test]
fn the_words_name_what_is_drawn() {
    let vocabulary = Vocabulary::built_in();
    for Case { name, drawn } in every(&vocabulary) {
        let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
        let words = picture.words();
        let has = |part: &str| assert!(words.contains(&part.replace('-', " ")), "{name}: \"{words}\" lacks \"{part}\"");
        has(&drawn.action);
        drawn.target.iter().for_each(|target| has(target));
        if let Some(side) = drawn.side {
            has(if side == Side::Left { "left" } else { "right" });
        }
        let pose = match picture.scene() {
            Scene::Front(front) => {
                if let Guard::Closing(closing) = &front.guard {
                    has("parried");
                    closing.line.word().split(' ').for_each(has);
                    has(drawn.answer.as_ref().and_then(|answer| answer.arg.as_deref()).unwrap());
                }
                Some(front.pose)
            }
            Scene::Edge(edge) => Some(edge.pose),
            Scene::Pair(pair) => Some(pair.pose),
            Scene::Own(..) => None,
        };
        pose.and_then(|pose| pose.says()).into_iter().for_each(has);
        assert!(picture.svg(View::Doer).contains(&format!("<title>{words}</title>")), "{name}");
    }
}

#[test]
fn the_words_are_a_sentence() {
    let vocabulary = Vocabulary::built_in();
    let words = |name: &str| {
        let found = every(&vocabulary).into_iter().find(|case| case.name == name).unwrap();
        Picture::of(&vocabulary, &found.drawn).unwrap().words()
    };
    for (name, said) in [
        ("cut flank right / parry 3", "cut to the right flank, in an arc, parried in 3, high, outside"),
        ("slash head / duck", "slash to the head, in an arc that goes past, duck: the body goes down, nobody is there"),
        (
            "punch jaw left / take jaw",
            "punch to the left jaw, the fist straight in, take: the body gives with it, it does not touch",
        ),
        ("cut hand right / drop", "cut to the right hand, in an arc, the weapon falls"),
        ("advance", "advance, steps forward"),
    ] {
        assert_eq!(words(name), said);
    }
}

/// The reader's own part has its class, and nobody else's has.
#[test]
fn one_s_own_part_is_marked() {
    let vocabulary = Vocabulary::built_in();
    for Case { name, drawn } in every(&vocabulary) {
        let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
        let marked = |view| picture.inline(view).contains("class=\"you\"");
        assert!(marked(View::Doer), "{name}");
        assert!(!marked(View::Onlooker), "{name}");
        assert_eq!(picture.inline(View::Doer), picture.inline(View::Doer), "{name}");
    }
}
