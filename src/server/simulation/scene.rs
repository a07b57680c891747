//! Everything but the server: the phones, the connections between them and it, the true time, and the rules that watch.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

use super::chance::Chance;
use super::connection::Connection;
use super::phone::{Phone, STRANGER};
use super::rules::Rules;
use crate::call::Role;

/// The scene.
pub(super) struct Scene {
    pub(super) now: i64,
    pub(super) seed: u64,
    /// The true time, as the network has it.
    pub(super) clock: &'static AtomicI64,
    pub(super) phones: Vec<Phone>,
    pub(super) connections: BTreeMap<usize, Connection>,
    pub(super) next_connection: usize,
    /// Until when the whole machine of the server sleeps.
    pub(super) server_sleeps: i64,
    /// The secret of each role's invitation.
    pub(super) invitations: BTreeMap<Role, String>,
    pub(super) rules: Rules,
}

impl Scene {
    /// An empty one.
    pub(super) fn new(seed: u64) -> Scene {
        Scene {
            now: 0,
            seed,
            clock: Box::leak(Box::default()),
            phones: Vec::new(),
            connections: BTreeMap::new(),
            next_connection: 0,
            server_sleeps: 0,
            invitations: BTreeMap::new(),
            rules: Rules::default(),
        }
    }

    /// Who takes part.
    pub(super) fn invite(&mut self, invitations: BTreeMap<Role, String>) {
        let lotte = (Role::Performer, "Maret's Lotte", Some("MARET"));
        // In two evenings of three an understudy has come, who usually plays nothing.
        let ana = if self.seed.is_multiple_of(3) { Role::Observer } else { Role::Performer };
        let people = [
            (Role::Desk, "Ines", None),
            (Role::Captain, "Bram", None),
            lotte,
            (Role::Performer, "Osk's Pim", Some("OSK")),
            (ana, "Ana", None),
            (Role::Desk, "Tove", None),
            (Role::Observer, "a stranger", None),
            lotte,
        ];
        for (number, person) in people.into_iter().enumerate() {
            let chance = Chance::of(self.seed, 100 + number as u64);
            let invitation =
                if number == STRANGER { "0123456789abcdef0123456789abcdef" } else { &invitations[&person.0] };
            self.phones.push(Phone::new(number, person, invitation, chance));
        }
        self.invitations = invitations;
    }

    /// It is so late now.
    pub(super) fn set_time(&mut self, now: i64) {
        self.now = now;
        self.clock.store(now, Relaxed);
        self.rules.now = now;
    }
}
