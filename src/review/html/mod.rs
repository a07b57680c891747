//! A review as one HTML page that needs nothing else: no script, no picture, no font from anywhere. It prints on A4 and
//! Letter, and every chart stands with a table that says the same. The live page shows the same markup: [`content`] is
//! what stands between its head and its foot, without what is folded away, and [`part`] is one of those folds.

mod calls;
mod charts;
mod fights;
mod near_misses;
mod often;
mod story;
mod tonight;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::caution::{CAUTION, HOW_TO_READ};
use super::house::{Filter, Ladder};
use super::model::RULE as MODEL_RULE;
use super::say;
use super::timing::{LATE_MS, Timing};
use super::whole::Review;
use crate::figure;
use crate::safe_text;

pub use story::story;

/// How reviews look: the live page's style sheet takes it in as well.
pub(super) const STYLE: &str = include_str!("../../../clients/review/report.css");
/// What a page on paper needs besides.
pub(super) const PAPER: &str = include_str!("paper.css");

/// Whether what is folded away stands in the page.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Folds {
    /// All of it: the page needs nothing else.
    Whole,
    /// Only its headings; the bodies are asked for when they are opened.
    OnDemand,
}

impl Folds {
    /// A fold. Its name is what [`part`] is asked for.
    fn fold(self, name: &str, summary: &Markup, body: impl FnOnce() -> Markup) -> Markup {
        html! {
            @match self {
                Folds::Whole => { details { summary { (summary) } (body()) } },
                Folds::OnDemand => { details data-part=(name) { summary { (summary) } } },
            }
        }
    }
}

/// The page. `ladder` is the house's, for the pictures of its steps.
pub fn page(review: &Review, ladder: &Ladder) -> String {
    let name = review.production.as_deref().unwrap_or("Fight calls");
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (name) ": review" }
                style { (PreEscaped(STYLE)) (PreEscaped(figure::STYLE)) (PreEscaped(PAPER)) (PreEscaped(margins(&format!("{name}: review{}", days(review))))) }
            }
            body.report {
                (head(review, name))
                main { (sections(review, ladder, Folds::Whole)) }
            }
        }
    };
    safe_text::page(PreEscaped(in_boxes(&page.into_string())))
}

/// The margins of every printed page, A4 or Letter: what it belongs to, and which page of how many it is.
pub(super) fn margins(head: &str) -> String {
    let head: String = head.chars().filter(|letter| !letter.is_control() && !"\\\"<>".contains(*letter)).collect();
    let foot = "font-size: 9pt; vertical-align: top; padding-top: 2mm;";
    format!(
        "@page {{ margin: 15mm 13mm 24mm; @bottom-left {{ content: \"{head}\"; {foot} }} @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); {foot} }} }}"
    )
}

/// Every table that may be wider than the glass in a box that moves by itself; those that fit say so.
fn in_boxes(markup: &str) -> String {
    let mut out = String::with_capacity(markup.len() + markup.len() / 50);
    let mut rest = markup;
    while let Some((before, after)) = rest.split_once("<table>") {
        let (table, behind) = after.split_once("</table>").unwrap_or((after, ""));
        out.push_str(before);
        for piece in ["<div class=\"scroll\"><table>", table, "</table></div>"] {
            out.push_str(piece);
        }
        rest = behind;
    }
    out.push_str(rest);
    out
}

/// What the live page shows of a review: the same as [`page`] without its frame, and with closed folds empty.
pub fn content(review: &Review, ladder: &Ladder) -> String {
    let name = review.production.as_deref().unwrap_or("Fight calls");
    let markup = html! { (head(review, name)) (sections(review, ladder, Folds::OnDemand)) };
    safe_text::page(PreEscaped(in_boxes(&markup.into_string())))
}

/// The body of a fold of [`content`], by its name; nothing when the review has no such fold.
pub fn part(review: &Review, name: &str) -> Option<String> {
    let (what, number) = name.split_once('-')?;
    let number: usize = number.parse().ok()?;
    let fight = || review.fights.get(number);
    let body = match what {
        "moves" => fights::all_moves(fight()?),
        "breaks" => fights::all_breaks(fight()?),
        "runs" => fights::all_runs(fight()?),
        "call" => calls::record(review.calls.get(number)?),
        _ => return None,
    };
    Some(safe_text::page(PreEscaped(in_boxes(&body.into_string()))))
}

