//! A run's effects: cued by the server at their times, with the takes of the run's number, and ended by a hold.

use std::collections::BTreeMap;
use std::sync::Arc;

use holdfast::call::{Fight, Role};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::recordings::{Clip, Recording};
use holdfast::sound::{Library, Sent, VoiceKind, take};
use holdfast::units::Micros;
use holdfast::wire::Stage;
use tempfile::TempDir;

use crate::support::house::House;

/// Beats last half a second: a hit on each, twelve of them. The gong stands on beat 6, but is heard at 0.6 s, which is
/// before the cue of its own beat goes out.
const FIGHT: &str = r#"fight "The Quay"
beats 4
tempo 120
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  repeat 12 every 1 at 1
    1  MARET cut head / OSK parry 5 ! knock +20ms
  end
  6  ! gong -1900ms
"#;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn effects_are_cued_in_time_and_a_hold_ends_them() {
    let folder = TempDir::new().unwrap();
    let score = read(FIGHT, "quay.fight", &Vocabulary::built_in()).score.unwrap();
    let fight = Fight::unchecked(score, "0".repeat(64), FIGHT.into());
    let house = House::open(folder.path(), vec![Arc::new(fight)]).await;
    let clip = |level| Clip { rate: 48_000, samples: vec![level; 2_400].into() };
    let knock = Recording { name: "knock".into(), takes: vec![clip(0.2), clip(0.3), clip(0.4)] };
    let gong = Recording { name: "gong".into(), takes: vec![clip(0.5)] };
    let library = Library::of(vec![knock, gong], &BTreeMap::new(), |name| ["knock", "gong"].contains(&name));
    let gong = library.effect("gong", 1, 0).unwrap().kind;
    library.shelf(48_000);
    house.sound.stock(Arc::new(library));

    let desk = house.join(Role::Desk, "Ines", None).await;
    let _maret = house.join(Role::Performer, "Lotte", Some("MARET")).await;
    let osk = house.join(Role::Performer, "Yusuf", Some("OSK")).await;
    desk.run_the_fight(100).await;
    // The count-in has two beats, so this is well within the phrase.
    // Whoever comes in the middle is sent the cues that are on their way; no sound is planned twice for that.
    osk.until("has seen two beats", |seen| seen.cue.is_some_and(|cue| cue >= 2)).await;
    let _late = house.join(Role::Observer, "Pim", None).await;
    osk.until("has seen six beats", |seen| seen.cue.is_some_and(|cue| cue >= 6)).await;
    osk.hand.hold(None);
    let held = desk.until_stage(Stage::Held).await.state.unwrap();
    let at = held.hold.as_ref().unwrap().at_us;
    // After the hold at least as long again as sounds are planned ahead.
    tokio::time::sleep(std::time::Duration::from_millis(1_600)).await;

    let sent = house.sound.take_sent();
    let (clicks, knocks): (Vec<Sent>, Vec<Sent>) =
        sent.into_iter().partition(|sent| sent.kind.choke_group() == Some(0));
    let (gongs, knocks): (Vec<Sent>, Vec<Sent>) = knocks.into_iter().partition(|sent| sent.kind == gong);
    assert_eq!(gongs.len(), 1, "{gongs:?}");
    assert!(knocks.windows(2).all(|pair| pair[0].due < pair[1].due), "each once: {knocks:?}");
    assert_eq!(gongs[0].due.since(knocks[0].due), Micros::millis(580));
    assert!(gongs[0].heard.since(gongs[0].due).0.abs() < 1_000, "in time: {gongs:?}");
    assert!(knocks.len() >= 3, "{knocks:?}");
    for (nth, knock) in (0..).zip(&knocks) {
        // Each is 20 ms after the click of its beat; the count-in's two have none.
        let click = clicks.iter().find(|click| knock.due.since(click.due).0 == 20_000);
        assert!(click.is_some(), "{knock:?} in {clicks:?}");
        let VoiceKind::Effect(id) = knock.kind else { panic!("{knock:?}") };
        assert_eq!(id.take, take(held.run.unwrap(), "knock", nth, 3), "the takes of the run");
        assert!(knock.heard.0 <= at + 100_000, "nothing begins after the hold: {knock:?}, held at {at}");
    }
    assert!(house.sound.status().silenced > 0, "what was planned is gone: {:?}", house.sound.status());
    house.stop().await;
}
