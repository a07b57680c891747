//! Space: what a fight director would say about where people stand, on little scores; that no swing is missed; and that a plan
//! that is wrong is said and the rest of it used.

use std::sync::Arc;

use holdfast::check::{HouseRules, UNCHECKED, UNCHECKED_ON_STAGE, check, unchecked};
use holdfast::score::problem::{Problem, Severity};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::stage::sight::{Gap, Screen, Shape};
use holdfast::stage::{self, Audience, Layout, Outline, Passes, Seats, StagePlan, Tracks, Vec2};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::Speed;
use proptest::prelude::*;

/// Twelve by nine metres, the audience in front, a pillar and a gallery with steps.
const STAGE: &str = "
area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]
edges.front = { from = [-6, 0], to = [6, 0], drop = 1.0 }
seats.house = { outline = [[-6, -8], [6, -8], [6, -2], [-6, -2]] }
wings.left = { outline = [[6, 0], [8, 0], [8, 9], [6, 9]] }
pieces.pillar = { outline = [[4, 4], [4.5, 4], [4.5, 4.5], [4, 4.5]], height = 3 }
pieces.table = { outline = [[-5, 4], [-4, 4], [-4, 5], [-5, 5]], height = 0.7 }
levels.gallery = { outline = [[-6, 7], [6, 7], [6, 9], [-6, 9]], height = 0.8 }
steps.middle = { outline = [[-0.6, 6.4], [0.6, 6.4], [0.6, 7], [-0.6, 7]] }
people.SITS = { posture = 'seated' }
";

const HEAD: &str = "fight \"Little\"\nbeats 4\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier left\n  TAM none none\nbystanders\n  PELL\n  SITS\nphrase \"One\"\n";
const PAIR: &str = "place MARET -1.1,3 facing OSK\nplace OSK 1.1,3 facing MARET\n";

/// Four who fight, in two pairs; who may fall.
const TWO_PAIRS: &str = "fight \"Little\"\nbeats 4\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier left\n  TAM none none\n  UNA rapier right\n  VEL rapier right\nbystanders\n  PELL\nphrase \"One\"\n";

const BACKS: &[Row] = &[
    // Back to back, and with a stage between them.
    (
        "place OSK -2,5 facing MARET\nplace MARET -0.1,5 facing OSK\nplace UNA 1.2,5 facing VEL\nplace VEL 3.1,5 facing UNA\n2 MARET cut head / OSK parry 5 ! steel\n3 UNA cut head / VEL parry 5 ! steel",
        &["C606"],
    ),
    (
        "place OSK -2,5 facing MARET\nplace MARET -0.1,5 facing OSK\nplace UNA 2,5 facing VEL\nplace VEL 3.9,5 facing UNA\n2 MARET cut head / OSK parry 5 ! steel\n3 UNA cut head / VEL parry 5 ! steel",
        &[],
    ),
    // On both sides of the limit: a rapier's reach and half a body.
    (
        "place OSK -2,5 facing MARET\nplace MARET -0.1,5 facing OSK\nplace UNA 1.8,5 facing VEL\nplace VEL 3.7,5 facing UNA\n2 MARET cut head / OSK parry 5 ! steel\n3 UNA cut head / VEL parry 5 ! steel",
        &["C606"],
    ),
    (
        "place OSK -2,5 facing MARET\nplace MARET -0.1,5 facing OSK\nplace UNA 1.9,5 facing VEL\nplace VEL 3.8,5 facing UNA\n2 MARET cut head / OSK parry 5 ! steel\n3 UNA cut head / VEL parry 5 ! steel",
        &[],
    ),
    // Not at the same time: whoever waits looks on.
    (
        "place OSK -2,5 facing MARET\nplace MARET -0.1,5 facing OSK\nplace UNA 1.2,5 facing VEL\nplace VEL 3.1,5 facing UNA\n2 MARET cut head / OSK parry 5 ! steel\n12 UNA cut head / VEL parry 5 ! steel",
        &[],
    ),
    // Backs up to them in the middle of a blow.
    (
        "place OSK -3.9,5.5 facing MARET\nplace MARET -2.1,5 facing OSK\nplace UNA 1.2,5 facing VEL\nplace VEL 3.1,5 facing UNA\n1 MARET walk -0.3,5 by 4\n1 OSK walk -2.2,5 by 4\n4 MARET cut head / OSK parry 5 ! steel\n5 UNA cut head / VEL parry 5 ! steel",
        &["C606"],
    ),
    // Two on one: they fight the same man, and see each other.
    (
        "place OSK -1,5 facing MARET\nplace MARET 0.9,5 facing OSK\nplace UNA 0.5,6.4 facing OSK\n2 MARET thrust chest / OSK parry 4 ! steel\n4 UNA thrust chest / OSK parry 4 ! steel",
        &[],
    ),
];

const FALLS: &[Row] = &[
    ("place TAM 0,5\n2 TAM fall ! fall", &[]),
    ("place TAM 0,5\nplace PELL 1,5\n2 TAM fall ! fall", &["C607"]),
    ("place TAM 0,5\nplace PELL 1.2,5\n2 TAM fall ! fall", &[]),
    ("place TAM 0,5\nplace UNA 0.9,5\n2 TAM fall ! fall", &["C607"]),
    // Whoever threw them, or fought them before it, sees it.
    ("place TAM 0,5\nplace UNA 0.7,5\n2 UNA push chest / TAM fall ! fall", &[]),
    // Whoever is sent down is so by their whole length, away from who sends them: onto the dead as well.
    ("place TAM 0,5\nplace UNA 0.7,5\nplace PELL -1.6,5\n2 UNA push chest / TAM fall ! fall", &["C607"]),
    ("place TAM 0,5\nplace UNA 0.7,5\nplace PELL 0,6.3\n2 UNA push chest / TAM fall ! fall", &[]),
    ("place TAM 0,5\nplace UNA 0.7,5\nplace VEL -1.6,5\n1 VEL die\n2 UNA push chest / TAM fall ! fall", &["C607"]),
    ("place TAM 0,1.7\nplace UNA 0,2.4\n2 UNA push chest / TAM fall ! fall", &["P807"]),
    ("place TAM 0,1.7\nplace UNA 0.7,1.7\n2 UNA push chest / TAM fall ! fall", &[]),
    ("place TAM 0,5\nplace UNA 0.7,5\n2 UNA push chest / TAM stagger ! cloth\n4 TAM fall ! fall", &[]),
    ("place TAM 3.3,4.2\n2 TAM fall ! fall", &["C608"]),
    ("place TAM 3.0,4.2\n2 TAM fall ! fall", &[]),
    ("place TAM 0,1\n2 TAM fall ! fall", &["P807"]),
    ("place TAM 0,1.4\n2 TAM fall ! fall", &[]),
];

