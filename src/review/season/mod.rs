//! An invented season of fight calls, written through the journal like a real one: a company that learns, a phrase that
//! stays weak, an understudy's week, a new revision, a bad phone, a clock that was set, and an evening on which the
//! server went away. It comes out the same every time.

mod chance;
mod company;
mod run;

use std::path::Path;
use std::sync::mpsc;

use jiff::civil::Date;
use jiff::{Span, Timestamp};

use self::chance::Chance;
use self::company::{CAPTAIN, CHECKS, COMPANY, DESK, UNDERSTUDY};
use crate::event::{Entry, Event, What, Who};
use crate::hex;
use crate::journal::{Journal, JournalError, MemberJoined, Record, SessionStart};
use crate::score::model::Score;
use crate::score::read;
use crate::score::vocabulary::Vocabulary;
use crate::units::ServerTime;

/// Weeks of the season, and the calls of a week: Tuesday to Saturday.
const WEEKS: u32 = 6;
const CALLS_A_WEEK: u32 = 5;
/// The speed of each week, percent; the first is walked.
const SPEEDS: [Option<u16>; WEEKS as usize] = [None, Some(50), Some(65), Some(80), Some(90), Some(100)];
/// The week in which the fight gets its newest text, and that of the understudy, counted from 0.
const REVISED_WEEK: u32 = 3;
const UNDERSTUDY_WEEK: u32 = 4;
/// The calls, counted from 0, in which the clock is set and in which the server goes away.
const CLOCK_SET: u32 = 12;
const CRASH: u32 = 18;

/// How long the whole season is, days.
pub const DAYS: u32 = WEEKS * 7;

/// A score as it was at the beginning and as it is now; the same where it was not changed.
pub struct SeasonScore<'t> {
    /// The text of the first weeks.
    pub first: &'t str,
    /// The text from the fourth week on.
    pub newest: &'t str,
}

/// Writes a season into a data folder; the first call is on `first_day`, at half past six in the evening, UTC.
///
/// # Errors
/// Those of the journal. A score that cannot be read is left out.
pub fn write(data: &Path, scores: &[SeasonScore<'_>], first_day: Date) -> Result<(), JournalError> {
    let vocabulary = Vocabulary::built_in();
    let fights: Vec<[Text; 2]> = scores
        .iter()
        .filter_map(|score| Some([Text::read(score.first, &vocabulary)?, Text::read(score.newest, &vocabulary)?]))
        .collect();
    let mut chance = Chance::new(0x5a17);
    for call in 0..WEEKS * CALLS_A_WEEK {
        let (week, day) = (call / CALLS_A_WEEK, call % CALLS_A_WEEK);
        let Some(begin) = evening(first_day, week * 7 + day) else { continue };
        let mut evening = Evening::open(data, begin, call, &mut chance)?;
        evening.gather();
        let texts = fights.iter().filter_map(|texts| texts.get(usize::from(week >= REVISED_WEEK)));
        let went_away = texts.enumerate().any(|(number, text)| evening.rehearse(number, text, week, day));
        if !went_away {
            evening.end();
        }
        evening.journal.close()?;
    }
    Ok(())
}

fn evening(first_day: Date, days: u32) -> Option<Timestamp> {
    let day = first_day.checked_add(Span::new().try_days(days).ok()?).ok()?;
    jiff::tz::TimeZone::UTC.to_timestamp(day.at(18, 30, 0, 0)).ok()
}

/// A score's text, read.
struct Text {
    sha256: String,
    text: String,
    score: Score,
}

impl Text {
    fn read(text: &str, vocabulary: &Vocabulary) -> Option<Text> {
        let score = read(text, "the season", vocabulary).score?;
        let sha256 = hex::sha256(text);
        Some(Text { sha256, text: text.to_owned(), score })
    }
}

/// One fight call.
struct Evening<'c> {
    journal: Journal,
    chance: &'c mut Chance,
    call: u32,
    begin: Timestamp,
    /// How far the wall clock is off: it was set in the middle of one call.
    off_us: i64,
    now_us: i64,
    next_run: u32,
    next_hold: u32,
}

