//! How many instructions the pure hot paths take: reading, checks, planning, the inputs of a call, an estimate of the clock,
//! a block of the mixer. Counted by callgrind (valgrind.org), which counts the same on a busy machine as on a quiet one, and
//! held against `benches/instructions.txt`: more than 3 % over fails, by name.
//!
//! `cargo test --bench instructions` compares; `-- renew` writes the file anew, which is done on purpose, in the commit
//! that explains why a path costs more or less. The counts are those of one toolchain, one kind of machine, one kind of
//! build and one counter; where any of them is another, that is said, and nothing fails.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a bench")]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::hint::black_box;
use std::process::{Command, ExitCode};
use std::sync::Arc;

use holdfast::call::{
    Act, Before, Call, Drive, Fight, Input, MemberId, Puller, Pulling, Role, Settings, SetupRequest, Tap, UsualEvening,
    Why,
};
use holdfast::check::{HouseRules, check};
use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::score::model::Score;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::mixer::{Mixer, Start};
use holdfast::sound::shelf::Shelf;
use holdfast::sound::{SampleNumber, VoiceKind};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::{Generation, Micros, ServerTime, Speed};

/// So much more than was kept fails.
const MOST_OVER: f64 = 0.03;

/// A path, how often it is gone in the shorter of two counts, and how it is gone so often.
struct Path {
    name: &'static str,
    times: u32,
    go: fn(u32),
}

const PATHS: [Path; 6] = [
    Path { name: "reading a score of 100 moves", times: 2, go: reading },
    Path { name: "checking 100 moves", times: 2, go: checking },
    Path { name: "planning 100 moves", times: 8, go: planning },
    Path { name: "the inputs of a run with a hold in it", times: 8, go: calling },
    Path { name: "an exchange of the clock and its estimate", times: 200, go: estimating },
    Path { name: "a block of the mixer", times: 400, go: mixing },
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["go", name, times] => {
            let path = PATHS.iter().find(|path| path.name == *name).expect("a path of that name");
            (path.go)(times.parse().expect("a number"));
            ExitCode::SUCCESS
        }
        ["renew"] => renew(),
        _ => compare(),
    }
}

fn file() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/instructions.txt")
}

/// What the counts depend on, a line each.
fn circumstances() -> Result<String, String> {
    let said = |program: &str, argument: &str| -> Result<String, String> {
        let said = Command::new(program).arg(argument).output().map_err(|why| format!("no {program} here ({why})"))?;
        Ok(String::from_utf8_lossy(&said.stdout).trim().to_owned())
    };
    let rustc = said(&std::env::var("RUSTC").unwrap_or_else(|_| "rustc".into()), "--version")?;
    let incremental = option_env!("CARGO_INCREMENTAL") != Some("0");
    Ok(format!(
        "toolchain: {rustc}\nmachine: {}-{}\nbuild: opt-level {}, {}, {}\ncounter: {}\n",
        std::env::consts::ARCH,
        std::env::consts::OS,
        env!("HOLDFAST_OPT_LEVEL"),
        if cfg!(debug_assertions) { "with debug assertions" } else { "without debug assertions" },
        if incremental { "incremental" } else { "not incremental" },
        said("valgrind", "--version")?,
    ))
}

/// Instructions of this program while it goes a path so often.
fn instructions(name: &str, times: u32) -> Result<u64, String> {
    let own = std::env::current_exe().map_err(|why| why.to_string())?;
    let done = Command::new("valgrind")
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg(own)
        .args(["go", name, &times.to_string()])
        .output()
        .map_err(|why| format!("valgrind cannot be started: {why}"))?;
    let said = String::from_utf8_lossy(&done.stderr);
    let count = said.lines().find_map(|line| line.split_once("Collected :")?.1.trim().parse().ok());
    count.filter(|_| done.status.success()).ok_or_else(|| format!("{name} could not be counted:\n{said}"))
}

