//! The outputs beside loudspeakers, as the hub drives them: what a run, a cue, a click, a hold and a change of state
//! mean for MIDI and OSC. None of the calls waits for anything.

pub(crate) mod notes;
mod position;

use std::collections::BTreeMap;

use tokio::sync::mpsc::{self, UnboundedReceiver};

use crate::call::{Call, CueOut, Run, Stage};
use crate::midi::schedule::{PlannedWhat, What};
use crate::midi::{self, MidiEvent, MidiIn, MidiOut, MidiSettings, Planned, SoundNote};
use crate::osc::messages::Message;
use crate::osc::{OscOut, OscTarget};
use crate::sound::Adjustment;
use crate::time::ServerClock;
use crate::units::{Decibels, Generation, Micros, ServerTime};

use notes::DueSounds;
use position::Positions;

/// What a company chose.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OutputSettings {
    /// MIDI.
    pub midi: MidiSettings,
    /// Where OSC goes; nothing is no OSC.
    pub osc: Option<OscTarget>,
}

/// What is switched off by itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Off {
    /// MIDI notes and show control's cues.
    pub midi: bool,
    /// MIDI clock and timecode, from the next run on.
    pub timecode: bool,
    /// OSC's cues and sounds.
    pub osc: bool,
}

/// The outputs, and the foot switch.
#[derive(Debug)]
pub struct Outputs {
    settings: MidiSettings,
    midi: MidiOut,
    osc: OscOut,
    input: MidiIn,
    events: Option<UnboundedReceiver<MidiEvent>>,
    sounds: DueSounds,
    positions: Positions,
    /// What was chosen for the sounds, by name.
    chosen: BTreeMap<String, Adjustment>,
    /// Nothing that sounds goes out.
    muted: bool,
    off: Off,
    /// The last moment whose cue came, with its generation.
    cued: Option<(Generation, usize)>,
    /// The state that was last told by OSC.
    told: Option<(&'static str, Generation)>,
    /// The generation and the number of callers of the hold that was last told.
    told_hold: (Generation, usize),
}

impl Outputs {
    /// Opens what the settings ask for. Never fails and never waits; see [`Outputs::troubles`].
    pub fn open(settings: OutputSettings, clock: ServerClock) -> Outputs {
        let (sender, events) = mpsc::unbounded_channel();
        let input = MidiIn::open(&settings.midi, clock, sender);
        let midi = MidiOut::open(settings.midi.clone(), clock);
        let osc = settings.osc.map_or_else(OscOut::off, |target| OscOut::open(target, clock));
        Outputs { input, events: Some(events), ..Outputs::of(settings.midi, midi, osc) }
    }

    /// No outputs, on purpose.
    pub fn off() -> Outputs {
        Outputs::of(MidiSettings::default(), MidiOut::off(), OscOut::off())
    }

    /// Outputs of these handles, without MIDI in.
    pub fn of(settings: MidiSettings, midi: MidiOut, osc: OscOut) -> Outputs {
        Outputs {
            settings,
            midi,
            osc,
            input: MidiIn::off(),
            events: None,
            sounds: DueSounds::default(),
            positions: Positions::default(),
            chosen: BTreeMap::new(),
            muted: false,
            off: Off::default(),
            cued: None,
            told: None,
            told_hold: (Generation(0), 0),
        }
    }

    /// What the foot switch does, once for whoever listens.
    pub fn take_events(&mut self) -> Option<UnboundedReceiver<MidiEvent>> {
        self.events.take()
    }

    /// MIDI out, for its status.
    pub fn midi(&self) -> &MidiOut {
        &self.midi
    }

    /// OSC out, for its status.
    pub fn osc(&self) -> &OscOut {
        &self.osc
    }

    /// A run started, or is timed anew. A run that nothing drives by the clock has no clock and no timecode.
    pub fn run(&mut self, run: &Run, generation: Generation) {
        self.osc.send(run_message(run));
        if let Some(timing) = self.positions.timing(run, generation).filter(|_| !self.off.timecode) {
            self.midi.run(timing);
        }
    }

