//! The good events of a journal, given while it is looked at: the first at once, however long the journal is. As long as the
//! chain holds from its beginning on, what was read is good whatever follows. Where it breaks, the rest is what a salvage
//! brings, from a journal of its own; the pages and indexes of the file are looked at last.

use std::path::Path;

use rusqlite::params;

use super::chain::{Head, seal};
use super::columns::{self, EventRow};
use super::damage::{bad_pages, is_long_enough, salvaged};
use super::links::{Link, Told, each_link};
use super::read::{EventFilter, Reader};
use super::view::View;
use super::{JournalError, find, schema};
use crate::event::EventKind;

impl Reader {
    /// Gives the good events that `filter` asks for to `each`, one by one and in order, until it says false, of the journal
    /// of a production folder, of a data folder, or of the file itself. Comes back with what is damaged, a sentence each, as
    /// far as the journal was looked at. What was given before an error is good.
    ///
    /// # Errors
    /// As [`Reader::open_good`].
    pub fn each_good_event(
        data: &Path,
        filter: EventFilter,
        mut each: impl FnMut(EventRow) -> bool,
    ) -> Result<Vec<String>, JournalError> {
        let reader = Reader::leaving_out(View::open(&find(data)?)?);
        let mut looked = Looked { before: Head::default(), unbroken: true, wanted: true };
        let unreadable = looked.over(&reader, filter, &mut each)?;
        if !looked.wanted {
            return Ok(reader.damage());
        }
        let pages = bad_pages(&reader.view.db, 1);
        let whole = looked.unbroken && unreadable == 0 && is_long_enough(&reader.view, looked.before.link);
        if whole && pages.is_empty() {
            return Ok(reader.damage());
        }
        let rest = salvaged(reader.view, &pages)?;
        reader.damage.take().into_iter().for_each(|says| rest.note(says));
        rest.each_event_after(Some(looked.before.link), filter, each)?;
        Ok(rest.damage())
    }
}

/// How far the chain was followed.
struct Looked {
    /// The last good row.
    before: Head,
    /// No row was met that does not follow on the one before it.
    unbroken: bool,
    /// More is wanted.
    wanted: bool,
}

impl Looked {
    /// Follows the chain as far as it holds, and gives its events. Comes back with how many tables could not be read.
    fn over(
        &mut self,
        reader: &Reader,
        filter: EventFilter,
        each: &mut impl FnMut(EventRow) -> bool,
    ) -> Result<usize, JournalError> {
        let view = &reader.view;
        let failed = |error: rusqlite::Error| JournalError::reading(&view.path, &error);
        let sql = format!("SELECT {} FROM events WHERE link = ?1 AND (?2 IS NULL OR run = ?2)", columns::READ);
        // Where the table of events cannot be asked at all, the salvage says so.
        let Ok(mut query) = view.db.prepare(&sql) else { return Ok(1) };
        let mut error = None;
        let unreadable = each_link(&view.db, schema::tables_of(view.version), |link| {
            if !self.follow(link) {
                return false;
            }
            if !asks_for(filter.kind, link) {
                return true;
            }
            let event = query
                .query_map(params![link.link, filter.run], columns::read)
                .and_then(|mut rows| rows.next().transpose());
            match event.or_else(|why| {
                reader.leave_out(|| format!("Event {}", link.seq().unwrap_or_default()), why).map(|()| None)
            }) {
                Ok(Some(event)) => self.wanted = each(event),
                Ok(None) => {}
                Err(why) => error = Some(why),
            }
            self.wanted && error.is_none()
        });
        match error {
            Some(error) => Err(failed(error)),
            None => Ok(unreadable.len()),
        }
    }

    /// True when the row is as it was sealed, right after the last one.
    fn follow(&mut self, link: &Link) -> bool {
        let own = seal(&self.before.seal, &link.digest);
        self.unbroken = link.link.checked_sub(1) == Some(self.before.link) && link.seal == Some(own);
        if self.unbroken {
            self.before = Head { link: link.link, seal: own };
        }
        self.unbroken
    }
}

fn asks_for(kind: Option<EventKind>, link: &Link) -> bool {
    match &link.told {
        Told::Event { kind: is, .. } => kind.is_none_or(|kind| kind.word() == is),
        _ => false,
    }
}
