//! An event as a row and a row as an event: the one place that knows which column and which key of the detail holds what.
//! Whatever is written here is read back as it was (the test at the end), what was written before events had names is
//! read as well, and what this build does not know is kept as it stands.

use rusqlite::Row;
use rusqlite::types::Value as Column;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

use super::rows::{json_column, number, text, utc};
use crate::event::says::{ANYWAY, FROM, INVITATION, LOOP_ENDS, NO_PART, on_or_off};
use crate::event::{
    Called, Event, EventId, EventKind, HoldId, Maker, Role, SavedRevision, Saving, SoundChange, SoundTest, Spot,
    Unread, What, Who,
};
use crate::units::{Decibels, Micros, ServerTime};

/// Something that happened, as it was made, with what the journal put beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct EventRow {
    /// Its number, from 1, without gaps.
    pub seq: u64,
    /// The start of the server that it belongs to.
    pub session: i64,
    /// When, on the wall clock: RFC 3339 with six digits of the second.
    pub utc: String,
    /// What the role of whoever did it is called in the journal: a newer Holdfast may have roles that this one does not know.
    pub role: Option<String>,
    /// What happened.
    pub event: Event,
}

/// The columns that are read, in the order in which [`read`] takes them.
pub(super) const READ: &str = "seq, utc, session, server_us, run, kind, who, member, role, phrase_name, phrase, beat, \
                               move, words, percent, reason, hold, tap, screen, detail";

/// The keys that every detail may have beside what its kind needs: the event's name, and the cue of its place.
const ID: &str = "id";
const CUE: &str = "cue";

/// A row of `events`, in the order of the table's columns.
pub(super) fn write(seq: u64, session: i64, at_utc: jiff::Timestamp, event: &Event) -> Vec<Column> {
    let Kept { hold, tap, reason, screen, mut detail } = Kept::of(&event.what);
    detail.insert(ID.to_owned(), event.id.to_string().into());
    let (spot, who) = (event.spot.as_ref(), event.who.as_ref());
    if let Some(cue) = spot.and_then(|spot| spot.cue) {
        detail.insert(CUE.to_owned(), cue.into());
    }
    vec![
        (seq as i64).into(),
        session.into(),
        event.at.0.into(),
        utc(at_utc),
        number(event.run),
        event.what.word().to_owned().into(),
        text(who.map(|who| who.name.as_str()).filter(|name| !name.is_empty())),
        number(who.and_then(|who| who.member)),
        text(who.and_then(|who| who.role).map(Role::word)),
        number(spot.map(|spot| spot.phrase)),
        text(spot.map(|spot| spot.phrase_name.as_str())),
        text(spot.map(|spot| spot.beat.as_str())),
        number(spot.and_then(|spot| spot.number)),
        text(spot.and_then(|spot| spot.words.as_deref())),
        json_column(screen.as_ref()),
        number(event.percent),
        text(reason.as_deref()),
        number(hold.map(|hold| hold.0)),
        text(tap.as_deref()),
        Value::Object(detail).to_string().into(),
    ]
}

/// The event of a row of [`READ`].
///
/// # Errors
/// A column holds what no journal writes there.
pub(super) fn read(row: &Row<'_>) -> rusqlite::Result<EventRow> {
    let (seq, session) = (row.get::<_, i64>(0)?.unsigned_abs(), row.get(2)?);
    let mut detail = match json::<Value>(row, 19)? {
        Some(Value::Object(detail)) => detail,
        None | Some(Value::Null) => Map::new(),
        Some(other) => Map::from_iter([("detail".to_owned(), other)]),
    };
    let id = detail.remove(ID).and_then(|id| id.as_str()?.parse().ok());
    let cue = detail.remove(CUE).and_then(|cue| u32::try_from(cue.as_u64()?).ok());
    let word: String = row.get(5)?;
    let kept = Kept {
        hold: row.get::<_, Option<u32>>(16)?.map(HoldId),
        tap: row.get(17)?,
        reason: row.get(15)?,
        screen: json(row, 18)?,
        detail,
    };
    let role: Option<String> = row.get(8)?;
    let event = Event {
        id: id.unwrap_or(own_id(session, seq)),
        at: ServerTime(row.get(3)?),
        run: row.get(4)?,
        who: who(row.get(6)?, row.get(7)?, role.as_deref()),
        spot: spot(row, cue)?,
        percent: row.get(14)?,
        what: kept.what(word),
    };
    Ok(EventRow { seq, session, utc: row.get(1)?, role, event })
}

