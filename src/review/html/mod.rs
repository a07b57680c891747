//! A review as one HTML page that needs nothing else: no script, no picture, no font from anywhere. It prints on A4 and
//! Letter, and every chart stands with a table that says the same. The live page shows the same markup: [`content`] is
//! what stands between its head and its foot, without what is folded away, and [`part`] is one of those folds.

mod calls;
mod charts;
mod fights;
mod near_misses;
mod often;
mod story;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::caution::{CAUTION, HOW_TO_READ};
use super::drill::{Drill, DrillRow};
use super::house::{Filter, Ladder};
use super::phrase::MoveReview;
use super::say;
use super::timing::{LATE_MS, Timing};
use super::whole::Review;
use crate::figure::{self, View};
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
                style { (PreEscaped(STYLE)) (PreEscaped(figure::STYLE)) (PreEscaped(PAPER)) }
            }
            body.report {
                (head(review, name))
                main { (sections(review, ladder, Folds::Whole)) }
            }
        }
    };
    safe_text::page(page)
}

/// What the live page shows of a review: the same as [`page`] without its frame, and with closed folds empty.
pub fn content(review: &Review, ladder: &Ladder) -> String {
    let name = review.production.as_deref().unwrap_or("Fight calls");
    safe_text::page(html! { (head(review, name)) (sections(review, ladder, Folds::OnDemand)) })
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
    Some(safe_text::page(body))
}

fn sections(review: &Review, ladder: &Ladder, folds: Folds) -> Markup {
    html! {
        (drill(&review.drill))
        @for (number, fight) in review.fights.iter().enumerate() {
            (fights::section(number, fight, ladder, &review.ladder_rule, folds))
        }
        (timing(&review.timing))
        section {
            h2 #reading { "How to read this" }
            p { (HOW_TO_READ) }
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
                @if let (Some(first), Some(last)) = (&review.first_day, &review.last_day) {
                    ", " @if first == last { (first) } @else { (first) " to " (last) }
                }
                (filtered(&review.filter)) ". "
                @if totals.runs == 0 { "Nothing was run." } @else {
                    (say::counted(totals.runs, "run", "runs")) ": " (totals.complete) " to the end, " (totals.held) " held, " (totals.stopped) " stopped"
                    @if totals.unfinished > 0 { ", " (totals.unfinished) " cut off or under way" }
                    "."
                }
                @if totals.near_misses > 0 { " " (say::counted(totals.near_misses, "near miss was", "near misses were")) " reported." }
                @if totals.holds_between > 0 { " " (say::counted(totals.holds_between, "hold", "holds")) " while nothing ran." }
                " Times are in " (review.zone) "."
                @if review.live { " The call was going on when this was made." }
            }
            p.caution { (CAUTION) }
            @if !review.notes.is_empty() {
                h2 { "What cannot be told" }
                ul.notes { @for note in &review.notes { li { (note) } } }
            }
            nav aria-label="Parts of this page" {
                a href="#drill" { "What to drill" }
                @for (number, fight) in review.fights.iter().enumerate() { a href=(format!("#f{number}")) { (fight.fight) } }
                a href="#timing" { "Phones" }
                a href="#calls" { "Fight calls" }
                a href="#reading" { "How to read this" }
            }
        }
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

fn drill(drill: &Drill) -> Markup {
    html! {
        section {
            h2 #drill { "What to drill next" }
            @if drill.rows.is_empty() {
                p { "No phrase with enough runs has broken: there is nothing to rank." }
            } @else {
                ol.drill { @for row in drill.rows.iter().take(8) { li { (drill_row(row)) } } }
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

fn drill_row(row: &DrillRow) -> Markup {
    html! {
        strong { (row.phrase) } ", " (row.fight) ". It broke " (say::share(&row.broke)) " times and costs at least "
        (say::seconds(row.least_seconds)) " a run"
        @if let Some(cost) = row.cost_seconds {
            " (a break costs " (say::seconds(cost)) @if row.cost_of_fight { ", as usual in this fight" } ")"
        } "."
        @if !row.worst.is_empty() {
            " Look at " @for (at, it) in row.worst.iter().enumerate() {
                @if at > 0 { "; " } "beat " (it.beat) ", " (it.words) " (" (it.broke) "×)"
            } "."
            (pictures(&row.worst))
        }
    }
}

/// The pictures of some moves, in their order, each with its beat.
fn pictures(moves: &[MoveReview]) -> Markup {
    let drawn = || moves.iter().filter_map(|it| Some((it, it.picture.as_ref()?.small(View::Onlooker))));
    html! {
        @if drawn().next().is_some() {
            div.pictures { @for (it, picture) in drawn() {
                div.picture { (PreEscaped(picture)) span.quiet { "beat " (it.beat) } }
            } }
        }
    }
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
