//! Saving: a draft becomes the score. When the score was saved by somebody else since the draft was begun, the two are
//! made one by line; when both changed the same lines, the score stays as it is, the draft is kept in the log beside it,
//! and whoever saves is shown both. Whatever text is replaced is in the log before it goes.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;
use tokio::sync::oneshot;
use tokio::time::timeout;
use tracing::info;

use super::{Scores, checked_text, fight_of, may_write, revisions};
use crate::call::Power;
use crate::event::{Event, Revision, SavedRevision, Saving, What};
use crate::hex::sha256;
use crate::journal::{Journal, Record};
use crate::production::saving::{NotSaved, replace};
use crate::production::{Fight, Production, STAGE_FILE};
use crate::score::merge::{Merged, Piece, merge};
use crate::server::answer::{Answer, No, json, off_the_loop};
use crate::server::asker::asked;
use crate::server::reload::Shelf;
use crate::server::request::Asker;
use crate::stage;
use crate::time::utc_now;
use crate::wire::{MAX_WHY, MergePiece, SaveAnswer, SaveAsked, SaveConflict, SavedScore};

/// How often a save is begun anew because another program wrote the file at the same moment.
const TRIES: usize = 3;
/// How long the log is waited for. The score is on the disk by then.
const LOG: Duration = Duration::from_secs(3);

/// What is to be saved.
pub(super) type Wanted = SaveAsked;

/// What was done.
pub(super) enum Done {
    Saved(String),
    Merged(String),
    Unchanged(String),
    Conflict { theirs: String, pieces: Vec<Piece> },
}

pub(super) async fn save(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (asker, mut wanted): (Asker, SaveAsked) = asked(&scores.house, from, request).await?;
    writer(&asker)?;
    checked_text(&wanted.text)?;
    checked_text(&wanted.base)?;
    wanted.why = wanted.why.trim().to_owned();
    if wanted.why.is_empty() || wanted.why.len() > MAX_WHY {
        let reason = format!("Say why, in {MAX_WHY} letters at the most: whoever reads the log will want to know.");
        return Err(No::new(StatusCode::UNPROCESSABLE_ENTITY, reason));
    }
    // A page that goes away in the middle does not take the rest of its save with it.
    let all = tokio::spawn(carry_through(scores, asker, wanted));
    all.await.map_err(|_| No::new(StatusCode::INTERNAL_SERVER_ERROR, "Saving failed in the server. Save again."))?
}

/// Somebody who may save.
pub(super) fn writer(asker: &Asker) -> Result<(), No> {
    if may_write(asker) {
        return Ok(());
    }
    let reason = format!(
        "A {} has no power to {}. Tell the fight director what should change.",
        asker.role.title(),
        Power::Write.phrase()
    );
    Err(No::new(StatusCode::FORBIDDEN, reason))
}

async fn carry_through(scores: Arc<Scores>, asker: Asker, wanted: SaveAsked) -> Answer {
    let shelf = scores.shelf()?;
    let one_at_a_time = scores.saving.lock().await;
    let journal = scores.journal.clone();
    let doing = Arc::clone(&shelf);
    let (done, wanted) = off_the_loop(move || put(&doing, &journal, &wanted).map(|done| (done, wanted))).await??;
    let written = keep_and_tell(&scores, &shelf, &asker, &wanted, &done).await?;
    drop(one_at_a_time);
    answer(&shelf, &wanted.file, done, written).await
}

/// What was done is read by everybody, and written down. True when that is durable.
pub(super) async fn keep_and_tell(
    scores: &Scores,
    shelf: &Arc<Shelf>,
    asker: &Asker,
    wanted: &Wanted,
    done: &Done,
) -> Result<bool, No> {
    let reading = Arc::clone(shelf);
    let news = off_the_loop(move || reading.read_anew()).await?;
    // A hub that is gone reads nothing any more.
    let _ = scores.house.hub.requests.send(news).await;
    Ok(log(scores, asker, wanted, done).await)
}

async fn answer(shelf: &Shelf, file: &str, done: Done, written: bool) -> Answer {
    let saved = |text: String| SavedScore { revision: sha256(&text), text, written };
    Ok(json(&match done {
        Done::Saved(text) => SaveAnswer::Saved(saved(text)),
        Done::Merged(text) => SaveAnswer::Merged(saved(text)),
        Done::Unchanged(text) => SaveAnswer::Unchanged(saved(text)),
        Done::Conflict { theirs, pieces } => {
            let (production, file, revision) = (shelf.get(), file.to_owned(), sha256(&theirs));
            let of = revision.clone();
            // Who it was is worth telling, and not worth failing for.
            let known = off_the_loop(move || revisions::of(&production, &file)).await?.unwrap_or_default();
            let by = known.into_iter().find(|known| known.revision == of);
            let pieces = pieces.into_iter().map(piece).collect();
            SaveAnswer::Conflict(Box::new(SaveConflict { revision, theirs, by, pieces }))
        }
    }))
}

fn piece(piece: Piece) -> MergePiece {
    match piece {
        Piece::Agreed(text) => MergePiece::Agreed { text },
        Piece::Both { base, mine, theirs } => MergePiece::Both { base, mine, theirs },
    }
}

