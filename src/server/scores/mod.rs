//! What the score page asks for, over HTTP: reading and checking a draft, saving it, and what the log knows of its
//! revisions. Nothing here is on the way of a hold: checking waits its turn on a thread of its own, and the hub is asked
//! for nothing but who a key belongs to.

mod begin;
mod begin_stage;
mod draft;
mod on_stage;
mod presence;
mod revisions;
mod save;

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;
use axum::routing::post;
use tokio::sync::Semaphore;
use tokio::time::timeout;

use super::answer::{Answer, No, json, off_the_loop};
use super::asker::{asked, identify};
use super::house::House;
use super::reload::Shelf;
use super::request::Asker;
use crate::call::Power;
use crate::hex::sha256;
use crate::journal::Journal;
use crate::production::{Fight, Production, STAGE_FILE};
use crate::score;
use crate::wire::{
    CompareAsked, Draft, Formatted, MAX_DRAFT, PictureAsked, PreviewAsked, RevisionAsked, ScoreAsked, ScoreChoice,
    ScoreList, ScoreNews, ScoreText,
};

use presence::Presence;

/// How long a draft waits for its turn to be checked.
const PATIENCE: Duration = Duration::from_secs(5);

/// What the handlers share.
pub(super) struct Scores {
    house: House,
    shelf: Option<Arc<Shelf>>,
    journal: Journal,
    presence: Presence,
    /// One draft is checked at a time: whatever else the machine does has the rest of it.
    turn: Semaphore,
    /// One score is saved at a time.
    saving: tokio::sync::Mutex<()>,
}

impl Scores {
    /// For the production on the shelf.
    pub(super) fn new(house: House, shelf: Option<Arc<Shelf>>, journal: Journal) -> Scores {
        Scores {
            house,
            shelf,
            journal,
            presence: Presence::default(),
            turn: Semaphore::new(1),
            saving: tokio::sync::Mutex::default(),
        }
    }

    fn shelf(&self) -> Result<Arc<Shelf>, No> {
        let none = "This server keeps no scores. Start it with a production's folder: holdfast serve DIR.";
        self.shelf.clone().ok_or_else(|| No::new(StatusCode::NOT_FOUND, none))
    }

    /// Does what takes a while on a thread of its own, when it is its turn.
    async fn in_turn<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, No> {
        let busy = || No::new(StatusCode::SERVICE_UNAVAILABLE, "The server is busy. It is tried again by itself.");
        let _turn = timeout(PATIENCE, self.turn.acquire()).await.map_err(|_| busy())?.map_err(|_| busy())?;
        off_the_loop(work).await
    }
}

/// Everything that can be asked for.
pub(super) fn router(scores: Scores) -> Router {
    Router::new()
        .route("/api/scores/list", post(list))
        .route("/api/scores/open", post(open))
        .route("/api/scores/here", post(here))
        .route("/api/scores/check", post(check))
        .route("/api/scores/format", post(format))
        .route("/api/scores/preview", post(preview))
        .route("/api/scores/picture", post(picture))
        .route("/api/scores/floor", post(on_stage::floor))
        .route("/api/scores/stage", post(on_stage::stage))
        .route("/api/scores/new-stage", post(begin_stage::begin_stage))
        .route("/api/scores/save", post(save::save))
        .route("/api/scores/new", post(begin::begin))
        .route("/api/scores/compare", post(compare))
        .route("/api/scores/revisions", post(revisions::list))
        .route("/api/scores/revision", post(revision))
        .with_state(Arc::new(scores))
}

async fn list(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let asker = identify(&scores.house, from, request.headers()).await?;
    let production = scores.shelf()?.get();
    let choices = production.fights.iter().map(|fight| ScoreChoice {
        file: fight.file.clone(),
        fight: fight.name.clone(),
        revision: fight.sha256.clone(),
    });
    let words = draft::words(&production);
    let stage = production.folder.join(STAGE_FILE);
    let stage = off_the_loop(move || stage.is_file()).await?.then(|| STAGE_FILE.to_owned());
    Ok(json(&ScoreList { scores: choices.collect(), may_write: may_write(&asker), words, stage }))
}

async fn open(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, ScoreAsked { file }) = asked(&scores.house, from, request).await?;
    let production = scores.shelf()?.get();
    if file == STAGE_FILE {
        let text = off_the_loop(move || stage_text(&production)).await??;
        return Ok(json(&ScoreText { fight: file.clone(), file, revision: sha256(&text), text }));
    }
    let fight = fight_of(&production, &file)?;
    let text = editable(fight)?.to_owned();
    Ok(json(&ScoreText { file, fight: fight.name.clone(), revision: fight.sha256.clone(), text }))
}

