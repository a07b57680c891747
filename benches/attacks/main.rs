//! What a hold takes, and how long a phone needs to come back, while somebody attacks: `cargo bench --bench attacks`, with
//! `-- --quick` for a look and `-- NAME` for the attacks with that in their names. Everything runs on this machine over
//! loopback: the server, the attacker and a sink in processes of their own, and twenty healthy members in this one.
//!
//! Judge the ratio to the sink, not single figures: on a small machine an attacker takes processors from everybody.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a bench")]

mod attack;
mod attacker;
mod goals;
mod options;
mod phone;
mod rows;
mod sink;
mod stretch;
#[path = "../support/mod.rs"]
mod support;
mod usage;

use std::process::ExitCode;

use options::Options;
use support::machine::{begin, open_more_files};
use support::{crowd, figures, hold, holdfast, joining, link, process, sighting, system, table, websocket};

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.as_slice() {
        [word, port] if word == sink::WORD => {
            open_more_files();
            sink::serve(port.parse().unwrap());
            return ExitCode::SUCCESS;
        }
        [word, rest @ ..] if word == attack::WORD => {
            open_more_files();
            attack::run(rest);
            return ExitCode::SUCCESS;
        }
        _ => {}
    }
    let options = match begin(Options::parse(words.into_iter())) {
        Ok(options) => options,
        Err(code) => return code,
    };
    rows::all(&options);
    ExitCode::SUCCESS
}