fn plan(text: &str) -> StagePlan {
    let (plan, problems) = stage::read(text, "stage.toml");
    assert_eq!(problems, [], "{text}");
    plan.unwrap()
}

fn rules(stage: &str) -> HouseRules {
    HouseRules { stage: Some(Arc::new(plan(stage))), ..HouseRules::default() }
}

/// What is found about space: without what the other checks find.
fn found_on(stage: &str, lines: &str) -> Vec<Problem> {
    found_in(HEAD, stage, lines)
}

fn found_in(head: &str, stage: &str, lines: &str) -> Vec<Problem> {
    let vocabulary = Vocabulary::built_in();
    let reading = read(format!("{head}{lines}"), "a.fight", &vocabulary);
    let score = reading.score.unwrap_or_else(|| panic!("{lines}\n{:?}", reading.problems));
    let space = |it: &Problem| it.code.starts_with(['M', 'C', 'F', 'P', 'V']);
    check(&score, &vocabulary, &rules(stage)).findings.into_iter().filter(space).collect()
}

fn codes(lines: &str) -> Vec<&'static str> {
    let mut codes: Vec<_> =
        found_on(STAGE, lines).iter().filter(|it| it.severity != Severity::Advice).map(|it| it.code).collect();
    codes.sort_unstable();
    codes
}

