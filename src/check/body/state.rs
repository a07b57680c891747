//! What the bodies on the stage are at a moment: who stands, kneels, lies or is dead, who holds whom, who is body to body,
//! and where every weapon is. A state machine: the rows of the vocabulary say what changes it, nothing else does.

use crate::score::model::{FighterId, Hand, Score, Span};
use crate::score::vocabulary::Vocabulary;

/// How somebody is on the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stance {
    Feet,
    Knee,
    Floor,
}

/// A fighter's body.
#[derive(Clone, Debug)]
pub(super) struct Body {
    pub(super) stance: Stance,
    pub(super) dead: bool,
    /// The line that brought them down or killed them, to point at.
    pub(super) since: Option<Span>,
    /// The line on which they lost a weapon.
    pub(super) disarmed: Option<Span>,
}

/// Where a weapon is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Hand(FighterId),
    Sheath(FighterId),
    Floor,
}

/// A weapon of the fight.
#[derive(Clone, Debug)]
pub(super) struct Weapon {
    pub(super) word: String,
    owner: FighterId,
    /// Of the vocabulary: 1 light to 3 heavy.
    pub(super) weight: u8,
    hands: u8,
    place: Place,
}

/// Somebody who holds somebody else.
#[derive(Clone, Debug)]
pub(super) struct Grip {
    pub(super) holder: FighterId,
    pub(super) held: FighterId,
    /// Whether it keeps the held from using a weapon.
    pub(super) pins: bool,
    /// The line on which it began.
    pub(super) span: Span,
}

/// Everybody.
pub(super) struct Bodies {
    bodies: Vec<Body>,
    weapons: Vec<Weapon>,
    grips: Vec<Grip>,
    /// Pairs that are body to body, and the line since which they are.
    close: Vec<(FighterId, FighterId, Span)>,
}

impl Bodies {
    /// Everybody on their feet, with what the score's cast gives them.
    pub(super) fn new(score: &Score, vocabulary: &Vocabulary) -> Bodies {
        let body = Body { stance: Stance::Feet, dead: false, since: None, disarmed: None };
        let mut bodies = Bodies {
            bodies: vec![body; score.fighters.len()],
            weapons: Vec::new(),
            grips: Vec::new(),
            close: Vec::new(),
        };
        for (at, fighter) in score.fighters.iter().enumerate() {
            let own = FighterId(at);
            bodies.arm(own, &fighter.weapon, fighter.sheathed, vocabulary);
            if let Some(second) = &fighter.second {
                bodies.arm(own, &second.weapon, second.sheathed, vocabulary);
            }
        }
        bodies
    }

    fn arm(&mut self, owner: FighterId, word: &str, sheathed: bool, vocabulary: &Vocabulary) {
        let row = vocabulary.weapons.get(word);
        if row.is_none_or(|row| row.armed) {
            let place = if sheathed { Place::Sheath(owner) } else { Place::Hand(owner) };
            let (weight, hands) = row.map_or((2, 1), |row| (row.weight, row.hands));
            self.weapons.push(Weapon { word: word.to_owned(), owner, weight, hands, place });
        }
    }

    pub(super) fn body(&self, fighter: FighterId) -> Option<&Body> {
        self.bodies.get(fighter.0)
    }

    /// Brings somebody to a stance; true when it is another than before. The dead stay down.
    pub(super) fn stand(&mut self, fighter: FighterId, stance: Stance, span: &Span) {
        let Some(body) = self.bodies.get_mut(fighter.0).filter(|body| !body.dead) else { return };
        if body.stance != stance {
            body.stance = stance;
            body.since = Some(span.clone());
        }
    }

    /// Somebody dies: they lie, hold nobody, and nobody has to let go of them.
    pub(super) fn die(&mut self, fighter: FighterId, span: &Span) {
        self.stand(fighter, Stance::Floor, span);
        if let Some(body) = self.bodies.get_mut(fighter.0) {
            body.dead = true;
            body.since = Some(span.clone());
        }
        self.let_go_of_all(fighter);
    }

    /// What was said of somebody's death has been said: from here on they are only down.
    pub(super) fn forget_death(&mut self, fighter: FighterId) {
        if let Some(body) = self.bodies.get_mut(fighter.0) {
            body.dead = false;
            body.stance = Stance::Feet;
        }
    }

    /// The weapon that somebody has in hand: the named one, or the first.
    pub(super) fn in_hand(&self, fighter: FighterId, named: Option<&str>) -> Option<&Weapon> {
        let fits = |it: &&Weapon| it.place == Place::Hand(fighter) && named.is_none_or(|word| it.word == word);
        self.weapons.iter().find(fits)
    }

    /// The first weapon that somebody has in a sheath, by its word.
    pub(super) fn sheathed(&self, fighter: FighterId) -> Option<&str> {
        self.weapons.iter().find(|it| it.place == Place::Sheath(fighter)).map(|it| it.word.as_str())
    }

    /// True when a hand of theirs holds no weapon.
    pub(super) fn has_a_free_hand(&self, fighter: FighterId) -> bool {
        let filled: u8 = self.weapons.iter().filter(|it| it.place == Place::Hand(fighter)).map(|it| it.hands).sum();
        filled < 2
    }

