//! An event as it is printed for a program: flat, and with names that never change.

use serde::Serialize;
use serde_json::{Map, Value};

use super::columns::EventRow;
use super::columns::Kept;
use crate::event::{Cast, RunBegun, Spot, What};

/// An event as `log --format json` prints it, and as it stands in the columns. Fields may be added; those that are there
/// stay as they are.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EventLine {
    /// Its number, from 1, without gaps.
    pub seq: u64,
    /// Its own name.
    pub id: String,
    /// When, RFC 3339 with six digits of the second.
    pub utc: String,
    /// The start of the server that it belongs to.
    pub session: i64,
    /// When, microseconds since that start.
    pub server_us: i64,
    /// The run.
    pub run: Option<u32>,
    /// The fight that it was a run of.
    pub fight: Option<String>,
    /// SHA-256 of the text that it was a run of.
    pub revision: Option<String>,
    /// The whole beginning of the run, where this is its start.
    pub begun: Option<BegunLine>,
    /// What: [`crate::event::EventKind::word`].
    pub kind: String,
    /// Who did it.
    pub who: Option<String>,
    /// Their number.
    pub member: Option<u32>,
    /// Their role: [`crate::event::Role::word`], or what a newer Holdfast calls it.
    pub role: Option<String>,
    /// The phrase's name, where the run was on the server.
    pub phrase: Option<String>,
    /// The phrase, counted from 0.
    pub phrase_index: Option<u32>,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: Option<String>,
    /// The number of the last move reached in its phrase, from 1.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
    /// Percent of performance tempo.
    pub speed: Option<u16>,
    /// Why.
    pub reason: Option<String>,
    /// The hold it belongs to.
    pub hold: Option<u32>,
    /// The tap on HOLD that it answers.
    pub tap: Option<String>,
    /// Where the run was on the screen of whoever did it.
    pub screen: Option<PlaceLine>,
    /// Whatever else is known.
    pub detail: Option<Map<String, Value>>,
}

/// The beginning of a run as [`EventLine`] has it: all that there is to know of what was run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BegunLine {
    /// The first phrase's name.
    pub from: String,
    /// The first phrase, counted from 0.
    pub from_index: u32,
    /// The move of it at which the run began, from 1; nothing for its beginning.
    pub from_move: Option<u32>,
    /// The last phrase's name.
    pub to: String,
    /// The last phrase, counted from 0.
    pub to_index: u32,
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// Beats of count-in.
    pub count_in: u32,
    /// What drove it: `clock`, `step`.
    pub drive: String,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
    /// Who played whom.
    pub cast: Vec<CastLine>,
}

/// Somebody in a part, as [`BegunLine`] has it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CastLine {
    /// The fighter.
    pub part: String,
    /// Who played it.
    pub person: String,
    /// Their number.
    pub member: Option<u32>,
    /// For whom they covered.
    pub covers: Option<String>,
}

/// A place as [`EventLine`] has it: a [`Spot`] with its names and numbers called as an event calls them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlaceLine {
    /// The phrase's name.
    pub phrase: String,
    /// The phrase, counted from 0.
    pub phrase_index: u32,
    /// The beat as the score writes it.
    pub beat: String,
    /// The number of the move in the phrase, from 1.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// The move in words.
    pub words: Option<String>,
}

impl From<&RunBegun> for BegunLine {
    fn from(it: &RunBegun) -> BegunLine {
        let cast = |it: &Cast| CastLine {
            part: it.part.clone(),
            person: it.person.clone(),
            member: it.member,
            covers: it.covers.clone(),
        };
        BegunLine {
            from: it.from_name.clone(),
            from_index: it.from_phrase,
            from_move: it.from_move,
            to: it.to_name.clone(),
            to_index: it.to_phrase,
            speed: it.percent,
            count_in: it.count_in,
            drive: it.drive.clone(),
            weapons: it.weapons.clone(),
            cast: it.cast.iter().map(cast).collect(),
        }
    }
}

impl EventLine {
    /// An event with what is known of the run that it belongs to.
    pub fn of(row: EventRow, run: Option<&RunBegun>) -> EventLine {
        let EventRow { seq, session, utc, role, event } = row;
        let begun = run.filter(|_| matches!(event.what, What::Start { .. })).map(BegunLine::from);
        let Kept { hold, tap, reason, screen, detail } = Kept::of(&event.what);
        let spot = event.spot.map(PlaceLine::from);
        let who = event.who;
        EventLine {
            seq,
            id: event.id.to_string(),
            utc,
            session,
            server_us: event.at.0,
            run: event.run,
            fight: run.map(|it| it.fight.clone()),
            revision: run.map(|it| it.revision.clone()),
            begun,
            kind: event.what.word().to_owned(),
            member: who.as_ref().and_then(|who| who.member),
            role,
            who: who.map(|who| who.name).filter(|name| !name.is_empty()),
            phrase_index: spot.as_ref().map(|spot| spot.phrase_index),
            number: spot.as_ref().and_then(|spot| spot.number),
            words: spot.as_ref().and_then(|spot| spot.words.clone()),
            beat: spot.as_ref().map(|spot| spot.beat.clone()),
            phrase: spot.map(|spot| spot.phrase),
            speed: event.percent,
            reason,
            hold: hold.map(|hold| hold.0),
            tap,
            screen: screen.map(PlaceLine::from),
            detail: (!detail.is_empty()).then_some(detail),
        }
    }
}

impl From<Spot> for PlaceLine {
    fn from(Spot { phrase, phrase_name, beat, number, words, .. }: Spot) -> PlaceLine {
        PlaceLine { phrase: phrase_name, phrase_index: phrase, beat, number, words }
    }
}
