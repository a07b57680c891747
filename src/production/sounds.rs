//! The production's sounds as they lie in its folder: its recordings beside the computed effects, its choke groups, and a
//! sentence for everything that is not as it should be.

use std::collections::BTreeMap;

use super::{CONFIG_FILE, Production, device};
use crate::sound::{HoldCall, Library, recordings};

impl Production {
    /// Every sound that its scores can name. Nothing is chosen by ear yet: see [`Library::adjusted`]. Waits for the disk,
    /// and computes nothing.
    pub fn library(&self) -> Library {
        let (recordings, broken) = recordings::load(&self.sounds());
        let library = Library::new(recordings, &BTreeMap::new()).in_groups(self.config.choke.clone());
        let mut troubles: Vec<String> = broken.iter().map(|trouble| format!("{trouble}.")).collect();
        troubles.extend(library.unknown_in_groups().map(|name| {
            format!("{CONFIG_FILE}: [choke] names “{name}”, and no sound is called that. Every other sound is in use.")
        }));
        if let HoldCall::Recording(name) = &self.config.hold.call
            && !library.listing().any(|listed| listed.recorded && listed.name == name)
        {
            troubles.push(format!(
                "{CONFIG_FILE}: [hold] asks for the recording “{name}”, and none is called that. Until there is one, the \
                 loudspeakers call a hold with the tone."
            ));
        }
        troubles.extend(device::load(&self.data()).err().map(|error| error.to_string()));
        library.with_troubles(troubles)
    }
}
