//! Every word of the vocabulary against every class of danger: what the examples of `bodies.rs` show of one word holds of
//! all words whose rows say the same.

use holdfast::check::{HouseRules, check};
use holdfast::score::read;
use holdfast::score::vocabulary::{
    Action, Makes, Need, Posture, Reply, ReplyArgument, ReplyKind, Touch, Vital, Vocabulary,
};

const HEAD: &str = "fight \"Little\"\ntempo 60\nfighters\n  MARET rapier right dagger left sheathed\n  OSK rapier right\n  BEN none none\nphrase \"One\"\n";

/// The codes that are found in these lines; `head` may arm the fighters otherwise.
fn codes_with(head: &str, vocabulary: &Vocabulary, lines: &str) -> Vec<&'static str> {
    let reading = read(format!("{head}{lines}\n"), "little.fight", vocabulary);
    let score = reading.score.unwrap_or_else(|| panic!("{lines}\n{:?}", reading.problems));
    check(&score, vocabulary, &HouseRules::default()).findings.iter().map(|it| it.code).collect()
}

fn codes(vocabulary: &Vocabulary, lines: &str) -> Vec<&'static str> {
    codes_with(HEAD, vocabulary, lines)
}

/// An action with the first target it may take.
fn acted(word: &str, row: &Action) -> String {
    let target = row.targets.first().filter(|_| row.target_needed).map_or(String::new(), |it| format!(" {it}"));
    format!("{word}{target}")
}

/// An action that OSK does, answered by MARET where it needs an answer.
fn line(beat: &str, word: &str, row: &Action) -> String {
    let answer = if row.attack { " / MARET step-back" } else { "" };
    format!("{beat} OSK {}{answer}", acted(word, row))
}

/// A move of MARET's that OSK answers with this reply.
fn answered(vocabulary: &Vocabulary, beat: &str, word: &str, row: &Reply) -> Option<String> {
    let (action, act) = vocabulary.actions.iter().find(|(action, _)| row.actions.contains(action))?;
    let argument = match row.kind.argument() {
        ReplyArgument::None => String::new(),
        ReplyArgument::Parry => " 4".to_owned(),
        ReplyArgument::Target => format!(" {}", act.targets.first()?),
    };
    Some(format!("{beat} MARET {} / OSK {word}{argument}", acted(action, act)))
}

/// What OSK may be asked to do on a beat: every action and every reply, with what its row needs.
fn everything(vocabulary: &Vocabulary, beat: &str) -> Vec<(String, Posture, Vec<Need>, bool)> {
    let actions = vocabulary.actions.iter().filter(|(word, _)| *word != "walk");
    let acts = actions.map(|(word, row)| (line(beat, word, row), row.posture, row.needs.clone(), row.needs_weapon));
    let replies = vocabulary.replies.iter().filter_map(|(word, row)| {
        Some((answered(vocabulary, beat, word, row)?, row.posture, row.needs.clone(), row.needs_weapon))
    });
    acts.chain(replies).collect()
}

#[test]
fn the_dead_do_nothing() {
    let vocabulary = Vocabulary::built_in();
    for (line, ..) in everything(&vocabulary, "9") {
        assert!(codes(&vocabulary, &format!("1 OSK die\n{line}")).contains(&"B209"), "{line}");
        assert!(!codes(&vocabulary, &format!("1 BEN breathe\n{line}")).contains(&"B209"), "{line}");
    }
}

#[test]
fn whoever_kneels_or_lies_does_only_what_can_be_done_there() {
    let vocabulary = Vocabulary::built_in();
    for (line, posture, ..) in everything(&vocabulary, "9") {
        let (kneels, lies) =
            (codes(&vocabulary, &format!("1 OSK kneel\n{line}")), codes(&vocabulary, &format!("1 OSK fall\n{line}")));
        let rises = codes(&vocabulary, &format!("1 OSK kneel\n5 OSK rise\n{line}"));
        assert_eq!(kneels.contains(&"B215"), posture == Posture::Feet, "{line}");
        assert_eq!(lies.contains(&"B203"), matches!(posture, Posture::Feet | Posture::Standing), "{line}");
        assert!(!rises.contains(&"B215") && !rises.contains(&"B203"), "{line}");
    }
}

#[test]
fn whoever_is_held_does_only_what_can_be_done_so() {
    let vocabulary = Vocabulary::built_in();
    let grips = vocabulary.actions.iter().filter(|(_, row)| row.makes.contains(&Makes::Holds));
    for (word, row) in grips {
        let grip = format!("1 BEN {} / OSK resist", acted(word, row));
        if codes(&vocabulary, &grip).contains(&"A102") {
            continue;
        }
        let place = row.targets.first().filter(|_| row.target_needed).and_then(|it| vocabulary.targets.get(it));
        let pins = place.is_none_or(|place| place.pins);
        for (line, _, needs, weapon) in everything(&vocabulary, "9") {
            let held = codes(&vocabulary, &format!("{grip}\n{line}\n15 BEN release-grip"));
            let expected =
                needs.contains(&Need::Unheld) && (pins || !weapon) || needs.contains(&Need::WeaponArm) && pins;
            assert_eq!(held.contains(&"B210"), expected, "{grip}\n{line}");
            for end in ["5 BEN release-grip", "5 BEN grab arm / OSK break-free"] {
                let freed = codes(&vocabulary, &format!("{grip}\n{end}\n{line}"));
                assert!(!freed.contains(&"B210") && !freed.contains(&"B214"), "{grip}\n{end}\n{line}");
            }
        }
        assert!(codes(&vocabulary, &grip).contains(&"B214"), "{grip}");
    }
}

