//! Reviews of journals that were written through the journal itself: what is counted, followed through revisions, and
//! said when it cannot be told. The helpers at the end are shared with `report`.

use std::path::Path;

use holdfast::event::{
    Called, Cast, Entry, Event, EventId, HoldId, Maker, Revision, RunBegun, RunEnd, RunEnded, Spot, What, Who,
};
use holdfast::journal::{Journal, Reader, Record, Report, SessionStart};
use holdfast::review::statistics::Difference;
use holdfast::review::{Filter, House, Outcome, Review, html, text};
use holdfast::units::ServerTime;
use jiff::Timestamp;
use proptest::prelude::*;

use crate::journal::records;

#[test]
fn breaks_are_counted_at_the_move_they_hit() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, None);
    hall.run(TEXT, 80, Some((0, 2)));
    hall.run(TEXT, 80, Some((1, 1)));
    hall.run(TEXT, 50, Some((1, 0)));
    hall.close();
    let review = review(folder.path());
    let fight = &review.fights[0];
    let counts = |phrase: usize| -> Vec<(u64, u64)> {
        fight.phrases[phrase].moves.iter().map(|it| (it.reached, it.broke)).collect()
    };
    assert_eq!(counts(0), [(4, 0), (4, 1), (3, 0)]);
    assert_eq!(counts(1), [(2, 1), (1, 0)]);
    let second = &fight.phrases[1];
    assert_eq!((second.reached, second.broke, second.broke_before_first), (3, 2, 1));
    assert_eq!((second.clean.count, second.clean.of), (1, 3));
    assert_eq!((review.totals.runs, review.totals.complete, review.totals.held), (4, 1, 3));
    let broke = &fight.breaks[0];
    assert_eq!(
        (broke.words.as_deref(), broke.move_now, broke.speed),
        (Some("B cut head / A parry 5"), Some(2), Some(80))
    );
    assert_eq!((broke.callers[0].reason.as_deref(), broke.notes[0].says.as_str()), (Some("grip"), "slower"));
    assert_eq!(broke.released_by.as_deref(), Some("Cap"));
    assert_eq!(broke.lost_seconds, Some(60.0));
    assert_eq!(broke.cast[0].person, "Bea");
}

#[test]
fn figures_follow_a_move_through_a_revision_and_say_when_it_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    hall.run(TEXT, 80, Some((0, 3)));
    // The first move is new, and the old third is gone: the second is now the third.
    let newer = TEXT
        .replace("  3 A thrust belly / B parry 4\n", "")
        .replace("  1 A cut head / B parry 5\n", "  1 A beat\n  1+1/2 A cut head / B parry 5\n");
    hall.run(&newer, 80, None);
    hall.close();
    let review = review(folder.path());
    let fight = &review.fights[0];
    let moves: Vec<_> = fight.phrases[0].moves.iter().map(|it| (it.words.as_str(), it.reached, it.broke)).collect();
    assert_eq!(moves, [("A beat", 1, 0), ("A cut head / B parry 5", 3, 0), ("B cut head / A parry 5", 3, 1)]);
    let gone = &fight.phrases[0].moves_gone[0];
    assert_eq!((gone.words.as_str(), gone.reached, gone.broke), ("A thrust belly / B parry 4", 1, 1));
    let (kept, lost) = (&fight.breaks[0], &fight.breaks[1]);
    assert_eq!((kept.move_now, kept.number, kept.move_gone), (Some(3), Some(2), false));
    assert_eq!((lost.move_now, lost.move_gone), (None, true));
    let change = fight.revisions[1].change.as_ref().unwrap();
    assert_eq!((change.phrases[0].added[0].words.as_str(), change.phrases[0].moved.len()), ("A beat", 1));
    assert_eq!(fight.revisions[1].has_run, ["Bea as A", "Cem as B"]);
    // The text was changed, so its clean runs are counted anew.
    assert_eq!(fight.phrases[0].ladder.in_a_row, 1);
}

