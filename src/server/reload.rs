//! Scores that are saved while the server runs: the folder is looked at every two seconds, and what has changed is read
//! anew and handed to the hub. A run that is set up keeps the score that it has. Looking is cheaper than being told:
//! it needs no support of the file system, and works on network drives.

use std::path::PathBuf;
use std::time::Duration;

use tokio::task::spawn_blocking;
use tracing::{info, warn};

use super::request::{Request, ToHub};
use crate::production::{Production, Stamp};

/// How often the folder is looked at.
const EVERY: Duration = Duration::from_secs(2);

/// Watches a production's folder, which looked so when it was read, until the hub is gone.
pub(super) async fn watch(folder: PathBuf, mut seen: Stamp, hub: ToHub) {
    loop {
        tokio::time::sleep(EVERY).await;
        let path = folder.clone();
        let Ok(now) = spawn_blocking(move || Stamp::of(&path)).await else { return };
        if now == seen {
            continue;
        }
        let path = folder.clone();
        let Ok(read) = spawn_blocking(move || Production::open(&path)).await else { return };
        let request = match read {
            Ok(production) => {
                info!("the scores were read anew");
                seen = production.stamp.clone();
                Request::Fights { fights: production.playable(), troubles: production.troubles() }
            }
            Err(error) => {
                warn!("the production's folder has changed and cannot be used as it is: {error}");
                seen = now;
                Request::Trouble(error.to_string())
            }
        };
        if hub.requests.send(request).await.is_err() {
            return;
        }
    }
}
