//! Reviews as tables for spreadsheets: CSV by RFC 4180 with a byte-order mark, so that a spreadsheet reads names with
//! accents right. What a spreadsheet would take for a formula is made harmless in one place (`safe_text::cell`).

use super::breaks::Break;
use super::phrase::PhraseReview;
use super::record::Person;
use super::whole::Review;
use crate::safe_text;

/// Which table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// A row for each phrase.
    Phrases,
    /// A row for each move.
    Moves,
    /// A row for each hold and stop that broke a run.
    Breaks,
    /// A row for each run of each phrase.
    Runs,
    /// A row for each fight call.
    Calls,
}

/// The table as CSV.
///
/// # Errors
/// A sentence when it cannot be written, which in memory does not happen.
pub fn csv(review: &Review, table: Table) -> Result<String, String> {
    let mut writer = ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::new());
    let (head, rows) = match table {
        Table::Phrases => (PHRASES.as_slice(), phrases(review)),
        Table::Moves => (MOVES.as_slice(), moves(review)),
        Table::Breaks => (BREAKS.as_slice(), breaks(review)),
        Table::Runs => (RUNS.as_slice(), runs(review)),
        Table::Calls => (CALLS.as_slice(), calls(review)),
    };
    let wrong = |error: ::csv::Error| format!("The table cannot be written: {error}.");
    writer.write_record(head).map_err(wrong)?;
    for row in rows {
        writer.write_record(row.into_iter().map(|cell| cell.0)).map_err(wrong)?;
    }
    let bytes = writer.into_inner().map_err(|error| format!("The table cannot be written: {}.", error.error()))?;
    Ok(format!("\u{feff}{}", String::from_utf8_lossy(&bytes)))
}

const PHRASES: [&str; 18] = [
    "fight",
    "phrase",
    "reached",
    "broke",
    "clean",
    "clean_of",
    "clean_low",
    "clean_high",
    "breaks",
    "minutes",
    "breaks_per_minute",
    "breaks_per_minute_low",
    "breaks_per_minute_high",
    "lost_seconds",
    "ladder_step",
    "clean_in_a_row",
    "may_try",
    "lately",
];
const MOVES: [&str; 7] = ["fight", "phrase", "move", "beat", "words", "reached", "broke"];
const BREAKS: [&str; 18] = [
    "event",
    "time",
    "fight",
    "run",
    "kind",
    "hold",
    "phrase",
    "beat",
    "move",
    "words",
    "speed",
    "revision",
    "called_by",
    "reason",
    "notes",
    "released_by",
    "lost_seconds",
    "cast",
];
const RUNS: [&str; 12] = [
    "fight",
    "phrase",
    "run",
    "day",
    "speed",
    "outcome",
    "moves_reached",
    "moves",
    "seconds",
    "lost_seconds",
    "revision",
    "weapons",
];
const CALLS: [&str; 10] = [
    "day",
    "from",
    "to",
    "present",
    "absent",
    "understudies",
    "checks_unsigned",
    "runs",
    "holds_and_stops",
    "signed_by",
];

/// A cell, safe for a spreadsheet.
struct Cell(String);

type Row = Vec<Cell>;

fn text(text: &str) -> Cell {
    Cell(safe_text::cell(text))
}

fn number(number: impl ToString) -> Cell {
    Cell(number.to_string())
}

fn maybe<T: ToString>(value: Option<T>) -> Cell {
    Cell(value.map_or_else(String::new, |value| value.to_string()))
}

fn decimal(value: Option<f64>) -> Cell {
    Cell(value.map_or_else(String::new, |value| format!("{value:.4}")))
}

fn each_phrase(review: &Review) -> impl Iterator<Item = (&str, &PhraseReview)> {
    review.fights.iter().flat_map(|fight| fight.phrases.iter().map(move |phrase| (fight.fight.as_str(), phrase)))
}

