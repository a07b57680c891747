//! Keeps what is chosen on the sound page, on a thread of its own: the hub never waits for a disk. Of what waits to be
//! written only the newest is.

use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::{self, JoinHandle};

use tracing::warn;

use super::request::{Request, ToHub};
use crate::production::trims::Trims;
use crate::production::{DeviceChoice, device, trims};

/// What is to be kept.
pub(super) enum Keep {
    Trims(Trims),
    Device(DeviceChoice),
}

/// The thread's handle. What was handed over is on disk when it has gone.
pub(super) struct Keeper {
    jobs: Option<Sender<Keep>>,
    thread: Option<JoinHandle<()>>,
}

impl Keeper {
    /// Keeps things in that folder; the hub is told when something could not be kept, and when it could be again.
    pub(super) fn new(data: PathBuf, hub: ToHub) -> Keeper {
        let (jobs, waiting) = mpsc::channel();
        let thread = thread::Builder::new().name("keeper".into()).spawn(move || work(&data, &hub, &waiting));
        let thread = thread.inspect_err(|error| warn!("the system gives no thread to keep trims ({error})")).ok();
        Keeper { jobs: Some(jobs), thread }
    }

    /// Hands something over.
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

fn work(data: &std::path::Path, hub: &ToHub, waiting: &Receiver<Keep>) {
    while let Ok(first) = waiting.recv() {
        let (mut newest_trims, mut newest_device) = (None, None);
        for what in std::iter::once(first).chain(waiting.try_iter()) {
            match what {
                Keep::Trims(trims) => newest_trims = Some(trims),
                Keep::Device(choice) => newest_device = Some(choice),
            }
        }
        let kept = newest_trims.map_or(Ok(()), |trims| trims::save(data, &trims));
        let kept = kept.and(newest_device.map_or(Ok(()), |choice| device::save(data, &choice)));
        let trouble = kept.err().map(|error| format!("What was chosen on the sound page is not kept: {error}"));
        if let Some(trouble) = &trouble {
            warn!("{trouble}");
        }
        // A hub that has gone needs no telling.
        let _ = hub.requests.try_send(Request::Kept { trouble });
    }
}
