//! Keeps what comes into the call while the server runs. Nothing here waits: the journal's own thread writes.

use std::collections::HashSet;
use std::sync::Arc;

use super::picture::mark;
use super::recorded::{Begin, FightText, LinkChange, Recorded, Text};
use crate::call::{Call, Fight, Input};
use crate::journal::{Came, Journal, Record};
use crate::units::ServerTime;

/// What keeps the inputs of a call.
pub(in crate::server) struct Tape {
    journal: Journal,
    /// Links that changed since the last row: phones that come and go all the time make few rows.
    links: Vec<LinkChange>,
    /// The texts that were given to the journal.
    texts: HashSet<String>,
    /// The first row, until it is written.
    begin: Option<(Box<Begin>, Vec<Text>)>,
}

impl Tape {
    /// For a call that a server begins with.
    pub(super) fn new(journal: Journal, begin: Begin, texts: Vec<Text>) -> Tape {
        Tape { journal, links: Vec::new(), texts: HashSet::new(), begin: Some((Box::new(begin), texts)) }
    }

    /// The call goes on from here.
    pub(in crate::server) fn begin(&mut self) {
        if let Some((begin, texts)) = self.begin.take() {
            self.keep(texts);
            self.row(ServerTime::default(), &Recorded::Begin(begin));
        }
    }

    /// Something comes into the call.
    pub(in crate::server) fn input(&mut self, at: ServerTime, input: &Input) {
        let change = |member, back| LinkChange { at, member, back };
        match input {
            // Time alone is no input: what it does follows from the others.
            Input::Tick => {}
            Input::LinkLost(member) => self.links.push(change(*member, false)),
            Input::LinkBack(member) => self.links.push(change(*member, true)),
            Input::ReadAnew { fights, checks, why, evening } => {
                let (fights, texts) = texts_of(fights);
                self.keep(texts);
                let (checks, why, evening) = (checks.clone(), why.clone(), evening.clone());
                self.add(at, &Recorded::ReadAnew { fights, checks, why, evening });
            }
            input => self.add(at, &Recorded::Input(input.clone())),
        }
    }

    /// The state is told.
    pub(in crate::server) fn told(&mut self, call: &Call) {
        self.add(call.now(), &Recorded::Told(mark(call)));
    }

    fn add(&mut self, at: ServerTime, row: &Recorded) {
        if let (false, Some(last)) = (self.links.is_empty(), self.links.last()) {
            let at = last.at;
            let links = std::mem::take(&mut self.links);
            self.row(at, &Recorded::Links(links));
        }
        self.row(at, row);
    }

    fn row(&self, at: ServerTime, row: &Recorded) {
        match serde_json::to_string(row) {
            Ok(body) => self.journal.record(Record::Came(Came { at, body })),
            Err(error) => tracing::error!("an input cannot be kept: {error}"),
        }
    }

    fn keep(&mut self, texts: Vec<Text>) {
        for Text { sha256, text } in texts {
            if self.texts.insert(sha256.clone()) {
                self.journal.record(Record::Text { sha256, text });
            }
        }
    }
}

/// Fights by their texts, and the texts.
pub(super) fn texts_of(fights: &[Arc<Fight>]) -> (Vec<FightText>, Vec<Text>) {
    let (named, texts): (Vec<_>, Vec<_>) = fights.iter().map(|fight| FightText::of(fight)).unzip();
    (named, texts.concat())
}
