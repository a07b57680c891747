//! What a journal of ten years costs: season after season of the demo's company in one journal, with the reports of their
//! phones, then how long its first answers take, each in a process of its own that has read nothing before.
//!
//! `cargo bench --bench ten_years` writes 400 seasons (ten million rows, over a gigabyte); `-- 40` writes a tenth;
//! `-- 400 DIR` keeps the production in that folder and takes it up again where it is there.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::disallowed_methods)]

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use holdfast::journal::Reader;
use holdfast::production::{self, Production};
use holdfast::review::season::{self, SeasonScore};
use jiff::civil::Date;

/// One season after the other, six weeks each: as many rows as a busy company's in ten years take more days than that.
const BEGIN: Date = Date::constant(1980, 1, 7);

fn main() {
    let mut given = std::env::args().skip(1).filter(|it| it != "--bench");
    let seasons: i32 = given.next().map_or(400, |it| it.parse().expect("a number of seasons"));
    let temporary = tempfile::tempdir().unwrap();
    let folder = given.next().map_or_else(|| temporary.path().join("production"), PathBuf::from);
    if !folder.exists() {
        let begun = Instant::now();
        write(&folder, seasons);
        println!("written in {:.0} s", begun.elapsed().as_secs_f64());
    }
    println!("{} rows", Reader::open(&Production::open(&folder).unwrap().data()).unwrap().rows().unwrap());
    for arguments in
        [&["log"][..], &["log", "--kind", "hold"], &["report"], &["report", "--format", "html"], &["verify"]]
    {
        println!("{:<24} {}", arguments.join(" "), asked(&folder, arguments));
    }
    println!("{:<24} first answer {:.2} s", "serve", served(&folder));
}

/// Seconds from the start of a server to its first page.
fn served(folder: &Path) -> f64 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = listener.local_addr().unwrap();
    drop(listener);
    let begun = Instant::now();
    let mut server = Command::new(env!("CARGO_BIN_EXE_holdfast"));
    server.arg("serve").arg(folder).args(["--listen", &place.to_string()]).stdout(Stdio::null()).stderr(Stdio::null());
    let mut server = server.spawn().unwrap();
    let answers = || {
        let mut stream = TcpStream::connect(place)?;
        stream.write_all(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")?;
        stream.read_exact(&mut [0])
    };
    while answers().is_err() {
        assert!(begun.elapsed().as_secs() < 120, "the server does not answer");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let took = begun.elapsed().as_secs_f64();
    server.kill().unwrap();
    server.wait().unwrap();
    took
}

fn write(folder: &Path, seasons: i32) {
    production::start_demo(folder).unwrap();
    let production = Production::open(folder).unwrap();
    let texts: Vec<String> = production.fights.iter().map(|fight| fight.text().to_owned()).collect();
    let scores: Vec<SeasonScore<'_>> = texts.iter().map(|text| SeasonScore { first: text, newest: text }).collect();
    for season in 0..seasons {
        let days = jiff::Span::new().days(season * i32::try_from(season::DAYS).unwrap());
        season::write(&production.data(), &scores, BEGIN.checked_add(days).unwrap()).unwrap();
    }
}

/// The first byte, the whole, and the most memory that it took.
fn asked(folder: &Path, arguments: &[&str]) -> String {
    let script = "import resource, subprocess, sys, time\n\
        begun = time.time()\n\
        it = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)\n\
        it.stdout.read(1)\n\
        first = time.time() - begun\n\
        while it.stdout.read(1 << 20): pass\n\
        it.wait()\n\
        print(f'first answer {first:.2f} s, whole {time.time() - begun:.2f} s,', \
        resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024, 'MB')";
    let (command, options) = arguments.split_first().unwrap();
    let said = Command::new("python3")
        .args(["-c", script, env!("CARGO_BIN_EXE_holdfast"), command])
        .arg(folder)
        .args(options)
        .output()
        .unwrap();
    String::from_utf8_lossy(&said.stdout).trim().to_owned()
}
