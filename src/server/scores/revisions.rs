//! The revisions of a score: what the log knows of who saved which text, when and why, and the texts themselves.

use std::collections::HashSet;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;

use super::{Scores, fight_of};
use crate::event::{EventKind, Saving, What};
use crate::hex::sha256;
use crate::journal::{EventFilter, EventRow, JournalError, Reader};
use crate::production::{Production, STAGE_FILE};
use crate::server::answer::{Answer, No, json, off_the_loop};
use crate::server::asker::asked;
use crate::wire::{RevisionKind, RevisionView, Revisions, ScoreAsked, ScoreText};

/// The most revisions that are told: years of rehearsals.
const MOST: usize = 500;

pub(super) async fn list(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, ScoreAsked { file }) = asked(&scores.house, from, request).await?;
    let production = scores.shelf()?.get();
    let revisions = off_the_loop(move || of(&production, &file)).await??;
    Ok(json(&Revisions { revisions }))
}

/// The revisions of a score, newest first.
pub(super) fn of(production: &Production, file: &str) -> Result<Vec<RevisionView>, No> {
    let (name, now) = if file == STAGE_FILE {
        (STAGE_FILE, super::stage_text(production).map(sha256).unwrap_or_default())
    } else {
        let fight = fight_of(production, file)?;
        (fight.name.as_str(), fight.sha256.clone())
    };
    let reader = Reader::open(&production.data()).map_err(unreadable)?;
    let events = reader.events(EventFilter { kind: Some(EventKind::Revision), ..EventFilter::default() });
    let mut found: Vec<RevisionView> =
        events.map_err(unreadable)?.into_iter().filter_map(|row| saved(row, file)).collect();
    let known: HashSet<String> = found.iter().map(|view| view.revision.clone()).collect();
    let texts = reader.revisions().map_err(unreadable)?.into_iter();
    found.extend(texts.filter(|text| text.fight == name && !known.contains(&text.sha256)).map(|text| {
        let (who, role, why) = (None, None, None);
        let how = RevisionKind::Found;
        RevisionView { revision: text.sha256, utc: text.utc, who, role, why, how, in_use: false }
    }));
    // RFC 3339 in UTC with as many digits each sorts as text.
    found.sort_by(|a, b| b.utc.cmp(&a.utc));
    found.truncate(MOST);
    // A text that was put back has two rows; the newer one is what is in use.
    let is_score = |view: &&mut RevisionView| view.revision == now && view.how != RevisionKind::Kept;
    if let Some(now) = found.iter_mut().find(is_score) {
        now.in_use = true;
    }
    Ok(found)
}

fn saved(row: EventRow, file: &str) -> Option<RevisionView> {
    let What::Revision(saved) = row.event.what else { return None };
    if saved.file != file {
        return None;
    }
    let how = match saved.saving {
        Saving::Saved => RevisionKind::Saved,
        Saving::Merged => RevisionKind::Merged,
        Saving::Kept => RevisionKind::Kept,
    };
    let (who, role) = row.event.who.map_or((None, None), |who| (Some(who.name), who.role));
    Some(RevisionView { revision: saved.revision, utc: row.utc, who, role, why: saved.why, how, in_use: false })
}

/// A revision's text, if it is one of that score.
pub(super) fn text(production: &Production, file: &str, revision: &str) -> Result<ScoreText, No> {
    let none = || No::new(StatusCode::NOT_FOUND, "The log does not know that revision of this score. Choose another.");
    if !of(production, file)?.iter().any(|known| known.revision == revision) {
        return Err(none());
    }
    let texts = Reader::open(&production.data()).and_then(|reader| reader.revisions()).map_err(unreadable)?;
    let found = texts.into_iter().find(|text| text.sha256 == revision).ok_or_else(none)?;
    Ok(ScoreText { file: file.to_owned(), fight: found.fight, revision: found.sha256, text: found.text })
}

fn unreadable(error: JournalError) -> No {
    No::new(StatusCode::INTERNAL_SERVER_ERROR, format!("The log cannot be read: {error}"))
}
