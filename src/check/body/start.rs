//! Where everybody is before a move, so that a run can begin there: where they stand, on their feet or how else, and what they
//! have in hand. The bodies are those of the checks, played up to the move; the marks and walks of the score say where
//! people stand. A fight begins only from what can be stood: not where the score does not say it, not in the middle of a walk
//! or a fall, not with a hand on anybody.

use super::Stage;
use super::state::Stance;
use crate::check::rules::HouseRules;
use crate::check::scene::Scene;
use crate::check::time::busy_after;
use crate::score::model::{FighterId, Hand, Person, Point, Score};
use crate::score::vocabulary::Vocabulary;
use crate::units::{Metres, Ticks};

/// How a body is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Posture {
    /// On their feet.
    Standing,
    /// On a knee.
    Kneeling,
    /// On the floor.
    Down,
    /// On the floor, dead.
    Dead,
}

/// A weapon in hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InHand {
    /// Its word.
    pub weapon: String,
    /// The hand, where the cast says it: somebody else's weapon may be in either.
    pub hand: Option<Hand>,
}

/// Where a fighter is before a move.
#[derive(Clone, Debug, PartialEq)]
pub struct Stand {
    /// Who.
    pub fighter: FighterId,
    /// Where; nothing for somebody who has nothing to do in the phrase and for whom the score says nothing.
    pub at: Option<Point>,
    /// True while they have not left the mark that the phrase gives them.
    pub on_mark: bool,
    /// How.
    pub posture: Posture,
    /// What they have in hand.
    pub hands: Vec<InHand>,
}

/// For every move of a phrase, in order, where everybody is before it, or a sentence that says who and what keeps a run from
/// beginning there.
pub fn starts(score: &Score, vocabulary: &Vocabulary, phrase: usize) -> Vec<Result<Vec<Stand>, String>> {
    let rules = HouseRules::default();
    let scene = Scene::new(score, vocabulary, &rules);
    let mut stage = Stage::new(&scene);
    let own = scene.plan.moves().iter().filter(|planned| planned.phrase_in_range == phrase);
    let mut starts: Vec<Result<Vec<Stand>, String>> = Vec::new();
    let mut last = None;
    for planned in own {
        let same = last == Some(planned.at);
        let start = match starts.last().filter(|_| same) {
            // Moves on one tick begin together.
            Some(before) => before.clone(),
            None => {
                stage.play(planned.at);
                stage.enter(phrase);
                Moment { scene: &scene, stage: &stage, phrase, at: planned.at }.stands()
            }
        };
        last = Some(planned.at);
        starts.push(start);
    }
    starts
}

/// The stage, played up to a tick of a phrase.
struct Moment<'m, 's, 'a> {
    scene: &'m Scene<'a>,
    stage: &'m Stage<'s, 'a>,
    phrase: usize,
    at: Ticks,
}

/// Where the score has put somebody.
#[derive(Clone, Copy, Default)]
struct Mark {
    point: Option<Point>,
    /// Not since they left the mark of this phrase.
    on_mark: bool,
    /// True in the middle of a walk.
    walks: bool,
}

