//! Patterns: a use is the moves written out, in time, in findings and in what a phone is told; a mirror in a mirror is the
//! pattern; roles that are swapped swap what is found.

use std::fmt::Write;

use holdfast::check::{HouseRules, check};
use holdfast::score::model::{Item, Move, Score};
use holdfast::score::problem::Problem;
use holdfast::score::vocabulary::{ReplyArgument, Vocabulary};
use holdfast::score::{format, read, words};
use holdfast::timeline::{PhraseRange, Plan, listing};
use holdfast::units::Speed;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

const HEAD: &str =
    "fight \"Little\"\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier right\n  WREN dagger left\n";

fn sound(text: &str) -> Score {
    let reading = read(text, "a.fight", &Vocabulary::built_in());
    reading.score.unwrap_or_else(|| panic!("{text}\n{:?}", reading.problems))
}

/// The timeline as `holdfast timeline --format json` prints it.
fn timeline(score: &Score) -> String {
    let plan = Plan::new(score, PhraseRange::whole(score).unwrap(), Speed::FULL, 0);
    serde_json::to_string_pretty(&listing::rows(score, &plan)).unwrap()
}

/// What is found, but for where.
fn found(score: &Score) -> Vec<(&'static str, String)> {
    let findings = check(score, &Vocabulary::built_in(), &HouseRules::default()).findings;
    let mut said: Vec<_> = findings.into_iter().map(|Problem { code, message, .. }| (code, message)).collect();
    said.sort();
    said
}

/// The codes of what is wrong with a text.
fn codes(text: &str) -> Vec<&'static str> {
    read(text, "a.fight", &Vocabulary::built_in()).problems.iter().map(|it| it.code).collect()
}

fn moves(items: &[Item]) -> Vec<&Move> {
    let mut found = Vec::new();
    for item in items {
        match item {
            Item::Move(it) => found.push(it),
            Item::Repeat(repeat) => found.extend(moves(&repeat.items)),
            _ => {}
        }
    }
    found
}

/// The half-lines of a score's first phrase, each move once.
fn halves(score: &Score) -> Vec<(String, Option<String>)> {
    moves(&score.phrases[0].items)
        .iter()
        .map(|it| (words::action(it).to_string(), it.answer.as_ref().map(|answer| words::reply(answer).to_string())))
        .collect()
}

/// Any action and reply of the vocabulary, said by the roles A and B.
fn a_move() -> impl Strategy<Value = String> {
    let vocabulary = Vocabulary::built_in();
    let mut actions = Vec::new();
    for (word, action) in vocabulary.actions.iter().filter(|(word, _)| *word != "walk") {
        if !action.target_needed {
            actions.push(word.clone());
        }
        for target in &action.targets {
            actions.push(format!("{word} {target}"));
            if vocabulary.targets[target].sided {
                actions.extend(["left", "right"].map(|side| format!("{word} {target} {side}")));
            }
        }
    }
    let mut replies = vec![String::new()];
    for (word, reply) in &vocabulary.replies {
        match reply.kind.argument() {
            ReplyArgument::None => replies.push(format!("/ B {word}")),
            ReplyArgument::Parry => replies.extend(vocabulary.parries.keys().map(|it| format!("/ B {word} {it}"))),
            ReplyArgument::Target => replies.push(format!("/ B {word} flank left")),
        }
    }
    (select(actions), select(replies), any::<bool>(), select(vec!["", " ! steel", " \"now\""])).prop_map(
        |(action, reply, back, rest)| {
            let line = format!("A {action} {reply}{rest}");
            if back { line.replace("A ", "C ").replace("B ", "A ").replace("C ", "B ") } else { line }
        },
    )
}

/// The lines of a pattern for A and B, with a walk and perhaps a repeat.
fn body() -> impl Strategy<Value = Vec<String>> {
    let beat = (1u32..9, select(vec!["", "+1/2", "+1/3"])).prop_map(|(beat, part)| format!("{beat}{part}"));
    let line = (beat, a_move()).prop_map(|(at, line)| format!("{at} {line}"));
    (vec(line, 1..6), any::<bool>(), any::<bool>(), a_move()).prop_map(|(mut lines, walk, repeat, inner)| {
        if walk {
            lines.push("2 A walk 0.5,1 by 4+1/2".into());
        }
        if repeat {
            lines.extend(["repeat 2 every 3 at 2".into(), format!("1+1/2 {inner}"), "end".into()]);
        }
        lines
    })
}

