//! The example of the score's own description, a production's vocabulary, and the demo's scores.

use holdfast::score::model::{FighterId, Hand, Item, Person, Side, TempoChange};
use holdfast::score::vocabulary::{Effect, Mode, ReplyKind, Touch, Vocabulary};
use holdfast::score::{format, read, words};
use holdfast::units::Ticks;

const EXAMPLE: &str = r#"fight "The Salt Stair"
beats 4                       # beats in a bar: where the accent of the click falls
tempo 84                      # performance tempo, beats per minute

fighters
  MARET   rapier  right       # name, weapon, weapon hand
  OSK     rapier  left
bystanders
  PELL

phrase "Across the quay"
  place MARET -1.5,3.0 facing OSK
  place OSK    1.0,3.0 facing MARET
  place PELL   3.5,5.0
  1      MARET  thrust belly        / OSK    parry 4          ! steel
  2      OSK    cut head            / MARET  parry 5          ! steel
  3      OSK    slash feet          / MARET  jump             ! swish
  4+1/2  MARET  bind                / OSK    yield            ! scrape     "let the blades talk"
  5      MARET  walk -0.5,2.0 by 7
  tempo 84 -> 108 from 5 to 9       # linear in beats
  repeat 3 every 2 at 9             # beats inside count from 1 and are laid end to end
    1    MARET  cut flank right     / OSK    parry 3          ! steel
    2    OSK    cut flank right     / MARET  parry 3          ! steel
  end
  15     OSK    corps-a-corps       / MARET  yield            ! steel+grunt
  rest 2                            # the phrase lasts two beats more

phrase "The wound"  tempo 60
  1      OSK    thrust side         / MARET  take side        ! cloth
"#;

const DEMO: [(&str, &str); 3] = [
    ("lantern-bridge.fight", include_str!("../../configs/demo/scores/lantern-bridge.fight")),
    ("three-in-the-cellar.fight", include_str!("../../configs/demo/scores/three-in-the-cellar.fight")),
    ("the-ferrymans-toll.fight", include_str!("../../configs/demo/scores/the-ferrymans-toll.fight")),
];

#[test]
fn the_example_is_read_as_it_is_meant() {
    let reading = read(EXAMPLE, "stair.fight", &Vocabulary::built_in());
    assert_eq!(reading.problems, []);
    let score = reading.score.unwrap();
    assert_eq!((score.name.as_str(), score.beats_per_bar, score.tempo.get()), ("The Salt Stair", 4, 84.0));
    assert_eq!(score.fighters.iter().map(|f| f.hand).collect::<Vec<_>>(), [Hand::Right, Hand::Left]);
    assert_eq!((score.bystanders[0].name.as_str(), score.phrases.len()), ("PELL", 2));
    let items = &score.phrases[0].items;
    let Item::Move(bind) = &items[6] else { panic!("{:?}", items[6]) };
    assert_eq!((bind.at, bind.who, words::action(bind)), (Ticks(3360), FighterId(0), "bind".into()));
    assert_eq!(bind.text.as_deref(), Some("let the blades talk"));
    let Item::Walk(walk) = &items[7] else { panic!("{:?}", items[7]) };
    assert_eq!((walk.who, walk.at, walk.until), (Person::Fighter(FighterId(0)), Ticks::beats(4), Ticks::beats(6)));
    let Item::Tempo(TempoChange::Ramp { from, to, .. }) = items[8] else { panic!("{:?}", items[8]) };
    assert_eq!((from, to), (Ticks::beats(4), Ticks::beats(8)));
    let Item::Repeat(repeat) = &items[9] else { panic!("{:?}", items[9]) };
    assert_eq!((repeat.at, repeat.times, repeat.every, repeat.items.len()), (Ticks::beats(8), 3, Ticks::beats(2), 2));
    let Item::Move(cut) = &repeat.items[0] else { panic!("{:?}", repeat.items[0]) };
    assert_eq!((words::action(cut), cut.side), ("cut flank right".into(), Some(Side::Right)));
    assert_eq!(words::reply(cut.answer.as_ref().unwrap()), "parry 3");
    let Item::Move(clash) = &items[10] else { panic!("{:?}", items[10]) };
    assert_eq!(clash.sounds.as_ref().unwrap().names, ["steel", "grunt"]);
    let Item::Rest(rest) = &items[11] else { panic!("{:?}", items[11]) };
    assert_eq!(rest.length, Ticks::beats(2));
    assert_eq!(score.phrases[1].tempo.map(|tempo| tempo.get()), Some(60.0));
}

#[test]
fn the_example_is_in_canonical_columns() {
    assert_eq!(format(EXAMPLE).unwrap(), EXAMPLE);
}

#[test]
fn the_demo_scores_are_clean_and_canonical() {
    for (name, text) in DEMO {
        let reading = read(text, name, &Vocabulary::built_in());
        assert!(reading.problems.is_empty(), "{}", reading.render(false));
        assert_eq!(format(text).unwrap(), text, "{name}");
    }
}

