//! The sets of a stage are begun, named and given their fights in a text that people annotate: whatever is done in whatever order,
//! the text is read as what was done, everything else of it stays, and so does every note.

use std::collections::{BTreeMap, BTreeSet};

use holdfast::stage::{NotWritten, SetEdit, StagePlan, Thing, own_things, read, set_edited};
use proptest::prelude::*;

/// Notes are marked, so that they are found again wherever they stand.
const NOTED: &str = "# ~1~\narea = [[-6, 0], [6, 0], [6, 9], [-6, 9]] # ~2~\n\n[people.ALDER] # ~3~\nstature = 1.82\n\n# ~4~\n[sets] # ~5~\n\n# ~6~\n\
    [sets.cellar] # ~7~\nfights = [ # ~8~\n  \"The Quay\", # ~9~\n  # ~10~\n  \"The Stair: Below\" # ~11~\n] # ~12~\n\n[sets.cellar.pieces.barrel] # ~13~\n\
    outline = [[3, 5], [3.8, 5], [3.8, 5.8], [3, 5.8]]\nheight = 0.9\n\n# ~14~\n[sets.roof]\nfights = [\"The Stair\"] # ~15~\n# ~16~\n";
/// The sets in one line, and as keys with dots.
const INLINE: &str = "area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]\nsets = { cellar = { fights = [\"The Quay\"] }, roof = {} } # ~1~\n\
    # ~2~\n[people.ALDER]\nstature = 1.82 # ~3~\n";
const DOTTED: &str = "area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]\n# ~1~\nsets.cellar.fights = [\"The Quay\",] # ~2~\n\
    sets.cellar.wings.in = { outline = [[6, 0], [8, 0], [8, 9]] } # ~3~\n";
const NEW: &str = include_str!("../../configs/new/stage.toml");

const NAMES: [&str; 6] = ["cellar", "roof", "Der Keller", "a[.]b \"c\"", "🗡 # sea", "  "];
const FIGHTS: [&str; 6] = ["The Quay", "The Stair", "The Stair: Below", "Sie sagt: \"Nein\"", "Nr. #2 \\ 'x'", " "];

fn plan(text: &str) -> StagePlan {
    let (plan, problems) = read(text, "stage.toml");
    assert_eq!(problems, [], "{text}");
    plan.unwrap()
}

/// What a set is: its fights, and what stands on it.
type Known = BTreeMap<String, (BTreeSet<String>, Vec<Thing>)>;

fn known(plan: &StagePlan) -> Known {
    let of = |set: &holdfast::stage::StageSet| {
        (set.name.clone(), (set.fights.iter().cloned().collect(), own_things(plan, Some(&set.name))))
    };
    plan.sets.iter().map(of).collect()
}

/// The same change of what is known; false where it is refused.
fn done(known: &mut Known, edit: &SetEdit) -> bool {
    let free = |known: &Known, fight: &str| known.values().all(|(fights, _)| !fights.contains(fight));
    let sound = |name: &str| !name.trim().is_empty();
    match edit {
        SetEdit::Begin { set, fights } => {
            let sound = sound(set) && fights.iter().all(|it| sound(it) && free(known, it));
            let may = sound && !known.contains_key(set);
            if may {
                known.insert(set.clone(), (fights.iter().cloned().collect(), Vec::new()));
            }
            may
        }
        SetEdit::Rename { set, to } => {
            let may = known.contains_key(set) && (set == to || sound(to) && !known.contains_key(to));
            if let Some(own) = known.remove(set).filter(|_| may) {
                known.insert(to.clone(), own);
            }
            may
        }
        SetEdit::Add { set, fight } => {
            let others = known.iter().filter(|(name, _)| *name != set);
            let elsewhere = others.into_iter().any(|(_, (fights, _))| fights.contains(fight));
            let Some((fights, _)) = known.get_mut(set).filter(|_| sound(fight) && !elsewhere) else { return false };
            fights.insert(fight.clone());
            true
        }
        SetEdit::Remove { set, fight } => known.get_mut(set).map(|(fights, _)| fights.remove(fight)).is_some(),
        SetEdit::TakeAway { set } => known.remove(set).is_some(),
    }
}

fn edits() -> impl Strategy<Value = SetEdit> {
    let name = || prop::sample::select(NAMES.to_vec()).prop_map(str::to_owned);
    let fight = || prop::sample::select(FIGHTS.to_vec()).prop_map(str::to_owned);
    prop_oneof![
        3 => (name(), prop::collection::vec(fight(), 0..3)).prop_map(|(set, fights)| SetEdit::Begin { set, fights }),
        2 => (name(), name()).prop_map(|(set, to)| SetEdit::Rename { set, to }),
        3 => (name(), fight()).prop_map(|(set, fight)| SetEdit::Add { set, fight }),
        3 => (name(), fight()).prop_map(|(set, fight)| SetEdit::Remove { set, fight }),
        1 => name().prop_map(|set| SetEdit::TakeAway { set }),
    ]
}

