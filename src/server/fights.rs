//! What pages ask about fights over HTTP, outside of any run: the pictures of their moves, and a whole fight to read. A page
//! asks for the pictures of its run once and keeps them: what has a name never changes. They are drawn when they are asked
//! for. Nothing here is on the way of a hold, and no run is touched.

use std::collections::VecDeque;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

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
use crate::figure::Pictures;
use crate::timeline::PhraseRange;
use crate::units::{Generation, Speed};
use crate::wire::{FightToRead, PartAsked, PartSheet, PictureSet, PictureView};

/// More pictures than are run in one evening, of fights and revisions of them; the oldest go.
const MOST: usize = 512;

/// The fights of the production as it was read last, and the pictures of these and of those that were run before.
#[derive(Debug, Default)]
pub(super) struct Fights {
    now: Mutex<Vec<Arc<Fight>>>,
    pictures: Mutex<VecDeque<Arc<Pictures>>>,
}

impl Fights {
    /// The production was read.
    pub(super) fn read(&self, fights: &[Arc<Fight>]) {
        fights.iter().for_each(|fight| self.draws(fight));
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = fights.to_vec();
    }

    /// Pages may ask for the pictures of that fight, and of it with each of its sets of weapons.
    pub(super) fn draws(&self, fight: &Arc<Fight>) {
        let mut known = self.pictures.lock().unwrap_or_else(PoisonError::into_inner);
        for fight in std::iter::once(fight).chain(&fight.sets) {
            let id = fight.pictures.id();
            known.retain(|pictures| pictures.id() != id);
            known.extend(id.map(|_| Arc::clone(&fight.pictures)));
        }
        let over = known.len().saturating_sub(MOST);
        known.drain(..over);
    }

    fn now(&self) -> Vec<Arc<Fight>> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn pictures(&self, id: &str) -> Option<Arc<Pictures>> {
        let known = self.pictures.lock().unwrap_or_else(PoisonError::into_inner);
        known.iter().find(|pictures| pictures.id() == Some(id)).cloned()
    }
}

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
    let setup = Setup { fight: Arc::clone(fight), range, speed: Speed::FULL, count_in: 0, drive: Drive::Clock };
    Some(view::run_sheet(&Run::new(0, setup), Generation(0)))
}
