//! An evening over real sockets and a real journal: an order, casts before the first places, somebody absent and covered
//! for, a restart in the middle, a hold, and the end; on the phones, in the record, and played again.

use std::path::{Path, PathBuf};

use holdfast::call::Role;
use holdfast::journal::{Reader, verify};
use holdfast::member::Seen;
use holdfast::production::Production;
use holdfast::review::{CallRecord, Filter, House as ReviewHouse, Review};
use holdfast::server::replay::replay;
use holdfast::wire::{HoldTap, ItemStands, ItemView, OrderItem, PartCastView, PlannedView, Stage, Subject, ToServer};

use crate::support::house::{House, Person};

/// A production with three fights, its usual order of them, and who covers MARET.
fn production(folder: &Path) -> PathBuf {
    let dir = folder.join("production");
    holdfast::production::start(&dir).unwrap();
    let mut config = "name = \"The Harbour Company\"\n".to_owned();
    std::fs::remove_file(dir.join("scores/first-steps.fight")).unwrap();
    for (file, fight, two, tempo) in [
        ("quay", "The Quay", ["MARET", "OSK"], 240),
        ("stair", "The Stair", ["OSK", "TILDA"], 240),
        ("cellar", "The Cellar", ["MARET", "TILDA"], 30),
    ] {
        let [one, other] = two;
        let text = format!(
            "fight \"{fight}\"\ntempo {tempo}\nfighters\n  {one} rapier right\n  {other} rapier right\n\nphrase \"one\"\n  \
             1 {one} cut head / {other} parry 5\n  5 {other} cut head / {one} parry 5\n"
        );
        std::fs::write(dir.join(format!("scores/{file}.fight")), text).unwrap();
        config += &format!("\n[[tonight]]\nfight = \"{fight}\"\nspeed = 100\ncount_in = 1\n");
    }
    // In the order of the list, whatever the files are called.
    config += "\n[covers]\nMARET = [\"Ute\", \"Dag\"]\n";
    std::fs::write(dir.join("production.toml"), config).unwrap();
    dir
}

fn items(seen: &Seen) -> &[ItemView] {
    seen.known.tonight.as_ref().map_or(&[], |(_, items)| items)
}

fn stands(seen: &Seen) -> Vec<(&str, ItemStands)> {
    items(seen).iter().map(|item| (item.planned.fight.as_str(), item.stands)).collect()
}

fn part<'s>(seen: &'s Seen, fight: &str, part: &str) -> Option<&'s PartCastView> {
    let cast = seen.known.casts.as_ref()?.iter().find(|cast| cast.fight == fight)?;
    cast.parts.iter().find(|it| it.part == part)
}

fn member(desk: &Person, name: &str) -> u32 {
    let seen = desk.hand.seen().borrow().clone();
    seen.known.members().find(|member| member.name == name).unwrap().member
}

/// The order as a desk gives it back, with something done to it.
fn give(desk: &Person, change: impl FnOnce(&mut Vec<OrderItem>)) {
    let seen = desk.hand.seen().borrow().clone();
    let item = |it: &ItemView| OrderItem { item: Some(it.item), planned: it.planned.clone(), done: None };
    let mut items: Vec<OrderItem> = items(&seen).iter().map(item).collect();
    change(&mut items);
    desk.say(ToServer::Order { items, seen: seen.known.tonight.as_ref().unwrap().0 });
}

async fn places_for(desk: &Person, at: usize) {
    let seen = desk.hand.seen().borrow().clone();
    let item = items(&seen)[at].item;
    desk.say(ToServer::PlacesFor { item, seen: seen.state.unwrap().last_event });
    desk.until("sees places for it", |seen| {
        seen.state.as_ref().unwrap().stage == Stage::Places && items(seen)[at].stands == ItemStands::Now
    })
    .await;
}

