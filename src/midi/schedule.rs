//! The schedule: every stream of a run (clock, timecode, show control, notes) in one order of time, and the way they
//! all end at once. Pure: it is given the time.
//!
//! Its face: inputs go in ([`Schedule::plan`], [`Schedule::run`], [`Schedule::silence`]), messages are taken out
//! ([`Schedule::pop`]) until there is none, and [`Schedule::deadline`] says when to ask again. When a generation rises,
//! nothing older comes out any more but the bytes that stop everything, and these come out first. The clock stops with
//! the rest: the specification recommends that clocks go on while a sequencer stands, but here silence is silence.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};

use super::bytes::{self, Channel, Message, Note, SevenBits};
use super::clock::{self, Clocks};
use super::settings::MidiSettings;
use super::show_control::{self, Command};
use super::timecode::Quarters;
use crate::timeline::TempoMap;
use crate::units::{Generation, Micros, ServerTime, Ticks};

/// A note that is later than this is dropped: a viewer would notice (ITU-R BT.1359-1, 125 ms).
const TOO_LATE: Micros = Micros::millis(125);
/// A clock or timecode later than this is skipped, because a burst of them would be read as another tempo.
const STALE: Micros = Micros::millis(500);
/// Notes that may wait. A run plans a horizon ahead; more than this is somebody's mistake.
const MOST_WAITING: usize = 4_096;

/// Something that is to come out at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// When it must be heard.
    pub due: ServerTime,
    /// The generation that it dies with.
    pub generation: Generation,
    /// What.
    pub what: PlannedWhat,
}

/// What is planned.
#[derive(Clone, Debug, PartialEq)]
pub enum PlannedWhat {
    /// A note of some length.
    Note {
        /// Which.
        note: Note,
        /// How hard.
        velocity: SevenBits,
        /// How long.
        length: Micros,
    },
    /// Show control lets a cue go.
    Cue(String),
}

/// The timing of a run that the clock drives.
#[derive(Clone, Debug, PartialEq)]
pub struct RunTiming {
    /// The first beat of the range.
    pub start: ServerTime,
    /// Ticks and time from the first beat, at the speed of the run.
    pub tempo: TempoMap,
    /// The count-in, a length in whole beats.
    pub count_in: Ticks,
    /// From the first beat to the end.
    pub length: Ticks,
    /// Where in the whole score the range begins: the song position.
    pub place: Ticks,
    /// When the range would begin if the whole score went at this speed: the timecode.
    pub place_time: Micros,
    /// The generation that it dies with.
    pub generation: Generation,
}

/// What a message is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum What {
    /// Everything stops: FC, panic, show control's stop.
    Stop,
    /// Where a run begins: song position, timecode's full frame.
    Locate,
    /// Start or continue.
    Start,
    /// A timing clock.
    Clock,
    /// A quarter frame of timecode.
    Timecode,
    /// A show control cue.
    Cue,
    /// A note ends.
    NoteOff,
    /// A note begins.
    NoteOn,
}

/// A message whose time has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outgoing {
    /// When it was due at the port.
    pub due: ServerTime,
    /// What it is.
    pub what: What,
    /// Its bytes.
    pub message: Message,
}

/// The schedule.
#[derive(Debug)]
pub struct Schedule {
    settings: MidiSettings,
    lives: Generation,
    /// What goes out before everything else.
    urgent: VecDeque<Outgoing>,
    waiting: BinaryHeap<Reverse<Waiting>>,
    next_number: u64,
    run: Option<Going>,
    /// A bit for every channel that has been played on.
    channels: u16,
    /// Notes that are down: when the last of overlapping ones ends.
    down: Vec<(Note, ServerTime)>,
    /// True from show control's first GO until its STOP.
    cue_goes: bool,
    /// True from show control's STOP until the next cue.
    cue_stopped: bool,
    dropped: u64,
    silenced: u64,
}

/// A run that is under way.
#[derive(Debug)]
struct Going {
    timing: RunTiming,
    clocks: Option<Clocks>,
    /// The clock at which start or continue takes effect.
    starts_at: i64,
    started: bool,
    quarters: Option<Quarters>,
}

