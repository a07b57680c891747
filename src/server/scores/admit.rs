//! Who asks, and for what: the key, the power, the pace and the body of a request are checked here, in this order.
//! Nobody's body is read before it is known who they are.

use std::net::SocketAddr;
use std::sync::PoisonError;
use std::time::Duration;

use axum::body::to_bytes;
use axum::extract::Request;
use axum::http::{HeaderMap, StatusCode, header};
use serde::de::DeserializeOwned;
use tokio::sync::oneshot;
use tokio::time::timeout;

use super::No;
use crate::call::Power;
use crate::server::house::House;
use crate::server::http::same_origin;
use crate::server::pace::Bucket;
use crate::server::request::{Asker, Request as ToHub};
use crate::wire::MAX_DRAFT;

/// Two drafts, each character of which may be written as an escape, and what stands around them.
const MAX_BODY: usize = 4 * MAX_DRAFT + 64 * 1024;
/// How long a body may take to arrive.
const SLOWEST: Duration = Duration::from_secs(30);
/// An honest page checks three times a second while somebody types, and asks for news every other second.
const A_SECOND: f64 = 10.0;
const BURST: f64 = 40.0;

/// Finds out whose key the request carries.
pub(super) async fn admit(house: &House, from: SocketAddr, headers: &HeaderMap) -> Result<Asker, No> {
    if !same_origin(headers) {
        return Err(No::new(StatusCode::FORBIDDEN, "Pages of other sites may not ask this server for anything."));
    }
    let key = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
    let key = key.and_then(|value| value.strip_prefix("Bearer "));
    let asker = match key {
        Some(key) => who(house, key.to_owned()).await?,
        None => None,
    };
    let now = house.clock.now();
    let Some(asker) = asker else {
        tokio::time::sleep(house.gate.refused(from.ip(), now)).await;
        let reason = "This device's key is not valid any more. Open your invitation again, or ask the stage manager.";
        return Err(No::new(StatusCode::UNAUTHORIZED, reason));
    };
    let mut paces = house.scores.paces.lock().unwrap_or_else(PoisonError::into_inner);
    if !paces.entry(asker.member).or_insert_with(|| Bucket::full(A_SECOND, BURST)).take(now) {
        return Err(No::new(StatusCode::TOO_MANY_REQUESTS, "Too much was asked in too short a time. Wait a moment."));
    }
    Ok(asker)
}

async fn who(house: &House, key: String) -> Result<Option<Asker>, No> {
    let stopping = || No::new(StatusCode::SERVICE_UNAVAILABLE, "The server is stopping.");
    let (reply, answer) = oneshot::channel();
    house.hub.requests.send(ToHub::Who { key, reply }).await.map_err(|_| stopping())?;
    answer.await.map_err(|_| stopping())
}

/// True when somebody may save scores.
pub(super) fn may_write(asker: &Asker) -> bool {
    asker.role.may(Power::Write)
}

/// Who asks, and what for.
pub(in crate::server) async fn asked<T: DeserializeOwned>(
    house: &House,
    from: SocketAddr,
    request: Request,
) -> Result<(Asker, T), No> {
    let asker = admit(house, from, request.headers()).await?;
    let late =
        || No::new(StatusCode::REQUEST_TIMEOUT, "The text took too long to arrive. It is tried again by itself.");
    let body = timeout(SLOWEST, to_bytes(request.into_body(), MAX_BODY)).await.map_err(|_| late())?;
    let body = body.map_err(|_| too_long())?;
    if let Err(error) = std::str::from_utf8(&body) {
        let at = error.valid_up_to();
        let reason = format!("What was sent is not UTF-8 from byte {at} on. Save it as UTF-8, then paste it again.");
        return Err(No::new(StatusCode::BAD_REQUEST, reason));
    }
    let asked = serde_json::from_slice(&body).map_err(|error| {
        let error: String = error.to_string().chars().take(200).collect();
        No::new(StatusCode::BAD_REQUEST, format!("What was asked was not understood. Reload the page. ({error})"))
    })?;
    Ok((asker, asked))
}

/// A text that is not too long for a draft.
pub(super) fn checked_text(text: &str) -> Result<(), No> {
    if text.len() > MAX_DRAFT { Err(too_long()) } else { Ok(()) }
}

fn too_long() -> No {
    let reason = format!(
        "A draft may have {} KiB at the most. Cut the fight in two, or edit the file in a text editor.",
        MAX_DRAFT / 1024
    );
    No::new(StatusCode::PAYLOAD_TOO_LARGE, reason)
}
