//! Ten minutes of live sound, measured: `holdfast serve` plays a fight through a real sound daemon with a null sink while
//! `holdfast stand-ins` keeps 200 members connected, what arrives at the sink is recorded, and every onset is compared with
//! the place that the score gives it. Prints the error of the spacing in samples, what was lost, and the load of the
//! machine. It takes as long as the fight: `cargo bench --bench sound_ten_minutes`, with `-- SECONDS` for another length
//! and `-- SECONDS MEMBERS` for another crowd. Needs pulseaudio and its utilities.
//!
//! Measured on two cores (a development build, buffers of 2,048, load falling from 3.4 to 0.3): all 2,404 onsets there, none
//! late or dropped; one gap told by the device, which moved no onset by more than 4 samples; all other distances within a
//! sample of the score. The mean error, 0.35 samples, is the 29 ppm by which the sink's clock and the server's differ. With
//! compilers and browsers on the same two cores (load 6 to 10) 168 gaps were told, 57 voices came too late, and 40 onsets
//! were missing.

#![allow(missing_docs, dead_code, clippy::unwrap_used, clippy::expect_used, reason = "a bench")]

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use audio::{House, RATE, Running};
use holdfast::call::Role;
use holdfast::member::{Address, Behaviour, Seen, StandIn, StandInHandle};
use holdfast::time::ServerClock;
use holdfast::wire::{DriveKind, Link, Setup, SoundAsk, SoundTold, SpeakersView, Stage, Subject, ToMember, ToServer};
use raw::Raw;

#[path = "../tests/it/support/audio.rs"]
mod audio;
#[path = "../tests/it/support/raw.rs"]
mod raw;

/// The program under measurement.
const HOLDFAST: &str = env!("CARGO_BIN_EXE_holdfast");
/// Two beats a second, and a knock halfway between every two.
const BEAT: i64 = RATE as i64 / 2;

fn main() {
    let numbers: Vec<u32> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let seconds = numbers.first().copied().unwrap_or(600);
    let members = numbers.get(1).copied().unwrap_or(200);
    println!("{seconds} s with {members} members; load before: {}", load());
    let house = House::new();
    let _daemon = house.start_daemon();
    let production = house.path().join("quay");
    write_production(&house, &production, seconds * 2);
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let (server, links) = serve(&house, &production);
    let link = |role: Role| links.iter().find(|(of, _)| *of == role.title()).unwrap().1.clone();
    let crowd = stand_ins(&house, &link(Role::Observer), members);
    let recording = house.record("out.raw");
    let speakers = runtime.block_on(run(&link(Role::Desk), &link(Role::Sound), seconds, members));
    println!("load after: {}", load());
    let recorded = recording.finish();
    drop((crowd, server));
    println!(
        "the server: {} sounded, {} too late, {} dropped, {} gaps told by the device; buffer {} at {} Hz, left over {:?} µs",
        speakers.sounded,
        speakers.late,
        speakers.dropped,
        speakers.underruns,
        speakers.buffer,
        speakers.rate,
        speakers.left_us
    );
    report(&recorded, i64::from(seconds) * 2);
    let log = fs::read_to_string(house.path().join("serve.log")).unwrap();
    log.lines().filter(|line| line.contains("WARN")).for_each(|line| println!("  log: {line}"));
}

fn load() -> String {
    fs::read_to_string("/proc/loadavg").map_or_else(|_| "unknown".into(), |line| line.trim().to_owned())
}

/// A fight of that many beats, each with a click and, half a beat later, a knock of 20 ms.
fn write_production(house: &House, production: &Path, beats: u32) {
    assert!(house.command(HOLDFAST).arg("new").arg(production).stdout(Stdio::null()).status().unwrap().success());
    fs::remove_file(production.join("scores/first-steps.fight")).unwrap();
    let fight = format!(
        "fight \"The Long Watch\"\nbeats 4\ntempo 120\nfighters\n  A rapier right\n  B rapier right\nphrase \"watch\"\n  repeat {beats} every 1 at 1\n    1 A thrust belly / B parry 4 ! knock +250ms\n  end\n"
    );
    fs::write(production.join("scores/watch.fight"), fight).unwrap();
    let file = production.join("production.toml");
    let text = fs::read_to_string(&file).unwrap().replace("# buffer_frames = 1024", "buffer_frames = 2048");
    fs::write(&file, text).unwrap();
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut knock = hound::WavWriter::create(production.join("sounds/knock.wav"), spec).unwrap();
    (0..RATE / 50).for_each(|n| knock.write_sample(if n / 24 % 2 == 0 { 8_000i16 } else { -8_000 }).unwrap());
    knock.finalize().unwrap();
}

/// The server, and its links by title.
fn serve(house: &House, production: &Path) -> (Running, Vec<(String, String)>) {
    let log = File::create(house.path().join("serve.log")).unwrap();
    let mut command = house.command(HOLDFAST);
    command.arg("serve").arg(production).args(["--listen", "127.0.0.1:0"]).stdout(Stdio::piped()).stderr(log);
    let mut child = command.spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let mut links = Vec::new();
    while links.len() < Role::ALL.len() {
        let line = lines.next().expect("the server prints its links");
        let link = line.split_whitespace().last().filter(|word| word.starts_with("http") && word.contains('#'));
        if let Some(link) = link.filter(|link| line.trim() != *link) {
            links.push((line[..line.len() - link.len()].trim().to_owned(), link.to_owned()));
        }
    }
    // Whatever else it says is read, so that it never waits for a reader.
    std::thread::spawn(move || lines.for_each(drop));
    (Running::of(child), links)
}

