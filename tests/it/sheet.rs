//! `holdfast sheet`: the printed fight sheet, whole and for one performer.

use std::path::PathBuf;
use std::process::{Command, Output};

use holdfast::check::HouseRules;
use holdfast::review::sheet::{self, Sheet, sheet};
use holdfast::score::model::{Item, Repeat, Score};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;

const DEMO: [&str; 3] = [
    include_str!("../../configs/demo/scores/lantern-bridge.fight"),
    include_str!("../../configs/demo/scores/the-ferrymans-toll.fight"),
    include_str!("../../configs/demo/scores/three-in-the-cellar.fight"),
];

fn made(text: &str, of: Option<&str>) -> Sheet {
    let vocabulary = Vocabulary::built_in();
    sheet(&read(text, "a.fight", &vocabulary), &vocabulary, &HouseRules::default(), of).unwrap()
}

/// The moves of a score as they are written, repeats once: who acts and who answers.
fn written(score: &Score) -> Vec<(usize, Option<usize>)> {
    fn of(items: &[Item], moves: &mut Vec<(usize, Option<usize>)>) {
        for item in items {
            match item {
                Item::Move(it) => moves.push((it.who.0, it.answer.as_ref().map(|answer| answer.who.0))),
                Item::Repeat(Repeat { items, .. }) => of(items, moves),
                _ => {}
            }
        }
    }
    let mut moves = Vec::new();
    score.phrases.iter().for_each(|phrase| of(&phrase.items, &mut moves));
    moves
}

#[test]
fn every_written_move_is_on_the_sheet_and_on_its_performers_sheets_only() {
    for text in DEMO {
        let score = read(text, "a.fight", &Vocabulary::built_in()).score.unwrap();
        let lines = |sheet: &Sheet| sheet.phrases.iter().flat_map(|it| &it.lines).filter(|it| !it.across).count();
        let moves = written(&score);
        assert_eq!(lines(&made(text, None)), moves.len());
        for (at, fighter) in score.fighters.iter().enumerate() {
            let own = moves.iter().filter(|(who, to)| *who == at || *to == Some(at)).count();
            let sheet = made(text, Some(&fighter.name.to_lowercase()));
            assert_eq!((lines(&sheet), sheet.of.as_deref()), (own, Some(fighter.name.as_str())));
            let marked = |it: &&sheet::SheetLine| it.across || it.own != (false, false);
            assert!(sheet.phrases.iter().flat_map(|it| &it.lines).all(|it| marked(&it)));
        }
    }
}

#[test]
fn repeats_are_printed_once_with_every_number_and_findings_stand_at_their_line() {
    let text = "fight \"F\"\ntempo 60\nfighters\n  A rapier right\n  B rapier right\nphrase \"one\"\n  repeat 3 every 4 at 1\n    \
                1 A cut head / B parry 4\n    3 B cut head / A parry 5 ! steel \"<loud>\"\n  end\n  13 A lunge chest / B parry 4\n  13+1/8 B cut head / A parry 5\n";
    let made = made(text, None);
    let phrase = &made.phrases[0];
    assert_eq!(phrase.lines[1].numbers, "1, 3, 5");
    assert!(phrase.lines[0].attack.starts_with("3 times, every 4 beats"), "{:?}", phrase.lines[0]);
    assert!(phrase.lines[1].findings.iter().any(|it| it.starts_with("Error A")), "parry 4 does not close the head");
    assert!(phrase.fastest.is_some() && made.cautions[0].contains("errors"));
    let page = sheet::html(&made);
    assert!(page.contains("&lt;loud&gt;") && !page.contains("<loud>"));
    assert!(sheet::text(&made).contains("B cut head") && sheet::text(&made).contains("“<loud>”"));
}

#[test]
fn the_command_prints_and_refuses_in_a_sentence() {
    let demo = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("configs/demo/scores/lantern-bridge.fight");
    let run = |arguments: &[&str]| -> Output {
        Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("sheet").arg(&demo).args(arguments).output().unwrap()
    };
    let printed = run(&["--for", "ORSINA", "--format", "html"]);
    assert!(
        printed.status.success() && String::from_utf8_lossy(&printed.stdout).contains("The Lantern Bridge: ORSINA")
    );
    let refused = run(&["--for", "NOBODY"]);
    assert_eq!(refused.status.code(), Some(2));
    let said = String::from_utf8_lossy(&refused.stderr);
    assert_eq!(said.trim(), "holdfast: nobody called NOBODY is in The Lantern Bridge; there are TAVISH, ORSINA, WICK");
}