/// Lines, and what is found.
type Row = (&'static str, &'static [&'static str]);

const MEASURE: &[Row] = &[
    ("place MARET -1.1,3\nplace OSK 1.1,3\n1 MARET thrust belly / OSK parry 4 ! steel", &[]),
    ("place MARET -2.6,3\nplace OSK 2.6,3\n1 MARET thrust belly / OSK parry 4 ! steel", &["M501"]),
    // A lunge reaches farther than a thrust.
    ("place MARET -1.45,3\nplace OSK 1.45,3\n1 MARET thrust belly / OSK parry 4 ! steel", &["M501"]),
    ("place MARET -1.45,3\nplace OSK 1.45,3\n1 MARET lunge belly / OSK parry 4 ! steel", &[]),
    ("place MARET -0.3,3\nplace OSK 0.3,3\n1 MARET thrust belly / OSK take belly", &["M502"]),
    // What must not touch, and is only got out of the way of.
    ("place MARET -0.6,3\nplace OSK 0.6,3\n1 MARET slash belly / OSK away ! swish", &["M503"]),
    ("place MARET -0.95,3\nplace OSK 0.95,3\n1 MARET slash belly / OSK away ! swish", &[]),
    ("place MARET -0.75,3\nplace OSK 0.75,3\n1 MARET slash head / OSK duck ! swish", &[]),
    // An arm bent by half reaches from here, whatever the reply is; what is laid on, or taken past the body, is done there.
    ("place MARET -0.6,3\nplace OSK 0.6,3\n1 MARET slash head / OSK duck ! swish", &["M504"]),
    ("place MARET -0.6,3\nplace OSK 0.6,3\n1 MARET thrust belly / OSK parry 4 ! steel", &["M504"]),
    ("place MARET -0.6,3\nplace OSK 0.6,3\n1 MARET draw-cut thigh left / OSK take thigh left", &[]),
    // A hand that must not land; from a hold it goes by, until they are apart again.
    ("place MARET -0.3,3\nplace TAM 0.3,3\n1 TAM punch jaw left / MARET lean-back ! slap", &["M505"]),
    ("place MARET -0.3,3\nplace TAM 0.3,3\n1 TAM punch belly / MARET take belly ! slap", &[]),
    (
        "place MARET -0.3,3\nplace TAM 0.3,3\n1 TAM grab shoulder left / MARET resist ! cloth\n3 TAM punch jaw left / MARET lean-back ! slap",
        &[],
    ),
    (
        "place MARET -0.3,3\nplace TAM 0.3,3\n1 TAM grab shoulder left / MARET resist ! cloth\n2 TAM release-grip\n4 TAM punch jaw left / MARET lean-back ! slap",
        &["M505"],
    ),
    // Body to body: a step carries him in, not three.
    ("place MARET -0.5,3\nplace TAM 0.5,3\n1 TAM punch jaw left / MARET lean-back ! slap", &[]),
    ("place MARET -1.5,3\nplace TAM 1.5,3\n1 TAM punch jaw left / MARET lean-back ! slap", &["M501"]),
    ("place MARET -1.5,3\nplace TAM 1.5,3\n1 TAM grab shoulder left / MARET break-free ! cloth", &["M501"]),
    // From the gallery down, and along it.
    ("place MARET 0,7.2\nplace OSK 0,5\n1 MARET thrust chest / OSK parry 4 ! steel", &[]),
    ("place MARET 0,7.2\nplace OSK 0,4.4\n1 MARET thrust chest / OSK parry 4 ! steel", &["M501"]),
    // One finding for two people in a phrase.
    (
        "place MARET -3.6,3\nplace OSK 3.6,3\n1 MARET thrust belly / OSK parry 4 ! steel\n3 MARET thrust belly / OSK parry 4 ! steel",
        &["M501"],
    ),
    // Both walk in first.
    (
        "place MARET -3,3\nplace OSK 3,3\n1 MARET walk -1.1,3 by 4\n1 OSK walk 1.1,3 by 4\n5 MARET thrust belly / OSK parry 4 ! steel",
        &[],
    ),
    ("1 MARET thrust belly / OSK parry 4 ! steel", &[]),
];

const CLEARANCE: &[Row] = &[
    ("1 MARET cut flank left / OSK parry 3 ! steel\nplace PELL 0,5.5", &[]),
    // The left of whoever is hit is the right of whoever strikes: MARET looks stage left, so his right is downstage.
    ("1 MARET cut flank left / OSK parry 3 ! steel\nplace PELL -0.6,1.6", &["C601"]),
    ("1 MARET cut flank left / OSK parry 3 ! steel\nplace PELL -0.9,4.9", &[]),
    ("1 MARET cut flank right / OSK parry 4 ! steel\nplace PELL -0.9,4.7", &["C601"]),
    // Behind whoever strikes.
    ("1 MARET thrust belly / OSK parry 4 ! steel\nplace PELL -2.4,3", &[]),
    // Seated under a high cut, and in a low sweep.
    ("1 MARET slash head / OSK duck ! swish\nplace SITS -0.4,4.2", &[]),
    ("1 MARET slash feet / OSK jump ! swish\nplace SITS -0.4,4.2", &["C601"]),
    ("1 MARET slash head / OSK duck ! swish\nplace PELL -0.4,4.2", &["C601"]),
    // Meant for nobody who is named: it goes to whom he looks at.
    ("1 MARET feint belly\nplace PELL -3.4,3", &[]),
    ("1 MARET feint belly\nplace PELL -0.4,4.4", &["C601"]),
    // Another fighter may be nearer than somebody who only stands by.
    ("1 MARET slash belly / OSK away ! swish\nplace TAM -1.1,5.3", &[]),
    ("1 MARET slash belly / OSK away ! swish\nplace PELL -1.1,5.3", &["C601"]),
    ("1 MARET slash belly / OSK away ! swish\nplace TAM -1.1,4.6", &["C602"]),
    // Walks into it in the middle of the swing, and out again: both marks are far away.
    ("place PELL -0.2,8.9\n1 PELL walk -0.2,0.6 by 7\n4 MARET slash belly / OSK away ! swish", &["C601"]),
    ("place PELL -3.8,6.3\n1 PELL walk -3.8,0.6 by 7\n4 MARET slash belly / OSK away ! swish", &[]),
];

const PLACES: &[Row] = &[
    ("place PELL 7,3", &[]),
    ("place PELL -7,3", &["P801"]),
    ("place PELL 4.2,4.2", &["P802"]),
    ("place PELL 0,-4", &["P803"]),
    ("place TAM -1.2,3.1", &["P805"]),
    ("place PELL 3,0.3", &["P806"]),
    ("place PELL 3,0.6", &[]),
    // Pushed back over the edge, and two metres away from it.
    ("place MARET -4,1.0\nplace TAM -4,1.8\n1 TAM push chest / MARET stagger ! cloth", &["P806"]),
    ("place MARET -4,2.1\nplace TAM -4,2.9\n1 TAM push chest / MARET stagger ! cloth", &[]),
];

const FLOW: &[Row] = &[
    ("place PELL 0,5\n1 PELL walk 4,6 by 5", &[]),
    ("place PELL -4,6\n1 PELL walk 4,6 by 5", &["F701"]),
    ("place PELL -4,6\n1 PELL walk 4,6 by 4", &["F701"]),
    ("place PELL 3,4.2\n1 PELL walk 5.5,4.2 by 5", &["F703"]),
    ("place PELL 3,4.2\n1 PELL walk 5.5,4.2 by 6 around 4.25,4.2", &[]),
    ("place PELL 0,6\n1 PELL walk 0,8 by 5", &[]),
    ("place PELL 3,6\n1 PELL walk 3,8 by 5", &["F704"]),
    ("place PELL -5,6\n1 PELL walk -7,6 by 5", &["P801"]),
    ("place PELL 5,6\n1 PELL walk further 2,0 by 5", &[]),
    // Through each other, past each other, and after each other.
    ("place PELL -2,6\nplace SITS 2,6\n1 PELL walk 2,6 by 6\n1 SITS walk -2,6 by 6", &["C605"]),
    ("place PELL -2,5.6\nplace SITS 2,6.2\n1 PELL walk 2,5.6 by 6\n1 SITS walk -2,6.2 by 6", &[]),
    ("place PELL -2,6\nplace SITS 0,4.5\n1 PELL walk 2,6 by 6\n6 SITS walk 0,6.8 by 8", &[]),
    ("place PELL -2,6\nplace SITS 0,6\n1 PELL walk 2,6 by 6", &["C605"]),
    ("place PELL -2,6\nplace SITS 0,6\n1 PELL walk 2,6 by 8 around 0,6.4", &[]),
    // In the next phrase, metres away, with no time and with time.
    ("place PELL -2,6\n1 PELL walk 0,6 by 4\nphrase \"Two\"\nplace PELL 4,6\n1 PELL walk 5,6 by 4", &["F705"]),
    ("place PELL -2,6\nrest 8\nphrase \"Two\"\nplace PELL 1,6\n8 PELL walk 2,6 by 12", &[]),
    ("place PELL -2,6\n1 PELL walk 0,6 by 4\nphrase \"Two\"\nplace PELL 0,6\n1 PELL walk 2,6 by 4", &[]),
];

/// Under a narrow house in front.
const MASKING: &[Row] = &[
    // In profile, the blade on the side of the house, and on the other; OSK's right is upstage, as he looks stage right.
    ("1 MARET thrust flank left hidden upstage / OSK take flank left", &["V901"]),
    ("1 MARET thrust flank right hidden upstage / OSK take flank right", &[]),
    ("1 MARET thrust flank left / OSK take flank left", &[]),
    // A point that is taken without a side may pass on either; one that stops short in profile is seen.
    ("1 MARET thrust belly hidden upstage / OSK take belly", &[]),
    ("1 MARET slash belly hidden upstage / OSK away ! swish", &["V901"]),
    // His back to the house, or hers.
    ("place MARET 0,4.1\nplace OSK 0,1.9\n1 MARET slash belly hidden upstage / OSK away ! swish", &[]),
    ("place MARET 0,1.9\nplace OSK 0,4.1\n1 MARET slash belly clear hidden upstage / OSK away ! swish", &["V901"]),
    // In a repeat it is said once.
    ("repeat 3 every 4 at 1\n1 MARET thrust flank left hidden upstage / OSK take flank left\nend", &["V901"]),
];

/// Seats on three sides of a thrust stage.
const SIDES: &str = "
seats.left = { outline = [[7, 0], [10, 0], [10, 9], [7, 9]] }
seats.right = { outline = [[-10, 0], [-7, 0], [-7, 9], [-10, 9]] }
";

fn judge(rows: &[Row], before: &str) {
    for (lines, expected) in rows {
        let lines = format!("{}{lines}", if lines.contains("place MARET") { "" } else { before });
        let mut expected = expected.to_vec();
        expected.sort_unstable();
        assert_eq!(codes(&lines), expected, "{lines}\n{:#?}", found_on(STAGE, &lines));
    }
}

#[test]
fn measure_is_judged() {
    judge(MEASURE, "");
}

#[test]
fn other_pairs_and_falls_are_judged() {
    for (lines, expected) in BACKS.iter().chain(FALLS) {
        let found = found_in(TWO_PAIRS, STAGE, lines);
        let codes: Vec<_> = found.iter().filter(|it| it.severity != Severity::Advice).map(|it| it.code).collect();
        assert_eq!(codes, *expected, "{lines}\n{found:#?}");
    }
}

/// Whoever sends somebody down, in whatever way, is not in the way of their fall.
#[test]
fn whoever_sends_somebody_down_sees_them_fall() {
    let vocabulary = Vocabulary::built_in();
    let fells = &vocabulary.replies["fall"].actions;
    let fell = vocabulary.actions.iter().filter(|(word, _)| fells.contains(word));
    for (word, action) in fell {
        let target = if action.targets.is_empty() { "" } else { action.targets[0].as_str() };
        let side = vocabulary.targets.get(target).filter(|row| row.sided).map_or("", |_| " right");
        let line = format!("2 UNA {word} {target}{side} / TAM fall ! fall");
        let found = found_in(TWO_PAIRS, STAGE, &format!("place TAM 0,5\nplace UNA 0.7,5\n{line}"));
        assert!(found.iter().all(|it| it.code != "C607"), "{line}\n{found:#?}");
    }
}

/// Whoever does what is said to do has mended it, and it takes no more than that: a decimetre less, and it is said again.
#[test]
fn the_place_that_is_said_is_far_enough() {
    let rows = BACKS.iter().chain(FALLS).map(|row| (TWO_PAIRS, row)).chain(MEASURE.iter().map(|row| (HEAD, row)));
    let mut mended = 0;
    for (head, (lines, codes)) in rows {
        let [code @ ("M504" | "M505" | "C606" | "C607" | "C608" | "P807")] = codes else { continue };
        let found = found_in(head, STAGE, lines);
        let problem = found.iter().find(|it| it.code == *code).unwrap();
        let help = problem.help.as_ref().unwrap();
        let (before, at) = help.rsplit_once(", at ").unwrap();
        let names = ["MARET", "OSK", "TAM", "UNA", "VEL", "PELL"];
        let who = names.into_iter().find(|name| before.contains(name)).unwrap();
        let moved = |at: &str| -> Vec<&'static str> {
            let line = |line: &str| match line.strip_prefix(&format!("place {who} ")) {
                Some(mark) => {
                    format!("place {who} {at}{}", mark.find(' ').map_or("", |end| &mark[end..]))
                }
                None => line.to_owned(),
            };
            let lines: Vec<String> = lines.lines().map(line).collect();
            found_in(head, STAGE, &lines.join("\n")).into_iter().map(|it| it.code).collect()
        };
        // Of a pair only the one nearest to the others is moved here: what comes of it between the two of a pair is theirs.
        assert!(!moved(at).contains(code), "{lines}\n{help}\n{:?}", moved(at));
        mended += 1;
    }
    assert!(mended >= 9, "{mended}");
}

/// Nobody meets a blow that they are turned away from; a blow in the back that is taken is another thing.
#[test]
fn whoever_has_to_meet_a_blow_looks_at_it() {
    let placed = |reply: &str, facing: &str, beat: &str| {
        codes(&format!(
            "place MARET -1.1,3 facing OSK\nplace OSK 1.1,3 facing {facing}\nplace PELL 5,3\n{beat} MARET thrust belly / OSK {reply}"
        ))
    };
    assert_eq!(placed("parry 4 ! steel", "MARET", "1.5"), [] as [&str; 0]);
    assert_eq!(placed("parry 4 ! steel", "PELL", "1.5"), ["F706"]);
    assert_eq!(placed("away", "PELL", "1.5"), ["F706"]);
    assert_eq!(placed("parry 4 ! steel", "PELL", "6"), [] as [&str; 0]);
    assert_eq!(placed("take belly", "PELL", "1.5"), [] as [&str; 0]);
}

#[test]
fn clearance_is_judged() {
    judge(CLEARANCE, PAIR);
}

/// The same stage with a narrow house.
fn narrow() -> String {
    let narrow = STAGE.replace("[[-6, -8], [6, -8], [6, -2], [-6, -2]]", "[[-3, -8], [3, -8], [3, -2], [-3, -2]]");
    assert_ne!(narrow, STAGE);
    narrow
}

#[test]
fn what_the_seats_see_is_judged() {
    let narrow = narrow();
    for (lines, expected) in MASKING {
        let lines = format!("{}{lines}", if lines.contains("place MARET") { "" } else { PAIR });
        let found = found_on(&narrow, &lines);
        let codes: Vec<_> = found.iter().map(|it| it.code).filter(|it| it.starts_with('V')).collect();
        assert_eq!(codes, *expected, "{lines}\n{found:#?}");
    }
}

/// The side that is written says from whom it is hidden: in profile the blade behind his back is hidden from the front alone.
#[test]
fn each_side_is_hidden_from_the_seats_across() {
    let stage = format!("{STAGE}{SIDES}");
    let codes = |side: &str, stage: &str| {
        let lines = format!("{PAIR}1 MARET thrust flank right hidden {side} / OSK take flank right");
        let found = found_on(stage, &lines);
        found.into_iter().find(|it| it.code.starts_with('V'))
    };
    let seen = codes("stage-right", &stage).unwrap();
    assert!(seen.message.contains("of “left”") && !seen.message.contains("house"), "{}", seen.message);
    assert!(codes("stage-left", &stage).unwrap().message.contains("“right”"));
    let nobody = codes("downstage", &stage).unwrap();
    assert_eq!((nobody.code, nobody.severity), ("V902", Severity::Advice));
    assert!(nobody.message.contains("nobody sits upstage"), "{}", nobody.message);
    assert_eq!(codes("upstage", "area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]"), None);
    let stopped = found_on(STAGE, &format!("{PAIR}1 MARET thrust belly hidden upstage / OSK parry 4 ! steel"));
    assert_eq!(stopped.iter().map(|it| it.code).collect::<Vec<_>>(), ["V903"]);
}

/// The turn that is said mends it.
#[test]
fn the_turn_that_is_said_hides_it() {
    let written = [
        "1 MARET thrust flank left hidden upstage / OSK take flank left",
        "1 MARET slash belly hidden upstage / OSK away ! swish",
    ];
    for line in written {
        let found = found_on(&narrow(), &format!("{PAIR}{line}"));
        let problem = found.iter().find(|it| it.code == "V901").unwrap_or_else(|| panic!("{line}: {found:?}"));
        let help = problem.help.as_ref().unwrap();
        let marks: Vec<&str> = help.split(" at ").skip(1).map(|it| it.split([' ', ';']).next().unwrap()).collect();
        let [maret, osk] = [marks[0].trim_end_matches(','), marks[1]];
        let mended = format!("place MARET {maret} facing OSK\nplace OSK {osk} facing MARET\n{line}");
        let after = found_on(&narrow(), &mended);
        assert!(after.iter().all(|it| it.code != "V901"), "{help}\n{after:?}");
        assert!(help.contains("the clock") && help.contains(" upstage of "), "{help}");
    }
}

#[test]
fn marks_are_judged() {
    judge(PLACES, PAIR);
}

#[test]
fn flow_is_judged() {
    judge(FLOW, PAIR);
}

#[test]
fn whoever_is_turned_away_is_told_to_turn() {
    let lines = |facing: &str, beat: u32| {
        format!("place MARET -1.1,3 facing {facing}\nplace OSK 1.1,3\n{beat} MARET thrust belly / OSK parry 4 ! steel")
    };
    assert_eq!(codes(&lines("270", 1)), ["F706"]);
    assert_eq!(codes(&lines("270", 4)), [] as [&str; 0]);
    assert_eq!(codes(&lines("90", 1)), [] as [&str; 0]);
    assert_eq!(codes(&lines("OSK", 1)), [] as [&str; 0]);
}

/// Nothing is said of space where no stage is known, and it is said which it was.
#[test]
fn without_a_plan_nothing_is_said_and_that_is_said() {
    let vocabulary = Vocabulary::built_in();
    let text = format!("{HEAD}place MARET -9,3\nplace OSK 9,3\n1 MARET thrust belly / OSK parry 4 ! steel");
    let score = read(text, "a.fight", &vocabulary).score.unwrap();
    let bare = check(&score, &vocabulary, &HouseRules::default());
    assert_eq!((bare.findings.as_slice(), unchecked(&HouseRules::default())), (&[] as &[Problem], UNCHECKED));
    let on_stage = check(&score, &vocabulary, &rules(STAGE));
    assert_eq!(unchecked(&rules(STAGE)), UNCHECKED_ON_STAGE);
    assert!(on_stage.findings.iter().any(|it| it.code == "M501"));
}

#[test]
fn who_has_no_mark_is_named_and_the_others_are_checked() {
    let lines = "place MARET -9,3\n1 MARET thrust belly / OSK parry 4 ! steel\n3 TAM breathe";
    let found = found_on(STAGE, lines);
    let codes: Vec<_> = found.iter().map(|it| (it.code, it.severity)).collect();
    assert!(codes.contains(&("P804", Severity::Advice)) && codes.contains(&("P801", Severity::Error)), "{found:?}");
    let named = found.iter().find(|it| it.code == "P804").unwrap();
    assert!(named.message.starts_with("OSK, TAM have no marks"), "{}", named.message);
}

/// No number makes the checks take long or panic.
#[test]
fn marks_and_walks_beyond_all_stages_are_found_at_once() {
    let far =
        "place PELL -900,2\n1 PELL walk 900,800 by 2\n2 PELL walk -900,800 by 3 around 1,1\n1 SITS walk 1,800 by 4";
    let found = found_on(STAGE, &format!("{PAIR}{far}\n2 MARET cut flank left / OSK parry 3 ! steel"));
    assert!(found.iter().any(|it| it.code == "P801") && found.iter().any(|it| it.code == "F701"), "{found:?}");
}

/// What is said is what mends it: whoever follows the help of a finding has it no more.
#[test]
fn the_smallest_change_that_is_said_mends_it() {
    let rows = [
        (
            "place MARET -2.6,3\nplace OSK 2.6,3\n1 MARET thrust belly / OSK parry 4 ! steel",
            "OSK at ",
            "place OSK 2.6,3",
            "place OSK ",
        ),
        (
            "place MARET -0.3,3\nplace OSK 0.3,3\n1 MARET thrust belly / OSK parry 4 ! steel",
            "at ",
            "place OSK 0.3,3",
            "place OSK ",
        ),
        ("place PELL -7,3\n1 PELL walk -5,4 by 4", "on it is ", "place PELL -7,3", "place PELL "),
        ("place PELL 3,0.2\n", "", "place PELL 3,0.2", "place PELL "),
        (
            "place MARET -1.1,3\nplace OSK 1.1,3\nplace PELL -0.4,4.6\n1 MARET slash belly / OSK away ! swish",
            "at ",
            "place PELL -0.4,4.6",
            "place PELL ",
        ),
    ];
    for (lines, before, written, instead) in rows {
        let found = found_on(STAGE, lines);
        let problem = found.iter().find(|it| it.severity != Severity::Advice).unwrap_or_else(|| panic!("{lines}"));
        let help = problem.help.as_ref().unwrap();
        let rest = &help[help.find(before).unwrap_or_else(|| panic!("{help}")) + before.len()..];
        let is_mark =
            |it: &&str| it.split_once(',').is_some_and(|(x, y)| x.parse::<f64>().is_ok() && y.parse::<f64>().is_ok());
        let mark =
            rest.split(' ').map(|it| it.trim_end_matches([',', ':'])).find(is_mark).unwrap_or_else(|| panic!("{help}"));
        let mended = lines.replace(written, &format!("{instead}{mark}"));
        let after = found_on(STAGE, &mended);
        assert!(after.iter().all(|it| it.code != problem.code), "{help}\n{mended}\n{after:#?}");
    }
}

#[test]
fn a_scene_change_is_another_stage() {
    let stage = format!(
        "{STAGE}\n[sets.wall]\nfights = ['Little: Two']\n[sets.wall.pieces.wall]\noutline = [[-0.2, 2], [0.2, 2], [0.2, 6], [-0.2, 6]]"
    );
    let walk = "place PELL -2,5\n1 PELL walk 2,5 by 5";
    let back = "phrase \"Two\"\nplace PELL 2,5\n1 PELL walk -2,5 by 5";
    let found = found_on(&stage, &format!("{walk}\n{back}"));
    let lines: Vec<_> = found.iter().filter(|it| it.code == "F703").collect();
    assert_eq!(lines.len(), 1, "{found:?}");
    let text = format!("{HEAD}{walk}\n{back}");
    assert!(text[..lines[0].span.start].contains("Two"), "the wall stands in the second phrase alone");
}

#[test]
fn what_is_wrong_with_a_plan_is_said_and_the_rest_is_used() {
    let area = "area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]\n";
    let rows = [
        ("", false, "stage.toml, line 1: `area` is missing, so there is no plan"),
        (
            "area = [[0,0],[4,4],[4,0],[0,4]]",
            false,
            "crosses itself: the side from corner 1 and the side from corner 3 meet",
        ),
        ("area = [[0,0],[4,4]]", false, "has 2 corners; an outline needs three at least"),
        ("area = [[0,0],[4,4],[8,8]]", false, "all its corners lie on one line"),
        ("area = [[0,0],[4,'x'],[8,8]]", false, "there has to be a number, or a length with its unit"),
        ("area = [", false, "this is not TOML"),
        ("[pieces.table]\noutline = [[0,0],[1,1],[1,0],[0,1]]", true, "`pieces.table.outline` crosses itself"),
        ("[pieces.table]\nhight = 2", true, "`pieces.table.hight` is not known here; did you mean `height`"),
        ("[levels.gallery]\noutline = [[0,0],[1,0],[1,1]]", true, "has no height"),
        ("[edges.front]\nfrom = [0, 0]", true, "`edges.front` has no to"),
        ("[people.OSK]\nstature = 18", true, "it has to be a length from 0.5 to 2.6 metres"),
        ("[people.OSK]\nstature = '5 ft 11 in'", true, "`units` is metres, and “5 ft 11 in” is not in metres"),
        ("[people.OSK]\nposture = 'siting'", true, "it has to be standing, seated, kneeling or lying"),
    ];
    for (text, is_plan, says) in rows {
        let whole = if is_plan { format!("{area}{text}") } else { text.to_owned() };
        let (plan, problems) = stage::read(&whole, "stage.toml");
        let said: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert!(said.iter().any(|it| it.contains(says)), "{whole}\n{said:?}");
        assert_eq!(plan.is_some(), is_plan, "{whole}");
    }
}

/// `holdfast plan --seen`: every seat is drawn, the words say from how many it is seen, and the table says it of all.
#[test]
fn what_the_seats_see_is_drawn_and_said() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("quay");
    holdfast::production::start(&home).unwrap();
    std::fs::write(home.join("stage.toml"), STAGE).unwrap();
    let score = home.join("scores/little.fight");
    std::fs::write(&score, format!("{HEAD}{PAIR}1 MARET thrust flank left / OSK take flank left\n4 MARET thrust flank right / OSK take flank right\n7 MARET thrust belly / OSK parry 4 ! steel\n")).unwrap();
    let run = |rest: &[&str]| {
        let done = std::process::Command::new(env!("CARGO_BIN_EXE_holdfast"))
            .arg("plan")
            .arg(&score)
            .args(rest)
            .output()
            .unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (done.status.code(), text(done.stdout), text(done.stderr))
    };
    let (code, table, errors) = run(&["--seen"]);
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 2, "{table}");
    assert!(
        lines[0]
            .starts_with("“One”, beat 1: MARET thrust flank left / OSK take flank left: seen everywhere in “house”"),
        "{table}"
    );
    assert!(lines[1].contains(" % of “house”, mostly at stage"), "{table}");
    // 24 places in each of 6 rows, of which the map says how many see it.
    let (code, svg, _) = run(&["--seen", "--at", "1:4"]);
    assert_eq!((code, svg.matches("r=\"0.13\"").count()), (Some(0), 24 * 6), "{svg}");
    let filled = svg.matches("r=\"0.13\" fill=\"#000\"").count();
    let percent = format!("{:.0} % of “house”", filled as f64 / 1.44);
    assert!(filled > 0 && svg.contains(&percent), "{percent}: {svg}");
    let (code, _, errors) = run(&["--seen", "--at", "1:7"]);
    assert!(code == Some(2) && errors.contains("that is so at 1:1, 1:4"), "{errors}");
    assert_eq!(run(&[]).0, Some(2));
}

