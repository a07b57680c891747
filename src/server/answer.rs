//! What is answered over HTTP to what a page asks for: a value as JSON, or why it is not done.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

use crate::wire::{MAX_DRAFT, NotDone};

/// How far what nobody waits for in a fight stands behind what must be quick (nice(1)).
const BEHIND: i32 = 10;

/// Does what waits for the disk, or works for long, on a thread of its own that stands behind the others.
pub(super) async fn off_the_loop<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, No> {
    let behind = || {
        stand_behind();
        work()
    };
    tokio::task::spawn_blocking(behind).await.map_err(|_| {
        No::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "That failed in the server. What is on this page is kept; try again.",
        )
    })
}

/// This thread gives way to the others where there are not processors enough for all: a member who has drafts checked
/// without end is not to hold up a stop. Linux keeps this for each thread (setpriority(2)); elsewhere nothing is changed.
fn stand_behind() {
    #[cfg(target_os = "linux")]
    // A system that does not let it be has it as it was.
    let _ = rustix::process::setpriority_process(Some(rustix::thread::gettid()), BEHIND);
}

/// Something that is not done, and why: a sentence for a person.
#[derive(Debug)]
pub(super) struct No(StatusCode, String);

impl No {
    pub(super) fn new(status: StatusCode, reason: impl Into<String>) -> No {
        No(status, reason.into())
    }

    /// What was sent is longer than any draft may be.
    pub(super) fn too_long() -> No {
        let reason = format!(
            "A draft may have {} KiB at the most. Cut the fight in two, or edit the file in a text editor.",
            MAX_DRAFT / 1024
        );
        No::new(StatusCode::PAYLOAD_TOO_LARGE, reason)
    }
}

impl IntoResponse for No {
    fn into_response(self) -> Response {
        (self.0, json(&NotDone { reason: self.1 })).into_response()
    }
}

/// A value as JSON, which nobody keeps.
pub(super) fn json(value: &impl Serialize) -> Response {
    let mut response = axum::Json(value).into_response();
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// What a handler answers.
pub(super) type Answer = Result<Response, No>;
