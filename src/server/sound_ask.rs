//! What members ask of the sound page: a test, a loop, a trim, a device, silence. Each is checked against the role of
//! whoever asks and against where the call stands, and each is written down.

use std::sync::Arc;

use super::keeper::Keep;
use super::request::LinkId;
use super::sound_loop::Loop;
use super::sound_page::{Lent, LoopAsked, Operator, SoundPage, Wish, follow};
use super::sound_told;
use crate::call::{Call, Fight, Power, Stage};
use crate::event::{SoundChange, SoundTest, What};
use crate::outputs::Off;
use crate::production::DeviceChoice;
use crate::production::trims::Chosen;
use crate::sound::{Adjustment, DeviceChange, LEAST_GAIN, MOST_GAIN, MOST_TRIM, Voice, device_names};
use crate::time::utc_now;
use crate::units::{Decibels, Micros, ServerTime, Speed};
use crate::wire::{SoundAsk, SoundLane, SoundTold};

/// The longest name of a device, in bytes.
const LONGEST_NAME: usize = 200;
/// From when it is asked for until a loop begins, beyond what a voice needs: whoever asked gets their hands free.
const BEFORE_LOOP: Micros = Micros::millis(300);

impl SoundPage {
    /// What a member asks of the page.
    pub(super) fn ask(&mut self, now: ServerTime, asker: &Operator, ask: SoundAsk, lent: &mut Lent<'_>) -> Vec<Wish> {
        let done = if asker.person.role.may(Power::Sound) {
            self.allowed(now, asker, ask, lent)
        } else {
            let title = asker.person.role.title();
            Err(format!("A {title} has no power to {}. Ask the sound operator.", Power::Sound.phrase()))
        };
        if let Err(reason) = done {
            self.wishes.push(Wish::Refuse(asker.link, reason));
        }
        std::mem::take(&mut self.wishes)
    }

    /// A loop begins, now that nothing else sounds outside of a run.
    pub(super) fn begin(&mut self, now: ServerTime, asked: LoopAsked, lent: &mut Lent<'_>) -> Vec<Wish> {
        let LoopAsked { asker, fight, phrase, speed } = asked;
        let start = now + lent.sound.status().lead() + BEFORE_LOOP;
        match Loop::new(&fight, phrase, speed, asker.person.name.clone(), (start, lent.call.generation())) {
            Ok(looping) => {
                let (name, percent) = (looping.phrase_name().to_owned(), speed.as_percent());
                let test = SoundTest::Loop { fight: fight.score.name.clone(), phrase: name, percent };
                self.looping = Some(looping);
                self.wishes.push(Wish::Note(Some(asker.who()), What::SoundTest(test)));
                self.look_after(now, lent);
            }
            Err(reason) => self.wishes.push(Wish::Refuse(asker.link, reason)),
        }
        std::mem::take(&mut self.wishes)
    }

    fn allowed(&mut self, now: ServerTime, asker: &Operator, ask: SoundAsk, lent: &mut Lent<'_>) -> Result<(), String> {
        match ask {
            SoundAsk::Watch { on: true } => self.watch(now, asker.link, lent),
            SoundAsk::Watch { on: false } => drop(self.watchers.remove(&asker.link)),
            SoundAsk::Cues { fight, percent } => return self.cues(asker.link, &fight, percent, lent),
            SoundAsk::Devices {} => self.devices(asker.link, lent),
            SoundAsk::Test { sound, level_db, during_run } => {
                let test = Test { name: &sound, level: Decibels(level_db), during_run };
                return self.test(now, asker, test, lent);
            }
            SoundAsk::Loop { fight, phrase, percent } => return self.go_round(asker, &fight, phrase, percent, lent),
            SoundAsk::EndLoop {} => self.end_loop(Some(asker), lent),
            SoundAsk::Trim { sound, trim_us, gain_db } => {
                return self.trim(asker, &sound, Micros(trim_us), Decibels(gain_db), lent);
            }
            SoundAsk::Choose { device, rate, buffer_frames } => {
                return self.choose(asker, DeviceChoice { device, rate, buffer_frames }, lent);
            }
            SoundAsk::Mute { on } => self.mute(asker, on, lent),
            SoundAsk::Switch { lane, on } => self.switch(asker, lane, on, lent),
        }
        Ok(())
    }

