//! Whether a body can do what a half of a move asks of it. What is said of a death, a grip or of two who are body to body
//! is said once, on the first line that forgets it; from there on the check goes on as if it were mended.

use crate::score::model::{FREE_HAND, FighterId, Span};
use crate::score::problem::Problem;
use crate::score::vocabulary::{Makes, Need, Posture};

use super::Stage;
use super::state::{Grip, Stance};
use crate::check::scene::one_of;

/// What a half of a move asks of a body.
pub(super) struct Demand<'d> {
    pub(super) fighter: FighterId,
    pub(super) doing: &'d str,
    pub(super) needs_weapon: bool,
    pub(super) posture: Posture,
    pub(super) needs: &'d [Need],
    /// Whom it is done with or to.
    pub(super) partner: Option<FighterId>,
    /// The weapon it is to be done with, or the free hand.
    pub(super) with: Option<&'d str>,
    pub(super) span: &'d Span,
}

impl Stage<'_, '_> {
    pub(super) fn demand(&mut self, demand: &Demand<'_>) {
        if self.is_dead(demand.fighter, demand.doing, demand.span) {
            return;
        }
        self.posture(demand);
        for need in demand.needs {
            match need {
                Need::Unheld => self.unheld(demand),
                Need::HoldsNobody => self.holds_nobody(demand.fighter, demand.doing, demand.span),
                Need::Room => self.room(demand),
                Need::Grip => self.grip(demand),
                Need::Hand => self.hand(demand),
                Need::BothHands => self.both_hands(demand),
                Need::WeaponArm => self.weapon_arm(demand),
                Need::Legs => self.legs(demand),
                Need::Blades => self.blades(demand),
            }
        }
        self.weapon(demand);
    }

    fn say(&mut self, code: &'static str, span: &Span, message: String, help: String, since: Option<(Span, &str)>) {
        let problem = Problem::error(code, span.clone(), message).help(help);
        self.problems.push(match since.filter(|(since, _)| since != span) {
            Some((since, what)) => problem.related(since, what),
            None => problem,
        });
    }

    /// B209: the dead do nothing. True, once, when somebody dead is to do something.
    pub(super) fn is_dead(&mut self, fighter: FighterId, doing: &str, span: &Span) -> bool {
        let Some(body) = self.bodies.body(fighter).filter(|body| body.dead) else { return false };
        let since = body.since.clone().map(|since| (since, "dies here"));
        let message = format!("{} is dead and cannot {doing}", self.scene.fighter(fighter));
        let help = "let them die later, or give this to somebody else".to_owned();
        self.say("B209", span, message, help, since);
        self.bodies.forget_death(fighter);
        true
    }

    /// B203: on the floor. B204: not on the floor. B215: on a knee.
    fn posture(&mut self, demand: &Demand<'_>) {
        let Some(body) = self.bodies.body(demand.fighter) else { return };
        let (who, doing) = (self.scene.fighter(demand.fighter), demand.doing);
        let since = body.since.clone();
        match (demand.posture, body.stance) {
            (Posture::Standing | Posture::Feet, Stance::Floor) => {
                let message = format!("{who} is on the floor and cannot {doing}");
                let since = since.map(|span| (span, "down since here"));
                self.say("B203", demand.span, message, "let them rise first".to_owned(), since);
            }
            (Posture::Feet, Stance::Knee) => {
                let message = format!("{who} is on a knee and cannot {doing}");
                let since = since.map(|span| (span, "kneels since here"));
                self.say("B215", demand.span, message, "let them rise first".to_owned(), since);
            }
            (Posture::Down, stance @ (Stance::Feet | Stance::Knee)) | (Posture::Low, stance @ Stance::Feet) => {
                let how = if stance == Stance::Knee { "on a knee" } else { "on their feet" };
                let message = format!("{who} is {how} and cannot {doing}");
                self.say("B204", demand.span, message, "let them go down first".to_owned(), None);
            }
            _ => {}
        }
    }

    /// B210: held.
    fn unheld(&mut self, demand: &Demand<'_>) {
        let own = demand.fighter;
        let grip = if demand.needs_weapon { self.bodies.pinned_by(own) } else { self.bodies.held_by(own) };
        self.is_held(demand, grip.cloned());
    }

    /// B210: held where the weapon is.
    fn weapon_arm(&mut self, demand: &Demand<'_>) {
        self.is_held(demand, self.bodies.pinned_by(demand.fighter).cloned());
    }

    fn is_held(&mut self, demand: &Demand<'_>, grip: Option<Grip>) {
        let own = demand.fighter;
        let Some(grip) = grip else { return };
        let (who, holder) = (self.scene.fighter(own), self.scene.fighter(grip.holder));
        let message = format!("{who} is held by {holder} and cannot {}", demand.doing);
        let help = self.letting_go(grip.holder, own);
        self.say("B210", demand.span, message, help, Some((grip.span.clone(), "held since here")));
        self.bodies.part(grip.holder, own);
    }

    /// B210: holding somebody.
    pub(super) fn holds_nobody(&mut self, own: FighterId, doing: &str, span: &Span) {
        let Some(grip) = self.bodies.holding(own).cloned() else { return };
        let (who, held) = (self.scene.fighter(own), self.scene.fighter(grip.held));
        let message = format!("{who} still holds {held} and cannot {doing}");
        let help = self.letting_go(own, grip.held);
        self.say("B210", span, message, help, Some((grip.span.clone(), "takes hold here")));
        self.bodies.part(own, grip.held);
    }

