//! A fight on the page: where it breaks, whether it gets better, its ladder, its revisions, and every break.

use std::collections::BTreeSet;

use maud::{Markup, PreEscaped, html};

use super::often::{SHOWN, often};
use super::{Folds, charts, near_misses};
use crate::review::breaks::Break;
use crate::review::fight::{FightReview, RevisionReview};
use crate::review::ground::Ground;
use crate::review::house::Ladder;
use crate::review::lineage::{MoveAt, PhraseDifference};
use crate::review::model::Model;
use crate::review::phrase::PhraseReview;
use crate::review::say;
use crate::review::split::{Kind, NO_REASON, Splits, kinds, reasons};
use crate::review::statistics::Difference;
use crate::score::model::Point;
use crate::score::words;
use crate::stage::Vec2;
use crate::units::Metres;

/// The section of a fight; `number` makes its anchors.
pub(super) fn section(number: usize, fight: &FightReview, ladder: &Ladder, folds: Folds) -> Markup {
    html! {
        section {
            h2 id=(format!("f{number}")) { (fight.fight) }
            p { (say::counted(fight.runs, "run", "runs")) ". Moves are those of revision " (fight.revision) "." }
            @if !fight.notes.is_empty() || !fight.phrases_gone.is_empty() {
                ul.notes {
                    @for note in &fight.notes { li { (note) } }
                    @for gone in &fight.phrases_gone {
                        li { "“" (gone.phrase) "” is no longer in the score: begun " (gone.reached) "×, broke " (gone.broke) "×." }
                    }
                }
            }
            h3 { "Where it breaks" }
            (by_speed(fight))
            (strips(number, fight))
            (broken_moves(number, fight))
            @for ground in &fight.grounds { (on_the_stage(ground, fight.grounds.len())) }
            (split(&fight.splits, fight.breaks.len()))
            (near_misses::section(&fight.near_misses))
            (folds.fold(&format!("moves-{number}"), &html! { "All moves of " (fight.fight) " as a table" }, || all_moves(fight)))
            h3 { "Whether it gets better" }
            (progress(fight))
            h3 { "Speed ladder" }
            (climb(fight, ladder))
            @if fight.revisions.len() > 1 {
                h3 { "Revisions" }
                @for revision in &fight.revisions { (self::revision(revision)) }
            }
            (folds.fold(&format!("breaks-{number}"), &html! { "Every hold and stop of " (fight.fight) " (" (fight.breaks.len()) ")" }, || all_breaks(fight)))
            (folds.fold(&format!("runs-{number}"), &html! { "Every run of " (fight.fight) ", phrase by phrase" }, || all_runs(fight)))
        }
    }
}

fn anchor(fight: usize, phrase: usize, number: usize) -> String {
    format!("f{fight}p{phrase}m{number}")
}

fn strips(number: usize, fight: &FightReview) -> Markup {
    let moves = || fight.phrases.iter().flat_map(|phrase| &phrase.moves);
    let most = (moves().map(|it| it.reached).max().unwrap_or(0), moves().map(|it| it.broke).max().unwrap_or(0));
    html! {
        p.quiet { "One strip a phrase, from its first beat to its last. Above the line: how often a move was reached. Below it: a wedge for every move at which the fight broke, with how often." }
        @for (at, phrase) in fight.phrases.iter().enumerate() {
            figure.phrase {
                h4 { (phrase.phrase) " " small { "reached " (phrase.reached) "×, broke " (phrase.broke) "×" @if phrase.broke_before_first > 0 { ", " (phrase.broke_before_first) " of it before the first move" } } }
                (charts::strip(phrase, most, |it| anchor(number, at, it)))
            }
        }
    }
}

/// So many moves of a place are named.
const MOVES_NAMED: usize = 3;

