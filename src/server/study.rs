//! What pages ask about fights over HTTP, outside of any run: the pictures of their moves, and a whole fight to read. A page
//! asks for the pictures of its run once and keeps them: what has a name never changes. They are drawn when they are asked
//! for. Nothing here is on the way of a hold, and no run is touched.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Path, Request, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};

use super::answer::{Answer, No, json, off_the_loop};
use super::asker::asked as ask;
use super::house::House;
use super::view;
use crate::call::{Drive, Fight, Run, Setup};
use crate::timeline::PhraseRange;
use crate::units::{Generation, Speed};
use crate::wire::{FightToRead, PartAsked, PartSheet, PictureSet, PictureView};

/// Everything that can be asked for.
pub(super) fn router(house: House) -> Router {
    Router::new().route("/pictures/{id}", get(pictures)).route("/api/part", post(part)).with_state(house)
}

/// The pictures of that name. They tell nothing of anybody, so that no key is asked for.
async fn pictures(State(house): State<House>, Path(id): Path<String>) -> Response {
    const GONE: &str = "These pictures are not here any more. Load the page again.\n";
    let Some(pictures) = house.fights.pictures(&id) else { return (StatusCode::NOT_FOUND, GONE).into_response() };
    let drawn = off_the_loop(move || {
        let set = PictureSet { pictures: pictures.all().iter().map(PictureView::of).collect() };
        serde_json::to_vec(&set).unwrap_or_default()
    });
    let headers = [
        (header::CONTENT_TYPE, "application/json"),
        (header::CACHE_CONTROL, "public, max-age=31536000, immutable"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    match drawn.await {
        Ok(body) => (headers, Body::from(body)).into_response(),
        Err(no) => no.into_response(),
    }
}

/// A whole fight, to be read.
async fn part(State(house): State<House>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, wanted): (_, PartAsked) = ask(&house, from, request).await?;
    let fights = house.fights.now();
    let found = match &wanted.fight {
        None => fights.first(),
        Some(name) => fights.iter().find(|fight| fight.score.name == *name),
    };
    let Some(fight) = found.cloned() else {
        let none = "There is no such fight here now. Choose another, or ask the stage manager.";
        return Err(No::new(StatusCode::NOT_FOUND, none));
    };
    let sheet = off_the_loop(move || PartSheet {
        fights: fights.iter().map(|fight| to_read(fight)).collect(),
        sheet: whole(&fight).map(Box::new),
    });
    Ok(json(&sheet.await?))
}

fn to_read(fight: &Fight) -> FightToRead {
    let fighters = fight.score.fighters.iter().map(|fighter| fighter.name.clone()).collect();
    FightToRead { fight: fight.score.name.clone(), fighters, drill: fight.drill }
}

/// The fight as a run of all of it at performance tempo would be told, which nobody runs.
fn whole(fight: &Arc<Fight>) -> Option<crate::wire::RunSheet> {
    let range = PhraseRange::whole(&fight.score)?;
    let setup =
        Setup { fight: Arc::clone(fight), range, begin: None, speed: Speed::FULL, count_in: 0, drive: Drive::Clock };
    Some(view::run_sheet(&Run::new(0, setup), Generation(0)))
}