#[test]
fn a_split_phrase_and_a_renamed_fight_are_said_and_kept_apart() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    let split = TEXT
        .replace("phrase \"one\"", "phrase \"first half\"")
        .replace("  3 A thrust", "phrase \"second half\"\n  1 A thrust");
    hall.run(&split, 80, None);
    hall.run(&TEXT.replace("fight \"F\"", "fight \"G\""), 80, None);
    hall.close();
    let review = review(folder.path());
    let fight = &review.fights[0];
    assert!(fight.notes[0].contains("“one” is gone") && fight.notes[0].contains("split?"), "{:?}", fight.notes);
    assert_eq!((fight.phrases_gone[0].phrase.as_str(), fight.phrases_gone[0].broke), ("one", 1));
    assert!(fight.phrases.iter().take(2).all(|phrase| phrase.broke == 0));
    assert!(review.notes.iter().any(|note| note.contains("“G”") && note.contains("renamed?")), "{:?}", review.notes);
}

#[test]
fn a_crash_a_set_clock_and_a_hold_between_runs_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, None);
    hall.pass(10);
    hall.hold(None, 77);
    hall.set_clock(-3600);
    hall.begin(TEXT, Some(80));
    hall.event(What::Phrase, Some(spot(TEXT, 0, 0)));
    hall.close();
    // The run had no end: the next start of the server marks it.
    Hall::open(folder.path()).close();
    let review = review(folder.path());
    let totals = &review.totals;
    assert_eq!((totals.complete, totals.unfinished, totals.holds_between), (1, 1, 1));
    assert!(review.notes[0].contains("wall clock jumped once"), "{:?}", review.notes);
    let phrase = &review.fights[0].phrases[0];
    assert_eq!((phrase.visits.last().unwrap().outcome, phrase.clean.of), (Outcome::Unfinished, 1));
    assert_eq!(review.calls[0].breaks[0].phrase, None);
}

#[test]
fn thousands_of_holds_in_one_run_break_it_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.begin(TEXT, Some(80));
    hall.event(What::Phrase, Some(spot(TEXT, 0, 0)));
    for hold in 1..=3_000 {
        hall.hold(Some(spot(TEXT, 0, 2)), hold);
    }
    hall.end(RunEnd::Held, Some(spot(TEXT, 0, 2)));
    hall.close();
    let review = review(folder.path());
    let phrase = &review.fights[0].phrases[0];
    assert_eq!((phrase.reached, phrase.broke, review.fights[0].breaks.len()), (1, 1, 1));
    assert_eq!(review.totals.holds_between, 2_999);
}

#[test]
fn a_text_that_cannot_be_read_any_more_is_counted_by_phrase() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run_as("fight \"F\"\nnothing that anybody can read", TEXT, 80, Some((0, 2)));
    hall.close();
    let review = review(folder.path());
    let fight = &review.fights[0];
    assert!(fight.notes[0].contains("cannot be read with today's vocabulary"), "{:?}", fight.notes);
    assert_eq!((fight.phrases_gone[0].phrase.as_str(), fight.phrases_gone[0].broke), ("one", 1));
    assert_eq!(fight.breaks[0].words.as_deref(), Some("B cut head / A parry 5"));
}

#[test]
fn weeks_are_compared_and_the_ladder_is_climbed() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    for speed in [50, 50, 50, 50, 50, 50, 50, 50] {
        hall.run(TEXT, speed, Some((0, 2)));
    }
    hall.pass(8 * 86_400);
    for _ in 0..8 {
        hall.run(TEXT, 65, None);
    }
    hall.close();
    let review = review(folder.path());
    let phrase = &review.fights[0].phrases[0];
    let weeks = phrase.weeks.as_ref().unwrap();
    assert_eq!((weeks.clean.verdict, weeks.breaks.verdict), (Difference::Better, Difference::Better));
    assert_eq!((phrase.ladder.step, phrase.ladder.in_a_row, phrase.ladder.may_try), (Some(65), 8, Some(80)));
    assert_eq!(phrase.ladder.cast, ["Bea as A", "Cem as B"]);
    assert_eq!((review.drill.rows[0].phrase.as_str(), review.drill.rows[0].broke.count), ("one", 8));
    assert_eq!(review.calls.len(), 2, "eight days lie between");
}

