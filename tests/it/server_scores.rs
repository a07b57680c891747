//! Scores over HTTP: who may ask and who may save, what a draft is told, and that nobody's lines are lost whatever two
//! people do to one score at once.

use std::fs;
use std::path::{Path, PathBuf};

use holdfast::call::Role;
use holdfast::event::EventKind;
use holdfast::journal::{EventFilter, Reader};
use holdfast::score::merge::{Merged, Piece, merge};
use holdfast::wire::{MAX_DRAFT, PROTOCOL, RunSheet, Stage, ToMember, ToServer};
use proptest::prelude::*;
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::support::house::House;
use crate::support::raw::Raw;

const FILE: &str = "scores/first-steps.fight";

/// A production that is served, and the keys of those who are in.
pub(crate) struct Desk {
    pub(crate) house: House,
    pub(crate) dir: PathBuf,
    place: String,
    _folder: TempDir,
}

impl Desk {
    async fn open() -> Desk {
        Desk::open_with(|_| ()).await
    }

    /// The same, with a production that was changed before it is served.
    pub(crate) async fn open_with(change: impl FnOnce(&Path)) -> Desk {
        let folder = TempDir::new().unwrap();
        let dir = folder.path().join("production");
        holdfast::production::start(&dir).unwrap();
        change(&dir);
        let house = House::of_folder(&dir).await;
        let place = house.address(Role::Director).place().to_string();
        Desk { house, dir, place, _folder: folder }
    }

    /// Ends the server, changes the folder, and serves it again.
    pub(crate) async fn again(self, change: impl FnOnce(&Path)) -> Desk {
        let Desk { house, dir, _folder, .. } = self;
        house.stop().await;
        change(&dir);
        let house = House::of_folder(&dir).await;
        let place = house.address(Role::Director).place().to_string();
        Desk { house, dir, place, _folder }
    }

    /// Somebody's key; their link lives as long as the [`Raw`].
    pub(crate) async fn key(&self, role: Role, name: &str) -> (Raw, String) {
        Raw::join(&self.house.address(role), name).await
    }

    pub(crate) async fn ask(&self, key: &str, what: &str, body: &Value) -> (u16, Value) {
        let headers = format!("Authorization: Bearer {key}\r\n");
        self.post(&headers, what, body.to_string().as_bytes()).await
    }

