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
    assert_eq!(said.trim(), "holdfast: nobody called NOBODY fights in The Lantern Bridge; there are TAVISH, ORSINA");
}
