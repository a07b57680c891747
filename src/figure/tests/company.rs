//! A company's own words, and any words at all.

use proptest::prelude::*;
use proptest::sample::{Index, select, subsequence};

use super::every::{answered, lone};
use super::geometry::lies_in_the_square;
use crate::figure::{Armed, Drawn, Picture, View};
use crate::score::model::{Hand, Side, StatedTouch};
use crate::score::vocabulary::{Effect, Goes, Limb, Makes, Mode, Need, Part, ReplyKind, Touch, Vocabulary};

const OWN: &str = r#"
[actions.flick]
targets = ["kidney"]
touch = "nothing"
attack = true
least_ms = 500
needs_weapon = true
source = "ours"

[actions.head-butt]
targets = ["face"]
touch = "nothing"
attack = true
least_ms = 500
needs_weapon = false
limb = "elbow"
source = "ours"

[actions.slip]
touch = "nothing"
attack = false
least_ms = 300
needs_weapon = false
goes = "aside"
source = "ours"

[actions.hum]
touch = "nothing"
attack = false
least_ms = 300
needs_weapon = false
source = "ours"

[targets.kidney]
heights = ["low"]
sided = true
takes = ["kidney"]
source = "ours"

[targets.ear]
heights = ["high"]
sided = true
takes = ["ear"]
part = "head"
along = 66
source = "ours"

[replies.sink]
kind = "avoid"
actions = "any"
targets = "any"
least_ms = 400
needs_weapon = false
goes = "down"
source = "ours"

[replies.vanish]
kind = "avoid"
actions = "any"
targets = "any"
least_ms = 400
needs_weapon = false
source = "ours"

[parries.9]
names = ["ninth"]
closes = "low-outside"
hand = "supinated"
source = "ours"
"#;

#[test]
fn a_company_s_own_words_have_pictures_from_their_rows() {
    let vocabulary = Vocabulary::from_toml(OWN, "vocabulary.toml", Mode::Extend).unwrap();
    let kidney = lone("flick", Some("kidney"), Some(Side::Right));
    let words = |drawn: &Drawn| Picture::or_why(&vocabulary, drawn).map(|picture| picture.words());
    assert_eq!(words(&kidney).unwrap(), "flick to the right kidney, in an arc that goes past, it does not touch");
    assert!(words(&answered(&kidney, "sink", None, None)).unwrap().contains("sink: the body goes down"));
    assert!(words(&lone("cut", Some("ear"), Some(Side::Left))).is_ok());
    assert!(words(&lone("head-butt", Some("face"), None)).unwrap().contains("the elbow straight in"));
    assert_eq!(words(&lone("slip", None, None)).unwrap(), "slip, steps aside");
    let low = lone("cut", Some("kidney"), Some(Side::Right));
    assert!(words(&answered(&low, "parry", Some("9"), None)).unwrap().contains("parried in 9, low, outside"));
    // What no row says is not drawn.
    assert!(words(&answered(&kidney, "vanish", None, None)).is_err());
    assert!(words(&lone("hum", None, None)).is_err());
    assert!(words(&lone("cut", Some("kidney"), None)).is_err());
    assert!(words(&answered(&low, "parry", Some("4"), None)).is_err());
    assert!(words(&lone("unheard-of", None, None)).is_err());
}

const LIMBS: [Limb; 8] =
    [Limb::Blade, Limb::Hilt, Limb::Fist, Limb::Hand, Limb::Elbow, Limb::Knee, Limb::Foot, Limb::Body];
const WAYS: [Goes; 21] = [
    Goes::Thrust,
    Goes::Cut,
    Goes::Sweep,
    Goes::Drawn,
    Goes::Beat,
    Goes::Carry,
    Goes::Wind,
    Goes::Rest,
    Goes::Forward,
    Goes::Back,
    Goes::Aside,
    Goes::Down,
    Goes::Up,
    Goes::Around,
    Goes::Turn,
    Goes::Roll,
    Goes::Lean,
    Goes::Hollow,
    Goes::Lift,
    Goes::Reel,
    Goes::Pass,
];
const KINDS: [ReplyKind; 7] = [
    ReplyKind::Parry,
    ReplyKind::CircularParry,
    ReplyKind::Avoid,
    ReplyKind::Take,
    ReplyKind::Yield,
    ReplyKind::Block,
    ReplyKind::Meet,
];