impl<'c> Evening<'c> {
    fn open(data: &Path, begin: Timestamp, call: u32, chance: &'c mut Chance) -> Result<Evening<'c>, JournalError> {
        let start = SessionStart { utc: begin, server: env!("CARGO_PKG_VERSION").to_owned() };
        let journal = Journal::open(data, &start)?;
        let (next_run, next_hold) = (journal.opened().last_run + 1, journal.opened().last_hold + 1);
        Ok(Evening { journal, chance, call, begin, off_us: 0, now_us: 1_000_000, next_run, next_hold })
    }

    fn utc(&self) -> Timestamp {
        Timestamp::from_microsecond(self.begin.as_microsecond() + self.now_us + self.off_us).unwrap_or(self.begin)
    }

    fn pass(&mut self, seconds: f64) {
        self.now_us += (seconds * 1e6) as i64;
    }

    fn event(&self, what: What) -> Event {
        Event::new(self.journal.next_event(), ServerTime(self.now_us), what)
    }

    /// An event that somebody of the company makes.
    fn event_by(&self, what: What, who: usize) -> Event {
        let somebody = COMPANY.get(who).map(|somebody| Who {
            name: somebody.name.to_owned(),
            member: Some(who as u32 + 1),
            role: Some(somebody.role),
        });
        Event { who: somebody, ..self.event(what) }
    }

    fn record(&self, entry: impl Into<Entry>) {
        self.journal.record(Record::of(self.utc(), entry));
    }

    /// Writes an event and waits for the disk, so that nothing has to give way.
    fn record_and_wait(&self, event: Event) {
        let (told, hears) = mpsc::channel();
        self.journal.record_then(
            Record::of(self.utc(), event),
            Box::new(move |_| {
                let _ = told.send(());
            }),
        );
        // When the disk takes nothing any more, closing the journal says so.
        let _ = hears.recv();
    }

    /// Who is there this evening.
    fn is_there(&self, who: usize) -> bool {
        match who {
            UNDERSTUDY => self.call >= 10,
            // Tavish is ill in the understudy's week; one evening somebody is stuck in a train.
            2 => self.call / CALLS_A_WEEK != UNDERSTUDY_WEEK,
            6 => self.call != 7,
            _ => true,
        }
    }

    /// Everybody comes in, and the checks are signed.
    fn gather(&mut self) {
        for (who, somebody) in COMPANY.iter().enumerate() {
            if !self.is_there(who) {
                continue;
            }
            self.pass(20.0);
            let known = self.journal.opened().members.iter().any(|member| member.name == somebody.name);
            if !known {
                self.journal.record(Record::MemberJoined(MemberJoined {
                    member: who as u32 + 1,
                    name: somebody.name.to_owned(),
                    role: somebody.role,
                    part: somebody.part.map(str::to_owned),
                    key_sha256: format!("{who:064x}"),
                    utc: self.utc(),
                }));
            }
            let joined = || What::Joined { part: somebody.part.map(str::to_owned) };
            self.record(self.event_by(if known { What::LinkBack } else { joined() }, who));
        }
        for (number, check) in CHECKS.iter().enumerate() {
            self.pass(30.0);
            // One evening the last signature was forgotten.
            if self.call == 9 && number == 3 {
                continue;
            }
            let wet = self.call == 16 && number == 1;
            let note = wet.then(|| "wet after the rain scene; mopped, then dry".to_owned());
            let what = What::Check { check: (*check).to_owned(), in_order: true, note, by: None };
            self.record(self.event_by(what, if number == 3 { DESK } else { CAPTAIN }));
        }
    }

    fn end(&mut self) {
        self.pass(40.0);
        self.record_and_wait(self.event_by(What::End { signed_by: None }, DESK));
    }
}
