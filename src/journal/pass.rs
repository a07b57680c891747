//! One pass over the rows in the order of the chain: whether each carries the seal that it must, whether one is missing,
//! and what events and the ends of sessions say of the rows before them.

use std::collections::HashSet;

use rusqlite::Connection;

use super::chain::{Head, Seal, seal};
use super::finding::Finding;
use super::head::Noted;
use super::links::{Link, Told, describe, each_link};
use super::schema::Table;

/// What the pass has found.
#[derive(Default)]
pub(super) struct Pass {
    pub(super) findings: Vec<Finding>,
    pub(super) notes: Vec<String>,
    pub(super) events: u64,
    pub(super) holds: u64,
    pub(super) first_utc: Option<String>,
    pub(super) last_utc: Option<String>,
    before: Head,
    /// The seal of the row that the head note names.
    noted_seal: Option<Seal>,
    last_event: Option<Place>,
    known_holds: HashSet<i64>,
}

/// An event as a person can find it.
#[derive(Clone)]
struct Place {
    seq: Option<i64>,
    utc: Option<String>,
}

impl Pass {
    /// Passes over all rows.
    pub(super) fn over(db: &Connection, tables: &'static [Table], noted: &Noted) -> Pass {
        let mut pass = Pass::default();
        let noted_link = match noted {
            Noted::Head(head) => Some(head.link),
            _ => None,
        };
        let unreadable = each_link(db, tables, |link| {
            pass.chain(link);
            pass.told(link);
            if noted_link == Some(link.link) {
                pass.noted_seal = link.seal;
            }
            pass.before = Head { link: link.link, seal: link.seal.unwrap_or_default() };
            true
        });
        for table in unreadable {
            let says = format!("Rows of the table {} cannot be read: {}.", table.table, table.why);
            pass.find("unreadable", None, says);
        }
        pass.head(noted);
        pass
    }

    fn find(&mut self, code: &'static str, near: Option<Place>, says: String) {
        let Place { seq, utc } = near.unwrap_or(Place { seq: None, utc: None });
        self.findings.push(Finding { code, seq, utc, says });
    }

    /// The row carries the seal that it must have after the row before it, and no link is missing.
    fn chain(&mut self, link: &Link) {
        let here = || place(link).or_else(|| self.last_event.clone());
        // A row may have been given any number: the distance of two may be more than a number of the journal can say.
        let fault = match i128::from(link.link) - i128::from(self.before.link) {
            1 if link.seal == Some(seal(&self.before.seal, &link.digest)) => return,
            1 => ("altered", here(), format!("{} was altered, or the row before it was.", describe(link))),
            gap if gap > 1 => {
                let after = self.last_event.as_ref().map_or_else(|| "the beginning".to_owned(), Place::describe);
                let says = format!("Missing between {after} and {}: {} rows.", describe(link), gap - 1);
                ("missing", self.last_event.clone(), says)
            }
            _ => ("altered", here(), format!("{} has the place of another row.", describe(link))),
        };
        let (code, near, says) = fault;
        self.find(code, near, says);
    }

    /// What the row says of the rows before it.
    fn told(&mut self, link: &Link) {
        match &link.told {
            Told::Event { kind, hold, detail, .. } => self.event(link, kind, *hold, detail.as_deref()),
            Told::SessionEnd { session, links, last_seal, events } => {
                let as_noted = Some(*links) == link.link.checked_sub(1)
                    && self.before.link == *links
                    && last_seal.as_slice() == self.before.seal
                    && u64::try_from(*events) == Ok(self.events);
                if !as_noted {
                    let says = format!(
                        "Session {session} was closed with {links} rows and {events} events before its end; that is not \
                         what is there."
                    );
                    self.find("session", Some(Place { seq: None, utc: link.utc.clone() }), says);
                }
            }
            Told::Other => {}
        }
    }

    fn event(&mut self, link: &Link, kind: &str, hold: Option<i64>, detail: Option<&str>) {
        let here = place(link);
        let last = self.last_event.as_ref().and_then(|last| last.seq).unwrap_or(0);
        let gap = link.seq().map_or(0, |seq| i128::from(seq) - i128::from(last) - 1);
        if gap > 0 {
            self.find("missing", self.last_event.clone(), format!("{gap} events are missing after this one."));
        } else if gap < 0 {
            self.find("altered", here.clone(), format!("{} has a number that is not its own.", describe(link)));
        }
        match (kind, hold) {
            ("hold", Some(hold)) if !self.known_holds.insert(hold) => {
                self.find("hold", here.clone(), format!("Hold {hold} is written down more than once."));
            }
            ("hold-joined" | "release", hold) if hold.is_none_or(|hold| !self.known_holds.contains(&hold)) => {
                let hold = hold.unwrap_or_default();
                let says = format!("This event belongs to hold {hold}, which is not there before it.");
                self.find("hold", here.clone(), says);
            }
            ("rows-lost", _) => {
                if let Some(rows) = rows_lost(detail) {
                    let says = format!("When the server started here, the last {rows} rows before were gone.");
                    self.find("missing", here.clone(), says);
                }
            }
            _ => {}
        }
        self.events += 1;
        self.holds += u64::from(kind == "hold");
        if self.first_utc.is_none() {
            self.first_utc.clone_from(&link.utc);
        }
        self.last_utc.clone_from(&link.utc);
        self.last_event = here.or_else(|| self.last_event.take());
    }

    /// The chain is at least as long as it was noted to be.
    fn head(&mut self, noted: &Noted) {
        let last = self.last_event.clone();
        match noted {
            Noted::Nothing => {}
            Noted::Damaged => {
                let says = "The head note (journal.head) is damaged: whether the last rows are there is not known.";
                self.find("head", last, says.to_owned());
            }
            Noted::Head(head) if head.link > self.before.link => {
                let says = format!(
                    "The last {} rows are missing. If this is a copy, copy journal.sqlite-wal along with journal.sqlite.",
                    i128::from(head.link) - i128::from(self.before.link)
                );
                self.find("missing", last, says);
            }
            Noted::Head(head) if head.link > 0 && self.noted_seal != Some(head.seal) => {
                self.find("head", last, "The head note (journal.head) belongs to another journal.".to_owned());
            }
            Noted::Head(_) => {}
        }
    }
}

/// How many rows the note of a server says were gone when it started.
fn rows_lost(detail: Option<&str>) -> Option<i64> {
    let detail: serde_json::Value = serde_json::from_str(detail?).ok()?;
    Some(detail.get("rows").and_then(serde_json::Value::as_i64).unwrap_or_default())
}

fn place(link: &Link) -> Option<Place> {
    link.seq().map(|seq| Place { seq: Some(seq), utc: link.utc.clone() })
}

impl Place {
    fn describe(&self) -> String {
        match (self.seq, &self.utc) {
            (Some(seq), Some(utc)) => format!("Event {seq} of {utc}"),
            (Some(seq), None) => format!("Event {seq}"),
            _ => "a row".to_owned(),
        }
    }
}
