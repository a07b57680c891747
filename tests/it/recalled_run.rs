//! A run that a server takes up again from the journal is seen as before: on the plan of the stage as it was, with what passes near
//! those who only stand by, whatever has become of stage and score meanwhile.

use std::fs;
use std::path::Path;

use holdfast::call::Role;
use holdfast::wire::{HoldTap, Stage, ToServer};

use crate::server_scores::{Desk, run_of};

const FIGHT: &str = "scores/lantern-bridge.fight";

/// The lamplighter stands where the blades pass.
fn bridge(dir: &Path) {
    let text = include_str!("../../configs/demo/scores/lantern-bridge.fight").replace("-4.5,6.5", "-1.2,4.6");
    fs::write(dir.join(FIGHT), text).unwrap();
    fs::remove_file(dir.join("scores/first-steps.fight")).unwrap();
}

/// Another stage, and another score.
fn rebuilt(dir: &Path) {
    let stage = fs::read_to_string(dir.join("stage.toml")).unwrap();
    fs::write(dir.join("stage.toml"), stage.replace("drop = 1.05", "drop = 2.5")).unwrap();
    let score = fs::read_to_string(dir.join(FIGHT)).unwrap();
    fs::write(dir.join(FIGHT), score.replace("-1.2,4.6", "-4.5,6.5")).unwrap();
}

/// A run of the first fight in that stage; the server ends in it.
async fn in_stage(stage: Stage) -> Desk {
    let desk = Desk::open_with(bridge).await;
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    manager.call_places(100).await;
    if stage != Stage::Places {
        let generation = manager.start_anyway().await;
        manager.until_stage(Stage::CountIn).await;
        if stage == Stage::Held {
            let (tap, reason) = ("t".to_owned(), None);
            manager.say(ToServer::Hold(HoldTap {
                tap,
                generation,
                queued: false,
                tapped_us: None,
                screen_cue: None,
                reason,
            }));
            manager.until_stage(Stage::Held).await;
        }
    }
    desk
}

/// Places are called again after a restart: until then the run stands as one that was stopped.
async fn is_seen_as_before(stage: Stage, then: Stage) {
    let desk = in_stage(stage).await;
    let before = run_of(&desk).await;
    let floor = format!("/floors/{}", before.floor.as_ref().unwrap());
    let (_link, key) = desk.key(Role::Observer, "Sol").await;
    let (status, drawn) = desk.get_as(&key, &floor).await;
    assert_eq!(status, 200);
    assert!(!before.near.is_empty(), "somebody stands near a blade");
    let desk = desk.again(rebuilt).await;
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    manager.until_stage(then).await;
    let after = run_of(&desk).await;
    assert_eq!((&after.floor, &after.near, &after.feet), (&before.floor, &before.near, &before.feet), "{stage:?}");
    let (_other, key) = desk.key(Role::Observer, "Nuri").await;
    assert_eq!(desk.get_as(&key, &floor).await, (200, drawn), "{stage:?}");
    // Set up again it is on the stage that is there now.
    if then == Stage::Stopped {
        manager.call_places(100).await;
        let anew = run_of(&desk).await;
        assert_ne!(anew.floor, before.floor);
        assert_eq!(anew.near, []);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_in_places_is_on_its_plan() {
    is_seen_as_before(Stage::Places, Stage::Stopped).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_that_is_held_is_on_its_plan() {
    is_seen_as_before(Stage::Held, Stage::Held).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_that_went_is_on_its_plan() {
    is_seen_as_before(Stage::CountIn, Stage::Stopped).await;
}
