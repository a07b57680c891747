//! `holdfast listen` and `holdfast stand-ins` as people run them, against a desk on a loopback socket: what they print,
//! what they do, and how they end.

use std::process::{Output, Stdio};
use std::time::Duration;

use holdfast::wire::{Back, Stage, ToMember, ToServer};
use serde_json::Value;
use tokio::process::Command;

use crate::net::{Desk, SECRET};
use crate::net_messages::{cue, state};

fn start(arguments: &[&str]) -> tokio::process::Child {
    let mut command = Command::new(env!("CARGO_BIN_EXE_holdfast"));
    command.args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).kill_on_drop(true);
    command.spawn().unwrap()
}

async fn ended(child: tokio::process::Child) -> Output {
    tokio::time::timeout(Duration::from_secs(30), child.wait_with_output()).await.expect("it does not end").unwrap()
}

fn lines(output: &Output) -> Vec<Value> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.lines().map(|line| serde_json::from_str(line).expect(line)).collect()
}

fn find<'a>(lines: &'a [Value], kind: &str) -> &'a Value {
    lines.iter().find(|line| line["kind"] == kind).unwrap_or_else(|| panic!("no line of kind {kind}: {lines:#?}"))
}

#[tokio::test]
async fn listen_prints_what_it_hears_and_calls_a_hold_after_the_first_cue() {
    let mut desk = Desk::open().await;
    let url = desk.url(SECRET);
    let child = start(&["listen", &url, "--name", "Orla", "--hold-after", "0.3", "--reason", "too close"]);
    let joined = |said| if let ToServer::Join { name, .. } = said { Some(name) } else { None };
    assert_eq!(desk.hears(joined).await, "Orla");
    // While a run is under way it waits for the first cue.
    let mut running = state(desk.now_us(), 1);
    running.stage = Stage::Running;
    desk.say(ToMember::State(Box::new(running)));
    // Its clock is known once a pulse carries a bound.
    desk.hears(|said| matches!(said, ToServer::Pulse { bound_us: Some(_), .. }).then_some(())).await;
    desk.say(ToMember::Cue(Box::new(cue(1, 0, Some(desk.now_us() - 500_000)))));
    let hold = desk.hears(|said| if let ToServer::Hold(tap) = said { Some(tap) } else { None }).await;
    assert_eq!((hold.reason.as_deref(), hold.queued), (Some("too close"), false));
    desk.say(ToMember::Goodbye { reason: "The call is over.".into(), back: Back::ByItself });
    let output = ended(child).await;
    assert_eq!(output.status.code(), Some(0));
    let lines = lines(&output);
    assert_eq!(find(&lines, "welcome")["key"], Value::Null, "the key is a secret");
    assert!(find(&lines, "welcome")["received_us"].is_i64());
    assert_eq!(find(&lines, "cue")["phrase_name"], "Across the quay");
    let late = find(&lines, "late");
    assert!(late["late_us"].as_i64().unwrap() > 300_000 && late["due_us"].is_i64(), "{late}");
    assert_eq!(find(&lines, "hold")["tap"], hold.tap);
    assert_eq!(find(&lines, "held")["hold"], 1);
    assert_eq!(find(&lines, "goodbye")["reason"], "The call is over.");
    let order = |kind| lines.iter().position(|line| line["kind"] == kind).unwrap();
    assert!(order("welcome") < order("linked") && order("cue") < order("late") && order("hold") < order("held"));
}

#[tokio::test]
async fn listen_leaves_when_its_time_is_up_and_holds_without_a_run() {
    let mut desk = Desk::open().await;
    let url = desk.url(SECRET);
    let child = start(&["listen", &url, "--hold-after", "0", "--for", "0.6"]);
    desk.hears(|said| matches!(said, ToServer::Hold(_)).then_some(())).await;
    desk.hears(|said| matches!(said, ToServer::Leave {}).then_some(())).await;
    assert_eq!(ended(child).await.status.code(), Some(0));
}

#[tokio::test]
async fn a_refusal_ends_with_1_and_its_words() {
    let desk = Desk::open().await;
    let url = desk.url("wrong");
    for command in ["listen", "stand-ins"] {
        let output = ended(start(&[command, &url])).await;
        assert_eq!(output.status.code(), Some(1), "{command}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("This invitation is worth nothing."), "{command}: {said}");
        assert_eq!(said.lines().count(), 1, "one sentence");
    }
}

#[tokio::test]
async fn nobody_there_and_no_link_end_with_2_and_a_sentence() {
    let nobody = Desk::open().await.url(SECRET);
    for command in ["listen", "stand-ins"] {
        for (url, words) in [
            (nobody.as_str(), "cannot be reached"),
            ("desk", "is not a link"),
            ("http://127.0.0.1:9/join", "no secret"),
        ] {
            let output = ended(start(&[command, url])).await;
            assert_eq!(output.status.code(), Some(2), "{command} {url}");
            let said = String::from_utf8(output.stderr).unwrap();
            assert!(said.contains(words) && said.lines().count() == 1, "{command} {url}: {said}");
            assert!(!said.contains(SECRET), "the secret stays secret");
        }
    }
}

#[tokio::test]
async fn stand_ins_take_the_free_parts_hold_when_told_and_end_with_their_figures() {
    let mut desk = Desk::open().await;
    let url = desk.url(SECRET);
    let child =
        start(&["stand-ins", &url, "--count", "3", "--names", "Zan,Ode", "--hold-after", "0", "--hold-by", "2"]);
    let joined = |said| if let ToServer::Join { name, part, .. } = said { Some((name, part)) } else { None };
    let mut people = Vec::new();
    // Each has its welcome before anything else that is said to all: the desk answers a join before it says it was there.
    for _ in 0..3 {
        people.push(desk.hears(joined).await);
    }
    people.sort();
    let expected = [("Alvy", None), ("Ode", None), ("Zan", Some("OSK"))];
    assert_eq!(people, expected.map(|(name, part): (&str, Option<&str>)| (name.to_owned(), part.map(str::to_owned))));
    desk.say(ToMember::Cue(Box::new(cue(1, 0, Some(desk.now_us() + 50_000)))));
    // A tap that was not answered would be brought once more after the goodbye.
    let (mut reports, mut taps) = (0, 0);
    while reports < 3 || taps < 1 {
        let said = desk.hears(|said| match said {
            ToServer::Report(_) => Some((1, 0)),
            ToServer::Hold(_) => Some((0, 1)),
            _ => None,
        });
        let (report, tap) = said.await;
        (reports, taps) = (reports + report, taps + tap);
    }
    desk.say(ToMember::Goodbye { reason: "The call is over.".into(), back: Back::Never });
    let output = ended(child).await;
    assert_eq!(output.status.code(), Some(0));
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("3 stand-ins join “The Salt Stair” as performer."), "{said}");
    assert!(said.contains("0 of 3 linked; cues "), "{said}");
}