/// Lines with people for roles.
fn by(lines: &[String], a: &str, b: &str) -> String {
    let line = |line: &String| {
        let said: Vec<&str> = line
            .split(' ')
            .map(|word| {
                if word == "A" {
                    a
                } else if word == "B" {
                    b
                } else {
                    word
                }
            })
            .collect();
        format!("  {}\n", said.join(" "))
    };
    lines.iter().map(line).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A use equals the moves written out: byte for byte in time, and in findings but for their places.
    #[test]
    fn a_use_is_the_moves_written_out(lines in body(), at in 1u32..5, times in 1u32..4) {
        let pattern = format!("pattern \"P\" for A, B every 12\n{}", by(&lines, "A", "B"));
        let used = format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at {at} by MARET, OSK times {times}\n");
        let out = format!("{HEAD}phrase \"One\"\n  repeat {times} every 12 at {at}\n{}  end\n", by(&lines, "MARET", "OSK"));
        let (used, out) = (sound(&used), sound(&out));
        prop_assert_eq!(timeline(&used), timeline(&out));
        prop_assert_eq!(found(&used), found(&out));
        // Written flat, a single round is the same again, when the round ends with its last beat.
        let flat = format!("{HEAD}phrase \"One\"\n{}", by(&lines, "MARET", "OSK"));
        let open = format!("{HEAD}{}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK\n", pattern.replace(" every 12", ""));
        prop_assert_eq!(timeline(&sound(&open)), timeline(&sound(&flat)));
    }

    /// Mirroring what was mirrored gives the pattern back; so does the other height of the other height, where there is one.
    #[test]
    fn a_mirror_in_a_mirror_is_the_pattern(lines in body(), other in select(vec!["mirrored", "other-height"])) {
        let once = |lines: &str, how: &str| {
            let text = format!("{HEAD}pattern \"P\" for MARET, OSK every 12\n{lines}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK {how}\n");
            read(text, "a.fight", &Vocabulary::built_in()).score
        };
        let lines = by(&lines, "MARET", "OSK");
        let plain = once(&lines, "").unwrap();
        // Some words have no other height: then there is no such use.
        let Some(changed) = once(&lines, other) else { return Ok(()) };
        let mut out = String::new();
        for it in moves(&changed.phrases[0].items) {
            let name = |at: usize| changed.fighters[at].name.as_str();
            write!(out, "  1 {} {}", name(it.who.0), words::action(it)).unwrap();
            if let Some(answer) = &it.answer {
                write!(out, " / {} {}", name(answer.who.0), words::reply(answer)).unwrap();
            }
            out.push('\n');
        }
        if other == "mirrored" || !lines.contains("take") {
            prop_assert_eq!(halves(&once(&out, other).unwrap()), halves(&plain), "{}", out);
        }
    }

    /// For two bodies alike, swapped roles swap what is found.
    #[test]
    fn swapped_roles_swap_what_is_found(lines in body()) {
        let text = |how: &str| format!(
            "{HEAD}pattern \"P\" for A, B every 12\n{}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK{how}\n",
            by(&lines, "A", "B")
        );
        let swap = |text: String| text.replace("MARET", "\u{1}").replace("OSK", "MARET").replace('\u{1}', "OSK");
        let mut swapped: Vec<_> = found(&sound(&text(" swapped"))).into_iter().map(|(code, it)| (code, swap(it))).collect();
        swapped.sort();
        prop_assert_eq!(swapped, found(&sound(&text(""))));
    }

    /// A use in a pattern is the same use in the phrase, changed twice: a mirror in a mirror is none, and so are roles that are
    /// swapped twice.
    #[test]
    fn a_use_in_a_pattern_is_a_use_that_is_changed_twice(
        lines in body(), times in 1u32..3, mirrors in any::<(bool, bool)>(), swaps in any::<(bool, bool)>(),
    ) {
        let how = |mirrored: bool, swapped: bool| {
            format!("{}{}", if mirrored { " mirrored" } else { "" }, if swapped { " swapped" } else { "" })
        };
        let inner = format!("pattern \"In\" for A, B every 12\n{}", by(&lines, "A", "B"));
        let nested = format!(
            "{HEAD}pattern \"Out\" for C, D\n  use \"In\" at 2 by C, D times {times}{}\n{inner}phrase \"One\"\n  use \"Out\" at 3 by MARET, OSK times 2{}\n",
            how(mirrors.0, swaps.0), how(mirrors.1, swaps.1)
        );
        // Without a length of its own a round of the outer one ends with the inner one's last.
        let every = 1 + 12 * times;
        let flat = format!(
            "{HEAD}{inner}phrase \"One\"\n  repeat 2 every {every} at 3\n  use \"In\" at 2 by MARET, OSK times {times}{}\n  end\n",
            how(mirrors.0 != mirrors.1, swaps.0 != swaps.1)
        );
        let (nested, flat) = (sound(&nested), sound(&flat));
        prop_assert_eq!(timeline(&nested), timeline(&flat));
        prop_assert_eq!(found(&nested), found(&flat));
    }

    /// Patterns and uses survive `fmt`.
    #[test]
    fn formatting_keeps_patterns(lines in body(), mirrored in any::<bool>(), swapped in any::<bool>(), turn in 0i32..360) {
        let mut how = String::new();
        if mirrored { how += " mirrored"; }
        if swapped { how += "  swapped"; }
        let text = format!(
            "{HEAD}# square\npattern \"P\"  for A , B with GUARD every 12\n{}1 A cut head / B parry GUARD\nstage \"on\"\ntravel 0.5 , 0\nturn 4\nphrase \"One\"\nuse P at 2 by MARET,OSK with 5 times 2{how} stage on about 1,2 turned {turn}\n",
            by(&lines, "A", "B")
        );
        let formatted = format(&text).unwrap();
        prop_assert_eq!(&format(&formatted).unwrap(), &formatted);
        prop_assert_eq!(timeline(&sound(&text)), timeline(&sound(&formatted)));
    }
}

