//! The review of what a real server wrote: a hold at places, a run to its end, a hold after it. Neither hold ends or
//! breaks a run, and both are in the record of the call.

use holdfast::call::Role;
use holdfast::event::{RunEnd, What};
use holdfast::journal::{EventFilter, Reader};
use holdfast::review::{Filter, House, Review};
use holdfast::wire::Stage;

use crate::support::fights::fight_of;
use crate::support::house;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn holds_between_runs_end_no_run() {
    let folder = tempfile::tempdir().unwrap();
    let fight = fight_of("The Salt Stair", 240.0, &[&[0, 1]]);
    let hall = house::House::open(folder.path(), vec![fight]).await;
    let desk = hall.join(Role::Desk, "Ines", None).await;
    let maret = hall.join(Role::Performer, "Lotte", Some("MARET")).await;
    let _osk = hall.join(Role::Performer, "Yusuf", Some("OSK")).await;
    desk.call_places(100).await;
    maret.hand.hold(Some("not ready".into()));
    desk.until_stage(Stage::Held).await;
    desk.release();
    desk.until_stage(Stage::Stopped).await;
    desk.run_the_fight(100).await;
    desk.until_stage(Stage::Complete).await;
    maret.hand.hold(Some("out of breath".into()));
    desk.until_stage(Stage::Held).await;
    desk.release();
    desk.until_stage(Stage::Stopped).await;
    hall.stop().await;

    let reader = Reader::open(folder.path()).unwrap();
    let events = reader.events(EventFilter::default()).unwrap();
    assert!(
        events.iter().all(|row| !matches!(row.event.what, What::Misrecorded { .. })),
        "every record fits: {events:#?}"
    );
    let holds = events.iter().filter(|row| matches!(row.event.what, What::Hold { .. }));
    let holds: Vec<Option<u32>> = holds.map(|row| row.event.run).collect();
    assert_eq!(holds, [None, Some(1)], "at places no run had begun");
    assert_eq!(reader.runs().unwrap()[0].how, Some(RunEnd::Complete));
    let review = Review::of(&reader, &House::default(), &Filter::default()).unwrap();
    let totals = &review.totals;
    assert_eq!((totals.runs, totals.complete, totals.held, totals.holds_between), (1, 1, 0, 2));
    let call = &review.calls[0];
    assert_eq!((call.runs.len(), call.breaks.len()), (1, 2));
    assert_eq!(call.present.iter().map(|person| person.who.as_str()).collect::<Vec<_>>(), ["Ines", "Lotte", "Yusuf"]);
    assert_eq!(call.breaks[0].callers[0].reason.as_deref(), Some("not ready"));
}
