//! What the bodies on the stage are at a moment: who stands, kneels, lies or is dead, who holds whom, who is body to body,
//! and where every weapon is. A state machine: the rows of the vocabulary say what changes it, nothing else does.

use crate::score::model::{FighterId, Hand, Score, Span, Word};
use crate::score::vocabulary::Vocabulary;
use crate::units::Micros;

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
    pub(super) hands: u8,
    /// The hand that the cast gives it.
    pub(super) hand: Hand,
    place: Place,
    /// When it was let go: it may still be moving.
    pub(super) let_go: Option<Micros>,
}

/// Somebody who holds somebody else.
#[derive(Clone, Debug)]
pub(super) struct Grip {
    pub(super) holder: FighterId,
    pub(super) held: FighterId,
    /// Whether it keeps the held from using a weapon.
    pub(super) pins: bool,
    /// Whether it is on the body; else it is on a weapon alone.
    pub(super) body: bool,
    /// Whether it is on a leg.
    pub(super) leg: bool,
    /// How many hands of the holder it takes.
    pub(super) hands: u8,
    /// The line on which it began.
    pub(super) span: Span,
}

/// A blade that lies at another.
#[derive(Clone, Debug)]
pub(super) struct Contact {
    pub(super) with: FighterId,
    /// The parry that one's own blade lies in, where that is known.
    pub(super) parry: Option<Word>,
    /// The line on which they met.
    pub(super) span: Span,
}

