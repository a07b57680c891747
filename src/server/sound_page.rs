//! What the sound page asks for: a test, a loop, a trim, a device, silence. Each is checked against the role of whoever
//! asks and against where the call stands, and each is written down. Nothing in here waits for a disk or a device.

use std::collections::{BTreeSet, VecDeque};
use std::path::Path;
use std::sync::Arc;

use tokio::task::spawn_blocking;

use super::hub::Hub;
use super::keeper::Keep;
use super::request::Request;
use super::sound_loop::Loop;
use super::sound_told;
use crate::call::{Input, MemberId, Power, Role, Stage};
use crate::event::{SoundChange, SoundTest, What, Who};
use crate::outputs::{Off, Outputs};
use crate::production::trims::{Chosen, Trims, adjustments};
use crate::production::{DeviceChoice, trims};
use crate::rules::METERS_EVERY;
use crate::sound::{
    Adjustment, DeviceChange, LEAST_GAIN, Library, MOST_GAIN, MOST_TRIM, Sound, SoundStatus, Voice, device_names,
};
use crate::time::utc_now;
use crate::units::{Decibels, Micros, ServerTime, Speed};
use crate::wire::{SentView, SoundAsk, SoundLane, SoundTold, ToMember};

/// The page is told how things are so often.
pub(super) const TELL: Micros = METERS_EVERY;
/// Beyond the device's own delay, the time for a voice to get from here to the audio thread.
const ON_THE_WAY: Micros = Micros::millis(30);
/// The longest name of a device, in bytes.
const LONGEST_NAME: usize = 200;

/// What was kept of earlier choices.
pub(super) struct Kept {
    trims: Result<Trims, String>,
}

impl Kept {
    /// Reads it, and lets sound and outputs follow it.
    pub(super) fn load(data: &Path, sound: &Sound, outputs: &mut Outputs) -> Kept {
        let kept = Kept { trims: trims::load(data).map_err(|error| error.to_string()) };
        if let Ok(trims) = &kept.trims {
            follow(trims, sound, outputs);
        }
        kept
    }
}

/// What the hub keeps for the sound page.
pub(super) struct SoundPage {
    pub(super) watchers: BTreeSet<MemberId>,
    pub(super) trims: Trims,
    /// Why what is kept cannot be read; then nothing is written over it.
    pub(super) unreadable: Option<String>,
    /// Why something could not be written.
    pub(super) unkept: Option<String>,
    pub(super) muted_by: Option<String>,
    /// What is switched off by itself.
    pub(super) off: BTreeSet<SoundLane>,
    pub(super) looping: Option<Loop>,
    /// Recordings that were read anew and wait for the end of a run.
    pub(super) recordings: Option<Library>,
    /// What went out of late.
    pub(super) sent: VecDeque<SentView>,
    pub(super) next_tell: ServerTime,
    /// How many tests there were, so that a sound's takes come in turn.
    tests: u32,
}

impl SoundPage {
    pub(super) fn new(kept: Kept) -> SoundPage {
        let (trims, unreadable) = match kept.trims {
            Ok(trims) => (trims, None),
            Err(why) => (Trims::new(), Some(format!("{why} Until that is mended no trim and no gain is in use."))),
        };
        SoundPage {
            watchers: BTreeSet::new(),
            trims,
            unreadable,
            unkept: None,
            muted_by: None,
            off: BTreeSet::new(),
            looping: None,
            recordings: None,
            sent: VecDeque::new(),
            next_tell: ServerTime::default(),
            tests: 0,
        }
    }

    /// True unless that is switched off by itself.
    pub(super) fn goes_out(&self, lane: SoundLane) -> bool {
        !self.off.contains(&lane)
    }

    /// What is switched off, as a sentence; nothing when all is on.
    pub(super) fn off_sentence(&self) -> Option<String> {
        let names: Vec<&str> = self.off.iter().map(|lane| lane.phrase()).collect();
        (!names.is_empty()).then(|| format!("Switched off on the sound page: {}.", names.join(", ")))
    }

    /// What is wrong with keeping, a sentence each.
    pub(super) fn troubles(&self) -> impl Iterator<Item = String> {
        self.unreadable.iter().chain(&self.unkept).cloned()
    }

    /// When the page wants [`Hub::sound_tick`] next.
    pub(super) fn deadline(&self) -> Option<ServerTime> {
        let told = (!self.watchers.is_empty()).then_some(self.next_tell);
        let planned = self.looping.as_ref().map(|looping| looping.deadline());
        told.into_iter().chain(planned).min()
    }
}