    /// What is there without a key: status and body.
    pub(crate) async fn get(&self, path: &str) -> (u16, String) {
        self.exchange(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.place), b"").await
    }

    /// The same with a key.
    pub(crate) async fn get_as(&self, key: &str, path: &str) -> (u16, String) {
        let head = format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nAuthorization: Bearer {key}\r\nConnection: close\r\n\r\n",
            self.place
        );
        self.exchange(&head, b"").await
    }

    /// Anything else that is asked with a key: status and body.
    pub(crate) async fn ask_at(&self, key: &str, what: &str, body: &Value) -> (u16, String) {
        let headers = format!("Authorization: Bearer {key}\r\n");
        self.sent(&headers, what, body.to_string().as_bytes()).await
    }

    async fn post(&self, headers: &str, what: &str, body: &[u8]) -> (u16, Value) {
        let (status, body) = self.sent(headers, &format!("scores/{what}"), body).await;
        (status, serde_json::from_str(&body).unwrap_or(Value::Null))
    }

    async fn sent(&self, headers: &str, what: &str, body: &[u8]) -> (u16, String) {
        let head = format!(
            "POST /api/{what} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: {}\r\n{headers}\r\n",
            self.place,
            body.len()
        );
        self.exchange(&head, body).await
    }

    async fn exchange(&self, head: &str, body: &[u8]) -> (u16, String) {
        let mut stream = TcpStream::connect(&self.place).await.unwrap();
        stream.write_all(head.as_bytes()).await.unwrap();
        // A server that has heard enough may close before it was told everything.
        let _ = stream.write_all(body).await;
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer).await;
        let answer = String::from_utf8(answer).unwrap();
        let status = answer.split(' ').nth(1).unwrap_or("0").parse().unwrap();
        (status, answer.split_once("\r\n\r\n").map_or("", |(_, body)| body).to_owned())
    }

    async fn save(&self, key: &str, base: &str, text: &str, why: &str) -> (u16, Value) {
        self.ask(key, "save", &json!({ "file": FILE, "base": base, "text": text, "why": why })).await
    }

    fn text(&self) -> String {
        fs::read_to_string(self.dir.join(FILE)).unwrap()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_director_saves_and_everybody_sees_the_new_revision() {
    let desk = Desk::open().await;
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    manager.call_places(50).await;
    let before = desk.text();
    let (status, opened) = desk.ask(&key, "open", &json!({ "file": FILE })).await;
    assert_eq!((status, opened["text"].as_str()), (200, Some(before.as_str())));

    let after = before.replace("tempo 60", "tempo 54");
    let (status, saved) = desk.save(&key, &before, &after, "slower for the understudy").await;
    assert_eq!((status, &saved["outcome"], &saved["written"]), (200, &json!("saved"), &json!(true)));
    assert_eq!(desk.text(), after);
    let left: Vec<_> = fs::read_dir(desk.dir.join("scores")).unwrap().collect();
    assert_eq!(left.len(), 1, "nothing but the score is left in its folder");

    let revision = saved["revision"].as_str().unwrap().to_owned();
    let seen = manager
        .until("sees the revision", |seen| revision.starts_with(&seen.known.fights.as_ref().unwrap()[0].revision))
        .await;
    assert_eq!(seen.state.as_ref().unwrap().stage, Stage::Places, "what is set up stays");
    let set_up = run_of(&desk).await;
    assert!(!revision.starts_with(&set_up.revision), "the run keeps its own score");

    let events = Reader::open(&desk.dir)
        .unwrap()
        .events(EventFilter { kind: Some(EventKind::Revision), ..EventFilter::default() })
        .unwrap();
    assert_eq!(events.len(), 1);
    let who = events[0].event.who.as_ref().unwrap();
    assert_eq!((who.name.as_str(), who.role), ("Ana", Some(Role::Director)));
    assert_eq!(events[0].event.what.says().as_deref(), Some("slower for the understudy"));

    let (_, listed) = desk.ask(&key, "revisions", &json!({ "file": FILE })).await;
    let list = listed["revisions"].as_array().unwrap();
    assert_eq!(list.len(), 2, "the one that was replaced is there too");
    assert_eq!((&list[0]["who"], &list[0]["in_use"]), (&json!("Ana"), &json!(true)));
    let asked = json!({ "file": FILE, "revision": list[1]["revision"] });
    let (_, old) = desk.ask(&key, "revision", &asked).await;
    assert_eq!(old["text"].as_str(), Some(before.as_str()));
    let (_, again) = desk.save(&key, &after, &after, "once more").await;
    assert_eq!(again["outcome"], json!("unchanged"));
    desk.house.stop().await;
}

/// The run that is set up, as somebody sees it who comes in now.
pub(crate) async fn run_of(desk: &Desk) -> RunSheet {
    let address = desk.house.address(Role::Observer);
    let mut raw = Raw::connect(&address).await;
    let invitation = address.secret().to_owned();
    raw.say(&ToServer::Join { protocol: PROTOCOL, invitation, name: "Ola".into(), part: None, page: None }).await;
    let welcome = raw.hear_until(|message| matches!(message, ToMember::Welcome(_))).await;
    let Some(ToMember::Welcome(welcome)) = welcome else { panic!("not let in") };
    welcome.run.unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_who_save_at_once_lose_nothing() {
    let desk = Desk::open().await;
    let (_one, ana) = desk.key(Role::Director, "Ana").await;
    let (_two, ines) = desk.key(Role::Desk, "Ines").await;
    let base = desk.text();
    let first = base.replace("tempo 60", "tempo 54");
    let second = base.replace("rest 2", "rest 4");
    assert_eq!(desk.save(&ana, &base, &first, "slower").await.1["outcome"], json!("saved"));
    let (_, merged) = desk.save(&ines, &base, &second, "time for the scene change").await;
    assert_eq!(merged["outcome"], json!("merged"));
    assert!(desk.text().contains("tempo 54") && desk.text().contains("rest 4"));

    let third = base.replace("tempo 60", "tempo 66");
    let (status, conflict) = desk.save(&ines, &base, &third, "faster").await;
    assert_eq!((status, &conflict["outcome"]), (200, &json!("conflict")));
    assert_eq!(conflict["theirs"].as_str(), Some(desk.text().as_str()), "the score stays as it was saved");
    assert_eq!(conflict["by"]["who"], json!("Ines"), "who saved it last");
    let both: Vec<&Value> =
        conflict["pieces"].as_array().unwrap().iter().filter(|piece| piece["piece"] == json!("both")).collect();
    assert_eq!(both.len(), 1);
    assert_eq!((&both[0]["mine"], &both[0]["theirs"]), (&json!("tempo 66\n"), &json!("tempo 54\n")));

    let (_, listed) = desk.ask(&ines, "revisions", &json!({ "file": FILE })).await;
    let kept = listed["revisions"].as_array().unwrap().iter().find(|one| one["how"] == json!("kept")).unwrap().clone();
    assert_eq!((&kept["who"], &kept["why"], &kept["in_use"]), (&json!("Ines"), &json!("faster"), &json!(false)));
    let (_, text) = desk.ask(&ines, "revision", &json!({ "file": FILE, "revision": kept["revision"] })).await;
    assert_eq!(text["text"].as_str(), Some(third.as_str()), "the other version is in the log, whole");
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn twenty_who_save_their_own_line_at_the_same_moment_all_find_it_there() {
    let desk = Desk::open().await;
    let base = (0..20).fold(desk.text(), |text, line| text + &format!("\n# line {line}\n\n# between\n"));
    fs::write(desk.dir.join(FILE), &base).unwrap();
    let mut people = Vec::new();
    for number in 0..4 {
        people.push(desk.key(Role::Director, &format!("Person {number}")).await);
    }
    let saves = (0..20).map(|line| {
        let (desk, base, key) = (&desk, &base, people[line % people.len()].1.clone());
        let text = base.replace(&format!("# line {line}\n"), &format!("# line {line}, changed\n"));
        async move { desk.save(&key, base, &text, "mine").await }
    });
    for (status, answer) in futures_util::future::join_all(saves).await {
        assert_eq!(status, 200, "{answer}");
        assert!(["saved", "merged"].contains(&answer["outcome"].as_str().unwrap()));
    }
    for line in 0..20 {
        assert!(desk.text().contains(&format!("# line {line}, changed\n")), "line {line}");
    }
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_another_program_wrote_meanwhile_is_not_overwritten() {
    let desk = Desk::open().await;
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let base = desk.text();
    fs::write(desk.dir.join(FILE), base.replace('\n', "\r\n").replace("rest 2", "rest 3")).unwrap();
    let (_, answer) = desk.save(&key, &base, &base.replace("tempo 60", "tempo 54"), "slower").await;
    assert_eq!(answer["outcome"], json!("merged"), "{answer}");
    let text = desk.text();
    assert!(text.contains("tempo 54\r\n") && text.contains("rest 3\r\n"), "with the file's own line ends");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());

    fs::write(desk.dir.join(FILE), b"fight \xff").unwrap();
    let (status, answer) = desk.save(&key, &base, &base.replace("tempo 60", "tempo 50"), "slower").await;
    assert_eq!(status, 409);
    assert!(answer["reason"].as_str().unwrap().contains("not UTF-8"), "{answer}");
    assert_eq!(fs::read(desk.dir.join(FILE)).unwrap(), b"fight \xff");
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_fight_is_begun_by_whoever_may_write_and_is_there_for_everybody() {
    let desk = Desk::open().await;
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let (status, made) = desk.ask(&key, "new", &json!({ "fight": "  The Rope-Walk,  at dawn " })).await;
    assert_eq!((status, &made["fight"]), (200, &json!("The Rope-Walk, at dawn")), "{made}");
    assert_eq!(made["file"], json!("scores/the-rope-walk-at-dawn.fight"));
    let on_disk = fs::read_to_string(desk.dir.join("scores/the-rope-walk-at-dawn.fight")).unwrap();
    assert_eq!(made["text"].as_str(), Some(on_disk.as_str()));
    manager
        .until("can run it", |seen| seen.known.fights.iter().flatten().any(|it| it.fight.starts_with("The Rope")))
        .await;
    let (_, listed) = desk.ask(&key, "revisions", &json!({ "file": made["file"] })).await;
    assert_eq!((&listed["revisions"][0]["who"], &listed["revisions"][0]["in_use"]), (&json!("Ana"), &json!(true)));
    // Its name is its own; the name of its file is made so, whatever stands in the folder.
    let (status, answer) = desk.ask(&key, "new", &json!({ "fight": "the rope-walk, AT DAWN" })).await;
    assert!(status == 422 && answer["reason"].as_str().unwrap().contains("already"), "{answer}");
    let own = desk.text().replace("First Steps", "Somebody's own");
    fs::write(desk.dir.join("scores/dusk.fight"), &own).unwrap();
    let (_, dusk) = desk.ask(&key, "new", &json!({ "fight": "Dusk" })).await;
    assert_eq!(dusk["file"], json!("scores/dusk-2.fight"), "{dusk}");
    assert_eq!(fs::read_to_string(desk.dir.join("scores/dusk.fight")).unwrap(), own);
    // A name that is in the folder since a moment ago is taken, too.
    let (status, answer) = desk.ask(&key, "new", &json!({ "fight": "Somebody's Own" })).await;
    assert!(status == 422 && answer["reason"].as_str().unwrap().contains("already"), "{answer}");
    for (name, says) in [("", "Write what"), ("a \" b", "quotation marks"), (&*"x".repeat(61), "60 letters")] {
        let (status, answer) = desk.ask(&key, "new", &json!({ "fight": name })).await;
        assert!(status == 422 && answer["reason"].as_str().unwrap().contains(says), "{name}: {answer}");
    }
    let (_other, key) = desk.key(Role::Captain, "Bram").await;
    assert_eq!(desk.ask(&key, "new", &json!({ "fight": "Mine" })).await.0, 403);
    // Two texts beside each other are for whoever reads.
    let asked = json!({ "older": "a\r\nb\r\n", "newer": "a\nc\n" });
    let (_, compared) = desk.ask(&key, "compare", &asked).await;
    assert_eq!(compared["rows"][0]["older"], compared["rows"][0]["newer"], "how lines end is no change");
    assert_eq!(
        (&compared["rows"][1]["older"]["text"], &compared["rows"][1]["newer"]["text"]),
        (&json!("b"), &json!("c"))
    );
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_without_a_key_and_nobody_without_the_power() {
    let desk = Desk::open().await;
    let before = desk.text();
    let body = json!({ "file": FILE }).to_string();
    for headers in ["", "Authorization: Bearer \r\n", "Authorization: Bearer 00ff\r\n", "Authorization: Basic YTpi\r\n"]
    {
        let (status, answer) = desk.post(headers, "open", body.as_bytes()).await;
        assert_eq!(status, 401, "{headers}");
        assert!(answer["reason"].as_str().unwrap().contains("Open your invitation again"));
    }
    for role in [Role::Captain, Role::Performer, Role::Sound, Role::Observer] {
        let (_link, key) = desk.key(role, role.word()).await;
        assert_eq!(desk.ask(&key, "open", &json!({ "file": FILE })).await.0, 200, "everybody may read");
        let (_, list) = desk.ask(&key, "list", &json!({})).await;
        assert_eq!(list["may_write"], json!(false));
        let (status, answer) = desk.save(&key, &before, "fight \"Mine\"\n", "because").await;
        assert_eq!(status, 403, "{answer}");
        assert!(answer["reason"].as_str().unwrap().contains("no power to save scores"));
    }
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let foreign = format!("Authorization: Bearer {key}\r\nOrigin: http://elsewhere.example\r\n");
    assert_eq!(desk.post(&foreign, "open", body.as_bytes()).await.0, 403, "a page of another site");
    for file in ["production.toml", "scores/../production.toml", "/etc/hostname", "data/journal.sqlite", ""] {
        let (status, _) = desk.ask(&key, "open", &json!({ "file": file })).await;
        assert_eq!(status, 404, "{file}");
        let wanted = json!({ "file": file, "base": "", "text": "x", "why": "y" });
        assert_eq!(desk.ask(&key, "save", &wanted).await.0, 404, "{file}");
    }
    assert_eq!(desk.text(), before);
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_a_score_is_refused_in_a_sentence() {
    let desk = Desk::open().await;
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let before = desk.text();
    let bearer = format!("Authorization: Bearer {key}\r\n");
    let long = "#".repeat(MAX_DRAFT + 1);
    let huge = vec![b' '; 5 * MAX_DRAFT];
    let other = "fight \"Another\"\n";
    fs::write(desk.dir.join("scores/another.fight"), other).unwrap();
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    manager.until("sees it", |seen| !seen.known.troubles.as_ref().unwrap().is_empty()).await;
    let same_name = before.replace("\"First Steps\"", "\"ANOTHER\"");
    let rows: [(u16, &str, (u16, Value)); 7] = [
        (413, "512 KiB", desk.save(&key, &before, &long, "long").await),
        (413, "512 KiB", desk.post(&bearer, "check", &huge).await),
        (400, "not UTF-8 from byte 3", desk.post(&bearer, "check", b"{\"a\xff").await),
        (400, "not understood", desk.post(&bearer, "check", b"{}").await),
        (422, "Say why", desk.save(&key, &before, "fight \"X\"\n", "  ").await),
        (422, "Say why", desk.save(&key, &before, "fight \"X\"\n", &"y".repeat(3_000)).await),
        (422, "another.fight is a fight called ANOTHER already", desk.save(&key, &before, &same_name, "a name").await),
    ];
    for (expected, says, (status, answer)) in rows {
        assert_eq!(status, expected, "{says}: {answer}");
        assert!(answer["reason"].as_str().unwrap().contains(says), "{says}: {answer}");
    }
    assert_eq!(desk.text(), before);
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_draft_is_told_what_a_saved_score_would_be() {
    let desk = Desk::open().await;
    let (_link, key) = desk.key(Role::Observer, "Ola").await;
    let text = desk.text();
    let (_, well) = desk.ask(&key, "check", &json!({ "file": FILE, "text": text })).await;
    assert_eq!((&well["runs"], well["phrases"].as_array().unwrap().len()), (&json!(true), 2));
    let first = text.lines().position(|line| line.starts_with("phrase")).unwrap() + 1;
    assert_eq!(well["phrases"][0]["line"], json!(first));
    assert!(well["phrases"][0]["safe"]["bpm"].as_f64().unwrap() > 0.0);

    let draft = text.replace("parry 4 ", "pary 4  ");
    let (_, ill) = desk.ask(&key, "check", &json!({ "file": FILE, "text": draft })).await;
    assert_eq!(ill["left_out"], json!(0));
    // Of very many the first are told, and how many more there are.
    let many = format!("{text}{}", "  nonsense on a line\n".repeat(2_000));
    let (_, many) = desk.ask(&key, "check", &json!({ "file": FILE, "text": many })).await;
    let told = many["findings"].as_array().unwrap().len() as u64;
    assert!(told == 500 && many["left_out"].as_u64().unwrap() >= 500, "{told}, {}", many["left_out"]);
    let finding = &ill["findings"][0];
    let line = draft.lines().position(|line| line.contains("pary 4")).unwrap() + 1;
    assert_eq!((&finding["severity"], &finding["line"]), (&json!("error"), &json!(line)));
    assert!(finding["help"].as_str().unwrap().contains("parry"), "{finding}");
    assert_eq!(ill["runs"], json!(false));
    assert_eq!(desk.text(), text, "checking writes nothing");

    let (_, formatted) = desk.ask(&key, "format", &json!({ "file": FILE, "text": "fight   X" })).await;
    assert_eq!(formatted["text"], json!("fight \"X\"\n"));
    let asked = json!({ "file": FILE, "text": text, "phrase": 0, "percent": 50 });
    let (_, preview) = desk.ask(&key, "preview", &asked).await;
    let moments = preview["moments"].as_array().unwrap();
    // 60 beats a minute at half speed: a beat lasts two seconds; four of them count in.
    assert_eq!(moments[0]["seconds"], json!(-8.0));
    assert_eq!((&moments[4]["seconds"], &moments[5]["seconds"]), (&json!(0.0), &json!(2.0)));
    let attack = text.lines().position(|line| line.contains("thrust belly")).unwrap() + 1;
    assert_eq!(moments[4]["lines"], json!([attack]));
    let (status, answer) =
        desk.ask(&key, "preview", &json!({ "file": FILE, "text": draft, "phrase": 0, "percent": 50 })).await;
    assert_eq!(status, 422, "{answer}");
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_else_has_it_open_is_told_and_a_flood_is_not_answered() {
    let desk = Desk::open().await;
    let (_one, ana) = desk.key(Role::Director, "Ana").await;
    let (_two, ines) = desk.key(Role::Desk, "Ines").await;
    let here = json!({ "file": FILE });
    assert_eq!(desk.ask(&ana, "here", &here).await.1["others"], json!([]));
    let (_, seen) = desk.ask(&ines, "here", &here).await;
    assert_eq!(seen["others"], json!([{ "name": "Ana", "role": "director" }]));
    let mut refused = 0;
    for _ in 0..200 {
        refused += u32::from(desk.ask(&ana, "here", &here).await.0 == 429);
    }
    assert!(refused > 0, "two hundred at once are too many");
    assert_eq!(desk.ask(&ines, "here", &here).await.0, 200, "nobody else waits for it");
    desk.house.stop().await;
}

/// A text of lines that are all different, and two ways of changing some of them: lines go, and new ones come.
fn two_edits() -> impl Strategy<Value = (Vec<String>, [Vec<Change>; 2])> {
    (1_usize..30).prop_flat_map(|count| {
        let base: Vec<String> = (0..count).map(|line| format!("line {line}\n")).collect();
        let change = || prop::collection::vec((0..count, any::<bool>(), 0_usize..3), 0..6);
        (Just(base), [change(), change()])
    })
}

/// At a line: whether it goes, and how many new ones come before it.
type Change = (usize, bool, usize);

/// The text after the changes; the lines that came; the lines that went.
fn changed(base: &[String], changes: &[Change], by: &str) -> (String, Vec<String>, Vec<String>) {
    let (mut text, mut came, mut went) = (String::new(), Vec::new(), Vec::new());
    for (number, line) in base.iter().enumerate() {
        for (nth, change) in changes.iter().enumerate().filter(|(_, change)| change.0 == number) {
            for new in 0..change.2 {
                came.push(format!("{by} {number} {nth} {new}\n"));
                text.push_str(&came[came.len() - 1]);
            }
        }
        if changes.iter().any(|change| change.0 == number && change.1) {
            went.push(line.clone());
        } else {
            text.push_str(line);
        }
    }
    (text, came, went)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Whatever two people do to a text: what comes out has the lines of both, or keeps both versions whole.
    #[test]
    fn two_edits_are_one_text_or_both_are_kept((base, [mine, theirs]) in two_edits()) {
        let (my_text, my_lines, my_gone) = changed(&base, &mine, "mine");
        let (their_text, their_lines, their_gone) = changed(&base, &theirs, "theirs");
        match merge(&base.concat(), &my_text, &their_text) {
            Merged::One(text) => {
                let has = |line: &String| text.split_inclusive('\n').any(|found| found == line);
                prop_assert!(my_lines.iter().chain(&their_lines).all(has), "every new line is there");
                prop_assert!(!my_gone.iter().chain(&their_gone).any(has), "no line is back that somebody took out");
                let kept = base.iter().filter(|line| !my_gone.contains(line) && !their_gone.contains(line));
                prop_assert!(kept.clone().all(has), "every line that nobody touched is there");
            }
            Merged::Two(pieces) => {
                let disputed = |piece: &Piece| matches!(piece, Piece::Both { .. });
                prop_assert!(pieces.iter().any(disputed));
                let side = |pick: fn(&Piece) -> &str| pieces.iter().map(pick).collect::<String>();
                let with_mine = side(|piece| match piece { Piece::Agreed(text) => text, Piece::Both { mine, .. } => mine });
                let with_theirs =
                    side(|piece| match piece { Piece::Agreed(text) => text, Piece::Both { theirs, .. } => theirs });
                let has = |text: &str, line: &String| text.split_inclusive('\n').any(|found| found == line);
                prop_assert!(my_lines.iter().all(|line| has(&with_mine, line)));
                prop_assert!(their_lines.iter().all(|line| has(&with_theirs, line)));
                prop_assert!(!my_gone.iter().any(|line| has(&with_mine, line)));
                prop_assert!(!their_gone.iter().any(|line| has(&with_theirs, line)));
            }
        }
    }
}

/// The worked example of the GNU diffutils manual ("Comparing Three Files": the texts lao, tzu and tao), which lists
/// where both changed the same lines. The texts are shortened here to a word a line; which lines differ is the
/// manual's: from memory, and checked against the `diff3` program itself where the machine has it.
#[test]
fn it_finds_the_conflicts_that_diff3_finds() {
    let common = "name\nexist\nnot\nsubtle\noutcome\ntwo\nalike\nnames\n";
    let lao = common.replace("name\nexist", "way\nname\nexist");
    let tzu = common.replace("names\n", "names\nmystery\n");
    let tao = common.replace("names\n", "names\ndoor\n");
    let (base, mine, theirs) = (tzu.replace("mystery\n", ""), tzu, tao);
    assert!(
        matches!(merge(&base, &lao, &mine), Merged::One(text) if text.starts_with("way\n") && text.ends_with("mystery\n"))
    );
    let folder = TempDir::new().unwrap();
    for (name, text) in [("base", &base), ("mine", &mine), ("theirs", &theirs), ("lao", &lao)] {
        fs::write(folder.path().join(name), text).unwrap();
    }
    let diff3 = |mine: &str, theirs: &str| {
        let run = std::process::Command::new("diff3").current_dir(&folder).args(["-m", mine, "base", theirs]).output();
        run.ok().and_then(|done| Some((done.status.code()? == 1, String::from_utf8(done.stdout).ok()?)))
    };
    let Merged::Two(pieces) = merge(&base, &mine, &theirs) else { panic!("both added a last line") };
    let both = Piece::Both { base: String::new(), mine: "mystery\n".into(), theirs: "door\n".into() };
    assert_eq!(pieces.last(), Some(&both));
    if let Some((conflict, _)) = diff3("mine", "theirs") {
        assert!(conflict);
    }
    if let (Some((conflict, text)), Merged::One(one)) = (diff3("lao", "mine"), merge(&base, &lao, &mine)) {
        assert_eq!((conflict, text), (false, one));
    }
}
