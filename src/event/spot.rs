//! Where in a fight something happened, and which moves were under way there.

use serde::{Deserialize, Serialize};

/// A place in the fight that a person can find again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Spot {
    /// The number of the cue in its run; nothing when only the place is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cue: Option<u32>,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its name.
    pub phrase_name: String,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: String,
    /// The number of the move in its phrase, counted from 1: the last one reached. Of a hold and a stop it is the first of
    /// the moves under way, which is the caller's own where they were in one.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
}

/// A move that was under way: the last that one pair of fighters had begun in the phrase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnderWay {
    /// Who is in it by the fighters' names: who acts and who answers, or the one who is alone in it.
    pub pair: Vec<String>,
    /// Its number in its phrase, counted from 1.
    #[serde(rename = "move")]
    pub number: u32,
    /// The move in words.
    pub words: String,
}

/// The moves that a hold or stop is counted at: the caller's own, if they play a part that was in one of those under way,
/// else each of them, because nobody knows which of them it was for.
pub fn counted_at<'u>(under_way: &'u [UnderWay], part: Option<&str>) -> Vec<&'u UnderWay> {
    let own = |it: &&UnderWay| part.is_some_and(|part| it.pair.iter().any(|name| name == part));
    let theirs: Vec<&UnderWay> = under_way.iter().filter(own).collect();
    if theirs.is_empty() { under_way.iter().collect() } else { theirs }
}
