//! What the page answers first: what to drill at the next call, what is new, and who is ready for what.

use maud::{Markup, PreEscaped, html};

use super::charts;
use crate::figure::View;
use crate::review::drill::Drill;
use crate::review::house::Ladder;
use crate::review::news::News;
use crate::review::order::{CallOrder, Proposed, Reason};
use crate::review::phrase::MoveReview;
use crate::review::ready::{Ready, ReadyRow};
use crate::review::say;
use crate::review::whole::Review;

/// So many lines of the order have pictures.
const PICTURED: usize = 3;

/// The answer: in three lines, then whole.
pub(super) fn section(review: &Review, ladder: &Ladder) -> Markup {
    html! {
        div.tonight {
            (answer(review, ladder))
            section.order {
                h2 #drill { "What to drill next" }
                (order(&review.order, &|row| pictured(review, row)))
            }
            section.new { (news(&review.news)) }
            section.readiness { (ready(&review.ready, ladder)) }
        }
    }
}

/// Tonight's answer in three lines.
fn answer(review: &Review, ladder: &Ladder) -> Markup {
    let first = |it: &&ReadyRow| it.first;
    let phrases = review.ready.rows.iter().filter(first).count();
    let standing = review.ready.rows.iter().filter(first).filter(|it| it.step.is_some()).count();
    let top = ladder.steps.last().copied();
    let at_top = review.ready.rows.iter().filter(first).filter(|it| it.step.is_some() && it.step == top).count();
    html! {
        @if phrases > 0 {
            ul.answer aria-label="In three lines" {
                @match review.order.rows.first() {
                    Some(row) => { li { a href="#drill" { "Drill" } " " strong { (row.first) } " at " (row.percent) " %, " (row.minutes) " min; "
                        (say::counted(review.order.rows.len(), "phrase", "phrases")) ", " (review.order.minutes) " min in all." } },
                    None => { li { a href="#drill" { "Drill" } " nothing in particular." } },
                }
                li { a href="#new" { "New" } @match review.news.items.first() { Some(item) => { " " (item) }, None => { " nothing." } } }
                li { a href="#ready" { "Ready" } " " (standing) " of " (phrases) " phrases stand on a step"
                    @if let Some(top) = top { ", " (at_top) " of them on " (top) " %" } " with the cast of their newest run." }
            }
        }
    }
}

fn order(order: &CallOrder, pictures: &dyn Fn(&Proposed) -> Markup) -> Markup {
    html! {
        @if order.rows.is_empty() { p { "Nothing speaks for any phrase yet." } } @else {
            ol.drill {
                @for (at, row) in order.rows.iter().enumerate() {
                    li {
                        strong { (row.first) @if row.last != row.first { " to " (row.last) } } ", " (row.fight) ": " (row.says()) ". "
                        span.why { (row.why) }
                        @if at < PICTURED { (pictures(row)) }
                    }
                }
            }
        }
    }
}

/// The pictures of the moves that a line of the order speaks of.
fn pictured(review: &Review, row: &Proposed) -> Markup {
    let fights = review.fights.iter().filter(|fight| fight.fight == row.fight);
    let phrase = fights.flat_map(|fight| &fight.phrases).find(|phrase| phrase.phrase == row.first);
    let beats: Vec<&str> = row.reasons.iter().filter_map(beat).collect();
    let moves = phrase.map_or(&[][..], |phrase| phrase.moves.as_slice());
    pictures(moves.iter().filter(|it| beats.contains(&it.beat.as_str()) && row.why.contains(&it.words)))
}

/// The beat of the move that a reason speaks of.
fn beat(reason: &Reason) -> Option<&str> {
    match reason {
        Reason::Broke { worst, .. } => worst.as_ref().map(|(beat, ..)| beat.as_str()),
        Reason::Tempo(limit) => Some(&limit.beat),
        _ => None,
    }
}

