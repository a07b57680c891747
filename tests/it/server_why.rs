//! Why, over real sockets and a real journal: whoever called a hold says so after it, the review counts it, and of whoever
//! reports a near miss without a name nothing is kept.

use holdfast::call::Role;
use holdfast::journal::Reader;
use holdfast::review::{Filter, House as ReviewHouse, Review};
use holdfast::wire::{MovePlace, Stage, ToServer};

use crate::support::fights::fight_of;
use crate::support::house::{House, Person};

fn fight() -> Vec<std::sync::Arc<holdfast::call::Fight>> {
    vec![fight_of("The Quay", 20.0, &[&[0, 1, 8, 16]])]
}

fn review(data: &std::path::Path) -> Review {
    Review::of(&Reader::open(data).unwrap(), &ReviewHouse::default(), &Filter::default()).unwrap()
}

async fn reason_is(person: &Person, says: &str, by: &str) {
    person
        .until(&format!("sees the reason {says}"), |seen| {
            let state = seen.state.as_ref().unwrap();
            let hold = state.hold.as_ref().or(state.released.as_ref());
            let reason = hold.and_then(|hold| hold.reason.as_ref());
            reason.is_some_and(|reason| reason.says == says && reason.by == by)
        })
        .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_called_a_hold_says_why_after_it_and_the_review_counts_it() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), fight()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let osk = house.join(Role::Performer, "Bea", Some("OSK")).await;
    let maret = house.join(Role::Performer, "Cem", Some("MARET")).await;
    desk.run_the_fight(100).await;
    osk.until_stage(Stage::Running).await;
    osk.hand.hold(None);
    let hold = osk.until_stage(Stage::Held).await.state.unwrap().hold.as_ref().unwrap().hold;
    assert_eq!(osk.hand.seen().borrow().state.as_ref().unwrap().hold.as_ref().unwrap().reason, None);
    // Who has not called it is not asked; what is not on the list is not taken.
    maret.say(ToServer::Reason { hold, reason: "footing".into() });
    osk.say(ToServer::Reason { hold, reason: "the moon".into() });
    osk.say(ToServer::Reason { hold, reason: "distance".into() });
    osk.say(ToServer::Note { hold, text: "half a step".into() });
    reason_is(&desk, "distance", "Bea").await;
    desk.until("sees the note", |seen| {
        seen.known.holds.as_ref().is_some_and(|holds| holds.get(&hold).is_some_and(|it| it.notes.len() == 1))
    })
    .await;
    // Released, it can still be put right.
    desk.release();
    osk.until_stage(Stage::Stopped).await;
    osk.say(ToServer::Reason { hold, reason: "timing".into() });
    reason_is(&maret, "timing", "Bea").await;
    house.stop().await;
    let review = review(folder.path());
    let broke = &review.fights[0].breaks[0];
    assert_eq!(
        (broke.reason.as_deref(), broke.reason_by.as_deref(), broke.explained),
        (Some("timing"), Some("Bea"), true)
    );
    let splits = &review.fights[0].splits;
    assert_eq!((splits.without_reason, splits.noted), (0, 1));
    assert_eq!((splits.reasons[0].what.as_str(), splits.reasons[0].count), ("timing", 1), "the last one counts");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_near_miss_is_kept_with_its_place_and_no_name_that_was_not_given() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), fight()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let bea = house.join(Role::Performer, "Bea", Some("OSK")).await;
    let mo = house.join(Role::Observer, "Mo", None).await;
    desk.call_places(100).await;
    desk.start_anyway().await;
    let run = bea.until_stage(Stage::Running).await.state.unwrap().run;
    let place = Some(MovePlace { phrase: 0, r#move: 2 });
    let report = |named| ToServer::NearMiss {
        run,
        place,
        named,
        reason: Some("distance".into()),
        note: Some("a hand’s breadth".into()),
    };
    bea.say(report(false));
    let seen = |count: u32| {
        move |seen: &holdfast::member::Seen| seen.known.near_misses.as_ref().is_some_and(|it| it.0 == count)
    };
    desk.until("reads the near miss", seen(1)).await;
    mo.say(report(true));
    let told = desk.until("reads both", seen(2)).await.known.near_misses.clone().unwrap().1;
    assert_eq!([told[0].by.as_deref(), told[1].by.as_deref()], [Some("Mo"), None]);
    assert_eq!(told[1].spot.as_ref().unwrap().r#move, Some(2));
    assert_eq!(desk.hand.seen().borrow().state.as_ref().unwrap().hold, None, "nothing stands by it");
    house.stop().await;
    let reader = Reader::open(folder.path()).unwrap();
    let mut inputs = Vec::new();
    reader
        .each_input(1, |row| {
            inputs.push(row.body);
            true
        })
        .unwrap();
    let reports: Vec<&String> = inputs.iter().filter(|body| body.contains("a hand’s breadth")).collect();
    assert_eq!(reports.len(), 2);
    assert!(reports[0].contains("\"by\":null"), "{}", reports[0]);
    let review = review(folder.path());
    let misses = &review.fights[0].near_misses;
    assert_eq!((misses.len(), review.totals.near_misses, review.totals.held), (2, 2, 0));
    assert_eq!((misses[0].who.as_deref(), misses[1].who.as_deref()), (None, Some("Mo")));
    assert_eq!((misses[0].phrase.as_deref(), misses[0].beat.as_deref()), (Some("phrase 1"), Some("2")));
    assert!(review.fights[0].breaks.is_empty(), "a near miss is no hold");
    assert_eq!(review.calls[0].near_misses.len(), 2);
}