#[test]
fn feet_are_feet() {
    let feet = "units = 'feet'\narea = [[-20, 0], [20, 0], [20, 30], [-20, 30]]\n[people.OSK]\nstature = '5 ft 6 in'\nreach = 2.5";
    let plan = plan(feet);
    let corner = plan.bare.area.corners()[2];
    assert!((corner.x - 6.096).abs() < 1e-9 && (corner.y - 9.144).abs() < 1e-9);
    let osk = plan.build("OSK");
    assert!((osk.stature - 1.6764).abs() < 1e-9 && (osk.reach - 0.762).abs() < 1e-9);
    // A score counts in metres: whoever wrote feet is told the mark that was meant.
    let found = found_on(feet, "place PELL 15,20");
    let off = found.iter().find(|it| it.code == "P801").unwrap();
    assert!(off.help.as_ref().unwrap().contains("if that was meant in feet, write 4.57,6.1"), "{off:?}");
    assert!(off.message.contains(" ft off the playing area"), "{off:?}");
}

/// `holdfast plan`: everybody is on the picture where they are, and in its words; what is asked wrongly is refused.
#[test]
fn the_plan_is_drawn_at_a_beat() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("quay");
    holdfast::production::start(&home).unwrap();
    let score = home.join("scores/first-steps.fight");
    let draw = |at: &str| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_holdfast"));
        let done = command.arg("plan").arg(&score).args(["--at", at]).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (done.status.code(), text(done.stdout), text(done.stderr))
    };
    let (code, svg, errors) = draw("1:1");
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    assert!(svg.contains("First Steps, “Salute and first attack”, beat 1"), "{svg}");
    let words = "BRYONY stands at 1.20,3.00, facing 270 degrees, with a blade.";
    assert!(svg.contains(words) && svg.matches("<circle").count() == 4, "{svg}");
    // A thrust sweeps on its beat, and her jump is seen on the slash at her feet.
    assert!(svg.contains("fill-opacity") && draw("The answer:3").1.contains("BRYONY jumps"), "{svg}");
    for (at, says) in
        [("1", "has no colon"), ("3:1", "There is no phrase “3”"), ("1:x", "is no beat"), ("1:99", "has no beat 99")]
    {
        let (code, svg, errors) = draw(at);
        assert_eq!((code, svg.as_str()), (Some(2), ""), "{at}");
        assert!(errors.contains(says), "{at}: {errors}");
    }
    std::fs::remove_file(home.join("stage.toml")).unwrap();
    assert!(draw("1:1").2.contains("There is no stage for"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// No bytes make the reader of plans panic.
    #[test]
    fn no_text_is_too_wild_for_the_reader(text in "(\\[(area|people|sets|pieces|edges)\\.[a-z]\\]\n|[a-z]+ = ([-0-9.\\[\\], ]{0,20}|'[0-9a-z ]{0,6}')\n){0,8}") {
        let _ = stage::read(&text, "stage.toml");
    }
}

/// A stage of four by four metres with a house in front of it, all of it turned.
fn turned_stage(turn: &impl Fn(f64, f64) -> Vec2) -> Layout {
    let outline = |corners: [(f64, f64); 4]| Outline::new(corners.map(|(x, y)| turn(x, y)).to_vec()).unwrap();
    let house = outline([(-4.0, -7.0), (4.0, -7.0), (4.0, -1.5), (-4.0, -1.5)]);
    let seats = vec![Seats { name: "house".into(), outline: house, floor: -1.0, eyes: 1.17 }];
    Layout { seats, ..StagePlan::bare(outline([(-2.0, 0.0), (2.0, 0.0), (2.0, 4.0), (-2.0, 4.0)])).bare }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    /// Turned as a whole, stage, people and house, every seat sees what it saw.
    #[test]
    fn a_house_that_is_turned_sees_the_same(
        angle in 0.0..360.0f64, line in 0.0..360.0f64, at in (-1.5..1.5f64, 0.5..3.5f64), others in prop::collection::vec((-2.0..2.0f64, 0.0..4.0f64), 0..3),
    ) {
        let (sin, cos) = angle.to_radians().sin_cos();
        let seen = |turn: &dyn Fn(f64, f64) -> Vec2| {
            let layout = turned_stage(&turn);
            let way = Vec2::along(line);
            let (body, blade) = (turn(at.0 + way.x * 0.25, at.1 + way.y * 0.25), turn(at.0 + way.x * 0.4, at.1 + way.y * 0.4));
            let gap = Gap { body, blade, high: 1.1 };
            let all = others.iter().copied().chain([at]);
            let screen = |(x, y)| Screen { shape: Shape::Round { middle: turn(x, y), radius: 0.25 }, low: 0.0, high: 1.7 };
            let screens: Vec<Screen<'_>> = all.map(screen).collect();
            let house = Audience::of(&layout);
            let views = [Passes::Before, Passes::Left].map(|passes| house.views(passes, &gap, &screens, None));
            views.map(|views| views.iter().map(|view| (view.seats.len(), view.seen())).collect::<Vec<_>>())
        };
        let whole = seen(&Vec2::new);
        prop_assert_eq!(whole[0][0].0, 16 * 6);
        prop_assert_eq!(whole, seen(&|x, y| Vec2::new(x * cos - y * sin, x * sin + y * cos)));
    }
}

/// A blow, whoever walks past it, and how.
#[derive(Clone, Debug)]
struct Chance {
    blow: &'static str,
    apart: f64,
    turned: f64,
    from: (f64, f64),
    to: (f64, f64),
    round: Option<(f64, f64)>,
    beat: u32,
    own_walk: bool,
}

fn chances() -> impl Strategy<Value = Chance> {
    let blows = [
        "cut flank left / OSK parry 3",
        "cut flank right / OSK parry 4",
        "cut head / OSK parry 5",
        "thrust belly / OSK parry 4",
        "slash belly / OSK step-back",
        "slash feet / OSK jump",
        "slash head / OSK duck",
        "lunge chest / OSK parry 4",
        "moulinet flank left / OSK parry 3",
    ];
    let spot = || (-3.0..3.0f64, -3.0..3.0f64);
    let round = prop::option::of(spot());
    (prop::sample::select(blows.to_vec()), 1.2..2.6f64, 0.0..360.0f64, spot(), spot(), round, 2..8u32, any::<bool>())
        .prop_map(|(blow, apart, turned, from, to, round, beat, own_walk)| Chance {
            blow,
            apart,
            turned,
            from,
            to,
            round,
            beat,
            own_walk,
        })
}

impl Chance {
    fn text(&self) -> String {
        let (sin, cos) = self.turned.to_radians().sin_cos();
        let (x, y) = (sin * self.apart / 2.0, cos * self.apart / 2.0);
        let round = self.round.map_or(String::new(), |(x, y)| format!(" around {x:.2},{y:.2}"));
        let own = if self.own_walk {
            format!("1 MARET walk further {:.2},{:.2} by 7\n", y * 0.4, -x * 0.4)
        } else {
            String::new()
        };
        format!(
            "place MARET {:.2},{:.2}\nplace OSK {x:.2},{y:.2}\nplace PELL {:.2},{:.2}\n{own}1 PELL walk {:.2},{:.2} by 9{round}\n{} MARET {}\n",
            -x, -y, self.from.0, self.from.1, self.to.0, self.to.1, self.beat, self.blow
        )
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 250, ..ProptestConfig::default() })]

    /// The blade as it is drawn, looked at 400 times a second, never comes nearer to whoever stands by than is allowed without a
    /// finding, and is never outside of what the checks take as swept.
    #[test]
    fn no_swing_is_missed(chance in chances()) {
        let area = "area = [[-30, -30], [30, -30], [30, 30], [-30, 30]]";
        let vocabulary = Vocabulary::built_in();
        let reading = read(format!("{HEAD}{}", chance.text()), "a.fight", &vocabulary);
        prop_assume!(reading.score.is_some());
        let score = reading.score.unwrap();
        let stage = plan(area);
        let whole = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
        let tracks = Tracks::of(&score, &vocabulary, &whole, &stage);
        let (maret, osk, pell) = (0, 1, 3);
        let (_, sweep) = tracks.sweeps[0];
        let mut nearest = f64::INFINITY;
        let steps = 400;
        for step in 0..=steps {
            let time = sweep.span.0 + (sweep.span.1 - sweep.span.0) * f64::from(step) / f64::from(steps);
            let (Some(own), Some(by)) = (tracks.presence(maret, time), tracks.presence(pell, time)) else { continue };
            let Some((hand, point)) = own.blade else { continue };
            let partner = tracks.presence(osk, time).unwrap();
            for part in [0.0, 0.25, 0.5, 0.75, 1.0] {
                let at = [0, 1, 2].map(|axis: usize| hand[axis] + (point[axis] - hand[axis]) * part);
                let over = stage::Vec2::new(at[0], at[1]);
                let bearing = (partner.at - own.at).bearing();
                prop_assert!(sweep.distance(own.at, bearing, over) < 1e-6, "{chance:?} at {time}");
                prop_assert!(sweep.heights.0 <= at[2] && at[2] <= sweep.heights.1, "{chance:?} at {time}");
                if at[2] > by.room.low && at[2] < by.room.high {
                    nearest = nearest.min(over.distance(by.at) - by.room.radius);
                }
            }
        }
        // Whoever stands by is told of it from farther off, and never of less than what is seen.
        let passages = stage::passages(&whole, &tracks, &stage.least);
        let told = passages.iter().filter(|it| it.who.0 == 0).map(|it| it.gap).fold(f64::INFINITY, f64::min);
        prop_assert!(nearest >= 1.5 - 1e-6 || told <= nearest.max(0.0) + 1e-6, "{chance:?}: {nearest} and {passages:?}");
        prop_assert!(passages.iter().all(|it| it.gap < 1.5 && it.gap >= 0.0), "{passages:?}");
        let found = found_on(area, &chance.text());
        let told = found.iter().any(|it| it.code == "C601");
        prop_assert!(told || nearest >= stage.least.bystander - 1e-6, "{chance:?}: {nearest} and {found:?}");
    }
}