const SQUARE: &str = "pattern \"Square\" for A, B\n  1 A cut head / B parry 5 ! steel\n  2 A cut flank right / B parry 3 ! steel\n  3 B thrust chest / A parry 4 ! steel\n  4 B slash feet / A jump ! swish\n";

#[test]
fn a_mirrored_pattern_closes_what_it_attacks() {
    let score = sound(&format!("{HEAD}{SQUARE}phrase \"One\"\n  use \"Square\" at 1 by MARET, OSK mirrored\n"));
    let said: Vec<String> = halves(&score).into_iter().map(|(a, r)| format!("{a} / {}", r.unwrap())).collect();
    assert_eq!(said, ["cut head / parry 5", "cut flank left / parry 5", "thrust chest / parry 6", "slash feet / jump"]);
    assert_eq!(found(&score), []);
}

/// In a mirror the other side of the stage is hidden; up and down stage stay, and so does all of it when the pattern is turned.
#[test]
fn a_mirror_hides_on_the_other_side() {
    let hidden = |side: &str, how: &str| {
        let pattern = format!("pattern \"P\" for A, B\n  1 A thrust flank left hidden {side} / B take flank left\n");
        let score = sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK {how}\n"));
        moves(&score.phrases[0].items)[0].action.clone()
            + " "
            + moves(&score.phrases[0].items)[0].manner.hidden.unwrap().word()
    };
    assert_eq!(hidden("stage-left", "mirrored"), "thrust stage-right");
    assert_eq!(hidden("stage-right", "mirrored"), "thrust stage-left");
    assert_eq!(hidden("upstage", "mirrored"), "thrust upstage");
    assert_eq!(hidden("stage-left", "turned 90"), "thrust stage-left");
}

#[test]
fn a_left_hander_mirrors_by_their_own_hand() {
    let pattern = "pattern \"P\" for A, B\n  1 A cut shoulder left / B parry 3\n";
    let score = sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, WREN mirrored\n"));
    assert_eq!(halves(&score), [("cut shoulder right".to_owned(), Some("parry 5".to_owned()))]);
    assert!(found(&score).iter().all(|(code, _)| *code != "A104"));
}

#[test]
fn at_another_height_the_head_is_the_feet() {
    let pattern =
        "pattern \"P\" for A, B\n  1 A slash head / B duck ! swish\n  2 A cut shoulder right / B parry 3 ! steel\n";
    let score = sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK other-height\n"));
    let said = halves(&score);
    assert_eq!(said[0], ("slash feet".to_owned(), Some("jump".to_owned())));
    assert_eq!(said[1], ("cut hip right".to_owned(), Some("parry 2".to_owned())));
}

