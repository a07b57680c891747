//! The checks on little scores: what a fight director would say, and on which line.

use holdfast::check::{Checked, HouseRules, check};
use holdfast::score::model::*;
use holdfast::score::position::Lines;
use holdfast::score::problem::Severity;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::units::Bpm;
use proptest::prelude::*;

use crate::timeline_scores;

/// Nine lines, so that the phrase's first line is line 10. MARET is right-handed, OSK left-handed, TAM has no weapon.
const HEAD: &str = "fight \"Little\"\nbeats 4\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier left\n  TAM none none\nbystanders\n  PELL\nphrase \"One\"\n";
const FIRST: usize = 11;

/// The lines of a phrase, and what is found: code and line of the phrase, from 1.
type Row = (&'static str, &'static [(&'static str, usize)]);

const ANSWERS: &[Row] = &[
    ("1 MARET cut head / OSK parry 5 ! steel", &[]),
    ("1 MARET cut head ! steel", &[("A101", 1)]),
    ("1 MARET feint head", &[]),
    ("1 MARET bind / OSK duck ! scrape", &[("B221", 1), ("A102", 1)]),
    ("1 MARET slash feet / OSK jump", &[]),
    ("1 MARET slash feet / OSK duck", &[("A103", 1)]),
    ("1 MARET slash feet / OSK parry 2", &[("A104", 1)]),
    // The right side of a left-hander lies inside (EB 14th ed., vol. 9: a left-hander mirrors inside and outside).
    ("1 MARET cut flank right / OSK parry 3 ! steel", &[("A104", 1)]),
    ("1 MARET cut flank left / OSK parry 3 ! steel", &[]),
    ("1 OSK cut flank right / MARET parry 3 ! steel", &[]),
    ("1 OSK cut flank right / MARET parry tierce ! steel", &[]),
    ("1 OSK cut flank / MARET parry 3 ! steel", &[("A105", 1)]),
    ("1 OSK cut chest / MARET parry 4 ! steel", &[]),
    ("1 OSK thrust shoulder right / MARET circle 6 ! steel", &[]),
    ("1 OSK thrust thigh right / MARET circle 4 ! steel", &[("A104", 1)]),
    ("1 OSK thrust side right / MARET take flank right ! cloth", &[]),
    ("1 OSK thrust side right / MARET take head ! cloth", &[("A106", 1)]),
    ("1 OSK thrust side right / MARET take side left ! cloth", &[("A106", 1)]),
    ("repeat 3 every 2 at 1\n1 MARET cut head ! steel\nend", &[("A101", 2)]),
];

const BODIES: &[Row] = &[
    ("1 MARET cut head / OSK parry 5 ! steel\n1 TAM kick shin left / MARET jump", &[("B201", 2)]),
    ("1 OSK trip leg left / MARET fall ! fall\n4 MARET cut head / OSK parry 5 ! steel", &[("B203", 2)]),
    ("1 OSK trip leg left / MARET fall ! fall\n4 MARET rise\n7 MARET cut head / OSK parry 5 ! steel", &[]),
    ("1 MARET rise", &[("B204", 1)]),
    ("1 TAM cut head / OSK parry 5 ! steel", &[("B205", 1)]),
    ("1 MARET cut head / TAM parry 5 ! steel", &[("B205", 1)]),
    ("1 OSK disarm / MARET yield ! fall\n4 MARET cut head / OSK parry 5 ! steel", &[("B205", 2)]),
    ("1 OSK disarm / MARET yield ! fall\n4 MARET pick-up\n7 MARET cut head / OSK parry 5 ! steel", &[]),
    ("1 OSK disarm / MARET yield ! fall\n4 OSK disarm / MARET yield ! fall", &[("B206", 2)]),
    ("1 OSK disarm / MARET yield ! fall\nphrase \"Two\"\n3 MARET salute", &[("B205", 3)]),
    ("1 MARET walk 0,2 by 4\n3 MARET walk 1,2 by 6", &[("B207", 2)]),
    ("1 MARET walk 0,2 by 4\n4 MARET walk 1,2 by 6\n4 MARET cut head / OSK parry 5 ! steel", &[]),
    ("1 MARET fall\n4 MARET walk 1,2 by 6", &[("B208", 2)]),
];

const TIMES: &[Row] = &[
    // A cut needs 0.5 s, so 0.55 s to be safe; a parry needs 0.3 s and a reaction of 0.14 s, 0.22 s to be safe.
    (
        "tempo 120\n1 MARET cut head / OSK parry 5 ! steel\n2 MARET cut head / OSK parry 5 ! steel",
        &[("T302", 3), ("T302", 3)],
    ),
    (
        "tempo 130\n1 MARET cut head / OSK parry 5 ! steel\n2 MARET cut head / OSK parry 5 ! steel",
        &[("T301", 3), ("T302", 3)],
    ),
    (
        "tempo 150\n1 MARET cut head / OSK parry 5 ! steel\n2 MARET cut head / OSK parry 5 ! steel",
        &[("T301", 3), ("T301", 3)],
    ),
    ("tempo 109\n1 MARET cut head / OSK parry 5 ! steel\n2 MARET cut head / OSK parry 5 ! steel", &[]),
    ("tempo 150\nrepeat 9 every 1 at 1\n1 MARET cut head / OSK parry 5 ! steel\nend", &[("T301", 3), ("T301", 3)]),
    ("tempo 150\n1 MARET cut head / OSK parry 5 ! steel\n3 MARET cut head / OSK parry 5 ! steel", &[]),
    (
        "tempo 60 -> 150 from 1 to 9\n1 MARET cut head / OSK parry 5 ! steel\n8 MARET guard\n9 MARET cut head / OSK parry 5 ! steel",
        &[("T301", 4)],
    ),
    ("1 MARET guard\n1+1/10 OSK guard", &[]),
];

const HOUSES: &[Row] = &[
    ("tempo 190", &[("H401", 1), ("H404", 1)]),
    ("tempo 180", &[("H404", 1)]),
    ("tempo 179.9", &[]),
    ("tempo 60 -> 181 from 1 to 5", &[("H401", 1), ("H404", 1)]),
    ("1 ! steel +7 dB", &[("H402", 1)]),
    ("1 ! steel 6 dB", &[]),
    ("1 MARET cut head / OSK parry 5", &[("H405", 1)]),
    ("1 MARET cut head / OSK duck", &[]),
];

#[test]
fn answers_are_judged() {
    judge(ANSWERS);
}

#[test]
fn bodies_are_judged() {
    judge(BODIES);
}

#[test]
fn times_are_judged() {
    judge(TIMES);
}

#[test]
fn the_house_is_obeyed() {
    judge(HOUSES);
}

/// Encyclopaedia Britannica, 14th ed., vol. 9, "Fencing": the line each parry closes, for a right-hander, whose right
/// is outside; a left-hander mirrors it. Only the six that all schools share. A shoulder is high, a thigh low.
#[test]
fn a_parry_passes_when_its_line_is_the_attacked_one() {
    let closes = [
        ("2", false, true),
        ("3", true, true),
        ("4", true, false),
        ("6", true, true),
        ("7", false, false),
        ("8", false, true),
    ];
    for (number, high, outside) in closes {
        for (target, target_high) in [("shoulder", true), ("thigh", false)] {
            for (side, right) in [("right", true), ("left", false)] {
                for (attacker, defender, right_handed) in [("OSK", "MARET", true), ("MARET", "OSK", false)] {
                    let line = format!("1 {attacker} cut {target} {side} / {defender} parry {number} ! steel");
                    let fits = high == target_high && outside == (right == right_handed);
                    let found = codes(&checked(&line), &line);
                    assert_eq!(found.is_empty(), fits, "{line}: {found:?}");
                }
            }
        }
    }
}

#[test]
fn the_fastest_safe_tempo_names_the_move_that_limits_it() {
    let checked =
        checked("1 MARET cut head / OSK parry 5 ! steel\n3 OSK guard\n4 MARET cut head / OSK parry 5 ! steel");
    let limit = checked.fastest.phrases[0].limit.clone().unwrap();
    // OSK has one beat, a second at 60, for a reaction of 0.22 s and a parry of 0.3 s: 60 / 0.52 beats a minute.
    assert_eq!((limit.number, limit.beat.as_str(), limit.fighter), (3, "4", FighterId(1)));
    assert!((limit.bpm - 60.0 / 0.52).abs() < 1e-6 && (limit.factor - 1.0 / 0.52).abs() < 1e-9);
    assert_eq!(checked.fastest.factor(), Some(limit.factor));
}

#[test]
fn sounds_of_the_production_are_known() {
    let mut score =
        timeline_scores::score(60.0, vec![timeline_scores::phrase("One", None, vec![timeline_scores::sound(0)])]);
    let mut rules = HouseRules::default();
    let found = |score: &Score, rules: &HouseRules| check(score, &Vocabulary::built_in(), rules).findings.len();
    assert_eq!(found(&score, &rules), 1);
    rules.sounds.insert("drum".into());
    assert_eq!(found(&score, &rules), 0);
    score.phrases.clear();
    assert_eq!(found(&score, &rules), 0);
}

#[test]
fn nobody_replies_to_themselves() {
    let score =
        timeline_scores::score(60.0, vec![timeline_scores::phrase("One", None, vec![timeline_scores::cut(0, 1, 1)])]);
    let findings = check(&score, &Vocabulary::built_in(), &HouseRules::default()).findings;
    assert!(findings.iter().any(|finding| finding.code == "B202" && finding.severity == Severity::Error));
    assert!(findings.iter().all(|finding| finding.code != "B201"));
}

proptest! {
    /// At the fastest safe tempo nobody is short of time, and just above it somebody is.
    #[test]
    fn the_fastest_tempo_is_where_the_findings_begin(score in timeline_scores::any_score()) {
        let checked = check(&score, &Vocabulary::built_in(), &HouseRules::default());
        let clean = !checked.findings.iter().any(|finding| finding.code.starts_with('T'));
        prop_assert_eq!(checked.fastest.factor().is_none_or(|factor| factor >= 1.0), clean);
        if let Some(factor) = checked.fastest.factor() {
            for (scale, safe) in [(factor * 0.9999, true), (factor * 1.0001, false)] {
                let Some(scaled) = scaled(&score, scale) else { continue };
                let findings = check(&scaled, &Vocabulary::built_in(), &HouseRules::default()).findings;
                prop_assert_eq!(findings.iter().all(|finding| !finding.code.starts_with('T')), safe);
            }
        }
    }

    #[test]
    fn each_phrase_is_limited_by_its_slowest_move(score in timeline_scores::any_score()) {
        let fastest = check(&score, &Vocabulary::built_in(), &HouseRules::default()).fastest;
        prop_assert_eq!(fastest.phrases.len(), score.phrases.len());
        for phrase in &fastest.phrases {
            let own = fastest.moves.iter().filter(|limit| limit.phrase == phrase.phrase);
            let slowest = own.map(|limit| limit.factor).min_by(f64::total_cmp);
            prop_assert_eq!(phrase.limit.as_ref().map(|limit| limit.factor), slowest);
        }
    }
}

fn judge(rows: &[Row]) {
    for (lines, expected) in rows {
        assert_eq!(codes(&checked(lines), lines), *expected, "{lines}");
    }
}

fn checked(lines: &str) -> Checked {
    let text = format!("{HEAD}{lines}\n");
    let vocabulary = Vocabulary::built_in();
    let reading = read(&text, "little.fight", &vocabulary);
    let score = reading.score.unwrap_or_else(|| panic!("{lines}\n{:?}", reading.problems));
    check(&score, &vocabulary, &HouseRules::default())
}

fn codes(checked: &Checked, lines: &str) -> Vec<(&'static str, usize)> {
    let text = format!("{HEAD}{lines}\n");
    let positions = Lines::new(&text);
    let line = |start| positions.position(start).line + 1 - FIRST;
    checked.findings.iter().map(|finding| (finding.code, line(finding.span.start))).collect()
}

/// The same fight with every tempo scaled; nothing when one would leave the range of tempos.
fn scaled(score: &Score, scale: f64) -> Option<Score> {
    let bpm = |tempo: Bpm| Bpm::new(tempo.get() * scale);
    let mut score = score.clone();
    score.tempo = bpm(score.tempo)?;
    for phrase in &mut score.phrases {
        phrase.tempo = match phrase.tempo {
            Some(tempo) => Some(bpm(tempo)?),
            None => None,
        };
        scale_items(&mut phrase.items, &bpm)?;
    }
    Some(score)
}

fn scale_items(items: &mut [Item], bpm: &impl Fn(Bpm) -> Option<Bpm>) -> Option<()> {
    for item in items {
        match item {
            Item::Tempo(TempoChange::Step { to, .. }) => *to = bpm(*to)?,
            Item::Tempo(TempoChange::Ramp { start, end, .. }) => (*start, *end) = (bpm(*start)?, bpm(*end)?),
            Item::Repeat(repeat) => scale_items(&mut repeat.items, bpm)?,
            _ => {}
        }
    }
    Some(())
}
