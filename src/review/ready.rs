//! Who is ready for what: for every phrase and every cast that has run it, the step it stands on, and what was seen and
//! when. Nobody is told that anything is safe. Understudies have lines of their own, and so has whoever plays a part of the
//! fight and has not run a phrase of it.

use std::collections::BTreeSet;

use serde::Serialize;

use super::fight::FightReview;
use super::ladder::{Seen, Standing};
use super::phrase::PhraseReview;
use super::say;

/// So many casts of a phrase are shown, the newest first.
const MOST_CASTS: usize = 4;
/// So many speeds of a cast are told, the fastest first.
const MOST_SPEEDS: usize = 2;

/// Who is ready for what.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Ready {
    /// The lines, in order of the fights and their phrases.
    pub rows: Vec<ReadyRow>,
    /// Older casts that are left out; the fights have all.
    pub left_out: u64,
}

/// A phrase with a cast.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadyRow {
    /// The fight.
    pub fight: String,
    /// The phrase.
    pub phrase: String,
    /// True for the first line of a phrase: its newest cast.
    pub first: bool,
    /// Who: everybody in the first line, then those who differ from it.
    pub with: Vec<String>,
    /// The step it stands on, percent of performance tempo.
    pub step: Option<u16>,
    /// The step that may be tried.
    pub may_try: Option<u16>,
    /// What was seen and when, in words.
    pub seen: String,
    /// What the ladder says.
    pub says: String,
}

/// The table of these fights.
pub(super) fn ready(fights: &[FightReview]) -> Ready {
    let mut ready = Ready::default();
    for fight in fights {
        let all: BTreeSet<&String> = fight.phrases.iter().flat_map(|it| &it.ladders).flat_map(|it| &it.cast).collect();
        for phrase in fight.phrases.iter().filter(|phrase| phrase.reached > 0) {
            ready.left_out += phrase.ladders.len().saturating_sub(MOST_CASTS) as u64;
            ready.rows.extend(with_casts(fight, phrase));
            ready.rows.extend(not_yet(fight, phrase, &all));
        }
    }
    ready
}

fn with_casts<'f>(fight: &'f FightReview, phrase: &'f PhraseReview) -> impl Iterator<Item = ReadyRow> + 'f {
    let newest = phrase.ladders.first();
    phrase.ladders.iter().take(MOST_CASTS).enumerate().map(move |(at, standing)| {
        let differs = |who: &&String| at == 0 || newest.is_none_or(|newest| !newest.cast.contains(who));
        ReadyRow {
            fight: fight.fight.clone(),
            phrase: phrase.phrase.clone(),
            first: at == 0,
            with: standing.cast.iter().filter(differs).cloned().collect(),
            step: standing.step,
            may_try: standing.step.and(standing.may_try),
            seen: seen(standing),
            says: standing.says.clone(),
        }
    })
}

/// Whoever plays a part of the fight that acts in this phrase, and has not run it.
fn not_yet(fight: &FightReview, phrase: &PhraseReview, all: &BTreeSet<&String>) -> Option<ReadyRow> {
    let has_run: BTreeSet<&String> = phrase.ladders.iter().flat_map(|it| &it.cast).collect();
    let parts: BTreeSet<&str> = has_run.iter().filter_map(|it| part_of(it)).collect();
    let without = all.iter().filter(|who| !has_run.contains(*who) && part_of(who).is_some_and(|it| parts.contains(it)));
    let with: Vec<String> = without.map(|who| (*who).clone()).collect();
    (!with.is_empty()).then(|| ReadyRow {
        fight: fight.fight.clone(),
        phrase: phrase.phrase.clone(),
        first: false,
        with,
        step: None,
        may_try: None,
        seen: "never run".to_owned(),
        says: "Not run yet.".to_owned(),
    })
}

fn part_of(playing: &str) -> Option<&str> {
    playing.rsplit_once(" as ").map(|(_, part)| part)
}

/// `80 %: 4 clean of 5, last clean 2026-03-14; 90 %: 0 clean of 2, last broke 2026-03-13`.
fn seen(standing: &Standing) -> String {
    let one = |it: &Seen| {
        let how = if it.last_clean { "clean" } else { "broke" };
        let day = it.last_day.as_deref().map_or_else(String::new, |day| format!(" {day}"));
        format!("{}: {} clean of {}, last {how}{day}", say::speed(it.speed), it.clean, it.clean + it.broke)
    };
    let mut said: Vec<String> = standing.seen.iter().take(MOST_SPEEDS).map(one).collect();
    if let Some(weapons) = &standing.weapons {
        said.push(format!("with the weapons {weapons}"));
    }
    if said.is_empty() { "no run that counts yet".to_owned() } else { said.join("; ") }
}