#[test]
fn the_ladder_says_no_more_than_was_seen() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    for _ in 0..9 {
        hall.run(TEXT, 100, Some((0, 2)));
    }
    hall.run(TEXT, 100, None);
    hall.close();
    let told = review(folder.path());
    let one = &told.fights[0].phrases[0].ladder;
    assert_eq!((one.step, one.in_a_row), (None, 1), "one clean run after nine broken ones is no step");
    assert_eq!(one.says, "On no step yet: 1 of 3 clean runs in a row at 50 %.");
    let row = told.ready.rows.iter().find(|row| row.phrase == "one").unwrap();
    assert_eq!((row.step, row.seen.as_str()), (None, "100 %: 1 clean of 10, last clean 2026-03-01"));
    assert_eq!((told.order.rows[0].first.as_str(), told.order.rows[0].percent), ("one", 50));
    assert!(told.order.rows[0].why.starts_with("It broke in 9 of its last 10 runs, most at beat 2, B cut head"));
    for said in [html::page(&told, &House::default().ladder), text::text(&told)] {
        assert!(said.contains(one.says.as_str()) && !said.contains("op of the ladder"));
    }
}

#[test]
fn breaks_above_the_step_are_told_and_a_cast_has_its_own_ladder() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    (0..4).for_each(|_| hall.run(TEXT, 80, None));
    (0..3).for_each(|_| hall.run(TEXT, 90, Some((0, 2))));
    hall.second_cast = true;
    hall.run(TEXT, 50, None);
    hall.close();
    let told = review(folder.path());
    let [newest, first] = told.fights[0].phrases[0].ladders.as_slice() else { panic!("two casts") };
    assert_eq!(
        (newest.cast.as_slice(), newest.step, newest.runs),
        (&["Dot as A".to_owned(), "Cem as B".to_owned()][..], None, 1)
    );
    assert_eq!((first.cast[0].as_str(), first.step, first.next_broke), ("Bea as A", Some(80), 3));
    assert!(first.says.ends_with("lets it try 90 %, where it broke 3 times in a row."), "{}", first.says);
    let rows: Vec<_> = told.ready.rows.iter().filter(|row| row.phrase == "one").collect();
    assert_eq!((rows[0].with.len(), rows[1].with.as_slice()), (2, &["Bea as A".to_owned()][..]));
    assert_eq!((rows[0].step, rows[1].step), (None, Some(80)));
}

#[test]
fn days_that_are_asked_for_are_judged_by_the_text_of_then() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    (0..4).for_each(|_| hall.run(TEXT, 80, None));
    hall.pass(3 * 86_400);
    let newer = TEXT.replace("  3 A thrust belly / B parry 4\n", "  3 A thrust chest / B parry 4\n");
    hall.run(&newer, 80, None);
    hall.close();
    let reader = Reader::open(folder.path()).unwrap();
    let until = Filter { until: Some("2026-03-02".parse().unwrap()), ..Filter::default() };
    let then = Review::of(&reader, &House::default(), &until).unwrap();
    let fight = &then.fights[0];
    assert_eq!((fight.phrases[0].ladder.step, fight.phrases[0].ladder.runs), (Some(80), 4));
    assert_eq!(fight.phrases[0].moves[2].words, "A thrust belly / B parry 4");
    assert_eq!(fight.revisions.len(), 1, "the later text was not known then");
    let now = review(folder.path());
    let ladder = &now.fights[0].phrases[0].ladder;
    assert_eq!((ladder.step, ladder.before, ladder.other_text), (None, Some(80), 4));
    assert_eq!(
        ladder.says,
        "On no step yet: 1 of 3 clean runs in a row at 50 %. With the text before it stood on 80 %."
    );
    assert_eq!(now.fights[0].phrases[1].ladder.runs, 5, "the other phrase reads as it did");
    assert!(
        now.order.rows[0].why.starts_with("Its text changed, and they have run it 1 time since"),
        "{}",
        now.order.rows[0].why
    );
    assert_eq!(now.news.day.as_deref(), Some("2026-03-04"));
    assert!(now.news.items.iter().any(|it| it.contains("a new text")), "{:?}", now.news);
    assert!(
        now.news.items.iter().any(|it| it == "F, “one” stands on no step any more (before: 80 %)."),
        "{:?}",
        now.news
    );
}

#[test]
fn a_tempo_that_changed_makes_other_speeds_of_the_same_moves() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    (0..3).for_each(|_| hall.run(TEXT, 80, None));
    // Performance tempo is 20 % faster now: what was 80 % is 66.7 % of it.
    hall.run(&TEXT.replace("tempo 60", "tempo 72"), 50, None);
    hall.close();
    assert_eq!(review(folder.path()).fights[0].phrases[0].ladder.step, Some(65));
}

