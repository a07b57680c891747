//! The live review over HTTP: who may ask, what a filter that cannot be meant is told, that a hold shows up in it with
//! what everybody's phone had shown, and that what it gives is what `holdfast report` prints.

use std::fs;
use std::path::{Path, PathBuf};

use holdfast::call::Role;
use holdfast::event::EventKind;
use holdfast::journal::{EventFilter, Reader};
use holdfast::wire::Stage;
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::support::house::House;
use crate::support::raw::Raw;

struct Hall {
    house: House,
    dir: PathBuf,
    place: String,
    _folder: TempDir,
}

impl Hall {
    async fn open() -> Hall {
        let folder = TempDir::new().unwrap();
        let dir = folder.path().join("production");
        holdfast::production::start(&dir).unwrap();
        Hall::serve(folder, dir).await
    }

    async fn serve(folder: TempDir, dir: PathBuf) -> Hall {
        let house = House::of_folder(&dir).await;
        let place = house.address(Role::Director).place().to_string();
        Hall { house, dir, place, _folder: folder }
    }

    async fn key(&self, role: Role, name: &str) -> (Raw, String) {
        Raw::join(&self.house.address(role), name).await
    }

    /// Status, media type and body.
    async fn post(&self, headers: &str, path: &str, body: &Value) -> (u16, String, String) {
        let mut stream = TcpStream::connect(&self.place).await.unwrap();
        let body = body.to_string();
        let head = format!(
            "POST /api/{path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: {}\r\n{headers}\r\n",
            self.place,
            body.len()
        );
        stream.write_all(head.as_bytes()).await.unwrap();
        let _ = stream.write_all(body.as_bytes()).await;
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer).await;
        let answer = String::from_utf8(answer).unwrap();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
        let status = head.split(' ').nth(1).unwrap_or("0").parse().unwrap();
        let kind = head.lines().find_map(|line| line.strip_prefix("content-type: ")).unwrap_or("");
        (status, kind.to_owned(), body.to_owned())
    }

    async fn ask(&self, key: &str, path: &str, body: &Value) -> (u16, Value) {
        let (status, _, body) = self.post(&format!("Authorization: Bearer {key}\r\n"), path, body).await;
        (status, serde_json::from_str(&body).unwrap_or(Value::Null))
    }

    async fn markup(&self, key: &str, filter: &Value) -> String {
        let (status, page) = self.ask(key, "review", filter).await;
        assert_eq!(status, 200, "{page}");
        page["markup"].as_str().unwrap().to_owned()
    }
}

fn nothing() -> Value {
    json!({ "since": null, "until": null, "fight": null, "phrase": null })
}

/// A run in which somebody holds at the first move that they see, with a note; released.
async fn a_held_run(hall: &Hall) {
    let desk = hall.house.join(Role::Desk, "Ines", None).await;
    let alder = hall.house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    let _bryony = hall.house.join(Role::Performer, "Yusuf", Some("BRYONY")).await;
    desk.run_the_fight(150).await;
    let count_in = 2;
    alder.until("has had a move", |seen| seen.cue.is_some_and(|cue| cue > count_in)).await;
    alder.hand.hold(Some("lost my grip".into()));
    desk.until("sees it written", |seen| seen.state.as_ref().unwrap().hold.as_ref().is_some_and(|it| it.written)).await;
    desk.release();
    desk.until_stage(Stage::Stopped).await;
    until_written(&hall.dir, EventKind::Release).await;
}