/// How long before it is heard a voice must be planned.
pub(super) fn lead(status: &SoundStatus) -> Micros {
    let buffer = i64::from(status.buffer) * 1_000_000 / i64::from(status.rate.max(1));
    Micros(status.latency_us.max(0) + 2 * buffer) + ON_THE_WAY
}

/// Lets everything that sounds follow what is chosen.
pub(super) fn follow(trims: &Trims, sound: &Sound, outputs: &mut Outputs) {
    let chosen = adjustments(trims);
    if let Some(library) = sound.library() {
        sound.stock(Arc::new(library.adjusted(&chosen)));
    }
    outputs.adjust(chosen);
}

impl Hub {
    /// What the sound page asks.
    pub(super) fn sound_ask(&mut self, member: MemberId, ask: SoundAsk) {
        let Some((name, role)) = self.parts.call.roster().get(member).map(|known| (known.name.clone(), known.role))
        else {
            return;
        };
        let asker = Asker { member, name, role };
        let done = if role.may(Power::Sound) {
            self.sound_do(&asker, ask)
        } else {
            let title = role.title();
            Err(format!("A {title} has no power to {}. Ask the sound operator.", Power::Sound.phrase()))
        };
        if let Err(reason) = done {
            self.refuse(member, "sound", reason);
        }
    }

    fn sound_do(&mut self, asker: &Asker, ask: SoundAsk) -> Result<(), String> {
        match ask {
            SoundAsk::Watch { on: true } => self.sound_watch(asker.member),
            SoundAsk::Watch { on: false } => drop(self.page.watchers.remove(&asker.member)),
            SoundAsk::Cues { fight, percent } => return self.sound_cues(asker.member, &fight, percent),
            SoundAsk::Devices => self.sound_devices(asker.member),
            SoundAsk::Test { sound, level_db, during_run } => {
                return self.sound_test(asker, &sound, Decibels(level_db), during_run);
            }
            SoundAsk::Loop { fight, phrase, percent } => return self.sound_loop(asker, &fight, phrase, percent),
            SoundAsk::EndLoop => self.end_loop(Some(asker)),
            SoundAsk::Trim { sound, trim_us, gain_db } => {
                return self.sound_trim(asker, &sound, Micros(trim_us), Decibels(gain_db));
            }
            SoundAsk::Choose { device, rate, buffer_frames } => {
                return self.sound_choose(asker, DeviceChoice { device, rate, buffer_frames });
            }
            SoundAsk::Mute { on } => self.sound_mute(asker, on),
            SoundAsk::Switch { lane, on } => self.sound_switch(asker, lane, on),
        }
        Ok(())
    }

    fn sound_watch(&mut self, member: MemberId) {
        self.page.watchers.insert(member);
        self.page.next_tell = self.parts.clock.now();
        let sounds = self.sounds();
        self.send(member, &ToMember::Sound { tells: sounds });
    }

    /// The fight's plan is made where it keeps nobody waiting.
    fn sound_cues(&mut self, member: MemberId, fight: &str, percent: u16) -> Result<(), String> {
        let fight = self.fight(fight)?;
        let speed = checked_speed(percent)?;
        let library = self.parts.sound.library();
        let hub = self.to_hub.clone();
        spawn_blocking(move || {
            let tells = sound_told::cues(&fight, speed, library.as_deref());
            let message = Box::new(ToMember::Sound { tells });
            // A hub that has gone needs no telling.
            let _ = hub.requests.blocking_send(Request::Say(member, message));
        });
        Ok(())
    }

    /// Looking for devices may take a second.
    fn sound_devices(&self, member: MemberId) {
        let hub = self.to_hub.clone();
        let chosen = self.parts.sound.chosen_device();
        spawn_blocking(move || {
            let tells = SoundTold::Devices { devices: device_names(), chosen };
            let _ = hub.requests.blocking_send(Request::Say(member, Box::new(ToMember::Sound { tells })));
        });
    }