    /// A cue was sent: what sounds with it is planned, with its trim, and told by OSC at its own time. One that is sent
    /// again, to somebody who came back, is nothing new here.
    pub fn cue(&mut self, run: &Run, cue: &CueOut) {
        if self.cued.is_some_and(|(generation, moment)| generation == cue.generation && cue.moment <= moment) {
            return;
        }
        self.cued = Some((cue.generation, cue.moment));
        let (Some(due), Some(spot)) = (cue.due, run.spot(cue.moment)) else { return self.step(run, cue) };
        let generation = cue.generation;
        if let Some(number) = phrase_begun(run, cue.moment).filter(|_| !self.muted && !self.off.midi) {
            self.midi.plan(Planned { due, generation, what: PlannedWhat::Cue(number.to_string()) });
        }
        if !self.off.osc {
            self.osc.plan(due, generation, cue_message(cue.run, spot));
        }
        let chosen = &self.chosen;
        let trim_of = |name: &str| chosen.get(name).map_or(Micros::ZERO, |chosen| chosen.trim);
        let sounds = self.sounds.reached(run, cue, trim_of);
        for sound in sounds {
            self.sound(cue.run, sound.name, sound.due, sound.level, generation);
        }
    }

    /// A sound is to be heard at a time that has its trim in it, at a level to which its gain is still to be added.
    pub fn sound(&self, run: u32, name: &str, due: ServerTime, level: Decibels, generation: Generation) {
        if self.muted {
            return;
        }
        let gain = self.chosen.get(name).map_or(0.0, |chosen| chosen.gain.0);
        let level = Decibels(level.0 + gain);
        if !self.off.osc {
            self.osc.plan(due, generation, Message::Sound { run, name: name.to_owned(), level });
        }
        if let Some(note) = self.settings.notes.get(name).filter(|_| !self.off.midi) {
            self.midi.plan(note_of(note, due, level, generation));
        }
    }

    /// What is chosen for the production's sounds from now on: their notes and messages follow it too.
    pub fn adjust(&mut self, chosen: BTreeMap<String, Adjustment>) {
        self.chosen = chosen;
    }

    /// Mutes or unmutes: nothing that sounds goes out, and what sounds is ended at once. Clock, timecode, states and
    /// holds go on, so that whatever follows them is where it has to be afterwards.
    pub fn mute(&mut self, muted: bool) {
        self.muted = muted;
        if muted {
            self.midi.hush();
            self.osc.hush();
        }
    }

    /// What goes out from now on; what is newly off is ended at once.
    pub fn switch(&mut self, off: Off) {
        if off.midi && !self.off.midi {
            self.midi.hush();
        }
        if off.osc && !self.off.osc {
            self.osc.hush();
        }
        self.off = off;
    }

    /// A click is to be heard.
    pub fn click(&self, due: ServerTime, accent: bool, generation: Generation) {
        if self.muted || self.off.midi {
            return;
        }
        if let Some((accented, plain)) = &self.settings.click {
            let note = if accent { accented } else { plain };
            self.midi.plan(note_of(note, due, Decibels::default(), generation));
        }
    }

    /// This generation lives: everything older is dead, and what stops it goes out at once.
    pub fn silence(&self, lives: Generation) {
        self.midi.silence(lives);
        self.osc.silence(lives);
    }

    /// Something about the call changed: what OSC has not told yet is told, a hold before the state.
    pub fn state(&mut self, call: &Call) {
        if let Stage::Held(hold, _) = call.stage() {
            let before = if self.told_hold.0 == hold.generation { self.told_hold.1 } else { 0 };
            for caller in hold.callers.iter().skip(before) {
                let (phrase, beat) = hold
                    .spot
                    .as_ref()
                    .map_or((String::new(), String::new()), |spot| (spot.phrase_name.clone(), spot.beat.clone()));
                self.osc.send(Message::Hold { who: caller.name.clone(), phrase, beat, generation: hold.generation });
            }
            self.told_hold = (hold.generation, hold.callers.len());
        }
        let state = (word(call), call.generation());
        if self.told.replace(state) != Some(state) {
            self.osc.send(Message::State { state: state.0, generation: state.1 });
        }
    }