/// The name of an event that the journal itself makes, and of one that was written before events had names.
pub(super) fn own_id(session: i64, seq: u64) -> EventId {
    EventId { session: u32::try_from(session).unwrap_or(u32::MAX), maker: Maker::Journal, number: seq }
}

fn who(name: Option<String>, member: Option<u32>, role: Option<&str>) -> Option<Who> {
    let somebody = name.is_some() || member.is_some() || role.is_some();
    let role = role.and_then(Role::from_word);
    somebody.then(|| Who { name: name.unwrap_or_default(), member, role })
}

fn spot(row: &Row<'_>, cue: Option<u32>) -> rusqlite::Result<Option<Spot>> {
    let (phrase_name, phrase, beat): (Option<String>, Option<u32>, Option<String>) =
        (row.get(9)?, row.get(10)?, row.get(11)?);
    let (number, words) = (row.get(12)?, row.get(13)?);
    let place = phrase.zip(phrase_name).zip(beat);
    Ok(place.map(|((phrase, phrase_name), beat)| Spot { cue, phrase, phrase_name, beat, number, words }))
}

/// A column that holds JSON, or nothing.
///
/// # Errors
/// It holds something else.
pub(super) fn json<T: DeserializeOwned>(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<T>> {
    let text: Option<String> = row.get(at)?;
    let wrong = |error| rusqlite::Error::FromSqlConversionFailure(at, rusqlite::types::Type::Text, Box::new(error));
    text.map(|text| serde_json::from_str(&text).map_err(wrong)).transpose()
}

/// What the kind of an event decides of its row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Kept {
    pub(super) hold: Option<HoldId>,
    pub(super) tap: Option<String>,
    pub(super) reason: Option<String>,
    pub(super) screen: Option<Spot>,
    pub(super) detail: Map<String, Value>,
}

impl Kept {
    pub(super) fn of(what: &What) -> Kept {
        Kept {
            hold: what.hold(),
            tap: what.tap().map(str::to_owned),
            reason: what.says(),
            screen: what.screen().cloned(),
            detail: match detail(what) {
                Value::Object(detail) => detail,
                _ => Map::new(),
            },
        }
    }
}

/// Whatever has no column of its own: an object, or nothing.
fn detail(what: &What) -> Value {
    match what {
        What::Hold { under_way, .. } | What::Stop { under_way, .. } if !under_way.is_empty() => {
            json!({ "under_way": under_way })
        }
        What::Step { back: true } => json!({ "back": true }),
        What::Start { begun: Some(begun), .. } => json!({ "begun": begun }),
        // Somebody may play a fighter of that very name.
        What::Part { part: Some(part) } if part == NO_PART => json!({ "part": part }),
        What::Reason { of, .. } => json!({ "of": of.to_string() }),
        What::NearMiss { note: Some(note), .. } => json!({ "note": note }),
        What::End { signed_by: Some(by) } => json!({ "signed_by": by }),
        What::Check { in_order, note, by, .. } => json!({ "in_order": in_order, "note": note, "signed_by": by }),
        What::Attendance { person, present, part: None } => json!({ "person": person, "present": present }),
        What::Attendance { person, present, part } => json!({ "person": person, "present": present, "part": part }),
        What::Order { order } => json!({ "order": order }),
        What::Cast { fight, part, person, member, covers } => {
            json!({ "fight": fight, "part": part, "person": person, "member": member, "covers": covers })
        }
        What::Revision(saved) => {
            let SavedRevision { file, fight, saving, revision, base, .. } = saved.as_ref();
            json!({ "file": file, "fight": fight, "outcome": saving, "revision": revision, "base": base })
        }
        What::Sound(SoundChange::Device { device, rate, buffer_frames }) => {
            json!({ "device": device, "rate": rate, "buffer_frames": buffer_frames })
        }
        What::Sound(SoundChange::Switch { lane, on, .. }) => json!({ "lane": lane, "on": on }),
        What::Trim { sound, trim, gain } => {
            json!({ "sound": sound, "trim_ms": trim.as_millis(), "gain_db": gain.0 })
        }
        What::SoundTest(SoundTest::Sound { sound, level, during_run }) => {
            json!({ "test": "sound", "sound": sound, "level_db": level.0, "during_run": during_run })
        }
        What::SoundTest(SoundTest::Loop { fight, phrase, percent }) => {
            json!({ "test": "loop", "fight": fight, "phrase": phrase, "percent": percent })
        }
        What::SoundTest(SoundTest::LoopEnd { .. }) => json!({ "test": "loop-end" }),
        What::Door(change) => serde_json::to_value(change).unwrap_or_default(),
        What::Mute { muted } => json!({ "muted": muted }),
        What::Session { server, closed_well } => json!({ "server": server, "closed_well": closed_well }),
        What::CutOff { found } => json!({ "found": found }),
        What::ReportsLost { reports } => json!({ "reports": reports }),
        What::RowsLost { rows, last } => json!({ "rows": rows, "last": last }),
        What::Misrecorded { record, .. } => json!({ "record": record }),
        What::Unknown(unread) => Value::Object(unread.detail.clone()),
        _ => Value::Null,
    }
}

