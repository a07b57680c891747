//! Recordings that are put into the folder, changed or taken out while the server runs: they are read and computed where
//! nobody waits, and taken up between runs. A run that goes keeps the sounds that it began with, since what is planned of
//! it names them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use tracing::info;

use super::deed::Deed;
use super::hub::Hub;
use super::request::Request;
use super::sound_page::follow;
use crate::call::Stage;
use crate::production::{Production, Stamp};
use crate::sound::{Library, Sound};
use crate::wire::SoundTold;

/// What the sounds were made from last.
pub(super) struct Sources {
    sound: Sound,
    seen: Mutex<Seen>,
}

/// The recordings as they looked, and the choke groups.
type Seen = (Stamp, BTreeMap<String, u8>);

impl Sources {
    /// What the sounds of that production are made from now.
    pub(super) fn new(production: &Production, sound: Sound) -> Sources {
        Sources { sound, seen: Mutex::new(seen(production)) }
    }

    /// Reads and computes the sounds anew, if something that they are made from has changed. Waits for the disk.
    pub(super) fn read_anew(&self, production: &Production) -> Option<Request> {
        let now = seen(production);
        {
            let mut before = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
            if *before == now {
                return None;
            }
            *before = now;
        }
        let library = production.library();
        // Whoever takes it up has it at once.
        library.shelf(self.sound.status().rate);
        Some(Request::Recordings(Box::new(library)))
    }
}

fn seen(production: &Production) -> Seen {
    (Stamp::of_sounds(&production.folder), production.config.choke.clone())
}

impl Hub {
    /// The recordings were read anew: they are taken up now, or as soon as no run goes.
    pub(super) fn new_recordings(&mut self, library: Library) -> Vec<Deed> {
        self.page.recordings = Some(library);
        self.take_up_recordings()
    }

    /// Takes up recordings that wait for the end of a run.
    pub(super) fn take_up_recordings(&mut self) -> Vec<Deed> {
        if self.page.recordings.is_none() || matches!(self.parts.call.stage(), Stage::Going(..)) {
            return Vec::new();
        }
        let Some(library) = self.page.recordings.take() else { return Vec::new() };
        info!("the recordings were read anew");
        self.parts.sound.stock(Arc::new(library));
        follow(&self.page.trims, &self.parts.sound, &mut self.parts.outputs);
        let sounds = self.page.sounds(&self.parts.sound);
        // What a cue names may be there now.
        vec![Deed::Changed, Deed::TellWatchers(sounds), Deed::TellWatchers(SoundTold::Scores)]
    }
}
