//! A score that is saved while the server runs is at the desk soon after; one that is spoilt is said, and keeps none of
//! the others from use; a run that is set up keeps the score it has.

use std::fs;

use holdfast::call::Role;
use holdfast::member::Seen;
use holdfast::wire::{FightChoice, Stage};
use tempfile::TempDir;

use crate::support::house::House;

const FIGHT: &str = "fight \"The Well\"\nfighters\n  A rapier right\n  B rapier right\nphrase \"one\"\n  1 A thrust belly / B parry 4 ! steel\n";

fn fights(seen: &Seen) -> &[FightChoice] {
    seen.known.fights.as_deref().unwrap()
}

fn troubles(seen: &Seen) -> &[String] {
    seen.known.troubles.as_deref().unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_saved_while_the_server_runs_is_at_the_desk() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    desk.call_places(50).await;

    fs::write(dir.join("scores/well.fight"), FIGHT).unwrap();
    let seen = desk.until("sees the new fight", |seen| fights(seen).len() == 2).await;
    assert_eq!(seen.state.as_ref().unwrap().stage, Stage::Places, "what was set up stays");
    assert!(fights(&seen).iter().any(|fight| fight.fight == "The Well" && fight.phrases == ["one"]));

    fs::write(dir.join("scores/well.fight"), FIGHT.replace("parry 4", "parry 11")).unwrap();
    let seen = desk.until("sees what is wrong", |seen| !troubles(seen).is_empty()).await;
    assert!(troubles(&seen)[0].contains("The Well cannot be run: it has 1 error."), "{:?}", troubles(&seen));
    let seen = desk.until("sees it gone", |seen| fights(seen).len() == 1).await;
    assert_eq!(seen.state.unwrap().setup.as_ref().unwrap().fight, "First Steps");
    house.stop().await;
}
