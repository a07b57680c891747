//! What a server begins with: the call that went on when the last one stopped, played again from the journal. A replay
//! that fails, or takes too long, is left: then the server begins with an empty call and a hold that stands, and says so.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use jiff::Timestamp;
use tracing::{info, warn};

use super::player::{Played, begun, entries_of, play, said, written};
use super::recorded::{Begin, Continues, Known, KnownTap};
use super::tape::{Tape, texts_of};
use crate::call::{Before, Call, Fight, MemberId, Settings};
use crate::event::{Entry, RunEnd, RunEnded};
use crate::faults;
use crate::journal::{Journal, Reader};
use crate::units::{Micros, ServerTime};

/// How long the replay of the last call may take: people wait.
pub(in crate::server) const PATIENCE: Duration = Duration::from_secs(2);

/// What a server knows before it looks at the call that went before.
pub(in crate::server) struct Beginning {
    pub(in crate::server) data: PathBuf,
    pub(in crate::server) build: String,
    pub(in crate::server) settings: Settings,
    pub(in crate::server) fights: Vec<Arc<Fight>>,
    pub(in crate::server) before: Before,
    pub(in crate::server) members: Vec<Known>,
    pub(in crate::server) left: Vec<Known>,
    pub(in crate::server) taps: Vec<KnownTap>,
    /// The wall clock when the server's own was at 0.
    pub(in crate::server) epoch: Timestamp,
    /// How long the replay may take.
    pub(in crate::server) patience: Duration,
}

/// What a server begins with.
pub(in crate::server) struct Recalled {
    pub(in crate::server) call: Call,
    pub(in crate::server) left: Left,
    /// What keeps the inputs of the call, once it has begun.
    pub(in crate::server) tape: Tape,
}

/// What the last server left to do.
#[derive(Debug, Default)]
pub(in crate::server) struct Left {
    /// What the last server did not come to write down: to be written before the tape begins.
    pub(in crate::server) owed: Vec<Entry>,
    /// What the new start brings: to be written after that.
    pub(in crate::server) begun: Vec<Entry>,
    /// Why the call that went before is not known, where it is not: a hold is to stand for it.
    pub(in crate::server) unknown: Option<String>,
}

impl Left {
    /// The taps among what is owed: their pages send them again.
    pub(in crate::server) fn owed_taps(&self) -> impl Iterator<Item = (MemberId, &str)> {
        self.owed.iter().filter_map(|entry| match entry {
            Entry::Event(event) => Some((MemberId(event.member()?), event.what.tap()?)),
            _ => None,
        })
    }
}

/// Looks what the last server left, and begins with it. Waits for the disk.
pub(in crate::server) fn recall(beginning: Beginning, journal: Journal) -> Recalled {
    let Beginning { data, build, settings, fights, before, members, left, taps, epoch, patience } = beginning;
    let session = i64::from(before.sessions);
    let (folder, last_run) = (data.clone(), before.last_run);
    let last = within(patience, move || last_call(&folder, session, epoch, last_run));
    let (last, unknown) = match last {
        Ok(last) => (last, None),
        Err(why) => {
            warn!("the call that went before cannot be brought back: {why}");
            let look = "what stood before this start is not known, so look at everybody before you release";
            (None, Some(format!("{look}; {why}")))
        }
    };
    let (named, texts) = texts_of(&fights);
    let continues = last.as_ref().map(|last| last.continues);
    let begin = Begin { build, continues, settings, before, fights: named, members, left, taps };
    let (earlier, owed) = last.map_or((None, Vec::new()), |last| (Some(last.call), last.owed));
    if earlier.is_some() {
        info!("the call goes on where the last server left it");
    }
    let (call, outputs) = begun(&begin, ServerTime::default(), fights, earlier);
    let begun = entries_of(outputs).collect();
    Recalled { call, left: Left { owed, begun, unknown }, tape: Tape::new(journal, begin, texts) }
}

