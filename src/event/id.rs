//! The name of an event. It is made where the event is made, out of what the maker knows anyway, so that the same inputs
//! give the same names, and it stays what it is however often the event is sent, written or copied. The sequence number
//! is another thing: the journal gives it out, in the order in which it writes.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// The name of an event: in which start of the server, by whom, and as which of theirs it was made. Written
/// `12-call-305`, on the wire too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct EventId {
    /// The start of the server, as its journal counts them, from 1.
    pub session: u32,
    /// Who made it.
    pub maker: Maker,
    /// Which of the maker's events of that session it is, from 1. Numbers are never used twice; some are not used.
    pub number: u64,
}

/// Who makes events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Maker {
    /// The call: what people and time do to it.
    Call,
    /// The server around the call: sound, invitations, scores.
    Server,
    /// The journal itself, of what happened to it. Its numbers are the sequence numbers, and so are those of every
    /// event that was written before events had names.
    Journal,
}

impl Maker {
    const ALL: [Maker; 3] = [Maker::Call, Maker::Server, Maker::Journal];

    /// Its word in the name of an event.
    pub const fn word(self) -> &'static str {
        match self {
            Maker::Call => "call",
            Maker::Server => "server",
            Maker::Journal => "journal",
        }
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}-{}", self.session, self.maker.word(), self.number)
    }
}

/// The text is not the name of an event, or that of a maker which a newer Holdfast has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is not the name of an event: it looks like 12-call-305")]
pub struct NoEventId;

impl From<EventId> for String {
    fn from(id: EventId) -> String {
        id.to_string()
    }
}

impl TryFrom<String> for EventId {
    type Error = NoEventId;

    fn try_from(text: String) -> Result<EventId, NoEventId> {
        text.parse()
    }
}

impl FromStr for EventId {
    type Err = NoEventId;

    fn from_str(text: &str) -> Result<EventId, NoEventId> {
        let mut parts = text.splitn(3, '-');
        let mut part = || parts.next().ok_or(NoEventId);
        let (session, maker, number) = (part()?, part()?, part()?);
        Ok(EventId {
            session: session.parse().map_err(|_| NoEventId)?,
            maker: Maker::ALL.into_iter().find(|known| known.word() == maker).ok_or(NoEventId)?,
            number: number.parse().map_err(|_| NoEventId)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_name_is_read_back(session in any::<u32>(), maker in 0usize..3, number in any::<u64>()) {
            let id = EventId { session, maker: Maker::ALL[maker], number };
            prop_assert_eq!(id.to_string().parse(), Ok(id));
        }
    }

    #[test]
    fn what_is_no_name_is_refused() {
        for text in ["", "1", "1-call", "1-call-x", "x-call-1", "1-nobody-1", "1-call-1-1", "-1-call-1"] {
            assert_eq!(text.parse::<EventId>(), Err(NoEventId), "{text}");
        }
    }
}
