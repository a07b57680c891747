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
use support::machine::{load, open_more_files};
use support::{crowd, figures, hold, holdfast, joining, link, process, sighting, system, table, websocket};

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    open_more_files();
    match words.as_slice() {
        [word, port] if word == sink::WORD => {
            sink::serve(port.parse().unwrap());
            return ExitCode::SUCCESS;
        }
        [word, rest @ ..] if word == attack::WORD => {
            attack::run(rest);
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
    println!("Load of this machine before: {}.", load());
    rows::all(&options);
    ExitCode::SUCCESS
}