/// Every attack of the demo's scores is answered by a reply that closes it, for the defender's hand.
#[test]
fn the_demo_scores_are_answered() {
    let vocabulary = Vocabulary::built_in();
    for (name, text) in DEMO {
        let score = read(text, name, &vocabulary).score.unwrap();
        let mut items: Vec<&Item> = score.phrases.iter().flat_map(|phrase| &phrase.items).collect();
        while let Some(item) = items.pop() {
            match item {
                Item::Repeat(repeat) => items.extend(&repeat.items),
                Item::Move(line) => {
                    let action = &vocabulary.actions[line.action.as_str()];
                    assert_eq!(action.attack, line.answer.is_some(), "{name}: {}", words::action(line));
                    let Some(answer) = &line.answer else { continue };
                    let what = format!("{name}: {} / {}", words::action(line), words::reply(answer));
                    let reply = &vocabulary.replies[answer.reply.as_str()];
                    assert!(reply.actions.contains(&line.action), "{what}");
                    let target = line.target.as_ref().map(|target| (target, &vocabulary.targets[target.as_str()]));
                    assert!(target.is_none_or(|(target, _)| reply.targets.contains(target)), "{what}");
                    match (reply.kind, target) {
                        (ReplyKind::Parry | ReplyKind::CircularParry, Some((_, target))) => {
                            let lines = target.lines(line.side, score.fighters[answer.who.0].hand);
                            let (_, parry) = vocabulary.parry(answer.arg.as_ref().unwrap()).unwrap();
                            assert!(parry.closes_any(&lines), "{what}");
                        }
                        (ReplyKind::Take, Some((target, _))) => {
                            assert!(vocabulary.take_fits(target, answer.arg.as_ref().unwrap()), "{what}");
                        }
                        _ => {}
                    }
                }
                _ => {}
            }
        }
    }
}

#[test]
fn a_production_can_extend_the_vocabulary() {
    let text = "[actions.cut]\nleast_ms = 900\n\n[weapons.boathook]\nblade_m = 1.4\ntotal_m = 2.0\nhands = 2\nsource = \"measured\"\n";
    let vocabulary = Vocabulary::from_toml(text, "house.toml", Mode::Extend).unwrap();
    let built_in = Vocabulary::built_in();
    assert_eq!(vocabulary.actions["cut"].least.as_millis(), 900.0);
    assert_eq!(vocabulary.actions["cut"].targets, built_in.actions["cut"].targets);
    assert_eq!(vocabulary.actions["thrust"], built_in.actions["thrust"]);
    assert_eq!((vocabulary.weapons["boathook"].blade.0, built_in.weapons.get("boathook")), (1.4, None));
}

#[test]
fn a_replaced_vocabulary_has_only_its_own_words() {
    let text = "[reaction]\nleast_ms = 100\nusual_ms = 200\nmost_ms = 300\nsource = \"ours\"\n[weapons.stick]\nblade_m = 0.5\ntotal_m = 0.6\nhands = 1\nsource = \"ours\"\n";
    let vocabulary = Vocabulary::from_toml(text, "house.toml", Mode::Replace).unwrap();
    assert_eq!(vocabulary.weapons.keys().collect::<Vec<_>>(), ["stick"]);
    assert!(vocabulary.actions.is_empty());
}

#[test]
fn a_bad_vocabulary_is_refused_with_its_line() {
    let rows = [
        ("\n[actions.cut]\nleast = 3\n", 3, "least"),
        ("[actions.cut]\nleast_ms = -3\n", 2, "-3"),
        ("[actions.cut\n", 1, ""),
        ("\n\n[actions.spin-kick]\nattack = true\n", 3, "has no `touch`"),
        ("\n[actions.cut]\ntargets = [\"hed\"]\n", 3, "did you mean `head`?"),
        (
            "\n[actions.\"two words\"]\ntouch = \"nothing\"\nattack = false\nleast_ms = 1\nneeds_weapon = false\nsource = \"x\"\n",
            2,
            "cannot be written",
        ),
        ("\n[weapons.rapier]\nblade_m = 9.0\n", 3, "total_m"),
        ("\n[weapons.rapier]\nblade_m = nan\n", 3, "is nan"),
        ("\n[parries.4]\nnames = [\"tierce\"]\n", 3, "also that of"),
        ("\n[replies.duck]\nactions = \"some\"\n", 3, "any"),
        ("\n[replies.duck]\nsource = \" \"\n", 3, "source"),
        ("[reaction]\nleast_ms = 900\n", 1, "rise"),
    ];
    for (text, line, part) in rows {
        let error = Vocabulary::from_toml(text, "house.toml", Mode::Extend).unwrap_err();
        let [problem] = error.problems.as_slice() else { panic!("{text}: {error}") };
        assert_eq!((problem.file.as_str(), problem.line), ("house.toml", line), "{text}: {error}");
        assert!(error.to_string().contains(part), "{text}: {error}");
    }
    assert!(Vocabulary::from_toml("", "house.toml", Mode::Replace).unwrap_err().to_string().contains("[reaction]"));
}

