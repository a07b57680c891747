//! Connections whose other side has not said who it is: page loads, half-sent requests, newcomers who have not shown an
//! invitation. There is room for so many of them in all and from one address; one more makes the oldest leave, of its own
//! address or of the one that has the most, so that no stranger can fill the door. Members do not count: their sockets
//! have gone to the sockets' thread. Whoever comes from this very machine always gets in.
//!
//! A visitor is also waited for no longer than [`Limits::request`] between one answer and the next.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::time::{Instant, Sleep, sleep};

use super::reached::{Limit, Reached};
use crate::production::Limits;

/// How many connections may be open whose other side has not said who it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VisitorLimits {
    /// In all.
    pub all: usize,
    /// From one address.
    pub by_address: usize,
}

impl VisitorLimits {
    /// A quarter of the files that this process may have open, 1,024 at the most: the rest is for members. Half of it from
    /// one address, because a whole company may stand behind one router.
    pub fn of_files(files: u64) -> VisitorLimits {
        let all = usize::try_from(files / 4).unwrap_or(usize::MAX).clamp(16, 1_024);
        VisitorLimits { all, by_address: all / 2 }
    }

    /// The same where the production has chosen; never more than half of the files.
    pub(super) fn chosen(files: u64, limits: &Limits) -> VisitorLimits {
        let usual = VisitorLimits::of_files(files);
        let most = usize::try_from(files / 2).unwrap_or(usize::MAX);
        let all = limits.connections.map_or(usual.all, |all| all.min(most));
        VisitorLimits { all, by_address: limits.connections_from_one_address.unwrap_or(all / 2).min(all) }
    }
}

/// Everybody who is at the door.
#[derive(Debug)]
pub(super) struct Visitors {
    limits: VisitorLimits,
    /// From one answer to the next question's end, a visitor has so long.
    patience: Duration,
    reached: Arc<Reached>,
    table: Mutex<Table>,
}

#[derive(Debug, Default)]
struct Table {
    next: u64,
    /// Each visitor's way to be sent away, oldest first.
    open: BTreeMap<u64, (IpAddr, oneshot::Sender<()>)>,
    by_address: HashMap<IpAddr, BTreeSet<u64>>,
}

/// A visitor's place at the door; it is free again when this is dropped.
#[derive(Debug)]
struct Place {
    number: u64,
    from: IpAddr,
    visitors: Arc<Visitors>,
}

impl Visitors {
    pub(super) fn new(limits: VisitorLimits, reached: Arc<Reached>) -> Arc<Visitors> {
        let patience = reached.limits().request.as_duration();
        Arc::new(Visitors { limits, patience, reached, table: Mutex::default() })
    }

    /// Lets a connection in.
    fn visit<S>(self: &Arc<Self>, stream: S, from: IpAddr, to: Option<IpAddr>) -> Visitor<S> {
        let own_machine = to == Some(from);
        let (send_away, leave) = oneshot::channel();
        let place = (!own_machine).then(|| self.take_place(from, send_away));
        let (leave, patience) = (place.is_some().then_some(leave), self.patience);
        Visitor { stream, leave, patience, until: Box::pin(sleep(patience)), answered: false, place }
    }

    fn take_place(self: &Arc<Self>, from: IpAddr, send_away: oneshot::Sender<()>) -> Place {
        let mut table = self.table();
        let number = table.next;
        table.next += 1;
        table.open.insert(number, (from, send_away));
        table.by_address.entry(from).or_default().insert(number);
        let full = if table.by_address.get(&from).is_some_and(|numbers| numbers.len() > self.limits.by_address) {
            Some(from)
        } else if table.open.len() > self.limits.all {
            table.by_address.iter().max_by_key(|(_, numbers)| numbers.len()).map(|(from, _)| *from)
        } else {
            None
        };
        if let Some(full) = full {
            table.send_away_oldest_of(full);
            drop(table);
            self.reached.note(Limit::Connections(full));
        }
        Place { number, from, visitors: Arc::clone(self) }
    }

