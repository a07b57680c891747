//! A hold or stop on the live page, told whole.

use maud::{Markup, html};

use super::{calls, charts};
use crate::review::say;
use crate::review::story::{Phone, Story};
use crate::review::timing::LATE_MS;
use crate::safe_text;

/// The story of a hold or stop, to stand beside the review.
pub fn story(story: &Story) -> String {
    let broke = &story.broke;
    safe_text::page(html! {
        h2 tabindex="-1" { @match broke.hold { Some(hold) => { "Hold " (hold) }, None => { "Stop" } } }
        p { strong { (calls::place(broke)) } }
        p {
            @if let Some(fight) = &story.fight { (fight) ", " }
            (broke.at)
            @if broke.phrase.is_some() { ", run " (broke.run) " at " (say::speed(broke.speed)) }
            @if !broke.revision.is_empty() { ", revision " (broke.revision) }
            "."
            @if broke.move_gone { " This move is no longer in the score." }
        }
        h3 { "Called by" }
        ul {
            @for it in &broke.callers {
                li {
                    strong { (it.who) } @if let Some(role) = &it.role { ", " (role) }
                    @if let Some(reason) = &it.reason { ": “" (reason) "”" }
                    @if let Some(screen) = &it.screen { br; span.quiet { "Their screen: " (screen) } }
                }
            }
        }
        @if !broke.notes.is_empty() {
            h3 { "Noted" }
            ul { @for note in &broke.notes { li { (note.says) " (" (note.who) ")" } } }
        }
        p {
            @if broke.hold.is_some() { "Released by " (broke.released_by.as_deref().unwrap_or("nobody")) ". " }
            @match broke.lost_seconds { Some(seconds) => { "To the next start: " (say::seconds(seconds)) "." }, None => { "There was no start after it in this call." } }
        }
        h3 { "What the phones had shown" }
        (lately(&story.phones))
        @if !story.phones.is_empty() { (phones(&story.phones)) }
        @for note in &story.notes { p { (note) } }
        @if !broke.cast.is_empty() {
            p.quiet { "Cast: " @for (at, it) in broke.cast.iter().enumerate() { @if at > 0 { ", " } (it.person) " as " (it.part) } "." }
        }
    })
}

/// The seconds before it, as the phones had them; each mark stands in a list as well, for who does not see.
fn lately(phones: &[Phone]) -> Markup {
    let told: Vec<&Phone> = phones.iter().filter(|phone| !phone.lately.is_empty()).collect();
    html! {
        @if !told.is_empty() {
            figure.lately { (charts::before(&told)) }
            details { summary { "The seconds before, cue by cue" }
                ul.notes { @for phone in &told { li {
                    strong { (phone.who) } ": "
                    @for (at, it) in phone.lately.iter().enumerate() {
                        @if at > 0 { "; " } (format!("{:.1}", it.before_ms / 1e3)) " s before, " (it.shown.as_deref().unwrap_or("a cue")) @if it.late_ms > LATE_MS { " (" (say::ms(Some(it.late_ms))) " late)" }
                    } "."
                } } }
            }
        }
    }
}

fn phones(phones: &[Phone]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="What the phones had shown" { table {
            thead { tr { th scope="col" { "Who" } th scope="col" { "Last cue shown" } th.num scope="col" { "Before" } th.num scope="col" { "Late" } th.num scope="col" { "Usually" } th.num scope="col" { "Clock within" } } }
            tbody { @for it in phones {
                tr {
                    th scope="row" { (it.who) @if let Some(part) = &it.part { br; span.quiet { (part) } } }
                    td {
                        @match (&it.shown, it.cue) { (Some(shown), _) => { (shown) }, (None, Some(cue)) => { "cue " (cue) }, (None, None) => { "nothing reported" } }
                        @if !it.linked { br; strong.worse { "no link at that moment" } }
                    }
                    td.num { (say::ms(it.before_ms)) } td.num { (say::ms(it.late_ms)) } td.num { (say::ms(it.late_median_ms)) } td.num { (say::ms(it.bound_ms)) }
                }
            } }
        } }
    }
}
