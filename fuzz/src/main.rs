//! A long run of one fuzz target, guided by coverage: libFuzzer makes the bytes, the targets are those that `make test`
//! runs. `HOLDFAST_FUZZ_TARGET` says which.
#![no_main]

#[path = "../targets/mod.rs"]
mod targets;

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use targets::{TARGETS, Target};

static TARGET: OnceLock<Target> = OnceLock::new();

fuzz_target!(
    init: {
        // A panic that the program itself catches is none of the target's; one that reaches libFuzzer ends the run there.
        std::panic::set_hook(Box::new(|panic| eprintln!("{panic}")));
    },
    |bytes: &[u8]| TARGET.get_or_init(chosen)(bytes)
);

fn chosen() -> Target {
    let name = std::env::var("HOLDFAST_FUZZ_TARGET").unwrap_or_default();
    let found = TARGETS.iter().find(|(known, _)| *known == name);
    found.unwrap_or_else(|| panic!("HOLDFAST_FUZZ_TARGET names no target: {name:?}")).1
}
