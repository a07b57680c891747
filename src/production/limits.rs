//! `[limits]` in `production.toml`: how much of everything the server takes from those who come, so that nobody jams it.

use crate::toml_table::{Table, TomlFile};
use crate::units::Micros;

/// How much is taken. The usual values are many times what a company needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Connections whose other side has not said who it is, in all; nothing is a quarter of the files that the system lets
    /// this program open, 1,024 at the most.
    pub connections: Option<usize>,
    /// The same from one address; nothing is half of all.
    pub connections_from_one_address: Option<usize>,
    /// How long a request may take to arrive, and how long a connection that asks nothing is kept.
    pub request: Micros,
    /// How long somebody may take to show an invitation or a key.
    pub introduction: Micros,
    /// How long somebody with a good invitation may take over name and part.
    pub choosing: Micros,
    /// Members in all.
    pub members: usize,
    /// Members who joined with one invitation.
    pub members_by_invitation: usize,
    /// How many may join with one invitation a second, for ever; ten times as many at once.
    pub joins_a_second: u32,
    /// How often a member may come back a second, for ever; ten times as often at once.
    pub returns_a_second: u32,
    /// Messages from one page a second, for ever; three times as many at once. Holds have a count of their own besides.
    pub messages_a_second: u32,
    /// Kilobytes a second that one page is told of lists; what is more waits. Stops, cues and the state never wait.
    pub kilobytes_a_second: u32,
    /// The longest name of a person, in letters.
    pub name_letters: usize,
    /// The longest note or reason, in letters; the pages take no more than the fewest that can be set.
    pub text_letters: usize,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            connections: None,
            connections_from_one_address: None,
            request: Micros::seconds(20),
            introduction: Micros::seconds(10),
            choosing: Micros::seconds(600),
            members: 2_000,
            members_by_invitation: 1_000,
            joins_a_second: 20,
            returns_a_second: 2,
            messages_a_second: 100,
            kilobytes_a_second: 1_024,
            name_letters: 40,
            text_letters: 2_000,
        }
    }
}

pub(super) fn read(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Limits {
    let mut table = top.table(file, "limits");
    let usual = Limits::default();
    let mut count = |key, range, unit| table.whole(file, key, range, unit);
    let seconds = |asked: Option<u32>, usual| asked.map_or(usual, |seconds| Micros::seconds(i64::from(seconds)));
    let many = |asked: Option<u32>| asked.and_then(|asked| usize::try_from(asked).ok());
    let limits = Limits {
        connections: many(count("connections", 16..=100_000, " connections")),
        connections_from_one_address: many(count("connections_from_one_address", 8..=100_000, " connections")),
        request: seconds(count("request_seconds", 5..=120, " seconds"), usual.request),
        introduction: seconds(count("introduction_seconds", 5..=120, " seconds"), usual.introduction),
        choosing: seconds(count("choosing_seconds", 60..=3_600, " seconds"), usual.choosing),
        members: many(count("members", 1..=20_000, " members")).unwrap_or(usual.members),
        members_by_invitation: many(count("members_by_invitation", 1..=20_000, " members"))
            .unwrap_or(usual.members_by_invitation),
        joins_a_second: count("joins_a_second", 1..=1_000, " a second").unwrap_or(usual.joins_a_second),
        returns_a_second: count("returns_a_second", 1..=100, " a second").unwrap_or(usual.returns_a_second),
        // A phone in a fast fight sends about 25 (pulses, clock, reports).
        messages_a_second: count("messages_a_second", 50..=10_000, " a second").unwrap_or(usual.messages_a_second),
        kilobytes_a_second: count("kilobytes_a_second", 16..=1_000_000, " kB").unwrap_or(usual.kilobytes_a_second),
        name_letters: many(count("name_letters", 10..=40, " letters")).unwrap_or(usual.name_letters),
        text_letters: many(count("text_letters", 2_000..=3_000, " letters")).unwrap_or(usual.text_letters),
    };
    table.finish(file);
    limits
}