    /// Somebody loses a weapon or puts it away: the named one, or the first in hand. False when they have none.
    pub(super) fn lose(&mut self, fighter: FighterId, named: Option<&str>, to_sheath: bool, span: &Span) -> bool {
        let fits = |it: &&mut Weapon| it.place == Place::Hand(fighter) && named.is_none_or(|word| it.word == word);
        let found = self.weapons.iter_mut().find(fits);
        let had = found.is_some();
        if let Some(weapon) = found {
            weapon.place = if to_sheath { Place::Sheath(fighter) } else { Place::Floor };
            if let Some(body) = self.bodies.get_mut(fighter.0) {
                body.disarmed = Some(span.clone());
            }
        }
        had
    }

    /// Somebody takes a weapon from a place: the named one, else their own, else any that is there. False when there is
    /// none.
    pub(super) fn take(&mut self, fighter: FighterId, named: Option<&str>, from: Place) -> bool {
        let there = |it: &Weapon| it.place == from && named.is_none_or(|word| it.word == word);
        let own = self.weapons.iter().position(|it| there(it) && it.owner == fighter);
        let found = own.or_else(|| self.weapons.iter().position(there));
        let weapon = found.and_then(|at| self.weapons.get_mut(at));
        let taken = weapon.is_some();
        if let Some(weapon) = weapon {
            weapon.place = Place::Hand(fighter);
        }
        taken
    }

    /// Somebody has a weapon in hand, wherever it came from: what was said of where it is not has been said.
    pub(super) fn give(&mut self, fighter: FighterId, named: Option<&str>) {
        if self.in_hand(fighter, named).is_none() {
            let word = named.unwrap_or("weapon").to_owned();
            self.weapons.push(Weapon { word, owner: fighter, weight: 2, hands: 1, place: Place::Hand(fighter) });
        }
    }

    /// Somebody takes hold of somebody. A second grip of the same two goes on as the first.
    pub(super) fn hold(&mut self, grip: Grip) {
        match self.grips.iter_mut().find(|it| it.holder == grip.holder && it.held == grip.held) {
            Some(before) => before.pins |= grip.pins,
            None => self.grips.push(grip),
        }
    }

    pub(super) fn held_by(&self, fighter: FighterId) -> Option<&Grip> {
        self.grips.iter().find(|grip| grip.held == fighter)
    }

    pub(super) fn pinned_by(&self, fighter: FighterId) -> Option<&Grip> {
        self.grips.iter().find(|grip| grip.held == fighter && grip.pins)
    }

    pub(super) fn holding(&self, fighter: FighterId) -> Option<&Grip> {
        self.grips.iter().find(|grip| grip.holder == fighter)
    }

    /// Every grip that is not over.
    pub(super) fn grips(&self) -> &[Grip] {
        &self.grips
    }

    /// Somebody lets go of whomever they hold.
    pub(super) fn release(&mut self, fighter: FighterId) {
        self.grips.retain(|grip| grip.holder != fighter);
    }

    /// Nobody holds somebody any more.
    pub(super) fn free(&mut self, fighter: FighterId) {
        self.grips.retain(|grip| grip.held != fighter);
        self.close.retain(|(a, b, _)| *a != fighter && *b != fighter);
    }

    /// Whoever holds somebody or is held by them lets go, and nobody is body to body with them.
    pub(super) fn let_go_of_all(&mut self, fighter: FighterId) {
        self.release(fighter);
        self.free(fighter);
    }

    /// Two are apart.
    pub(super) fn part(&mut self, one: FighterId, other: FighterId) {
        let both = |a: FighterId, b: FighterId| (a, b) == (one, other) || (b, a) == (one, other);
        self.grips.retain(|grip| !both(grip.holder, grip.held));
        self.close.retain(|(a, b, _)| !both(*a, *b));
    }

    /// Two are body to body.
    pub(super) fn close_in(&mut self, one: FighterId, other: FighterId, span: &Span) {
        if self.close_to(one).is_none_or(|(with, _)| with != other) {
            self.close.push((one, other, span.clone()));
        }
    }

    /// Somebody who is body to body with a fighter, and since which line.
    pub(super) fn close_to(&self, fighter: FighterId) -> Option<(FighterId, Span)> {
        self.close.iter().find_map(|(a, b, span)| match fighter {
            _ if *a == fighter => Some((*b, span.clone())),
            _ if *b == fighter => Some((*a, span.clone())),
            _ => None,
        })
    }

    /// Somebody steps away from whomever they are body to body with.
    pub(super) fn step_away(&mut self, fighter: FighterId) {
        self.close.retain(|(a, b, _)| *a != fighter && *b != fighter);
    }
}

/// Which hand a weapon is in, for a grip on an arm: a grip on the other arm leaves the weapon free.
pub(super) fn is_other_hand(hand: Hand, side: crate::score::model::Side) -> bool {
    use crate::score::model::Side::{Left, Right};
    matches!((hand, side), (Hand::Right, Left) | (Hand::Left, Right))
}
