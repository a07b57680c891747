//! Plays a start of the server again from its journal: the same inputs at the same times into a call that began the same.

use std::cell::RefCell;
use std::sync::Arc;

use super::picture::mark;
use super::recorded::{Begin, FightText, Known, Recorded};
use crate::call::{Call, Fight, Input, Output};
use crate::event::{Entry, EventId, Maker};
use crate::journal::{InputRow, JournalError, Reader, WrittenEvent};
use crate::units::{Micros, ServerTime};

/// So many starts of the server may hang together as one call.
const MOST_STARTS: usize = 200;

/// A start of the server, played to its end.
pub(super) struct Played {
    /// The call as it stood at the end.
    pub(super) call: Call,
    /// What it wanted written down in that start, in order.
    pub(super) entries: Vec<Entry>,
    /// The program that recorded it.
    pub(super) build: String,
    /// How many inputs there were.
    pub(super) inputs: u64,
    /// How often the state was told.
    pub(super) states: u64,
    /// The first state that was told otherwise than it comes out here.
    pub(super) differs: Option<Differs>,
}

/// A state that was told otherwise than it comes out here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Differs {
    /// Which of those that were told, from 1.
    pub(super) state: u64,
    /// When, on the clock of that start.
    pub(super) at: ServerTime,
}

/// Plays that start of the server, with `shift` taken off its times; nothing when its inputs were not kept. What is of an
/// earlier start that it goes on from is played first.
///
/// # Errors
/// Why not: the journal cannot be read, or what is in it cannot be played.
pub(super) fn play(reader: &Reader, session: i64, shift: Micros) -> Result<Option<Played>, String> {
    let shelf = Shelf { reader, fights: RefCell::default() };
    let mut starts = starts(reader, session, shift)?;
    let mut earlier = None;
    while let Some(start) = starts.pop() {
        let played = start.play(&shelf, earlier.take())?;
        if starts.is_empty() {
            return Ok(Some(played));
        }
        earlier = Some(played.call);
    }
    Ok(None)
}

/// A start of the server, its first row read.
struct Start {
    session: i64,
    shift: Micros,
    at: ServerTime,
    begin: Box<Begin>,
}

/// That start and those that it goes on from, newest first; nothing when its inputs were not kept.
fn starts(reader: &Reader, session: i64, shift: Micros) -> Result<Vec<Start>, String> {
    let mut starts = Vec::new();
    let mut next = Some((session, shift));
    while let Some((session, shift)) = next {
        if starts.len() == MOST_STARTS {
            return Err("too many starts of the server hang together as one call".to_owned());
        }
        match rows(reader, session, 1)?.pop() {
            Some((at, Recorded::Begin(begin))) => {
                next = begin.continues.map(|before| (before.session, shift + before.shift));
                starts.push(Start { session, shift, at, begin });
            }
            _ if starts.is_empty() => return Ok(starts),
            _ => return Err(format!("start {session} of the server is not in the journal")),
        }
    }
    Ok(starts)
}

impl Start {
    fn play(self, shelf: &Shelf<'_>, earlier: Option<Call>) -> Result<Played, String> {
        let Start { session, shift, at, begin } = self;
        let (call, outputs) = begun(&begin, at - shift, shelf.fights(&begin.fights)?, earlier);
        let mut player = Player { shelf, shift, call, entries: Vec::new(), inputs: 0, states: 0, differs: None };
        player.keep(outputs);
        for (at, row) in rows(shelf.reader, session, usize::MAX)?.into_iter().skip(1) {
            player.take(at, row)?;
        }
        player.finish(session)?;
        let Player { mut call, mut entries, inputs, states, differs, .. } = player;
        entries.extend(entries_of(call.settle(ServerTime(i64::MAX))));
        Ok(Played { call, entries, build: begin.build, inputs, states, differs })
    }
}

/// The first rows of a start of the server, so many at the most.
fn rows(reader: &Reader, session: i64, most: usize) -> Result<Vec<(ServerTime, Recorded)>, String> {
    let mut rows = Vec::new();
    let mut unreadable = None;
    let each = |row| {
        match read_row(row) {
            Ok(row) => rows.push(row),
            Err(why) => unreadable = Some(why),
        }
        unreadable.is_none() && rows.len() < most
    };
    reader.each_input(session, each).map_err(said)?;
    unreadable.map_or(Ok(rows), Err)
}

