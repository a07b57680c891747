//! What is drawn is text: one thing at a time is written into a plan that people annotate. What is written is read as the same,
//! written again it changes nothing, and everything else of the text stays; over HTTP it is saved as a score is.

use std::fs;

use holdfast::call::Role;
use holdfast::stage::{Edit, Kind, NotWritten, StagePlan, Thing, Vec2, edited, own_things, read};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::server_scores::Desk;

/// With notes everywhere, a list in one line, and one thing written with its unit.
const METRES: &str = "# Measured on Tuesday.\nunits = \"metres\" # ours\n\narea = [[-6, 0], [6, 0], [6, 9], [-6, 9]] # the whole of it\n\n\
    edges.front = { from = [-6, 0], to = [6, 0], drop = 1.05 }\n\n# The house.\n[seats.house]\noutline = [[-7, -12], [7, -12], [7, -2], [-7, -2]]\n\
    floor = -1.05 # by the book\neye_height = 1.17\n\n[pieces.table] # oak\noutline = [[2, 6], [3.5, 6], [3.5, 7], [2, 7]]\nheight = 0.75\n\n\
    [levels.gallery]\noutline = [[-6, 7], [-2, 7], [-2, 9], [-6, 9]]\nheight = \"0.6 m\"\n\n[sets.cellar]\nfights = [\"The answer\"]\n\n\
    [sets.cellar.pieces.barrel]\noutline = [[3, 5], [3.8, 5], [3.8, 5.8], [3, 5.8]]\nheight = 0.9\n\n[people.ALDER]\nstature = 1.82\n# The end.\n";

fn plan(text: &str) -> StagePlan {
    let (plan, problems) = read(text, "stage.toml");
    assert_eq!(problems, [], "{text}");
    plan.unwrap()
}

fn in_feet() -> String {
    METRES.replace("\"metres\"", "\"feet\"").replace("\"0.6 m\"", "2").replace("eye_height = 1.17", "eye_height = 4")
}

fn kinds() -> impl Strategy<Value = Kind> {
    let kinds = [Kind::Area, Kind::Wing, Kind::Seats, Kind::Level, Kind::Steps, Kind::Piece, Kind::Door, Kind::Edge];
    prop::sample::select(kinds.to_vec())
}

/// A thing in hundredths of a unit, as it is written.
fn thing(kind: Kind, name: &str, (x, y, w, h): (i32, i32, i32, i32), high: i32, unit: f64) -> Thing {
    let at = |x: i32, y: i32| Vec2::new(f64::from(x) / 100.0 * unit, f64::from(y) / 100.0 * unit);
    let corners = match kind {
        Kind::Edge => vec![at(x, y), at(x + w, y + h)],
        _ => vec![at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h)],
    };
    let height = matches!(kind, Kind::Seats | Kind::Level | Kind::Piece | Kind::Edge);
    Thing {
        kind,
        name: if kind == Kind::Area { String::new() } else { name.to_owned() },
        corners,
        height: height.then(|| f64::from(high) / 100.0 * unit),
        eyes: (kind == Kind::Seats).then_some(1.2 * if unit < 1.0 { unit / 0.3048 * 1.0 } else { 1.0 }),
    }
}

fn alike(one: &Thing, other: &Thing) -> bool {
    let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < 5e-3,
        (a, b) => a == b,
    };
    let corners = one.corners.len() == other.corners.len()
        && one.corners.iter().zip(&other.corners).all(|(a, b)| a.distance(*b) < 1e-6);
    one.kind == other.kind
        && one.name == other.name
        && corners
        && near(one.height, other.height)
        && near(one.eyes, other.eyes)
}

/// The things of a part of the stage, without one of them.
fn others(plan: &StagePlan, set: Option<&str>, kind: Kind, name: &str) -> Vec<Thing> {
    own_things(plan, set).into_iter().filter(|it| !(it.kind == kind && it.name == name)).collect()
}

fn notes(text: &str) -> Vec<&str> {
    text.lines().filter_map(|line| line.split_once('#').map(|(_, note)| note)).collect()
}