impl Moment<'_, '_, '_> {
    fn stands(&self) -> Result<Vec<Stand>, String> {
        (0..self.scene.score.fighters.len()).map(|at| self.stand(FighterId(at))).collect()
    }

    fn stand(&self, fighter: FighterId) -> Result<Stand, String> {
        let who = self.scene.fighter(fighter);
        let bodies = &self.stage.bodies;
        if let Some(grip) = bodies.grips().iter().find(|grip| grip.holder == fighter || grip.held == fighter) {
            let (holder, held) = (self.scene.fighter(grip.holder), self.scene.fighter(grip.held));
            return Err(format!("{holder} holds {held} there."));
        }
        if let Some((with, _)) = bodies.close_to(fighter) {
            return Err(format!("{who} is body to body with {} there.", self.scene.fighter(with)));
        }
        if let Some(doing) = self.still_busy(fighter) {
            return Err(format!("{who} is in the middle of {doing} there."));
        }
        let mark = self.mark(fighter);
        if mark.walks {
            return Err(format!("{who} is walking there."));
        }
        if mark.point.is_none() && self.has_a_part(fighter) {
            return Err(format!(
                "The score does not say where {who} stands there. Write a line like `place {who} 0,2` into the phrase."
            ));
        }
        let body = bodies.body(fighter);
        let posture = match body.map(|body| (body.stance, body.dead)) {
            Some((_, true)) => Posture::Dead,
            Some((Stance::Knee, _)) => Posture::Kneeling,
            Some((Stance::Floor, _)) => Posture::Down,
            Some((Stance::Feet, _)) | None => Posture::Standing,
        };
        let hands = bodies.drawn(fighter).map(|weapon| InHand {
            weapon: weapon.word.clone(),
            hand: bodies.is_own(fighter, weapon).then_some(weapon.hand).filter(|hand| *hand != Hand::None),
        });
        let hands = hands.collect();
        Ok(Stand { fighter, at: mark.point, on_mark: mark.on_mark, posture, hands })
    }

    /// What somebody is still in the middle of: a fall, a jump, a death takes its time after its beat.
    fn still_busy(&self, fighter: FighterId) -> Option<&str> {
        let plan = &self.scene.plan;
        let now = plan.tempo().exact_time_of(self.at.0 as f64);
        let done = plan.moves().iter().enumerate().take(self.stage.next_move).rev();
        // Nothing takes longer after its beat than this.
        let lately = done.take_while(|(_, it)| now - plan.tempo().exact_time_of(it.at.0 as f64) < LONGEST_AFTER_US);
        for (index, planned) in lately {
            let took = |answers| {
                plan.tempo().exact_time_of(planned.at.0 as f64) + busy_after(self.scene.rows_of(index), answers)
            };
            if planned.who == fighter && took(false) > now {
                return Some(&planned.action);
            }
            if planned.to == Some(fighter) && took(true) > now {
                return planned.reply.as_deref();
            }
        }
        None
    }

    /// True when somebody does anything in the phrase.
    fn has_a_part(&self, fighter: FighterId) -> bool {
        let plan = &self.scene.plan;
        let moves = plan.moves().iter().filter(|it| it.phrase_in_range == self.phrase);
        let walks = plan.walks().iter().filter(|it| it.phrase_in_range == self.phrase);
        moves.into_iter().any(|it| it.who == fighter || it.to == Some(fighter))
            || walks.into_iter().any(|it| it.who == Person::Fighter(fighter))
    }

    /// Where the marks and walks up to here have brought somebody.
    fn mark(&self, fighter: FighterId) -> Mark {
        let plan = &self.scene.plan;
        let who = Person::Fighter(fighter);
        let mut mark = Mark::default();
        let mut walks = plan.walks().iter().filter(|walk| walk.who == who && walk.at < self.at).peekable();
        for phrase in 0..=self.phrase {
            mark.on_mark = false;
            let place = plan.places().iter().rfind(|place| place.phrase_in_range == phrase && place.who == who);
            if let Some(place) = place {
                mark = Mark { point: Some(place.point), on_mark: true, walks: false };
            }
            while let Some(walk) = walks.next_if(|walk| walk.phrase_in_range == phrase) {
                let (to, from) = (walk.course.to, mark.point);
                let point = if walk.course.further { from.map(|from| moved(from, to)) } else { Some(to) };
                mark = Mark { point, on_mark: false, walks: walk.until > self.at };
            }
        }
        mark
    }
}

/// Longer than any action or reply keeps a body busy after its beat, microseconds.
const LONGEST_AFTER_US: f64 = 60e6;

fn moved(from: Point, by: Point) -> Point {
    Point { x: Metres(from.x.0 + by.x.0), y: Metres(from.y.0 + by.y.0) }
}
