//! Where on the stage a fight breaks: the moves at which it broke, by where their two people stand then, on the plan as it is
//! now. Places near each other are one, so that what happens in one corner is seen to.

use crate::score::model::Score;
use crate::score::vocabulary::Vocabulary;
use crate::stage::{Layout, Marked, StagePlan, Tracks, Vec2, marked};
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;

use super::phrase::{MoveReview, PhraseReview};

/// Places nearer than this are one, metres. A planning value: two steps.
const ONE_PLACE: f64 = 1.5;

/// The plan of some phrases, with the places at which they break.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// What stands where.
    layout: Layout,
    /// The phrases that are played on it, by name.
    pub phrases: Vec<String>,
    /// Where it breaks, the most often first.
    pub places: Vec<Place>,
    /// How often it broke at moves of which the score does not say where they are.
    pub unplaced: u64,
}

/// A place at which a fight breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Where: the middle between the two, or the one who acts alone.
    pub at: Vec2,
    /// How often it broke here.
    pub broke: u64,
    /// At which moves, the most often first.
    pub moves: Vec<AtMove>,
}

/// A move at which it broke.
#[derive(Clone, Debug, PartialEq)]
pub struct AtMove {
    /// Its phrase.
    pub phrase: String,
    /// Its beat as the score writes it.
    pub beat: String,
    /// The move in words.
    pub words: String,
    /// How often.
    pub broke: u64,
}

/// The plans of a fight whose phrases broke, one for each set that stands under them; none where nothing broke.
pub(super) fn grounds(
    score: &Score,
    vocabulary: &Vocabulary,
    stage: &StagePlan,
    phrases: &[PhraseReview],
) -> Vec<Ground> {
    let Some(range) = PhraseRange::whole(score) else { return Vec::new() };
    let plan = Plan::new(score, range, Speed::FULL, 0);
    let tracks = Tracks::of(score, vocabulary, &plan, stage);
    let mut grounds: Vec<(*const Layout, Ground)> = Vec::new();
    for review in phrases.iter().filter(|it| it.moves.iter().any(|it| it.broke > 0)) {
        let Some(phrase) = plan.phrases().iter().position(|it| it.name == review.phrase) else { continue };
        let Some(layout) = tracks.layout_of_phrase(phrase) else { continue };
        let known = grounds.iter().position(|(known, _)| std::ptr::eq(*known, layout));
        let at = known.unwrap_or_else(|| {
            let ground = Ground { layout: layout.clone(), phrases: Vec::new(), places: Vec::new(), unplaced: 0 };
            grounds.push((std::ptr::from_ref(layout), ground));
            grounds.len() - 1
        });
        let Some((_, ground)) = grounds.get_mut(at) else { continue };
        ground.phrases.push(review.phrase.clone());
        for it in review.moves.iter().filter(|it| it.broke > 0) {
            ground.add(&review.phrase, it, place_of(&plan, &tracks, phrase, it.number));
        }
    }
    let sorted = |(_, mut ground): (_, Ground)| {
        ground.places.sort_by_key(|it| std::cmp::Reverse(it.broke));
        ground.places.iter_mut().for_each(|it| it.moves.sort_by_key(|it| std::cmp::Reverse(it.broke)));
        ground
    };
    grounds.into_iter().map(sorted).collect()
}

/// The middle between the two of a move, at its beat; where the one is of whom alone it is known.
fn place_of(plan: &Plan, tracks: &Tracks<'_>, phrase: usize, number: usize) -> Option<Vec2> {
    let of = |it: &&crate::timeline::PlannedMove| it.phrase_in_range == phrase && it.number as usize == number;
    let planned = plan.moves().iter().find(of)?;
    let time = planned.time.0 as f64 / 1e6;
    let at = |person: usize| tracks.people.get(person)?.at(time);
    let partner = planned.to.or(planned.manner.aimed).and_then(|it| at(it.0));
    match (at(planned.who.0), partner) {
        (Some(own), Some(partner)) => Some(own.toward(partner, 0.5)),
        (own, partner) => own.or(partner),
    }
}

impl Ground {
    fn add(&mut self, phrase: &str, it: &MoveReview, at: Option<Vec2>) {
        let Some(at) = at else {
            self.unplaced += it.broke;
            return;
        };
        let of_move =
            AtMove { phrase: phrase.to_owned(), beat: it.beat.clone(), words: it.words.clone(), broke: it.broke };
        match self.places.iter_mut().find(|place| place.at.distance(at) < ONE_PLACE) {
            Some(place) => {
                place.broke += it.broke;
                place.moves.push(of_move);
            }
            None => self.places.push(Place { at, broke: it.broke, moves: vec![of_move] }),
        }
    }

    /// The stage from above with these places, numbered as they stand, larger where it breaks more often; as SVG.
    pub fn picture(&self) -> String {
        let mark = |(at, place): (usize, &Place)| Marked { at: place.at, number: at + 1, times: place.broke };
        let marks: Vec<Marked> = self.places.iter().enumerate().map(mark).collect();
        marked(
            &self.layout,
            "The stage from above, with the places at which it breaks; the table says the same",
            &marks,
        )
    }
}
