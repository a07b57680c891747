//! An evening: people with phones, a network, a disk and a server that is started again, from one seed. Chance does its
//! worst for a while, then all is well, and nobody does anything more.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

use tempfile::TempDir;

use super::chance::Chance;
use super::delivery::AtServers;
use super::life::{self, Life, Seeds};
use super::misfortunes::Misfortunes;
use super::rules::Rules;
use super::scene::Scene;
use super::times::{CALM, CHAOS};
use crate::call::Fight;
use crate::journal::ByHand;

/// More does not happen in an evening.
const STEPS: u32 = 300_000;

/// The evening.
struct Evening {
    scene: Scene,
    misfortunes: Misfortunes,
    /// How often anything happened.
    steps: u32,
}

/// What belongs to one life of the server, beside the server.
struct Around {
    at_server: AtServers,
    disk: ByHand,
    /// Its clock, and how long its machine has slept.
    clock: &'static AtomicI64,
    slept: &'static AtomicI64,
    /// When its clock began to count.
    epoch: i64,
}

/// Plays the evening of that seed; with `noting`, a failure says what came before it.
pub(super) fn evening(seed: u64, fights: &[Arc<Fight>], noting: bool) -> Rules {
    let folder = ["/dev/shm", "/tmp"].into_iter().find_map(|place| TempDir::new_in(place).ok()).unwrap();
    let misfortunes = Misfortunes::new(Chance::of(seed, 0));
    let mut evening = Evening { scene: Scene::new(seed), misfortunes, steps: 0 };
    evening.scene.rules.noting = noting;
    while evening.scene.now < CHAOS + CALM {
        evening.life(folder.path(), fights);
    }
    let rules = evening.scene.rules;
    rules.read(folder.path());
    rules
}

impl Evening {
    /// One life of the server.
    fn life(&mut self, data: &Path, fights: &[Arc<Fight>]) {
        let clock: &'static AtomicI64 = Box::leak(Box::new(AtomicI64::new(0)));
        let slept: &'static AtomicI64 = Box::leak(Box::new(AtomicI64::new(0)));
        let Seeds { mut work, hub, lanes, lines, keys, brake, disk, invitations } =
            life::open(data, fights, clock, slept);
        let mut around = Around { at_server: AtServers::new(), disk, clock, slept, epoch: self.scene.now };
        if self.scene.phones.is_empty() {
            self.scene.invite(invitations);
        }
        let to_hub = lanes.to_hub.clone();
        let mut life = Life { reactor: work.reactor(), hub, lanes, lines, keys, brake, to_hub };
        let written = around.disk.take();
        self.scene.rules.begin_life(&life, written);
        self.misfortunes.ends = false;
        while !self.misfortunes.ends && self.scene.now < CHAOS + CALM {
            self.pass_time(&mut life, &mut around);
            self.misfortunes.strike(&mut self.scene);
            self.scene.end_sleep();
            self.scene.deliver(&mut life, &mut around.at_server, around.epoch);
            self.scene.wake_phones();
            if self.scene.server_sleeps <= self.scene.now {
                self.work(&mut life, &mut around);
            }
        }
        self.end_life(life, around);
    }

    /// Time goes on to the next moment at which anything happens.
    fn pass_time(&mut self, life: &mut Life<'_>, around: &mut Around) {
        let (now, next) = (self.scene.now, self.next(life, around.epoch));
        self.steps += 1;
        self.scene.rules.must(self.steps < STEPS, || "everything goes round and round".into());
        if next > now && self.scene.server_sleeps > now {
            // The server's clock stands still while its machine sleeps; others' do not.
            let wakes = self.scene.server_sleeps.min(next);
            let long = wakes - now;
            for phone in &mut self.scene.phones {
                phone.jumped = wakes;
                phone.epoch += if phone.epoch == around.epoch { long } else { 0 };
            }
            around.epoch += long;
            around.slept.fetch_add(long, Relaxed);
            self.scene.rules.server_sleeps(long);
        }
        around.clock.store(next - around.epoch, Relaxed);
        self.scene.set_time(next);
    }

    /// The next moment at which anything happens.
    fn next(&mut self, life: &mut Life<'_>, epoch: i64) -> i64 {
        let now = self.scene.now;
        let awake = self.scene.server_sleeps <= now;
        let server = if awake { life.reactor.deadline().0 + epoch } else { self.scene.server_sleeps };
        let turns = awake && self.misfortunes.hub_stands <= now;
        let hub = turns.then(|| life.hub.deadline().0 + epoch);
        let others = [self.scene.next_arrival(), self.scene.next_deed(), self.misfortunes.next(now)];
        let next = others.into_iter().chain([hub, Some(server), Some(CHAOS + CALM)]).flatten().min();
        next.unwrap_or(now).max(now)
    }

    /// The server does what it can now, and the rules look at it.
    fn work(&mut self, life: &mut Life<'_>, around: &mut Around) {
        let (scene, misfortunes) = (&mut self.scene, &mut self.misfortunes);
        let stands = misfortunes.hub_stands > scene.now;
        life.settle(&mut around.at_server, stands);
        scene.rules.recorded(around.disk.take());
        let on_disk = misfortunes.disk.write(&mut around.disk, scene.now, &mut misfortunes.chance);
        scene.rules.on_disk(on_disk);
        life.settle(&mut around.at_server, stands);
        scene.rules.recorded(around.disk.take());
        scene.rules.let_in(&around.at_server);
        scene.rules.looks(life, !stands);
        scene.watch(&around.at_server, around.epoch);
        scene.rules.looked(life, &scene.connections, &around.at_server);
        scene.rules.agree(life, &scene.phones);
        scene.rules.all_shown(&mut scene.phones, around.epoch);
    }

    /// The server ends: as it should when the evening is over, and else without a word and with what it had not written.
    fn end_life(&mut self, mut life: Life<'_>, mut around: Around) {
        let scene = &mut self.scene;
        if self.misfortunes.ends {
            let on_disk = self.misfortunes.disk.dies(&mut around.disk, scene.now, &mut self.misfortunes.chance);
            scene.rules.on_disk(on_disk);
        } else {
            scene.rules.all_know(&life, &scene.phones);
            life.hub.end();
            life.settle(&mut around.at_server, false);
            scene.rules.recorded(around.disk.take());
            scene.rules.looks(&life, true);
            scene.rules.on_disk(around.disk.commit(usize::MAX));
        }
        drop(life);
        self.be_without_server(&around.at_server);
    }

    /// There is no server: what was on its way still arrives, and phones knock in vain.
    fn be_without_server(&mut self, at_server: &AtServers) {
        let scene = &mut self.scene;
        for number in at_server.keys() {
            if let Some(connection) = scene.connections.get(number) {
                connection.down.finish();
            }
        }
        let starts = self.misfortunes.starts;
        while scene.now < starts {
            let next = scene.phones_next().chain(scene.arrivals_down()).min().unwrap_or(starts);
            scene.set_time(next.clamp(scene.now, starts));
            if scene.now == starts {
                return;
            }
            scene.end_sleep();
            scene.deliver_down();
            scene.knock_in_vain();
        }
    }
}
