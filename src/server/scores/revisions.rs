//! The revisions of a score: what the log knows of who saved which text, when and why, and the texts themselves.

use std::collections::HashSet;
use std::net::SocketAddr;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;

use super::admit::asked;
use super::{Answer, No, fight_of, json, off_the_loop};
use crate::call::Role;
use crate::journal::{EventFilter, EventKind, EventRow, JournalError, Reader};
use crate::production::Production;
use crate::server::house::House;
use crate::wire::{RevisionKind, RevisionView, Revisions, ScoreAsked, ScoreText};

/// The most revisions that are told: years of rehearsals.
const MOST: usize = 500;

pub(super) async fn list(
    State(house): State<House>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, ScoreAsked { file }) = asked(&house, from, request).await?;
    let production = house.scores.shelf()?.get();
    let revisions = off_the_loop(move || of(&production, &file)).await??;
    Ok(json(&Revisions { revisions }))
}

/// The revisions of a score, newest first.
pub(super) fn of(production: &Production, file: &str) -> Result<Vec<RevisionView>, No> {
    let fight = fight_of(production, file)?;
    let reader = Reader::open(&production.data()).map_err(unreadable)?;
    let events = reader.events(EventFilter { kind: Some(EventKind::Revision), ..EventFilter::default() });
    let mut found: Vec<RevisionView> =
        events.map_err(unreadable)?.into_iter().filter_map(|event| saved(event, file)).collect();
    let known: HashSet<String> = found.iter().map(|view| view.revision.clone()).collect();
    let texts = reader.revisions().map_err(unreadable)?.into_iter();
    found.extend(texts.filter(|text| text.fight == fight.name && !known.contains(&text.sha256)).map(|text| {
        let (who, role, why) = (None, None, None);
        let how = RevisionKind::Found;
        RevisionView { revision: text.sha256, utc: text.utc, who, role, why, how, in_use: false }
    }));
    // RFC 3339 in UTC with as many digits each sorts as text.
    found.sort_by(|a, b| b.utc.cmp(&a.utc));
    found.truncate(MOST);
    // A text that was put back has two rows; the newer one is what is in use.
    let is_score = |view: &&mut RevisionView| view.revision == fight.sha256 && view.how != RevisionKind::Kept;
    if let Some(now) = found.iter_mut().find(is_score) {
        now.in_use = true;
    }
    Ok(found)
}

fn saved(event: EventRow, file: &str) -> Option<RevisionView> {
    let detail = |key: &str| event.detail.get(key).and_then(|value| value.as_str());
    if detail("file") != Some(file) {
        return None;
    }
    let how = match detail("outcome")? {
        "merged" => RevisionKind::Merged,
        "kept" => RevisionKind::Kept,
        _ => RevisionKind::Saved,
    };
    let revision = detail("revision")?.to_owned();
    let role = event.role.as_deref().and_then(Role::from_word);
    Some(RevisionView { revision, utc: event.utc, who: event.who, role, why: event.reason, how, in_use: false })
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