    /// A connection was given up: this did not come in time.
    pub(super) fn gave_up(&self, late: Limit) {
        self.reached.note(late);
    }

    /// How long a newcomer is waited for who shakes hands.
    pub(super) fn handshake(&self) -> Duration {
        self.reached.limits().introduction.as_duration()
    }

    fn table(&self) -> MutexGuard<'_, Table> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Table {
    fn send_away_oldest_of(&mut self, from: IpAddr) {
        let Some(oldest) = self.by_address.get(&from).and_then(|numbers| numbers.first().copied()) else { return };
        if let Some((_, send_away)) = self.forget(oldest, from) {
            // One that has ended by itself needs no sending.
            let _ = send_away.send(());
        }
    }

    fn forget(&mut self, number: u64, from: IpAddr) -> Option<(IpAddr, oneshot::Sender<()>)> {
        if let Some(numbers) = self.by_address.get_mut(&from) {
            numbers.remove(&number);
            if numbers.is_empty() {
                self.by_address.remove(&from);
            }
        }
        self.open.remove(&number)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.visitors.table().forget(self.number, self.from);
    }
}

/// A visitor's connection. It fails once it is sent away, or has been waited for too long.
pub(super) struct Visitor<S> {
    stream: S,
    /// Nothing for the desk's own machine.
    leave: Option<oneshot::Receiver<()>>,
    patience: Duration,
    until: Pin<Box<Sleep>>,
    /// True once something was answered: from then on it may wait for the next question in silence.
    answered: bool,
    place: Option<Place>,
}

impl<S> Visitor<S> {
    /// The connection of somebody who is known now.
    pub(super) fn into_inner(self) -> S {
        self.stream
    }

    /// Why it ends now, if it does.
    fn ending(&mut self, context: &mut Context<'_>) -> Option<io::Error> {
        let leave = self.leave.as_mut().is_some_and(|leave| Pin::new(leave).poll(context).is_ready());
        if leave {
            let why = "more came from there than there is room for";
            return Some(io::Error::new(io::ErrorKind::ConnectionAborted, why));
        }
        let late = self.until.as_mut().poll(context).is_ready();
        if let Some(place) = self.place.as_ref().filter(|_| late && !self.answered) {
            place.visitors.gave_up(Limit::Request(place.from));
            // Said once, however often it is asked about.
            self.answered = true;
        }
        late.then(|| io::Error::new(io::ErrorKind::TimedOut, "nothing was asked for in time"))
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Visitor<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        match self.ending(context) {
            Some(error) => Poll::Ready(Err(error)),
            None => Pin::new(&mut self.stream).poll_read(context, buffer),
        }
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Visitor<S> {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        if let Some(error) = self.ending(context) {
            return Poll::Ready(Err(error));
        }
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        if matches!(written, Poll::Ready(Ok(_))) {
            self.answered = true;
            let until = Instant::now() + self.patience;
            self.until.as_mut().reset(until);
        }
        written
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}

/// A listener at which everybody is a visitor first; `tune` sets up each socket.
pub(super) struct Door {
    pub(super) listener: TcpListener,
    pub(super) visitors: Arc<Visitors>,
    pub(super) tune: fn(&TcpStream),
}

impl Listener for Door {
    type Io = Visitor<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        let (stream, from) = Listener::accept(&mut self.listener).await;
        (self.tune)(&stream);
        let to = stream.local_addr().ok().map(|to| to.ip());
        (self.visitors.visit(stream, from.ip(), to), from)
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }
}

#[cfg(test)]
mod tests {
    use futures_util::FutureExt;
    use proptest::prelude::*;
    use tokio::io::AsyncReadExt;

    use super::*;
    use crate::time::ServerClock;

    const LIMITS: VisitorLimits = VisitorLimits { all: 8, by_address: 5 };

    fn reached() -> Arc<Reached> {
        Arc::new(Reached::new(Limits::default(), ServerClock::new()))
    }