impl Kept {
    /// What an event of that word is, by what was kept of it.
    fn what(self, word: String) -> What {
        EventKind::from_word(&word).and_then(|kind| self.known(kind)).unwrap_or_else(|| {
            let Kept { hold, tap, reason, screen, detail } = self;
            What::Unknown(Box::new(Unread { word, reason, hold, tap, screen, detail }))
        })
    }

    /// Nothing when something is missing that belongs to the kind.
    fn known(&self, kind: EventKind) -> Option<What> {
        let reason = || self.reason.clone();
        Some(match kind {
            EventKind::Joined => What::Joined { part: reason() },
            EventKind::Left => What::Left { part: reason() },
            EventKind::LinkLost => What::LinkLost,
            EventKind::LinkBack => What::LinkBack,
            EventKind::Part => {
                let part = reason().filter(|part| part != NO_PART).or_else(|| self.get("part"));
                What::Part { part }
            }
            EventKind::Places => What::Places { set_up: reason() },
            EventKind::Order => What::Order { order: self.get("order")? },
            EventKind::Ready => What::Ready,
            EventKind::Start => What::Start { anyway: self.behind(ANYWAY), begun: self.get("begun") },
            EventKind::Phrase => What::Phrase,
            EventKind::Hold => {
                What::Hold { call: self.called()?, under_way: self.get("under_way").unwrap_or_default() }
            }
            EventKind::HoldJoined => What::HoldJoined(self.called()?),
            EventKind::HoldLate => What::HoldLate { tap: self.tap.clone(), reason: reason() },
            EventKind::Release => What::Release { hold: self.hold? },
            EventKind::Stop => What::Stop { reason: reason(), under_way: self.get("under_way").unwrap_or_default() },
            EventKind::Speed => What::Speed { from: self.behind(FROM) },
            EventKind::Step => What::Step { back: self.get("back").unwrap_or_default() },
            EventKind::Note => What::Note { hold: self.hold, text: reason() },
            EventKind::Reason => {
                let of = self.get::<String>("of")?.parse().ok()?;
                What::Reason { of, hold: self.hold, reason: reason()? }
            }
            EventKind::NearMiss => What::NearMiss { reason: reason(), note: self.get("note") },
            EventKind::Complete => What::Complete,
            EventKind::End => What::End { signed_by: self.get("signed_by") },
            EventKind::Refused => What::Refused { reason: reason() },
            EventKind::Check
            | EventKind::Attendance
            | EventKind::Cast
            | EventKind::Invitation
            | EventKind::Door
            | EventKind::Revision => self.known_of_company(kind)?,
            EventKind::Sound | EventKind::Trim | EventKind::SoundTest | EventKind::Mute => self.known_of_sound(kind)?,
            EventKind::Session
            | EventKind::CutOff
            | EventKind::ReportsLost
            | EventKind::RowsLost
            | EventKind::Misrecorded => self.known_of_journal(kind)?,
        })
    }