#[test]
fn a_production_without_runs_is_an_empty_review() {
    let empty = Review::of_nothing(&House::default(), &Filter::default()).unwrap();
    assert_eq!((empty.totals.runs, empty.fights.len(), empty.order.rows.len()), (0, 0, 0));
    assert!(text::text(&empty).contains("0 fight calls"));
    let asked = Filter { fight: Some("F".into()), ..Filter::default() };
    assert!(Review::of_nothing(&House::default(), &asked).unwrap_err().to_string().ends_with("There is: nothing."));
}

#[test]
fn filters_choose_days_fights_and_phrases() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 50, None);
    hall.pass(3 * 86_400);
    hall.run(TEXT, 80, Some((0, 1)));
    hall.close();
    let reader = Reader::open(folder.path()).unwrap();
    let of = |filter: Filter| Review::of(&reader, &House::default(), &filter);
    let since = of(Filter { since: Some("2026-03-04".parse().unwrap()), ..Filter::default() }).unwrap();
    assert_eq!((since.totals.runs, since.totals.held, since.calls.len()), (1, 1, 1));
    let phrase = of(Filter { phrase: Some("tw".into()), fight: Some("f".into()), ..Filter::default() }).unwrap();
    assert_eq!((phrase.totals.runs, phrase.fights[0].phrases.len(), phrase.fights[0].breaks.len()), (1, 1, 0));
    let unknown = of(Filter { fight: Some("x".into()), ..Filter::default() }).unwrap_err();
    assert_eq!(unknown.to_string(), "No fight of the journal is called “x”. There is: F.");
    let none = of(Filter { since: Some("2027-01-01".parse().unwrap()), ..Filter::default() }).unwrap();
    assert_eq!((none.totals.runs, none.fights.len(), none.calls.len()), (0, 0, 0));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_journal_is_reviewed_and_its_totals_agree(ways in prop::collection::vec(way(), 0..12), noise in records()) {
        let folder = tempfile::tempdir().unwrap();
        let mut hall = Hall::open(folder.path());
        for way in &ways {
            hall.go(way);
        }
        noise.into_iter().for_each(|record| hall.journal.record(record));
        hall.close();
        let review = review(folder.path());
        prop_assert_eq!(review.totals.runs, review.totals.complete + review.totals.held + review.totals.stopped + review.totals.unfinished);
        for fight in &review.fights {
            let all = |splits: &[holdfast::review::Split]| splits.iter().map(|it| (it.broke.count, it.broke.of)).fold((0, 0), |sum, it| (sum.0 + it.0, sum.1 + it.1));
            prop_assert_eq!(all(&fight.splits.speeds), all(&fight.splits.casts));
            prop_assert_eq!(all(&fight.splits.speeds), all(&fight.splits.revisions));
            for phrase in &fight.phrases {
                prop_assert!(phrase.moves.iter().all(|it| it.broke <= it.reached && it.reached <= phrase.reached));
                let at_moves: u64 = phrase.moves.iter().map(|it| it.broke).chain(phrase.moves_gone.iter().map(|it| it.broke)).sum();
                prop_assert_eq!(phrase.broke, at_moves + phrase.broke_before_first);
                prop_assert_eq!(phrase.reached as usize, phrase.visits.len());
                prop_assert!(phrase.clean.interval.contains(phrase.clean.estimate.unwrap_or(0.5)));
                let by_speed: u64 = phrase.by_speed.iter().map(|it| it.clean.of).sum();
                let unfinished = phrase.visits.iter().filter(|it| it.outcome == Outcome::Unfinished).count() as u64;
                prop_assert_eq!(by_speed + unfinished, phrase.reached);
            }
        }
        // Every kind of paper takes it.
        prop_assert!(html::page(&review, &House::default().ladder).ends_with("</html>"));
        prop_assert!(!text::text(&review).is_empty());
        prop_assert!(serde_json::to_string(&review).is_ok());
    }
}

/// One way of going through a fight: the text, the speed, where it broke.
fn way() -> impl Strategy<Value = (usize, Option<u16>, Option<(usize, usize)>, i64)> {
    let broke = prop::option::of((0..3_usize, 0..6_usize));
    (0..4_usize, prop::option::of(10..150_u16), broke, -5_000..200_000_i64)
}

// ---- shared by the review's tests ----

/// Two phrases of three and two moves.
pub(crate) const TEXT: &str = "fight \"F\"\ntempo 60\nfighters\n  A rapier right\n  B rapier right\n\
    phrase \"one\"\n  1 A cut head / B parry 5\n  2 B cut head / A parry 5\n  3 A thrust belly / B parry 4\n\
    phrase \"two\"\n  1 B cut head / A parry 5\n  3 A cut head / B parry 5\n";

