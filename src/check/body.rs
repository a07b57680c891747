//! Bodies: can everybody do what they are to do? Nobody does two things on one tick, replies to themselves, walks two
//! ways at once, fights from the floor, or uses a weapon that is not in the hand. Who is down and who is armed goes on
//! from phrase to phrase.

use std::collections::HashMap;

use crate::score::model::{FighterId, Person, Span};
use crate::score::problem::Problem;
use crate::score::vocabulary::{Effect, Posture, ReplyKind};
use crate::timeline::{PlannedMove, PlannedWalk};
use crate::units::Ticks;

use super::scene::{Scene, beats};

/// B201 … B208.
pub(super) fn find(scene: &Scene<'_>) -> Vec<Problem> {
    let mut stage = Stage::new(scene);
    let mut walks = scene.plan.walks().iter().peekable();
    for planned in scene.plan.moves() {
        while let Some(walk) = walks.next_if(|walk| walk.at <= planned.at) {
            stage.walk(walk);
        }
        stage.perform(planned);
    }
    walks.for_each(|walk| stage.walk(walk));
    stage.problems
}

/// A fighter's body at a moment.
#[derive(Clone)]
struct Body {
    down: bool,
    armed: bool,
    /// The line that put them on the floor or took the weapon, to point at.
    since: Option<Span>,
    /// What they did last, and when.
    busy: Option<(Ticks, Span)>,
}

struct Stage<'s, 'a> {
    scene: &'s Scene<'a>,
    bodies: Vec<Body>,
    /// Until when each person walks, and on which line.
    walking: HashMap<Person, (Ticks, Span)>,
    problems: Vec<Problem>,
}

/// What a half of a move asks of a body.
struct Demand<'d> {
    fighter: FighterId,
    doing: &'d str,
    needs_weapon: bool,
    posture: Posture,
    span: &'d Span,
}

impl<'s, 'a> Stage<'s, 'a> {
    fn new(scene: &'s Scene<'a>) -> Stage<'s, 'a> {
        let armed = |weapon: &String| scene.vocabulary.weapons.get(weapon).is_none_or(|weapon| weapon.armed);
        let fighters = scene.score.fighters.iter();
        let bodies =
            fighters.map(|it| Body { down: false, armed: armed(&it.weapon), since: None, busy: None }).collect();
        Stage { scene, bodies, walking: HashMap::new(), problems: Vec::new() }
    }

    fn perform(&mut self, planned: &PlannedMove) {
        let action = self.scene.vocabulary.actions.get(&planned.action_word);
        let reply = planned.reply_word.as_ref().and_then(|word| self.scene.vocabulary.replies.get(word));
        if planned.to == Some(planned.who) {
            self.replies_to_self(planned);
        }
        self.occupy(planned.who, planned);
        if let Some(to) = planned.to.filter(|&to| to != planned.who) {
            self.occupy(to, planned);
        }
        if let Some(row) = action {
            let (needs_weapon, posture) = (row.needs_weapon, row.posture);
            let doing = &planned.action;
            self.demand(&Demand { fighter: planned.who, doing, needs_weapon, posture, span: &planned.span });
        }
        if let (Some(row), Some(to), Some(doing)) = (reply, planned.to, &planned.reply) {
            let (needs_weapon, posture) = (row.needs_weapon, row.posture);
            self.demand(&Demand { fighter: to, doing, needs_weapon, posture, span: &planned.span });
        }
        if let Some(row) = action {
            let answered = reply.map(|reply| reply.kind);
            let succeeds = matches!(answered, Some(ReplyKind::Yield | ReplyKind::Take));
            row.effects
                .iter()
                .for_each(|&effect| self.apply(effect, planned.who, planned.to.filter(|_| succeeds), planned));
        }
        if let (Some(row), Some(to)) = (reply, planned.to) {
            row.effects.iter().for_each(|&effect| self.apply(effect, to, Some(planned.who), planned));
        }
    }