fn notes(text: &str) -> BTreeSet<&str> {
    text.split('~').skip(1).step_by(2).collect()
}

proptest! {
    #[test]
    fn what_was_done_to_the_sets_is_what_is_read(
        text in prop::sample::select(vec![NOTED, INLINE, DOTTED, NEW]),
        edits in prop::collection::vec(edits(), 1..10),
    ) {
        let mut text = text.to_owned();
        let mut model = known(&plan(&text));
        for edit in &edits {
            let before = plan(&text);
            let mut wanted = model.clone();
            let may = done(&mut wanted, edit);
            let written = set_edited(&text, edit);
            prop_assert_eq!(written.is_ok(), may, "{:?}\n{}\n{:?}", edit, text, written);
            let Ok(written) = written else { continue };
            let after = plan(&written);
            prop_assert_eq!(known(&after), wanted.clone(), "{:?}\n{}\n{}", edit, text, written);
            prop_assert_eq!((&after.bare, &after.people, after.least), (&before.bare, &before.people, before.least));
            if matches!(edit, SetEdit::TakeAway { .. }) {
                prop_assert!(notes(&written).is_subset(&notes(&text)));
            } else {
                prop_assert_eq!(notes(&written), notes(&text), "{:?}\n{}\n{}", edit, text, written);
            }
            if wanted == model {
                prop_assert_eq!(&written, &text, "nothing is another");
            }
            // What was done is there: a finger that bounced does it once.
            if matches!(edit, SetEdit::Add { .. } | SetEdit::Remove { .. }) {
                prop_assert_eq!(set_edited(&written, edit), Ok(written.clone()));
            }
            (text, model) = (written, wanted);
        }
    }
}

#[test]
fn a_note_beside_a_fight_stays_beside_it() {
    let more = SetEdit::Add { set: "cellar".to_owned(), fight: "The Roof".to_owned() };
    let written = set_edited(NOTED, &more).unwrap();
    let wanted = "  \"The Quay\", # ~9~\n  # ~10~\n  \"The Stair: Below\", # ~11~\n  \"The Roof\"\n] # ~12~";
    assert!(written.contains(wanted), "{written}");
    let listed = "area = [[0, 0], [5, 0], [5, 5]]\n[sets.a]\nfights = [\n    \"One\",\n    \"Two\", # the second\n]\n";
    let more = SetEdit::Add { set: "a".to_owned(), fight: "Three".to_owned() };
    let written = set_edited(listed, &more).unwrap();
    assert!(written.ends_with("    \"Two\", # the second\n    \"Three\",\n]\n"), "{written}");
    let fewer = SetEdit::Remove { set: "a".to_owned(), fight: "Three".to_owned() };
    assert_eq!(set_edited(&written, &fewer).unwrap(), listed);
}

#[test]
fn what_cannot_be_done_is_said() {
    let on_two = SetEdit::Add { set: "roof".to_owned(), fight: "The Quay".to_owned() };
    let why = set_edited(NOTED, &on_two).unwrap_err().to_string();
    assert_eq!(why, "“The Quay” is on the set “cellar” already. Take it from there first.");
    let gone = SetEdit::Add { set: "attic".to_owned(), fight: "The Roof".to_owned() };
    assert_eq!(set_edited(NOTED, &gone), Err(NotWritten::Gone("attic".to_owned())));
    let taken = SetEdit::Rename { set: "roof".to_owned(), to: "cellar".to_owned() };
    assert!(matches!(set_edited(NOTED, &taken), Err(NotWritten::Name(_))));
    let begin = SetEdit::Begin { set: "attic".to_owned(), fights: Vec::new() };
    assert_eq!(set_edited("area = [[", &begin), Err(NotWritten::NoToml));
    assert_eq!(set_edited("sets = 3\n", &begin), Err(NotWritten::Other("sets".to_owned())));
    let twice = NOTED.replace("[\"The Stair\"]", "[\"The Stair\", \"The Quay\"]");
    let (plan, problems) = read(&twice, "stage.toml");
    assert!(plan.is_some());
    let [problem] = problems.as_slice() else { panic!("{problems:?}") };
    assert_eq!(problem.line, 24, "{problem}");
    assert!(problem.to_string().contains("“The Quay”, which is on the set “cellar” already"), "{problem}");
}