pub(crate) fn review(folder: &Path) -> Review {
    Review::of(&Reader::open(folder).unwrap(), &House::default(), &Filter::default()).unwrap()
}

/// A place in `TEXT`: a phrase from 0, and the last move reached, 0 for none.
pub(crate) fn spot(text: &str, phrase: usize, number: usize) -> Spot {
    let (mut names, mut moves): (Vec<String>, Vec<Vec<(String, String)>>) = (Vec::new(), Vec::new());
    for line in text.lines() {
        if let Some(name) = line.strip_prefix("phrase ") {
            names.push(name.trim_matches('"').to_owned());
            moves.push(Vec::new());
        } else if let (Some(last), Some((beat, words))) = (moves.last_mut(), line.trim().split_once(' ')) {
            last.push((beat.to_owned(), words.trim().to_owned()));
        }
    }
    let at = number.checked_sub(1).and_then(|at| moves.get(phrase)?.get(at).cloned());
    Spot {
        cue: None,
        phrase: phrase as u32,
        phrase_name: names.get(phrase).cloned().unwrap_or_else(|| "?".to_owned()),
        beat: at.as_ref().map_or("1".to_owned(), |(beat, _)| beat.clone()),
        number: at.as_ref().map(|_| number as u32),
        words: at.map(|(_, words)| words),
    }
}

/// A rehearsal hall, in which time goes on as told.
pub(crate) struct Hall {
    pub(crate) journal: Journal,
    now_us: i64,
    off_us: i64,
    run: u32,
    hold: u32,
    /// Somebody else plays A.
    second_cast: bool,
}

impl Hall {
    pub(crate) fn open(folder: &Path) -> Hall {
        let start = SessionStart { utc: BEGIN.parse().unwrap(), server: "0.0.0-test".to_owned() };
        let journal = Journal::open(folder, &start).unwrap();
        let run = journal.opened().last_run;
        Hall { journal, now_us: 1_000_000, off_us: 0, run, hold: 0, second_cast: false }
    }

    pub(crate) fn close(self) {
        self.journal.close().unwrap();
    }

    fn utc(&self) -> Timestamp {
        let begin: Timestamp = BEGIN.parse().unwrap();
        Timestamp::from_microsecond(begin.as_microsecond() + self.now_us + self.off_us).unwrap()
    }

    pub(crate) fn pass(&mut self, seconds: i64) {
        self.now_us += seconds * 1_000_000;
    }

    pub(crate) fn set_clock(&mut self, seconds: i64) {
        self.off_us += seconds * 1_000_000;
    }

    pub(crate) fn record(&self, entry: impl Into<Entry>) {
        self.journal.record(Record::of(self.utc(), entry));
    }

    pub(crate) fn event(&mut self, what: What, spot: Option<Spot>) {
        self.record(Event { spot, ..self.made(what) });
    }

    /// An event of the run, by nobody.
    fn made(&self, what: What) -> Event {
        let id = EventId { session: 1, maker: Maker::Server, number: 1 };
        Event { run: Some(self.run), ..Event::new(id, ServerTime(self.now_us), what) }
    }

    pub(crate) fn begin(&mut self, text: &str, percent: Option<u16>) {
        self.begin_as(text, text, percent);
    }

    fn begin_as(&mut self, text: &str, told: &str, percent: Option<u16>) {
        self.run += 1;
        self.pass(20);
        let name = |text: &str| text.split('"').nth(1).unwrap().to_owned();
        let sha256 = format!(
            "{:0>64}",
            text.bytes().fold(7_u64, |sum, byte| sum.wrapping_mul(31).wrapping_add(u64::from(byte)))
        );
        let (revision, fight) = (sha256.clone(), name(text));
        self.record(Revision { sha256, fight: fight.clone(), text: text.to_owned() });
        let last = told.matches("phrase \"").count() as u32 - 1;
        let first = if self.second_cast { ("A", "Dot", 3) } else { ("A", "Bea", 1) };
        let playing = [first, ("B", "Cem", 2)].into_iter();
        let cast = playing.map(|(part, person, member)| Cast {
            part: part.into(),
            person: person.into(),
            member: Some(member),
            covers: None,
        });
        let begun = RunBegun {
            run: self.run,
            revision,
            fight,
            weapons: None,
            from_phrase: 0,
            from_name: spot(told, 0, 0).phrase_name,
            from_move: None,
            to_phrase: last,
            to_name: spot(told, last as usize, 0).phrase_name,
            percent,
            count_in: 4,
            drive: "clock".into(),
            server_us: self.now_us,
            item: None,
            cast: cast.collect(),
        };
        self.record(begun.clone());
        self.event(What::Start { anyway: None, begun: Some(Box::new(begun)) }, None);
        self.pass(4);
    }

