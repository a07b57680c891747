//! The floor: what no server can go below on this machine. One thread, one epoll, plain TCP; whatever arrives from one
//! socket is a tap, and a frame that was made before goes to every socket in a loop.

use std::io::{ErrorKind, Read, Write};
use std::net::TcpListener as Listener;
use std::ops::Range;
use std::process::{Command, Stdio};

use mio::net::{TcpListener, TcpStream};
use mio::{Events, Interest, Poll, Token};

use super::crowd::{Crowd, Stuck};
use super::link::Link;
use super::process::Process;
use super::sighting::stop_frame;
use super::system::{System, connect, free_port};

/// The word that starts this program as the floor.
pub(crate) const WORD: &str = "floor";
/// A tap, about as long as one of Holdfast's.
const TAP: [u8; 60] = [b'.'; 60];

/// The floor, seen from the members.
pub(crate) struct Floor {
    process: Process,
    members: Range<usize>,
    empty: u64,
}

impl Floor {
    /// Starts it and connects so many.
    pub(crate) fn start(crowd: &mut Crowd, members: usize) -> Result<Floor, Stuck> {
        let port = free_port();
        let program = std::env::current_exe().map_err(|error| Stuck(error.to_string()))?;
        // It ends by itself when this program is gone and its standard input with it.
        let process = Process::start(Command::new(program).args([WORD, &port.to_string()]).stdin(Stdio::piped()))
            .map_err(|error| Stuck(format!("the floor does not start: {error}")))?;
        let start = crowd.len();
        let first = connect(port)?;
        let empty = process.memory();
        let link = |socket| Link::new(socket, None).map_err(|error| Stuck(error.to_string()));
        crowd.add(link(first)?);
        for _ in 1..members {
            crowd.add(link(connect(port)?)?);
        }
        Ok(Floor { process, members: start..crowd.len(), empty })
    }
}

impl System for Floor {
    fn members(&self) -> Range<usize> {
        self.members.clone()
    }

    fn process(&self) -> &Process {
        &self.process
    }

    fn empty(&self) -> u64 {
        self.empty
    }

    fn tap(&mut self) -> Vec<u8> {
        TAP.to_vec()
    }
}

/// Serves until standard input ends.
pub(crate) fn serve(port: u16) {
    std::thread::spawn(|| {
        let _ = std::io::stdin().read(&mut [0]);
        std::process::exit(0);
    });
    let listener = Listener::bind(("127.0.0.1", port)).unwrap();
    listener.set_nonblocking(true).unwrap();
    let mut listener = TcpListener::from_std(listener);
    let mut poll = Poll::new().unwrap();
    let mut events = Events::with_capacity(1024);
    poll.registry().register(&mut listener, Token(usize::MAX), Interest::READABLE).unwrap();
    let (mut sockets, frame) = (Vec::new(), stop_frame());
    loop {
        if poll.poll(&mut events, None).is_err() {
            continue;
        }
        for event in &events {
            if event.token().0 == usize::MAX {
                accept(&listener, &poll, &mut sockets);
            } else if tapped(&mut sockets[event.token().0]) {
                for socket in &mut sockets {
                    // Who does not take 148 bytes gets none: the floor keeps nothing back.
                    let _ = socket.write(&frame);
                }
            }
        }
    }
}

fn accept(listener: &TcpListener, poll: &Poll, sockets: &mut Vec<TcpStream>) {
    while let Ok((mut socket, _)) = listener.accept() {
        socket.set_nodelay(true).unwrap();
        poll.registry().register(&mut socket, Token(sockets.len()), Interest::READABLE).unwrap();
        sockets.push(socket);
    }
}

fn tapped(socket: &mut TcpStream) -> bool {
    match socket.read(&mut [0; 4096]) {
        Ok(count) => count > 0,
        Err(error) => error.kind() == ErrorKind::Interrupted,
    }
}