    fn sound_test(&mut self, asker: &Asker, name: &str, level: Decibels, during_run: bool) -> Result<(), String> {
        let goes = match self.parts.call.stage() {
            Stage::Held(..) => return Err("A hold stands, so nothing sounds. Wait until it is released.".to_owned()),
            Stage::Going(..) if !during_run => {
                return Err("A run is going, so nothing is tested. Wait, or ask for tests during the run.".to_owned());
            }
            Stage::Going(..) => true,
            Stage::Idle | Stage::Places(_) | Stage::Stopped(..) | Stage::Complete(_) => false,
        };
        self.not_muted()?;
        let level = Decibels(if level.0.is_finite() { level.0.clamp(-60.0, 24.0) } else { 0.0 });
        if !self.prepared() {
            return Err("The sounds are still being prepared. Try again in a few seconds.".to_owned());
        }
        let library = self.parts.sound.library();
        let named = library.and_then(|library| library.effect(name, 0, self.page.tests));
        let named = named.ok_or_else(|| no_such_sound(name))?;
        self.page.tests = self.page.tests.wrapping_add(1) % 1_000;
        let generation = self.parts.call.generation();
        let due = self.parts.clock.now() + lead(&self.parts.sound.status());
        self.parts.sound.plan(Voice { due, kind: named.kind, level: Decibels(level.0 + named.gain.0), generation });
        self.parts.outputs.sound(0, name, due, level, generation);
        let test = SoundTest::Sound { sound: name.to_owned(), level, during_run: goes };
        self.note_down(Some(asker.who()), What::SoundTest(test));
        Ok(())
    }

    fn sound_trim(&mut self, asker: &Asker, name: &str, trim: Micros, gain: Decibels) -> Result<(), String> {
        if let Some(why) = &self.page.unreadable {
            return Err(format!("Nothing can be chosen: {why} Mend data/sounds.toml, then start the server anew."));
        }
        let most = MOST_TRIM.as_millis();
        if trim < -MOST_TRIM || trim > MOST_TRIM {
            return Err(format!("A trim of {} ms is out of range. Choose {} to {most} ms.", trim.as_millis(), -most));
        }
        if !(LEAST_GAIN.0..=MOST_GAIN.0).contains(&gain.0) {
            let (least, most) = (LEAST_GAIN.0, MOST_GAIN.0);
            return Err(format!("A gain of {} dB is out of range. Choose {least} to {most} dB.", gain.0));
        }
        let library = self.parts.sound.library();
        if !library.is_some_and(|library| library.names().any(|other| other == name)) {
            return Err(no_such_sound(name));
        }
        let before = self.page.trims.get(name).map(|chosen| chosen.adjustment).unwrap_or_default();
        let adjustment = Adjustment { trim, gain, ..before };
        if adjustment == before {
            return Ok(());
        }
        let chosen = Chosen { adjustment, who: Some(asker.name.clone()), when: Some(utc_now()) };
        self.page.trims.insert(name.to_owned(), chosen);
        follow(&self.page.trims, &self.parts.sound, &mut self.parts.outputs);
        self.keeper.keep(Keep::Trims(self.page.trims.clone()));
        self.note_down(Some(asker.who()), What::Trim { sound: name.to_owned(), trim, gain });
        self.tell_sounds();
        Ok(())
    }

    fn sound_choose(&mut self, asker: &Asker, choice: DeviceChoice) -> Result<(), String> {
        let device = choice.device.map(|name| name.trim().to_owned()).filter(|name| !name.is_empty());
        if device.as_ref().is_some_and(|name| name.len() > LONGEST_NAME || name.chars().any(char::is_control)) {
            return Err("That is no name of a device. Choose one from the list.".to_owned());
        }
        if choice.rate.is_some_and(|rate| !DeviceChoice::RATES.contains(&rate)) {
            return Err("A rate has to be from 8000 to 192000 Hz; most devices have 44100 and 48000.".to_owned());
        }
        if choice.buffer_frames.is_some_and(|frames| !DeviceChoice::BUFFERS.contains(&frames)) {
            return Err("A buffer has to be from 16 to 16384 samples; 1024 is the usual.".to_owned());
        }
        let choice = DeviceChoice { device, ..choice };
        let DeviceChoice { device, rate, buffer_frames } = choice.clone();
        self.parts.sound.choose(DeviceChange { device, rate, buffer_frames });
        self.keeper.keep(Keep::Device(choice.clone()));
        let change = SoundChange::Device { device: choice.device, rate, buffer_frames };
        self.note_down(Some(asker.who()), What::Sound(change));
        self.sound_devices(asker.member);
        Ok(())
    }

    fn sound_mute(&mut self, asker: &Asker, on: bool) {
        if on == self.page.muted_by.is_some() {
            return;
        }
        self.parts.sound.mute(on);
        self.parts.outputs.mute(on);
        self.page.muted_by = on.then(|| asker.name.clone());
        if on {
            self.end_loop(Some(asker));
        }
        self.note_down(Some(asker.who()), What::Mute { muted: on });
        self.untold = true;
    }

