//! The library: every sound that scores can name, whatever the rate. Computed effects, the company's recordings (which
//! go before effects of the same name), and what was chosen for each: gain, trim, choke group.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::attack::{loudest_moment, perceived_attack};
use super::effects::{Effect, TAKES};
use super::loudness::levelled;
use super::recordings::{Clip, Recording};
use super::shelf::Shelf;
use super::takes::{name_number, take};
use super::voice::{EffectId, VoiceKind};
use crate::units::{Decibels, Micros};

/// What a company chooses for one of its sounds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Adjustment {
    /// Louder or softer than all others.
    pub gain: Decibels,
    /// Later, or, negative, earlier.
    pub trim: Micros,
    /// The group in which a new sound cuts off the one before; groups 0 and 200 on are used by the program itself.
    pub choke: Option<u8>,
}

/// The longest trim either way.
pub const MOST_TRIM: Micros = Micros::millis(500);
/// The lowest gain.
pub const LEAST_GAIN: Decibels = Decibels(-60.0);
/// The highest gain.
pub const MOST_GAIN: Decibels = Decibels(12.0);

/// A sound as it is to be planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Named {
    /// What to plan.
    pub kind: VoiceKind,
    /// Add this to the level of the cue.
    pub gain: Decibels,
    /// Add this to the time of the cue: then it is heard.
    pub trim: Micros,
    /// Its perceived attack: so much before it is to be heard its first sample sounds.
    pub attack: Micros,
}

/// Every sound by its name. It does not change: another choice is another library, which shares the samples.
#[derive(Debug)]
pub struct Library {
    stamp: u32,
    sounds: Arc<[Entry]>,
    /// What was chosen for each, in their order.
    adjustments: Vec<Adjustment>,
    /// The production's choke groups.
    groups: Arc<BTreeMap<String, u8>>,
    troubles: Vec<String>,
    shelves: Arc<Mutex<Vec<Arc<Shelf>>>>,
}

#[derive(Debug)]
struct Entry {
    name: String,
    source: Source,
    /// Its choke group, when nothing else is chosen.
    choke: Option<u8>,
    /// The perceived attack of each take, once it has been measured.
    attacks: OnceLock<Vec<Micros>>,
}

/// A sound of the library, for those who choose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Listed<'a> {
    /// Its name.
    pub name: &'a str,
    /// How many takes it has.
    pub takes: u8,
    /// True for the company's own recordings.
    pub recorded: bool,
    /// What was chosen for it.
    pub adjustment: Adjustment,
    /// Its perceived attack after its first sample, in the middle of its takes; nothing until it has been measured.
    pub attack: Option<Micros>,
}

#[derive(Debug)]
enum Source {
    Computed(Effect),
    Recorded(Vec<Clip>),
}

/// The stamps of libraries; 0 is none.
static STAMPS: AtomicU32 = AtomicU32::new(1);
/// The choke groups of effects that cannot sound twice at a time begin here.
const FIRST_OWN_GROUP: u8 = 200;
/// The rate at which the attacks of computed effects are measured.
const ATTACK_RATE: u32 = 48_000;
/// Rates at which shelves are kept ready.
const KEPT: usize = 3;

impl Library {
    /// The built-in effects alone.
    pub fn built_in() -> Library {
        Library::new(Vec::new(), &BTreeMap::new())
    }

    /// The built-in effects, recordings, and what was chosen for them by name.
    pub fn new(recordings: Vec<Recording>, chosen: &BTreeMap<String, Adjustment>) -> Library {
        Library::of(recordings, chosen, |_| true)
    }

    /// The same with only those sounds whose names are wanted: it is ready sooner.
    pub fn of(
        recordings: Vec<Recording>,
        chosen: &BTreeMap<String, Adjustment>,
        wanted: impl Fn(&str) -> bool,
    ) -> Library {
        let recorded = |name: &str| recordings.iter().any(|recording| recording.name == name);
        let computed = Effect::ALL.into_iter().filter(|effect| !recorded(effect.name())).map(Entry::computed);
        let mut sounds: Vec<Entry> = computed.collect();
        sounds.extend(recordings.into_iter().map(Entry::recorded));
        sounds.retain(|entry| wanted(&entry.name));
        // More sounds than a number can count are not kept; nobody has sixty thousand.
        sounds.truncate(usize::from(u16::MAX));
        let sounds: Arc<[Entry]> = sounds.into();
        let groups = Arc::default();
        let adjustments = adjustments(&sounds, &groups, chosen);
        let stamp = STAMPS.fetch_add(1, Relaxed);
        Library { stamp, sounds, adjustments, groups, troubles: Vec::new(), shelves: Arc::default() }
    }

