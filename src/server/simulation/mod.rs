//! The whole server under simulation: the hub, the loop of the sockets, the brake, the journal and the members' own state
//! machine as they are, with a network, a disk, clocks and people of chance. What may never happen is held against what is
//! seen at the wire, on the phones and on the disk.
//!
//! `make test` plays a thousand evenings; `HOLDFAST_EVENINGS=100000` plays as many as that, and `HOLDFAST_SEED=7` that one
//! alone. A seed that fails is said with the failure, and becomes one of [`KEPT`].

mod chance;
mod connection;
mod delivery;
mod desk;
mod devices;
mod disk;
mod evening;
mod frames;
mod life;
mod misfortunes;
mod network;
mod people;
mod phone;
mod playbill;
mod record;
mod rules;
mod scene;
mod times;

use std::io::{self, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use tracing_appender::non_blocking::NonBlockingBuilder;

use crate::call::Fight;
use evening::evening;
use playbill::fights;
use rules::Count;
use times::{CALM, CHAOS};

/// Evenings that found something once.
const KEPT: [u64; 10] = [95, 421, 755, 883, 1_190, 2_664, 2_779, 3_098, 4_291, 4_311];

fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok().map(|text| text.parse().expect("a number"))
}

/// Plays that evening; what happened that may not is said with its seed.
fn played(seed: u64, fights: &[Arc<Fight>]) -> Result<Count, String> {
    catch_unwind(AssertUnwindSafe(|| evening(seed, fights, number("HOLDFAST_SEED").is_some()).seen)).map_err(
        |payload| {
            let said = payload.downcast_ref::<String>().cloned();
            let said = said.or_else(|| payload.downcast_ref::<&str>().map(|said| (*said).to_owned()));
            format!("HOLDFAST_SEED={seed}: {}", said.unwrap_or_default())
        },
    )
}

/// The evenings that are played: one of two halves, for a machine with two processors.
fn seeds(half: u64) -> Vec<u64> {
    match number("HOLDFAST_SEED") {
        Some(seed) => [seed].into_iter().filter(|_| half == 0).collect(),
        None => {
            let all = 0..number("HOLDFAST_EVENINGS").unwrap_or(1_000);
            let kept = KEPT.into_iter().filter(|seed| !all.contains(seed)).collect::<Vec<_>>();
            kept.into_iter().chain(all).filter(|seed| seed % 2 == half).collect()
        }
    }
}

#[test]
fn what_may_never_happen_does_not_on_even_evenings() {
    play(&seeds(0));
}

/// On odd evenings the log's thread stands from the first line on.
#[test]
fn what_may_never_happen_does_not_on_odd_evenings() {
    let (lines, guard) = NonBlockingBuilder::default().lossy(true).buffered_lines_limit(16).finish(Stands);
    // Nobody is to wait for the end of what never ends.
    std::mem::forget(guard);
    let log = tracing_subscriber::fmt().with_writer(lines).finish();
    tracing::subscriber::with_default(log, || play(&seeds(1)));
}

/// Takes no line, ever.
struct Stands;

impl Write for Stands {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        loop {
            std::thread::park();
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn play(seeds: &[u64]) {
    let fights = fights();
    let mut all = Count::default();
    let mut failed = Vec::new();
    for seed in seeds {
        match played(*seed, &fights) {
            Ok(seen) => all = all.and(seen),
            Err(why) => failed.push(why),
        }
    }
    let hours = (CHAOS + CALM) as f64 * seeds.len() as f64 / 3.6e9;
    println!("{} evenings, {hours:.1} hours: {all:?}", seeds.len());
    assert!(failed.is_empty(), "{} evenings failed:\n{}", failed.len(), failed.join("\n"));
    // An evening in which nothing happens tests nothing.
    let enough = seeds.len() as u64;
    assert!(
        seeds.len() < 100
            || (all.holds > enough && all.shown > 10 * enough && all.lives > enough && all.orders + all.casts > enough),
        "{all:?}"
    );
}

#[test]
fn the_same_seed_is_the_same_evening() {
    let fights = fights();
    for seed in 0..5 {
        assert_eq!(played(seed, &fights), played(seed, &fights));
    }
}
