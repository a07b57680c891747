//! What goes out: into a line's outgoing, and from there to the network, stops first.

use super::Reactor;
use crate::server::close;
use crate::server::ending::End;
use crate::server::sockets::line::Wrote;
use crate::server::sockets::outgoing::{Frame, TooSlow};
use crate::wire::Back;

/// Between two looks for taps so many lines are written.
pub(super) const LINES_A_LOOK: usize = 32;

impl Reactor<'_> {
    /// Puts something into a line's outgoing.
    pub(super) fn push(&mut self, place: usize, frame: Frame) {
        let dead = self.brake.dead();
        let Some(line) = self.lines.get_mut(place) else { return };
        let welcome = matches!(frame, Frame::Welcome(_));
        match line.out.push(frame, dead) {
            Ok(()) => {
                self.queue(place);
                // Whoever comes while the brake is pulled has the stop behind their welcome.
                if let Some(stop) = self.stop.clone().filter(|_| welcome && self.brake.pulled()) {
                    self.push(place, Frame::Urgent(stop));
                }
            }
            Err(TooSlow) => self.end(place, too_slow()),
        }
    }

    /// Writes to some lines, those with a stop first.
    pub(super) fn write_some(&mut self) {
        for _ in 0..LINES_A_LOOK {
            let stop = self.to_stop.pop_front();
            let Some(place) = stop.or_else(|| self.to_write.pop_front()) else { return };
            self.write(place, stop.is_some());
        }
    }

    pub(super) fn write(&mut self, place: usize, stop: bool) {
        let (dead, now) = (self.brake.dead(), self.brake.now());
        let Some(line) = self.lines.get_mut(place) else { return };
        if !stop {
            line.queued = false;
        }
        match line.write(dead, now, stop) {
            Ok(Wrote::Everything | Wrote::Blocked) => {}
            Ok(Wrote::Turn) => self.queue(place),
            Err(error) => self.end(place, End::Broken(error.to_string())),
        }
    }
}

fn too_slow() -> End {
    let reason = "This link takes too long to read what is sent. Reload the page nearer to the router.";
    End::refused(reason, close::TOO_SLOW, Back::ByItself)
}
