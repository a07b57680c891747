//! HTTP: the pages, and the upgrade to a WebSocket. One port for both.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use tokio_tungstenite::tungstenite::handshake::server::create_response_with_body;
use tracing::{debug, error};

use super::asker::same_origin;
use super::device_kind::DeviceKind;
use super::doorstep::Doorstep;
use super::hosts::only_ours;
use super::house::House;
use super::request::LinkId;
use super::review::{self, Reviews};
use super::scores::{self, Scores};
use super::study::{self, Study};
use super::{introduction, pages};

/// What the handlers share.
#[derive(Clone)]
struct Site {
    house: House,
    next_link: Arc<AtomicU64>,
    /// The certificate authority that phones may trust, PEM.
    authority: Option<Arc<str>>,
}

/// Everything that can be asked for.
pub(super) fn router(study: Study, scores: Scores, reviews: Reviews, authority: Option<Arc<str>>) -> Router {
    let house = study.house.clone();
    let asked = scores::router(scores).merge(review::router(house.clone(), reviews)).merge(study::router(study));
    let ours = middleware::from_fn_with_state(Arc::clone(&house.hosts), only_ours);
    let site = Site { house, next_link: Arc::default(), authority };
    Router::new()
        .route("/ws", get(upgrade))
        .route("/authority.crt", get(authority_file))
        .fallback(get(page))
        .with_state(site)
        .merge(asked)
        .layer(ours)
}

async fn page(uri: Uri, asked: HeaderMap) -> Response {
    let asked_for = |name| asked.get(name).and_then(|value: &HeaderValue| value.to_str().ok());
    let Some(page) = pages::page(uri.path(), asked_for(header::ACCEPT_ENCODING)) else {
        return (StatusCode::NOT_FOUND, "There is no such page here. Open the link that the stage manager gave you.\n")
            .into_response();
    };
    let unchanged = asked_for(header::IF_NONE_MATCH).is_some_and(|tags| names(tags, &page.tag));
    let mut response =
        if unchanged { StatusCode::NOT_MODIFIED.into_response() } else { Response::new(Body::from(page.bytes)) };
    let headers = response.headers_mut();
    let age = if page.immutable { "public, max-age=31536000, immutable" } else { "no-cache" };
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(age));
    headers.insert(header::VARY, HeaderValue::from_static("accept-encoding"));
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(pages::CONTENT_POLICY));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    if let Ok(tag) = HeaderValue::from_str(&page.tag) {
        headers.insert(header::ETAG, tag);
    }
    if unchanged {
        return response;
    }
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(page.content_type));
    if let Some((name, _)) = page.coding.names() {
        headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static(name));
    }
    response
}

/// True when an If-None-Match names that tag (RFC 9110, section 13.1.2: compared weakly, `*` names any).
fn names(tags: &str, tag: &str) -> bool {
    tags.split(',').map(str::trim).any(|each| each == "*" || each.trim_start_matches("W/") == tag)
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
    // RFC 6455, section 4.4.
    if request.headers().get(header::SEC_WEBSOCKET_VERSION).is_none_or(|version| version != "13") {
        let headers = [(header::SEC_WEBSOCKET_VERSION, "13")];
        return (StatusCode::UPGRADE_REQUIRED, headers, "This is where pages open their link, by WebSocket 13.\n")
            .into_response();
    }
    let response = match create_response_with_body(&request, Body::empty) {
        Ok(response) => response,
        Err(error) => {
            return (StatusCode::BAD_REQUEST, format!("This is where pages open their link: {error}\n"))
                .into_response();
        }
    };
    let user_agent = request.headers().get(header::USER_AGENT).and_then(|says| says.to_str().ok());
    let device = DeviceKind::of(user_agent);
    let upgrade = hyper::upgrade::on(&mut request);
    let link = LinkId(site.next_link.fetch_add(1, Ordering::Relaxed));
    tokio::spawn(async move {
        match upgrade.await {
            Ok(upgraded) => match Doorstep::of(upgraded) {
                Some(doorstep) => introduction::meet(site.house, doorstep, (from, device), link).await,
                None => error!(%from, "a link came over a kind of socket that nobody listens on"),
            },
            Err(error) => debug!(%from, "a link was not opened: {error}"),
        }
    });
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the handler answers: status, coding, tag, length of the body.
    async fn answer(accept: Option<&str>, known: Option<&str>) -> (StatusCode, Option<String>, String, usize) {
        let mut asked = HeaderMap::new();
        for (name, value) in [(header::ACCEPT_ENCODING, accept), (header::IF_NONE_MATCH, known)] {
            if let Some(value) = value {
                asked.insert(name, HeaderValue::from_str(value).unwrap());
            }
        }
        let response = page(Uri::from_static("/desk"), asked).await;
        let header = |name| response.headers().get(name).map(|value: &HeaderValue| value.to_str().unwrap().to_owned());
        assert_eq!(header(header::VARY).as_deref(), Some("accept-encoding"));
        let (coding, tag) = (header(header::CONTENT_ENCODING), header(header::ETAG).unwrap());
        let status = response.status();
        let body = axum::body::to_bytes(response.into_body(), 1 << 20).await.unwrap();
        (status, coding, tag, body.len())
    }

    #[tokio::test]
    async fn a_page_is_sent_compressed_and_only_once() {
        let (status, coding, plain_tag, plain) = answer(None, None).await;
        assert_eq!((status, coding), (StatusCode::OK, None));
        let (_, coding, tag, length) = answer(Some("gzip, br"), None).await;
        assert_eq!(coding.as_deref(), Some("br"));
        assert!(length < plain && tag != plain_tag);
        for known in [tag.clone(), format!("W/{tag}"), format!("\"older\", {tag}"), "*".to_owned()] {
            let (status, coding, again, length) = answer(Some("gzip, br"), Some(&known)).await;
            assert_eq!((status, coding, length), (StatusCode::NOT_MODIFIED, None, 0), "{known}");
            assert_eq!(again, tag);
        }
        assert_eq!(answer(Some("gzip, br"), Some(&plain_tag)).await.0, StatusCode::OK, "another form is another page");
    }
}