    /// What a MIDI message is, for a list of what went out; nothing for those that come in a stream.
    pub fn midi_label(&self, sent: &midi::Sent) -> Option<String> {
        match sent.what {
            What::NoteOn => Some(self.note_label(sent.message.as_bytes())),
            What::Cue => Some("show control cue".to_owned()),
            What::Stop => Some("stop".to_owned()),
            What::Start => Some("clock start".to_owned()),
            What::Locate => Some("position".to_owned()),
            What::Clock | What::Timecode | What::NoteOff => None,
        }
    }

    /// The sound that a note stands for, with the note.
    fn note_label(&self, bytes: &[u8]) -> String {
        let (Some(status), Some(key)) = (bytes.first(), bytes.get(1)) else { return "note".to_owned() };
        let is_it = |note: &SoundNote| note.note.key.get() == *key && note.note.channel.as_bits() == status & 0x0F;
        let name = self.settings.notes.iter().find(|(_, note)| is_it(note)).map(|(name, _)| name.as_str());
        format!("{}, note {key}", name.unwrap_or("click"))
    }

    /// What is not as it was asked for, a sentence each, for the desk.
    pub fn troubles(&self) -> Vec<String> {
        let (out, input, osc) = (self.midi.status(), self.input.status(), self.osc.status());
        let all = [(out.well, out.says), (input.well, input.says), (osc.well, osc.says)];
        let now = all.into_iter().filter_map(|(well, says)| (!well).then_some(says));
        now.chain(self.midi.faults()).chain(self.input.faults()).chain(self.osc.faults()).collect()
    }

    /// A cue of a walk-through: nothing is timed and nothing sounds, but OSC tells where it stands.
    fn step(&self, run: &Run, cue: &CueOut) {
        if let Some(spot) = run.spot(cue.moment) {
            self.osc.send(cue_message(cue.run, spot));
        }
    }
}

fn note_of(note: &SoundNote, due: ServerTime, level: Decibels, generation: Generation) -> Planned {
    let what = PlannedWhat::Note { note: note.note, velocity: note.velocity_at(level), length: note.length };
    Planned { due, generation, what }
}

/// The number of the phrase in the score, from 1, when this moment is its first beat: its show control cue.
fn phrase_begun(run: &Run, moment: usize) -> Option<usize> {
    let moment = run.plan.moments().get(moment)?;
    let phrase = run.plan.phrases().get(moment.phrase_in_range)?;
    (moment.count_in.is_none() && moment.at == phrase.at).then_some(phrase.phrase + 1)
}

fn cue_message(run: u32, spot: crate::call::Spot) -> Message {
    Message::Cue {
        run,
        cue: spot.cue.unwrap_or_default(),
        phrase: spot.phrase_name,
        beat: spot.beat,
        number: spot.number.unwrap_or(0),
        words: spot.words.unwrap_or_default(),
    }
}

fn run_message(run: &Run) -> Message {
    let name = |phrase: Option<&crate::timeline::PlannedPhrase>| phrase.map_or_else(String::new, |it| it.name.clone());
    let phrases = run.plan.phrases();
    Message::Run {
        run: run.number,
        fight: run.setup.fight.score.name.clone(),
        first: name(phrases.first()),
        last: name(phrases.last()),
        percent: run.speed_at(0).map_or(0, |speed| speed.as_percent()),
    }
}

fn word(call: &Call) -> &'static str {
    match call.stage() {
        Stage::Idle => "idle",
        Stage::Places(_) => "places",
        Stage::Going(..) if call.counts_in() => "count-in",
        Stage::Going(..) => "running",
        Stage::Held(..) => "held",
        Stage::Stopped(..) => "stopped",
        Stage::Complete(_) => "complete",
    }
}