fn record(data: &Path) -> CallRecord {
    let review = Review::of(&Reader::open(data).unwrap(), &ReviewHouse::default(), &Filter::default()).unwrap();
    assert_eq!(review.calls.len(), 1);
    review.calls.into_iter().next().unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_evening_goes_from_one_to_the_next_over_a_restart_and_its_record_is_right() {
    let folder = tempfile::tempdir().unwrap();
    let dir = production(folder.path());
    let data = Production::open(&dir).unwrap().data();
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let bea = house.join(Role::Performer, "Bea", Some("MARET")).await;
    let cem = house.join(Role::Performer, "Cem", Some("OSK")).await;
    let ute = house.join(Role::Performer, "Ute", Some("TILDA")).await;
    let dag = house.join(Role::Performer, "Dag", None).await;
    dag.say(ToServer::Show { subjects: vec![Subject::Tonight] });
    desk.until("sees everybody", |seen| seen.known.members().count() == 5).await;

    // Bea is not here: her part is free in every fight, and the covers are listed.
    desk.say(ToServer::Attend { person: "Bea".into(), present: false });
    let is_open = |seen: &Seen, fight: &str| {
        part(seen, fight, "MARET").is_some_and(|it| it.member.is_none() && it.usually.as_deref() == Some("Bea"))
    };
    let seen = desk.until("sees her part open", |seen| is_open(seen, "The Quay") && is_open(seen, "The Cellar")).await;
    for fight in ["The Quay", "The Cellar"] {
        let open = part(&seen, fight, "MARET").unwrap();
        assert_eq!(open.covers, ["Ute", "Dag"]);
    }
    // All fights are cast before the first places. Ute would play twice in the Cellar; Dag may play in both.
    let (ute_id, dag_id) = (member(&desk, "Ute"), member(&desk, "Dag"));
    let cast = |fight: &str, member| ToServer::Cast { fight: fight.into(), part: "MARET".into(), member: Some(member) };
    desk.say(cast("The Cellar", ute_id));
    desk.say(cast("The Cellar", dag_id));
    desk.say(cast("The Quay", ute_id));
    let seen = dag
        .until("knows for what he is needed", |seen| items(seen).iter().any(|it| it.players.contains(&dag_id)))
        .await;
    let needed: Vec<bool> = items(&seen).iter().map(|it| it.players.contains(&dag_id)).collect();
    assert_eq!(needed, [false, false, true]);
    desk.until("sees Ute on for Bea", |seen| {
        let it = part(seen, "The Quay", "MARET");
        it.is_some_and(|it| it.person.as_deref() == Some("Ute") && it.usually.as_deref() == Some("Bea") && it.chosen)
    })
    .await;
    let seen = desk.hand.seen().borrow().clone();
    assert_eq!(
        part(&seen, "The Cellar", "TILDA").unwrap().person.as_deref(),
        Some("Ute"),
        "what was refused changed nothing"
    );

    // The Stair goes to the end; a screen that is behind changes nothing.
    give(&desk, |items| items.swap(1, 2));
    desk.until("sees the new order", |seen| stands(seen).get(2).is_some_and(|it| it.0 == "The Stair")).await;
    desk.say(ToServer::Order { items: Vec::new(), seen: 0 });

    // In one act: places for the first, with those who play it tonight.
    places_for(&desk, 0).await;
    assert_eq!(items(&desk.hand.seen().borrow()).len(), 3, "an order from a screen that was behind is none");
    ute.until("plays for Bea", |seen| seen.you.as_ref().is_some_and(|you| you.part.as_deref() == Some("MARET"))).await;
    bea.until("plays nothing", |seen| seen.you.as_ref().is_some_and(|you| you.part.is_none())).await;
    desk.until("sees both ready", |seen| seen.known.missing.as_ref().is_some_and(|it| it.1.is_empty())).await;
    desk.start_anyway().await;
    let done = |at: usize| move |seen: &Seen| items(seen).get(at).is_some_and(|it| it.stands == ItemStands::Done);
    desk.until("sees the first done", done(0)).await;
    cem.until_stage(Stage::Complete).await;
    house.stop().await;

    // A new server knows order, casts, who is absent and what is done.
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let seen = desk.until("sees the order", |seen| items(seen).len() == 3 && seen.known.casts.is_some()).await;
    let is = [("The Quay", ItemStands::Done), ("The Cellar", ItemStands::ToDo), ("The Stair", ItemStands::ToDo)];
    assert_eq!(stands(&seen), is);
    assert_eq!(part(&seen, "The Quay", "MARET").unwrap().person.as_deref(), Some("Ute"));
    assert_eq!(part(&seen, "The Cellar", "MARET").unwrap().person.as_deref(), Some("Dag"));
    assert!(!seen.known.attendance.as_ref().unwrap()["Bea"].present);

    // The Cellar is held: it is not done, whatever is released.
    let mo = house.join(Role::Observer, "Mo", None).await;
    places_for(&desk, 1).await;
    let generation = desk.start_anyway().await;
    mo.until_stage(Stage::Running).await;
    mo.say(ToServer::Hold(HoldTap {
        tap: "one".into(),
        generation,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: None,
    }));
    let seen = desk.until_stage(Stage::Held).await;
    let hold = seen.state.as_ref().unwrap().hold.as_ref().unwrap().hold;
    mo.say(ToServer::Reason { hold, reason: "footing".into() });
    desk.release();
    let seen = desk.until_stage(Stage::Stopped).await;
    assert_eq!(items(&seen)[1].stands, ItemStands::Now);
    desk.say(ToServer::EndCall { signed_by: Some("Ines Vale".into()) });
    // Everybody is told that it is over, and the next evening is as it usually is.
    mo.until("is told that the call is over", |seen| seen.state.as_ref().unwrap().over).await;
    let seen = desk
        .until("sees the usual order, with nobody chosen", |seen| {
            // Order and casts come one after the other.
            let usual = stands(seen).get(1).is_some_and(|it| it.0 == "The Stair");
            usual && part(seen, "The Quay", "MARET").is_some_and(|it| !it.chosen)
        })
        .await;
    assert!(items(&seen).iter().all(|it| it.stands == ItemStands::ToDo));
    house.stop().await;

    let record = record(&data);
    let absent: Vec<_> = record.absent.iter().map(|it| (it.who.as_str(), it.part.as_deref())).collect();
    assert!(absent.contains(&("Bea", Some("MARET"))), "{absent:?}");
    let covers: Vec<_> =
        record.understudies.iter().map(|it| (it.who.as_str(), it.usually.as_str(), it.fight.as_str())).collect();
    assert_eq!(covers, [("Ute", "Bea", "The Quay"), ("Dag", "Bea", "The Cellar")]);
    let order: Vec<_> = record.order.iter().map(|it| (it.says.as_str(), it.done, it.runs.as_slice())).collect();
    let said =
        [("The Quay, 100 %", true, &[1][..]), ("The Cellar, 100 %", false, &[2]), ("The Stair, 100 %", false, &[])];
    assert_eq!(order, said);
    assert_eq!(record.breaks[0].reason.as_deref(), Some("footing"));
    assert_eq!(
        (record.ended_by.as_deref(), record.signed_by.as_deref(), record.restarts),
        (Some("Ines (2)"), Some("Ines Vale"), 1)
    );
    for start in replay(&data, None).unwrap() {
        assert_eq!((&start.differs, &start.failed), (&None, &None), "{start:?}");
    }
    assert!(verify(&data).unwrap().whole);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn how_long_it_takes_is_told_from_earlier_calls_and_not_where_it_never_was_done() {
    let folder = tempfile::tempdir().unwrap();
    let dir = production(folder.path());
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let seen = desk.until("sees the order", |seen| items(seen).len() == 3).await;
    assert!(items(&seen).iter().all(|it| it.about_s.is_none()));
    places_for(&desk, 0).await;
    desk.start_anyway().await;
    desk.until_stage(Stage::Complete).await;
    house.stop().await;
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let seen =
        desk.until("knows how long it took", |seen| items(seen).first().is_some_and(|it| it.about_s.is_some())).await;
    assert!(items(&seen)[0].about_s.unwrap() < 60);
    assert!(items(&seen)[1..].iter().all(|it| it.about_s.is_none()), "the others were never done");
    // The same phrases at another speed are another thing.
    give(&desk, |items| items[0].planned = PlannedView { percent: Some(50), ..items[0].planned.clone() });
    desk.until("sees no past time", |seen| items(seen).first().is_some_and(|it| it.about_s.is_none())).await;
    house.stop().await;
}

/// Who only stands by has a part, too: it is open when they are absent, its covers are listed, somebody is cast for it, and
/// nobody plays it and another in one fight. A run does not wait for it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_bystander_is_cast_as_a_fighter_is() {
    let folder = tempfile::tempdir().unwrap();
    let dir = production(folder.path());
    for file in ["quay", "cellar"] {
        let file = dir.join(format!("scores/{file}.fight"));
        let text = std::fs::read_to_string(&file).unwrap().replacen("\nphrase", "bystanders\n  SITS\n\nphrase", 1);
        std::fs::write(file, text).unwrap();
    }
    let config = dir.join("production.toml");
    let text = std::fs::read_to_string(&config).unwrap() + "SITS = [\"Dag\"]\n";
    std::fs::write(&config, text).unwrap();
    let opened = Production::open(&dir).unwrap();
    assert_eq!(opened.troubles(), Vec::<String>::new(), "a bystander can be covered");
    let data = opened.data();
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let cem = house.join(Role::Performer, "Cem", Some("OSK")).await;
    let _maret = house.join(Role::Performer, "Ute", Some("MARET")).await;
    let _sits = house.join(Role::Performer, "Bea", Some("SITS")).await;
    let dag = house.join(Role::Performer, "Dag", None).await;
    let is = |seen: &Seen, fight: &str, player: Option<&str>| {
        part(seen, fight, "SITS").is_some_and(|it| it.stands_by && it.person.as_deref() == player)
    };
    desk.until("sees her as usual", |seen| is(seen, "The Quay", Some("Bea")) && is(seen, "The Cellar", Some("Bea")))
        .await;
    desk.say(ToServer::Attend { person: "Bea".into(), present: false });
    let seen = desk
        .until("sees her part open", |seen| {
            is(seen, "The Quay", None) && items(seen)[0].open.iter().any(|it| it == "SITS")
        })
        .await;
    let open = part(&seen, "The Quay", "SITS").unwrap();
    assert_eq!((open.usually.as_deref(), open.covers.as_slice()), (Some("Bea"), &["Dag".to_owned()][..]));
    assert!(part(&seen, "The Stair", "SITS").is_none(), "a fight that they are not in");
    // Cem fights in it, and plays nothing besides; Dag stands in, and then fights in it no more.
    let cast = |part: &str, id| ToServer::Cast { fight: "The Quay".into(), part: part.into(), member: Some(id) };
    let dag_id = member(&desk, "Dag");
    desk.say(cast("SITS", member(&desk, "Cem")));
    desk.say(cast("SITS", dag_id));
    desk.say(cast("MARET", dag_id));
    let seen = desk.until("sees him on", |seen| is(seen, "The Quay", Some("Dag"))).await;
    assert!(part(&seen, "The Quay", "SITS").unwrap().chosen);
    assert_eq!(part(&seen, "The Quay", "OSK").unwrap().person.as_deref(), Some("Cem"));
    desk.until("sees for what he is needed", |seen| items(seen)[0].players.contains(&dag_id)).await;
    assert!(is(&desk.hand.seen().borrow(), "The Cellar", None), "the other fight is as it was");
    places_for(&desk, 0).await;
    dag.until("stands by", |seen| seen.you.as_ref().is_some_and(|you| you.part.as_deref() == Some("SITS"))).await;
    let seen = desk.hand.seen().borrow().clone();
    assert_eq!(part(&seen, "The Quay", "MARET").unwrap().person.as_deref(), Some("Ute"), "nobody plays two parts");
    cem.until("plays", |seen| seen.you.as_ref().is_some_and(|you| you.part.as_deref() == Some("OSK"))).await;
    desk.start_anyway().await;
    desk.until("sees it begin", |seen| seen.state.as_ref().unwrap().stage != Stage::Places).await;
    house.stop().await;
    let understudies = record(&data).understudies;
    let [on] = understudies.as_slice() else { panic!("{understudies:?}") };
    assert_eq!((on.fight.as_str(), on.part.as_str(), on.who.as_str()), ("The Quay", "SITS", "Dag"));
    assert_eq!(on.usually, "Bea");
}