proptest! {
    #[test]
    fn what_is_written_is_read_as_the_same(
        kind in kinds(),
        place in (-900..900i32, -900..900i32, 550..900i32, 550..900i32),
        high in 5..400i32,
        feet in any::<bool>(),
        in_set in any::<bool>(),
        name in "[a-z][a-z0-9-]{0,8}|Der Tisch|\u{1f5e1} mit Schwert|a[.]b \"c\"",
    ) {
        let text = if feet { in_feet() } else { METRES.to_owned() };
        let set = in_set.then(|| "cellar".to_owned());
        let now = thing(kind, &name, place, high, if feet { 0.3048 } else { 1.0 });
        let edit = Edit { set: set.clone(), kind, was: None, now: Some(now.clone()) };
        let written = edited(&text, &edit).unwrap();
        let (before, after) = (plan(&text), plan(&written));
        let found = own_things(&after, set.as_deref());
        let found = found.iter().find(|it| it.kind == kind && it.name == now.name).unwrap();
        prop_assert!(alike(found, &now), "{found:?}\n{now:?}\n{written}");
        prop_assert_eq!(others(&after, set.as_deref(), kind, &now.name), others(&before, set.as_deref(), kind, &now.name));
        prop_assert_eq!((&after.people, after.least), (&before.people, before.least));
        prop_assert_eq!(notes(&written), notes(&text));
        // Once more changes nothing, and so does what is read of it.
        let again = Edit { was: Some(now.name.clone()), ..edit };
        prop_assert_eq!(&edited(&written, &again).unwrap(), &written);
        let read_back = Edit { now: Some(found.clone()), ..again.clone() };
        prop_assert_eq!(&edited(&written, &read_back).unwrap(), &written);
        if kind != Kind::Area {
            let gone = edited(&written, &Edit { now: None, ..again }).unwrap();
            prop_assert_eq!(plan(&gone), before);
        }
    }
}

#[test]
fn what_is_no_other_stays_as_it_was_written() {
    for (set, kind, name) in
        [(None, Kind::Level, "gallery"), (None, Kind::Edge, "front"), (Some("cellar"), Kind::Piece, "barrel")]
    {
        let set = set.map(str::to_owned);
        let found = own_things(&plan(METRES), set.as_deref());
        let was = found.iter().find(|it| it.kind == kind && it.name == name).unwrap().clone();
        let same = Edit { set: set.clone(), kind, was: Some(name.to_owned()), now: Some(was.clone()) };
        assert_eq!(edited(METRES, &same).unwrap(), METRES);
        let higher = Edit { now: Some(Thing { height: Some(1.5), ..was }), ..same };
        let written = edited(METRES, &higher).unwrap();
        let other = METRES.lines().zip(written.lines()).filter(|(before, after)| before != after).count();
        assert_eq!((other, METRES.lines().count()), (1, written.lines().count()), "one line is another:\n{written}");
    }
}

#[test]
fn another_name_keeps_what_is_said_of_it() {
    let was = own_things(&plan(METRES), None).into_iter().find(|it| it.name == "table").unwrap();
    let edit = Edit {
        set: None,
        kind: Kind::Piece,
        was: Some("table".to_owned()),
        now: Some(Thing { name: "desk".to_owned(), ..was }),
    };
    let written = edited(METRES, &edit).unwrap();
    assert!(written.contains("[pieces.desk] # oak") && !written.contains("table"), "{written}");
}