/// Everybody.
pub(super) struct Bodies {
    /// Whose blade lies at each one's own.
    contacts: Vec<Option<Contact>>,
    /// Whose grip has ended without their letting go.
    slipped: Vec<bool>,
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
            contacts: vec![None; score.fighters.len()],
            slipped: vec![false; score.fighters.len()],
            weapons: Vec::new(),
            grips: Vec::new(),
            close: Vec::new(),
        };
        for (at, fighter) in score.fighters.iter().enumerate() {
            let own = FighterId(at);
            bodies.arm(own, (&fighter.weapon, fighter.hand), fighter.sheathed, vocabulary);
            if let Some(second) = &fighter.second {
                bodies.arm(own, (&second.weapon, second.hand), second.sheathed, vocabulary);
            }
        }
        bodies
    }

    fn arm(&mut self, owner: FighterId, (word, hand): (&str, Hand), sheathed: bool, vocabulary: &Vocabulary) {
        let row = vocabulary.weapons.get(word);
        if row.is_none_or(|row| row.armed) {
            let place = if sheathed { Place::Sheath(owner) } else { Place::Hand(owner) };
            let (weight, hands) = row.map_or((2, 1), |row| (row.weight, row.hands));
            self.weapons.push(Weapon { word: word.to_owned(), owner, weight, hands, hand, place, let_go: None });
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
        self.hands_on_weapons(fighter) < 2
    }

    /// True when a hand of theirs holds neither a weapon nor anybody.
    pub(super) fn has_an_empty_hand(&self, fighter: FighterId) -> bool {
        self.hands_in_use(fighter) < 2
    }

    /// How many hands of theirs hold a weapon or somebody.
    pub(super) fn hands_in_use(&self, fighter: FighterId) -> u8 {
        let own = self.grips.iter().filter(|grip| grip.holder == fighter);
        own.fold(self.hands_on_weapons(fighter), |hands, grip| hands.saturating_add(grip.hands))
    }

    fn hands_on_weapons(&self, fighter: FighterId) -> u8 {
        self.drawn(fighter).fold(0, |hands, it| hands.saturating_add(it.hands))
    }

    /// Whose blade lies at somebody's own.
    pub(super) fn contact(&self, fighter: FighterId) -> Option<&Contact> {
        self.contacts.get(fighter.0).and_then(Option::as_ref)
    }

    /// Two blades meet, each in the parry that is named where one is known.
    pub(super) fn meet(&mut self, one: (FighterId, Option<Word>), other: (FighterId, Option<Word>), span: &Span) {
        let people = (one.0, other.0);
        for (own, parry, with) in [(people.0, one.1, people.1), (people.1, other.1, people.0)] {
            self.part_blades(own);
            if let Some(contact) = self.contacts.get_mut(own.0) {
                *contact = Some(Contact { with, parry, span: span.clone() });
            }
        }
    }

    /// Somebody's blade leaves the other's.
    pub(super) fn part_blades(&mut self, fighter: FighterId) {
        let was = self.contacts.get_mut(fighter.0).and_then(Option::take);
        if let Some(other) = was.and_then(|was| self.contacts.get_mut(was.with.0)) {
            other.take_if(|contact| contact.with == fighter);
        }
    }

    /// True once somebody's grip has ended without their letting go; then they may still do it.
    pub(super) fn slipped(&mut self, fighter: FighterId) -> bool {
        self.slipped.get_mut(fighter.0).is_some_and(std::mem::take)
    }

    /// Ends grips, and remembers whose they were.
    fn end_grips(&mut self, ends: impl Fn(&Grip) -> bool) {
        for grip in self.grips.extract_if(.., |grip| ends(grip)) {
            if let Some(slipped) = self.slipped.get_mut(grip.holder.0) {
                *slipped = true;
            }
        }
    }

    /// Somebody loses a weapon or puts it away: the named one, or the first in hand. False when they have none.
    pub(super) fn lose(
        &mut self,
        fighter: FighterId,
        named: Option<&str>,
        to_sheath: bool,
        (at, span): (Micros, &Span),
    ) -> bool {
        let fits = |it: &&mut Weapon| it.place == Place::Hand(fighter) && named.is_none_or(|word| it.word == word);
        let found = self.weapons.iter_mut().find(fits);
        let had = found.is_some();
        if let Some(weapon) = found {
            weapon.place = if to_sheath { Place::Sheath(fighter) } else { Place::Floor };
            weapon.let_go = (!to_sheath).then_some(at);
            if let Some(body) = self.bodies.get_mut(fighter.0) {
                body.disarmed = Some(span.clone());
            }
        }
        had
    }

    /// Somebody takes a weapon from a place: the named one, else their own, else any that is there. False when there is
    /// none.
    pub(super) fn take(&mut self, fighter: FighterId, named: Option<&str>, from: Place) -> bool {
        let weapon = self.lying(fighter, named, from).and_then(|at| self.weapons.get_mut(at));
        let taken = weapon.is_some();
        if let Some(weapon) = weapon {
            weapon.place = Place::Hand(fighter);
        }
        taken
    }

    /// The weapon that somebody would take from a place.
    pub(super) fn there(&self, fighter: FighterId, named: Option<&str>, from: Place) -> Option<&Weapon> {
        self.lying(fighter, named, from).and_then(|at| self.weapons.get(at))
    }

    /// The weapon that was tossed to somebody; it may be caught, or lie at their feet.
    pub(super) fn tossed(&self, fighter: FighterId, named: Option<&str>) -> Option<&Weapon> {
        self.in_hand(fighter, named).filter(|weapon| weapon.let_go.is_some())
    }

    fn lying(&self, fighter: FighterId, named: Option<&str>, from: Place) -> Option<usize> {
        let there = |it: &Weapon| it.place == from && named.is_none_or(|word| it.word == word);
        let own = self.weapons.iter().position(|it| there(it) && it.owner == fighter);
        own.or_else(|| self.weapons.iter().position(there))
    }

    /// What somebody holds in the hand that a weapon of theirs is for; nothing where that is not known.
    pub(super) fn in_the_same_hand(&self, fighter: FighterId, weapon: &Weapon) -> Option<&Weapon> {
        let same = |it: &&Weapon| it.place == Place::Hand(fighter) && it.owner == fighter && it.hand == weapon.hand;
        let known = weapon.owner == fighter && weapon.hand != Hand::None;
        self.weapons.iter().find(same).filter(|_| known)
    }

    /// Whether somebody can hold that as well as what they hold.
    pub(super) fn has_hands_for(&self, fighter: FighterId, weapon: &Weapon) -> bool {
        self.hands_in_use(fighter).saturating_add(weapon.hands) <= 2
    }

    /// True when a weapon is the one that the cast gives somebody.
    pub(super) fn is_own(&self, fighter: FighterId, weapon: &Weapon) -> bool {
        weapon.owner == fighter
    }

    /// Every weapon that somebody has in hand.
    pub(super) fn drawn(&self, fighter: FighterId) -> impl Iterator<Item = &Weapon> {
        self.weapons.iter().filter(move |it| it.place == Place::Hand(fighter))
    }

    /// Somebody's weapon goes through the air to somebody who catches it: the named one, or the first in hand.
    pub(super) fn hand_over(&mut self, from: FighterId, to: FighterId, named: Option<&str>, at: Micros) {
        let fits = |it: &&mut Weapon| it.place == Place::Hand(from) && named.is_none_or(|word| it.word == word);
        if let Some(weapon) = self.weapons.iter_mut().find(fits) {
            weapon.place = Place::Hand(to);
            weapon.let_go = Some(at);
        }
    }

    /// Somebody has a weapon in hand, wherever it came from: what was said of where it is not has been said.
    pub(super) fn give(&mut self, fighter: FighterId, named: Option<&str>) {
        if self.in_hand(fighter, named).is_none() {
            let word = named.unwrap_or("weapon").to_owned();
            let place = Place::Hand(fighter);
            self.weapons.push(Weapon {
                word,
                owner: fighter,
                weight: 2,
                hands: 1,
                hand: Hand::None,
                place,
                let_go: None,
            });
        }
    }

    /// Somebody takes hold of somebody. A second grip of the same two goes on as the first.
    pub(super) fn hold(&mut self, grip: Grip) {
        match self.grips.iter_mut().find(|it| it.holder == grip.holder && it.held == grip.held) {
            Some(before) => {
                before.pins |= grip.pins;
                before.body |= grip.body;
                before.leg |= grip.leg;
                before.hands = before.hands.saturating_add(grip.hands).min(2);
            }
            None => self.grips.push(grip),
        }
    }

    pub(super) fn held_by(&self, fighter: FighterId) -> Option<&Grip> {
        self.grips.iter().find(|grip| grip.held == fighter && grip.body)
    }

    pub(super) fn leg_held_by(&self, fighter: FighterId) -> Option<&Grip> {
        self.grips.iter().find(|grip| grip.held == fighter && grip.leg)
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
        self.end_grips(|grip| grip.held == fighter);
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
        self.end_grips(|grip| both(grip.holder, grip.held));
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