/// Where on the stage it breaks: the plan, and a table that says the same.
fn on_the_stage(ground: &Ground, of: usize) -> Markup {
    let place = |at: Vec2| {
        let tenth = |it: f64| Metres((it * 10.0).round() / 10.0 + 0.0);
        words::mark(Point { x: tenth(at.x), y: tenth(at.y) })
    };
    html! {
        h4 { "Where on the stage" @if of > 1 { small { " in " (ground.phrases.iter().map(|it| format!("“{it}”")).collect::<Vec<_>>().join(", ")) } } }
        p.quiet { "The stage from above, the audience below. A disc is a place at which it broke, by where the two stand then; the larger, the more often." @if ground.unplaced > 0 { " " (say::counted(ground.unplaced as usize, "break is", "breaks are")) " at moves of which the score does not say where they are." } }
        @if !ground.places.is_empty() {
            figure.ground { (PreEscaped(ground.picture())) }
            table {
                caption { "Places at which it broke" }
                thead { tr { th.num scope="col" { "Place" } th scope="col" { "Where" } th.num scope="col" { "Broke" } th scope="col" { "At" } } }
                tbody {
                    @for (at, it) in ground.places.iter().enumerate() {
                        tr {
                            th.num scope="row" { (at + 1) } td { (place(it.at)) } td.num { (it.broke) }
                            td {
                                @for of in it.moves.iter().take(MOVES_NAMED) { "“" (of.phrase) "”, beat " (of.beat) ": " (of.words) " (" (of.broke) ")" br; }
                                @if it.moves.len() > MOVES_NAMED { "and at " (say::counted(it.moves.len() - MOVES_NAMED, "other move", "other moves")) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The table behind the strips' wedges.
fn broken_moves(number: usize, fight: &FightReview) -> Markup {
    html! {
        @if fight.phrases.iter().any(has_broken) {
            table {
                caption { "Moves at which it broke" }
                thead { tr { th.num scope="col" { "Beat" } th.words scope="col" { "Move" } th.num scope="col" { "Reached" } th.num scope="col" { "Broke" } th scope="col" { "At" } th scope="col" { "Why" } th scope="col" { "Events" } } }
                @for (at, phrase) in fight.phrases.iter().enumerate().filter(|(_, phrase)| has_broken(phrase)) {
                    tbody {
                        tr.group { th colspan="7" scope="rowgroup" { (phrase.phrase) } }
                        @for it in phrase.moves.iter().filter(|it| it.broke > 0) {
                            @let own: Vec<&Break> = fight.breaks.iter().filter(|broke| broke.phrase.as_deref() == Some(phrase.phrase.as_str()) && broke.move_now == Some(it.number)).collect();
                            tr id=(anchor(number, at, it.number)) {
                                td.num { (it.beat) } td { (it.words) } td.num { (it.reached) } td.num { (it.broke) }
                                td { (often(&kinds(own.iter().map(|broke| say::speed(broke.speed).replace(' ', "\u{a0}"))))) }
                                td { (often(&kinds(own.iter().flat_map(|broke| reasons(broke))))) }
                                td { @for broke in own { a href=(format!("#e{}", broke.event)) { "#" (broke.event) } " " } }
                            }
                        }
                        @for it in &phrase.moves_gone {
                            tr { td.num { "–" } td { (it.words) " (no longer in the score; last in " (it.revision) ")" } td.num { (it.reached) } td.num { (it.broke) } td {} td {} td {} }
                        }
                    }
                }
            }
        } @else { p { "It broke nowhere." } }
    }
}

fn has_broken(phrase: &PhraseReview) -> bool {
    phrase.moves.iter().any(|it| it.broke > 0) || !phrase.moves_gone.is_empty()
}

/// The reasons that were given, and plainly of how many holds and stops there is none.
fn why(splits: &Splits, breaks: usize) -> Markup {
    let given: Vec<Kind> = splits.reasons.iter().filter(|kind| kind.what != NO_REASON).cloned().collect();
    html! {
        p {
            strong { "Why: " } @if given.is_empty() { "no reason was given. " } @else { (often(&given)) ". " }
            (say::of_all(splits.without_reason as usize, breaks, "has no reason", "have no reason")) " "
            (say::of_all(splits.noted as usize, breaks, "has a note", "have a note"))
        }
    }
}

/// How often it broke at which speed, in which revision and with which cast and weapons; why, and who called.
fn split(splits: &Splits, breaks: usize) -> Markup {
    // The newest revisions and the most usual casts; a report is no archive.
    let newest = splits.revisions.len().saturating_sub(SHOWN);
    let groups = [
        ("Speed", splits.speeds.as_slice()),
        ("Weapons", splits.weapons.as_slice()),
        ("Revision", splits.revisions.get(newest..).unwrap_or_default()),
        ("Cast", splits.casts.get(..SHOWN.min(splits.casts.len())).unwrap_or_default()),
    ];
    html! {
        @if !splits.reasons.is_empty() {
            table {
                caption { "How often a run broke (the picture goes from 0 to 100 %)" }
                thead { tr { th scope="col" { "Runs" } th scope="col" { "Of" } th.num scope="col" { "Broke" } th scope="col" { "Interval" } } }
                tbody {
                    @for (what, rows) in groups { @for it in rows {
                        tr { td { (what) } th scope="row" { (it.of) } td.num { (say::share(&it.broke)) } td.chart.beside { (charts::whisker(&it.broke)) span.quiet { (say::share_interval(&it.broke)) } } }
                    } }
                }
            }
            (why(splits, breaks))
            p { strong { "Called by: " } (often(&splits.callers)) "." }
        }
    }
}

/// The table behind the strips' bars.
pub(super) fn all_moves(fight: &FightReview) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Phrase" } th.num scope="col" { "Move" } th.num scope="col" { "Beat" } th scope="col" { "Words" } th.num scope="col" { "Reached" } th.num scope="col" { "Broke" } } }
            tbody {
                @for phrase in &fight.phrases { @for it in &phrase.moves {
                    tr { td { (phrase.phrase) } td.num { (it.number) } td.num { (it.beat) } td { (it.words) } td.num { (it.reached) } td.num { (it.broke) } }
                } }
            }
        }
    }
}

fn progress(fight: &FightReview) -> Markup {
    html! {
        p.quiet.before-table { "Clean runs by the clock with their 95 % interval (the picture goes from 0 to 100 %), and the last 24 runs: as high as they were fast, the line is performance tempo; a dot is clean, a cross broke, a ring is unfinished." }
        table {
            thead { tr { th scope="col" { "Phrase" } th.num scope="col" { "Clean" } th scope="col" { "Interval" } th scope="col" { "Breaks a minute" } th scope="col" { "Time lost" } th scope="col" { "Last runs" } } }
            @for phrase in &fight.phrases {
                tbody {
                    tr {
                        th scope="row" { (phrase.phrase) }
                        td.num { (say::share(&phrase.clean)) }
                        td.chart { (charts::whisker(&phrase.clean)) span.quiet { (say::share_interval(&phrase.clean)) } }
                        td { (say::per_minute(&phrase.breaks)) }
                        td { (lost(phrase)) }
                        td.chart { (charts::climb(&phrase.visits)) }
                    }
                    tr { td.say colspan="6" { strong { "Better or worse" } (lately(&phrase.model)) } }
                }
            }
        }
    }
}

fn lost(phrase: &PhraseReview) -> String {
    match phrase.lost_known {
        0 => "–".to_owned(),
        known => format!("{} in {known}", say::seconds(phrase.lost_seconds)),
    }
}

/// What can be said of better and worse, a line for each thing that is looked at.
fn lately(model: &Model) -> Markup {
    html! {
        @if model.effects.is_empty() { span.quiet { "one week, one speed, one cast, one text: nothing to compare" } }
        @for effect in &model.effects {
            div {
                (effect.of) ": " span class=(class(effect.verdict)) { (effect.answer()) }
                @if let Some(figures) = effect.figures() { span.quiet { " (" (figures) ")" } }
            }
        }
    }
}

fn class(verdict: Difference) -> &'static str {
    match verdict {
        Difference::Better => "better",
        Difference::Worse => "worse",
        Difference::Same | Difference::Unclear | Difference::TooFew => "quiet",
    }
}

/// How often each phrase broke at each speed: a picture and its figures in one.
fn by_speed(fight: &FightReview) -> Markup {
    let speeds: BTreeSet<Option<u16>> = fight.phrases.iter().flat_map(|it| &it.by_speed).map(|it| it.speed).collect();
    let at = |phrase: &PhraseReview, speed: Option<u16>| {
        phrase.by_speed.iter().find(|it| it.speed == speed).map(|it| it.clean)
    };
    html! {
        @if !speeds.is_empty() {
            div.scroll { table.narrow {
                caption { "Broken runs of all runs, by speed: the bar is all of them, its dark part those that broke" }
                thead { tr { th scope="col" { "Phrase" } @for speed in &speeds { th.num scope="col" { (say::speed(*speed)) } } } }
                tbody { @for phrase in &fight.phrases {
                    tr {
                        th scope="row" { (phrase.phrase) }
                        @for speed in &speeds {
                            @match at(phrase, *speed) {
                                Some(clean) => { td.num { (charts::part(clean.of - clean.count, clean.of)) (clean.of - clean.count) "/" (clean.of) } },
                                None => { td.num { "–" } },
                            }
                        }
                    }
                } }
            } }
        }
    }
}

fn climb(fight: &FightReview, ladder: &Ladder) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Phrase" } th scope="col" { "Steps" } th scope="col" { "With" } th scope="col" { "The rule says" } } }
            tbody {
                @for phrase in &fight.phrases {
                    @for (at, standing) in phrase.ladders.iter().enumerate() {
                        tr {
                            @if at == 0 { th scope="row" { (phrase.phrase) } } @else { td {} }
                            td.chart { (charts::rungs(ladder, standing)) }
                            td { (standing.cast.join(", ")) @if let Some(weapons) = &standing.weapons { "; weapons: " (weapons) } }
                            td { (standing.says) }
                        }
                    }
                }
            }
        }
    }
}

fn revision(revision: &RevisionReview) -> Markup {
    html! {
        p { strong { "Revision " (revision.revision) } ", first run " (revision.first_used) ", " (say::counted(revision.runs, "run", "runs")) "."
            @if !revision.has_not_run.is_empty() { " Has not run it: " (revision.has_not_run.join(", ")) "." } @else if revision.runs > 0 { " Everybody of the cast has run it." } }
        @if let Some(change) = &revision.change {
            ul {
                @for phrase in &change.phrases_added { li { "New phrase: " (phrase) } }
                @for says in &change.looks_like { li { (says) } }
                @for phrase in &change.phrases { li { (phrase.phrase) ": " (differences(phrase)) } }
                @if change.phrases.is_empty() && change.phrases_added.is_empty() && change.looks_like.is_empty() { li { "No move changed." } }
            }
        }
    }
}

fn differences(phrase: &PhraseDifference) -> String {
    let at = |it: &MoveAt| format!("beat {}, {}", it.beat, it.words);
    let mut said: Vec<String> = Vec::new();
    said.extend(phrase.added.iter().map(|it| format!("new at {}", at(it))));
    said.extend(phrase.gone.iter().map(|it| format!("gone from {}", at(it))));
    said.extend(
        phrase.changed.iter().map(|(from, to)| format!("at beat {} now {} (was {})", to.beat, to.words, from.words)),
    );
    match phrase.moved.as_slice() {
        [] => {}
        [(from, to)] => said.push(format!("{} moved from beat {} to {}", to.words, from.beat, to.beat)),
        several => said.push(format!("{} moves on other beats", several.len())),
    }
    said.extend(phrase.beats.map(|(from, to)| format!("{from:.0} beats, now {to:.0}")));
    said.join("; ") + "."
}

/// Every hold and stop of a fight.
pub(super) fn all_breaks(fight: &FightReview) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "When" } th scope="col" { "Where" } th.num scope="col" { "Speed" } th scope="col" { "Who and why" } th scope="col" { "Notes" } th scope="col" { "Released" } th.num scope="col" { "Lost" } th scope="col" { "Cast" } } }
            tbody { @for broke in &fight.breaks { (break_row(broke)) } }
        }
    }
}