    fn visitor(visitors: &Arc<Visitors>, address: u8) -> Visitor<tokio::io::DuplexStream> {
        let (here, there) = tokio::io::duplex(8);
        // The other end stays open for as long as the test.
        std::mem::forget(there);
        let (from, to) = (IpAddr::from([10, 0, 0, address]), IpAddr::from([10, 0, 0, 1]));
        visitors.visit(here, from, Some(to))
    }

    async fn is_sent_away(visitor: &mut Visitor<tokio::io::DuplexStream>) -> bool {
        let mut byte = [0];
        let read = visitor.read(&mut byte).now_or_never();
        read.is_some_and(|read| read.is_err_and(|error| error.kind() == io::ErrorKind::ConnectionAborted))
    }

    proptest! {
        /// However connections come and go: never more than there is room for, the newest is never the one that leaves, an
        /// address with few is never touched while another has more, and this machine always gets in.
        #[test]
        fn there_is_always_room_for_one_more(steps in prop::collection::vec((1u8..6, prop::bool::weighted(0.2)), 0..80)) {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
            runtime.block_on(async {
                let visitors = Visitors::new(LIMITS, reached());
                let mut open: Vec<(u8, Visitor<_>)> = Vec::new();
                for (address, goes) in steps {
                    if goes && !open.is_empty() {
                        open.remove(usize::from(address) % open.len());
                        continue;
                    }
                    open.push((address, visitor(&visitors, address)));
                    let count = |of: u8, open: &[(u8, Visitor<_>)]| open.iter().filter(|(from, _)| *from == of).count();
                    let mut left = None;
                    for (place, (_, visitor)) in open.iter_mut().enumerate() {
                        if is_sent_away(visitor).await {
                            assert!(left.replace(place).is_none(), "one comes, one leaves at the most");
                        }
                    }
                    if let Some(place) = left {
                        let (from, newest) = (open[place].0, open.len() - 1);
                        assert!(place != newest && from != 1, "the newest and this machine stay");
                        let most = (2..6).map(|of| count(of, &open)).max();
                        assert!(Some(count(from, &open)) == most || count(from, &open) > LIMITS.by_address);
                        assert!(open.iter().position(|(of, _)| *of == from) == Some(place), "the oldest of its address");
                        open.remove(place);
                    }
                    let strangers = open.iter().filter(|(from, _)| *from != 1).count();
                    assert!(strangers <= LIMITS.all && (2..6).all(|of| count(of, &open) <= LIMITS.by_address));
                }
            });
        }
    }

    #[tokio::test(start_paused = true)]
    async fn many_who_ask_nothing_are_told_at_the_desk_and_one_who_was_answered_is_not() {
        let (room, told) = (VisitorLimits { all: 40, by_address: 40 }, reached());
        let visitors = Visitors::new(room, Arc::clone(&told));
        let mut silent: Vec<_> = (0..12).map(|_| visitor(&visitors, 2)).collect();
        let mut answered: Vec<_> = (0..12).map(|_| visitor(&visitors, 3)).collect();
        for each in &mut answered {
            tokio::io::AsyncWriteExt::write_all(each, b"200").await.unwrap();
        }
        for each in silent.iter_mut().chain(&mut answered) {
            for _ in 0..2 {
                let error = each.read(&mut [0; 1]).await.unwrap_err();
                assert_eq!(error.kind(), io::ErrorKind::TimedOut);
            }
        }
        let sentences = told.sentences();
        assert!(sentences.len() == 1 && sentences[0].starts_with("12 connections from 10.0.0.2"), "{sentences:?}");
    }

    #[tokio::test(start_paused = true)]
    async fn a_visitor_who_asks_nothing_is_not_waited_for() {
        let visitors = Visitors::new(LIMITS, reached());
        let mut silent = visitor(&visitors, 2);
        let error = silent.read(&mut [0; 1]).await.unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::TimedOut);
    }

    #[test]
    fn the_limits_leave_most_files_to_the_members() {
        assert_eq!(VisitorLimits::of_files(256), VisitorLimits { all: 64, by_address: 32 });
        assert_eq!(VisitorLimits::of_files(1 << 20), VisitorLimits { all: 1_024, by_address: 512 });
    }
}