    /// How a grip ends, in the words of the vocabulary.
    pub(super) fn letting_go(&self, holder: FighterId, held: FighterId) -> String {
        let vocabulary = self.scene.vocabulary;
        let (holder, held) = (self.scene.fighter(holder), self.scene.fighter(held));
        let release = vocabulary.action_that(Makes::Releases).map(|word| format!("{holder} {word}"));
        let free = vocabulary.reply_that(Makes::Frees).map(|word| format!("{held} {word}"));
        match (release, free) {
            (None, None) => "end the grip first".to_owned(),
            (release, free) => {
                let ways: Vec<String> = release.into_iter().chain(free).collect();
                format!("end the grip first: {}", one_of(&ways))
            }
        }
    }

    /// B211: body to body.
    fn room(&mut self, demand: &Demand<'_>) {
        let Some((other, since)) = self.bodies.close_to(demand.fighter) else { return };
        let vocabulary = self.scene.vocabulary;
        let (who, with) = (self.scene.fighter(demand.fighter), self.scene.fighter(other));
        let message = format!("{who} is body to body with {with}: there is no room to {}", demand.doing);
        let mut ways: Vec<String> = vocabulary
            .actions
            .iter()
            .filter(|(_, row)| row.makes.contains(&Makes::Parts))
            .map(|it| it.0.clone())
            .collect();
        ways.truncate(4);
        let help = format!("part them first: {}, or a walk", one_of(&ways));
        self.say("B211", demand.span, message, help, Some((since, "body to body since here")));
        self.bodies.part(demand.fighter, other);
    }

    /// B217: lets go of nobody.
    fn grip(&mut self, demand: &Demand<'_>) {
        if self.bodies.holding(demand.fighter).is_none() && !self.bodies.slipped(demand.fighter) {
            let message = format!("{} holds nobody and cannot {}", self.scene.fighter(demand.fighter), demand.doing);
            let help = "write the grip that ends here, or delete this line".to_owned();
            self.say("B217", demand.span, message, help, None);
        }
    }

    /// B219: takes hold with a hand that is full.
    fn hand(&mut self, demand: &Demand<'_>) {
        if demand.with != Some(FREE_HAND) && !self.bodies.has_an_empty_hand(demand.fighter) {
            let message = format!("{} has no hand free to {}", self.scene.fighter(demand.fighter), demand.doing);
            let help = "let them drop, sheathe or let go of something first";
            self.problems.push(Problem::warning("B219", demand.span.clone(), message).help(help));
        }
    }

    /// B219: takes a throat in hands of which one holds something.
    fn both_hands(&mut self, demand: &Demand<'_>) {
        if self.bodies.hands_in_use(demand.fighter) > 0 {
            let who = self.scene.fighter(demand.fighter);
            let message = format!("{who} has not both hands free to {}", demand.doing);
            let help = "let them drop, sheathe or let go of everything first";
            self.problems.push(Problem::warning("B219", demand.span.clone(), message).help(help));
        }
    }

    /// B220: lifts a leg that is held, or the other one.
    fn legs(&mut self, demand: &Demand<'_>) {
        let Some(grip) = self.bodies.leg_held_by(demand.fighter).cloned() else { return };
        let (who, holder) = (self.scene.fighter(demand.fighter), self.scene.fighter(grip.holder));
        let message = format!("{who} stands on one leg, for {holder} has the other, and cannot {}", demand.doing);
        let help = self.letting_go(grip.holder, demand.fighter);
        self.say("B220", demand.span, message, help, Some((grip.span.clone(), "held since here")));
        self.bodies.part(grip.holder, demand.fighter);
    }

    /// B221: carries or glides along a blade that is not there.
    fn blades(&mut self, demand: &Demand<'_>) {
        let Some(partner) = demand.partner else { return };
        if self.bodies.contact(demand.fighter).is_some_and(|contact| contact.with == partner) {
            return;
        }
        let (who, other) = (self.scene.fighter(demand.fighter), self.scene.fighter(partner));
        let message = format!("{who} has no blade of {other}'s to {}: theirs do not meet before it", demand.doing);
        let help = format!("let {who} parry, meet, beat or engage it first");
        self.problems.push(Problem::warning("B221", demand.span.clone(), message).help(help));
    }

    /// B205: no weapon in hand. B218: no free hand.
    fn weapon(&mut self, demand: &Demand<'_>) {
        let own = demand.fighter;
        let (who, doing) = (self.scene.fighter(own), demand.doing);
        if demand.with == Some(FREE_HAND) {
            if !self.bodies.has_a_free_hand(own) {
                let message = format!("{who} has no free hand for {doing}");
                let help = "use the weapon instead, or let them drop one first".to_owned();
                self.say("B218", demand.span, message, help, None);
            }
            return;
        }
        if !demand.needs_weapon && demand.with.is_none() || self.bodies.in_hand(own, demand.with).is_some() {
            return;
        }
        let what = demand.with.map_or("weapon".to_owned(), str::to_owned);
        let message = format!("{who} has no {what} in hand for {doing}");
        let help = match self.bodies.sheathed(own) {
            Some(word) => format!("the {word} is in its sheath: let them draw it first"),
            None => "let them draw or pick up a weapon first, or write something done with bare hands".to_owned(),
        };
        let since = self.bodies.body(own).and_then(|body| body.disarmed.clone());
        self.say("B205", demand.span, message, help, since.map(|span| (span, "without one since here")));
    }
}
