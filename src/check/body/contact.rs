//! What touches what: blades that lie at each other, hands on blades and in hair, blows that land on somebody who cannot
//! give way, and two who strike at once while a blade is at a throat.

use crate::score::model::{FighterId, Span, StatedTouch};
use crate::score::problem::Problem;
use crate::score::vocabulary::{Action, Makes, Reply, ReplyKind, Touch, Vital};
use crate::timeline::PlannedMove;
use crate::units::Ticks;

use super::Stage;
use super::state::Stance;
use crate::check::answer::{meets, touch_of};

/// The attacks of one tick: who, whom, whether a blade goes where none may touch, and the line.
#[derive(Default)]
pub(super) struct Blows<'p> {
    at: Option<Ticks>,
    given: Vec<(FighterId, FighterId, bool, &'p Span)>,
}

impl<'s> Stage<'s, '_> {
    /// B222: a bind that begins where the blades do not lie. Then: which blades lie at each other after a move.
    pub(super) fn blades_move(&mut self, planned: &PlannedMove, action: &Action, reply: Option<&Reply>) {
        self.lies_elsewhere(planned);
        let other = planned.to.or(planned.manner.aimed).or_else(|| self.scene.only_other(planned.who));
        let touch = touch_of(planned.manner.touch, action);
        let kind = reply.map(|row| row.kind);
        let own_blades =
            action.needs_weapon && reply.is_none_or(|row| row.needs_weapon || kind == Some(ReplyKind::Yield));
        match other.filter(|_| own_blades && meets(kind, touch)) {
            Some(other) => {
                let carried = planned.manner.carried.as_ref().map(|(_, to)| to.clone());
                let parries = matches!(kind, Some(ReplyKind::Parry | ReplyKind::CircularParry));
                let parry = planned.reply_arg.clone().filter(|_| parries);
                self.bodies.meet((planned.who, carried), (other, parry), &planned.span);
            }
            None if action.attack || action.needs_weapon || action.makes.contains(&Makes::Parts) => {
                self.bodies.part_blades(planned.who);
                planned.to.into_iter().for_each(|to| self.bodies.part_blades(to));
            }
            None => {}
        }
    }

    fn lies_elsewhere(&mut self, planned: &PlannedMove) {
        let Some((from, _)) = &planned.manner.carried else { return };
        let Some(contact) = self.bodies.contact(planned.who) else { return };
        let Some(lies) = contact.parry.as_ref().filter(|lies| *lies != from) else { return };
        let who = self.scene.fighter(planned.who);
        let message = format!("{who} carries the blade from {from}, and has it in {lies}");
        let problem = Problem::warning("B222", planned.span.clone(), message).help(format!("write `from {lies}`"));
        self.problems.push(problem.related(contact.span.clone(), "the blades met here"));
    }

    /// B232: whoever is lifted has a weapon in hand. B223: a blow that is meant to land on somebody who cannot give way. B224: a hand on a blade. B225: hair that nobody
    /// has hold of.
    pub(super) fn touches(&mut self, planned: &PlannedMove, action: &Action, to: FighterId) {
        let (who, other) = (self.scene.fighter(planned.who), self.scene.fighter(to));
        let lands = planned.manner.touch == Some(StatedTouch::Contact) && action.attack && !action.needs_weapon;
        let lies = self.bodies.body(to).is_some_and(|body| body.stance == Stance::Floor);
        let held = self.bodies.held_by(to).is_some();
        if lands && action.touch == Touch::Nothing && (lies || held) {
            let why = if lies { "lies on the floor" } else { "is held" };
            let message = format!("{who}'s {} lands, and {other} {why} and cannot give way", planned.action);
            let help = "take `contact` away, so that it passes clear, or let them stand free first";
            self.problems.push(Problem::warning("B223", planned.span.clone(), message).help(help));
        }
        let armed = self.bodies.in_hand(to, None).map(|weapon| weapon.word.as_str());
        if let Some(word) = armed.filter(|_| action.lifts) {
            let message = format!("{who} lifts {other}, who has the {word} in hand");
            let help = "let them drop or sheathe it first";
            self.problems.push(Problem::warning("B232", planned.span.clone(), message).help(help));
        }
        let Some(target) = planned.target.as_ref().and_then(|word| self.scene.vocabulary.targets.get(word.as_str()))
        else {
            return;
        };
        let takes_hold = action.makes.contains(&Makes::Holds);
        let sharp = |word: &&str| self.scene.vocabulary.weapons.get(*word).is_some_and(|row| row.sharp);
        if let Some(word) = armed.filter(|word| takes_hold && !target.body && sharp(word)) {
            let message = format!("{who} takes hold of the blade of {other}'s {word}");
            let help =
                "let them take the hand or the wrist that holds it, or write what keeps the hand safe as a comment";
            self.problems.push(Problem::warning("B224", planned.span.clone(), message).help(help));
        }
        let has_hold = self.bodies.holding(planned.who).is_some_and(|grip| grip.held == to);
        if target.gripped && !takes_hold && !has_hold {
            let message = format!("{who} has no hold on {other} for {}", planned.action);
            let help = "let them take hold first, and let the one who is held keep the lead";
            self.problems.push(Problem::warning("B225", planned.span.clone(), message).help(help));
        }
    }

    /// B226: two who strike at each other at once, while a blade of one goes where none may touch.
    pub(super) fn crosses(&mut self, planned: &'s PlannedMove, action: &Action, reply: &Reply, to: FighterId) {
        if self.blows.at != Some(planned.at) {
            self.blows.at = Some(planned.at);
            self.blows.given.clear();
        }
        if !action.attack || reply.kind == ReplyKind::Meet {
            return;
        }
        let target = planned.target.as_ref().and_then(|word| self.scene.vocabulary.targets.get(word.as_str()));
        let grave = action.needs_weapon && target.is_some_and(|row| row.vital == Vital::Never);
        let back = self.blows.given.iter().find(|(who, whom, _, _)| (*who, *whom) == (to, planned.who));
        if let Some((_, _, _, span)) = back.filter(|(_, _, other_grave, _)| grave || *other_grave) {
            let (who, other) = (self.scene.fighter(planned.who), self.scene.fighter(to));
            let message =
                format!("{who} and {other} strike at each other at once, and a blade goes to a face or a throat");
            let help = "let one of them act after the other";
            let problem = Problem::warning("B226", planned.span.clone(), message).help(help);
            self.problems.push(problem.related((*span).clone(), "the other is here"));
        }
        self.blows.given.push((planned.who, to, grave, &planned.span));
    }
}