fn phrases(review: &Review) -> Vec<Row> {
    let row = |(fight, it): (&str, &PhraseReview)| {
        vec![
            text(fight),
            text(&it.phrase),
            number(it.reached),
            number(it.broke),
            number(it.clean.count),
            number(it.clean.of),
            decimal(Some(it.clean.interval.low)),
            decimal(it.clean.interval.high),
            number(it.breaks.events),
            decimal(Some(it.breaks.minutes)),
            decimal(it.breaks.estimate),
            decimal(Some(it.breaks.interval.low)),
            decimal(it.breaks.interval.high),
            decimal(Some(it.lost_seconds)),
            maybe(it.ladder.step),
            number(it.ladder.in_a_row),
            maybe(it.ladder.may_try),
            text(it.model.week().map_or("", |it| it.verdict.words())),
        ]
    };
    each_phrase(review).map(row).collect()
}

fn moves(review: &Review) -> Vec<Row> {
    let rows = each_phrase(review).flat_map(|(fight, phrase)| phrase.moves.iter().map(move |it| (fight, phrase, it)));
    rows.map(|(fight, phrase, it)| {
        let (name, beat, words) = (text(&phrase.phrase), text(&it.beat), text(&it.words));
        vec![text(fight), name, number(it.number), beat, words, number(it.reached), number(it.broke)]
    })
    .collect()
}

fn breaks(review: &Review) -> Vec<Row> {
    let rows = review.fights.iter().flat_map(|fight| fight.breaks.iter().map(move |it| (fight.fight.as_str(), it)));
    rows.map(|(fight, it)| break_row(fight, it)).collect()
}

fn break_row(fight: &str, it: &Break) -> Row {
    let joined = |parts: Vec<String>| text(&parts.join("; "));
    let said = |value: &Option<String>| text(value.as_deref().unwrap_or(""));
    vec![
        number(it.event),
        text(&it.at),
        text(fight),
        number(it.run),
        text(&it.kind),
        maybe(it.hold),
        said(&it.phrase),
        said(&it.beat),
        maybe(it.number),
        said(&it.words),
        maybe(it.speed),
        text(&it.revision),
        joined(it.callers.iter().map(|caller| caller.who.clone()).collect()),
        joined(match &it.reason {
            Some(reason) if it.explained => vec![reason.clone()],
            _ => it.callers.iter().filter_map(|caller| caller.reason.clone()).collect(),
        }),
        joined(it.notes.iter().map(|note| note.says.clone()).collect()),
        said(&it.released_by),
        decimal(it.lost_seconds),
        joined(it.cast.iter().map(|playing| format!("{} as {}", playing.person, playing.part)).collect()),
    ]
}

fn runs(review: &Review) -> Vec<Row> {
    let rows = each_phrase(review).flat_map(|(fight, phrase)| phrase.visits.iter().map(move |it| (fight, phrase, it)));
    rows.map(|(fight, phrase, it)| {
        vec![
            text(fight),
            text(&phrase.phrase),
            number(it.run),
            text(it.day.as_deref().unwrap_or("")),
            maybe(it.speed),
            text(it.outcome.word()),
            number(it.reached),
            number(it.of),
            decimal(it.seconds),
            decimal(it.lost_seconds),
            text(&it.revision),
            text(it.weapons.as_deref().unwrap_or("")),
        ]
    })
    .collect()
}

fn calls(review: &Review) -> Vec<Row> {
    let names = |people: &[Person]| text(&people.iter().map(|it| it.who.clone()).collect::<Vec<_>>().join("; "));
    let row = |it: &super::record::CallRecord| {
        let on: Vec<String> = it.understudies.iter().map(|it| format!("{} as {}", it.who, it.part)).collect();
        let unsigned: Vec<&str> =
            it.checks.iter().filter(|check| check.signed_by.is_none()).map(|check| check.check.as_str()).collect();
        vec![
            text(&it.day),
            text(&it.from),
            text(&it.to),
            names(&it.present),
            names(&it.absent),
            text(&on.join("; ")),
            text(&unsigned.join("; ")),
            number(it.runs.len()),
            number(it.breaks.len()),
            text(it.signed_by.as_deref().unwrap_or("")),
        ]
    };
    review.calls.iter().map(row).collect()
}