    fn watch(&mut self, now: ServerTime, link: LinkId, lent: &Lent<'_>) {
        self.watchers.insert(link);
        self.next_tell = now;
        lent.sound.want();
        let sounds = self.sounds(lent.sound);
        self.wishes.push(Wish::Say(link, sounds));
    }

    /// The fight's plan is made where it keeps nobody waiting.
    fn cues(&mut self, link: LinkId, fight: &str, percent: u16, lent: &Lent<'_>) -> Result<(), String> {
        let fight = fight_of(lent.call, fight)?;
        let speed = checked_speed(percent)?;
        let library = lent.sound.library();
        let find_out = move || sound_told::cues(&fight, speed, library.as_deref());
        self.wishes.push(Wish::FindOut(link, Box::new(find_out)));
        Ok(())
    }

    /// Looking for devices may take a second.
    fn devices(&mut self, link: LinkId, lent: &Lent<'_>) {
        let chosen = lent.sound.chosen_device();
        let find_out = move || SoundTold::Devices { devices: device_names(), chosen };
        self.wishes.push(Wish::FindOut(link, Box::new(find_out)));
    }

    fn test(&mut self, now: ServerTime, asker: &Operator, test: Test<'_>, lent: &Lent<'_>) -> Result<(), String> {
        let Test { name, level, during_run } = test;
        let goes = match lent.call.stage() {
            Stage::Held(..) => return Err("A hold stands, so nothing sounds. Wait until it is released.".to_owned()),
            Stage::Going(..) if !during_run => {
                return Err("A run is going, so nothing is tested. Wait, or ask for tests during the run.".to_owned());
            }
            Stage::Going(..) => true,
            Stage::Idle | Stage::Places(_) | Stage::Stopped(..) | Stage::Complete(_) => false,
        };
        self.not_muted()?;
        let level = Decibels(if level.0.is_finite() { level.0.clamp(-60.0, 24.0) } else { 0.0 });
        if !lent.sound.is_prepared() {
            return Err("The sounds are still being prepared. Try again in a few seconds.".to_owned());
        }
        let library = lent.sound.library();
        let named = library.and_then(|library| library.effect(name, 0, self.tests));
        let named = named.ok_or_else(|| no_such_sound(name))?;
        self.tests = self.tests.wrapping_add(1) % 1_000;
        let generation = lent.call.generation();
        let due = now + lent.sound.status().lead();
        lent.sound.plan(Voice { due, kind: named.kind, level: Decibels(level.0 + named.gain.0), generation });
        lent.outputs.sound(0, name, due, level, generation);
        let test = SoundTest::Sound { sound: name.to_owned(), level, during_run: goes };
        self.wishes.push(Wish::Note(Some(asker.who()), What::SoundTest(test)));
        Ok(())
    }

