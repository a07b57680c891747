//! The fight calls on the page: the newest one whole, with room for a signature; the others to open.

use maud::{Markup, html};

use super::{Folds, near_misses};
use crate::review::breaks::Break;
use crate::review::evening::OrderRow;
use crate::review::record::{CallRecord, Check, Person};
use crate::review::say;
use crate::review::split::NO_REASON;
use crate::review::whole::Review;

pub(super) fn section(review: &Review, folds: Folds) -> Markup {
    html! {
        section.call {
            h2 #calls { "Fight calls" }
            @match review.calls.split_last() {
                None => { p { "There was none." } },
                Some((newest, others)) => {
                    (record(newest))
                    @for (number, call) in others.iter().enumerate().rev() {
                        (folds.fold(&format!("call-{number}"), &summary(call), || record(call)))
                    }
                }
            }
        }
    }
}

fn summary(call: &CallRecord) -> Markup {
    html! { (call.day) ", " (call.from) " to " (call.to) ": " (say::counted(call.runs.len(), "run", "runs")) ", " (say::counted(call.breaks.len(), "break", "breaks")) }
}

/// The record of one call.
pub(super) fn record(call: &CallRecord) -> Markup {
    html! {
        h3 { "Fight call of " (call.day) ", " (call.from) " to " (call.to) }
        p { strong { "Present: " } (people(&call.present)) "." }
        p { strong { "Absent: " } @if call.absent.is_empty() { "nobody" } @else { (people(&call.absent)) } "." }
        @if !call.understudies.is_empty() {
            p { strong { "On for others: " } @for (at, it) in call.understudies.iter().enumerate() { @if at > 0 { "; " } (it.who) " as " (it.part) " in " (it.fight) " (usually " (it.usually) ")" } "." }
        }
        @if call.restarts > 0 { p { "The server was started anew " (say::counted(call.restarts as usize, "time", "times")) " in the middle of this call." } }
        (checks(&call.checks))
        (order(&call.order))
        (runs(call))
        (breaks(call))
        (near_misses::section(&call.near_misses))
        p { @match &call.ended_by { Some(who) => { "Ended at the desk by " (who) "." }, None => { "Nobody ended this call at the desk." } } }
        @if let Some(who) = &call.signed_by { p { strong { "Signed at the desk: " } (who) ", " (call.day) ", " (call.to) "." } }
        div.sign { div { "Stage manager, date" } div { "Fight captain, date" } }
    }
}