#[test]
fn body_to_body_there_is_no_room_for_a_blade() {
    let vocabulary = Vocabulary::built_in();
    for (line, _, needs, _) in everything(&vocabulary, "9") {
        let close = "1 BEN corps-a-corps / OSK yield\n";
        assert_eq!(
            codes(&vocabulary, &format!("{close}{line}")).contains(&"B211"),
            needs.contains(&Need::Room),
            "{line}"
        );
        for apart in ["5 OSK throw-off / BEN stagger", "5 BEN retire", "5 OSK push / BEN stagger"] {
            assert!(!codes(&vocabulary, &format!("{close}{apart}\n{line}")).contains(&"B211"), "{apart}\n{line}");
        }
    }
}

#[test]
fn no_full_blow_lands_on_a_vital_place_and_no_parry_meets_the_air() {
    let vocabulary = Vocabulary::built_in();
    for (word, row) in vocabulary.actions.iter().filter(|(_, row)| row.needs_weapon && row.attack) {
        for target in &row.targets {
            let place = &vocabulary.targets[target];
            let take = |touch: &str| codes(&vocabulary, &format!("1 MARET {word} {target}{touch} / OSK take {target}"));
            let vital = place.vital;
            // A point that goes straight in is laid on, or passes.
            assert_eq!(take(" contact").contains(&"A107"), vital != Vital::No || row.straight, "{word} {target}");
            assert_eq!(take(" placed").contains(&"A107"), vital == Vital::Never, "{word} {target}");
            assert!(!take(" clear").contains(&"A107"), "{word} {target}");
            if !vocabulary.replies["parry"].actions.contains(word) {
                continue;
            }
            for parry in vocabulary.parries.keys() {
                let parried = codes(&vocabulary, &format!("1 MARET {word} {target} / OSK parry {parry}"));
                let air = row.touch == Touch::Nothing && !parried.contains(&"A104");
                assert_eq!(parried.contains(&"A108"), air, "{word} {target} / parry {parry}");
            }
        }
    }
}

#[test]
fn a_light_weapon_stops_no_heavy_one() {
    let vocabulary = Vocabulary::built_in();
    let armed = || vocabulary.weapons.iter().filter(|(_, row)| row.armed);
    for (one, heavy) in armed() {
        for (other, light) in armed() {
            let head = format!("fight \"L\"\ntempo 60\nfighters\n  A {one} right\n  B {other} right\nphrase \"One\"\n");
            let found = |line: &str| codes_with(&head, &vocabulary, line).contains(&"A109");
            assert_eq!(found("1 A cut head / B parry 5 ! steel"), heavy.weight >= light.weight + 2, "{one} {other}");
            assert!(!found("1 A thrust belly / B parry 4 ! steel") && !found("1 A cut head / B duck"), "{one} {other}");
        }
    }
}

/// What takes time after its beat takes it: sooner there is no time for anything else, later there is.
#[test]
fn what_goes_on_after_its_beat_is_waited_for() {
    let vocabulary = Vocabulary::built_in();
    let breathe = vocabulary.actions["breathe"].least.as_seconds();
    let acts = vocabulary.actions.iter().map(|(word, row)| (line("1", word, row), row.after));
    let replies =
        vocabulary.replies.iter().filter_map(|(word, row)| Some((answered(&vocabulary, "1", word, row)?, row.after)));
    for (line, after) in acts.chain(replies).filter(|(_, after)| after.0 > 0) {
        // A beat is a second at 60, and has 960 ticks.
        let beat =
            |seconds: f64| format!("{}+{}/960", 1 + (seconds * 960.0) as i64 / 960, (seconds * 960.0) as i64 % 960);
        let needed = after.as_seconds() + breathe;
        let at = |seconds: f64| codes(&vocabulary, &format!("{line}\n{} OSK breathe", beat(seconds))).contains(&"T301");
        assert!(at(needed - 0.02) && !at(needed + 0.02), "{line}");
    }
}

/// A reply never says both that the blade stops the blow and that the blow lands.
#[test]
fn replies_of_one_kind_behave_alike() {
    let vocabulary = Vocabulary::built_in();
    for (word, row) in &vocabulary.replies {
        let stops = matches!(row.kind, ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Meet);
        assert_eq!(stops, row.needs_weapon && row.kind != ReplyKind::Yield, "{word}");
        assert!(!row.makes.contains(&Makes::Holds), "{word}: a reply takes no hold");
    }
}