    /// The same with the choke groups of a production, by sound; one that was chosen for a sound goes before.
    pub fn in_groups(self, groups: BTreeMap<String, u8>) -> Library {
        let own = self.sounds.iter().zip(&self.adjustments).map(|(entry, adjustment)| {
            let chosen = adjustment.choke.filter(|_| adjustment.choke != entry.choke);
            Adjustment { choke: chosen.or(groups.get(&entry.name).copied()).or(entry.choke), ..*adjustment }
        });
        let adjustments = own.collect();
        Library { adjustments, groups: Arc::new(groups), ..self }
    }

    /// The names in the production's choke groups that no sound has.
    pub fn unknown_in_groups(&self) -> impl Iterator<Item = &str> {
        self.groups.keys().map(String::as_str).filter(|name| !self.names().any(|known| known == *name))
    }

    /// The same sounds with another choice. The samples are shared, so that nothing is computed anew and what is
    /// planned of either is heard.
    pub fn adjusted(&self, chosen: &BTreeMap<String, Adjustment>) -> Library {
        Library {
            stamp: self.stamp,
            sounds: Arc::clone(&self.sounds),
            adjustments: adjustments(&self.sounds, &self.groups, chosen),
            groups: Arc::clone(&self.groups),
            troubles: self.troubles.clone(),
            shelves: Arc::clone(&self.shelves),
        }
    }

    /// The same, with sentences about the files that are not as they should be, for the desk.
    pub fn with_troubles(self, troubles: Vec<String>) -> Library {
        Library { troubles, ..self }
    }

    /// What is wrong with recordings, a sentence each.
    pub fn troubles(&self) -> &[String] {
        &self.troubles
    }

    /// The names of its sounds.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.sounds.iter().map(|entry| entry.name.as_str())
    }

    /// Its sounds, with what was chosen for each.
    pub fn listing(&self) -> impl Iterator<Item = Listed<'_>> {
        self.sounds.iter().zip(&self.adjustments).map(|(entry, adjustment)| Listed {
            name: &entry.name,
            takes: entry.takes(),
            recorded: matches!(entry.source, Source::Recorded(_)),
            adjustment: *adjustment,
            attack: entry.measured_attack(),
        })
    }

    /// What was chosen for a sound; nothing of the kind for one that it does not have.
    pub fn adjustment(&self, name: &str) -> Adjustment {
        self.listing().find(|listed| listed.name == name).map_or_else(Adjustment::default, |listed| listed.adjustment)
    }

    /// The name of what was planned from this library.
    pub fn name_of(&self, kind: VoiceKind) -> Option<&str> {
        match kind {
            VoiceKind::Click => Some("click"),
            VoiceKind::Accent => Some("accent"),
            VoiceKind::Effect(effect) if effect.library == self.stamp => {
                self.sounds.get(usize::from(effect.sound)).map(|entry| entry.name.as_str())
            }
            VoiceKind::Effect(_) => None,
        }
    }

    /// What to plan when a sound is heard for the `nth` time (counted from 0) in a run; nothing when no sound has the
    /// name. The take is chosen by [`take`].
    pub fn effect(&self, name: &str, run: u32, nth: u32) -> Option<Named> {
        let of_the_beat = |kind| Named { kind, gain: Decibels::default(), trim: Micros::ZERO, attack: Micros::ZERO };
        let Some(sound) = self.sounds.iter().position(|entry| entry.name == name) else {
            return match name {
                "click" => Some(of_the_beat(VoiceKind::Click)),
                "accent" => Some(of_the_beat(VoiceKind::Accent)),
                _ => None,
            };
        };
        let (entry, adjustment) = (self.sounds.get(sound)?, self.adjustments.get(sound)?);
        let effect = EffectId {
            library: self.stamp,
            sound: u16::try_from(sound).ok()?,
            take: take(run, name, nth, entry.takes()),
            choke: adjustment.choke,
        };
        let Adjustment { gain, trim, .. } = *adjustment;
        let attack = entry.attacks().get(usize::from(effect.take)).copied().unwrap_or_default();
        Some(Named { kind: VoiceKind::Effect(effect), gain, trim, attack })
    }

    /// By how much a sound has to be planned before (negative) or after its beat at the earliest: its trim, less the longest
    /// attack of its takes.
    pub fn earliest(&self, name: &str) -> Micros {
        let entry = self.sounds.iter().zip(&self.adjustments).find(|(entry, _)| entry.name == name);
        entry.map_or(Micros::ZERO, |(entry, adjustment)| {
            adjustment.trim - entry.attacks().iter().copied().max().unwrap_or_default()
        })
    }

    /// The first take of one of the company's recordings, at a rate, as loud as it was recorded.
    pub(super) fn recorded(&self, name: &str, rate: u32) -> Option<Vec<f32>> {
        let entry = self.sounds.iter().find(|entry| entry.name == name)?;
        match &entry.source {
            Source::Recorded(clips) => clips.first().map(|clip| clip.at_rate(rate)),
            Source::Computed(_) => None,
        }
    }

    /// Every sound at a rate, all equally loud. Computes it when it is not ready: some tenths of a second.
    pub fn shelf(&self, rate: u32) -> Arc<Shelf> {
        if let Some(shelf) = self.ready(rate) {
            return shelf;
        }
        let effects = self.sounds.iter().map(|entry| entry.render(rate)).collect();
        let shelf = Arc::new(Shelf::with(rate, self.stamp, effects));
        let mut shelves = self.shelves.lock().unwrap_or_else(PoisonError::into_inner);
        if shelves.len() >= KEPT {
            shelves.remove(0);
        }
        shelves.push(Arc::clone(&shelf));
        shelf
    }

    /// Measures the perceived attack of every sound and keeps nothing else: some tenths of a second, after which planning
    /// waits for nothing.
    pub(super) fn measure(&self) {
        for entry in self.sounds.iter() {
            entry.attacks();
        }
    }

    /// The shelf for a rate, if it was computed before.
    pub fn ready(&self, rate: u32) -> Option<Arc<Shelf>> {
        let shelves = self.shelves.lock().unwrap_or_else(PoisonError::into_inner);
        shelves.iter().find(|shelf| shelf.rate() == rate).cloned()
    }

    /// What tells it from every other library of this program.
    pub(super) fn stamp(&self) -> u32 {
        self.stamp
    }
}

