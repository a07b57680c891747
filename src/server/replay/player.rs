//! Plays a start of the server again from its journal: the same inputs at the same times into a call that began the same.

use std::sync::Arc;

use super::picture::mark;
use super::recorded::{Begin, Continues, FightText, Recorded};
use crate::call::{Call, Fight, Input, Output};
use crate::event::{Entry, EventId, Maker};
use crate::journal::{InputRow, JournalError, Reader, WrittenEvent};
use crate::units::{Micros, ServerTime};

/// So many starts of the server may hang together as one call.
const MOST_STARTS: u32 = 200;

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
/// A sentence: the journal cannot be read, or what is in it cannot be played.
pub(super) fn play(reader: &Reader, session: i64, shift: Micros) -> Result<Option<Played>, String> {
    play_within(reader, session, shift, MOST_STARTS)
}

fn play_within(reader: &Reader, session: i64, shift: Micros, starts: u32) -> Result<Option<Played>, String> {
    let mut rows = Vec::new();
    let mut unreadable = None;
    reader
        .each_input(session, |row| {
            read_row(row).map(|row| rows.push(row)).map_err(|why| unreadable = Some(why)).is_ok()
        })
        .map_err(said)?;
    if let Some(why) = unreadable {
        return Err(why);
    }
    let mut rows = rows.into_iter();
    let Some((at, Recorded::Begin(begin))) = rows.next() else { return Ok(None) };
    let earlier = match begin.continues {
        None => None,
        Some(_) if starts == 0 => return Err("Too many starts of the server hang together as one call.".to_owned()),
        Some(Continues { session, shift: more }) => {
            let played = play_within(reader, session, shift + more, starts - 1)?;
            Some(played.ok_or_else(|| format!("What went before start {session} is not in the journal."))?.call)
        }
    };
    let fights = fights(reader, &begin.fights)?;
    let (call, outputs) = begun(&begin, at - shift, fights, earlier);
    let mut player = Player { reader, shift, call, entries: Vec::new(), inputs: 0, states: 0, differs: None };
    player.keep(outputs);
    for (at, row) in rows {
        player.take(at, row)?;
    }
    player.to_the_end(session)?;
    let Player { mut call, mut entries, inputs, states, differs, .. } = player;
    entries.extend(entries_of(call.settle(ServerTime(i64::MAX))));
    Ok(Some(Played { call, entries, build: begin.build, inputs, states, differs }))
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
    let known: Vec<_> = call.roster().iter().map(|(id, _)| id).collect();
    let gone = known.iter().filter(|id| begin.members.iter().all(|member| member.member != **id));
    let come = begin.members.iter().filter(|member| !known.contains(&member.member)).map(|member| Input::Known {
        member: member.member,
        name: member.name.clone(),
        role: member.role,
        part: member.part.clone(),
    });
    let taps = begin.taps.iter().map(|known| Input::KnownTap(known.member, known.tap.clone(), known.fate));
    for input in gone.map(|id| Input::Gone(*id)).chain(come).chain(taps) {
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
    let recorded = read.map_err(|error| format!("An input cannot be read by this Holdfast: {error}."))?;
    Ok((row.at, recorded))
}

fn fights(reader: &Reader, named: &[FightText]) -> Result<Vec<Arc<Fight>>, String> {
    let text_of = |sha256: &str| reader.text(sha256).ok().flatten().map(Arc::from);
    named.iter().map(|fight| fight.fight(&text_of).map(Arc::new)).collect()
}

struct Player<'r> {
    reader: &'r Reader,
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
            Recorded::Begin(_) => return Err("A start of the server is begun twice in the journal.".to_owned()),
            Recorded::Input(input) => self.give(at, input),
            Recorded::Links(changes) => changes.into_iter().for_each(|change| self.give(change.at, change.input())),
            Recorded::ReadAnew { fights: named, checks } => {
                let fights = fights(self.reader, &named)?;
                self.give(at, Input::ReadAnew { fights, checks });
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
    fn to_the_end(&mut self, session: i64) -> Result<(), String> {
        if let (Some(at), _) = written(self.reader, session)? {
            self.pass(at);
        }
        Ok(())
    }

    fn keep(&mut self, outputs: Vec<Output>) {
        self.entries.extend(entries_of(outputs));
    }
}