/// What passes near who only stands by, worked out by hand: a blow of known reach, a walk, and what is too high or too far.
#[test]
fn bystanders_are_told_what_passes_them() {
    let told = |lines: &str| {
        let vocabulary = Vocabulary::built_in();
        let score = read(format!("{HEAD}{PAIR}{lines}"), "a.fight", &vocabulary).score.unwrap();
        check(&score, &vocabulary, &rules(STAGE)).passages
    };
    // TAM walks past PELL, who looks downstage, a metre in front: at the third beat, half a metre from body to body.
    let walk = told("place PELL 0,6 facing 180\nplace TAM -2,5\n1 TAM walk 2,5 by 5");
    let [past] = walk.as_slice() else { panic!("{walk:?}") };
    assert_eq!((past.who.0, past.at.beat_label().as_str(), past.action.as_deref()), (0, "3", None));
    assert!(past.side == stage::Beside::Front && (past.gap - 0.5).abs() < 0.011, "{past:?}");
    // Nobody counts in parts of a beat that nothing is done on.
    let uneven = told("place PELL 0.37,6 facing 180\nplace TAM -2,5\n1 TAM walk 2,5 by 5+1/3");
    assert_eq!(uneven.iter().map(|it| it.at.0 % 960).collect::<Vec<_>>(), [0]);
    // Behind somebody who looks upstage, and upstage of somebody of whom it is not said where they look.
    assert_eq!(told("place PELL 0,6 facing 0\nplace TAM -2,5\n1 TAM walk 2,5 by 5")[0].side, stage::Beside::Behind);
    assert_eq!(told("place PELL 0,4.2\nplace TAM -2,5\n1 TAM walk 2,5 by 5")[0].side, stage::Beside::Upstage);
    assert_eq!(told("place PELL 0,6.2\nplace TAM -2,5\n1 TAM walk 2,5 by 5"), []);
    // A blow at its beat, in its words; over the head of who sits it is none; of each bar the nearest alone.
    let blow = told("place PELL -1.1,5.6 facing 180\n3 MARET slash belly / OSK away ! swish");
    let [past] = blow.as_slice() else { panic!("{blow:?}") };
    assert_eq!((past.at.beat_label().as_str(), past.action.as_deref()), ("3", Some("slash belly")));
    assert_eq!(told("place SITS -1.1,4.9 facing 180\n3 MARET slash head / OSK duck ! swish"), []);
    let bars =
        told("place PELL -1.1,5.6 facing 180\nrepeat 6 every 2 at 1\n1 MARET slash belly / OSK away ! swish\nend");
    assert_eq!(bars.iter().map(|it| it.at.0 / 3_840).collect::<Vec<_>>(), [0, 1, 2]);
}
