//! The review of the newest calls of a long journal is the review of the days on which they were; and damage before them
//! is none of its business, damage in them is.

use holdfast::journal::{FILE_NAME, Reader};
use holdfast::review::{Extent, Filter, House, Review, html, story, text};
use rusqlite::Connection;
use serde_json::Value;

use crate::report::season;

/// So small that a season is long.
fn house(calls: usize, first: usize) -> House {
    House { extent: Extent { calls, first, short: 0, ..Extent::default() }, ..House::default() }
}

/// What a review says, without what it says of itself, and of whom it knows as understudy from the calls before.
fn said(review: &Review) -> Value {
    let mut value = serde_json::to_value(review).unwrap();
    for field in ["filter", "older", "notes", "choices", "weapons"] {
        value.as_object_mut().unwrap().remove(field);
    }
    for call in value["calls"].as_array_mut().unwrap() {
        call.as_object_mut().unwrap().remove("understudies");
    }
    value
}

/// Where two values differ, so that a person finds it.
fn differ(at: &str, one: &Value, other: &Value) -> Vec<String> {
    match (one, other) {
        (Value::Object(a), Value::Object(b)) if a.keys().eq(b.keys()) => {
            a.iter().flat_map(|(key, value)| differ(&format!("{at}.{key}"), value, &b[key])).collect()
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().flat_map(|(n, (a, b))| differ(&format!("{at}.{n}"), a, b)).collect()
        }
        _ if one == other => Vec::new(),
        _ => vec![format!("{at}: {one} is not {other}")],
    }
}

#[test]
fn the_newest_calls_are_reviewed_as_their_days_are() {
    let folder = tempfile::tempdir().unwrap();
    let whole = season(folder.path());
    assert_eq!(whole.older, None);
    let reader = Reader::open(folder.path()).unwrap();
    for (calls, first) in [(1, 1), (1, 5_000), (7, 16), (12, 300), (29, 64)] {
        let newest = Review::of(&reader, &house(calls, first), &Filter::default()).unwrap();
        let older = newest.older.clone().unwrap();
        assert_eq!((older.looked_at, newest.calls.len(), older.in_the_middle), (calls, calls, false));
        assert_eq!(older.begun.as_deref(), Some("2026-03-03"));
        let since = Filter { since: newest.calls[0].day.parse().ok(), ..Filter::default() };
        let of_days = Review::of(&reader, &House::default(), &since).unwrap();
        let nothing: Vec<String> = Vec::new();
        assert_eq!(differ("newest", &said(&newest), &said(&of_days)), nothing, "{calls} calls, read from {first} on");
        assert!(of_days.older.is_none(), "who names days gets what was asked for");
        // The end of the journal is enough for days near it as well.
        let quick = Review::of(&reader, &house(1, first), &since).unwrap();
        assert_eq!(differ("since", &said(&quick), &said(&of_days)), nothing, "{calls} calls, read from {first} on");
        for page in [html::page(&newest, &House::default().ladder), text::text(&newest)] {
            assert!(page.contains(&older.says()), "{}", older.says());
        }
    }
    let whole = said(&Review::of(&reader, &House::default(), &Filter::default()).unwrap());
    for enough in [30, 31] {
        let all = Review::of(&reader, &house(enough, 64), &Filter::default()).unwrap();
        assert_eq!(differ("whole", &said(&all), &whole), Vec::<String>::new());
        assert_eq!(all.older, None);
    }
}

#[test]
fn calls_up_to_a_day_are_counted_from_that_day_back() {
    let folder = tempfile::tempdir().unwrap();
    let whole = season(folder.path());
    let reader = Reader::open(folder.path()).unwrap();
    let until = Filter { until: whole.calls[9].day.parse().ok(), ..Filter::default() };
    let newest = Review::of(&reader, &house(4, 32), &until).unwrap();
    let days = |review: &Review| review.calls.iter().map(|call| call.day.clone()).collect::<Vec<_>>();
    assert_eq!(days(&newest), days(&whole)[6..10]);
}

#[test]
fn of_a_call_without_an_end_the_newest_events_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let whole = season(folder.path());
    let extent = Extent { calls: 1_000, events: 40, first: 8, short: 0 };
    let reader = Reader::open(folder.path()).unwrap();
    let newest = Review::of(&reader, &House { extent, ..House::default() }, &Filter::default()).unwrap();
    let older = newest.older.unwrap();
    assert!(newest.totals.runs < whole.calls.last().unwrap().runs.len() + 8, "{:?}", newest.totals);
    assert!(older.says().starts_with("Only the newest "), "{}", older.says());
}

#[test]
fn damage_is_found_in_what_is_counted_and_left_to_verify_before_it() {
    for (which, found) in [("MIN(seq)", false), ("MAX(seq)", true)] {
        let folder = tempfile::tempdir().unwrap();
        season(folder.path());
        let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
        db.execute_batch("DROP TRIGGER events_no_update").unwrap();
        let hurt =
            format!("UPDATE events SET reason = 'other' WHERE seq = (SELECT {which} FROM events WHERE kind = 'hold')");
        assert_eq!(db.execute(&hurt, []).unwrap(), 1);
        db.close().unwrap();
        let (review, damage) = Review::of_good(folder.path(), &house(12, 64), &Filter::default()).unwrap();
        assert_eq!((damage.is_empty(), review.calls.len()), (!found, 12), "{which}: {damage:?}");
        let (_, damage) = Review::of_good(folder.path(), &House::default(), &Filter::default()).unwrap();
        assert!(!damage.is_empty(), "of a short journal every row is looked at");
    }
}

#[test]
fn a_hold_older_than_what_is_counted_is_told_by_its_day() {
    let folder = tempfile::tempdir().unwrap();
    let whole = season(folder.path());
    let reader = Reader::open(folder.path()).unwrap();
    let house = house(3, 64);
    let newest = Review::of(&reader, &house, &Filter::default()).unwrap();
    let old = whole.fights.iter().flat_map(|fight| &fight.breaks).min_by_key(|it| it.event).unwrap();
    assert!(old.event < newest.older.as_ref().unwrap().first_event);
    assert!(story(&reader, &house, &newest, old.event).unwrap().is_none());
    let utc = reader.time_of_event(old.event).unwrap().unwrap();
    let then = Review::of(&reader, &house, &house.around(&utc)).unwrap();
    let told = story(&reader, &house, &then, old.event).unwrap().unwrap();
    assert_eq!((told.broke.utc, told.broke.words), (old.utc.clone(), old.words.clone()));
}
