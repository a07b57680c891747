//! While a server runs, its journal is verified now and then, beside everything else, and the desk is told what is damaged
//! or missing in it.

use std::time::Duration;

use tokio::task::spawn_blocking;
use tokio::time::sleep;
use tracing::warn;

use crate::journal::Journal;

/// After a start, pages come first.
const FIRST: Duration = Duration::from_secs(3);
/// How often after that: a disk that goes wrong is noticed on the evening on which it does.
const EVERY: Duration = Duration::from_secs(3_600);

/// Verifies until it is aborted.
pub(super) async fn audit(journal: Journal) {
    sleep(FIRST).await;
    loop {
        let looked = journal.clone();
        if let Err(error) = spawn_blocking(move || looked.look_through()).await {
            warn!("the log could not be verified: {error}");
        }
        sleep(EVERY).await;
    }
}
