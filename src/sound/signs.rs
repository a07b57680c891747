//! What the system shows of its sound devices from outside, without opening any: opening one that is not there reads
//! dozens of files. While nothing of this changes, a device is looked for less often.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Where nodes of sound cards stand.
const CARDS: &str = "/dev/snd";
/// What says which devices there are, beside a person's own.
const SETTINGS: [&str; 2] = ["/etc/asound.conf", "/etc/alsa/conf.d"];
/// Sockets of sound servers in a person's own folder of the running system, and settings in their home.
const SERVERS: [&str; 2] = ["pulse/native", "pipewire-0"];
const OWN_SETTINGS: [&str; 2] = [".asoundrc", ".config/alsa/asoundrc"];

/// What there was at one moment: names, and when they came or changed.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Signs(Vec<(PathBuf, Option<SystemTime>)>);

impl Signs {
    /// What there is now. Nothing where a system shows its devices otherwise: then only looking tells.
    pub(super) fn now() -> Option<Signs> {
        cfg!(target_os = "linux").then(|| Signs(places().into_iter().map(seen).collect()))
    }
}

fn places() -> Vec<PathBuf> {
    let cards = fs::read_dir(CARDS).into_iter().flatten().flatten().map(|entry| entry.path());
    let of = |variable: &str| env::var_os(variable).map(PathBuf::from);
    let within = |folder: Option<PathBuf>, names: &[&str]| -> Vec<PathBuf> {
        folder.iter().flat_map(|folder| names.iter().map(|name| folder.join(name)).collect::<Vec<_>>()).collect()
    };
    let mut places: Vec<PathBuf> = cards.collect();
    places.sort();
    places.push(CARDS.into());
    places.extend(SETTINGS.map(PathBuf::from));
    places.extend(within(of("XDG_RUNTIME_DIR"), &SERVERS));
    places.extend(within(of("PULSE_RUNTIME_PATH"), &["native"]));
    places.extend(within(of("HOME"), &OWN_SETTINGS));
    places
}

fn seen(path: PathBuf) -> (PathBuf, Option<SystemTime>) {
    // The node of a card is changed whenever somebody plays on it: its name is enough.
    let node = path.parent() == Some(Path::new(CARDS));
    let changed = fs::metadata(&path).and_then(|it| it.modified()).ok();
    (path, if node { None } else { changed })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stays_is_the_same_and_what_comes_is_not() {
        assert_eq!(Signs::now(), Signs::now());
        let folder = tempfile::tempdir().unwrap();
        let socket = folder.path().join("native");
        let before = seen(socket.clone());
        assert_eq!(before, seen(socket.clone()));
        fs::write(&socket, "").unwrap();
        assert_ne!(before, seen(socket));
    }
}