    pub(crate) fn hold(&mut self, spot: Option<Spot>, hold: u32) {
        self.hold_by("Bea", "grip", spot, hold);
    }

    pub(crate) fn hold_by(&mut self, who: &str, reason: &str, spot: Option<Spot>, hold: u32) {
        let call = Called { hold: HoldId(hold), tap: None, reason: Some(reason.to_owned()), screen: None };
        let event = self.made(What::Hold { call, under_way: Vec::new() });
        self.record(Event { spot, percent: Some(80), who: Some(somebody(who)), ..event });
    }

    pub(crate) fn end(&mut self, how: RunEnd, last: Option<Spot>) {
        let first = last.clone();
        self.record(RunEnded { run: self.run, how, first, last, at: ServerTime(self.now_us) });
    }

    /// A run of the whole text, broken at a phrase and move or not at all; what breaks it takes 40 seconds.
    pub(crate) fn run(&mut self, text: &str, percent: u16, broke: Option<(usize, usize)>) {
        self.run_as(text, text, percent, broke);
    }

    /// The same, with places as `told` has them.
    fn run_as(&mut self, text: &str, told: &str, percent: u16, broke: Option<(usize, usize)>) {
        self.begin_as(text, told, Some(percent));
        let phrases = told.matches("phrase \"").count();
        for phrase in 0..=broke.map_or(phrases - 1, |(phrase, _)| phrase) {
            self.event(What::Phrase, Some(spot(told, phrase, 0)));
            self.pass(5);
        }
        match broke {
            None => {
                self.event(What::Complete, Some(spot(told, phrases - 1, 2)));
                self.end(RunEnd::Complete, Some(spot(told, phrases - 1, 2)));
            }
            Some((phrase, number)) => {
                self.hold += 1;
                let (hold, spot) = (self.hold, spot(told, phrase, number));
                self.hold(Some(spot.clone()), hold);
                self.end(RunEnd::Held, Some(spot));
                self.pass(40);
                let hold = HoldId(hold);
                let note = What::Note { hold: Some(hold), text: Some("slower".to_owned()) };
                for (what, who) in [(note, "Ines"), (What::Release { hold }, "Cap")] {
                    self.record(Event { who: Some(somebody(who)), ..self.made(what) });
                }
            }
        }
    }

    /// Whatever a property test thinks of.
    fn go(&mut self, (text, percent, broke, pass): &(usize, Option<u16>, Option<(usize, usize)>, i64)) {
        let texts = [
            TEXT.to_owned(),
            TEXT.replace("  2 B cut head / A parry 5\n", ""),
            TEXT.replace("phrase \"two\"", "phrase \"three\""),
            "fight \"F\"\nno score at all".to_owned(),
        ];
        self.begin_as(&texts[*text], TEXT, *percent);
        self.event(What::Phrase, Some(spot(TEXT, 0, 0)));
        self.now_us += pass;
        self.journal.record(Record::Report(Report {
            run: self.run,
            member: 1,
            cue: 1,
            due_us: *pass,
            fired_us: i64::MAX,
            bound_us: Some(i64::MIN),
        }));
        if let Some((phrase, number)) = broke {
            self.hold += 1;
            let hold = self.hold;
            self.hold(Some(spot(TEXT, *phrase, *number)), hold);
            // Every other run has no end: the server went away.
            if pass % 2 == 0 {
                self.end(RunEnd::Held, Some(spot(TEXT, *phrase, *number)));
            }
        } else if pass % 3 != 0 {
            self.end(RunEnd::Complete, None);
        }
        self.set_clock(pass / 1_000);
    }
}

fn somebody(name: &str) -> Who {
    Who { name: name.to_owned(), member: None, role: None }
}

/// A Sunday evening.
const BEGIN: &str = "2026-03-01T18:30:00Z";