/// The call that went on when the last server stopped.
struct Last {
    call: Call,
    owed: Vec<Entry>,
    continues: Continues,
}

/// The call of the start before `session`; nothing when it was over, or its inputs were not kept.
fn last_call(data: &Path, session: i64, epoch: Timestamp, last_run: u32) -> Result<Option<Last>, String> {
    let reader = Reader::open(data).map_err(said)?;
    let Some((before, last_input)) = reader.last_inputs_before(session).map_err(said)? else { return Ok(None) };
    let (last_event, known) = written(&reader, before)?;
    let row = reader.sessions().map_err(said)?.into_iter().find(|row| row.session == before);
    let began: Option<Timestamp> = row.and_then(|row| row.utc.parse().ok());
    let began = began.ok_or_else(|| format!("nobody knows when start {before} of the server was"))?;
    let since = Micros(epoch.as_microsecond().saturating_sub(began.as_microsecond()));
    // Its clock never ran ahead of this one's beginning, whatever the wall clocks say.
    let known_times = [last_event, Some(last_input)].into_iter().flatten().map(|at| at.since(ServerTime::default()));
    let shift = known_times.fold(since, Micros::max);
    let Some(played) = play(&reader, before, shift)? else { return Ok(None) };
    if let Some(differs) = played.differs {
        return Err(format!("the state {} comes out otherwise than it was told", differs.state));
    }
    let Played { call, entries, .. } = played;
    // Worked out here, where it is waited for no longer than for the rest, and not when the first page asks.
    if let Some(run) = call.run() {
        let _ = run.setup.fight.passages.all();
    }
    if !call.is_under_way(ServerTime::default()) {
        return Ok(None);
    }
    let owed = owed(entries, &known, last_run);
    Ok(Some(Last { call, owed, continues: Continues { session: before, shift } }))
}

/// What the last server did not come to write down: everything behind the last event that is there. A run that is not
/// in the journal ends there as well: it was cut off.
fn owed(entries: Vec<Entry>, written: &[crate::event::EventId], last_run: u32) -> Vec<Entry> {
    let there = |entry: &Entry| matches!(entry, Entry::Event(event) if written.contains(&event.id));
    let first = entries.iter().rposition(there).map_or(0, |last| last + 1);
    let mut owed = Vec::new();
    let mut open: Option<RunEnded> = None;
    for entry in entries.into_iter().skip(first) {
        match &entry {
            Entry::RunBegun(begun) if begun.run <= last_run => continue,
            Entry::RunEnded(ended) if ended.run <= last_run => continue,
            Entry::RunBegun(begun) => {
                let at = ServerTime(begun.server_us);
                open = Some(RunEnded { run: begun.run, how: RunEnd::CutOff, first: None, last: None, at });
            }
            Entry::RunEnded(_) => open = None,
            _ => {}
        }
        owed.push(entry);
    }
    owed.extend(open.map(Entry::from));
    owed
}

/// Does work on a thread of its own, and waits no longer than that for it.
fn within<T: Send + 'static>(
    patience: Duration,
    work: impl FnOnce() -> Result<T, String> + Send + 'static,
) -> Result<T, String> {
    let (sender, receiver) = mpsc::channel();
    let work = move || drop(sender.send(catch_unwind(AssertUnwindSafe(work))));
    let thread = thread::Builder::new().name("replay".to_owned()).spawn(work);
    thread.map_err(|error| format!("the system gives no thread to play it: {error}"))?;
    match receiver.recv_timeout(patience) {
        Ok(Ok(done)) => done,
        Ok(Err(payload)) => Err(format!("its replay failed ({})", faults::said(payload.as_ref() as &(dyn Any + Send)))),
        Err(RecvTimeoutError::Timeout) => Err(format!("its replay took longer than {} s", patience.as_secs_f64())),
        Err(RecvTimeoutError::Disconnected) => Err("its replay ended without a word".to_owned()),
    }
}