#[test]
fn rounds_travel_and_turn_exactly() {
    let pattern =
        "pattern \"P\" for A, B every 4\n  1 A walk 1,0 by 3\n  1 B walk 0,1 by 3\n  travel 0.5,0\n  turn 90\n";
    let score = sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK times 3 about 2,3\n"));
    let plan = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
    let marks: Vec<(i64, f64, f64)> =
        plan.walks().iter().map(|it| (it.at.0 / 960, it.course.to.x.0, it.course.to.y.0)).collect();
    // Round by round a quarter with the clock, and half a metre further to audience right.
    assert_eq!(marks, [(0, 3.0, 3.0), (0, 2.0, 4.0), (4, 2.5, 2.0), (4, 3.5, 3.0), (8, 2.0, 3.0), (8, 3.0, 2.0)]);
    let mirrored =
        sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK times 2 mirrored turned 180\n"));
    let plan = Plan::new(&mirrored, PhraseRange::whole(&mirrored).unwrap(), Speed::FULL, 0);
    let marks: Vec<(f64, f64)> = plan.walks().iter().map(|it| (it.course.to.x.0, it.course.to.y.0)).collect();
    assert_eq!(marks, [(1.0, 0.0), (0.0, -1.0), (0.5, 1.0), (1.5, 0.0)]);
}

/// A way keeps its length wherever it lies: only turned, and in a mirror the other way round.
#[test]
fn walks_go_further_and_along_circles() {
    let pattern = "pattern P for A, B every 4\n  1 A walk further 1,0 by 3 around 0,1 clockwise\n  1 B walk 2,0 by 3 around 0,0\n";
    let score = sound(&format!(
        "{HEAD}{pattern}phrase \"One\"\n  use P at 1 by MARET, OSK times 2 about 5,5 turned 90 mirrored\n"
    ));
    assert_eq!(timeline(&score).matches("\"way\": \"anticlockwise\"").count(), 2, "each round");
    let plan = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
    let said: Vec<String> =
        plan.walks().iter().map(|it| words::course(&it.course, |it| format!("{},{}", it.x.0, it.y.0))).collect();
    // In the mirror 1,0 is -1,0; a quarter with the clock brings it upstage, and upstage to audience right.
    let each = ["0,1 further anticlockwise around 1,0 from there", "to 5,7 around 5,5"];
    assert_eq!(said, [each, each].concat());
    let text = holdfast::timeline::text::page("Little", &plan, &listing::rows(&score, &plan));
    assert!(text.contains("MARET walks 0,1 further anticlockwise around 1,0 from there by beat 3"), "{text}");
    assert_eq!(codes(&format!("{HEAD}phrase \"One\"\n  1 MARET walk 1,2 by 3 around 1,2\n")), ["S318"]);
    assert_eq!(codes(&format!("{HEAD}phrase \"One\"\n  1 MARET walk 1,2 by 3 around 1,1 sideways\n")), ["S106"]);
}

/// The inner walk to 1,0 is first laid about 0,2 and turned a quarter, then all of it is mirrored about 5,5.
#[test]
fn a_floor_in_a_floor_is_laid_out_from_the_inside() {
    let patterns = "pattern \"In\" for A, B with TO\n  1 A cut TO / B parry 5 ! steel\n  2 A walk 1,0 by 3\npattern \"Out\" for C, D with TO\n  use \"In\" at 1 by D, C with TO about 0,2 turned 90\n";
    let score = sound(&format!(
        "{HEAD}{patterns}phrase \"One\"\n  use \"Out\" at 1 by MARET, OSK with head about 5,5 mirrored\n"
    ));
    let plan = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
    let marks: Vec<(f64, f64)> = plan.walks().iter().map(|it| (it.course.to.x.0, it.course.to.y.0)).collect();
    assert_eq!(marks, [(5.0, 6.0)]);
    assert_eq!(halves(&score), [("cut head".to_owned(), Some("parry 5".to_owned()))]);
    let Item::Repeat(outer) = &score.phrases[0].items[0] else { panic!() };
    let Item::Repeat(inner) = &outer.items[0] else { panic!() };
    let said = |it: &holdfast::score::model::Repeat| it.used.as_ref().unwrap().words.clone();
    assert_eq!((said(outer), said(inner)), ("\"Out\" by MARET, OSK, mirrored".into(), "\"In\" by OSK, MARET".into()));
}

/// Patterns that use each other twice each are sixteen million lines after 24: said so, at once.
#[test]
fn patterns_that_grow_without_end_are_refused() {
    let mut text = HEAD.to_owned();
    for number in 0..24 {
        let next = number + 1;
        let used = format!("  use \"P{next}\" at 1 by A, B\n");
        write!(text, "pattern \"P{number}\" for A, B every 1\n{used}{used}").unwrap();
    }
    text += "pattern \"P24\" for A, B every 1\n  1 A guard\nphrase \"One\"\n  use \"P0\" at 1 by MARET, OSK\n";
    let found = codes(&text);
    assert!(found.iter().all(|code| matches!(*code, "S311" | "S113")) && !found.is_empty(), "{found:?}");
    let mut chain = HEAD.to_owned();
    for number in 0..40_000 {
        write!(chain, "pattern P{number} for A, B\n  use P{} at 1 by A, B\n", number + 1).unwrap();
    }
    chain += "phrase \"One\"\n  use P0 at 1 by MARET, OSK\n";
    assert!(codes(&chain).contains(&"S113"));
}

