//! The pictures of a run: every move has the number of its own picture, in the words that the run is written in, and what
//! a page is given under a name is those pictures and no others.

use std::fs;
use std::time::Duration;

use holdfast::call::{Drive, Run, Setup};
use holdfast::figure::{Drawn, Picture};
use holdfast::production::{Production, start_demo};
use holdfast::score::vocabulary::Vocabulary;
use holdfast::timeline::PhraseRange;
use holdfast::units::Speed;
use serde_json::Value;

use crate::server_scores::Desk;

#[test]
fn every_move_of_every_fight_has_its_own_picture() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("stair");
    start_demo(&dir).unwrap();
    let (mut drawn, mut moves) = (0, 0);
    for fight in Production::open(&dir).unwrap().playable() {
        for fight in std::iter::once(&fight).chain(&fight.sets) {
            let words = Vocabulary::from_texts(&fight.vocabulary).unwrap();
            let range = PhraseRange::whole(&fight.score).unwrap();
            let (speed, drive) = (Speed::FULL, Drive::Clock);
            let run = Run::new(1, Setup { fight: fight.clone(), range, begin: None, speed, count_in: 4, drive });
            assert_eq!(run.pictures.len(), run.plan.moves().len());
            for (planned, number) in run.plan.moves().iter().zip(&run.pictures) {
                let own = Picture::of(&words, &Drawn::of_planned(&fight.score, planned));
                let told = number.map(|number| &fight.pictures.all()[number as usize]);
                let seen = |picture: &Picture| (picture.words(), picture.inline(holdfast::figure::View::Partner));
                assert_eq!(told.map(seen), own.as_ref().map(seen), "{}", fight.words(planned));
                (moves, drawn) = (moves + 1, drawn + usize::from(own.is_some()));
            }
            let names: Vec<String> =
                fight.pictures.all().iter().map(|it| it.inline(holdfast::figure::View::Doer)).collect();
            let different: std::collections::BTreeSet<&String> = names.iter().collect();
            assert_eq!(different.len(), names.len(), "each picture is there once");
        }
    }
    assert!(moves > 40 && drawn * 10 > moves * 9, "{drawn} of {moves}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_is_given_the_pictures_of_that_name() {
    let desk = Desk::open_with(|_| {}).await;
    let fights = Production::open(&desk.dir).unwrap().playable();
    let pictures = &fights[0].pictures;
    let (status, body) = desk.get(&format!("/pictures/{}", pictures.id().unwrap())).await;
    assert_eq!(status, 200);
    let told: Value = serde_json::from_str(&body).unwrap();
    let told = told["pictures"].as_array().unwrap();
    assert_eq!(told.len(), pictures.all().len());
    for (told, picture) in told.iter().zip(pictures.all()) {
        assert_eq!(told["words"], picture.words());
        assert_eq!(told["doer"], picture.inline(holdfast::figure::View::Doer));
    }
    assert_eq!(desk.get("/pictures/000000000000000000000000").await.0, 404);
    // A new revision has pictures of another name, and those of the one before are there as well.
    let file = desk.dir.join("scores/first-steps.fight");
    let text = fs::read_to_string(&file).unwrap().replace("parry 3", "duck");
    fs::write(&file, text).unwrap();
    let after = Production::open(&desk.dir).unwrap().playable()[0].pictures.clone();
    assert_ne!(after.id(), pictures.id());
    let there = async {
        while desk.get(&format!("/pictures/{}", after.id().unwrap())).await.0 != 200 {
            tokio::task::yield_now().await;
        }
    };
    tokio::time::timeout(Duration::from_secs(60), there).await.expect("the folder is looked at every two seconds");
    assert_eq!(desk.get(&format!("/pictures/{}", pictures.id().unwrap())).await.0, 200);
}