#[test]
fn everything_that_is_wrong_with_a_vocabulary_is_told_at_once() {
    let text = "[actions.cut]\nleast = 3\nneeds = [\"unhelt\", \"romm\"]\nposture = \"sitting\"\nattack = \"yes\"\n\
                [actions.thurst]\nattack = true\n[replies.duck]\nactions = [\"slash\", \"kut\"]\n[weapons.rapier]\nhands = 3\n\
                [weapons.pike]\nblade_m = 0.2\ntotal_m = 4.5\nhand = 2\nsource = \"measured\"\n[target.head]\nsided = 1\n";
    let told = |text: &str| Vocabulary::from_toml(text, "house.toml", Mode::Extend).unwrap_err().to_string();
    let fields = "after_ms, after_parry_ms, attack, effects, goes, least_ms, lifts, limb, makes, names_weapon, needs, needs_weapon, open_hand, out_m, picture, picture_words, posture, sends_m, sound, source, straight, sweep_degrees, target_needed, targets, touch or travel_m";
    let lines = [
        format!("2: `actions.cut.least` is not known here; there is {fields}."),
        "3: `actions.cut.needs` has “unhelt” in it; there has to be unheld, holds-nobody, room, grip, hand, both-hands, weapon-arm, legs or blades; did you mean `unheld`?"
            .into(),
        "3: `actions.cut.needs` has “romm” in it; there has to be unheld, holds-nobody, room, grip, hand, both-hands, weapon-arm, legs or blades; did you mean `room`?"
            .into(),
        "4: `actions.cut.posture` is \"sitting\"; it has to be standing, feet, down, low or any.".into(),
        "5: `actions.cut.attack` is text; it has to be true or false, without quotes.".into(),
        "6: `actions.thurst` has no `touch`, `least_ms`, `needs_weapon` or `source`; a new row needs them all; did you mean `thrust`?"
            .into(),
        "11: `weapons.rapier.hands` is 3; it has to be a number from 0 to 2.".into(),
        "15: `weapons.pike.hand` is not known here; did you mean `hands`?".into(),
        "17: `target` is not known here; did you mean `targets`?".into(),
    ];
    assert_eq!(told(text), lines.map(|line| format!("house.toml, line {line}")).join("\n"));
    // What rows name is looked at once every table has its name.
    let named = "line 9: `replies.duck.actions` names the action `kut`, which has no row; did you mean `cut`?";
    assert!(told(&text.replace("[target.head]\nsided = 1\n", "")).contains(named));
}

#[test]
fn rows_say_what_they_change() {
    let vocabulary = Vocabulary::built_in();
    let rows = [
        ("disarm", Effect::DisarmsOther),
        ("drop", Effect::DisarmsSelf),
        ("draw", Effect::TakesWeapon),
        ("pick-up", Effect::TakesWeapon),
        ("trip", Effect::DownsOther),
        ("fall", Effect::GoesDown),
        ("rise", Effect::GetsUp),
    ];
    for (word, effect) in rows {
        assert_eq!(vocabulary.actions[word].effects, [effect], "{word}");
    }
    assert_eq!(vocabulary.replies["fall"].effects, [Effect::GoesDown]);
    assert_eq!((vocabulary.actions["cut"].touch, vocabulary.actions["push"].touch), (Touch::Blades, Touch::Bodies));
}

/// Stage practice (common practice, no source): the feet are jumped, the belly is pulled away, the head ducks.
#[test]
fn the_avoidances_of_the_stage_are_there() {
    let vocabulary = Vocabulary::built_in();
    for (target, word) in [("feet", "jump"), ("belly", "away"), ("head", "duck")] {
        let reply = &vocabulary.replies[word];
        assert_eq!(reply.kind, ReplyKind::Avoid);
        assert!(reply.targets.contains(target) && reply.actions.contains("slash"), "{word}");
    }
}

/// EB 1911: a counter-parry ends in the same position as its simple parry, so both are named by the same table.
#[test]
fn a_circular_parry_is_named_like_its_simple_one() {
    let vocabulary = Vocabulary::built_in();
    let (simple, circular) = (&vocabulary.replies["parry"], &vocabulary.replies["circle"]);
    assert_eq!((simple.kind, circular.kind), (ReplyKind::Parry, ReplyKind::CircularParry));
    assert_eq!(simple.kind.argument(), circular.kind.argument());
    assert!(circular.least > simple.least);
    let line =
        "fight A\ntempo 60\nfighters\nA rapier right\nB rapier right\nphrase P\n1 A thrust chest / B circle sixte";
    let score = read(line, "a.fight", &vocabulary).score.unwrap();
    let Item::Move(line) = &score.phrases[0].items[0] else { panic!() };
    assert_eq!(words::reply(line.answer.as_ref().unwrap()), "circle 6");
}

/// The lengths of the rules for sport weapons: FIE Book 3, Material Rules, m.6-m.9, m.14-m.17, m.21-m.24.
#[test]
fn sport_blades_have_the_lengths_of_the_rules() {
    let vocabulary = Vocabulary::built_in();
    for (word, blade, total) in [("foil", 0.90, 1.10), ("epee", 0.90, 1.10), ("sabre", 0.88, 1.05)] {
        let weapon = &vocabulary.weapons[word];
        assert_eq!((weapon.blade.0, weapon.total.0), (blade, total), "{word}");
    }
}