/// What everybody sees is told at once; the log has it a moment later.
async fn until_written(dir: &Path, kind: EventKind) {
    let wanted = EventFilter { kind: Some(kind), ..EventFilter::default() };
    for _ in 0..2_000 {
        if !Reader::open(dir).unwrap().events(wanted).unwrap().is_empty() {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    panic!("{} was never written", kind.word());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn everybody_with_a_key_may_read_and_nobody_else() {
    let hall = Hall::open().await;
    for (number, role) in Role::ALL.into_iter().enumerate() {
        let (_link, key) = hall.key(role, &format!("Reader {number}")).await;
        assert!(hall.markup(&key, &nothing()).await.contains("Nothing was run."), "{role:?}");
    }
    let (_link, key) = hall.key(Role::Observer, "Mo").await;
    for path in ["review", "review/order", "review/part", "review/event", "review/file"] {
        for headers in ["", "Authorization: Bearer 0000\r\n", "Authorization: Basic 0000\r\n"] {
            let (status, _, said) = hall.post(headers, path, &nothing()).await;
            assert_eq!(status, 401, "{path} {headers}");
            assert!(said.contains("key is not valid"));
        }
        let foreign = format!("Authorization: Bearer {key}\r\nOrigin: http://elsewhere.example\r\n");
        assert_eq!(hall.post(&foreign, path, &nothing()).await.0, 403, "{path}");
        let (status, said) = hall.ask(&key, path, &json!({ "nonsense": 1 })).await;
        assert_eq!(status, 400, "{path}");
        assert!(said["reason"].as_str().unwrap().contains("not understood"));
    }
    hall.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hold_shows_up_with_what_the_phones_had_shown() {
    let hall = Hall::open().await;
    let (_link, key) = hall.key(Role::Captain, "Bram").await;
    let before = hall.ask(&key, "review", &nothing()).await.1["rows"].as_i64().unwrap();
    a_held_run(&hall).await;
    let (_, page) = hall.ask(&key, "review", &nothing()).await;
    assert!(page["rows"].as_i64().unwrap() > before, "what was counted of a shorter journal is not given again");
    let markup = page["markup"].as_str().unwrap();
    assert!(markup.contains("1 run: 0 to the end, 1 held, 0 stopped"), "{markup}");
    let fight = page["choices"][0]["fight"].as_str().unwrap();
    let phrase = page["choices"][0]["phrases"][0].as_str().unwrap();
    for inline in ["<style", "style=", "<script", "javascript:", " on"] {
        assert!(!markup.split('<').any(|tag| tag.split('>').next().unwrap().contains(inline)), "{inline} is forbidden");
    }

    // The order that stands on the page is the one that a call can be set up with.
    let (status, order) = hall.ask(&key, "review/order", &nothing()).await;
    assert_eq!(status, 200);
    for row in order["rows"].as_array().unwrap() {
        assert_eq!((&row["fight"], &row["first"]), (&page["choices"][0]["fight"], &row["last"]));
        assert!(markup.contains(row["why"].as_str().unwrap()), "{row}");
        assert!((1..=150).contains(&row["percent"].as_u64().unwrap()) && row["minutes"].as_u64().unwrap() > 0);
    }

    let event = markup.split("href=\"#e").nth(1).unwrap().split('"').next().unwrap();
    let asked = json!({ "event": event.parse::<u64>().unwrap() });
    let (status, story) = hall.ask(&key, "review/event", &asked).await;
    let story = story["markup"].as_str().unwrap();
    assert_eq!(status, 200);
    for told in ["lost my grip", "Lotte", "Yusuf", "Released by Ines", "What the phones had shown", " ms</td>"] {
        assert!(story.contains(told), "{told}: {story}");
    }
    assert_eq!(story.matches(&format!("<td>{phrase}, beat")).count(), 3, "every page says where it was: {story}");

    // Folds are empty until they are asked for, and then hold what the report has there.
    assert!(markup.contains("data-part=\"breaks-0\"") && !markup.contains(&format!("id=\"e{event}\"")));
    let part = |part: &str| json!({ "filter": nothing(), "part": part });
    let (_, piece) = hall.ask(&key, "review/part", &part("breaks-0")).await;
    assert!(piece["markup"].as_str().unwrap().contains(&format!("id=\"e{event}\"")));
    for none in ["breaks-7", "breaks", "call-99", "nothing-0", "moves-18446744073709551616"] {
        let (status, said) = hall.ask(&key, "review/part", &part(none)).await;
        assert_eq!((status, said["reason"].as_str().unwrap().contains("Load the page again")), (404, true), "{none}");
    }
    let (status, said) = hall.ask(&key, "review/event", &json!({ "event": 1 })).await;
    assert_eq!(status, 404, "the first event is the server's start");
    assert!(said["reason"].as_str().unwrap().contains("no hold or stop"));

    // A beginning of a name is enough, and what it meant is told.
    let (_, named) = hall.ask(&key, "review", &json!({ "fight": fight[..3].to_lowercase(), "phrase": " " })).await;
    assert_eq!((&named["filter"]["fight"], &named["filter"]["phrase"]), (&json!(fight), &Value::Null));
    hall.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_meant_is_told_in_a_sentence() {
    let hall = Hall::open().await;
    a_held_run(&hall).await;
    let (_link, key) = hall.key(Role::Director, "Ana").await;
    let rows = [
        (json!({ "since": "soon" }), "“soon” is no day. Write a day as year, month and day: 2026-03-01."),
        (json!({ "until": "2026-02-30" }), "“2026-02-30” is no day."),
        (json!({ "since": "2026-03-02", "until": "2026-03-01" }), "The first day, 2026-03-02, comes after the last"),
        (json!({ "fight": "nothing" }), "No fight of the journal is called “nothing”. There is: "),
        (json!({ "phrase": "<b>" }), "No phrase of the journal is called “<b>”. There is: "),
    ];
    for (filter, says) in rows {
        let (status, said) = hall.ask(&key, "review", &filter).await;
        assert_eq!(status, 422, "{filter}");
        assert!(said["reason"].as_str().unwrap().starts_with(says), "{said}");
    }
    let none = hall.markup(&key, &json!({ "since": "2999-01-01" })).await;
    assert!(none.contains("Nothing was run."));
    hall.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_files_are_those_of_the_report() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("season");
    let mut demo = std::process::Command::new(env!("CARGO_BIN_EXE_holdfast"));
    let made = demo.args(["demo", "--season", "--keep"]).arg(&dir).output().unwrap();
    assert!(made.status.success());
    let hall = Hall::serve(folder, dir).await;
    let (_link, key) = hall.key(Role::Director, "Ana").await;
    let filter = json!({ "fight": "the lantern" });
    let headers = format!("Authorization: Bearer {key}\r\n");
    let kinds = [
        ("html", "text/html; charset=utf-8", "html", ""),
        ("json", "application/json", "json", ""),
        ("phrases", "text/csv; charset=utf-8", "csv", "phrases"),
        ("moves", "text/csv; charset=utf-8", "csv", "moves"),
        ("breaks", "text/csv; charset=utf-8", "csv", "breaks"),
        ("runs", "text/csv; charset=utf-8", "csv", "runs"),
        ("calls", "text/csv; charset=utf-8", "csv", "calls"),
    ];
    for (file, kind, format, table) in kinds {
        let asked = json!({ "filter": filter, "file": file });
        let (status, told, body) = hall.post(&headers, "review/file", &asked).await;
        assert_eq!((status, told.as_str()), (200, kind), "{file}");
        assert_eq!(body.trim_end(), report(&hall.dir, format, table).trim_end(), "{file}");
    }
    // An empty review of a fight is no review of the season: a selection is a selection.
    let all = hall.markup(&key, &nothing()).await;
    let one = hall.markup(&key, &filter).await;
    assert!(all.len() > one.len() && one.contains("only “The Lantern Bridge”"));
    hall.house.stop().await;
}

fn report(dir: &Path, format: &str, table: &str) -> String {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_holdfast"));
    command.arg("report").arg(dir).args(["--fight", "the lantern", "--format", format]);
    if !table.is_empty() {
        command.args(["--table", table]);
    }
    String::from_utf8(command.output().unwrap().stdout).unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_production_that_changes_its_rules_is_counted_anew() {
    let hall = Hall::open().await;
    a_held_run(&hall).await;
    let (_link, key) = hall.key(Role::Director, "Ana").await;
    let rule = |markup: &str| markup.contains("7 clean runs in a row");
    assert!(!rule(&hall.markup(&key, &nothing()).await));
    let file = hall.dir.join("production.toml");
    let text = fs::read_to_string(&file).unwrap();
    let line = text.lines().find(|line| line.trim_start_matches("# ").starts_with("up_after")).unwrap();
    fs::write(&file, text.replace(line, "up_after = 7")).unwrap();
    for _ in 0..200 {
        if rule(&hall.markup(&key, &nothing()).await) {
            return hall.house.stop().await;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    panic!("the new rule was never taken");
}