#[test]
fn what_cannot_be_written_is_refused_in_a_sentence() {
    let piece = thing(Kind::Piece, "screen", (0, 300, 200, 100), 200, 1.0);
    let edit = |now: Thing| Edit { set: None, kind: now.kind, was: None, now: Some(now) };
    let crossed = Thing {
        corners: [(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.0)].map(|(x, y)| Vec2::new(x, y)).to_vec(),
        ..piece.clone()
    };
    let why = edited(METRES, &edit(crossed)).unwrap_err().to_string();
    assert!(why.contains("crosses itself"), "{why}");
    let taken = Thing { name: "table".to_owned(), ..piece.clone() };
    assert!(matches!(edited(METRES, &edit(taken)), Err(NotWritten::Name(_))));
    let nameless = Thing { name: "  ".to_owned(), ..piece.clone() };
    assert!(matches!(edited(METRES, &edit(nameless)), Err(NotWritten::Name(_))));
    let elsewhere = Edit { set: Some("attic".to_owned()), ..edit(piece.clone()) };
    assert_eq!(edited(METRES, &elsewhere), Err(NotWritten::Gone("attic".to_owned())));
    let gone = Edit { set: None, kind: Kind::Door, was: Some("back".to_owned()), now: None };
    assert_eq!(edited(METRES, &gone), Err(NotWritten::Gone("back".to_owned())));
    assert_eq!(edited("area = [[", &edit(piece)), Err(NotWritten::NoToml));
    let area = Edit { set: None, kind: Kind::Area, was: None, now: None };
    assert!(matches!(edited(METRES, &area), Err(NotWritten::Outline(_))));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_stage_is_opened_checked_and_saved_as_a_score_is() {
    let desk = Desk::open_with(|_| {}).await;
    let (_one, director) = desk.key(Role::Director, "Runa").await;
    let (_two, manager) = desk.key(Role::Desk, "Ines").await;
    let (_three, player) = desk.key(Role::Performer, "Lotte").await;
    let (_, list) = desk.ask(&director, "list", &json!({})).await;
    assert_eq!(list["stage"], "stage.toml");
    let file = json!({ "file": "stage.toml" });
    let (_, opened) = desk.ask(&director, "open", &file).await;
    let base = opened["text"].as_str().unwrap().to_owned();
    let change = |height: f64| {
        json!({ "thing": { "set": null, "kind": "piece", "was": null, "now":
            { "kind": "piece", "name": "table", "corners": [[1, 6], [2, 6], [2, 7]], "height": height, "eyes": null } } })
    };
    let (_, told) = desk.ask(&director, "stage", &json!({ "text": base, "change": change(0.75) })).await;
    let mine = told["text"].as_str().unwrap();
    assert!(told["sets"][0]["own"].as_array().unwrap().iter().any(|it| it["name"] == "table"), "{told}");
    // Somebody else has moved the front edge meanwhile.
    let theirs = base.replacen("drop = 1.05", "drop = 1.2", 1);
    let save = |text: &str| json!({ "file": "stage.toml", "base": base, "text": text, "why": "Measured." });
    let (status, saved) = desk.ask(&manager, "save", &save(&theirs)).await;
    assert_eq!((status, &saved["outcome"]), (200, &json!("saved")), "{saved}");
    let (_, saved) = desk.ask(&director, "save", &save(mine)).await;
    assert_eq!(saved["outcome"], "merged", "{saved}");
    let now = fs::read_to_string(desk.dir.join("stage.toml")).unwrap();
    assert!(now.contains("drop = 1.2") && now.contains("[pieces.table]"), "{now}");
    // The same line twice: nothing is lost, and a person settles it.
    let (_, clash) = desk.ask(&director, "save", &save(&base.replacen("drop = 1.05", "drop = 1.3", 1))).await;
    assert_eq!(clash["outcome"], "conflict", "{clash}");
    assert_eq!(fs::read_to_string(desk.dir.join("stage.toml")).unwrap(), now);
    let (_, revisions) = desk.ask(&director, "revisions", &file).await;
    let how: Vec<&Value> = revisions["revisions"].as_array().unwrap().iter().map(|it| &it["how"]).collect();
    assert!(
        how.contains(&&json!("saved")) && how.contains(&&json!("merged")) && how.contains(&&json!("kept")),
        "{how:?}"
    );
    let (status, _) = desk.ask(&player, "save", &save(mine)).await;
    assert_eq!(status, 403, "only who may save scores");
    let (_, report) = desk
        .ask(&player, "check", &json!({ "file": "stage.toml", "text": "area = [[0, 0], [4, 4], [4, 0], [0, 4]]\n" }))
        .await;
    assert!(report["findings"][0]["message"].as_str().unwrap().contains("crosses itself"), "{report}");
}
