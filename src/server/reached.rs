//! Which limits were reached of late, in sentences that name the cause, for the desk. Whoever keeps a limit says so here.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::call::Role;
use crate::production::Limits;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};

/// So long the desk reads of it.
const TOLD: Micros = Micros::seconds(60);
/// No more are told than these, the last ones.
const MOST_TOLD: usize = 5;
/// No more are known than these.
const MOST_KNOWN: usize = 200;
/// Fewer connections that say nothing are no matter.
const MANY_SILENT: u64 = 10;

/// A limit, and whose.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Limit {
    /// An address had to make room at the door.
    Connections(IpAddr),
    /// Requests from an address did not arrive in time, or connections that were let lie idle.
    Request(IpAddr),
    /// Connections from an address did not shake hands for HTTPS in time.
    Handshake(IpAddr),
    /// Connections from an address did not say in time who they are.
    Introduction(IpAddr),
    /// Somebody with a good code did not give a name in time.
    Choosing(IpAddr),
    /// There are as many members as may be.
    Members,
    /// As many have joined with an invitation as may.
    MembersAs(Role),
    /// More want to join with an invitation than are let in a second.
    Joins(Role),
    /// A member comes back over and over.
    Returns(String),
    /// A member's page said too much.
    Messages(String),
    /// A member's page asked for too much.
    Questions(String),
    /// A member's page is told too much.
    Told(String),
    /// A member's page sent a text that is too long.
    Text(String),
}

impl Limit {
    /// Whether a few of these are no matter: a phone falls asleep, a page is left open.
    fn is_usual(&self) -> bool {
        matches!(self, Limit::Request(_) | Limit::Handshake(_) | Limit::Introduction(_))
    }
}

/// The limits that were reached.
#[derive(Debug)]
pub(super) struct Reached {
    limits: Limits,
    clock: ServerClock,
    table: Mutex<BTreeMap<Limit, (u64, ServerTime)>>,
}

impl Reached {
    pub(super) fn new(limits: Limits, clock: ServerClock) -> Reached {
        Reached { limits, clock, table: Mutex::default() }
    }

    /// The limits.
    pub(super) fn limits(&self) -> &Limits {
        &self.limits
    }

    /// One was reached.
    pub(super) fn note(&self, limit: Limit) {
        let now = self.clock.now();
        let mut table = self.table();
        let (count, last) = table.entry(limit).or_insert((0, now));
        (*count, *last) = (count.saturating_add(1), now);
        if table.len() > MOST_KNOWN {
            let oldest = table.iter().min_by_key(|(_, (_, last))| *last).map(|(limit, _)| limit.clone());
            oldest.and_then(|oldest| table.remove(&oldest));
        }
    }

    /// What was reached of late, a sentence each, the last first.
    pub(super) fn sentences(&self) -> Vec<String> {
        let now = self.clock.now();
        let mut table = self.table();
        table.retain(|_, (_, last)| now.since(*last) < TOLD);
        let matters = |limit: &Limit, count: u64| !limit.is_usual() || count >= MANY_SILENT;
        let mut told: Vec<_> = table.iter().filter(|(limit, (count, _))| matters(limit, *count)).collect();
        told.sort_by_key(|(_, (_, last))| std::cmp::Reverse(*last));
        told.into_iter().take(MOST_TOLD).map(|(limit, (count, _))| self.says(limit, *count)).collect()
    }