    /// B201: two things on one tick.
    fn occupy(&mut self, fighter: FighterId, planned: &PlannedMove) {
        let Some(body) = self.bodies.get_mut(fighter.0) else { return };
        let last = body.busy.replace((planned.at, planned.span.clone()));
        let Some((_, span)) = last.filter(|(at, _)| *at == planned.at) else { return };
        let message = format!("{} does two things at once", self.scene.fighter(fighter));
        let problem = Problem::error("B201", planned.span.clone(), message)
            .help("move one of them to another beat, or give it to somebody else");
        self.problems.push(if span == planned.span { problem } else { problem.related(span, "the other is here") });
    }

    /// B202.
    fn replies_to_self(&mut self, planned: &PlannedMove) {
        let message = format!("{} replies to their own {}", self.scene.fighter(planned.who), planned.action_word);
        self.problems
            .push(Problem::error("B202", planned.span.clone(), message).help("name the one who answers after the `/`"));
    }

    /// B203: on the floor. B204: not on the floor. B205: no weapon in hand.
    fn demand(&mut self, demand: &Demand<'_>) {
        let Some(body) = self.bodies.get(demand.fighter.0).cloned() else { return };
        let (who, doing) = (self.scene.fighter(demand.fighter), demand.doing);
        let mut wrong = |code, message: String, help: &str, since: &str| {
            let problem = Problem::error(code, demand.span.clone(), message).help(help);
            self.problems.push(match body.since.clone().filter(|span| span != demand.span && !since.is_empty()) {
                Some(span) => problem.related(span, since),
                None => problem,
            });
        };
        if demand.posture == Posture::Standing && body.down {
            wrong(
                "B203",
                format!("{who} is on the floor and cannot {doing}"),
                "let them rise first",
                "down since here",
            );
        }
        if demand.posture == Posture::Down && !body.down {
            wrong("B204", format!("{who} is on their feet and cannot {doing}"), "let them go down first", "");
        }
        if demand.needs_weapon && !body.armed {
            let help = "let them draw or pick up a weapon first, or write something done with bare hands";
            wrong("B205", format!("{who} has no weapon in hand for {doing}"), help, "without one since here");
        }
    }

    /// Does what a row says it does. B206: takes a weapon from somebody who has none.
    fn apply(&mut self, effect: Effect, own: FighterId, other: Option<FighterId>, planned: &PlannedMove) {
        let (whose, down, armed) = match effect {
            Effect::DisarmsOther => (other, None, Some(false)),
            Effect::DisarmsSelf => (Some(own), None, Some(false)),
            Effect::TakesWeapon => (Some(own), None, Some(true)),
            Effect::DownsOther => (other, Some(true), None),
            Effect::GoesDown => (Some(own), Some(true), None),
            Effect::GetsUp => (Some(own), Some(false), None),
        };
        let Some((fighter, body)) = whose.and_then(|who| Some((who, self.bodies.get_mut(who.0)?))) else { return };
        let had_none = effect == Effect::DisarmsOther && !body.armed;
        let changes = down.is_some_and(|down| down != body.down) || armed.is_some_and(|armed| armed != body.armed);
        body.down = down.unwrap_or(body.down);
        body.armed = armed.unwrap_or(body.armed);
        if changes {
            body.since = Some(planned.span.clone());
        }
        if had_none {
            let message = format!("{} has no weapon to lose", self.scene.fighter(fighter));
            self.problems.push(
                Problem::warning("B206", planned.span.clone(), message).help("let them draw or pick one up first"),
            );
        }
    }

    /// B207: two walks at once. B208: walks while on the floor.
    fn walk(&mut self, walk: &PlannedWalk) {
        let who = self.scene.person(walk.who);
        let last = self.walking.insert(walk.who, (walk.until, walk.span.clone()));
        if let Some((until, span)) = last.filter(|(until, _)| *until > walk.at) {
            let message = format!("{who} sets off before the last walk is over, {} too early", beats(until - walk.at));
            let problem =
                Problem::error("B207", walk.span.clone(), message).help("end the last walk sooner, or set off later");
            self.problems.push(if span == walk.span { problem } else { problem.related(span, "the last walk") });
        }
        let down = matches!(walk.who, Person::Fighter(it) if self.bodies.get(it.0).is_some_and(|body| body.down));
        if down {
            let message = format!("{who} is on the floor and cannot walk");
            self.problems.push(Problem::error("B208", walk.span.clone(), message).help("let them rise first"));
        }
    }
}
