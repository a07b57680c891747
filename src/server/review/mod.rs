//! What the review page asks for, over HTTP: the review of the live journal, its folds, a hold told whole, and files; and
//! the order that the review proposes for the next call.
//! Everybody with a personal key may read it: what was held and why is no secret of the desk. Nothing here is on the way
//! of a hold: the hub is asked for nothing but who a key belongs to, and counting happens on a thread of its own.

mod asked;
mod counted;

use std::net::SocketAddr;

use axum::Router;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::post;

use super::answer::{Answer, No, json, off_the_loop};
use super::asker::asked as ask;
use super::house::House;
use crate::review::csv::{Table, csv};
use crate::review::html;
use crate::wire::{
    ReviewAsked, ReviewEventAsked, ReviewFile, ReviewFileAsked, ReviewPage, ReviewPartAsked, ReviewPiece,
};

use asked::filter;
pub(super) use counted::Reviews;

/// What the handlers share.
#[derive(Clone)]
struct Desk {
    house: House,
    reviews: Reviews,
}

/// Everything that can be asked for.
pub(super) fn router(house: House, reviews: Reviews) -> Router {
    Router::new()
        .route("/api/review", post(review))
        .route("/api/review/order", post(order))
        .route("/api/review/part", post(part))
        .route("/api/review/event", post(event))
        .route("/api/review/file", post(file))
        .with_state(Desk { house, reviews })
}

async fn review(State(desk): State<Desk>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, wanted): (_, ReviewAsked) = ask(&desk.house, from, request).await?;
    let counted = desk.reviews.of(filter(&wanted)?).await?;
    let page = off_the_loop(move || ReviewPage {
        markup: html::content(&counted.review, &counted.house.ladder),
        filter: asked::told(&counted.review.filter),
        choices: asked::choices(&counted.review),
        weapons: counted.review.weapons.clone(),
        rows: counted.rows,
    });
    Ok(json(&page.await?))
}

async fn order(State(desk): State<Desk>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, wanted): (_, ReviewAsked) = ask(&desk.house, from, request).await?;
    let counted = desk.reviews.of(filter(&wanted)?).await?;
    Ok(json(&asked::order(&counted.review.order)))
}

async fn part(State(desk): State<Desk>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, ReviewPartAsked { filter: wanted, part }) = ask(&desk.house, from, request).await?;
    let counted = desk.reviews.of(filter(&wanted)?).await?;
    let markup = off_the_loop(move || html::part(&counted.review, &part)).await?;
    let gone = "That part is not in the review any more. Load the page again.";
    let markup = markup.ok_or_else(|| No::new(StatusCode::NOT_FOUND, gone))?;
    Ok(json(&ReviewPiece { markup }))
}

async fn event(State(desk): State<Desk>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, ReviewEventAsked { event }) = ask(&desk.house, from, request).await?;
    let story = desk.reviews.story(event).await?;
    let none = format!("Event {event} of the log is no hold or stop. See the log: holdfast log.");
    let story = story.ok_or_else(|| No::new(StatusCode::NOT_FOUND, none))?;
    Ok(json(&ReviewPiece { markup: html::story(&story) }))
}

async fn file(State(desk): State<Desk>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, ReviewFileAsked { filter: wanted, file }) = ask(&desk.house, from, request).await?;
    let counted = desk.reviews.of(filter(&wanted)?).await?;
    let (kind, body) = off_the_loop(move || body(&counted, file)).await?.map_err(broken)?;
    let mut response: Response = body.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

fn body(counted: &counted::Counted, file: ReviewFile) -> Result<(&'static str, String), String> {
    let table = match file {
        ReviewFile::Html => {
            return Ok(("text/html; charset=utf-8", html::page(&counted.review, &counted.house.ladder)));
        }
        ReviewFile::Json => {
            let text = serde_json::to_string_pretty(&*counted.review).map_err(|error| error.to_string())?;
            return Ok(("application/json", text + "\n"));
        }
        ReviewFile::Phrases => Table::Phrases,
        ReviewFile::Moves => Table::Moves,
        ReviewFile::Breaks => Table::Breaks,
        ReviewFile::Runs => Table::Runs,
        ReviewFile::Calls => Table::Calls,
    };
    Ok(("text/csv; charset=utf-8", csv(&counted.review, table)?))
}

fn broken(reason: String) -> No {
    No::new(StatusCode::INTERNAL_SERVER_ERROR, reason)
}
