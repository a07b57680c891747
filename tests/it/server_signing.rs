//! The record of a fight call on a real server: checks are signed, people noted, the server is started anew in the
//! middle of it, the call is ended with a signature, and the review tells all of it.

use std::fs;
use std::path::{Path, PathBuf};

use holdfast::call::Role;
use holdfast::journal::Reader;
use holdfast::review::{self, CallRecord, Filter, Review};
use holdfast::wire::{CheckView, ToServer};

use crate::support::house::{House, Person};

const CHECKS: [&str; 2] = ["weapons counted", "floor dry"];

/// A production whose company checks two things.
fn production(folder: &Path) -> PathBuf {
    let dir = folder.join("production");
    holdfast::production::start(&dir).unwrap();
    list_checks(&dir, &CHECKS);
    dir
}

fn list_checks(dir: &Path, checks: &[&str]) {
    let file = dir.join("production.toml");
    let text = fs::read_to_string(&file).unwrap();
    let at = text.find("before_call = ").unwrap();
    let line = text[at..].lines().next().unwrap();
    fs::write(&file, text.replace(line, &format!("before_call = {checks:?}"))).unwrap();
}

async fn until_checks(person: &Person, what: &str, is_so: impl Fn(&[CheckView]) -> bool) -> Vec<CheckView> {
    let seen = person.until(what, |seen| seen.known.checks.as_deref().is_some_and(&is_so)).await;
    seen.known.checks.clone().unwrap()
}

fn sign(check: &str, in_order: bool, by: Option<&str>) -> ToServer {
    ToServer::Sign { check: check.into(), in_order, note: Some("counted twice".into()), by: by.map(str::to_owned) }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_is_signed_across_a_restart_and_told_in_its_record() {
    let folder = tempfile::tempdir().unwrap();
    let dir = production(folder.path());
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    lotte.say(sign(CHECKS[1], true, None));
    captain.say(sign(CHECKS[0], true, Some("Rina Osk")));
    desk.say(ToServer::Attend { person: "Ayo".into(), present: false });
    until_checks(&desk, "sees the signature", |checks| checks[0].signed.is_some()).await;
    desk.until("sees who is absent", |seen| seen.known.attendance.as_ref().unwrap().len() == 1).await;
    house.stop().await;

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Tove", None).await;
    let checks = until_checks(&desk, "knows what was signed", |checks| !checks.is_empty()).await;
    let signed = checks[0].signed.as_ref().unwrap();
    assert_eq!((signed.by.as_str(), signed.note.as_deref()), ("Rina Osk", Some("counted twice")));
    assert!(signed.at_us < house.clock.now().0);
    assert_eq!(checks[1].signed, None, "a performer has no power to sign");
    // The list is the company's: what it writes into the file meanwhile is on the desk soon after.
    list_checks(&dir, &[CHECKS[0], CHECKS[1], "marks in place"]);
    until_checks(&desk, "has the new list", |checks| checks.len() == 3).await;
    desk.say(sign(CHECKS[1], false, None));
    until_checks(&desk, "sees the second", |checks| checks[1].signed.is_some()).await;
    desk.say(ToServer::EndCall { signed_by: Some("Ines Maat".into()) });
    until_checks(&desk, "begins anew", |checks| checks.iter().all(|check| check.signed.is_none())).await;
    house.stop().await;

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    until_checks(&desk, "begins a new call", |checks| checks.iter().all(|check| check.signed.is_none())).await;
    house.stop().await;

    let record = record(&dir);
    let told: Vec<_> = record.checks.iter().map(|it| (&*it.check, it.signed_by.as_deref(), it.in_order)).collect();
    assert_eq!(told, [(CHECKS[0], Some("Rina Osk"), true), (CHECKS[1], Some("Tove"), false)]);
    assert_eq!(record.absent.iter().map(|person| &*person.who).collect::<Vec<_>>(), ["Ayo"]);
    assert_eq!((record.ended_by.as_deref(), record.signed_by.as_deref()), (Some("Tove"), Some("Ines Maat")));
    assert_eq!(record.restarts, 1);
}

fn record(dir: &Path) -> CallRecord {
    let reader = Reader::open(dir).unwrap();
    let house = review::House { before_call: CHECKS.map(str::to_owned).to_vec(), ..review::House::default() };
    let mut calls = Review::of(&reader, &house, &Filter::default()).unwrap().calls;
    assert_eq!(calls.len(), 1, "a restart does not end a call, and joining anew makes none");
    calls.remove(0)
}
