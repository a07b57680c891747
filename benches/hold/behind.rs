//! A hold behind something: while a state goes to everybody, in a run, while a cue goes to everybody; beside a hold that
//! nothing is in front of, in the same rounds. And the cue by itself: from the first member who gets it to the last.

use std::ops::Range;
use std::time::Duration;

use holdfast::units::Micros;
use holdfast::wire::{Stage, ToServer};

use super::crowd::{Crowd, Stuck};
use super::figures::{median, percentile};
use super::hold::{LIMIT, Sample, hold, tap};
use super::holdfast::{Door, Holdfast};
use super::options::Options;
use super::sighting::{Kind, Sighting};
use super::system::System;
use super::table::Table;

/// Long enough for what a start brings to be over.
const CALM: Micros = Micros::millis(120);

/// What is in front of the hold.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Before {
    Nothing,
    State,
    Run,
    Cue,
}

const ALL: [(Before, &str); 4] = [
    (Before::Nothing, "nothing"),
    (Before::State, "behind a state"),
    (Before::Run, "in a run"),
    (Before::Cue, "behind a cue"),
];

/// What was measured with one of them in front.
#[derive(Default)]
struct Measured {
    samples: Vec<Sample>,
    /// How many members still got what was in front.
    passed: Vec<i64>,
}

/// Prints the table.
pub(crate) fn behind(options: &Options) {
    println!("\nA HOLD BEHIND SOMETHING, Holdfast with N observers, plain TCP\n");
    println!(
        "The tap is written when the first member has the state or the cue, which is then on its way to all others. More: the"
    );
    println!(
        "difference of the medians to a hold with nothing before it, µs. Got it: how many members were still sent the cue or"
    );
    println!("state (median). The cue by itself: from the first member who has it to the last.\n");
    let mut table = Table::new(&["N", "before it", "holds", "first", "p50", "p99", "more", "got it", ""]);
    for &members in options.sizes.iter().filter(|members| **members <= 1_000) {
        let mut crowd = Crowd::new();
        match of_size(options, &mut crowd, members) {
            Ok(rows) => rows.into_iter().for_each(|row| table.row(row)),
            Err(stuck) => table.row(vec![members.to_string(), "stuck".into(), stuck.to_string()]),
        }
    }
}

fn of_size(options: &Options, crowd: &mut Crowd, members: usize) -> Result<Vec<Vec<String>>, Stuck> {
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    let mut all: [Measured; 4] = Default::default();
    let mut cues = Vec::new();
    for round in 0..options.rounds * options.few() {
        for ((before, _), measured) in ALL.iter().zip(&mut all) {
            let (sample, passed) = one(&mut holdfast, crowd, *before, round, &mut cues)?;
            measured.samples.push(sample);
            measured.passed.push(passed);
        }
    }
    let quiet = median(all[0].samples.iter().map(|sample| sample.last));
    let mut rows: Vec<_> =
        ALL.iter().zip(&all).map(|((_, name), measured)| row(members, name, measured, quiet)).collect();
    rows.push(cue_row(members, &cues));
    Ok(rows)
}

fn row(members: usize, name: &str, measured: &Measured, quiet: i64) -> Vec<String> {
    let last: Vec<i64> = measured.samples.iter().map(|sample| sample.last.0).collect();
    let p50 = percentile(&last, 0.5);
    vec![
        members.to_string(),
        name.to_owned(),
        last.len().to_string(),
        median(measured.samples.iter().map(|sample| sample.first)).to_string(),
        p50.to_string(),
        percentile(&last, 0.99).to_string(),
        (p50 - quiet).to_string(),
        percentile(&measured.passed, 0.5).to_string(),
        String::new(),
    ]
}

fn cue_row(members: usize, cues: &[Micros]) -> Vec<String> {
    let spans: Vec<i64> = cues.iter().map(|cue| cue.0).collect();
    vec![
        members.to_string(),
        "(a cue)".into(),
        spans.len().to_string(),
        "0".into(),
        percentile(&spans, 0.5).to_string(),
        percentile(&spans, 0.99).to_string(),
        String::new(),
        members.to_string(),
        String::new(),
    ]
}

/// One hold with that in front of it. Cues that went to all before it are added to `cues`.
fn one(
    holdfast: &mut Holdfast,
    crowd: &mut Crowd,
    before: Before,
    round: usize,
    cues: &mut Vec<Micros>,
) -> Result<(Sample, i64), Stuck> {
    let members = holdfast.members();
    let in_front = match before {
        Before::Nothing => return hold(holdfast, crowd, round * 7).map(|sample| (sample, 0)),
        Before::State => {
            holdfast.desk.places(crowd)?;
            crowd.quiet(CALM);
            crowd.seen.clear();
            holdfast.desk.say(crowd, &ToServer::Stop { reason: "a bench".into() });
            Some(Kind::State)
        }
        Before::Run | Before::Cue => {
            holdfast.desk.places(crowd)?;
            holdfast.desk.start(crowd)?;
            crowd.quiet(CALM);
            crowd.seen.clear();
            // Never at the same distance from the last cue.
            crowd.rest(Duration::from_millis(900 + 37 * (round as u64 % 20)));
            cues.extend(spans(&crowd.seen, Kind::Cue, &members));
            crowd.seen.clear();
            (before == Before::Cue).then_some(Kind::Cue)
        }
    };
    let mut passed = 0;
    if let Some(kind) = in_front {
        crowd.until(LIMIT, "the first member has it", |crowd| count(crowd, kind, &members) > 0)?;
        passed = count(crowd, kind, &members);
    }
    let tapped = tap(holdfast, crowd, round * 7)?;
    if let Some(kind) = in_front {
        passed += count(crowd, kind, &members);
    }
    holdfast.settle(crowd)?;
    holdfast.desk.until(crowd, "the call is stopped", |desk| desk.stage() == Some(Stage::Stopped))?;
    Ok((tapped.settled(holdfast, crowd), passed as i64))
}

fn count(crowd: &Crowd, kind: Kind, members: &Range<usize>) -> usize {
    crowd.seen.iter().filter(|seen| seen.kind == kind && members.contains(&seen.link)).count()
}

/// From the first member to the last, for each message of that kind that came to all of them: the first that one member saw
/// is the first that any other saw.
pub(crate) fn spans(seen: &[Sighting], kind: Kind, members: &Range<usize>) -> Vec<Micros> {
    let mut by_number: Vec<(Sighting, Sighting, usize)> = Vec::new();
    let mut numbers = vec![0; members.len()];
    for sighting in seen.iter().filter(|seen| seen.kind == kind && members.contains(&seen.link)) {
        let number = &mut numbers[sighting.link - members.start];
        match by_number.get_mut(*number) {
            Some((_, last, count)) => (*last, *count) = (*sighting, *count + 1),
            None => by_number.push((*sighting, *sighting, 1)),
        }
        *number += 1;
    }
    let whole = by_number.into_iter().filter(|(_, _, count)| *count == members.len());
    whole.map(|(first, last, _)| last.at.since(first.at)).collect()
}