/// What going a path once takes: of two counts the difference, so that what is made ready before is in neither.
fn cost(path: &Path) -> Result<u64, String> {
    let few = instructions(path.name, path.times)?;
    let many = instructions(path.name, 3 * path.times)?;
    Ok(many.saturating_sub(few) / u64::from(2 * path.times))
}

/// What every path costs, in the order of [`PATHS`]; two at a time.
fn costs() -> Result<Vec<(&'static str, u64)>, String> {
    let mut costs = Vec::new();
    for pair in PATHS.chunks(2) {
        let found: Vec<_> = std::thread::scope(|scope| {
            let counting: Vec<_> = pair.iter().map(|path| scope.spawn(move || cost(path))).collect();
            counting.into_iter().map(|counted| counted.join().expect("it counts")).collect()
        });
        for (path, cost) in pair.iter().zip(found) {
            costs.push((path.name, cost?));
        }
    }
    Ok(costs)
}

fn renew() -> ExitCode {
    let made = circumstances().and_then(|circumstances| {
        let mut text = String::from(
            "# What the hot paths cost, in instructions. Renewed on purpose: make renew-instructions. See benches/instructions.rs.\n",
        );
        text += &circumstances;
        for (name, cost) in costs()? {
            let _ = writeln!(text, "{name}: {cost}");
        }
        std::fs::write(file(), &text).map_err(|why| why.to_string())?;
        Ok(text)
    });
    match made {
        Ok(text) => print!("{text}"),
        Err(why) => eprintln!("{why}"),
    }
    ExitCode::SUCCESS
}

fn compare() -> ExitCode {
    let kept = std::fs::read_to_string(file()).expect("benches/instructions.txt");
    let here = match circumstances() {
        Ok(here) => here,
        Err(why) => {
            println!("Instructions are not compared: {why}.");
            return ExitCode::SUCCESS;
        }
    };
    if !kept.contains(&here) {
        let there: String = kept.lines().skip(1).take(here.lines().count()).map(|line| format!("  {line}\n")).collect();
        println!("Instructions are not compared. They were counted with\n{there}and here it is\n{here}");
        return ExitCode::SUCCESS;
    }
    let kept: BTreeMap<&str, u64> =
        kept.lines().filter_map(|line| line.split_once(": ")).filter_map(|(n, c)| Some((n, c.parse().ok()?))).collect();
    let found = match costs() {
        Ok(found) => found,
        Err(why) => {
            eprintln!("{why}");
            return ExitCode::FAILURE;
        }
    };
    let mut well = true;
    for (name, cost) in found {
        let Some(before) = kept.get(name) else {
            println!("{name}: {cost}, and nothing is kept of it. make renew-instructions");
            well = false;
            continue;
        };
        let more = cost as f64 / *before as f64 - 1.0;
        let judged = if more > MOST_OVER { "  TOO MANY" } else { "" };
        println!("{name}: {cost} instructions, {:+.2} % of what is kept{judged}", more * 100.0);
        well &= more <= MOST_OVER;
    }
    if well {
        return ExitCode::SUCCESS;
    }
    println!("A path takes more than {} % more. If it has to: make renew-instructions", MOST_OVER * 100.0);
    ExitCode::FAILURE
}

/// A fight of ten phrases of ten moves.
fn text() -> String {
    let mut text = String::from("fight \"Long\"\ntempo 84\nfighters\n  MARET rapier right\n  OSK rapier left\n");
    for phrase in 0..10 {
        let _ = writeln!(text, "phrase \"Phrase {phrase}\"");
        for beat in (1..=10).step_by(2) {
            let _ = writeln!(text, "  {beat} MARET cut head / OSK parry 5 ! steel");
            let _ = writeln!(text, "  {} OSK thrust belly / MARET parry 4 ! steel", beat + 1);
        }
    }
    text
}

fn score() -> Score {
    read(&text(), "long.fight", &Vocabulary::built_in()).score.expect("the fight is sound")
}

