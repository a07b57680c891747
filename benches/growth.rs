//! How the work grows with what there is: moves of a fight, events of a journal, scores and recordings of a production. Each is measured
//! at sizes ten times apart and drawn as curves into `target/growth.svg`; for each curve the steepest power between two
//! neighbouring sizes is printed, above what any work of n log n has at these sizes it says so, and the bench fails.
//!
//! `cargo bench --bench growth` goes to 100,000 moves and ten million events, which takes some minutes and some gigabytes
//! of disk; `-- --quick` stops at a million events.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::disallowed_methods)]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::Instant;

use holdfast::check::{HouseRules, check};
use holdfast::event::{Called, Event, HoldId, Revision, RunBegun, RunEnd, RunEnded, What};
use holdfast::journal::{EventFilter, Journal, Reader, Record, SessionStart, verify};
use holdfast::production::Production;
use holdfast::score::format::format;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::Library;
use holdfast::sound::recordings::load;
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::{ServerTime, Speed};
use jiff::Timestamp;

/// n log n between 10 and 100 grows by 20, a power of 1.30; measured at small sizes everything wavers.
const STEEPEST: f64 = 1.4;
/// What takes less is noise.
const LEAST_MS: f64 = 2.0;

struct Curve {
    name: &'static str,
    points: Vec<(usize, f64)>,
}

