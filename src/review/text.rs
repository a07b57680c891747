//! A review for a terminal: the decisions first, then a line for each phrase, then the newest call.

use std::fmt::Write as _;

use super::caution::CAUTION;
use super::phrase::PhraseReview;
use super::record::CallRecord;
use super::say;
use super::whole::Review;

/// The review as plain text, for lines of about a hundred letters.
pub fn text(review: &Review) -> String {
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = write(review, &mut out);
    out
}

fn write(review: &Review, out: &mut String) -> std::fmt::Result {
    let totals = &review.totals;
    let days = review.first_day.as_deref().zip(review.last_day.as_deref());
    let days = days.map_or_else(String::new, |(first, last)| format!(", {first} to {last}"));
    writeln!(
        out,
        "{}: {}{days}. {}: {} to the end, {} held, {} stopped, {} cut off or under way.",
        review.production.as_deref().unwrap_or("Fight calls"),
        say::counted(totals.calls, "fight call", "fight calls"),
        say::counted(totals.runs, "run", "runs"),
        totals.complete,
        totals.held,
        totals.stopped,
        totals.unfinished,
    )?;
    if let Some(older) = &review.older {
        writeln!(out, "{}", older.says())?;
    }
    for note in review.notes.iter().chain(review.fights.iter().flat_map(|fight| &fight.notes)) {
        writeln!(out, "Note: {note}")?;
    }
    news(review, out)?;
    order(review, out)?;
    for fight in &review.fights {
        writeln!(out, "\n{} (revision {})", fight.fight, fight.revision)?;
        let width = fight.phrases.iter().map(|phrase| phrase.phrase.chars().count()).max().unwrap_or(0);
        for phrase in &fight.phrases {
            phrase_line(phrase, width, out)?;
        }
    }
    if !review.timing.members.is_empty() {
        writeln!(out, "\nPhones")?;
        for it in &review.timing.members {
            writeln!(out, "  {:<20} one cue in 20 later than {:>7}  {}", it.who, say::ms(it.late_p95_ms), it.says)?;
        }
    }
    if let Some(call) = review.calls.last() {
        newest_call(call, out)?;
    }
    writeln!(out, "\n{CAUTION}")
}

fn news(review: &Review, out: &mut String) -> std::fmt::Result {
    let Some(day) = &review.news.day else { return Ok(()) };
    writeln!(out, "\nNew on {day}")?;
    review.news.items.iter().try_for_each(|item| writeln!(out, "  {item}"))
}

fn order(review: &Review, out: &mut String) -> std::fmt::Result {
    writeln!(out, "\nWhat to drill next")?;
    if review.order.rows.is_empty() {
        writeln!(out, "  Nothing speaks for any phrase yet.")?;
    }
    for (place, row) in review.order.rows.iter().enumerate() {
        writeln!(out, "  {}. {} ({}): {}", place + 1, row.first, row.fight, row.says())?;
        writeln!(out, "       {}", row.why)?;
    }
    writeln!(out, "  How this is made stands in --format html, and in --format json as order.rule.")
}

fn phrase_line(phrase: &PhraseReview, width: usize, out: &mut String) -> std::fmt::Result {
    writeln!(
        out,
        "  {:width$}  clean {:>9} ({})  week: {}",
        phrase.phrase,
        say::share(&phrase.clean),
        say::share_interval(&phrase.clean),
        phrase.model.week().map_or("–", |it| it.verdict.words()),
    )?;
    for standing in &phrase.ladders {
        writeln!(out, "  {:width$}  {}: {}", "", standing.cast.join(", "), standing.says)?;
    }
    Ok(())
}

fn newest_call(call: &CallRecord, out: &mut String) -> std::fmt::Result {
    writeln!(out, "\nFight call of {}, {} to {}", call.day, call.from, call.to)?;
    let names = |people: &[super::record::Person]| {
        let names: Vec<&str> = people.iter().map(|it| it.who.as_str()).collect();
        if names.is_empty() { "nobody".to_owned() } else { names.join(", ") }
    };
    writeln!(out, "  Present: {}. Absent: {}.", names(&call.present), names(&call.absent))?;
    for it in &call.understudies {
        writeln!(out, "  {} was on as {} in {} (usually {}).", it.who, it.part, it.fight, it.usually)?;
    }
    for it in call.checks.iter().filter(|check| check.signed_by.is_none() || !check.in_order) {
        let how = if it.in_order { "not signed" } else { "signed as not in order" };
        writeln!(out, "  Check before the call, {how}: {}.", it.check)?;
    }
    for (at, it) in call.order.iter().enumerate() {
        let done = if it.done { "done" } else { "not done" };
        writeln!(out, "  Order {}. {}: {done}", at + 1, it.says)?;
    }
    for it in &call.runs {
        let weapons = it.weapons.as_ref().map(|weapons| format!(", weapons: {weapons}")).unwrap_or_default();
        let (speed, how) = (say::speed(it.speed), it.how.words());
        let from = it.from_move.map(|number| format!(" from move {number} of “{}”", it.from)).unwrap_or_default();
        writeln!(out, "  {}  run {} of {}{from} at {speed}{weapons}: {how}", it.at, it.run, it.fight)?;
    }
    for it in &call.breaks {
        let at = it.at.split(' ').next_back().unwrap_or("");
        let place = it.phrase.as_deref().zip(it.beat.as_deref());
        let place =
            place.map_or_else(|| "while nothing ran".to_owned(), |(phrase, beat)| format!("“{phrase}”, beat {beat}"));
        let caller = it.callers.first();
        let who = caller.map_or("", |caller| caller.who.as_str());
        let why = it.reason.as_deref().unwrap_or("no reason given");
        let noted: String = it.notes.iter().map(|note| format!("; noted: “{}”", note.says)).collect();
        writeln!(out, "  {at}  {} {place}, by {who}: {why}{noted}", it.kind)?;
    }
    for it in &call.near_misses {
        let at = it.at.split(' ').next_back().unwrap_or("");
        let place = it.phrase.as_deref().zip(it.beat.as_deref());
        let place = place.map_or_else(String::new, |(phrase, beat)| format!(" “{phrase}”, beat {beat}"));
        let (who, why) = (it.who.as_deref(), it.reason.as_deref().unwrap_or("no reason given"));
        let who = who.map_or_else(|| "reported without a name".to_owned(), |who| format!("reported by {who}"));
        let noted = it.note.as_ref().map(|note| format!("; noted: “{note}”")).unwrap_or_default();
        writeln!(out, "  {at}  near miss{place}, {who}: {why}{noted}")?;
    }
    Ok(())
}
