//! The pictures of the fights that are run here, by their name. A page asks for those of its run once and keeps them: what
//! has a name never changes. They are drawn when they are asked for.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use axum::body::Body;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::answer::off_the_loop;
use crate::call::Fight;
use crate::figure::Pictures;
use crate::wire::{PictureSet, PictureView};

/// More fights and revisions of them than are run in one evening; the oldest go.
const MOST: usize = 512;

/// The pictures that can be asked for.
#[derive(Debug, Default)]
pub(super) struct PictureShelf(Mutex<VecDeque<Arc<Pictures>>>);

impl PictureShelf {
    /// Those of these fights, with each of their sets of weapons.
    pub(super) fn put<'f>(&self, fights: impl IntoIterator<Item = &'f Arc<Fight>>) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for fight in fights {
            for fight in std::iter::once(fight).chain(&fight.sets) {
                let (pictures, id) = (&fight.pictures, fight.pictures.id());
                shelf.retain(|known| known.id() != id);
                shelf.extend(id.map(|_| Arc::clone(pictures)));
            }
        }
        let over = shelf.len().saturating_sub(MOST);
        shelf.drain(..over);
    }

    fn get(&self, id: &str) -> Option<Arc<Pictures>> {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.iter().find(|known| known.id() == Some(id)).cloned()
    }

    /// The answer to a page that asks for the pictures of that name.
    pub(super) async fn answer(&self, id: &str) -> Response {
        const GONE: &str = "These pictures are not here any more. Load the page again.\n";
        let Some(pictures) = self.get(id) else { return (StatusCode::NOT_FOUND, GONE).into_response() };
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
}
