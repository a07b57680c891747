//! How long it takes to review a season: 200 runs of each of 10 fights of 400 moves, with reports of four phones. With
//! HOLDFAST_SEASON=DIR the season is left in that folder: `clients/measure/review.measure.ts` opens the page on it.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::fmt::Write;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use holdfast::event::{Called, Cast, Event, HoldId, Revision, RunBegun, RunEnd, RunEnded, Spot, What};
use holdfast::journal::{FILE_NAME, Journal, Reader, Record, Report, SessionStart};
use holdfast::review::{Filter, House, Review, html};
use holdfast::units::ServerTime;
use jiff::Timestamp;

const FIGHTS: u32 = 10;
const RUNS: u32 = 200;
const PHRASES: u32 = 10;
const MOVES: u32 = 40;

fn benches(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    season(folder.path());
    if let Some(kept) = std::env::var_os("HOLDFAST_SEASON") {
        std::fs::copy(folder.path().join(FILE_NAME), Path::new(&kept).join(FILE_NAME)).unwrap();
    }
    let house = House::default();
    let mut group = criterion.benchmark_group("review");
    group.sample_size(10);
    group.bench_function("a season of 2,000 runs from disk", |bench| {
        bench.iter(|| Review::of(&Reader::open(folder.path()).unwrap(), &house, &Filter::default()).unwrap());
    });
    let review = Review::of(&Reader::open(folder.path()).unwrap(), &house, &Filter::default()).unwrap();
    assert_eq!(review.totals.runs, (FIGHTS * RUNS) as usize);
    group.bench_function("its page", |bench| bench.iter(|| html::page(&review, &house.ladder)));
    group.bench_function("its JSON", |bench| bench.iter(|| serde_json::to_string(&review).unwrap()));
}

fn season(folder: &Path) {
    let begin: Timestamp = "2026-01-05T18:30:00Z".parse().unwrap();
    let journal = Journal::open(folder, &SessionStart { utc: begin, server: "bench".into() }).unwrap();
    let mut now_us = 1_000_000;
    let mut number = 0;
    for round in 0..RUNS {
        for fight in 0..FIGHTS {
            number += 1;
            now_us += 400_000_000;
            // A new revision in the middle of the season.
            run(&journal, begin, &mut now_us, number, &format!("Fight {fight}"), if round < 100 { 84 } else { 90 });
        }
    }
    journal.close().unwrap();
}

fn run(journal: &Journal, begin: Timestamp, now_us: &mut i64, run: u32, fight: &str, tempo: u32) {
    let utc = |us: i64| Timestamp::from_microsecond(begin.as_microsecond() + us).unwrap();
    let (text, sha256) = (text(fight, tempo), format!("{fight:0>60}{tempo:0>4}"));
    let spot = |phrase: u32, number: u32| Spot {
        cue: None,
        phrase,
        phrase_name: format!("Phrase {phrase}"),
        beat: number.to_string(),
        number: Some(number),
        words: Some("MARET cut head / OSK parry 5".into()),
    };
    let at = utc(*now_us);
    journal.record(Record::of(at, Revision { sha256: sha256.clone(), fight: fight.into(), text }));
    let playing = [("MARET", "Bea"), ("OSK", "Cem")].into_iter();
    let cast =
        playing.map(|(part, person)| Cast { part: part.into(), person: person.into(), member: Some(1), covers: None });
    let begun = RunBegun {
        run,
        revision: sha256,
        fight: fight.into(),
        weapons: None,
        from_phrase: 0,
        from_name: "Phrase 0".into(),
        from_move: None,
        to_phrase: PHRASES - 1,
        to_name: format!("Phrase {}", PHRASES - 1),
        percent: Some(80),
        count_in: 4,
        drive: "clock".into(),
        server_us: *now_us,
        item: None,
        cast: cast.collect(),
    };
    journal.record(Record::of(at, begun.clone()));
    let event =
        |us: i64, what: What| Event { run: Some(run), ..Event::new(journal.next_event(), ServerTime(us), what) };
    let start = What::Start { anyway: None, begun: Some(Box::new(begun)) };
    journal.record(Record::of(at, event(*now_us, start)));
    let last = if run.is_multiple_of(3) { run % PHRASES } else { PHRASES - 1 };
    for phrase in 0..=last {
        let begins = Event { spot: Some(spot(phrase, 0)), percent: Some(80), ..event(*now_us, What::Phrase) };
        journal.record(Record::of(utc(*now_us), begins));
        for cue in 0..MOVES {
            for member in 1..=4 {
                let report = Report {
                    run,
                    member,
                    cue: phrase * MOVES + cue,
                    due_us: *now_us,
                    fired_us: *now_us + 9_000,
                    bound_us: Some(3_000),
                };
                // Only the newest runs are looked at; the others' reports would only make the season slow to write.
                if run + 60 > FIGHTS * RUNS {
                    journal.record(Record::Report(report));
                }
            }
        }
        *now_us += 20_000_000;
    }
    let call = Called { hold: HoldId(run), tap: None, reason: None, screen: None };
    let held = What::Hold { call, under_way: Vec::new() };
    let what = if run.is_multiple_of(3) { held } else { What::Complete };
    let (sent, received) = std::sync::mpsc::channel();
    let ending = Event { spot: Some(spot(last, 7)), ..event(*now_us, what) };
    journal.record_then(Record::of(utc(*now_us), ending), Box::new(move |_| sent.send(()).unwrap()));
    received.recv().unwrap();
    let how = if run.is_multiple_of(3) { RunEnd::Held } else { RunEnd::Complete };
    let (first, last) = (Some(spot(0, 1)), Some(spot(last, 7)));
    let ended = RunEnded { run, how, first, last, at: ServerTime(*now_us) };
    journal.record(Record::of(utc(*now_us), ended));
}

fn text(fight: &str, tempo: u32) -> String {
    let mut text = format!("fight \"{fight}\"\ntempo {tempo}\nfighters\n  MARET rapier right\n  OSK rapier left\n");
    for phrase in 0..PHRASES {
        let _ = writeln!(text, "phrase \"Phrase {phrase}\"");
        for beat in (1..=MOVES).step_by(2) {
            let _ = writeln!(text, "  {beat} MARET cut head / OSK parry 5 ! steel");
            let _ = writeln!(text, "  {} OSK thrust belly / MARET parry 4 ! steel", beat + 1);
        }
    }
    text
}

criterion_group!(all, benches);
criterion_main!(all);
