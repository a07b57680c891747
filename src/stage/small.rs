//! Small plans for print and for the review: the stage from above with a few large marks on it, each with letters or a number
//! that the words beside it explain. Black on white, nothing told by colour.

use maud::{Markup, html};

use super::picture::{Frame, line, number, people, things, whole};
use super::plan::{Layout, StagePlan};
use super::track::Tracks;
use super::vec2::Vec2;
use crate::safe_text;
use crate::score::model::Score;
use crate::score::vocabulary::Vocabulary;

/// How large letters are on a small plan, metres: on a stage of twelve metres, printed six centimetres wide, 3.6 mm.
/// The style sheet of the reports says the same, whose letters are those of its own charts else.
const LETTERS: f64 = 0.9;
/// How large the disc of a person is, metres. Larger than they are, so that it can be seen.
const DISC: f64 = 0.6;

/// A small plan, and what its letters stand for.
#[derive(Clone, Debug, PartialEq)]
pub struct SmallPlan {
    /// The plan, as SVG.
    pub svg: String,
    /// What its letters stand for: `A ALDER, B BRYONY`.
    pub key: String,
}

/// Something marked on a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// Where.
    pub at: Vec2,
    /// Its number in the table beside it.
    pub number: usize,
    /// How often.
    pub times: u64,
}

/// Where everybody stands when each phrase begins, a plan a phrase; nothing where nobody has a mark yet.
pub fn at_the_marks(fight: &Score, vocabulary: &Vocabulary, stage: &StagePlan) -> Vec<Option<SmallPlan>> {
    let Ok(plan) = whole(fight) else { return Vec::new() };
    let tracks = Tracks::of(fight, vocabulary, &plan, stage);
    let letters = letters(fight);
    let of_phrase = |(number, phrase): (usize, &crate::timeline::PlannedPhrase)| {
        let time = phrase.time.0 as f64 / 1e6;
        let layout = tracks.layout_of_phrase(number)?;
        let there: Vec<_> = people(fight, &tracks, time)
            .into_iter()
            .zip(&letters)
            .filter_map(|((name, presence), letters)| Some((name, letters, presence?)))
            .collect();
        if there.is_empty() {
            return None;
        }
        let marks = there.iter().map(|(_, letters, it)| person(letters, it.at, it.facing));
        let key: Vec<String> = there.iter().map(|(name, letters, _)| format!("{letters} {name}")).collect();
        let key = key.join(", ");
        let title = format!("The stage from above at the start of “{}”: {key}", phrase.name);
        Some(SmallPlan { svg: drawn(layout, &title, html! { @for mark in marks { (mark) } }), key })
    };
    plan.phrases().iter().enumerate().map(of_phrase).collect()
}

/// The stage from above with what is marked on it: the more often, the larger.
pub fn marked(layout: &Layout, title: &str, marks: &[Marked]) -> String {
    let most = marks.iter().map(|it| it.times).max().unwrap_or(1).max(1) as f64;
    let disc = |it: &Marked| {
        // By area, as a count is read.
        let radius = 0.5 + 0.4 * (it.times as f64 / most).sqrt();
        html! {
            circle cx=(number(it.at.x)) cy=(number(-it.at.y)) r=(number(radius)) fill="#000" stroke="#fff" stroke-width="0.06" {}
            text.on-dark x=(number(it.at.x)) y=(number(0.32 - it.at.y)) text-anchor="middle" font-weight="bold" fill="#fff" { (it.number) }
        }
    };
    // The largest lie under the smaller.
    let mut sorted: Vec<&Marked> = marks.iter().collect();
    sorted.sort_by_key(|it| std::cmp::Reverse(it.times));
    drawn(layout, title, html! { @for mark in sorted { (disc(mark)) } })
}

fn drawn(layout: &Layout, title: &str, marks: Markup) -> String {
    let frame = Frame::around(layout, &[]);
    safe_text::page(html! {
        svg.plan xmlns="http://www.w3.org/2000/svg" viewBox=(frame.view_box()) role="img" aria-label=(title)
            font-family="sans-serif" font-size=(number(LETTERS)) stroke-width="0.05" {
            (frame.ground())
            (things(layout, false))
            (marks)
        }
    })
}

fn person(letters: &str, at: Vec2, facing: Option<f64>) -> Markup {
    html! {
        @if let Some(facing) = facing { (line(at, at + Vec2::along(facing) * (DISC + 0.35), "0.14", "#000", None)) }
        circle cx=(number(at.x)) cy=(number(-at.y)) r=(number(DISC)) fill="#fff" stroke="#000" stroke-width="0.08" {}
        text x=(number(at.x)) y=(number(0.32 - at.y)) text-anchor="middle" font-weight="bold" fill="#000" { (letters) }
    }
}

/// As few first letters of each name as tell it from all others; a number for who has none.
fn letters(fight: &Score) -> Vec<String> {
    let fighters = fight.fighters.iter().map(|it| it.name.as_str());
    let names: Vec<&str> = fighters.chain(fight.bystanders.iter().map(|it| it.name.as_str())).collect();
    let first = |name: &str, many: usize| name.chars().take(many).collect::<String>();
    let of = |(number, name): (usize, &&str)| {
        let alone = |many: &usize| names.iter().filter(|it| first(it, *many) == first(name, *many)).count() == 1;
        (1..=2).find(alone).map_or_else(|| (number + 1).to_string(), |many| first(name, many))
    };
    names.iter().enumerate().map(of).collect()
}
