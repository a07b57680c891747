//! HTTP: the pages, and the upgrade to a WebSocket. One port for both.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use tokio_tungstenite::tungstenite::handshake::server::create_response_with_body;
use tracing::{debug, error};

use super::doorstep::Doorstep;
use super::house::House;
use super::request::LinkId;
use super::{introduction, pages, review, scores};

/// What the handlers share.
#[derive(Clone)]
struct Site {
    house: House,
    next_link: Arc<AtomicU64>,
    /// The certificate authority that phones may trust, PEM.
    authority: Option<Arc<str>>,
}

/// Everything that can be asked for.
pub(super) fn router(house: House, authority: Option<Arc<str>>) -> Router {
    let site = Site { house, next_link: Arc::default(), authority };
    let asked = scores::router(site.house.clone()).merge(review::router(site.house.clone()));
    Router::new()
        .route("/ws", get(upgrade))
        .route("/authority.crt", get(authority_file))
        .fallback(get(page))
        .with_state(site)
        .merge(asked)
}

async fn page(uri: Uri) -> Response {
    let Some(page) = pages::page(uri.path()) else {
        return (StatusCode::NOT_FOUND, "There is no such page here. Open the link that the stage manager gave you.\n")
            .into_response();
    };
    let mut response = Response::new(Body::from(page.bytes));
    let headers = response.headers_mut();
    let age = if page.immutable { "public, max-age=31536000, immutable" } else { "no-cache" };
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(age));
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(pages::CONTENT_POLICY));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    if let Ok(kind) = HeaderValue::from_str(page.content_type) {
        headers.insert(header::CONTENT_TYPE, kind);
    }
    response
}

/// The authority behind our own certificate. It is no secret; phones that are given it offer to trust it.
async fn authority_file(State(site): State<Site>) -> Response {
    match site.authority {
        Some(pem) => ([(header::CONTENT_TYPE, "application/x-x509-ca-cert")], pem.to_string()).into_response(),
        None => (StatusCode::NOT_FOUND, "This server has no certificate authority of its own.\n").into_response(),
    }
}

/// Hands the connection over to a WebSocket. A page of another site may not open one.
async fn upgrade(
    State(site): State<Site>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    mut request: Request,
) -> Response {
    if !same_origin(request.headers()) {
        debug!(%from, "a page of another site asked for a link");
        return (StatusCode::FORBIDDEN, "Pages of other sites may not open a link to this server.\n").into_response();
    }
    let response = match create_response_with_body(&request, Body::empty) {
        Ok(response) => response,
        Err(error) => {
            return (StatusCode::BAD_REQUEST, format!("This is where pages open their link: {error}\n"))
                .into_response();
        }
    };
    let upgrade = hyper::upgrade::on(&mut request);
    let link = LinkId(site.next_link.fetch_add(1, Ordering::Relaxed));
    tokio::spawn(async move {
        match upgrade.await {
            Ok(upgraded) => match Doorstep::of(upgraded) {
                Some(doorstep) => introduction::meet(site.house, doorstep, from, link).await,
                None => error!(%from, "a link came over a kind of socket that nobody listens on"),
            },
            Err(error) => debug!(%from, "a link was not opened: {error}"),
        }
    });
    response
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
