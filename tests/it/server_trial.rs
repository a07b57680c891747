//! The trial of the hold over real sockets: every page is told and answers, nothing is held, whoever does not answer is
//! named, and the result is a check of the call that outlives the server and stands in its record.

use holdfast::call::{Role, TRIAL};
use holdfast::journal::Reader;
use holdfast::review::{self, Filter, Review};
use holdfast::wire::{SignatureView, Stage, ToMember, ToServer};

use crate::support::house::{House, Person};
use crate::support::raw::Raw;

/// The result that stands at the desk once it is so.
async fn result(desk: &Person, is_so: impl Fn(&SignatureView) -> bool) -> SignatureView {
    let found = |checks: &[holdfast::wire::CheckView]| {
        let trial = checks.iter().find(|check| check.check == TRIAL)?;
        trial.signed.clone().filter(&is_so)
    };
    let seen = desk.until("has the result", |seen| seen.known.checks.as_deref().is_some_and(|it| found(it).is_some()));
    found(seen.await.known.checks.as_deref().unwrap()).unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_does_not_answer_is_named_and_the_result_is_in_the_record() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    let (mut mute, _) = Raw::join(&house.address(Role::Observer), "Ayo").await;

    lotte.say(ToServer::TryHold {});
    desk.say(ToServer::TryHold {});
    let told = mute.hear_until(|message| matches!(message, ToMember::Trial { .. })).await;
    assert_eq!(told, Some(ToMember::Trial { trial: 1, by: "Ines".into() }), "a performer has no power to try it");
    let bad = result(&desk, |_| true).await;
    assert!(!bad.in_order);
    let note = bad.note.clone().unwrap();
    assert!(note.starts_with("3 of 4 answered, the slowest after ") && note.contains(" No answer: Ayo."), "{note}");
    assert!(note.ends_with("Shown only, without sound or vibration: Ines, Bram, Lotte."), "{note}");

    // One that came too late says nothing of the next.
    mute.say(&ToServer::Tried { trial: 1, shown: true, felt: true }).await;
    let mut good = bad;
    // On a machine with other work somebody may be slow, which is named too: then it is tried again, as people would.
    while !good.in_order {
        captain.say(ToServer::TryHold {});
        let told = mute.hear_until(|message| matches!(message, ToMember::Trial { .. })).await;
        let Some(ToMember::Trial { trial, .. }) = told else { panic!("{told:?}") };
        mute.say(&ToServer::Tried { trial, shown: true, felt: true }).await;
        good = result(&desk, |signed| signed.at_us > good.at_us).await;
        assert!(good.in_order || good.note.as_deref().unwrap().contains("Slow: "), "{good:?}");
    }
    assert_eq!((good.by.as_str(), good.in_order), ("Bram", true));
    let seen = desk.until("knows how the call stands", |seen| seen.state.is_some()).await;
    let state = seen.state.clone().unwrap();
    assert_eq!((state.stage, state.hold.is_some()), (Stage::Idle, false), "nothing was held");
    house.stop().await;

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Tove", None).await;
    assert_eq!(result(&desk, |_| true).await.note, good.note);
    // Without a link nobody is reached: Lotte plays, so she is named.
    desk.say(ToServer::TryHold {});
    let note = result(&desk, |signed| !signed.in_order).await.note.unwrap();
    assert!(note.contains("No link: Bram, Lotte."), "{note}");
    desk.say(ToServer::Sign { check: TRIAL.into(), in_order: true, note: None, by: None });
    desk.say(ToServer::EndCall { signed_by: None });
    desk.until("has ended the call", |seen| {
        seen.known.checks.as_deref().is_some_and(|checks| checks.iter().all(|check| check.signed.is_none()))
    })
    .await;
    house.stop().await;

    let reader = Reader::open(&dir).unwrap();
    let review = Review::of(&reader, &review::House::default(), &Filter::default()).unwrap();
    let checks: Vec<_> = review.calls.iter().flat_map(|call| &call.checks).filter(|it| it.check == TRIAL).collect();
    assert_eq!(checks.len(), 1, "the last result is the one on record");
    assert_eq!((checks[0].in_order, checks[0].note.as_deref()), (false, Some(note.as_str())));
    assert_eq!(checks[0].signed_by.as_deref(), Some("Tove"), "nobody signs it by hand");
}
