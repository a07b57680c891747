//! One phone on a bad network in a call of 200: it takes 40 kB a second, and little fits into what is on its way to it.
//! The call runs, and the desk changes its speed five times a second, so that there is always something to be sent.

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
const ROOM: usize = 16_384;
/// The desk changes the speed so often, and so many times before the tap.
const BETWEEN: Duration = Duration::from_millis(200);
const CHANGES: usize = 12;

/// What was measured, microseconds.
#[derive(Default)]
struct Measured {
    phone: Vec<i64>,
    others: Vec<i64>,
    /// What the phone took, bytes a second.
    pace: Vec<i64>,
    /// How often it was not told in time, and how often its link was cut before it was told.
    late: usize,
    cut: usize,
}

/// Prints the table.
pub(crate) fn slow(options: &Options) {
    println!(
        "\nA SLOW PHONE, 40 kB a second with a receive buffer of {ROOM} bytes, in a call of {MEMBERS} that runs\n"
    );
    println!(
        "From the tap to the slow phone, and to the last of the others, ms; a phone that is not told counts as {LIMIT:?}.\n"
    );
    let mut table = Table::new(&["N", "who", "holds", "p50", "worst", ""]);
    let mut crowd = Crowd::new();
    let mut measured = Measured::default();
    let ended = measured.measure(options, &mut crowd);
    let ended = ended.err().map_or(String::new(), |stuck| format!("stuck: {stuck}"));
    let remark = format!(
        "took {} bytes a second before the tap; not told {} times, cut off {} times. {ended}",
        percentile(&measured.pace, 0.5),
        measured.late,
        measured.cut
    );
    for (who, samples, remark) in [("slow phone", &measured.phone, remark), ("the others", &measured.others, ended)] {
        let ms = |part: f64| format!("{:.1}", percentile(samples, part) as f64 / 1_000.0);
        table.row(vec![MEMBERS.to_string(), who.into(), samples.len().to_string(), ms(0.5), ms(1.0), remark]);
    }
}

impl Measured {
    fn measure(&mut self, options: &Options, crowd: &mut Crowd) -> Result<(), Stuck> {
        let mut holdfast = Holdfast::start(crowd, MEMBERS, Door::Plain)?;
        let mut phone = join(&holdfast, crowd)?;
        for round in 0..options.rounds {
            if crowd.link(phone).closed() {
                phone = join(&holdfast, crowd)?;
            }
            self.round(&mut holdfast, crowd, phone, round)?;
        }
        Ok(())
    }

    fn round(&mut self, holdfast: &mut Holdfast, crowd: &mut Crowd, phone: usize, round: usize) -> Result<(), Stuck> {
        holdfast.desk.places(crowd)?;
        holdfast.desk.start(crowd)?;
        let (began, read) = (crowd.now(), crowd.link(phone).taken());
        for change in 0..CHANGES {
            crowd.rest(BETWEEN);
            holdfast.desk.say(crowd, &ToServer::Speed { percent: if change % 2 == 0 { 90 } else { 100 } });
            holdfast.desk.read(crowd);
        }
        let start = crowd.now();
        let read = (crowd.link(phone).taken() - read) as f64;
        self.pace.push((read / start.since(began).as_seconds()) as i64);
        let tapped = tap(holdfast, crowd, round * 7)?;
        let stop = holdfast.stop();
        let mut told = None;
        let waited = crowd.until(LIMIT, "the slow phone is told", |crowd| {
            told = crowd.seen.iter().find(|seen| seen.link == phone && seen.kind == stop).map(|seen| seen.at);
            told.is_some() || crowd.link(phone).closed()
        });
        self.late += usize::from(waited.is_err());
        self.cut += usize::from(waited.is_ok() && told.is_none());
        self.phone.push(told.map_or(LIMIT.as_micros() as i64, |at| at.since(start).0));
        holdfast.settle(crowd)?;
        self.others.push(tapped.settled(holdfast, crowd).last.0);
        crowd.quiet(Micros::millis(300));
        Ok(())
    }
}

fn join(holdfast: &Holdfast, crowd: &mut Crowd) -> Result<usize, Stuck> {
    let (link, _) = holdfast.observer.join("slow phone", Some(ROOM))?;
    let phone = crowd.add(link.slow(BYTES_A_SECOND));
    crowd.keep_alive(phone..phone + 1, Holdfast::pulse());
    Ok(phone)
}