/// The pictures of some moves, in their order, each with its beat.
fn pictures<'m>(moves: impl Iterator<Item = &'m MoveReview>) -> Markup {
    let drawn: Vec<(&MoveReview, String)> =
        moves.filter_map(|it| Some((it, it.picture.as_ref()?.small(View::Onlooker)))).collect();
    html! {
        @if !drawn.is_empty() {
            div.pictures { @for (it, picture) in &drawn {
                div.picture { (PreEscaped(picture)) span.quiet { "beat " (it.beat) } }
            } }
        }
    }
}

fn news(news: &News) -> Markup {
    html! {
        h2 #new { "What is new" }
        @match &news.day {
            None => { p { "Nothing was run yet." } },
            Some(day) => {
                p.quiet { "On " (day) @if let Some(since) = &news.since { ", against everything up to " (since) } "." }
                ul.notes { @for item in &news.items { li { (item) } } }
            }
        }
    }
}

fn ready(ready: &Ready, ladder: &Ladder) -> Markup {
    let fights: Vec<&str> = ready.rows.iter().map(|row| row.fight.as_str()).collect();
    html! {
        h2 #ready { "Who is ready for what" }
        @if ready.rows.is_empty() { p { "Nothing was run yet." } } @else {
            p.quiet.before-table { "What was seen, and when. It permits nothing: the fight director decides." }
            table.fits {
                thead { tr { th scope="col" { "Phrase, with whom" } th scope="col" { "Stands on" } th scope="col" { "Seen" } } }
                tbody { @for (at, row) in ready.rows.iter().enumerate() {
                    @if at == 0 || fights.get(at - 1) != fights.get(at) { tr.fight { th colspan="3" scope="colgroup" { (row.fight) } } }
                    (ready_row(row, ladder))
                } }
            }
            @if ready.left_out > 0 { p.quiet { (say::counted(ready.left_out as usize, "older cast is", "older casts are")) " left out; the speed ladder below has all." } }
        }
    }
}

fn ready_row(row: &ReadyRow, ladder: &Ladder) -> Markup {
    html! {
        tr {
            th scope="row" {
                @if row.first { (row.phrase) br; }
                span.quiet { @if !row.first { "with " } (row.with.join(", ")) }
            }
            td.step {
                @match row.step { Some(step) => { strong { (step) " %" } }, None => { "no step" } }
                (charts::steps(ladder, row.step))
                @if let Some(next) = row.may_try { span.quiet { "may try " (next) " %" } }
            }
            td { (row.seen) }
        }
    }
}

/// What breaks cost at least, phrase by phrase: a table behind the order.
pub(super) fn costs(drill: &Drill) -> Markup {
    html! {
        @if !drill.rows.is_empty() || !drill.too_few.is_empty() {
            section {
                h2 { "What breaks cost" }
                @if !drill.rows.is_empty() {
                    table.fits {
                        thead { tr { th scope="col" { "Phrase" } th.num scope="col" { "Broke" } th.num scope="col" { "A break costs" } th.num scope="col" { "At least, a run" } } }
                        tbody { @for row in &drill.rows {
                            tr {
                                th scope="row" { (row.phrase) br; span.quiet { (row.fight) } }
                                td.num { (say::share(&row.broke)) }
                                td.num { (say::maybe_seconds(row.cost_seconds)) @if row.cost_of_fight { br; span.quiet { "usual here" } } }
                                td.num { (say::seconds(row.least_seconds)) }
                            }
                        } }
                    }
                }
                @if !drill.too_few.is_empty() {
                    p { "Too few runs to rank: "
                        @for (at, (fight, phrase, runs)) in drill.too_few.iter().enumerate() {
                            @if at > 0 { "; " } (phrase) " (" (fight) ", " (say::counted(*runs as usize, "run", "runs")) ")"
                        } "." }
                }
                p.quiet { (drill.rule) }
            }
        }
    }
}