    fn sound_switch(&mut self, asker: &Asker, lane: SoundLane, on: bool) {
        let changed = if on { self.page.off.remove(&lane) } else { self.page.off.insert(lane) };
        if !changed {
            return;
        }
        let off = |lane| self.page.off.contains(&lane);
        let (midi, timecode, osc) = (off(SoundLane::Midi), off(SoundLane::Timecode), off(SoundLane::Osc));
        self.parts.outputs.switch(Off { midi, timecode, osc });
        let change = SoundChange::Switch { lane: lane.word().to_owned(), named: lane.phrase().to_owned(), on };
        self.note_down(Some(asker.who()), What::Sound(change));
        self.untold = true;
    }

    fn sound_loop(&mut self, asker: &Asker, fight: &str, phrase: u32, percent: u16) -> Result<(), String> {
        self.not_muted()?;
        match self.parts.call.stage() {
            Stage::Held(..) => return Err("A hold stands, so nothing sounds. Wait until it is released.".to_owned()),
            Stage::Going(..) => return Err("A run is going, so no phrase goes round. Wait for its end.".to_owned()),
            Stage::Places(_) => {
                return Err("People stand at their places, so no phrase goes round. Wait for the run.".to_owned());
            }
            Stage::Idle | Stage::Stopped(..) | Stage::Complete(_) => {}
        }
        let (fight, speed) = (self.fight(fight)?, checked_speed(percent)?);
        self.end_loop(Some(asker));
        // Its own generation: whatever raises the next one, a hold first of all, silences it.
        self.give(Input::Hush);
        let generation = self.parts.call.generation();
        let start = self.parts.clock.now() + lead(&self.parts.sound.status()) + Micros::millis(300);
        let looping = Loop::new(&fight, phrase, speed, asker.name.clone(), (start, generation))?;
        let (name, percent) = (looping.phrase_name().to_owned(), speed.as_percent());
        let test = SoundTest::Loop { fight: fight.score.name.clone(), phrase: name, percent };
        self.page.looping = Some(looping);
        self.note_down(Some(asker.who()), What::SoundTest(test));
        self.sound_tick(self.parts.clock.now());
        Ok(())
    }

    /// Ends the loop, if there is one: its generation dies.
    pub(super) fn end_loop(&mut self, by: Option<&Asker>) {
        let Some(looping) = self.page.looping.take() else { return };
        if looping.generation() == self.parts.call.generation() {
            self.give(Input::Hush);
        }
        let test = SoundTest::LoopEnd { phrase: looping.phrase_name().to_owned() };
        self.note_down(by.map(Asker::who), What::SoundTest(test));
    }

    /// What was chosen here could not be written, or could be again.
    pub(super) fn sound_kept(&mut self, trouble: Option<String>) {
        if self.page.unkept != trouble {
            self.page.unkept = trouble;
            self.untold = true;
            self.tell_sounds();
        }
    }

    /// True once the sounds are there at the rate of the device.
    pub(super) fn prepared(&self) -> bool {
        let rate = self.parts.sound.status().rate;
        self.parts.sound.library().is_none_or(|library| library.ready(rate).is_some())
    }

    fn not_muted(&self) -> Result<(), String> {
        match &self.page.muted_by {
            Some(name) => Err(format!("{name} has muted everything. Unmute first.")),
            None => Ok(()),
        }
    }

    fn fight(&self, name: &str) -> Result<Arc<crate::call::Fight>, String> {
        let found = self.parts.call.fights().iter().find(|fight| fight.score.name == name);
        found.cloned().ok_or_else(|| "There is no such fight in this production. Choose one from the list.".to_owned())
    }
}

/// Who asks.
pub(super) struct Asker {
    pub(super) member: MemberId,
    pub(super) name: String,
    pub(super) role: Role,
}

impl Asker {
    fn who(&self) -> Who {
        Who { name: self.name.clone(), member: self.member.of_person(), role: Some(self.role) }
    }
}

fn checked_speed(percent: u16) -> Result<Speed, String> {
    Speed::percent(percent).ok_or_else(|| format!("A speed of {percent} % is out of range. Choose 10 % to 150 %."))
}

fn no_such_sound(name: &str) -> String {
    let name: String = name.chars().take(40).collect();
    format!("There is no sound called {name}. Put a recording of that name into sounds/, or change the score.")
}
