//! How fast a hold is, and what could delay it: `make bench`, or `cargo bench --bench hold`, with `-- --quick` for a look
//! and `-- --long` for 5,000 members. Everything runs on this machine over loopback: servers in processes of their own, and
//! a load generator in this one, a single thread that looks for the stop and decodes nothing.
//!
//! Judge ratios, not single figures: the noise of a small machine alone reaches some milliseconds at the 99th percentile.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a bench")]

mod behind;
mod brokers;
mod calls;
mod comparison;
mod conditions;
mod crowd;
mod desk;
mod fight;
mod figures;
mod floor;
mod freeze;
mod hold;
mod holdfast;
mod joining;
mod link;
mod options;
mod pipe;
mod process;
mod rounds;
mod sighting;
mod slow;
mod system;
mod table;
mod websocket;

use std::process::ExitCode;

use nix::sys::resource::{Resource, getrlimit, setrlimit};
use options::Options;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.as_slice() {
        [word, port] if word == floor::WORD => {
            floor::serve(port.parse().unwrap());
            return ExitCode::SUCCESS;
        }
        _ => {}
    }
    let options = match Options::parse(words.into_iter()) {
        Ok(options) => options,
        Err(sentence) => {
            eprintln!("{sentence}");
            return ExitCode::from(2);
        }
    };
    open_more_files();
    println!("Load of this machine before: {}.", load());
    if options.wants("hold") {
        comparison::compare(&options);
    }
    if options.wants("tls") {
        comparison::compare_secure(&options);
    }
    if options.wants("behind") {
        behind::behind(&options);
    }
    if options.wants("fight") {
        fight::fight(&options);
    }
    if options.wants("slow") {
        slow::slow(&options);
    }
    if options.wants("calls") {
        calls::calls(&options);
    }
    if options.wants("conditions") {
        conditions::conditions(&options);
    }
    ExitCode::SUCCESS
}

/// A socket is an open file, and many systems allow a thousand of them until they are asked.
fn open_more_files() {
    if let Ok((_, most)) = getrlimit(Resource::RLIMIT_NOFILE) {
        let _ = setrlimit(Resource::RLIMIT_NOFILE, most, most);
    }
}

/// How many others wanted a processor lately. From half a processor on the figures are about them as well.
fn load() -> String {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    load.split_whitespace().next().unwrap_or("not known").to_owned()
}