    fn known_of_company(&self, kind: EventKind) -> Option<What> {
        match kind {
            EventKind::Check => Some(What::Check {
                check: self.reason.clone()?,
                in_order: self.get("in_order").unwrap_or(true),
                note: self.get("note"),
                by: self.get("signed_by"),
            }),
            EventKind::Attendance => {
                let (person, present) = (self.get("person")?, self.get("present")?);
                Some(What::Attendance { person, present, part: self.get("part") })
            }
            EventKind::Cast => Some(What::Cast {
                fight: self.get("fight")?,
                part: self.get("part")?,
                person: self.get("person"),
                member: self.get("member"),
                covers: self.get("covers"),
            }),
            EventKind::Invitation => {
                let title = self.reason.as_deref()?.strip_prefix(INVITATION)?;
                Role::ALL.into_iter().find(|role| role.title() == title).map(|role| What::Invitation { role })
            }
            EventKind::Door => serde_json::from_value(Value::Object(self.detail.clone())).ok().map(What::Door),
            EventKind::Revision => Some(What::Revision(Box::new(SavedRevision {
                file: self.get("file")?,
                fight: self.get("fight"),
                saving: self.get("outcome").unwrap_or(Saving::Saved),
                revision: self.get("revision")?,
                base: self.get("base").unwrap_or_default(),
                why: self.reason.clone(),
            }))),
            _ => None,
        }
    }

    fn known_of_sound(&self, kind: EventKind) -> Option<What> {
        match kind {
            EventKind::Sound => match self.get("lane") {
                Some(lane) => {
                    let on = self.get("on")?;
                    let says = self.reason.as_deref().unwrap_or_default();
                    let named = says.strip_suffix(on_or_off(on)).unwrap_or(says).to_owned();
                    Some(What::Sound(SoundChange::Switch { lane, named, on }))
                }
                None => self.detail.contains_key("device").then(|| {
                    let (rate, buffer_frames) = (self.get("rate"), self.get("buffer_frames"));
                    What::Sound(SoundChange::Device { device: self.get("device"), rate, buffer_frames })
                }),
            },
            EventKind::Trim => Some(What::Trim {
                sound: self.get("sound")?,
                trim: Micros((self.get::<f64>("trim_ms")? * 1e3).round() as i64),
                gain: Decibels(self.get("gain_db")?),
            }),
            EventKind::SoundTest => self.sound_test().map(What::SoundTest),
            EventKind::Mute => Some(What::Mute { muted: self.get("muted")? }),
            _ => None,
        }
    }

    fn sound_test(&self) -> Option<SoundTest> {
        match self.get::<String>("test")?.as_str() {
            "sound" => Some(SoundTest::Sound {
                sound: self.get("sound")?,
                level: Decibels(self.get("level_db").unwrap_or_default()),
                during_run: self.get("during_run").unwrap_or_default(),
            }),
            "loop" => Some(SoundTest::Loop {
                fight: self.get("fight")?,
                phrase: self.get("phrase")?,
                percent: self.get("percent")?,
            }),
            "loop-end" => {
                let phrase = self.reason.as_deref()?.strip_prefix('“')?.strip_suffix(LOOP_ENDS)?.to_owned();
                Some(SoundTest::LoopEnd { phrase })
            }
            _ => None,
        }
    }

    fn known_of_journal(&self, kind: EventKind) -> Option<What> {
        match kind {
            EventKind::Session => Some(What::Session {
                server: self.get("server").unwrap_or_default(),
                closed_well: self.get("closed_well").unwrap_or(true),
            }),
            EventKind::CutOff => Some(What::CutOff { found: self.get("found").unwrap_or_default() }),
            EventKind::ReportsLost => Some(What::ReportsLost { reports: self.get("reports").unwrap_or_default() }),
            EventKind::RowsLost => {
                let (rows, last) = (self.get("rows").unwrap_or_default(), self.get("last").unwrap_or_default());
                Some(What::RowsLost { rows, last })
            }
            EventKind::Misrecorded => Some(What::Misrecorded {
                why: self.reason.clone().unwrap_or_default(),
                record: self.get("record").unwrap_or_default(),
            }),
            _ => None,
        }
    }

    fn called(&self) -> Option<Called> {
        let Kept { hold, tap, reason, screen, .. } = self.clone();
        Some(Called { hold: hold?, tap, reason, screen })
    }

    /// A key of the detail; nothing when it is not there, or holds something else.
    fn get<T: DeserializeOwned>(&self, key: &str) -> Option<T> {
        serde_json::from_value(self.detail.get(key)?.clone()).ok()
    }

    /// The reason behind what stands in front of it.
    fn behind(&self, prefix: &str) -> Option<String> {
        self.reason.as_ref().map(|reason| reason.strip_prefix(prefix).unwrap_or(reason).to_owned())
    }
}
