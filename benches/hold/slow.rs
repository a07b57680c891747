//! One phone on a bad network in a call of 200: it takes 40 kB a second, and little fits into what is on its way to it.
//! The call runs, and the desk changes something five times a second, so that there is always something to be sent.

use std::time::Duration;

use holdfast::units::Micros;
use holdfast::wire::ToServer;

use super::crowd::{Crowd, Stuck};
use super::figures::percentile;
use super::hold::{LIMIT, tap};
use super::holdfast::{Door, Holdfast};
use super::options::Options;
use super::system::System;
use super::table::Table;

const MEMBERS: usize = 200;
const BYTES_A_SECOND: u32 = 40_000;
/// Its receive buffer, bytes; the kernel takes twice that (socket(7), SO_RCVBUF).
const ROOM: usize = 4_096;
/// The desk changes something so often, and so many times before the tap.
const BETWEEN: Duration = Duration::from_millis(200);
const CHANGES: usize = 12;

/// Prints the table.
pub(crate) fn slow(options: &Options) {
    println!(
        "\nA SLOW PHONE, 40 kB a second with a receive buffer of {ROOM} bytes, in a call of {MEMBERS} that runs\n"
    );
    println!("From the tap to the slow phone, and to the last of the others, ms.\n");
    let mut table = Table::new(&["N", "who", "holds", "p50", "worst", ""]);
    let mut crowd = Crowd::new();
    let (mut slow, mut others) = (Vec::new(), Vec::new());
    let ended = measure(options, &mut crowd, &mut slow, &mut others);
    for (who, samples) in [("slow phone", &slow), ("the others", &others)] {
        let ms = |part: f64| format!("{:.1}", percentile(samples, part) as f64 / 1_000.0);
        table.row(vec![
            MEMBERS.to_string(),
            who.into(),
            samples.len().to_string(),
            ms(0.5),
            ms(1.0),
            ended.as_ref().err().map_or(String::new(), |stuck| format!("stuck: {stuck}")),
        ]);
    }
}

fn measure(options: &Options, crowd: &mut Crowd, slow: &mut Vec<i64>, others: &mut Vec<i64>) -> Result<(), Stuck> {
    let mut holdfast = Holdfast::start(crowd, MEMBERS, Door::Plain)?;
    let (phone, _) = holdfast.observer.join("slow phone", Some(ROOM))?;
    let phone = crowd.add(phone.slow(BYTES_A_SECOND));
    crowd.keep_alive(phone..phone + 1, Holdfast::pulse());
    for round in 0..options.rounds {
        holdfast.desk.places(crowd)?;
        holdfast.desk.start(crowd)?;
        for change in 0..CHANGES {
            crowd.rest(BETWEEN);
            let present = change % 2 == 0;
            holdfast.desk.say(crowd, &ToServer::Attend { person: "Somebody".into(), present });
            holdfast.desk.read(crowd);
        }
        let start = crowd.now();
        let tapped = tap(&mut holdfast, crowd, round * 7)?;
        let stop = holdfast.stop();
        let mut told = None;
        crowd.until(LIMIT, "the slow phone is told", |crowd| {
            told = crowd.seen.iter().find(|seen| seen.link == phone && seen.kind == stop).map(|seen| seen.at);
            told.is_some()
        })?;
        slow.extend(told.map(|at| at.since(start).0));
        holdfast.settle(crowd)?;
        others.push(tapped.settled(&holdfast, crowd).last.0);
        crowd.quiet(Micros::millis(300));
    }
    Ok(())
}