/// What is chosen for each sound; where no choke group is, the production's, or else its own.
fn adjustments(
    sounds: &[Entry],
    groups: &BTreeMap<String, u8>,
    chosen: &BTreeMap<String, Adjustment>,
) -> Vec<Adjustment> {
    let of = |entry: &Entry| {
        let chosen = chosen.get(&entry.name).copied().unwrap_or_default();
        Adjustment { choke: chosen.choke.or_else(|| groups.get(&entry.name).copied()).or(entry.choke), ..chosen }
    };
    sounds.iter().map(of).collect()
}

impl Entry {
    fn computed(effect: Effect) -> Entry {
        let choke = effect.is_alone().then(|| FIRST_OWN_GROUP + (name_number(effect.name()) % 50) as u8);
        Entry { name: effect.name().to_owned(), source: Source::Computed(effect), choke, attacks: OnceLock::new() }
    }

    fn recorded(recording: Recording) -> Entry {
        let (source, attacks) = (Source::Recorded(recording.takes), OnceLock::new());
        Entry { name: recording.name, source, choke: None, attacks }
    }

    fn takes(&self) -> u8 {
        match &self.source {
            Source::Computed(_) => TAKES,
            Source::Recorded(clips) => u8::try_from(clips.len()).unwrap_or(u8::MAX),
        }
    }

    /// Every take as it comes.
    fn raw(&self, rate: u32) -> Vec<Vec<f32>> {
        match &self.source {
            Source::Computed(effect) => (0..TAKES).map(|take| effect.render(take, rate)).collect(),
            Source::Recorded(clips) => clips.iter().map(|clip| clip.at_rate(rate)).collect(),
        }
    }

    /// The perceived attack of every take, the same whatever rate it is played at. Measured at the first use.
    fn attacks(&self) -> &[Micros] {
        self.attacks.get_or_init(|| match &self.source {
            Source::Computed(effect) if effect.swells() => {
                let loudest = |take: &Vec<f32>| loudest_moment(take, ATTACK_RATE).unwrap_or_default();
                self.raw(ATTACK_RATE).iter().map(loudest).collect()
            }
            Source::Computed(_) => vec![Micros::ZERO; usize::from(TAKES)],
            Source::Recorded(clips) => {
                let attack = |clip: &Clip| perceived_attack(&clip.samples, clip.rate).unwrap_or_default();
                clips.iter().map(attack).collect()
            }
        })
    }

    /// The attack in the middle of the takes, if it has been measured.
    fn measured_attack(&self) -> Option<Micros> {
        let mut attacks = self.attacks.get()?.clone();
        attacks.sort_unstable();
        attacks.get(attacks.len() / 2).copied()
    }

    /// Every take, brought to the loudness of all.
    fn render(&self, rate: u32) -> Vec<Box<[f32]>> {
        let raw = self.raw(rate);
        self.attacks();
        raw.iter().map(|take| levelled(take, rate).unwrap_or_default().into()).collect()
    }
}
