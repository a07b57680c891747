//! A whole fight with many members who show no roster: what joining costs in bytes and memory, and whether every cue comes
//! to every member, in time, over a link that lives.

use std::time::Duration;

use holdfast::wire::Stage;

use super::behind::spans;
use super::crowd::{Crowd, Stuck};
use super::holdfast::{Door, Holdfast};
use super::options::Options;
use super::sighting::Kind;
use super::system::System;
use super::table::Table;

/// The fight of a new production takes less than half of this.
const LIMIT: Duration = Duration::from_secs(90);

/// Prints the table.
pub(crate) fn fight(options: &Options) {
    println!("\nA WHOLE FIGHT, Holdfast with N observers, plain TCP\n");
    println!(
        "Join: seconds for all to come in, one after the other; kB: what came over the link of one of them by then and until the"
    );
    println!(
        "call was calm, on the average; KiB: the server's memory for each. Cues that came to all of them, and of these the"
    );
    println!(
        "slowest, from the first member to the last, ms: cues are sent 1,500 ms ahead of their time. Lost: links.\n"
    );
    let mut table = Table::new(&["N", "", "join s", "kB", "KiB", "cues", "to all", "slowest", "lost", ""]);
    for &members in &options.sizes {
        let mut crowd = Crowd::new();
        table.row(match of_size(&mut crowd, members) {
            Ok(row) => row,
            Err(stuck) => vec![members.to_string(), "stuck".into(), stuck.to_string()],
        });
    }
}

fn of_size(crowd: &mut Crowd, members: usize) -> Result<Vec<String>, Stuck> {
    let start = crowd.now();
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    let joined = holdfast.joined().since(start).as_seconds();
    let links = holdfast.members();
    let taken: u64 = links.clone().map(|link| crowd.link(link).taken()).sum();
    let memory = holdfast.process().memory().saturating_sub(holdfast.empty());
    holdfast.desk.places(crowd)?;
    crowd.seen.clear();
    holdfast.desk.start(crowd)?;
    let mut complete = crowd.until(LIMIT, "the fight comes to its end", |crowd| {
        holdfast.desk.read(crowd);
        holdfast.desk.stage() == Some(Stage::Complete)
    });
    let lost = crowd.closed(links.clone());
    let all = crowd.seen.iter().filter(|seen| seen.kind == Kind::Cue && links.contains(&seen.link));
    let most = all.fold(vec![0usize; members], |mut counts, seen| {
        counts[seen.link - links.start] += 1;
        counts
    });
    let cues = most.iter().max().copied().unwrap_or(0);
    let spans = spans(&crowd.seen, Kind::Cue, &links);
    let slowest = spans.iter().map(|span| span.0).max().unwrap_or(0);
    if lost > 0 && complete.is_ok() {
        complete = Err(Stuck(format!("{lost} members have lost their link")));
    }
    Ok(vec![
        members.to_string(),
        String::new(),
        format!("{joined:.1}"),
        format!("{:.1}", taken as f64 / 1_000.0 / members as f64),
        format!("{:.1}", memory as f64 / members as f64),
        cues.to_string(),
        spans.len().to_string(),
        format!("{:.1}", slowest as f64 / 1_000.0),
        lost.to_string(),
        complete.err().map_or(String::new(), |stuck| stuck.to_string()),
    ])
}
