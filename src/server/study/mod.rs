//! What pages ask about fights over HTTP, outside of any run: the pictures of their moves, a whole fight to read and to
//! play, and a file of it to take home. A page asks for the pictures of its run once and keeps them: what has a name never
//! changes. They are drawn when they are asked for. Nothing here is on the way of a hold, and no run is touched.

mod clips;
mod home;
mod lesson;
mod since;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Path, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};

pub use home::{Home, MOST_BYTES, file_name, page};

use super::answer::{Answer, No, json, off_the_loop};
use super::asker::{asked as ask, identify};
use super::house::House;
use super::request::Asker;
use crate::call::Fight;
use crate::journal::Reader;
use crate::score::read;
use crate::score::vocabulary::Vocabulary;
use crate::sound::{Library, Sound};
use crate::time::today;
use crate::wire::{FightToRead, PartAsked, PartSheet, PictureSet, PictureView, Since, SoundClips};

/// What can be learned of.
#[derive(Clone)]
pub(super) struct Study {
    pub(super) house: House,
    /// The sounds as they are chosen now.
    pub(super) sound: Sound,
    /// Where the journal lies.
    pub(super) data: PathBuf,
    /// The production's name.
    pub(super) production: Arc<str>,
}

/// Everything that can be asked for.
pub(super) fn router(study: Study) -> Router {
    Router::new()
        .route("/pictures/{id}", get(pictures))
        .route("/floors/{id}", get(floor))
        .route("/api/part", post(part))
        .route("/api/part/sounds", post(sounds))
        .route("/api/part/home", post(at_home))
        .with_state(study)
}

/// The pictures of that name. They tell nothing of anybody, so that no key is asked for.
async fn pictures(State(study): State<Study>, Path(id): Path<String>) -> Response {
    const GONE: &str = "These pictures are not here any more. Load the page again.\n";
    let Some(pictures) = study.house.fights.pictures(&id) else {
        return (StatusCode::NOT_FOUND, GONE).into_response();
    };
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

/// The fight of that name on its stage. It tells who does what, so that a key is asked for.
async fn floor(
    State(study): State<Study>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    Path(id): Path<String>,
    headers: HeaderMap,
) -> Answer {
    identify(&study.house, from, &headers).await?;
    let gone = || No::new(StatusCode::NOT_FOUND, "This fight is not on the plan here any more. Load the page again.");
    let floor = study.house.fights.floor(&id).ok_or_else(gone)?;
    let body = off_the_loop(move || floor.told()).await?;
    if body.is_empty() {
        return Err(gone());
    }
    let headers = [
        (header::CONTENT_TYPE, "application/json"),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    Ok((headers, Body::from(body.to_vec())).into_response())
}

/// A whole fight, to be read.
async fn part(State(study): State<Study>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (asker, wanted): (Asker, PartAsked) = ask(&study.house, from, request).await?;
    let fights = study.house.fights.now();
    let fight = wanted_of(&fights, &wanted)?;
    let sheet = off_the_loop(move || PartSheet {
        fights: fights.iter().map(|fight| to_read(fight)).collect(),
        lesson: lesson::lesson(&fight).map(Box::new),
        since: wanted.part.and_then(|part| since(&study, &asker, &fight, &part)),
    });
    Ok(json(&sheet.await?))
}

/// Its sounds.
async fn sounds(State(study): State<Study>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, wanted): (Asker, PartAsked) = ask(&study.house, from, request).await?;
    let fight = wanted_of(&study.house.fights.now(), &wanted)?;
    let library = library_of(&study.sound);
    let clips = off_the_loop(move || clips::clips(lesson::lesson(&fight).iter(), &library)).await?;
    Ok(json(&SoundClips { clips: clips.map_err(|why| No::new(StatusCode::INTERNAL_SERVER_ERROR, why))? }))
}

/// A file for home: of a part, or of the whole cast where none is named; of one fight, or of all.
async fn at_home(State(study): State<Study>, ConnectInfo(from): ConnectInfo<SocketAddr>, request: Request) -> Answer {
    let (_, wanted): (Asker, PartAsked) = ask(&study.house, from, request).await?;
    let all = study.house.fights.now();
    let fights = match &wanted.fight {
        Some(_) => vec![wanted_of(&all, &wanted)?],
        None => all.into_iter().filter(|fight| !fight.drill).collect(),
    };
    let library = library_of(&study.sound);
    let made = off_the_loop(move || {
        let (part, made) = (wanted.part.as_deref(), today().to_string());
        let name = file_name(part, &study.production);
        let home = Home { production: &study.production, made: &made, part, fights: &fights, library: &library };
        (name, page(home))
    });
    let (name, page) = made.await?;
    let page = page.map_err(|why| No::new(StatusCode::UNPROCESSABLE_ENTITY, why))?;
    let mut answer = ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], page).into_response();
    let headers = answer.headers_mut();
    // It is kept as a file and never opened as a page of this server. Letters beyond ASCII: RFC 8187.
    let encoded: String = name.bytes().map(in_header).collect();
    if let Ok(kept) = HeaderValue::from_str(&format!("attachment; filename*=UTF-8''{encoded}")) {
        headers.insert(header::CONTENT_DISPOSITION, kept);
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(answer)
}

/// A byte of a file's name, as RFC 8187 has it in a header.
fn in_header(byte: u8) -> String {
    match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => char::from(byte).to_string(),
        other => format!("%{other:02X}"),
    }
}

fn wanted_of(fights: &[Arc<Fight>], wanted: &PartAsked) -> Result<Arc<Fight>, No> {
    let found = match &wanted.fight {
        None => fights.first(),
        Some(name) => fights.iter().find(|fight| fight.score.name == *name),
    };
    let none = "There is no such fight here now. Choose another, or ask the stage manager.";
    found.cloned().ok_or_else(|| No::new(StatusCode::NOT_FOUND, none))
}

fn to_read(fight: &Fight) -> FightToRead {
    let fighters = fight.score.fighters.iter().map(|fighter| fighter.name.clone()).collect();
    let bystanders = fight.score.bystanders.iter().map(|bystander| bystander.name.clone()).collect();
    FightToRead { fight: fight.score.name.clone(), fighters, bystanders, drill: fight.drill }
}

/// The sounds as they are chosen now; the built-in ones where this server has been given none.
fn library_of(sound: &Sound) -> Arc<Library> {
    sound.library().unwrap_or_else(|| Arc::new(Library::built_in()))
}

/// What is another in a part since the one who asks ran it last. What cannot be read any more is not told: it would be a
/// guess.
fn since(study: &Study, asker: &Asker, fight: &Fight, part: &str) -> Option<Since> {
    let reader = Reader::open(&study.data).ok()?;
    let last = reader.last_run_of(&fight.score.name, part, asker.member.of_person(), &asker.name).ok()??;
    let text = reader.text_of(&last.revision).ok()??;
    let vocabulary = Vocabulary::from_texts(&fight.vocabulary).ok()?;
    let older = read(text.as_bytes(), "the journal", &vocabulary).score?;
    let since::Changes { new, moved, gone } = since::changes(&older, &fight.score, part);
    Some(Since { utc: last.utc, revision: last.revision.chars().take(12).collect(), new, moved, gone })
}
