//! Holdfast as this program starts it itself: the same server without the command line around it, whose threads can be
//! frozen at their next turn. It is told what to freeze over standard input and says on standard output what stands.

use std::collections::BTreeSet;
use std::io::BufRead;
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex};

use holdfast::production::Production;
use holdfast::server::{Freezer, Serving};
use holdfast::sound::Sound;
use holdfast::time::ServerClock;
use tokio::net::TcpListener;
use tokio::runtime::{Builder, Handle};

use super::conditions::WORKERS;

/// What is frozen, and what is to break.
#[derive(Default)]
struct Orders {
    now: Mutex<BTreeSet<String>>,
    changed: Condvar,
}

impl Orders {
    /// A thread's turn: it stands here while it is frozen.
    fn turn(&self, thread: &str) {
        let mut now = self.now.lock().unwrap();
        if now.remove(&format!("break {thread}")) {
            drop(now);
            println!("broken {thread}");
            panic!("the bench breaks the thread {thread}");
        }
        let frozen = format!("freeze {thread}");
        if now.contains(&frozen) {
            println!("frozen {thread}");
        }
        while now.contains(&frozen) {
            now = self.changed.wait(now).unwrap();
        }
    }

    fn take(self: &Arc<Orders>, order: &str, runtime: &Handle) {
        let mut now = self.now.lock().unwrap();
        match order.strip_prefix("thaw ") {
            Some(thread) => drop(now.remove(&format!("freeze {thread}"))),
            None => drop(now.insert(order.to_owned())),
        }
        self.changed.notify_all();
        if order == "freeze runtime" {
            for _ in 0..WORKERS {
                let orders = Arc::clone(self);
                runtime.spawn(async move { orders.turn("runtime") });
            }
        }
    }
}

/// Serves the production until standard input ends.
pub(crate) fn serve(dir: &Path) {
    let runtime = Builder::new_multi_thread().worker_threads(WORKERS).enable_all().build().unwrap();
    let orders = Arc::new(Orders::default());
    let (reader, handle) = (Arc::clone(&orders), runtime.handle().clone());
    std::thread::spawn(move || {
        for order in std::io::stdin().lock().lines().map_while(Result::ok) {
            reader.take(&order, &handle);
        }
        std::process::exit(0);
    });
    runtime.block_on(async {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base_url = format!("http://{}", listener.local_addr().unwrap());
        let clock = ServerClock::new();
        let production = Production::open(dir).unwrap();
        let serving = Serving::of(&production, base_url, Sound::null(clock), clock);
        let ready =
            Serving { freezer: Freezer::new(move |thread| orders.turn(thread)), ..serving }.open().unwrap();
        for (role, link) in &ready.links {
            println!("{} {link}", role.title());
        }
        ready.run(listener, std::future::pending()).await.unwrap();
    });
}
