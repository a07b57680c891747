//! A revision's text as the review needs it: its phrases, and their moves in order of performance, with their beats and
//! the words that the journal uses for them.

use crate::check::{HouseRules, MoveLimit, check};
use crate::figure::{Drawn, Picture};
use crate::journal::RevisionRow;
use crate::score::model::{FighterId, Score};
use crate::score::read;
use crate::score::vocabulary::Vocabulary;
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;

/// How many digits of a revision's SHA-256 people are shown.
const SHOWN_DIGITS: usize = 8;

/// A revision, read.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Edition {
    /// SHA-256 of the text.
    pub(super) sha256: String,
    /// When it was first used, RFC 3339.
    pub(super) utc: String,
    /// Its phrases; nothing when today's vocabulary cannot read the text.
    pub(super) phrases: Option<Vec<EditionPhrase>>,
    /// The text.
    pub(super) text: String,
}

/// A phrase of a revision.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct EditionPhrase {
    pub(super) name: String,
    pub(super) beats: f64,
    /// At performance tempo.
    pub(super) seconds: f64,
    /// In order of performance, repeats unrolled: the place in the list is the number less one.
    pub(super) moves: Vec<EditionMove>,
}

/// A move of a revision.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct EditionMove {
    /// As the score writes it.
    pub(super) beat: String,
    /// Beats from the first beat of the phrase.
    pub(super) at: f64,
    /// `MARET thrust belly / OSK parry 4`.
    pub(super) words: String,
    /// Who acts.
    pub(super) who: String,
    /// Who answers.
    pub(super) to: Option<String>,
    /// Its picture, where it has one.
    pub(super) picture: Option<Picture>,
}

impl Edition {
    /// Reads a revision's text.
    pub(super) fn read(row: &RevisionRow, vocabulary: &Vocabulary) -> Edition {
        let score = read(&row.text, "the journal", vocabulary).score;
        Edition {
            sha256: row.sha256.clone(),
            utc: row.utc.clone(),
            phrases: score.as_ref().map(|score| phrases(score, vocabulary)),
            text: row.text.clone(),
        }
    }

    /// The move that limits the tempo of each phrase, by the checks, in order of the phrases; none where the text cannot
    /// be read. Reads the text anew.
    pub(super) fn limits(&self, vocabulary: &Vocabulary, rules: &HouseRules) -> Vec<Option<MoveLimit>> {
        let checked = self.score(vocabulary).map(|score| check(&score, vocabulary, rules));
        checked.map_or_else(Vec::new, |it| it.fastest.phrases.into_iter().map(|phrase| phrase.limit).collect())
    }

    /// The text read anew; nothing when today's vocabulary cannot read it.
    pub(super) fn score(&self, vocabulary: &Vocabulary) -> Option<Score> {
        read(&self.text, "the journal", vocabulary).score
    }

    /// The first digits of the SHA-256: what people are shown.
    pub(super) fn short(&self) -> String {
        self.sha256.chars().take(SHOWN_DIGITS).collect()
    }

    /// The phrases; none when the text cannot be read.
    pub(super) fn known_phrases(&self) -> &[EditionPhrase] {
        self.phrases.as_deref().unwrap_or_default()
    }

    /// True when they act or answer somewhere in it; of everybody, where its text cannot be read.
    pub(super) fn has_acting(&self, part: &str) -> bool {
        let phrases = self.known_phrases();
        phrases.is_empty() || phrases.iter().any(|phrase| phrase.people().contains(&part))
    }

    /// The phrase of that name, and its place.
    pub(super) fn phrase(&self, name: &str) -> Option<(usize, &EditionPhrase)> {
        self.known_phrases().iter().enumerate().find(|(_, phrase)| phrase.name == name)
    }
}

impl EditionPhrase {
    /// Everybody who acts or answers in it, each once, in order of appearance.
    pub(super) fn people(&self) -> Vec<&str> {
        let mut people: Vec<&str> = Vec::new();
        for name in self.moves.iter().flat_map(|it| [Some(it.who.as_str()), it.to.as_deref()]).flatten() {
            if !people.contains(&name) {
                people.push(name);
            }
        }
        people
    }

    /// True when the same moves are done on the same beats.
    pub(super) fn does_the_same_as(&self, other: &EditionPhrase) -> bool {
        let same = |(a, b): (&EditionMove, &EditionMove)| a.words == b.words && a.beat == b.beat;
        self.moves.len() == other.moves.len() && self.moves.iter().zip(&other.moves).all(same)
    }
}

fn phrases(score: &Score, vocabulary: &Vocabulary) -> Vec<EditionPhrase> {
    let Some(whole) = PhraseRange::whole(score) else { return Vec::new() };
    let plan = Plan::new(score, whole, Speed::FULL, 0);
    let name = |id: FighterId| score.fighters.get(id.0).map_or_else(|| "?".to_owned(), |fighter| fighter.name.clone());
    let mut phrases: Vec<EditionPhrase> = plan
        .phrases()
        .iter()
        .map(|it| EditionPhrase {
            name: it.name.clone(),
            beats: it.length.as_beats(),
            seconds: (plan.tempo().time_of(it.at + it.length) - it.time).as_seconds(),
            moves: Vec::new(),
        })
        .collect();
    for planned in plan.moves() {
        let to = planned.to.map(name);
        let words = planned.words(score);
        let (beat, at) = (planned.beat.beat_label(), planned.beat.as_beats());
        if let Some(phrase) = phrases.get_mut(planned.phrase_in_range) {
            let picture = Picture::of(vocabulary, &Drawn::of_planned(score, planned));
            phrase.moves.push(EditionMove { beat, at, words, who: name(planned.who), to, picture });
        }
    }
    phrases
}

/// Two phrases with these names and so many invented moves each, for tests of what stands on editions.
#[cfg(test)]
pub(super) fn phrase_of(name: &str, words: &[&str]) -> EditionPhrase {
    let one = |(at, words): (usize, &&str)| EditionMove {
        beat: (at + 1).to_string(),
        at: at as f64,
        words: (*words).to_owned(),
        who: words.split(' ').next().unwrap_or("").to_owned(),
        to: None,
        picture: None,
    };
    let moves: Vec<EditionMove> = words.iter().enumerate().map(one).collect();
    EditionPhrase { name: name.to_owned(), beats: moves.len() as f64, seconds: moves.len() as f64, moves }
}
