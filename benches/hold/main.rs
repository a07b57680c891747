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
mod fight;
mod floor;
mod freeze;
mod options;
mod pipe;
mod rounds;
mod slow;
#[path = "../support/mod.rs"]
mod support;

use std::process::ExitCode;

use options::Options;
use support::machine::begin;
use support::{crowd, figures, hold, holdfast, joining, link, process, sighting, system, table};

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.as_slice() {
        [word, port] if word == floor::WORD => {
            floor::serve(port.parse().unwrap());
            return ExitCode::SUCCESS;
        }
        _ => {}
    }
    let options = match begin(Options::parse(words.into_iter())) {
        Ok(options) => options,
        Err(code) => return code,
    };
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
