//! Who has which score open: an open page says so every few seconds; one that has not for a while is closed.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use crate::call::MemberId;
use crate::server::request::Asker;
use crate::units::{Micros, ServerTime};
use crate::wire::ScoreReader;

/// After so long without a word a page is closed: three times what an open one needs to ask again.
const GONE_AFTER: Micros = Micros::seconds(8);

/// Who has what open.
#[derive(Debug, Default)]
pub(super) struct Presence(Mutex<BTreeMap<MemberId, Open>>);

#[derive(Debug)]
struct Open {
    file: String,
    reader: ScoreReader,
    at: ServerTime,
}

impl Presence {
    /// Somebody has a score open; who else has?
    pub(super) fn here(&self, asker: &Asker, file: &str, now: ServerTime) -> Vec<ScoreReader> {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        open.retain(|_, open| now.since(open.at) < GONE_AFTER);
        let reader = ScoreReader { name: asker.name.clone(), role: asker.role };
        open.insert(asker.member, Open { file: file.to_owned(), reader, at: now });
        let others = open.iter().filter(|(member, open)| **member != asker.member && open.file == file);
        others.map(|(_, open)| open.reader.clone()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::call::Role;

    #[test]
    fn the_others_are_seen_until_their_page_is_closed() {
        let presence = Presence::default();
        let who = |member, name: &str| Asker { member: MemberId(member), name: name.into(), role: Role::Director };
        let at = |seconds: i64| ServerTime(seconds * 1_000_000);
        assert!(presence.here(&who(1, "Ana"), "scores/a.fight", at(0)).is_empty());
        let seen = presence.here(&who(2, "Bo"), "scores/a.fight", at(1));
        assert_eq!(seen, [ScoreReader { name: "Ana".into(), role: Role::Director }]);
        assert!(presence.here(&who(3, "Cy"), "scores/b.fight", at(1)).is_empty(), "another score");
        assert!(presence.here(&who(2, "Bo"), "scores/a.fight", at(8)).is_empty(), "Ana has gone");
    }
}
