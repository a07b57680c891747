//! What the system shows of its sound devices from outside, without opening any: opening one that is not there reads
//! dozens of files. While nothing of this changes, a device is looked for less often; while there is nothing at all, not
//! until somebody chooses one.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Where nodes of sound cards stand.
const CARDS: &str = "/dev/snd";
/// What says which devices there are, beside a person's own.
const SETTINGS: [&str; 2] = ["/etc/asound.conf", "/etc/alsa/conf.d"];
/// What is no sound card though it stands beside them.
const NO_CARDS: [&str; 2] = ["seq", "timer"];
/// Places that a machine without any device may have, too.
const ALWAYS: [&str; 2] = [CARDS, "/etc/alsa/conf.d"];
/// Sockets of sound servers in a person's own folder of the running system, and settings in their home.
const SERVERS: [&str; 2] = ["pulse/native", "pipewire-0"];
const OWN_SETTINGS: [&str; 4] =
    [".asoundrc", ".config/alsa/asoundrc", ".config/pulse/client.conf", ".pulse/client.conf"];
/// Where a sound server leaves links to its sockets in a home, on a system that gives a person no folder for them.
const LINKS: &str = ".config/pulse";
/// Whoever sets one of these has told programs where sound goes.
const TOLD_BY: [&str; 6] = [
    "PULSE_SERVER",
    "PULSE_RUNTIME_PATH",
    "PIPEWIRE_REMOTE",
    "PIPEWIRE_RUNTIME_DIR",
    "ALSA_CONFIG_PATH",
    "ALSA_CONFIG_DIR",
];

/// What there was at one moment: names, and when they came or changed.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Signs(Vec<(PathBuf, Option<SystemTime>)>);

impl Signs {
    /// What there is now. Nothing where a system shows its devices otherwise: then only looking tells.
    pub(super) fn now() -> Option<Signs> {
        cfg!(target_os = "linux").then(|| Signs(places().into_iter().map(seen).collect()))
    }

    /// True when nothing speaks for a device: no card, no sound server, nothing that anybody has set up for one. Whatever
    /// comes then shows itself, but for a sound server on another machine to which nothing here points.
    pub(super) fn show_none(&self) -> bool {
        let speaks = |(path, changed): &(PathBuf, Option<SystemTime>)| match path.parent() == Some(Path::new(CARDS)) {
            true => !NO_CARDS.iter().any(|name| path.ends_with(name)),
            false => changed.is_some() && !ALWAYS.iter().any(|place| path == Path::new(place)),
        };
        !self.0.iter().any(speaks) && TOLD_BY.iter().all(|variable| env::var_os(variable).is_none())
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
    let links = of("HOME").and_then(|home| fs::read_dir(home.join(LINKS)).ok());
    let links = links.into_iter().flatten().flatten().map(|entry| entry.path());
    places.extend(links.filter(|link| link.is_symlink()).map(|link| link.join("native")));
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

    #[test]
    fn a_machine_without_a_device_is_told_from_one_that_may_have_one() {
        let told = TOLD_BY.iter().any(|variable| env::var_os(variable).is_some());
        let at = |path: &str, there: bool| (PathBuf::from(path), there.then_some(SystemTime::UNIX_EPOCH));
        let bare =
            [at(CARDS, true), at("/dev/snd/seq", false), at("/etc/alsa/conf.d", true), at("/run/pulse/native", false)];
        assert_eq!(Signs(bare.to_vec()).show_none(), !told);
        for sign in [at("/dev/snd/pcmC0D0p", false), at("/run/pulse/native", true), at("/etc/asound.conf", true)] {
            let signs = Signs(bare.iter().cloned().chain([sign.clone()]).collect());
            assert!(!signs.show_none(), "{sign:?}");
        }
    }
}