fn reading(times: u32) {
    let (text, vocabulary) = (text(), Vocabulary::built_in());
    for _ in 0..times {
        black_box(read(black_box(&text), "long.fight", &vocabulary));
    }
}

fn checking(times: u32) {
    let (score, vocabulary, rules) = (score(), Vocabulary::built_in(), HouseRules::default());
    for _ in 0..times {
        black_box(check(black_box(&score), &vocabulary, &rules));
    }
}

fn planning(times: u32) {
    let score = score();
    for _ in 0..times {
        let whole = PhraseRange::whole(black_box(&score)).expect("it has phrases");
        black_box(Plan::new(&score, whole, Speed::FULL, 4));
    }
}

/// A run of the whole fight with twelve members: a tick every tenth of a second for ten seconds, a hold, a release.
fn calling(times: u32) {
    let fight = Arc::new(Fight::unchecked(score(), "0".repeat(64), String::new()));
    for _ in 0..times {
        let settings = Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(1_000),
            hold_on_lost_link: Vec::new(),
            before_call: Vec::new(),
            why: Why::default(),
            evening: UsualEvening::default(),
        };
        let before = Before { sessions: 0, last_run: 0, last_hold: 0 };
        let mut call = Call::new(settings, vec![Arc::clone(&fight)], before);
        let mut now = ServerTime(1_000_000);
        for number in 0..12 {
            let role = if number == 0 { Role::Desk } else { Role::Performer };
            let part = [None, Some("MARET".to_owned()), Some("OSK".to_owned())].into_iter().nth(number).flatten();
            let (member, name) = (MemberId(number as u32), format!("member {number}"));
            call.handle(now, Input::Joined { member, name, role, part, instead_of: None });
        }
        let request = SetupRequest {
            fight: "Long".into(),
            weapons: None,
            first: 0,
            from_move: None,
            last: 9,
            percent: 100,
            count_in: 4,
            drive: Drive::Clock,
        };
        let seen = call.last_event();
        call.handle(now, Input::From(MemberId(0), Act::Places { request, seen }));
        let (generation, seen) = (call.generation(), call.last_event());
        call.handle(now, Input::From(MemberId(0), Act::Start { generation, anyway: true, seen }));
        for _ in 0..100 {
            now = now + Micros::millis(100);
            black_box(call.handle(now, Input::Tick));
        }
        let generation = call.generation();
        let tap = Tap { id: "tap".into(), generation, queued: false, screen_cue: None, reason: None };
        let by = Puller::Member(MemberId(1), tap);
        black_box(call.handle(now, Input::Pulled(Pulling { by, at: now, dead: generation })));
    }
}

/// A member's clock in a run: an exchange every eighth of a second over uneven legs, and an estimate after each.
fn estimating(times: u32) {
    let mut clock = ClockEstimator::new();
    for n in 0..i64::from(times) {
        let (sent, out, back) = (125_000 * n, 4_000 + n * 7_919 % 20_000, 4_000 + n * 6_131 % 20_000);
        let received = ServerTime(sent + 7_000_000 + out);
        clock.add(Exchange {
            sent: MemberTime(sent),
            received,
            answered: received + Micros(50),
            returned: MemberTime(sent + out + 50 + back),
        });
        black_box(clock.estimate(MemberTime(sent + 100_000)));
    }
}

/// A block of 64 samples in which sixteen voices sound.
fn mixing(times: u32) {
    let shelf = Arc::new(Shelf::new(48_000));
    let every = shelf.sound(VoiceKind::Accent).len() as i64 / 16;
    let mut mixer = Mixer::new(shelf, SampleNumber(0));
    let (mut next, mut block) = (0, [0.0_f32; 64]);
    for _ in 0..times {
        while next < mixer.position().0 + 64 {
            let (at, generation) = (SampleNumber(next), Generation(0));
            mixer.start(Start { at, kind: VoiceKind::Accent, gain: 0.2, generation, choke: None });
            next += every;
        }
        mixer.render(&mut block, Generation(0));
        black_box(&block);
    }
}