/// Ordered by time, then by what it is, then by arrival.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Waiting {
    due: ServerTime,
    what: What,
    number: u64,
    note: Option<Note>,
    until: ServerTime,
    message: Message,
}

impl Schedule {
    /// An empty schedule.
    pub fn new(settings: MidiSettings) -> Schedule {
        Schedule {
            settings,
            lives: Generation(0),
            urgent: VecDeque::new(),
            waiting: BinaryHeap::new(),
            next_number: 0,
            run: None,
            channels: 0,
            down: Vec::new(),
            cue_goes: false,
            cue_stopped: false,
            dropped: 0,
            silenced: 0,
        }
    }

    /// Plans something. What belongs to a dead generation, is long over, or finds no room is only counted.
    pub fn plan(&mut self, now: ServerTime, planned: Planned) {
        let due = planned.due - self.settings.latency;
        if planned.generation < self.lives {
            self.silenced += 1;
            return;
        }
        // A newer generation may speak before its silence was heard: what is older is dead all the same.
        self.silence(now, planned.generation);
        if now.since(due) > TOO_LATE || self.waiting.len() >= MOST_WAITING {
            self.dropped += 1;
            return;
        }
        match planned.what {
            PlannedWhat::Note { note, velocity, length } => {
                let until = due + Micros(length.0.max(1));
                self.wait(due, What::NoteOn, bytes::note_on(note, velocity), Some(note), until);
            }
            PlannedWhat::Cue(cue) => {
                let Some(control) = self.settings.show_control else { return };
                let go = show_control::message(control.device, control.format, Command::Go, Some(&cue));
                self.wait(due, What::Cue, go, None, due);
            }
        }
    }

    /// A run begins, or is timed anew: then what came before the change has kept its times, and everything goes on
    /// where it was.
    pub fn run(&mut self, now: ServerTime, mut timing: RunTiming) {
        if timing.generation < self.lives {
            return;
        }
        self.silence(now, timing.generation);
        timing.start = timing.start - self.settings.latency;
        if let Some(going) = self.run.as_mut().filter(|going| going.timing.generation == timing.generation) {
            if let Some(clocks) = &mut going.clocks {
                clocks.ends_at(timing.length);
            }
            going.timing = timing;
            return;
        }
        let mut going = Going { clocks: None, starts_at: 0, started: false, quarters: None, timing };
        let timing = &going.timing;
        if self.settings.clock {
            going.clocks = Some(Clocks::new(timing.count_in, timing.length));
            let place = going.song_position();
            self.urgent.push_back(Outgoing { due: now, what: What::Locate, message: place });
        }
        if let Some(timecode) = self.settings.timecode {
            let rate = timecode.start.rate();
            let first = timecode.start.frame() + rate.nearest_frame(timing.place_time);
            let lead_in = timing.tempo.time_of(Ticks(-timing.count_in.0)).max(now.since(timing.start));
            let quarters = Quarters::new(rate, first, lead_in);
            let message = quarters.label().full_frame();
            self.urgent.push_back(Outgoing { due: now, what: What::Locate, message });
            going.quarters = Some(quarters);
        }
        self.run = Some(going);
    }

    /// This generation lives. Everything older is dropped, and what stops it comes out at once: real-time stop, all
    /// sound off and all notes off on every channel that was ever played on, show control's stop if a cue went.
    pub fn silence(&mut self, now: ServerTime, lives: Generation) {
        if lives <= self.lives {
            return;
        }
        self.lives = lives;
        let run = self.run.take();
        self.silenced += self.waiting.len() as u64 + u64::from(run.is_some());
        self.waiting.clear();
        self.urgent.retain(|outgoing| outgoing.what == What::Stop);
        self.down.clear();
        self.stop(now);
    }

    /// Mutes: what is planned to sound is dropped, and what sounds ends at once on every channel that was ever played
    /// on. Clock and timecode go on, and the generation lives.
    pub fn hush(&mut self, now: ServerTime) {
        self.silenced += self.waiting.len() as u64;
        self.waiting.clear();
        self.down.clear();
        self.stop_sounds(now);
    }

