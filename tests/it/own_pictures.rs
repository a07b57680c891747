//! A company's own drawings of words: shown in place of what is computed, kept with the words of a run, and each that cannot be
//! shown told with what to do, while everything else is in use.

use std::fs;
use std::path::Path;

use data_encoding::BASE64;
use holdfast::call::{Fight, Role};
use holdfast::figure::View;
use holdfast::production::{Production, start};
use holdfast::score::vocabulary::Vocabulary;
use holdfast::server::replay::replay;
use holdfast::wire::Stage;

use crate::support::house::House;

const THROW: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"><path d=\"M1 1L8 8\"/></svg>\n";
const SWAY: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"><path d=\"M1 8L8 1\"/></svg>\n";
const WORDS: &str = "[actions.cut]\npicture = \"throw.svg\"\npicture_words = \"our <cut>, from the shoulder\"\n[replies.parry]\npicture = \"sway.svg\"\n";
const SCORE: &str = "fight \"Drawn\"\ntempo 60\nfighters\n  ALDER rapier right\n  BIRCH rapier right\nphrase \"One\"\n  1 ALDER cut head / BIRCH parry 5\n  3 BIRCH thrust belly / ALDER parry 4\n  5 ALDER thrust belly / BIRCH away\n";

fn production(dir: &Path) {
    start(dir).unwrap();
    fs::remove_file(dir.join("scores/first-steps.fight")).unwrap();
    fs::write(dir.join("scores/drawn.fight"), SCORE).unwrap();
    fs::write(dir.join("vocabulary.toml"), WORDS).unwrap();
    fs::create_dir(dir.join("pictures")).unwrap();
    fs::write(dir.join("pictures/throw.svg"), THROW).unwrap();
    fs::write(dir.join("pictures/sway.svg"), SWAY).unwrap();
}

/// Every picture of a fight in order, the words and the drawing in it, where it is the company's.
fn shown(fight: &Fight) -> Vec<(String, Option<String>)> {
    let own = |svg: &str| {
        let (_, data) = svg.split_once("href=\"data:image/svg+xml;base64,")?;
        let data = data.split('"').next()?;
        Some(String::from_utf8(BASE64.decode(data.as_bytes()).unwrap()).unwrap())
    };
    let one = |picture: &holdfast::figure::Picture| {
        let drawn = own(&picture.inline(View::Doer));
        assert_eq!(own(&picture.svg(View::Partner)), drawn, "it is the same from both sides");
        (picture.words(), drawn)
    };
    fight.pictures.all().iter().map(one).collect()
}

#[test]
fn an_actions_own_drawing_is_shown_else_a_replys_else_what_is_computed() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir);
    let production = Production::open(&dir).unwrap();
    assert_eq!(production.unread, Vec::<String>::new());
    let fight = &production.playable()[0];
    let shown = shown(fight);
    assert_eq!(shown[0], ("our <cut>, from the shoulder".to_owned(), Some(THROW.to_owned())));
    assert_eq!(shown[1], ("thrust, answered by parry".to_owned(), Some(SWAY.to_owned())));
    assert_eq!(shown[2].1, None, "what has no drawing of its own is computed");
    assert!(fight.pictures.all()[0].inline(View::Doer).contains("<title>our &lt;cut&gt;, from the shoulder</title>"));
    // The words alone bring the drawings: a journal keeps them.
    let kept = Vocabulary::from_texts(&fight.vocabulary).unwrap();
    assert_eq!(kept.drawings, production.vocabulary.drawings);
    assert_eq!(kept.drawings.len(), 2);
    // Another drawing under the same name is another picture, and so another name of the set.
    fs::write(dir.join("pictures/throw.svg"), SWAY).unwrap();
    assert_ne!(Production::open(&dir).unwrap().playable()[0].pictures.id(), fight.pictures.id());
}

#[test]
fn a_drawing_that_cannot_be_shown_is_told_and_everything_else_is_in_use() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir);
    let told = |dir: &Path| {
        let production = Production::open(dir).unwrap();
        let words = production.playable()[0].pictures.all()[0].words();
        (production.unread, words)
    };
    for (bytes, why) in [
        (&b"GIF89a"[..], "is neither an SVG nor a PNG; save the drawing as one of them"),
        (&vec![b' '; 20_000][..], "has more than 16 KiB; draw it plainer, or make it smaller"),
        (THROW.replace("viewBox", "box").as_bytes(), "has no viewBox in its <svg>"),
    ] {
        fs::write(dir.join("pictures/throw.svg"), bytes).unwrap();
        let (unread, words) = told(&dir);
        let [one] = &unread[..] else { panic!("{unread:?}") };
        assert!(one.starts_with("pictures/throw.svg, the picture of “cut”, ") && one.contains(why), "{one}");
        assert!(one.ends_with("Until then it is drawn from its row."));
        assert_eq!(words, "cut, answered by parry", "the reply has its own");
    }
    fs::remove_dir_all(dir.join("pictures")).unwrap();
    let (unread, words) = told(&dir);
    assert!(unread.len() == 2 && unread.iter().all(|it| it.contains("cannot be read")), "{unread:?}");
    assert!(words.starts_with("cut to the head"), "{words}");
    // A name that leads elsewhere is a slip in the vocabulary, with its line.
    for name in ["../throw.svg", "/etc/throw.svg", ".throw.svg", "throw.gif", "a\\\\throw.svg"] {
        fs::write(dir.join("vocabulary.toml"), WORDS.replace("throw.svg", name)).unwrap();
        let error = Production::open(&dir).unwrap_err().to_string();
        assert!(error.contains("line 2") && error.contains("in the folder pictures"), "{error}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_with_own_drawings_is_replayed_as_it_was_told() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir);
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    desk.call_places(100).await;
    desk.start_anyway().await;
    lotte.until_stage(Stage::Running).await;
    house.stop().await;
    // The files may be gone by then.
    fs::remove_dir_all(dir.join("pictures")).unwrap();
    let starts = replay(&dir.join("data"), None).unwrap();
    assert!(!starts.is_empty());
    for start in starts {
        assert_eq!((&start.differs, &start.failed), (&None, &None));
    }
}
