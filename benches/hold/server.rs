//! Holdfast as this program starts it itself: the same server without the command line around it, one of whose threads
//! ends by a panic when standard input says its name.

use std::io::BufRead;
use std::path::Path;
use std::sync::{Arc, Mutex};

use holdfast::production::Production;
use holdfast::server::{Freezer, Serving};
use holdfast::sound::Sound;
use holdfast::time::ServerClock;
use tokio::net::TcpListener;

/// The word that starts this program as the server.
pub(crate) const WORD: &str = "server";

/// Serves the production until standard input ends.
pub(crate) fn serve(dir: &Path) {
    let doomed = Arc::new(Mutex::new(String::new()));
    let named = Arc::clone(&doomed);
    std::thread::spawn(move || {
        for name in std::io::stdin().lock().lines().map_while(Result::ok) {
            *named.lock().unwrap() = name;
        }
        std::process::exit(0);
    });
    let turn = move |thread: &'static str| {
        let mut doomed = doomed.lock().unwrap();
        if *doomed == thread {
            doomed.clear();
            drop(doomed);
            println!("ended {thread}");
            panic!("the bench ends the thread {thread}");
        }
    };
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base_url = format!("http://{}", listener.local_addr().unwrap());
        let clock = ServerClock::new();
        let production = Production::open(dir).unwrap();
        let serving = Serving::of(&production, base_url, Sound::null(clock), clock);
        let ready = Serving { freezer: Freezer::new(turn), ..serving }.open().unwrap();
        for (role, link) in &ready.links {
            println!("{} {link}", role.title());
        }
        ready.run(listener, std::future::pending()).await.unwrap();
    });
}