/// The built-in vocabulary with rows that say anything.
fn any_vocabulary() -> impl Strategy<Value = Vocabulary> {
    let touches = select(vec![Touch::Blades, Touch::Bodies, Touch::Placed, Touch::Nothing]);
    let effects = vec![
        Effect::DisarmsOther,
        Effect::DisarmsSelf,
        Effect::TakesWeapon,
        Effect::DownsOther,
        Effect::GoesDown,
        Effect::GetsUp,
    ];
    let makes =
        vec![Makes::Holds, Makes::Releases, Makes::Frees, Makes::Closes, Makes::Parts, Makes::Kneels, Makes::Dies];
    let action = (
        any::<(Index, bool, bool, bool)>(),
        touches,
        prop::option::of(select(LIMBS.to_vec())),
        prop::option::of(select(WAYS.to_vec())),
        subsequence(effects.clone(), 0..2),
        subsequence(makes.clone(), 0..2),
    );
    let reply = (
        any::<Index>(),
        select(KINDS.to_vec()),
        prop::option::of(select(WAYS.to_vec())),
        subsequence(effects, 0..2),
        subsequence(makes, 0..2),
    );
    let parts = vec![Part::Head, Part::Trunk, Part::Back, Part::Arm, Part::Leg];
    let target = (any::<(Index, bool)>(), select(parts), 0_u8..=255);
    let actions = prop::collection::vec(action, 30);
    (actions, prop::collection::vec(reply, 12), prop::collection::vec(target, 12)).prop_map(
        |(actions, replies, targets)| {
            let mut vocabulary = Vocabulary::built_in();
            for ((at, attack, armed, legs), touch, limb, goes, effects, makes) in actions {
                let count = vocabulary.actions.len();
                let row = vocabulary.actions.values_mut().nth(at.index(count)).unwrap();
                (row.attack, row.needs_weapon, row.touch, row.limb, row.goes) = (attack, armed, touch, limb, goes);
                (row.effects, row.makes) = (effects, makes);
                row.needs = if legs { vec![Need::Legs] } else { Vec::new() };
            }
            for (at, kind, goes, effects, makes) in replies {
                let count = vocabulary.replies.len();
                let row = vocabulary.replies.values_mut().nth(at.index(count)).unwrap();
                (row.kind, row.goes, row.effects, row.makes) = (kind, goes, effects, makes);
            }
            for ((at, sided), part, along) in targets {
                let count = vocabulary.targets.len();
                let row = vocabulary.targets.values_mut().nth(at.index(count)).unwrap();
                (row.sided, row.part, row.along) = (sided, Some(part), Some(along));
            }
            vocabulary
        },
    )
}

fn any_side() -> impl Strategy<Value = Option<Side>> {
    select(vec![None, Some(Side::Left), Some(Side::Right)])
}

fn any_armed() -> impl Strategy<Value = Armed> {
    let weapons: Vec<String> = Vocabulary::built_in().weapons.into_keys().chain(["?".to_owned()]).collect();
    (select(vec![Hand::Right, Hand::Left, Hand::None]), prop::option::of(select(weapons)))
        .prop_map(|(hand, weapon)| Armed { hand, weapon })
}

/// Any words of the vocabulary, whether they fit or not.
fn any_move() -> impl Strategy<Value = Drawn> {
    let vocabulary = Vocabulary::built_in();
    let words = |words: Vec<String>| select(words);
    let parries: Vec<String> = vocabulary.parries.keys().cloned().chain(["head".to_owned(), "?".to_owned()]).collect();
    let touch = prop::option::of(select(StatedTouch::ALL.to_vec()));
    let answer = (words(vocabulary.replies.into_keys().collect()), prop::option::of(words(parries)), any_side());
    let action = (
        words(vocabulary.actions.into_keys().collect()),
        prop::option::of(words(vocabulary.targets.into_keys().collect())),
        any_side(),
    );
    (action, touch, prop::option::of(answer), any_armed(), any_armed(), any::<(bool, bool)>()).prop_map(
        |((action, target, side), touch, answer, doer, partner, (free_hand, answers_with_free_hand))| {
            let drawn = lone(&action, target.as_deref(), side);
            let drawn = Drawn { touch, doer, partner, free_hand, answers_with_free_hand, ..drawn };
            answer.map_or(drawn.clone(), |(reply, arg, side)| answered(&drawn, &reply, arg.as_deref(), side))
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn no_vocabulary_makes_it_panic_or_leave_the_square(
        vocabulary in any_vocabulary(),
        moves in prop::collection::vec(any_move(), 24),
    ) {
        for drawn in moves {
            let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
            for view in [View::Doer, View::Partner, View::Onlooker] {
                for shape in picture.shapes(view) {
                    prop_assert!(lies_in_the_square(&shape), "{drawn:?}: {shape:?}");
                }
            }
            let svg = picture.small(View::Partner);
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf\""), "{svg}");
            prop_assert!(!picture.words().is_empty());
        }
    }
}