fn stand_ins(house: &House, link: &str, members: u32) -> Running {
    let mut command = house.command(HOLDFAST);
    command.args(["stand-ins", link, "--quiet", "--count", &members.to_string()]);
    Running::of(command.stdout(Stdio::null()).spawn().unwrap())
}

/// Runs the fight once everybody is there; how the loudspeakers were.
async fn run(desk: &str, sound: &str, seconds: u32, members: u32) -> SpeakersView {
    let behaviour = Behaviour { ready_after: None, shows: vec![Subject::Roster], ..Behaviour::default() };
    let desk = StandIn::spawn(Address::parse(desk).unwrap(), "Ines", None, behaviour, ServerClock::new());
    let everybody = members as usize + 1;
    until(&desk, "everybody is there", 60, |seen| seen.known.members().count() >= everybody).await;
    // The device's time stamps settle in some three seconds.
    tokio::time::sleep(Duration::from_secs(6)).await;
    let (fight, drive) = ("The Long Watch".into(), DriveKind::Clock);
    let seen = desk.seen().borrow().state.as_ref().unwrap().last_event;
    desk.say(ToServer::Places {
        setup: Setup { fight, from: 0, from_move: None, to: 0, percent: 100, count_in: 4, drive },
        seen,
    });
    until(&desk, "places are called", 20, |seen| stage(seen) == Some(Stage::Places)).await;
    let state = desk.seen().borrow().state.clone().unwrap();
    desk.say(ToServer::Start { generation: state.generation, anyway: true, seen: state.last_event });
    until(&desk, "the run goes", 20, goes).await;
    until(&desk, "the run is over", u64::from(seconds) + 60, |seen| !goes(seen)).await;
    let seen = desk.seen().borrow().clone();
    assert_eq!(stage(&seen), Some(Stage::Complete));
    let linked = seen.known.members().filter(|member| member.link == Link::Linked).count();
    println!("{linked} of {everybody} were linked at the end");
    let (mut operator, _) = Raw::join(&Address::parse(sound).unwrap(), "Nia").await;
    operator.say(&ToServer::Sound { ask: SoundAsk::Watch { on: true } }).await;
    loop {
        let message = operator.hear_until(|message| matches!(message, ToMember::Sound { .. })).await;
        let Some(ToMember::Sound { tells }) = message else { panic!("the link ended") };
        if let SoundTold::Now(now) = tells {
            return now.speakers.clone();
        }
    }
}

fn stage(seen: &Seen) -> Option<Stage> {
    seen.state.as_ref().map(|state| state.stage)
}

fn goes(seen: &Seen) -> bool {
    matches!(stage(seen), Some(Stage::CountIn | Stage::Running))
}

async fn until(desk: &StandInHandle, what: &str, seconds: u64, is_so: impl Fn(&Seen) -> bool) {
    let mut seen = desk.seen();
    let waited = seen.wait_for(is_so);
    let waited = tokio::time::timeout(Duration::from_secs(seconds), waited).await;
    waited.unwrap_or_else(|_| panic!("waited in vain until {what}")).unwrap();
}

/// The onsets of clicks and knocks against the score.
fn report(recorded: &[i16], beats: i64) {
    let all = onsets(recorded);
    let count_in = 4;
    println!("{} onsets recorded, {} in the score with its count-in", all.len(), 2 * beats + count_in);
    // Clicks every beat; the knocks between them begin halfway.
    for (name, apart) in [("next onset", BEAT / 2), ("onset after the next", BEAT)] {
        let step = if apart == BEAT { 2 } else { 1 };
        let errors = all.iter().zip(all.iter().skip(step)).skip(count_in as usize).map(|(a, b)| b - a - apart);
        let errors: Vec<i64> = errors.collect();
        let within = |most: i64| errors.iter().filter(|error| error.abs() <= most).count();
        let whole: Vec<&i64> = errors.iter().filter(|error| error.abs() < BEAT / 4).collect();
        let mean = whole.iter().map(|error| error.abs() as f64).sum::<f64>() / whole.len().max(1) as f64;
        println!(
            "to the {name}, against {apart} samples: exact {} of {}, within 1 {}, within 2 {}, within 48 (1 ms) {}; mean |error| {mean:.3}; worst {}",
            within(0),
            errors.len(),
            within(1),
            within(2),
            within(48),
            errors.iter().map(|error| error.abs()).max().unwrap_or(0)
        );
        let odd: Vec<(usize, &i64)> = errors.iter().enumerate().filter(|(_, error)| error.abs() > 48).collect();
        println!("  more than 1 ms off: {} {:?}", odd.len(), odd.iter().take(20).collect::<Vec<_>>());
    }
    if let (Some(first), Some(last)) = (all.get(count_in as usize), all.last()) {
        println!(
            "from the first beat to the last knock: {} samples, {} in the score",
            last - first,
            (2 * beats - 1) * BEAT / 2
        );
    }
}

/// The first sample that is not zero after 30 ms of silence.
fn onsets(recorded: &[i16]) -> Vec<i64> {
    let (mut quiet, mut onsets) = (RATE, Vec::new());
    for (at, sample) in (0i64..).zip(recorded) {
        if *sample != 0 {
            if quiet >= RATE * 3 / 100 {
                onsets.push(at);
            }
            quiet = 0;
        } else {
            quiet += 1;
        }
    }
    onsets
}
