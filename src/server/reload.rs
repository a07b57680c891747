//! Scores and recordings that are saved while the server runs: the folder is looked at every two seconds, and what has changed is read
//! anew and handed to the hub. A run that is set up keeps the score that it has. Looking is cheaper than being told:
//! it needs no support of the file system, and works on network drives.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::task::spawn_blocking;
use tracing::{info, warn};

use super::request::{Request, ToHub};
use super::restock::Sources;
use crate::production::{Production, Stamp};

/// How often the folder is looked at.
const EVERY: Duration = Duration::from_secs(2);

/// The production as it was read last.
#[derive(Debug)]
pub(super) struct Shelf(Mutex<Arc<Production>>);

impl Shelf {
    /// A shelf with that production on it.
    pub(super) fn new(production: Arc<Production>) -> Shelf {
        Shelf(Mutex::new(production))
    }

    /// The production.
    pub(super) fn get(&self) -> Arc<Production> {
        Arc::clone(&self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Reads the folder anew. Gives what the hub has to be told. Waits for the disk.
    pub(super) fn read_anew(&self) -> Request {
        match Production::open(&self.get().folder) {
            Ok(production) => {
                info!("the scores were read anew");
                let request = Request::Fights {
                    fights: production.playable(),
                    checks: production.config.before_call.clone(),
                    troubles: production.troubles(),
                };
                *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Arc::new(production);
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
pub(super) async fn watch(shelf: Arc<Shelf>, sources: Arc<Sources>, hub: ToHub) {
    let mut unusable = None;
    loop {
        tokio::time::sleep(EVERY).await;
        let looking = Arc::clone(&shelf);
        let Ok((now, seen)) = spawn_blocking(move || {
            let production = looking.get();
            (Stamp::of(&production.folder), production.stamp.clone())
        })
        .await
        else {
            return;
        };
        if now != seen && unusable.as_ref() != Some(&now) {
            let reading = Arc::clone(&shelf);
            let Ok(request) = spawn_blocking(move || reading.read_anew()).await else { return };
            unusable = matches!(request, Request::Trouble(_)).then_some(now);
            if hub.requests.send(request).await.is_err() {
                return;
            }
        }
        let (reading, sources) = (Arc::clone(&shelf), Arc::clone(&sources));
        let Ok(news) = spawn_blocking(move || sources.read_anew(&reading.get())).await else { return };
        if let Some(news) = news
            && hub.requests.send(news).await.is_err()
        {
            return;
        }
    }
}
