//! The sound page, as the hub keeps it: who watches, what is chosen, muted and switched off, and the phrase that goes
//! round. It is driven like the call: the hub gives it the time and lends it what it looks at, and it answers with wishes,
//! which the hub carries out in order. What members ask of it stands in `sound_ask`. Nothing in here waits for a disk or a
//! device.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use super::keeper::Keep;
use super::request::{Asker, LinkId};
use super::sound_loop::Loop;
use super::sound_told;
use crate::call::{Call, Fight};
use crate::event::{SoundTest, What, Who};
use crate::outputs::Outputs;
use crate::production::trims::{self, Trims, adjustments};
use crate::rules::METERS_EVERY;
use crate::sound::{Library, Sound};
use crate::units::{Micros, ServerTime, Speed};
use crate::wire::{SentView, SoundLane, SoundNow, SoundTold};

/// The page is told how things are so often.
const TELL: Micros = METERS_EVERY;

/// What the page is lent for one input.
pub(super) struct Lent<'h> {
    /// To see where the call stands.
    pub(super) call: &'h Call,
    pub(super) sound: &'h Sound,
    pub(super) outputs: &'h mut Outputs,
}

/// What the page wants done.
pub(super) enum Wish {
    /// An event is written down.
    Note(Option<Who>, What),
    /// A choice is kept on the disk.
    Keep(Keep),
    /// What sounds outside of a run ends.
    Hush,
    /// What sounds outside of a run ends; then a loop begins, in the generation that lives after it.
    Begin(LoopAsked),
    /// Those who watch are told.
    Tell(SoundTold),
    /// A page alone is told.
    Say(LinkId, SoundTold),
    /// A page is told what takes a while to find out.
    FindOut(LinkId, Box<dyn FnOnce() -> SoundTold + Send>),
    /// A page does not get what was asked on it, and why.
    Refuse(LinkId, String),
    /// Something has changed that everybody is told.
    Changed,
}

/// Who asks for something on a sound page, and on which.
#[derive(Clone, Debug)]
pub(super) struct Operator {
    pub(super) link: LinkId,
    pub(super) person: Asker,
}

impl Operator {
    /// Who asks, as an event names them.
    pub(super) fn who(&self) -> Who {
        self.person.who()
    }
}

/// A loop that may begin.
pub(super) struct LoopAsked {
    pub(super) asker: Operator,
    pub(super) fight: Arc<Fight>,
    pub(super) phrase: u32,
    pub(super) speed: Speed,
}

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
    pub(super) watchers: BTreeSet<LinkId>,
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
    sent: Vec<SentView>,
    pub(super) next_tell: ServerTime,
    /// How many tests there were, so that a sound's takes come in turn.
    pub(super) tests: u32,
    /// What it wants done.
    pub(super) wishes: Vec<Wish>,
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
            sent: Vec::new(),
            next_tell: ServerTime::default(),
            tests: 0,
            wishes: Vec::new(),
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

    /// When the page wants [`SoundPage::tick`] next.
    pub(super) fn deadline(&self) -> Option<ServerTime> {
        let told = (!self.watchers.is_empty()).then_some(self.next_tell);
        let planned = self.looping.as_ref().map(|looping| looping.deadline());
        told.into_iter().chain(planned).min()
    }

    /// Plans what the loop needs by now, and tells those who watch how things are.
    pub(super) fn tick(&mut self, now: ServerTime, lent: &mut Lent<'_>) -> Vec<Wish> {
        self.look_after(now, lent);
        std::mem::take(&mut self.wishes)
    }

    /// What time alone gives it to do.
    pub(super) fn look_after(&mut self, now: ServerTime, lent: &mut Lent<'_>) {
        let generation = lent.call.generation();
        if self.looping.as_ref().is_some_and(|looping| looping.generation() != generation) {
            self.end_loop(None, lent);
        }
        if let Some(looping) = &mut self.looping {
            looping.plan(now, &self.off, lent.sound, lent.outputs);
        }
        if now >= self.next_tell && !self.watchers.is_empty() {
            self.next_tell = now + TELL;
            let told = self.now(now, lent);
            self.wishes.push(Wish::Tell(told));
        }
    }

    /// Ends the loop, if there is one: its generation dies.
    pub(super) fn end_loop(&mut self, by: Option<&Operator>, lent: &Lent<'_>) {
        let Some(looping) = self.looping.take() else { return };
        if looping.generation() == lent.call.generation() {
            self.wishes.push(Wish::Hush);
        }
        let test = SoundTest::LoopEnd { phrase: looping.phrase_name().to_owned() };
        self.wishes.push(Wish::Note(by.map(Operator::who), What::SoundTest(test)));
    }

    /// What was chosen here could not be written, or could be again.
    pub(super) fn kept(&mut self, trouble: Option<String>, sound: &Sound) -> Vec<Wish> {
        if self.unkept == trouble {
            return Vec::new();
        }
        self.unkept = trouble;
        vec![Wish::Changed, Wish::Tell(self.sounds(sound))]
    }

    /// Which sounds there are.
    pub(super) fn sounds(&self, sound: &Sound) -> SoundTold {
        sound_told::sounds(sound, &self.trims, self.troubles())
    }

    /// How the outputs are.
    fn now(&mut self, now: ServerTime, lent: &Lent<'_>) -> SoundTold {
        self.sent = sound_told::sent(std::mem::take(&mut self.sent), now, lent.sound, lent.outputs);
        SoundTold::Now(Box::new(SoundNow {
            now_us: now.0,
            muted_by: self.muted_by.clone(),
            off: self.off.iter().copied().collect(),
            prepared: lent.sound.is_prepared(),
            looping: self.looping.as_ref().map(Loop::view),
            speakers: sound_told::speakers(lent.sound, &self.sent),
            midi: sound_told::midi(lent.outputs),
            osc: sound_told::osc(lent.outputs),
            sent: self.sent.iter().take(sound_told::MOST_SENT).cloned().collect(),
        }))
    }
}

/// Lets everything that sounds follow what is chosen.
pub(super) fn follow(trims: &Trims, sound: &Sound, outputs: &mut Outputs) {
    let chosen = adjustments(trims);
    if let Some(library) = sound.library() {
        sound.stock(Arc::new(library.adjusted(&chosen)));
    }
    outputs.adjust(chosen);
}
