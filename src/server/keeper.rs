//! Keeps what is chosen at the desk and on the sound page, on a thread of its own: the hub never waits for a disk. Of
//! what waits to be written only the newest is. What could not be written is told, and tried again until it is.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use tracing::{info, warn};

use super::request::{Keeping, LinkId, Request, ToHub};
use crate::faults::{Faults, Part};
use crate::production::invitations::{self, Invitations};
use crate::production::trims::{self, Trims};
use crate::production::{DeviceChoice, ProductionError, device};

/// How often something is tried again that could not be written.
const AGAIN: Duration = Duration::from_secs(2);

/// The thread, to the desk.
const PART: Part = Part {
    name: "The keeper of what is chosen",
    costs: "Trims, the choice of the loudspeakers and new invitations may not be on disk; all are in use.",
};

/// What is to be kept.
pub(super) enum Keep {
    Trims(Trims),
    Device(DeviceChoice),
    /// All invitations, and whoever made one of them new.
    Invitations(Invitations, LinkId),
}

/// The thread's handle. What was handed over has been tried once more when it has gone.
pub(super) struct Keeper {
    jobs: Option<Sender<Keep>>,
    thread: Option<JoinHandle<()>>,
}

impl Keeper {
    /// Keeps things in that folder; the hub is told when something could not be kept, and when it could be again.
    pub(super) fn new(data: PathBuf, hub: ToHub, faults: Faults) -> Keeper {
        Keeper::with(hub, faults, AGAIN, move |what| write(&data, what))
    }

    /// The same with another way to write.
    fn with(
        hub: ToHub,
        faults: Faults,
        again: Duration,
        mut write: impl FnMut(&Keep) -> Result<(), ProductionError> + Send + 'static,
    ) -> Keeper {
        let (jobs, waiting) = mpsc::channel();
        let mut writer = Writer { hub, again, told: Keeping::default(), unkept: Unkept::default() };
        let work = move || faults.keep_running(PART, |_| {}, || writer.work(&waiting, &mut write));
        let thread = thread::Builder::new().name("keeper".into()).spawn(work);
        let thread = thread.inspect_err(|error| warn!("the system gives no thread to keep choices ({error})")).ok();
        Keeper { jobs: Some(jobs), thread }
    }

    /// Keeps nothing: a simulation has no such thread.
    #[cfg(test)]
    pub(super) fn idle() -> Keeper {
        Keeper { jobs: None, thread: None }
    }