async fn here(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (asker, ScoreAsked { file }) = asked(&scores.house, from, request).await?;
    let production = scores.shelf()?.get();
    let judged_by = production.stamp.name();
    let revision = if file == STAGE_FILE {
        off_the_loop(move || stage_text(&production).map(sha256)).await??
    } else {
        fight_of(&production, &file)?.sha256.clone()
    };
    let others = scores.presence.here(&asker, &file, scores.house.clock.now());
    Ok(json(&ScoreNews { others, revision, judged_by }))
}

async fn check(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, Draft { file, text }) = asked(&scores.house, from, request).await?;
    checked_text(&text)?;
    let production = scores.shelf()?.get();
    if file == STAGE_FILE {
        return scores.in_turn(move || json(&on_stage::report(&text))).await;
    }
    scores.in_turn(move || json(&draft::report(&production, &file, &text))).await
}

async fn format(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, Draft { text, .. }) = asked(&scores.house, from, request).await?;
    checked_text(&text)?;
    let formatted = |text: String| match score::format(&text) {
        Ok(text) => Formatted { text, broken: 0 },
        Err(refused) => {
            let broken = refused.problems.iter().filter(|it| it.severity == score::problem::Severity::Error).count();
            Formatted { text, broken: u32::try_from(broken).unwrap_or(u32::MAX) }
        }
    };
    scores.in_turn(move || json(&formatted(text))).await
}

async fn compare(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, CompareAsked { older, newer }) = asked(&scores.house, from, request).await?;
    checked_text(&older)?;
    checked_text(&newer)?;
    scores.in_turn(move || json(&draft::compared(&older, &newer))).await
}

async fn preview(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, asked): (Asker, PreviewAsked) = asked(&scores.house, from, request).await?;
    checked_text(&asked.text)?;
    let production = scores.shelf()?.get();
    let preview = scores.in_turn(move || draft::preview(&production, &asked).map(|preview| json(&preview))).await?;
    preview.map_err(|reason| No::new(StatusCode::UNPROCESSABLE_ENTITY, reason))
}

async fn picture(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, asked): (Asker, PictureAsked) = asked(&scores.house, from, request).await?;
    checked_text(&asked.text)?;
    let production = scores.shelf()?.get();
    scores.in_turn(move || json(&draft::picture(&production, &asked))).await
}

async fn revision(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, RevisionAsked { file, revision }) = asked(&scores.house, from, request).await?;
    let production = scores.shelf()?.get();
    let found = off_the_loop(move || revisions::text(&production, &file, &revision)).await??;
    Ok(json(&found))
}

/// The fight of a file that the production has: no other file can be asked for.
fn fight_of<'p>(production: &'p Production, file: &str) -> Result<&'p Fight, No> {
    let none = "There is no such score in the production any more. Choose another, or put the file back.";
    production.fights.iter().find(|fight| fight.file == file).ok_or_else(|| No::new(StatusCode::NOT_FOUND, none))
}

/// The text of the stage's plan as it is in the folder, if a page can edit it without loss. Waits for the disk.
fn stage_text(production: &Production) -> Result<String, No> {
    let refused = |why: String| No::new(StatusCode::UNPROCESSABLE_ENTITY, why);
    let bytes = std::fs::read(production.folder.join(STAGE_FILE))
        .map_err(|error| refused(format!("{STAGE_FILE} cannot be read: {error}. Put the file back, or another.")))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| refused(format!("{STAGE_FILE} is not UTF-8. Save it as UTF-8 in a text editor.")))?;
    checked_text(&text).map(|()| text)
}

/// The text of a fight, if a page can edit it without loss.
fn editable(fight: &Fight) -> Result<&str, No> {
    let sentence = if fight.reading.problems.iter().any(|problem| problem.code == "S100") {
        format!("{} is not UTF-8, so it cannot be edited here. Save it as UTF-8 in a text editor.", fight.file)
    } else if fight.text().len() > MAX_DRAFT || fight.reading.problems.iter().any(|problem| problem.code == "S101") {
        format!("{} has more than {} KiB: edit it in a text editor.", fight.file, MAX_DRAFT / 1024)
    } else {
        return Ok(fight.text());
    };
    Err(No::new(StatusCode::UNPROCESSABLE_ENTITY, sentence))
}

/// True when somebody may save scores.
fn may_write(asker: &Asker) -> bool {
    asker.role.may(Power::Write)
}

/// A text that is not too long for a draft.
fn checked_text(text: &str) -> Result<(), No> {
    if text.len() > MAX_DRAFT { Err(No::too_long()) } else { Ok(()) }
}