    fn trim(
        &mut self,
        asker: &Operator,
        name: &str,
        trim: Micros,
        gain: Decibels,
        lent: &mut Lent<'_>,
    ) -> Result<(), String> {
        if let Some(why) = &self.unreadable {
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
        let library = lent.sound.library();
        if !library.is_some_and(|library| library.names().any(|other| other == name)) {
            return Err(no_such_sound(name));
        }
        let before = self.trims.get(name).map(|chosen| chosen.adjustment).unwrap_or_default();
        let adjustment = Adjustment { trim, gain, ..before };
        if adjustment == before {
            return Ok(());
        }
        let chosen = Chosen { adjustment, who: Some(asker.person.name.clone()), when: Some(utc_now()) };
        self.trims.insert(name.to_owned(), chosen);
        follow(&self.trims, lent.sound, lent.outputs);
        self.wishes.push(Wish::Keep(Keep::Trims(self.trims.clone())));
        self.wishes.push(Wish::Note(Some(asker.who()), What::Trim { sound: name.to_owned(), trim, gain }));
        let sounds = self.sounds(lent.sound);
        self.wishes.push(Wish::Tell(sounds));
        Ok(())
    }

    fn choose(&mut self, asker: &Operator, choice: DeviceChoice, lent: &Lent<'_>) -> Result<(), String> {
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
        lent.sound.choose(DeviceChange { device, rate, buffer_frames });
        self.wishes.push(Wish::Keep(Keep::Device(choice.clone())));
        let change = SoundChange::Device { device: choice.device, rate, buffer_frames };
        self.wishes.push(Wish::Note(Some(asker.who()), What::Sound(change)));
        self.devices(asker.link, lent);
        Ok(())
    }

    fn mute(&mut self, asker: &Operator, on: bool, lent: &mut Lent<'_>) {
        if on == self.muted_by.is_some() {
            return;
        }
        lent.sound.mute(on);
        lent.outputs.mute(on);
        self.muted_by = on.then(|| asker.person.name.clone());
        if on {
            self.end_loop(Some(asker), lent);
        }
        self.wishes.push(Wish::Note(Some(asker.who()), What::Mute { muted: on }));
        self.wishes.push(Wish::Changed);
    }

    fn switch(&mut self, asker: &Operator, lane: SoundLane, on: bool, lent: &mut Lent<'_>) {
        let changed = if on { self.off.remove(&lane) } else { self.off.insert(lane) };
        if !changed {
            return;
        }
        let off = |lane| self.off.contains(&lane);
        let (midi, timecode, osc) = (off(SoundLane::Midi), off(SoundLane::Timecode), off(SoundLane::Osc));
        lent.outputs.switch(Off { midi, timecode, osc });
        let change = SoundChange::Switch { lane: lane.word().to_owned(), named: lane.phrase().to_owned(), on };
        self.wishes.push(Wish::Note(Some(asker.who()), What::Sound(change)));
        self.wishes.push(Wish::Changed);
    }

    /// A phrase goes round.
    fn go_round(
        &mut self,
        asker: &Operator,
        fight: &str,
        phrase: u32,
        percent: u16,
        lent: &Lent<'_>,
    ) -> Result<(), String> {
        self.not_muted()?;
        match lent.call.stage() {
            Stage::Held(..) => return Err("A hold stands, so nothing sounds. Wait until it is released.".to_owned()),
            Stage::Going(..) => return Err("A run is going, so no phrase goes round. Wait for its end.".to_owned()),
            Stage::Places(_) => {
                return Err("People stand at their places, so no phrase goes round. Wait for the run.".to_owned());
            }
            Stage::Idle | Stage::Stopped(..) | Stage::Complete(_) => {}
        }
        let (fight, speed) = (fight_of(lent.call, fight)?, checked_speed(percent)?);
        self.end_loop(Some(asker), lent);
        // Its own generation: whatever raises the next one, a hold first of all, silences it.
        self.wishes.push(Wish::Begin(LoopAsked { asker: asker.clone(), fight, phrase, speed }));
        Ok(())
    }

    fn not_muted(&self) -> Result<(), String> {
        match &self.muted_by {
            Some(name) => Err(format!("{name} has muted everything. Unmute first.")),
            None => Ok(()),
        }
    }
}

/// A test of one sound.
struct Test<'a> {
    name: &'a str,
    level: Decibels,
    during_run: bool,
}

fn fight_of(call: &Call, name: &str) -> Result<Arc<Fight>, String> {
    let found = call.fights().iter().find(|fight| fight.score.name == name);
    found.cloned().ok_or_else(|| "There is no such fight in this production. Choose one from the list.".to_owned())
}

fn checked_speed(percent: u16) -> Result<Speed, String> {
    Speed::percent(percent).ok_or_else(|| format!("A speed of {percent} % is out of range. Choose 10 % to 150 %."))
}