    /// Hands something over. Never waits.
    pub(super) fn keep(&self, what: Keep) {
        if let Some(jobs) = &self.jobs {
            // Without a thread, which the log says, nothing is kept.
            let _ = jobs.send(what);
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.jobs = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn write(data: &Path, what: &Keep) -> Result<(), ProductionError> {
    match what {
        Keep::Trims(trims) => trims::save(data, trims),
        Keep::Device(choice) => device::save(data, choice),
        Keep::Invitations(all, _) => invitations::save(data, all),
    }
}

/// The newest of each kind that is not on disk.
#[derive(Default)]
struct Unkept {
    trims: Option<Keep>,
    device: Option<Keep>,
    invitations: Option<Keep>,
}

impl Unkept {
    fn add(&mut self, what: Keep) {
        let place = match what {
            Keep::Trims(_) => &mut self.trims,
            Keep::Device(_) => &mut self.device,
            Keep::Invitations(..) => &mut self.invitations,
        };
        *place = Some(what);
    }

    fn is_empty(&self) -> bool {
        self.trims.is_none() && self.device.is_none() && self.invitations.is_none()
    }
}

/// What the thread works on.
struct Writer {
    hub: ToHub,
    again: Duration,
    told: Keeping,
    unkept: Unkept,
}

impl Writer {
    /// Writes what comes until nobody hands anything over any more. Called again after a panic, it tries again what is not
    /// on disk.
    fn work(&mut self, jobs: &Receiver<Keep>, write: &mut impl FnMut(&Keep) -> Result<(), ProductionError>) {
        loop {
            let calm = self.unkept.is_empty() && self.told == Keeping::default();
            let first = if calm {
                jobs.recv().map_err(|_| RecvTimeoutError::Disconnected)
            } else {
                jobs.recv_timeout(self.again)
            };
            let mut inviters = Vec::new();
            let ended = matches!(first, Err(RecvTimeoutError::Disconnected));
            for what in first.into_iter().chain(jobs.try_iter()) {
                if let Keep::Invitations(_, inviter) = &what {
                    inviters.push(*inviter);
                }
                self.unkept.add(what);
            }
            self.keep_all(inviters, write);
            if ended {
                return;
            }
        }
    }

    /// Tries to write everything that is not on disk, and tells the hub what has changed.
    fn keep_all(&mut self, inviters: Vec<LinkId>, write: &mut impl FnMut(&Keep) -> Result<(), ProductionError>) {
        let Unkept { trims, device, invitations } = &mut self.unkept;
        let mut why = [trims, device, invitations].map(|place| {
            let failed = write(place.as_ref()?).err().map(|error| error.to_string());
            if failed.is_none() {
                *place = None;
            }
            failed
        });
        let invitations = why[2].take();
        let sound = why.into_iter().flatten().next();
        let sound = sound.map(|why| format!("What was chosen on the sound page is not kept: {why}"));
        let invitations = invitations.map(|why| {
            format!(
                "The new invitations are in use, but not on disk: {why} It is tried again. If the server is started anew \
                 before they are, the old ones open the door again."
            )
        });
        self.tell(Keeping { inviters: if invitations.is_some() { inviters } else { Vec::new() }, sound, invitations });
    }

    fn tell(&mut self, now: Keeping) {
        let before = Keeping { inviters: Vec::new(), ..self.told.clone() };
        if before == now {
            return;
        }
        for trouble in [&now.sound, &now.invitations].into_iter().flatten() {
            warn!("{trouble}");
        }
        if now == Keeping::default() {
            info!("everything that was chosen is on disk again");
        }
        // A hub that has gone needs no telling; one that is too busy is told at the next try.
        if self.hub.requests.try_send(Request::Kept(now.clone())).is_ok() {
            self.told = Keeping { inviters: Vec::new(), ..now };
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use jiff::Timestamp;
    use tempfile::TempDir;

    use super::*;
    use crate::call::Role;
    use crate::production::invitations::{Invitation, Secret};
    use crate::server::hub::Lanes;

    const SOON: Duration = Duration::from_millis(5);

    fn invitations_with(secret: char) -> Invitations {
        let secret = Secret::new(&secret.to_string().repeat(32)).unwrap();
        [(Role::Observer, Invitation { secret, made: Timestamp::UNIX_EPOCH, closed: false })].into()
    }

    fn told(lanes: &mut Lanes) -> Keeping {
        match lanes.requests.blocking_recv() {
            Some(Request::Kept(keeping)) => keeping,
            other => panic!("{other:?}"),
        }
    }

    /// A folder that takes no files: there is a file of its name.
    fn no_folder(within: &TempDir) -> PathBuf {
        let data = within.path().join("data");
        std::fs::write(&data, "in the way").unwrap();
        data
    }

    #[test]
    fn what_cannot_be_written_is_told_once_and_written_as_soon_as_it_can_be() {
        let within = TempDir::new().unwrap();
        let (data, mut lanes) = (no_folder(&within), Lanes::new());
        let there = data.clone();
        let keeper = Keeper::with(lanes.to_hub.clone(), Faults::default(), SOON, move |what| write(&there, what));
        keeper.keep(Keep::Invitations(invitations_with('a'), LinkId(4)));
        let first = told(&mut lanes);
        assert_eq!((first.sound, first.inviters), (None, vec![LinkId(4)]));
        let why = first.invitations.unwrap();
        assert!(why.contains("not on disk") && why.contains("invitations.toml"), "{why}");
        // The same trouble is told to the next who meets it, and not again at every try.
        keeper.keep(Keep::Invitations(invitations_with('b'), LinkId(5)));
        assert_eq!(told(&mut lanes).inviters, vec![LinkId(5)]);
        std::fs::remove_file(&data).unwrap();
        assert_eq!(told(&mut lanes), Keeping::default());
        let kept = invitations::load(&data, Timestamp::UNIX_EPOCH).unwrap();
        assert_eq!(kept, invitations_with('b'));
    }

    /// While the disk takes its time nobody waits, and of what came meanwhile only the newest is written.
    #[test]
    fn nobody_waits_for_a_slow_disk() {
        let lanes = Lanes::new();
        let (begun, begins) = mpsc::channel();
        let (go_on, may_go_on) = mpsc::channel::<()>();
        let keeper = Keeper::with(lanes.to_hub.clone(), Faults::default(), SOON, move |what| {
            let Keep::Invitations(all, _) = what else { panic!("only invitations") };
            begun.send(all.clone()).unwrap();
            let _ = may_go_on.recv();
            Ok(())
        });
        keeper.keep(Keep::Invitations(invitations_with('a'), LinkId(1)));
        assert_eq!(begins.recv().unwrap(), invitations_with('a'));
        for letter in 'b'..='z' {
            keeper.keep(Keep::Invitations(invitations_with(letter), LinkId(1)));
        }
        drop(go_on);
        drop(keeper);
        assert_eq!(begins.try_iter().collect::<Vec<_>>(), vec![invitations_with('z')]);
    }

    #[test]
    fn a_panic_in_the_middle_of_writing_is_told_and_what_was_in_hand_is_written_all_the_same() {
        let lanes = Lanes::new();
        let faults = Faults::with_pause(Duration::ZERO);
        let (written, is_written) = mpsc::channel();
        let mut panics = 2;
        let keeper = Keeper::with(lanes.to_hub.clone(), faults.clone(), SOON, move |what| {
            let Keep::Invitations(all, _) = what else { panic!("only invitations") };
            if panics > 0 {
                panics -= 1;
                panic!("on purpose");
            }
            written.send(all.clone()).unwrap();
            Ok(())
        });
        keeper.keep(Keep::Invitations(invitations_with('a'), LinkId(1)));
        assert_eq!(is_written.recv().unwrap(), invitations_with('a'));
        let told = faults.sentences();
        assert!(told[0].starts_with("The keeper of what is chosen failed 2 times and has begun again"), "{told:?}");
        drop(keeper);
        assert_eq!(is_written.try_iter().count(), 0, "written once");
    }
}
