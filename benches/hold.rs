//! From a tap on HOLD to the last member who has it, over loopback, stand-ins and server in one process. Prints the
//! median and the 99th percentile over many holds for 10, 50 and 200 members. Judge ratios, not single runs: the
//! noise of a small machine alone reaches some milliseconds at the 99th percentile.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::time::Duration;

use holdfast::call::{Role, Settings};
use holdfast::member::{Address, Behaviour, Seen, StandIn, StandInHandle};
use holdfast::outputs::Outputs;
use holdfast::server::Serving;
use holdfast::sound::Sound;
use holdfast::time::ServerClock;
use holdfast::units::{Micros, ServerTime};
use holdfast::wire::{Stage, Subject, ToServer};
use tokio::net::TcpListener;

const ROUNDS: usize = 200;

fn main() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    for members in [10, 50, 200] {
        let mut times = runtime.block_on(measure(members));
        times.sort_unstable();
        let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
        println!("{members:>4} members: p50 {:>6} µs   p99 {:>6} µs   ({} holds)", at(0.5), at(0.99), times.len());
    }
}

async fn measure(members: usize) -> Vec<i64> {
    let folder = tempfile::tempdir().unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let clock = ServerClock::new();
    let ready = Serving {
        production: "The Harbour Company".into(),
        fights: Vec::new(),
        troubles: Vec::new(),
        count_in: None,
        invitation_days: 30,
        settings: Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(500),
            hold_on_lost_link: Vec::new(),
            before_call: Vec::new(),
        },
        folder: None,
        data: folder.path().to_owned(),
        base_url: format!("http://{}", listener.local_addr().unwrap()),
        secure: None,
        sound: Sound::null(clock),
        outputs: Outputs::off(),
        clock,
    }
    .open()
    .unwrap();
    let link = |role: Role| Address::parse(&ready.links.iter().find(|(of, _)| *of == role).unwrap().1).unwrap();
    let (captain, watcher) = (link(Role::Captain), link(Role::Observer));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let server = tokio::spawn(ready.run(listener, async move { drop(stopped.await) }));
    let spawn =
        |address: &Address, name: String| StandIn::spawn(address.clone(), name, None, Behaviour::default(), clock);
    let showing = Behaviour { shows: vec![Subject::Roster], ..Behaviour::default() };
    let captain = StandIn::spawn(captain.clone(), "captain", None, showing, clock);
    let crowd: Vec<_> = (1..members).map(|number| spawn(&watcher, format!("watcher {number}"))).collect();
    until(&captain, |seen| seen.known.members().count() == members).await;
    let mut times = Vec::new();
    for round in 0..ROUNDS {
        let tapped = clock.now();
        crowd[round % crowd.len()].hold(None);
        let seen = until(&captain, |seen| stage(seen) == Some(Stage::Held)).await;
        let hold = seen.state.unwrap().hold.clone().unwrap().hold;
        times.push(last_heard(&crowd, hold).await.since(tapped).0);
        captain.say(ToServer::Release { hold, calls: 1 });
        until(&captain, |seen| stage(seen) != Some(Stage::Held)).await;
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    drop((captain, crowd, stop));
    server.await.unwrap().unwrap();
    times
}

fn stage(seen: &Seen) -> Option<Stage> {
    seen.state.as_ref().map(|state| state.stage)
}

async fn until(member: &StandInHandle, is_so: impl FnMut(&Seen) -> bool) -> Seen {
    member.seen().wait_for(is_so).await.unwrap().clone()
}

async fn last_heard(crowd: &[StandInHandle], hold: u32) -> ServerTime {
    let mut last = ServerTime::default();
    for member in crowd {
        loop {
            if let Some(at) = member.statistics().heard_of(hold) {
                last = last.max(at);
                break;
            }
            tokio::time::sleep(Duration::from_micros(200)).await;
        }
    }
    last
}