fn main() -> ExitCode {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let mut curves = moves();
    curves.extend(events(if quick { 1_000_000 } else { 10_000_000 }));
    curves.extend([scores(), recordings()]);
    let mut well = true;
    for curve in &curves {
        let points: Vec<String> = curve.points.iter().map(|(n, ms)| format!("{n}: {ms:.2} ms")).collect();
        let power = steepest(curve);
        let bends = power > STEEPEST;
        well &= !bends;
        let judged = if bends { "  STEEPER than n log n" } else { "" };
        println!("{:<22} {}  steepest power {power:.2}{judged}", curve.name, points.join(", "));
    }
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/growth.svg");
    std::fs::write(&file, svg(&curves)).unwrap();
    println!("drawn in {}", file.display());
    if well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// The best of three, in ms.
fn timed<T>(mut work: impl FnMut() -> T) -> f64 {
    let once = |_| {
        let begun = Instant::now();
        std::hint::black_box(work());
        begun.elapsed().as_secs_f64() * 1e3
    };
    (0..3).map(once).fold(f64::INFINITY, f64::min)
}

fn steepest(curve: &Curve) -> f64 {
    let grows = curve.points.windows(2).filter(|pair| pair[0].1 >= LEAST_MS);
    let powers = grows.map(|pair| (pair[1].1 / pair[0].1).ln() / (pair[1].0 as f64 / pair[0].0 as f64).ln());
    powers.fold(0.0, f64::max)
}

fn curve(name: &'static str, points: impl IntoIterator<Item = (usize, f64)>) -> Curve {
    Curve { name, points: points.into_iter().collect() }
}

/// Reading, checking, planning and formatting fights of 10 to 100,000 moves.
fn moves() -> Vec<Curve> {
    let (vocabulary, rules) = (Vocabulary::built_in(), HouseRules::default());
    let sizes = [10, 100, 1_000, 10_000, 100_000];
    let texts: Vec<(usize, String)> = sizes.map(|moves| (moves, fight(moves))).into();
    let scores: Vec<_> =
        texts.iter().map(|(n, text)| (*n, read(text, "long.fight", &vocabulary).score.unwrap())).collect();
    let whole = |score| Plan::new(score, PhraseRange::whole(score).unwrap(), Speed::FULL, 4);
    vec![
        curve("read, moves", texts.iter().map(|(n, text)| (*n, timed(|| read(text, "long.fight", &vocabulary))))),
        curve("check, moves", scores.iter().map(|(n, score)| (*n, timed(|| check(score, &vocabulary, &rules))))),
        curve("timeline, moves", scores.iter().map(|(n, score)| (*n, timed(|| whole(score))))),
        curve("fmt, moves", texts.iter().map(|(n, text)| (*n, timed(|| format(text).is_ok())))),
    ]
}

/// A fight of phrases of ten moves.
fn fight(moves: usize) -> String {
    let mut text = String::from("fight \"Long\"\ntempo 84\nfighters\n  MARET rapier right\n  OSK rapier left\n");
    for phrase in 0..moves / 10 {
        let _ = writeln!(text, "phrase \"Phrase {phrase}\"");
        for beat in (1..=10).step_by(2) {
            let _ = writeln!(text, "  {beat} MARET cut head / OSK parry 5 ! steel");
            let _ = writeln!(text, "  {} OSK thrust belly / MARET parry 4 ! steel", beat + 1);
        }
    }
    text
}

/// `verify`, the whole `log` and its first answer, `report`, and what a server does before it answers, over journals of a
/// thousand events and more, with holds in them.
fn events(most: usize) -> Vec<Curve> {
    let sizes: Vec<usize> =
        std::iter::successors(Some(1_000), |size| Some(size * 10)).take_while(|n| *n <= most).collect();
    let folders: Vec<_> = sizes.iter().map(|size| (*size, journal(*size))).collect();
    let each = |name, work: &dyn Fn(&Path)| {
        curve(name, folders.iter().map(|(size, folder)| (*size, timed(|| work(folder.path())))))
    };
    let curves = vec![
        each("verify, events", &|folder| assert!(verify(folder).unwrap().whole)),
        each("log, events", &|folder| log(folder, usize::MAX)),
        each("log's first, events", &|folder| log(folder, 1)),
        each("report, events", &report),
        each("server's start, events", &|folder| Journal::open(folder, &session()).unwrap().close().unwrap()),
    ];
    if let Some((size, folder)) = folders.last() {
        for command in ["log", "report", "verify"] {
            println!("holdfast {command} of {size} events: {} MB at most", peak_mb(command, folder.path()));
        }
    }
    curves
}

fn log(folder: &Path, most: usize) {
    let mut left = most;
    let each = |_| {
        left -= 1;
        left > 0
    };
    assert!(Reader::each_good_event(folder, EventFilter::default(), each).unwrap().is_empty());
}

/// The program itself, from its start to its end: what an evening asks.
fn report(folder: &Path) {
    let said = Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("report").arg(folder).output().unwrap();
    assert!(said.status.success() && !said.stdout.is_empty(), "{}", String::from_utf8_lossy(&said.stderr));
}

fn session() -> SessionStart {
    SessionStart { utc: "2026-01-05T18:30:00Z".parse().unwrap(), server: "bench".into() }
}

/// The most memory that the program itself takes, MB, as the kernel counts it.
fn peak_mb(command: &str, folder: &Path) -> u64 {
    let script = format!(
        "import resource, subprocess; subprocess.run([{:?}, {command:?}, {:?}], stdout=subprocess.DEVNULL); \
         print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)",
        env!("CARGO_BIN_EXE_holdfast"),
        folder.display().to_string()
    );
    let said = Command::new("python3").args(["-c", &script]).output();
    said.ok().and_then(|said| String::from_utf8_lossy(&said.stdout).trim().parse().ok()).unwrap_or(0)
}

/// What the nth event is.
fn what(n: usize, hold: &mut u32) -> What {
    let call = |hold: u32| Called { hold: HoldId(hold), tap: None, reason: None, screen: None };
    match (n % 10, n / 10 % 3) {
        (0, 0) => {
            *hold += 1;
            What::Hold { call: call(*hold), under_way: Vec::new() }
        }
        (0, 1) => What::HoldJoined(call(*hold)),
        (0, _) => What::Release { hold: HoldId(*hold) },
        _ => What::Phrase,
    }
}

/// Runs of a thousand events; every tenth event is a hold, its joining or its release.
fn journal(events: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let start = session();
    let begin = start.utc;
    let journal = Journal::open(folder.path(), &start).unwrap();
    let utc = |us: i64| Timestamp::from_microsecond(begin.as_microsecond() + us).unwrap();
    let sha256 = "0".repeat(64);
    let revision = Revision { sha256: sha256.clone(), fight: "Long".into(), text: fight(10) };
    journal.record(Record::of(begin, revision));
    let mut hold = 0;
    for n in 0..events {
        let us = n as i64 * 100_000;
        let run = u32::try_from(n / 1_000).unwrap() + 1;
        if n % 1_000 == 0 {
            let begun = RunBegun {
                run,
                revision: sha256.clone(),
                fight: "Long".into(),
                weapons: None,
                from_phrase: 0,
                from_name: "Phrase 0".into(),
                from_move: None,
                to_phrase: 0,
                to_name: "Phrase 0".into(),
                percent: Some(80),
                count_in: 4,
                drive: "clock".into(),
                server_us: us,
                item: None,
                cast: Vec::new(),
            };
            journal.record(Record::of(utc(us), begun));
        }
        let what = what(n, &mut hold);
        let event = Event { run: Some(run), ..Event::new(journal.next_event(), ServerTime(us), what) };
        let event = Record::of(utc(us), event);
        // The writer is let catch up now and then: nothing is measured here, and nothing may be dropped.
        if n % 2_000 == 1_999 {
            let (sent, received) = std::sync::mpsc::channel();
            journal.record_then(event, Box::new(move |_| sent.send(()).unwrap()));
            received.recv().unwrap();
        } else {
            journal.record(event);
        }
        if n % 1_000 == 999 || n + 1 == events {
            let ended = RunEnded { run, how: RunEnd::Complete, first: None, last: None, at: ServerTime(us) };
            journal.record(Record::of(utc(us), ended));
        }
    }
    journal.close().unwrap();
    folder
}

/// Opening a production with 1 to 1,000 scores.
fn scores() -> Curve {
    let point = |count: usize| {
        let folder = tempfile::tempdir().unwrap();
        let made =
            Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("new").arg(folder.path().join("p")).output().unwrap();
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let fights = folder.path().join("p/scores");
        for n in 0..count {
            std::fs::write(fights.join(format!("extra-{n}.fight")), fight(100).replace("Long", &format!("Long {n}")))
                .unwrap();
        }
        (count, timed(|| Production::open(&folder.path().join("p")).unwrap()))
    };
    curve("production, scores", [1, 10, 100, 1_000].map(point))
}

/// Preparing a production's recordings, 1 to 1,000 of half a second: read from their files, brought to the rate of the
/// device, measured and made equally loud.
fn recordings() -> Curve {
    let point = |count: usize| {
        let folder = tempfile::tempdir().unwrap();
        for n in 0..count {
            std::fs::write(folder.path().join(format!("blow-{n}.wav")), blow(n)).unwrap();
        }
        let prepare = || {
            let (recordings, troubles) = load(folder.path());
            assert!(recordings.len() == count && troubles.is_empty(), "{troubles:?}");
            let wanted = |name: &str| name.starts_with("blow-");
            Library::of(recordings, &BTreeMap::new(), wanted).shelf(48_000)
        };
        (count, timed(prepare))
    };
    curve("sounds, recordings", [1, 10, 100, 1_000].map(point))
}

/// A blow of half a second at 44.1 kHz as a WAV file, 16 bits, each of another pitch (RIFF, PCM, one channel).
fn blow(n: usize) -> Vec<u8> {
    let (rate, samples) = (44_100_u32, 22_050_u32);
    let pitch = 0.02 + n as f32 * 1e-4;
    let sample = |at: u32| ((at as f32 * pitch).sin() * (-(at as f32) / 4_000.0).exp() * 20_000.0) as i16;
    let mut file = Vec::from(*b"RIFF");
    file.extend((36 + 2 * samples).to_le_bytes());
    file.extend(*b"WAVEfmt ");
    file.extend(16_u32.to_le_bytes());
    file.extend([1_u16, 1].into_iter().flat_map(u16::to_le_bytes));
    file.extend([rate, 2 * rate].into_iter().flat_map(u32::to_le_bytes));
    file.extend([2_u16, 16].into_iter().flat_map(u16::to_le_bytes));
    file.extend(*b"data");
    file.extend((2 * samples).to_le_bytes());
    file.extend((0..samples).flat_map(|at| sample(at).to_le_bytes()));
    file
}

/// The curves with both axes by powers of ten.
fn svg(curves: &[Curve]) -> String {
    let (width, height, left, unit) = (900.0, 560.0, 70.0, 90.0);
    let x = |n: usize| left + (n as f64).log10() * unit;
    let y = |ms: f64| height - 50.0 - (ms.max(0.001).log10() + 3.0) * 56.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" font-family=\"sans-serif\" \
         font-size=\"12\"><rect width=\"100%\" height=\"100%\" fill=\"white\"/>"
    );
    for power in 0..=7 {
        let at = x(10usize.pow(power));
        let _ = write!(
            out,
            "<path d=\"M{at} 20V{}\" stroke=\"#ddd\"/><text x=\"{at}\" y=\"{}\">10^{power}</text>",
            height - 50.0,
            height - 30.0
        );
    }
    for power in -3..=5 {
        let at = y(10f64.powi(power));
        let _ = write!(
            out,
            "<path d=\"M{left} {at}H{}\" stroke=\"#ddd\"/><text x=\"4\" y=\"{at}\">10^{power} ms</text>",
            width - 130.0
        );
    }
    let dashes = ["", "6 3", "2 3", "8 3 2 3"];
    for (number, curve) in curves.iter().enumerate() {
        let line: Vec<String> = curve.points.iter().map(|(n, ms)| format!("{:.1},{:.1}", x(*n), y(*ms))).collect();
        let dash = dashes.get(number % dashes.len()).unwrap_or(&"");
        let _ = write!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"black\" stroke-dasharray=\"{dash}\"/>",
            line.join(" ")
        );
    }
    for (name, at) in labels(curves, &y) {
        let beside = curves.iter().find(|curve| curve.name == name).and_then(|curve| curve.points.last());
        let beside = beside.map_or(left, |(n, _)| x(*n));
        let _ = write!(out, "<text x=\"{:.1}\" y=\"{:.1}\">{name}</text>", beside + 6.0, at + 4.0);
    }
    out + "</svg>\n"
}

/// The curves' names and how far down each stands: at the end of its curve, or below another that stands there.
fn labels(curves: &[Curve], y: &dyn Fn(f64) -> f64) -> Vec<(&'static str, f64)> {
    let ends = |curve: &Curve| curve.points.last().map(|(n, ms)| (*n, y(*ms), curve.name));
    let mut ends: Vec<(usize, f64, &'static str)> = curves.iter().filter_map(ends).collect();
    ends.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)));
    let mut lowest: Option<(usize, f64)> = None;
    let beside = |(n, at, name): (usize, f64, &'static str)| {
        let at = lowest.filter(|(before, _)| *before == n).map_or(at, |(_, lowest)| at.max(lowest + 13.0));
        lowest = Some((n, at));
        (name, at)
    };
    ends.into_iter().map(beside).collect()
}