fn people(people: &[Person]) -> String {
    if people.is_empty() {
        return "nobody that is known".to_owned();
    }
    let one = |it: &Person| {
        let since = it.since.as_ref().map_or_else(String::new, |since| format!(", since {since}"));
        format!("{} ({}{since})", it.who, it.part.as_ref().unwrap_or(&it.role))
    };
    people.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn checks(checks: &[Check]) -> Markup {
    html! {
        @if checks.is_empty() {
            p { strong { "Checks before the call: " } "none are listed in production.toml, and none was signed." }
        } @else {
            table {
                caption { "Checks before the call" }
                thead { tr { th scope="col" { "Check" } th scope="col" { "Signed by" } th scope="col" { "At" } th scope="col" { "Note" } } }
                tbody { @for it in checks {
                    tr {
                        td { (it.check) }
                        td { @match &it.signed_by { Some(who) => { (who) @if !it.in_order { strong { " – not in order" } } }, None => { strong.worse { "not signed" } } } }
                        td { (it.at.as_deref().unwrap_or("–")) }
                        td { (it.note.as_deref().unwrap_or("")) }
                    }
                } }
            }
        }
    }
}

fn order(order: &[OrderRow]) -> Markup {
    html! {
        @if !order.is_empty() {
            table {
                caption { "The order of the evening" }
                thead { tr { th.num scope="col" { "No." } th scope="col" { "What" } th scope="col" { "Done" } th scope="col" { "Runs" } } }
                tbody { @for (at, it) in order.iter().enumerate() {
                    tr {
                        td.num { (at + 1) }
                        td { (it.says) }
                        td { @if it.done { "done" } @else { strong { "not done" } } }
                        td { (run_numbers(&it.runs)) }
                    }
                } }
            }
        }
    }
}

fn run_numbers(runs: &[u32]) -> String {
    if runs.is_empty() {
        return "–".to_owned();
    }
    runs.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

fn runs(call: &CallRecord) -> Markup {
    html! {
        @if call.runs.is_empty() { p { "Nothing was run." } } @else {
            table {
                caption { "Runs" }
                thead { tr { th.num scope="col" { "Run" } th scope="col" { "At" } th scope="col" { "Fight" } th scope="col" { "From" } th scope="col" { "To" } th.num scope="col" { "Speed" } th scope="col" { "Came" } } }
                tbody { @for it in &call.runs {
                    tr { td.num { (it.run) } td.clock { (it.at) } td { (it.fight) @if let Some(weapons) = &it.weapons { ", weapons: " (weapons) } } td { (it.from) @if let Some(number) = it.from_move { ", move " (number) } } td { (it.to) } td.num { (say::speed(it.speed)) } td { (it.how.words()) } }
                } }
            }
        }
    }
}

fn breaks(call: &CallRecord) -> Markup {
    html! {
        @if call.breaks.is_empty() { p { "No hold and no stop." } } @else {
            table {
                caption { "Holds and stops" }
                thead { tr { th scope="col" { "At" } th scope="col" { "What" } th scope="col" { "Where" } th.num scope="col" { "Speed" } th scope="col" { "Who and why" } th scope="col" { "Notes" } th scope="col" { "Released by" } } }
                tbody { @for it in &call.breaks {
                    tr {
                        td.clock { (it.at.split(' ').next_back().unwrap_or("")) }
                        td { @match it.hold { Some(hold) => { "hold " (hold) }, None => { (it.kind) } } }
                        td { (place(it)) }
                        td.num { (if it.phrase.is_some() { say::speed(it.speed) } else { "–".to_owned() }) }
                        td { (callers(it)) }
                        td { @for note in &it.notes { (note.says) " (" (note.who) ") " } }
                        td { (it.released_by.as_deref().unwrap_or(if it.hold.is_some() { "nobody" } else { "–" })) }
                    }
                } }
            }
        }
    }
}

/// Where a break was.
pub(super) fn place(broke: &Break) -> Markup {
    html! {
        @match (&broke.phrase, &broke.beat) {
            (Some(phrase), Some(beat)) => { (phrase) ", beat " (beat) @if let Some(words) = &broke.words { ": " (words) }
                @if !broke.also.is_empty() { span.quiet { " (also under way: " (broke.also.join("; ")) ")" } } },
            _ => { "while nothing ran" },
        }
    }
}

/// Who called it and why, and what their screens showed where that was elsewhere.
pub(super) fn callers(broke: &Break) -> Markup {
    html! {
        @match (&broke.reason, &broke.reason_by) {
            (Some(reason), Some(by)) if broke.explained => { strong { (reason) } span.quiet { " (" (by) ")" } br; }
            (None, _) => { span.quiet { (NO_REASON) } br; }
            _ => {}
        }
        @for (at, it) in broke.callers.iter().take(6).enumerate() {
            @if at > 0 { br; }
            (it.who) @if let Some(reason) = &it.reason { ": “" (reason) "”" }
            @if let Some(screen) = it.screen.as_ref().filter(|screen| !is_at(broke, screen)) { span.quiet { " (screen: " (screen) ")" } }
        }
        @if broke.callers.len() > 6 { br; "and " (broke.callers.len() - 6) " more" }
    }
}

/// True when a screen showed what the server had.
fn is_at(broke: &Break, screen: &str) -> bool {
    let here = broke.phrase.as_ref().zip(broke.beat.as_ref()).map(|(phrase, beat)| format!("{phrase}, beat {beat}"));
    here.is_some_and(|here| screen == here || screen.starts_with(&format!("{here}: ")))
}