    /// The port is there, perhaps again: whoever listens has missed whatever went out meanwhile. What they may still
    /// sound ends, and they are told where the run is: song position, then continue just before the clock of the next
    /// sixteenth; timecode's full frame, then whole groups of quarter frames. Without a run, everything stops.
    pub fn returned(&mut self, now: ServerTime) {
        self.urgent.retain(|outgoing| outgoing.what == What::Stop);
        self.down.clear();
        let Some(mut going) = self.run.take() else {
            // A stop of show control that nobody may have heard.
            self.cue_goes |= self.cue_stopped;
            return self.stop(now);
        };
        self.panic(now);
        if let Some(clock) = going.clocks.as_ref().and_then(Clocks::next_sixteenth) {
            (going.starts_at, going.started) = (clock, false);
            let message = going.song_position();
            self.urgent.push_back(Outgoing { due: now, what: What::Locate, message });
        }
        if let Some(quarters) = &mut going.quarters {
            quarters.to_whole_group();
            let message = quarters.label().full_frame();
            self.urgent.push_back(Outgoing { due: now, what: What::Locate, message });
        }
        self.run = Some(going);
    }

    /// Begins again after it was left at any place: what was planned is lost, and what may sound is ended.
    pub(super) fn begin_again(&mut self, now: ServerTime) {
        let new = Schedule::new(self.settings.clone());
        let before = std::mem::replace(self, new);
        (self.lives, self.channels) = (before.lives, before.channels);
        (self.cue_goes, self.cue_stopped) = (before.cue_goes, before.cue_stopped);
        self.dropped = before.dropped + before.waiting.len() as u64;
        self.silenced = before.silenced;
        self.stop(now);
    }

    /// The bytes that stop everything, whatever was going on: for an output that ends.
    pub fn stop(&mut self, now: ServerTime) {
        if self.settings.clock {
            self.urgent(now, bytes::real_time(bytes::STOP));
        }
        self.stop_sounds(now);
    }

    fn stop_sounds(&mut self, now: ServerTime) {
        self.panic(now);
        if let Some(control) = self.settings.show_control.filter(|_| self.cue_goes) {
            self.urgent(now, show_control::message(control.device, control.format, Command::Stop, None));
            (self.cue_goes, self.cue_stopped) = (false, true);
        }
    }

    fn panic(&mut self, now: ServerTime) {
        for channel in (1..=16).filter_map(Channel::number) {
            if self.channels & 1 << channel.as_bits() != 0 {
                bytes::panic(channel).into_iter().for_each(|message| self.urgent(now, message));
            }
        }
    }

    /// Before everything else; two silences in a row that nobody has sent yet are one.
    fn urgent(&mut self, now: ServerTime, message: Message) {
        if !self.urgent.iter().any(|before| before.message == message) {
            self.urgent.push_back(Outgoing { due: now, what: What::Stop, message });
        }
    }

    /// The next message whose time has come.
    pub fn pop(&mut self, now: ServerTime) -> Option<Outgoing> {
        if let Some(outgoing) = self.urgent.pop_front() {
            return Some(outgoing);
        }
        loop {
            let streamed = self.run.as_ref().and_then(|going| going.peek());
            let planned = self.waiting.peek().map(|Reverse(waiting)| (waiting.due, waiting.what));
            let next = match (streamed, planned) {
                (Some(stream), Some(plan)) => (stream.due, stream.what).min(plan),
                (stream, plan) => stream.map(|stream| (stream.due, stream.what)).or(plan)?,
            };
            if next.0 > now {
                return None;
            }
            let outgoing = match streamed.filter(|stream| (stream.due, stream.what) == next) {
                Some(stream) => self.stream(now, stream),
                None => self.release(now),
            };
            if outgoing.is_some() {
                return outgoing;
            }
        }
    }

    /// When the next message is due.
    pub fn deadline(&self) -> Option<ServerTime> {
        if let Some(urgent) = self.urgent.front() {
            return Some(urgent.due);
        }
        let streamed = self.run.as_ref().and_then(|going| going.peek()).map(|stream| stream.due);
        let planned = self.waiting.peek().map(|Reverse(waiting)| waiting.due);
        streamed.into_iter().chain(planned).min()
    }

    /// True while what comes out next must not be paced.
    pub fn is_urgent(&self) -> bool {
        !self.urgent.is_empty()
    }

    /// How many messages were dropped for being late, and how many died with their generation.
    pub fn counts(&self) -> (u64, u64) {
        (self.dropped, self.silenced)
    }

