//! Hands: what two of them can hold, and weapons on their way from one to another.

use crate::score::model::FighterId;
use crate::score::problem::Problem;
use crate::score::vocabulary::Need;
use crate::timeline::PlannedMove;
use crate::units::Micros;

use super::Stage;
use super::state::{Place, Weapon};

impl Stage<'_, '_> {
    /// B227: somebody begins with more in hand than hands can hold.
    pub(super) fn begin(&mut self) {
        for (at, fighter) in self.scene.score.fighters.iter().enumerate() {
            let drawn: Vec<&Weapon> = self.bodies.drawn(FighterId(at)).collect();
            let [first, second] = drawn.as_slice() else { continue };
            let (who, one, other) = (&fighter.name, &first.word, &second.word);
            let message = if first.hands + second.hands > 2 {
                let both = if first.hands > 1 { one } else { other };
                format!("{who} has a {one} and a {other}, and the {both} takes both hands")
            } else if first.hand == second.hand {
                format!("{who} has the {one} and the {other} in one hand")
            } else {
                continue;
            };
            let help = "write `sheathed` behind one of them, or give it to the other hand";
            self.problems.push(Problem::error("B227", fighter.span.clone(), message).help(help));
        }
    }

    /// B219: no hand for the weapon. B228: the hand that it is for holds another. B229: it has not come to rest.
    pub(super) fn hands_for(&mut self, own: FighterId, named: Option<&str>, from: Place, planned: &PlannedMove) {
        let there = self.bodies.there(own, named, from);
        let tossed = self.bodies.tossed(own, named).filter(|_| from == Place::Floor);
        let in_hand = there.is_none();
        let Some(weapon) = there.or(tossed).cloned() else { return };
        let (who, word) = (self.scene.fighter(own), &weapon.word);
        let row = self.scene.vocabulary.actions.get(planned.action_word.as_str());
        let reach = row.map_or(Micros::ZERO, |row| row.least);
        let in_that_hand = self.bodies.in_the_same_hand(own, &weapon).filter(|_| from == Place::Sheath(own));
        let (code, message, help) = if let Some(other) = in_that_hand {
            let message = format!("{who} draws the {word} with the hand that holds the {}", other.word);
            ("B228", message, "give it to the other hand in their line under `fighters`, or sheathe one first")
        } else if !in_hand && !self.bodies.has_hands_for(own, &weapon) {
            let message = format!("{who} has no hand free for the {word}");
            ("B219", message, "let them drop, sheathe or let go of something first")
        } else if weapon.let_go.is_some_and(|at| from == Place::Floor && planned.time - at < reach) {
            ("B229", format!("{who} reaches for the {word} while it is still falling"), "give it time to lie still")
        } else {
            return;
        };
        self.problems.push(Problem::warning(code, planned.span.clone(), message).help(help));
    }

    /// B230: a weapon is tossed to somebody who is busy, or has no hand for it. Then they have it.
    pub(super) fn catches(&mut self, own: FighterId, to: FighterId, named: Option<&str>, planned: &PlannedMove) {
        let (who, other) = (self.scene.fighter(own), self.scene.fighter(to));
        let why = if self.is_busy(to, planned) {
            Some("is busy with something else and does not see it")
        } else {
            let hands = self.bodies.in_hand(own, named).is_none_or(|weapon| self.bodies.has_hands_for(to, weapon));
            (!hands).then_some("has no hand free to catch it")
        };
        if let Some(why) = why {
            let message = format!("{who} tosses a weapon to {other}, who {why}");
            let help = "give it a beat on which they look at each other, with a hand free";
            self.problems.push(Problem::warning("B230", planned.span.clone(), message).help(help));
        }
        self.bodies.hand_over(own, to, named, planned.time);
    }

    /// Whether somebody does or answers something else on the same tick.
    fn is_busy(&self, fighter: FighterId, planned: &PlannedMove) -> bool {
        let moves = self.scene.plan.moves();
        let first = moves.partition_point(|it| it.at < planned.at);
        let then = moves.iter().skip(first).take_while(|it| it.at == planned.at);
        then.filter(|it| it.span != planned.span).any(|it| it.involves(fighter))
    }

    /// B231: somebody goes down whom another still holds.
    pub(super) fn held_by_another(&mut self, own: FighterId, partner: FighterId, planned: &PlannedMove) {
        let Some(grip) = self.bodies.held_by(own).filter(|grip| grip.holder != partner).cloned() else { return };
        let (who, holder) = (self.scene.fighter(own), self.scene.fighter(grip.holder));
        let message = format!("{who} goes down while {holder} still holds them");
        let help = self.letting_go(grip.holder, own);
        let problem = Problem::warning("B231", planned.span.clone(), message).help(help);
        self.problems.push(problem.related(grip.span.clone(), "held since here"));
    }

    /// Whether a hold is taken with both hands.
    pub(super) fn takes_both_hands(&self, planned: &PlannedMove) -> bool {
        let row = self.scene.vocabulary.actions.get(planned.action_word.as_str());
        row.is_some_and(|row| row.needs.contains(&Need::BothHands))
    }
}