    fn says(&self, limit: &Limit, count: u64) -> String {
        let Limits { request, introduction, choosing, members, members_by_invitation, .. } = self.limits;
        let Limits { joins_a_second, messages_a_second, kilobytes_a_second, text_letters, .. } = self.limits;
        match limit {
            Limit::Connections(from) => format!(
                "{from} opens more connections than this server keeps for those who have not joined; {count} of them were closed. Everybody who has joined stays in. Find the device with that address and take it off the network."
            ),
            Limit::Request(from) => format!(
                "{count} connections from {from} asked nothing whole within {} s and were closed. Find the device with that address.",
                request.0 / 1_000_000
            ),
            Limit::Handshake(from) => format!(
                "{count} connections from {from} began HTTPS and did not go on within {} s, and were closed. Find the device with that address.",
                introduction.0 / 1_000_000
            ),
            Limit::Introduction(from) => format!(
                "{count} connections from {from} did not say who they are within {} s and were closed. Find the device with that address.",
                introduction.0 / 1_000_000
            ),
            Limit::Choosing(from) => format!(
                "A page at {from} had a good code and gave no name within {} min, so it was closed. Whoever it is opens the code again.",
                choosing.0 / 60_000_000
            ),
            Limit::Members => format!(
                "{members} people have joined, and no more are let in. Take out those who are not in the call, or raise members under [limits]."
            ),
            Limit::MembersAs(role) => format!(
                "{members_by_invitation} people have joined as {}, and no more are let in with that code. If they are not yours, make the code new and cut off those who came with it.",
                role.title()
            ),
            Limit::Joins(role) => format!(
                "More people want to join as {} than the {joins_a_second} a second that are let in. If it is not your company with its phones, close the role to newcomers.",
                role.title()
            ),
            Limit::Returns(name) => format!(
                "A page of {name} comes back over and over and is made to wait. If they know nothing of it, take them out of the call."
            ),
            Limit::Messages(name) => format!(
                "A page of {name} said more than the {messages_a_second} things a second that are listened to, and its link was closed. If it goes on, take them out of the call."
            ),
            Limit::Questions(name) => format!(
                "A page of {name} asks for more than this server answers. If it goes on, take them out of the call."
            ),
            Limit::Told(name) => format!(
                "A page of {name} has been told {kilobytes_a_second} kB in a second, so its lists come late. Stops and cues do not."
            ),
            Limit::Text(name) => format!(
                "A page of {name} sent a text of more than {text_letters} letters. The reason of a hold or a stop was cut there; anything else was refused, and they were told."
            ),
        }
    }

    fn table(&self) -> MutexGuard<'_, BTreeMap<Limit, (u64, ServerTime)>> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicI64, Ordering};

    use super::*;

    #[test]
    fn the_last_of_a_minute_are_told_and_a_few_silent_connections_are_no_matter() {
        let time: &'static AtomicI64 = Box::leak(Box::default());
        let reached = Reached::new(Limits::default(), ServerClock::told(time));
        let from = IpAddr::from([10, 0, 0, 7]);
        for _ in 0..MANY_SILENT - 1 {
            reached.note(Limit::Introduction(from));
        }
        assert!(reached.sentences().is_empty());
        reached.note(Limit::Introduction(from));
        assert!(reached.sentences()[0].starts_with("10 connections from 10.0.0.7"));
        for (late, cause) in [
            (Limit::Request(from), "asked nothing whole within 20 s"),
            (Limit::Handshake(from), "began HTTPS and did not go on within 10 s"),
        ] {
            time.fetch_add(1, Ordering::Relaxed);
            (1..MANY_SILENT).for_each(|_| reached.note(late.clone()));
            assert!(!reached.sentences()[0].contains(cause), "a few are no matter");
            reached.note(late);
            assert!(reached.sentences()[0].contains(cause), "{:?}", reached.sentences());
        }
        for number in 0..1_000 {
            time.fetch_add(1, Ordering::Relaxed);
            reached.note(Limit::Returns(format!("Pim {number}")));
        }
        let told = reached.sentences();
        assert!(told.len() == MOST_TOLD && told[0].contains("Pim 999"), "{told:?}");
        assert!(reached.table().len() <= MOST_KNOWN);
        time.fetch_add(TOLD.0, Ordering::Relaxed);
        assert!(Arc::new(reached).sentences().is_empty());
    }
}