    fn wait(&mut self, due: ServerTime, what: What, message: Message, note: Option<Note>, until: ServerTime) {
        self.next_number += 1;
        self.waiting.push(Reverse(Waiting { due, what, number: self.next_number, note, until, message }));
    }

    fn stream(&mut self, now: ServerTime, stream: Outgoing) -> Option<Outgoing> {
        let going = self.run.as_mut()?;
        going.advance(stream.what);
        let stale = stream.what != What::Start && now.since(stream.due) > STALE;
        self.dropped += u64::from(stale);
        (!stale).then_some(stream)
    }

    /// Lets the next planned message go.
    fn release(&mut self, now: ServerTime) -> Option<Outgoing> {
        let Reverse(waiting) = self.waiting.pop()?;
        let outgoing = Outgoing { due: waiting.due, what: waiting.what, message: waiting.message };
        match (waiting.what, waiting.note) {
            (What::NoteOn, Some(_)) if now.since(waiting.due) > TOO_LATE => {
                self.dropped += 1;
                return None;
            }
            (What::NoteOn, Some(note)) => {
                self.channels |= 1 << note.channel.as_bits();
                let end = match self.down.iter_mut().find(|(down, _)| *down == note) {
                    Some((_, end)) => {
                        *end = waiting.until.max(*end);
                        *end
                    }
                    None => {
                        self.down.push((note, waiting.until));
                        waiting.until
                    }
                };
                self.wait(end, What::NoteOff, bytes::note_off(note), Some(note), end);
            }
            (What::NoteOff, Some(note)) => {
                // Struck again meanwhile: the later end lets go of it.
                let at = self.down.iter().position(|(down, end)| *down == note && *end <= waiting.due)?;
                self.down.swap_remove(at);
            }
            (What::Cue, _) => return Some(self.let_go(outgoing)),
            _ => {}
        }
        Some(outgoing)
    }

    /// A cue goes; after a stop it may resume instead, where the house wants that.
    fn let_go(&mut self, go: Outgoing) -> Outgoing {
        let resumed = self.settings.show_control.filter(|control| control.resumes && self.cue_stopped);
        (self.cue_goes, self.cue_stopped) = (true, false);
        match resumed {
            Some(control) => {
                Outgoing { message: show_control::message(control.device, control.format, Command::Resume, None), ..go }
            }
            None => go,
        }
    }
}

impl Going {
    /// The next message of the streams.
    fn peek(&self) -> Option<Outgoing> {
        let (timing, tempo) = (&self.timing, &self.timing.tempo);
        let clock = self.clocks.as_ref().and_then(|clocks| {
            let start = clock::start_time(self.starts_at, tempo);
            match clocks.peek(tempo) {
                Some((number, at)) if number < self.starts_at || self.started => {
                    Some((at, What::Clock, bytes::real_time(bytes::CLOCK)))
                }
                Some(_) => Some((start, What::Start, self.start_byte())),
                None => None,
            }
        });
        let quarter = self.quarters.as_ref().map(Quarters::peek);
        // Timecode ends with the run, like the clock.
        let quarter = quarter.filter(|(_, at)| *at < tempo.time_of(timing.length));
        let quarter = quarter.map(|(message, at)| (at, What::Timecode, message));
        let (at, what, message) = clock.into_iter().chain(quarter).min_by_key(|(at, what, _)| (*at, *what))?;
        Some(Outgoing { due: timing.start + at, what, message })
    }

    /// Where the clock of start or continue is, in sixteenths of the whole score.
    fn sixteenth(&self) -> i64 {
        clock::sixteenths(self.timing.place) + self.starts_at / clock::CLOCKS_PER_SIXTEENTH
    }

    fn song_position(&self) -> Message {
        bytes::song_position(self.sixteenth())
    }

    fn start_byte(&self) -> Message {
        bytes::real_time(if self.sixteenth() == 0 { bytes::START } else { bytes::CONTINUE })
    }

    fn advance(&mut self, what: What) {
        match what {
            What::Start => self.started = true,
            What::Clock => self.clocks.iter_mut().for_each(Clocks::advance),
            _ => self.quarters.iter_mut().for_each(Quarters::advance),
        }
    }
}