fn no_such_sound(name: &str) -> String {
    let name: String = name.chars().take(40).collect();
    format!("There is no sound called {name}. Put a recording of that name into sounds/, or change the score.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::call::MemberId;
    use crate::call::{Before, Input, Role, Settings, UsualEvening, Why};
    use crate::outputs::Outputs;
    use crate::score::read;
    use crate::score::vocabulary::Vocabulary;
    use crate::server::request::Asker;
    use crate::server::sound_page::Kept;
    use crate::sound::Sound;

    const FIGHT: &str = "fight \"The Quay\"\nbeats 4\ntempo 120\nfighters\n  MARET rapier right\n  OSK   rapier right\n\
                         phrase \"One\"\n  1  MARET cut head / OSK parry 5\n  4  ! steel\n";

    fn a_call() -> Call {
        let score = read(FIGHT, "quay.fight", &Vocabulary::built_in()).score.unwrap();
        let fight = Fight::unchecked(score, String::new(), FIGHT.into());
        let (horizon, lead) = (Micros::millis(500), Micros::seconds(1));
        let settings = Settings {
            horizon,
            lead,
            hold_on_lost_link: Vec::new(),
            before_call: Vec::new(),
            why: Why::default(),
            evening: UsualEvening::default(),
        };
        Call::new(settings, vec![Arc::new(fight)], Before::default())
    }

    fn words(wishes: &[Wish]) -> Vec<&'static str> {
        let word = |wish: &Wish| match wish {
            Wish::Note(_, What::SoundTest(SoundTest::Loop { .. })) => "the loop is written down",
            Wish::Note(_, What::SoundTest(SoundTest::LoopEnd { .. })) => "its end is written down",
            Wish::Note(_, What::Mute { .. }) => "the mute is written down",
            Wish::Hush => "hush",
            Wish::Begin(_) => "begin",
            Wish::Refuse(..) => "refuse",
            Wish::Changed => "changed",
            _ => "another",
        };
        wishes.iter().map(word).collect()
    }

    /// What it takes until a phrase goes round, and until it does not any more, without a hub.
    #[test]
    fn a_loop_begins_in_a_generation_of_its_own_and_a_mute_ends_it() {
        let (mut call, folder) = (a_call(), tempfile::tempdir().unwrap());
        let ((sound, _player), mut outputs) = (Sound::by_hand(48_000), Outputs::off());
        let mut page = SoundPage::new(Kept::load(folder.path(), &sound, &mut outputs));
        let now = ServerTime(1_000_000);
        let asker =
            |role| Operator { link: LinkId(1), person: Asker { member: MemberId(1), name: "Nia".into(), role } };
        let a_loop = || SoundAsk::Loop { fight: "The Quay".into(), phrase: 0, percent: 100 };
        let mut lent = Lent { call: &call, sound: &sound, outputs: &mut outputs };

        assert_eq!(words(&page.ask(now, &asker(Role::Performer), a_loop(), &mut lent)), ["refuse"]);
        let wishes = page.ask(now, &asker(Role::Desk), a_loop(), &mut lent);
        assert_eq!(words(&wishes), ["begin"]);
        assert_eq!(page.deadline(), None, "nothing goes round before the hush");

        let before = call.generation();
        call.handle(now, Input::Hush);
        assert_eq!(call.generation(), before.next());
        let mut lent = Lent { call: &call, sound: &sound, outputs: &mut outputs };
        let Some(Wish::Begin(asked)) = wishes.into_iter().next() else { panic!("no loop is wished for") };
        assert_eq!(words(&page.begin(now, asked, &mut lent)), ["the loop is written down"]);
        assert!(page.deadline().is_some());

        let wishes = page.ask(now, &asker(Role::Desk), SoundAsk::Mute { on: true }, &mut lent);
        assert_eq!(words(&wishes), ["hush", "its end is written down", "the mute is written down", "changed"]);
        assert_eq!(page.deadline(), None);
        assert_eq!(words(&page.ask(now, &asker(Role::Desk), a_loop(), &mut lent)), ["refuse"], "all is muted");
    }
}