/// The call as a server begins with it, after an earlier one or as a new one, and what it wants done.
pub(super) fn begun(
    begin: &Begin,
    at: ServerTime,
    fights: Vec<Arc<Fight>>,
    earlier: Option<Call>,
) -> (Call, Vec<Output>) {
    let (settings, before) = (begin.settings.clone(), begin.before);
    let (mut call, mut outputs) = match earlier {
        Some(mut call) => {
            let outputs = call.restart(at, settings, fights, before);
            (call, outputs)
        }
        None => (Call::new(settings, fights, before).begun_at(at), Vec::new()),
    };
    let known: Vec<_> = call.roster().iter().map(|(id, member)| (id, member.name.clone())).collect();
    let gone = known.iter().filter(|(id, _)| begin.members.iter().all(|member| member.member != *id));
    let is_new = |member: &&Known| !known.contains(&(member.member, member.name.clone()));
    let come = begin.members.iter().filter(is_new).map(|member| Input::Known {
        member: member.member,
        name: member.name.clone(),
        role: member.role,
        part: member.part.clone(),
    });
    let taps = begin.taps.iter().map(|known| Input::KnownTap(known.member, known.tap.clone(), known.fate));
    let left = begin.left.iter().map(|Known { member, name, role, .. }| Input::Left {
        member: *member,
        name: name.clone(),
        role: *role,
    });
    for input in gone.map(|(id, _)| Input::Gone(*id)).chain(left).chain(come).chain(taps) {
        outputs.extend(call.handle(at, input));
    }
    (call, outputs)
}

/// What is to be written down among outputs.
pub(super) fn entries_of(outputs: Vec<Output>) -> impl Iterator<Item = Entry> {
    outputs.into_iter().filter_map(|output| match output {
        Output::Journal(entry) => Some(entry),
        _ => None,
    })
}

/// When the call made the last of its events that were written in that start of the server, and the names of all that
/// were written since it began.
pub(super) fn written(reader: &Reader, session: i64) -> Result<(Option<ServerTime>, Vec<EventId>), String> {
    let events = reader.events_since(session).map_err(said)?;
    let own = |row: &&WrittenEvent| row.session == session && row.id.maker == Maker::Call;
    let last = events.iter().filter(own).map(|row| row.at).max();
    Ok((last, events.into_iter().map(|row| row.id).collect()))
}

pub(super) fn said(error: JournalError) -> String {
    error.to_string()
}

fn read_row(row: InputRow) -> Result<(ServerTime, Recorded), String> {
    let read = serde_json::from_str(&row.body);
    let recorded = read.map_err(|error| format!("an input cannot be read by this Holdfast: {error}"))?;
    Ok((row.at, recorded))
}

/// The journal, and the fights that were read from its texts: each is read once, however many starts had it.
struct Shelf<'r> {
    reader: &'r Reader,
    fights: RefCell<Vec<(FightText, Arc<Fight>)>>,
}

impl Shelf<'_> {
    fn fights(&self, named: &[FightText]) -> Result<Vec<Arc<Fight>>, String> {
        named.iter().map(|named| self.fight(named)).collect()
    }

    fn fight(&self, named: &FightText) -> Result<Arc<Fight>, String> {
        let mut fights = self.fights.borrow_mut();
        if let Some((_, known)) = fights.iter().find(|(known, _)| known == named) {
            return Ok(Arc::clone(known));
        }
        let text_of = |sha256: &str| self.reader.text(sha256).ok().flatten().map(Arc::from);
        let fight = Arc::new(named.fight(&text_of)?);
        fights.push((named.clone(), Arc::clone(&fight)));
        Ok(fight)
    }
}

struct Player<'r> {
    shelf: &'r Shelf<'r>,
    shift: Micros,
    call: Call,
    entries: Vec<Entry>,
    inputs: u64,
    states: u64,
    differs: Option<Differs>,
}

impl Player<'_> {
    fn take(&mut self, at: ServerTime, row: Recorded) -> Result<(), String> {
        match row {
            Recorded::Begin(_) => return Err("a start of the server is begun twice in the journal".to_owned()),
            Recorded::Input(input) => self.give(at, input),
            Recorded::Links(changes) => changes.into_iter().for_each(|change| self.give(change.at, change.input())),
            Recorded::ReadAnew { fights: named, checks, why, evening } => {
                let fights = self.shelf.fights(&named)?;
                self.give(at, Input::ReadAnew { fights, checks, why, evening });
            }
            Recorded::Told(told) => {
                self.pass(at);
                self.states += 1;
                if self.differs.is_none() && mark(&self.call) != told {
                    self.differs = Some(Differs { state: self.states, at });
                }
            }
        }
        Ok(())
    }

    fn give(&mut self, at: ServerTime, mut input: Input) {
        if let Input::Pulled(pulling) = &mut input {
            pulling.at = pulling.at - self.shift;
        }
        self.inputs += 1;
        let outputs = self.call.handle(at - self.shift, input);
        self.keep(outputs);
    }

    fn pass(&mut self, at: ServerTime) {
        let outputs = self.call.handle(at - self.shift, Input::Tick);
        self.keep(outputs);
    }

    /// What time alone did after the last input is known by its events.
    fn finish(&mut self, session: i64) -> Result<(), String> {
        if let (Some(at), _) = written(self.shelf.reader, session)? {
            self.pass(at);
        }
        Ok(())
    }

    fn keep(&mut self, outputs: Vec<Output>) {
        self.entries.extend(entries_of(outputs));
    }
}
