//! Reviews of the live journal, counted once for each length of it and each filter: whoever asks for what somebody else
//! has just asked for gets the same review. One is counted at a time, on a thread of its own.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::http::StatusCode;
use jiff::tz::TimeZone;
use tokio::sync::Semaphore;
use tokio::time::timeout;

use crate::journal::Reader;
use crate::production::Production;
use crate::review::{self, Filter, House, Review, ReviewError, Story};
use crate::server::answer::{No, off_the_loop};
use crate::server::reload::Shelf;

/// How many reviews are kept: a desk, a captain and a director with a selection each.
const KEPT: usize = 4;
/// How long somebody waits for their turn.
const PATIENCE: Duration = Duration::from_secs(10);

/// A review, and what it was counted of.
pub(super) struct Counted {
    pub(super) review: Arc<Review>,
    pub(super) house: Arc<House>,
    pub(super) rows: i64,
}

/// The reviews of a server's journal. Copies are the same.
#[derive(Clone)]
pub(in crate::server) struct Reviews(Arc<Inner>);

struct Inner {
    data: PathBuf,
    shelf: Option<Arc<Shelf>>,
    production: String,
    kept: Mutex<Kept>,
    turn: Semaphore,
}

#[derive(Default)]
struct Kept {
    /// What the house had decided, and the production that it was read from.
    house: Option<(Option<Arc<Production>>, Arc<House>)>,
    rows: i64,
    /// The newest first.
    reviews: Vec<(Filter, Arc<Review>)>,
}

impl Reviews {
    /// Of the journal in that folder, by what the production on the shelf decides; `production` is its name without one.
    pub(in crate::server) fn new(data: PathBuf, shelf: Option<Arc<Shelf>>, production: String) -> Reviews {
        Reviews(Arc::new(Inner { data, shelf, production, kept: Mutex::default(), turn: Semaphore::new(1) }))
    }

    /// The review that is asked for, of the journal as it is now.
    pub(super) async fn of(&self, filter: Filter) -> Result<Counted, No> {
        self.in_turn(move |inner| inner.review(&filter).map(|(counted, _)| counted)).await
    }

    /// A hold or stop of the whole journal, told whole; nothing when that event is none.
    pub(super) async fn story(&self, event: u64) -> Result<Option<Story>, No> {
        self.in_turn(move |inner| {
            let (mut counted, mut reader) = inner.review(&Filter::default())?;
            if counted.review.older.as_ref().is_some_and(|older| event < older.first_event) {
                // It is older than what is looked at otherwise.
                let Some(utc) = reader.time_of_event(event)? else { return Ok(None) };
                (counted, reader) = inner.review(&counted.house.around(&utc))?;
            }
            Ok(review::story(&reader, &counted.house, &counted.review, event)?)
        })
        .await
    }

    async fn in_turn<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Inner) -> Result<T, ReviewError> + Send + 'static,
    ) -> Result<T, No> {
        let busy =
            || No::new(StatusCode::SERVICE_UNAVAILABLE, "The server is busy counting. It is tried again by itself.");
        let inner = Arc::clone(&self.0);
        let _turn = timeout(PATIENCE, self.0.turn.acquire()).await.map_err(|_| busy())?.map_err(|_| busy())?;
        off_the_loop(move || work(&inner)).await?.map_err(|error| match error {
            ReviewError::Journal(error) => No::new(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()),
            named => No::new(StatusCode::UNPROCESSABLE_ENTITY, named.to_string()),
        })
    }
}

impl Inner {
    /// Waits for the disk.
    fn review(&self, filter: &Filter) -> Result<(Counted, Reader), ReviewError> {
        let reader = Reader::open(&self.data)?;
        let rows = reader.rows()?;
        let (house, known) = self.known(rows, filter);
        let review = match known {
            Some(review) => review,
            None => {
                let review = Arc::new(Review::of(&reader, &house, filter)?);
                self.keep(rows, filter, &review);
                review
            }
        };
        Ok((Counted { review, house, rows }, reader))
    }

    /// The house's rules, and the review of that filter if it was counted of a journal of this length by these rules.
    fn known(&self, rows: i64, filter: &Filter) -> (Arc<House>, Option<Arc<Review>>) {
        let now = self.shelf.as_ref().map(|shelf| shelf.get());
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |before: &Option<Arc<Production>>| match (before, &now) {
            (Some(before), Some(now)) => Arc::ptr_eq(before, now),
            (before, now) => before.is_none() && now.is_none(),
        };
        let house = match &kept.house {
            Some((before, house)) if same(before) => Arc::clone(house),
            _ => {
                let house = Arc::new(house_of(now.as_deref(), &self.production));
                (kept.house, kept.reviews) = (Some((now, Arc::clone(&house))), Vec::new());
                house
            }
        };
        if kept.rows != rows {
            (kept.rows, kept.reviews) = (rows, Vec::new());
        }
        let known = kept.reviews.iter().find(|(of, _)| of == filter).map(|(_, review)| Arc::clone(review));
        (house, known)
    }

    fn keep(&self, rows: i64, filter: &Filter, review: &Arc<Review>) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.rows == rows {
            kept.reviews.insert(0, (filter.clone(), Arc::clone(review)));
            kept.reviews.truncate(KEPT);
        }
    }
}

fn house_of(production: Option<&Production>, name: &str) -> House {
    let usual = House { production: Some(name.to_owned()), zone: TimeZone::system(), ..House::default() };
    let Some(production) = production else { return usual };
    House {
        production: Some(production.config.name.clone()),
        vocabulary: production.vocabulary.clone(),
        rules: production.config.rules.clone(),
        stage: production.rules.stage.clone(),
        ladder: production.config.ladder.clone(),
        before_call: production.config.before_call.clone(),
        ..usual
    }
}
