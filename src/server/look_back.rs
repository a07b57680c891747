//! Reads once, after a start, how long things took before, beside everything else that the server does.

use std::path::PathBuf;

use tokio::task::spawn_blocking;
use tracing::warn;

use super::past::PastTimes;
use super::request::{Request, ToHub};
use crate::journal::Reader;

/// Reads the journal of that folder and tells the hub.
pub(super) async fn look_back(data: PathBuf, hub: ToHub) {
    let read = spawn_blocking(move || Reader::open(&data).and_then(|reader| PastTimes::read(&reader))).await;
    match read {
        // A hub that is gone asks nobody.
        Ok(Ok(past)) => drop(hub.requests.send(Request::Past(past)).await),
        Ok(Err(error)) => warn!("how long things took before cannot be read from the log: {error}"),
        Err(error) => warn!("how long things took before cannot be read: {error}"),
    }
}