fn sections(review: &Review, ladder: &Ladder, folds: Folds) -> Markup {
    html! {
        (tonight::section(review, ladder))
        (told(review))
        (tonight::costs(&review.drill))
        @for (number, fight) in review.fights.iter().enumerate() {
            (fights::section(number, fight, ladder, folds))
        }
        (timing(&review.timing))
        section {
            h2 #reading { "How to read this" }
            p { (HOW_TO_READ) }
            h3 { "How better and worse are told" }
            p { (MODEL_RULE) }
            h3 { "How the order is made" }
            p { (review.order.rule) }
            h3 { "How the ladder is climbed" }
            p { (review.ladder_rule) }
        }
        (calls::section(review, folds))
    }
}

fn head(review: &Review, name: &str) -> Markup {
    let totals = &review.totals;
    html! {
        header {
            h1 { (name) }
            p {
                "Review of " (say::counted(totals.calls, "fight call", "fight calls"))
                (days(review))
                (filtered(&review.filter)) ". "
                @if totals.runs == 0 { "Nothing was run." } @else {
                    (say::counted(totals.runs, "run", "runs")) ": " (totals.complete) " to the end, " (totals.held) " held, " (totals.stopped) " stopped"
                    @if totals.unfinished > 0 { ", " (totals.unfinished) " cut off or under way" }
                    "."
                }
                @if totals.near_misses > 0 { " " (say::counted(totals.near_misses, "near miss was", "near misses were")) " reported." }
                @if totals.holds_between > 0 { " " (say::counted(totals.holds_between, "hold", "holds")) " while nothing ran." }
                " Times are in " (review.zone) "."
                @if let Some(older) = &review.older { " " (older.says()) }
                @if review.live { " The call was going on when this was made." }
            }
        }
    }
}

/// What stands under tonight's answer: the caution, what cannot be told, and where everything else is.
fn told(review: &Review) -> Markup {
    html! {
        section.told {
            p.caution { (CAUTION) }
            @if !review.notes.is_empty() {
                h2 { "What cannot be told" }
                ul.notes { @for note in &review.notes { li { (note) } } }
            }
            nav aria-label="Parts of this page" {
                a href="#drill" { "What to drill" }
                a href="#ready" { "Who is ready" }
                @for (number, fight) in review.fights.iter().enumerate() { a href=(format!("#f{number}")) { (fight.fight) } }
                a href="#timing" { "Phones" }
                a href="#calls" { "Fight calls" }
                a href="#reading" { "How to read this" }
            }
        }
    }
}

/// The days with runs, as the rest of a sentence.
fn days(review: &Review) -> String {
    match (&review.first_day, &review.last_day) {
        (Some(first), Some(last)) if first == last => format!(", {first}"),
        (Some(first), Some(last)) => format!(", {first} to {last}"),
        _ => String::new(),
    }
}

/// What was asked for, as the rest of a sentence.
fn filtered(filter: &Filter) -> String {
    let mut said = String::new();
    for (words, value) in [
        (", only ", &filter.fight),
        (", only the phrase ", &filter.phrase),
        (", only with the weapons ", &filter.weapons),
    ] {
        if let Some(value) = value {
            said.push_str(&format!("{words}“{value}”"));
        }
    }
    said
}

fn timing(timing: &Timing) -> Markup {
    html! {
        section {
            h2 #timing { "Phones and network" }
            @if timing.members.is_empty() { p { "No phone reported anything." } } @else {
                p.quiet.before-table { "The newest " (say::counted(timing.runs, "run", "runs")) ". The picture goes from the middle lateness to that of one cue in twenty; the upright line is " (format!("{LATE_MS:.0}")) " ms, the whole is 150 ms." }
                table {
                    thead { tr { th scope="col" { "Phone" } th.num scope="col" { "Cues" } th scope="col" { "Lateness" } th.num scope="col" { "Middle" } th.num scope="col" { "One in 20" } th.num scope="col" { "Clock within" } th.num scope="col" { "Links lost" } th scope="col" { "What it means" } } }
                    tbody {
                        @for it in &timing.members {
                            tr {
                                th scope="row" { (it.who) }
                                td.num { (it.reports) }
                                td.chart { (charts::lateness(it)) }
                                td.num { (say::ms(it.late_median_ms)) }
                                td.num { (say::ms(it.late_p95_ms)) }
                                td.num { (say::ms(it.bound_p95_ms)) }
                                td.num { (it.links_lost) }
                                td { (it.says) }
                            }
                        }
                    }
                }
                p { (timing.says) }
            }
        }
    }
}
