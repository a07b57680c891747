//! Scores and recordings that are saved while the server runs: the folder is looked at every two seconds, and what has changed is read
//! anew and handed to the hub. A run that is set up keeps the score that it has. Looking is cheaper than being told:
//! it needs no support of the file system, and works on network drives.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::task::spawn_blocking;
use tracing::{info, warn};

use super::fights::Fights;
use super::request::{Request, ToHub};
use super::restock::Sources;
use crate::faults::{Faults, Part};
use crate::production::{Production, Stamp};

/// How often the folder is looked at.
const EVERY: Duration = Duration::from_secs(2);

/// The watch, to the desk.
const PART: Part = Part {
    name: "The watch of the folder",
    costs: "The scores and recordings that were read before stay in use; look at the file that was saved last.",
};

/// The production as it was read last.
#[derive(Debug)]
pub(super) struct Shelf {
    production: Mutex<Arc<Production>>,
    fights: Arc<Fights>,
}

impl Shelf {
    /// A shelf with that production on it, and who hears of its fights when it is read anew.
    pub(super) fn new(production: Arc<Production>, fights: Arc<Fights>) -> Shelf {
        Shelf { production: Mutex::new(production), fights }
    }

    /// The production.
    pub(super) fn get(&self) -> Arc<Production> {
        Arc::clone(&self.production.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Reads the folder anew. Gives what the hub has to be told. Waits for the disk.
    pub(super) fn read_anew(&self) -> Request {
        match Production::open(&self.get().folder) {
            Ok(production) => {
                info!("the scores were read anew");
                let fights = production.playable();
                self.fights.read(&fights);
                let request = Request::Fights {
                    fights,
                    checks: production.config.before_call.clone(),
                    why: production.config.why.clone(),
                    evening: production.config.evening.clone(),
                    troubles: production.troubles(),
                };
                *self.production.lock().unwrap_or_else(PoisonError::into_inner) = Arc::new(production);
                request
            }
            Err(error) => {
                warn!("the production's folder has changed and cannot be used as it is: {error}");
                Request::Trouble(error.to_string())
            }
        }
    }
}

/// Watches the folder of the production on the shelf until the hub is gone.
pub(super) async fn watch(shelf: Arc<Shelf>, sources: Arc<Sources>, hub: ToHub, faults: Faults) {
    let mut watch = Watch { shelf, sources, unusable: None };
    rounds(EVERY, hub, faults, move || watch.round()).await;
}

/// What is looked at.
struct Watch {
    shelf: Arc<Shelf>,
    sources: Arc<Sources>,
    /// How the folder looked when it could not be used: it is not read again until it looks otherwise.
    unusable: Option<Stamp>,
}

impl Watch {
    /// Looks once, and reads what has changed. Waits for the disk.
    fn round(&mut self) -> Vec<Request> {
        let mut news = Vec::new();
        let production = self.shelf.get();
        let now = Stamp::of(&production.folder);
        if now != production.stamp && self.unusable.as_ref() != Some(&now) {
            // Set before: what makes a reader fail is not read again and again.
            self.unusable = Some(now);
            let read = self.shelf.read_anew();
            if !matches!(read, Request::Trouble(_)) {
                self.unusable = None;
            }
            news.push(read);
        }
        news.extend(self.sources.read_anew(&self.shelf.get()));
        news
    }
}

/// Looks again and again, where nobody waits for it, and tells the hub. A look that panics is told at the desk, and the
/// next one comes all the same.
async fn rounds(every: Duration, hub: ToHub, faults: Faults, mut look: impl FnMut() -> Vec<Request> + Send + 'static) {
    loop {
        tokio::time::sleep(every).await;
        let looking = spawn_blocking(move || {
            let news = catch_unwind(AssertUnwindSafe(&mut look));
            (look, news)
        });
        // Nothing else ends it than the end of the server.
        let Ok((looked, news)) = looking.await else { return };
        look = looked;
        let news = news.unwrap_or_else(|payload| {
            faults.note(PART, payload.as_ref(), true);
            Vec::new()
        });
        for request in news {
            if hub.requests.send(request).await.is_err() {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::server::hub::Lanes;

    #[tokio::test]
    async fn a_look_that_panics_is_told_and_the_next_one_comes() {
        let mut lanes = Lanes::new();
        let faults = Faults::default();
        let mut looks = 0;
        let look = move || {
            looks += 1;
            assert!(looks != 2, "a parser failed");
            vec![Request::Trouble(format!("look {looks}"))]
        };
        let watching = tokio::spawn(rounds(Duration::from_millis(1), lanes.to_hub.clone(), faults.clone(), look));
        for expected in ["look 1", "look 3", "look 4"] {
            let Some(Request::Trouble(told)) = lanes.requests.recv().await else { panic!("no news") };
            assert_eq!(told, expected);
        }
        let told = faults.sentences();
        assert!(
            told.len() == 1
                && told[0].starts_with("The watch of the folder failed and has begun again (a parser failed)")
        );
        drop(lanes);
        watching.await.unwrap();
    }
}
