//! The foot switch at the desk: it pulls the brake from a thread of its own, which waits for nothing else.

use std::io;
use std::sync::Arc;
use std::thread;

use tokio::sync::mpsc::UnboundedReceiver;
use tracing::info;

use super::brake::Brake;
use super::request::{Request, ToHub};
use super::sockets::Lines;
use crate::brake::By;
use crate::call::Puller;
use crate::midi::MidiEvent;

/// Starts the thread. It ends with whoever sends the events.
///
/// # Errors
/// When the system gives no thread.
pub(super) fn listen(
    mut events: UnboundedReceiver<MidiEvent>,
    brake: Arc<Brake>,
    lines: Lines,
    hub: ToHub,
) -> io::Result<()> {
    let work = move || {
        while let Some(event) = events.blocking_recv() {
            match event {
                MidiEvent::Hold => {
                    let (pull, at) = brake.pull();
                    lines.pulled(pull, at, By::FootSwitch(at), Puller::FootSwitch);
                }
                // A hub with a full lane has more pressing work than a step, which is pressed again.
                MidiEvent::Step => drop(hub.requests.try_send(Request::FootStep)),
                MidiEvent::Learned(trigger) => {
                    info!(
                        "MIDI in: \"{trigger}\" was pressed. To make it HOLD, write hold = \"{trigger}\" under [midi]"
                    );
                }
            }
        }
    };
    thread::Builder::new().name("foot switch".into()).spawn(work).map(drop)
}