#[test]
fn a_pattern_is_taught_in_stages() {
    let pattern = "pattern \"P\" for A, B every 4\n  1 A cut head / B parry 5 ! steel\n  stage \"in place\"\n  2 B cut head / A parry 5 ! steel\n  stage \"travelling\"\n  3 A advance\n  travel 1,0\n";
    let count = |how: &str| {
        moves(&sound(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK{how}\n")).phrases[0].items)
            .len()
    };
    assert_eq!((count(" stage \"in place\""), count(" stage travelling"), count("")), (2, 3, 3));
    assert_eq!(
        codes(&format!("{HEAD}{pattern}phrase \"One\"\n  use \"P\" at 1 by MARET, OSK stage flying\n")),
        ["S231"]
    );
}

/// A finding in a pattern stands at its line there and points to every use in which it is made.
#[test]
fn findings_are_shown_in_the_pattern_and_at_the_use() {
    let text = format!(
        "{HEAD}pattern \"P\" for A, B\n  1 A cut flank right / B parry 4 ! steel\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK\n  use \"P\" at 5 by MARET, OSK\n  use \"P\" at 9 by OSK, MARET\n"
    );
    let findings = check(&sound(&text), &Vocabulary::built_in(), &HouseRules::default()).findings;
    let line = |at: usize| text[..at].lines().count();
    let said: Vec<(usize, Vec<usize>)> = findings
        .iter()
        .map(|it| (line(it.span.start), it.related.iter().map(|it| line(it.0.start)).collect()))
        .collect();
    assert_eq!(said, [(8, vec![10, 11]), (8, vec![12])], "{findings:?}");
}

#[test]
fn what_is_wrong_with_patterns_is_said_where_it_stands() {
    let rows = [
        ("phrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S225"),
        ("pattern \"P\" for A, B\n  1 A cut head / C parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S227"),
        ("pattern \"P\" for A, B\n  1 A cut head / B parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET", "S227"),
        (
            "pattern \"P\" for A, B\n  1 A cut head / B parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET, MARET",
            "S229",
        ),
        (
            "pattern \"P\" for A, B with X\n  1 A cut X / B parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK",
            "S227",
        ),
        (
            "pattern \"P\" for A, B with X\n  1 A cut X / B parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK with hed",
            "S211",
        ),
        (
            "pattern \"P\" for A, B\n  1 A cut hed / B parry 5\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK\n  use \"P\" at 4 by MARET, OSK",
            "S211",
        ),
        ("pattern \"P\" for A, B\n  tempo 60\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S226"),
        ("pattern \"P\" for A, B\n  1 A cut head / B parry 5\nphrase \"One\"\n  rest 2", "S230"),
        (
            "pattern \"P\" for A, B\n  1 A kick face / B duck\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK other-height",
            "S228",
        ),
        ("pattern \"P\" for A, B\npattern \"P\" for A, B\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S229"),
        ("pattern \"P\" for A, B every 0\n  1 A guard\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S307"),
        ("pattern P for A, B\n  use P at 1 by A, B\n  1 A guard\nphrase \"One\"\n  use P at 1 by MARET, OSK", "S232"),
        (
            "pattern P for A, B\n  use Q at 1 by A, B\npattern Q for A, B\n  1 A guard\n  use P at 2 by A, B\nphrase \"One\"\n  use Q at 1 by MARET, OSK",
            "S232",
        ),
        (
            "pattern P for A, B\n  1 A guard\npattern Q for A, B\n  use P at 2 by A, MARET\nphrase \"One\"\n  use Q at 1 by MARET, OSK",
            "S227",
        ),
        ("pattern \"P\" for A, B every 2\n  5 A guard\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK", "S302"),
        ("pattern \"P\" for A, B\n  1 A guard\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK times 0", "S306"),
        ("pattern \"P\" for A, B\n  1 A guard\nphrase \"One\"\n  use \"P\" at 1 by MARET, OSK times 200000", "S311"),
    ];
    for (lines, code) in rows {
        assert_eq!(codes(&format!("{HEAD}{lines}\n")), [code], "{lines}");
    }
}
