//! What the seats see, as a map and as a table: of every wound that is taken and every blow that must not land, from where in
//! each block its gap is seen. The picture is that of the stage, with every seat in it.

use std::fmt::Write as _;

use super::concealed::{Audience, Concealed, concealed};
use super::picture::{Drawn, Instant, Over, line, number, people, whole};
use super::plan::{Layout, StagePlan};
use super::track::Tracks;
use super::vec2::Vec2;
use super::view::View;
use crate::safe_text;
use crate::score::model::Score;
use crate::score::vocabulary::Vocabulary;
use crate::timeline::Plan;

/// The picture of a stage at an instant, with the seats that see the gap of the blow that comes then, and those that do not.
///
/// # Errors
/// A sentence: as for [`super::picture`], or nothing has a gap then; or there are no seats.
pub fn seen_picture(fight: &Score, vocabulary: &Vocabulary, stage: &StagePlan, at: &str) -> Result<String, String> {
    let plan = whole(fight)?;
    let instant = Instant::of(fight, &plan, at)?;
    let tracks = Tracks::of(fight, vocabulary, &plan, stage);
    let all = concealed(vocabulary, &plan, &tracks);
    let then = |it: &&Concealed| plan.moves().get(it.of_move).is_some_and(|planned| planned.at == instant.at);
    let layout = instant.layout(&tracks, stage);
    if layout.seats.is_empty() {
        return Err("There are no seats on this stage's plan; draw them, [seats.house], and it is said what they see"
            .to_owned());
    }
    let blow = all.iter().find(then).ok_or_else(|| nothing_then(at, &all, &plan))?;
    let (passes, views) =
        blow.best(&Audience::of(layout), &tracks).ok_or_else(|| "There is no stage then".to_owned())?;
    let gap = blow.gap(passes, blow.at);
    let seats = views.iter().flat_map(|view| view.seats.iter().map(|(at, seen)| seat(*at, *seen)));
    let drawn =
        format!("{}{}", seats.collect::<String>(), line(gap.body, gap.blade, "0.16", "#000", None).into_string());
    let around = layout.seats.iter().flat_map(|it| it.outline.corners().iter().copied()).collect();
    let over = Over { drawn, said: says(fight, &plan, layout, blow, &views), around };
    let people = people(fight, &tracks, instant.time);
    let picture = Drawn { layout, tracks: &tracks, people: &people, time: instant.time };
    Ok(safe_text::page(picture.svg(&instant.title, &over)) + "\n")
}

/// A line for every wound and every blow that must not land: from where its gap is seen.
pub fn seen_table(fight: &Score, vocabulary: &Vocabulary, stage: &StagePlan) -> Result<String, String> {
    let plan = whole(fight)?;
    let tracks = Tracks::of(fight, vocabulary, &plan, stage);
    let mut said = String::new();
    let mut house: Option<(&Layout, Audience)> = None;
    for blow in concealed(vocabulary, &plan, &tracks) {
        let Some(layout) = tracks.layout(blow.time) else { continue };
        if house.as_ref().is_none_or(|(known, _)| !std::ptr::eq(*known, layout)) {
            house = Some((layout, Audience::of(layout)));
        }
        let views = house.as_ref().and_then(|(_, house)| Some(blow.best(house, &tracks)?.1)).unwrap_or_default();
        // Writing to a string does not fail.
        let _ = writeln!(said, "{}", says(fight, &plan, layout, &blow, &views));
    }
    if said.is_empty() {
        said = "Nobody who has a mark takes a wound, and no blow is one that must not land.\n".to_owned();
    }
    Ok(said)
}

/// `“Across the quay”, beat 4: OSK thrust side / MARET take side: seen from 12 % of “house”, mostly at stage right.`
fn says(fight: &Score, plan: &Plan, layout: &Layout, blow: &Concealed, views: &[View]) -> String {
    let Some(planned) = plan.moves().get(blow.of_move) else { return String::new() };
    let phrase = plan.phrases().get(planned.phrase_in_range).map_or("", |it| it.name.as_str());
    let from: Vec<String> = views.iter().map(|view| view.says(layout)).collect();
    let from = if from.is_empty() { "asked of no seat".to_owned() } else { format!("seen {}", from.join("; ")) };
    format!("“{phrase}”, beat {}: {}: {from}.", planned.beat.beat_label(), planned.words(fight))
}

fn nothing_then(at: &str, all: &[Concealed], plan: &Plan) -> String {
    let named = |it: &Concealed| {
        let planned = plan.moves().get(it.of_move)?;
        let phrase = plan.phrases().get(planned.phrase_in_range)?;
        Some(format!("{}:{}", phrase.phrase + 1, planned.beat.beat_label()))
    };
    let named: Vec<String> = all.iter().filter_map(named).take(8).collect();
    let others = if named.is_empty() { "nowhere in this fight".to_owned() } else { format!("at {}", named.join(", ")) };
    format!("At {at} nobody who has a mark takes a wound or a blow that must not land; that is so {others}")
}

/// A seat that sees it is filled, one that does not is open.
fn seat(at: Vec2, seen: bool) -> String {
    let (x, y) = (number(at.x).0, number(-at.y).0);
    let fill = if seen { "#000" } else { "none" };
    format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"0.13\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"0.02\"/>")
}
