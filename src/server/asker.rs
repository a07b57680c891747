//! Who asks, and for what: the key, the pace and the body of a request are checked here, in this order.
//! Nobody's body is read before it is known who they are.

use std::net::SocketAddr;
use std::time::Duration;

use axum::body::to_bytes;
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use serde::de::DeserializeOwned;
use tokio::sync::oneshot;
use tokio::time::timeout;

use super::answer::{No, off_the_loop};
use super::house::House;
use super::reached::Limit;
use super::request::{Asker, Request as ToHub};
use crate::wire::MAX_DRAFT;

/// Two drafts, each character of which may be written as an escape, and what stands around them.
const MAX_BODY: usize = 4 * MAX_DRAFT + 64 * 1024;
/// A body of no more bytes is read where it comes in; a longer one would keep others waiting there.
const AT_ONCE: usize = 16 * 1024;
/// How long a body may take to arrive.
const SLOWEST: Duration = Duration::from_secs(30);

/// Finds out whose key the request carries.
pub(super) async fn identify(house: &House, from: SocketAddr, headers: &HeaderMap) -> Result<Asker, No> {
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
    if !house.paces.allows(asker.member, now) {
        return Err(too_much(house, &asker));
    }
    Ok(asker)
}

fn too_much(house: &House, asker: &Asker) -> No {
    house.reached.note(Limit::Questions(asker.name.clone()));
    No::new(StatusCode::TOO_MANY_REQUESTS, "Too much was asked in too short a time. Wait a moment.")
}

async fn who(house: &House, key: String) -> Result<Option<Asker>, No> {
    let stopping = || No::new(StatusCode::SERVICE_UNAVAILABLE, "The server is stopping.");
    let (reply, answer) = oneshot::channel();
    house.hub.requests.send(ToHub::Who { key, reply }).await.map_err(|_| stopping())?;
    answer.await.map_err(|_| stopping())
}

/// Who asks, and what for.
pub(super) async fn asked<T: DeserializeOwned + Send + 'static>(
    house: &House,
    from: SocketAddr,
    request: Request,
) -> Result<(Asker, T), No> {
    let asker = identify(house, from, request.headers()).await?;
    let late =
        || No::new(StatusCode::REQUEST_TIMEOUT, "The text took too long to arrive. It is tried again by itself.");
    let body = timeout(SLOWEST, to_bytes(request.into_body(), MAX_BODY)).await.map_err(|_| late())?;
    let body = body.map_err(|_| No::too_long())?;
    if !house.paces.allows_length(asker.member, body.len(), house.clock.now()) {
        return Err(too_much(house, &asker));
    }
    let read = if body.len() > AT_ONCE { off_the_loop(move || read(&body)).await? } else { read(&body) };
    Ok((asker, read?))
}

/// What the body of a request says.
fn read<T: DeserializeOwned>(body: &[u8]) -> Result<T, No> {
    if let Err(error) = std::str::from_utf8(body) {
        let at = error.valid_up_to();
        let reason = format!("What was sent is not UTF-8 from byte {at} on. Save it as UTF-8, then paste it again.");
        return Err(No::new(StatusCode::BAD_REQUEST, reason));
    }
    serde_json::from_slice(body).map_err(|error| {
        let error: String = error.to_string().chars().take(200).collect();
        No::new(StatusCode::BAD_REQUEST, format!("What was asked was not understood. Reload the page. ({error})"))
    })
}

/// True when the asking page came from this server, or when nobody's page asks (a program at a terminal).
pub(super) fn same_origin(headers: &HeaderMap) -> bool {
    let Some(origin) = headers.get(header::ORIGIN) else { return true };
    let (Ok(origin), Some(Ok(host))) = (origin.to_str(), headers.get(header::HOST).map(HeaderValue::to_str)) else {
        return false;
    };
    origin.split_once("://").is_some_and(|(_, from)| from.eq_ignore_ascii_case(host))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_pages_open_a_link() {
        let rows = [
            (None, Some("10.0.0.2:7777"), true),
            (Some("http://10.0.0.2:7777"), Some("10.0.0.2:7777"), true),
            (Some("http://elsewhere.example"), Some("10.0.0.2:7777"), false),
            (Some("http://10.0.0.2:7778"), Some("10.0.0.2:7777"), false),
            (Some("null"), Some("10.0.0.2:7777"), false),
            (Some("http://10.0.0.2:7777"), None, false),
        ];
        for (origin, host, expected) in rows {
            let mut headers = HeaderMap::new();
            for (name, value) in [(header::ORIGIN, origin), (header::HOST, host)] {
                if let Some(value) = value {
                    headers.insert(name, HeaderValue::from_static(value));
                }
            }
            assert_eq!(same_origin(&headers), expected, "{origin:?} at {host:?}");
        }
    }
}