/// A gap after a repeat counts from its last round; a walk that begins while a repeat goes on is read before it.
#[test]
fn gaps_and_walks_around_a_repeat_are_right() {
    let text = "fight \"F\"\ntempo 60\nfighters\n  A rapier right\n  B rapier right\nphrase \"one\"\n  1 A cut head / B parry 5 ! steel\n  \
                repeat 3 every 2 at 2\n    1 A cut head / B parry 5 ! steel\n  end\n  4 B walk 1,2 by 6\n  9 A cut head / B parry 5 ! steel\n";
    let made = made(text, Some("A"));
    let lines = &made.phrases[0].lines;
    let last = lines.iter().rfind(|it| !it.across).unwrap();
    // The last round's cut is on beat 6.
    assert_eq!((last.beat.as_str(), last.after.as_deref()), ("9", Some("+3")));
    let whole = self::made(text, None);
    let at = |what: &str| whole.phrases[0].lines.iter().position(|it| it.attack.contains(what)).unwrap();
    assert!(at("B walks") < at("3 times"), "{:?}", whole.phrases[0].lines);
}

#[test]
fn every_page_says_what_it_belongs_to() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("quay");
    holdfast::production::start(&home).unwrap();
    let score = home.join("scores/first-steps.fight");
    let print = |format: &str| {
        let output = Command::new(env!("CARGO_BIN_EXE_holdfast"))
            .arg("sheet")
            .arg(&score)
            .args(["--format", format])
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let made = made(&std::fs::read_to_string(&score).unwrap(), None);
    let head = format!("quay, First Steps, revision {}, 20", made.revision);
    let (page, text) = (print("html"), print("text"));
    assert!(page.contains(&format!("@bottom-left {{ content: \"{head}")), "{page}");
    assert!(page.contains("counter(page) \" of \" counter(pages)"));
    assert!(text.contains(&head) && text.contains("Judged by the rules and words of quay"), "{text}");
}

#[test]
fn a_pattern_is_printed_where_it_is_used() {
    let text = "fight \"F\"\ntempo 60\nfighters\n  A rapier right\n  B rapier right\npattern \"P\" for X, Y\n  1 X cut head / Y parry 5 ! steel\n\
                phrase \"one\"\n  use \"P\" at 1 by A, B times 2 mirrored\n  use \"P\" at 4 by B, A\n";
    let made = made(text, None);
    let said: Vec<&str> = made.phrases[0].lines.iter().map(|it| it.attack.as_str()).collect();
    assert_eq!(said[0], "\"P\" by A, B, mirrored; 2 times, every 1 beats (beats inside count from 1):");
    assert_eq!((said[1], said[2]), ("A cut head", "end of the pattern"));
    assert!(said[3].starts_with("\"P\" by B, A; beats inside"), "{said:?}");
    assert_eq!(made.phrases[0].lines[1].numbers, "1, 2, 3", "a move of a pattern has the numbers of all its uses");
}

/// On a stage every phrase has a plan of its marks; who only stands by has a sheet of their own, with what passes near them.
#[test]
fn a_sheet_has_the_marks_and_what_passes_near_bystanders() {
    let vocabulary = Vocabulary::built_in();
    let (stage, _) = holdfast::stage::read("area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]", "stage.toml");
    let rules = HouseRules { stage: stage.map(std::sync::Arc::new), ..HouseRules::default() };
    let text = "fight \"F\"\ntempo 60\nfighters\n  MARET rapier right\n  MARO rapier right\nbystanders\n  PELL\n  KEM\nphrase \"one\"\n  \
                place MARET -1.1,3 facing MARO\n  place MARO 1.1,3 facing MARET\n  place PELL -1.1,5.6 facing 180\n  3 MARET slash belly / MARO away ! swish\n  \
                5 PELL walk 0,8 by 9\nphrase \"two\"\n  1 MARET breathe\n";
    let made = |of| sheet(&read(text, "a.fight", &vocabulary), &vocabulary, &rules, of).unwrap();
    let whole = made(None);
    let near = &whole.phrases[0].near;
    assert!(
        near.len() == 1
            && near[0].starts_with("Beat 3: MARET's slash belly passes ")
            && near[0].ends_with("m from PELL, in front"),
        "{near:?}"
    );
    for phrase in &whole.phrases {
        let (svg, key) = phrase.plan.as_ref().unwrap();
        // As many letters as tell them apart; nobody who has no mark.
        assert_eq!(key, "1 MARET, 2 MARO, P PELL");
        assert_eq!(svg.matches("<circle").count(), 3, "{svg}");
    }
    let own = made(Some("pell"));
    assert_eq!((own.of.as_deref(), own.phrases[0].near.len()), (Some("PELL"), 1));
    assert!(own.phrases[0].lines.iter().all(|it| it.attack.contains("PELL walks")), "{:?}", own.phrases[0].lines);
    assert!(made(Some("KEM")).phrases[0].near.is_empty() && made(Some("MARET")).phrases[0].near.is_empty());
    let page = sheet::html(&whole);
    assert!(page.contains("Passing near") && page.matches("<figure class=\"marks\"").count() == 2);
    assert!(self::made(text, None).phrases[0].plan.is_none(), "without a stage there is no plan");
}