/// Puts the draft into the folder, if it can be done without losing anybody's lines. Waits for the disk.
fn put(shelf: &Shelf, journal: &Journal, wanted: &SaveAsked) -> Result<Done, No> {
    let mut overtaken = None;
    for _ in 0..TRIES {
        let production = shelf.get();
        let is_stage = wanted.file == STAGE_FILE;
        let file = if is_stage { STAGE_FILE } else { fight_of(&production, &wanted.file)?.file.as_str() };
        let before = std::fs::read(production.folder.join(file));
        let before = before.map_err(|error| {
            let reason = format!("{} cannot be read: {error}. Your text is still in the page.", wanted.file);
            No::new(StatusCode::CONFLICT, reason)
        })?;
        let mut done = decide(&before, wanted)?;
        if is_stage {
            done = still_a_plan(done, &before, wanted);
        }
        let text = match &done {
            Done::Saved(text) | Done::Merged(text) => text,
            Done::Unchanged(_) | Done::Conflict { .. } => return Ok(done),
        };
        checked_text(text)?;
        if is_stage {
            keep(journal, STAGE_FILE, &String::from_utf8_lossy(&before));
        } else {
            name_is_free(&production, &wanted.file, text)?;
            let was = production.read_fight(&before, &wanted.file);
            keep(journal, &was.name, was.text());
        }
        match replace(&production.folder, &wanted.file, &before, text) {
            Ok(()) => return Ok(done),
            Err(error @ NotSaved::Overtaken(_)) => overtaken = Some(error.to_string()),
            Err(error) => return Err(No::new(StatusCode::INSUFFICIENT_STORAGE, error.to_string())),
        }
    }
    Err(No::new(StatusCode::CONFLICT, overtaken.unwrap_or_default()))
}

/// What becomes of the draft, now that the file has these bytes. Line ends are the file's own.
fn decide(before: &[u8], wanted: &SaveAsked) -> Result<Done, No> {
    let theirs = std::str::from_utf8(before).map_err(|_| {
        let reason =
            format!("{} is not UTF-8 any more. Save it as UTF-8 in a text editor, then save again.", wanted.file);
        No::new(StatusCode::CONFLICT, reason)
    })?;
    let crlf = theirs.contains("\r\n");
    let as_the_file = |text: String| if crlf { text.replace('\n', "\r\n") } else { text };
    let [base, mine, now] = [&wanted.base, &wanted.text, theirs].map(|text| text.replace("\r\n", "\n"));
    if mine == now {
        return Ok(Done::Unchanged(theirs.to_owned()));
    }
    if base == now {
        return Ok(Done::Saved(as_the_file(mine)));
    }
    Ok(match merge(&base, &mine, &now) {
        Merged::One(text) if text == now => Done::Unchanged(theirs.to_owned()),
        Merged::One(text) => Done::Merged(as_the_file(text)),
        Merged::Two(pieces) => Done::Conflict { theirs: theirs.to_owned(), pieces },
    })
}

/// Two plans that can be read can make one that cannot, where both began a set of the same name, say: then a person decides.
fn still_a_plan(done: Done, before: &[u8], wanted: &SaveAsked) -> Done {
    let is_plan = |text: &str| stage::read(text, STAGE_FILE).0.is_some();
    let theirs = String::from_utf8_lossy(before).into_owned();
    match done {
        Done::Merged(text) if !is_plan(&text) && is_plan(&wanted.text) && is_plan(&theirs) => {
            let [base, mine, now] = [&wanted.base, &wanted.text, &theirs].map(|text| text.replace("\r\n", "\n"));
            Done::Conflict { theirs, pieces: vec![Piece::Both { base, mine, theirs: now }] }
        }
        done => done,
    }
}

/// Two fights of one name would make the whole production unusable.
pub(super) fn name_is_free(production: &Production, file: &str, text: &str) -> Result<(), No> {
    let name = production.read_fight(text.as_bytes(), file).name;
    let same = |fight: &&Fight| fight.file != file && fight.name.to_lowercase() == name.to_lowercase();
    match production.fights.iter().find(same) {
        None => Ok(()),
        Some(other) => {
            let reason = format!("{} is a fight called {name} already. Give this one another name.", other.file);
            Err(No::new(StatusCode::UNPROCESSABLE_ENTITY, reason))
        }
    }
}

/// Keeps a text in the log.
fn keep(journal: &Journal, fight: &str, text: &str) {
    let (sha256, fight, text) = (sha256(text), fight.to_owned(), text.to_owned());
    journal.record(Record::of(utc_now(), Revision { sha256, fight, text }));
}

/// Writes down who saved what, and why. True when it is durable.
async fn log(scores: &Scores, asker: &Asker, wanted: &SaveAsked, done: &Done) -> bool {
    let (text, saving) = match done {
        Done::Saved(text) => (text.as_str(), Saving::Saved),
        Done::Merged(text) => (text.as_str(), Saving::Merged),
        Done::Conflict { .. } => (wanted.text.as_str(), Saving::Kept),
        Done::Unchanged(_) => return true,
    };
    let production = scores.shelf.as_ref().map(|shelf| shelf.get());
    let fight = production.and_then(|production| fight_of(&production, &wanted.file).ok().map(|it| it.name.clone()));
    keep(&scores.journal, fight.as_deref().unwrap_or(&wanted.file), text);
    let saved = SavedRevision {
        file: wanted.file.clone(),
        fight,
        saving,
        revision: sha256(text),
        base: sha256(&wanted.base),
        why: Some(wanted.why.clone()),
    };
    let journal = &scores.journal;
    let event = Event {
        who: Some(asker.who()),
        ..Event::new(journal.next_event(), scores.house.clock.now(), What::Revision(Box::new(saved)))
    };
    info!(who = asker.name, file = wanted.file, why = wanted.why, "score {}", saving.word());
    let (durable, told) = oneshot::channel();
    journal.record_then(
        Record::of(utc_now(), event),
        Box::new(move |_| {
            let _ = durable.send(());
        }),
    );
    matches!(timeout(LOG, told).await, Ok(Ok(())))
}
