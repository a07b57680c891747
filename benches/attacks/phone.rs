//! A phone that was in the call and whose link is cut: how long until it is welcome again. It comes from an address of its
//! own, so that to the server it is no part of its machine, and tries as every member does.

use std::net::{Ipv4Addr, Shutdown};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use holdfast::rules::wait_before_retry;
use holdfast::time::ServerClock;
use holdfast::units::Micros;

use super::crowd::{Crowd, Stuck};
use super::holdfast::Holdfast;
use super::joining::Invitation;
use super::link::Link;

/// Where it comes from: nobody attacks from there.
const ADDRESS: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 10);
/// Whoever is not back then does not come back.
const LIMIT: Duration = Duration::from_secs(20);

/// The phone.
pub(crate) struct Phone {
    invitation: Invitation,
    key: String,
    link: usize,
}

impl Phone {
    /// Joins.
    pub(crate) fn join(holdfast: &Holdfast, crowd: &mut Crowd) -> Result<Phone, Stuck> {
        let invitation = holdfast.observer.at(ADDRESS);
        let stuck = |error: std::io::Error| Stuck(format!("the phone cannot join: {error}"));
        let (socket, key) = invitation.enter("phone").map_err(stuck)?;
        let link = take(crowd, Link::new(socket, None).map_err(stuck)?);
        Ok(Phone { invitation, key, link })
    }

    /// Its link is cut; returns how long it takes until it is back.
    pub(crate) fn cut(&mut self, holdfast: &mut Holdfast, crowd: &mut Crowd) -> Result<Micros, Stuck> {
        let _ = crowd.link(self.link).socket().shutdown(Shutdown::Both);
        let (tell, told) = mpsc::channel();
        let (invitation, key) = (self.invitation.clone(), self.key.clone());
        // The crowd goes on meanwhile: the others must not fall silent.
        thread::spawn(move || tell.send(come_back(&invitation, &key)));
        let mut back = None;
        crowd.until(LIMIT, "the phone is back", |crowd| {
            holdfast.desk.read(crowd);
            back = told.try_recv().ok();
            back.is_some()
        })?;
        let Some((link, took)) = back else { return Err(Stuck("the phone has no link".into())) };
        self.link = take(crowd, link);
        Ok(took)
    }
}

/// The phone says from now on that it is there.
fn take(crowd: &mut Crowd, link: Link) -> usize {
    let link = crowd.add(link);
    crowd.keep_alive(link..link + 1, Holdfast::pulse());
    link
}

/// Tries again and again, waiting in between as long as a member may.
fn come_back(invitation: &Invitation, key: &str) -> (Link, Micros) {
    let clock = ServerClock::new();
    let start = clock.now();
    let mut failures = 0;
    loop {
        thread::sleep(Duration::from_micros(wait_before_retry(failures, 1.0).0.unsigned_abs()));
        match invitation.come_back(key).and_then(|socket| Link::new(socket, None)) {
            Ok(link) => return (link, clock.now().since(start)),
            Err(_) => failures += 1,
        }
    }
}