fn break_row(broke: &Break) -> Markup {
    html! {
        tr id=(format!("e{}", broke.event)) {
            td { (broke.at) br; span.quiet { "#" (broke.event) ", run " (broke.run) ", " (broke.revision) } }
            td { (super::calls::place(broke)) @if broke.move_gone { br; span.quiet { "This move is no longer in the score." } } }
            td.num { (say::speed(broke.speed)) }
            td { (super::calls::callers(broke)) }
            td { @for note in &broke.notes { (note.says) " (" (note.who) ") " } }
            td { (broke.released_by.as_deref().unwrap_or(if broke.hold.is_some() { "nobody" } else { "–" })) }
            td.num { (say::maybe_seconds(broke.lost_seconds)) }
            td { @for it in &broke.cast { (it.person) " as " (it.part) br; } }
        }
    }
}

/// The table behind the last runs.
pub(super) fn all_runs(fight: &FightReview) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "Phrase" } th.num scope="col" { "Run" } th scope="col" { "Day" } th.num scope="col" { "Speed" } th scope="col" { "Outcome" } th.num scope="col" { "Moves" } th.num scope="col" { "Ran" } th.num scope="col" { "Lost" } } }
            tbody { @for phrase in &fight.phrases { @for it in &phrase.visits {
                tr { td { (phrase.phrase) } td.num { (it.run) } td { (it.day.as_deref().unwrap_or("?")) } td.num { (say::speed(it.speed)) } td { (it.outcome.word()) } td.num { (it.reached) "/" (it.of) } td.num { (say::maybe_seconds(it.seconds)) } td.num { (say::maybe_seconds(it.lost_seconds)) } }
            } } }
        }
    }
}
