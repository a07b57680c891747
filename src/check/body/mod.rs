//! Bodies: can everybody do what they are to do? One state for each body goes through the whole fight, also over the
//! seams between phrases: standing, kneeling, down or dead; free, held, holding, body to body; every weapon in a hand, a
//! sheath or on the floor. What a word needs of a body and what it makes of it stands in the vocabulary, so a company
//! whose school does it otherwise says so there, and the checks follow. Where people stand is looked at in `space`.

mod contact;
mod demand;
mod hands;
pub(super) mod start;
mod state;

use std::collections::HashMap;

use crate::score::model::{FREE_HAND, FighterId, Person, Span};
use crate::score::problem::{Problem, Severity};
use crate::score::vocabulary::{Action, Effect, Makes, Reply, ReplyKind};
use crate::timeline::{PlannedMove, PlannedWalk};
use crate::units::Ticks;

use self::contact::Blows;
use self::demand::Demand;
use self::state::{Bodies, Grip, Place, Stance, is_other_hand};
use super::point_at_use;
use super::scene::{Rows, Scene, beats};

/// A109, B201 … B232.
pub(super) fn find(scene: &Scene<'_>) -> Vec<Problem> {
    let mut stage = Stage::new(scene);
    stage.begin();
    stage.play(Ticks(i64::MAX));
    stage.end();
    stage.problems
}

/// What somebody does on a tick.
struct Doing<'p> {
    partner: Option<FighterId>,
    answers: bool,
    /// Whether it can be done while one's own blow goes to the partner.
    with_attack: bool,
    tool: Option<&'p str>,
    /// Whether it is what brings the weapon into the hand.
    takes: bool,
    span: &'p Span,
}

impl Doing<'_> {
    /// True when one body can do both at once: with two hands, or in a double hit.
    fn goes_with(&self, other: &Doing<'_>) -> bool {
        let two_hands = self.tool != other.tool && (self.tool.is_some() || other.tool.is_some());
        let answer = if self.answers { self } else { other };
        let double = self.answers != other.answers && answer.with_attack && self.partner == other.partner;
        // A weapon is in hand before anything is answered with it.
        let draws = self.takes != other.takes && self.answers != other.answers;
        (two_hands && !draws) || double
    }
}

/// All that somebody does on one tick.
#[derive(Default)]
struct Busy<'p> {
    at: Option<Ticks>,
    doing: Vec<Doing<'p>>,
}

struct Stage<'s, 'a> {
    scene: &'s Scene<'a>,
    bodies: Bodies,
    busy: Vec<Busy<'s>>,
    blows: Blows<'s>,
    /// Until when each person walks, and on which line.
    walking: HashMap<Person, (Ticks, Span)>,
    problems: Vec<Problem>,
    /// How far it has been played: the next move and walk of the plan, and the phrase.
    next_move: usize,
    next_walk: usize,
    phrase: usize,
}

impl<'s, 'a> Stage<'s, 'a> {
    fn new(scene: &'s Scene<'a>) -> Stage<'s, 'a> {
        Stage {
            scene,
            bodies: Bodies::new(scene.score, scene.vocabulary),
            busy: scene.score.fighters.iter().map(|_| Busy::default()).collect(),
            blows: Blows::default(),
            walking: HashMap::new(),
            problems: Vec::new(),
            next_move: 0,
            next_walk: 0,
            phrase: 0,
        }
    }

    /// Plays the fight on, up to what begins at a tick.
    fn play(&mut self, until: Ticks) {
        let scene = self.scene;
        while let Some(planned) = scene.plan.moves().get(self.next_move).filter(|planned| planned.at < until) {
            self.walk_until(planned.at + Ticks(1));
            self.enter(planned.phrase_in_range);
            self.perform(planned, scene.rows_of(self.next_move));
            self.next_move += 1;
        }
        self.walk_until(until);
    }

    fn walk_until(&mut self, until: Ticks) {
        let scene = self.scene;
        while let Some(walk) = scene.plan.walks().get(self.next_walk).filter(|walk| walk.at < until) {
            self.walk(walk);
            self.next_walk += 1;
        }
    }

    /// A phrase begins, if it is not the one that goes.
    fn enter(&mut self, phrase: usize) {
        if phrase != self.phrase {
            self.phrase = phrase;
            self.take_places(phrase);
        }
    }

    fn perform(&mut self, planned: &'s PlannedMove, rows: Rows<'_>) {
        let before = self.problems.len();
        self.r#move(planned, rows);
        point_at_use(self.problems.get_mut(before..).unwrap_or_default(), planned.used.as_ref());
    }

    fn r#move(&mut self, planned: &'s PlannedMove, Rows { action, reply }: Rows<'_>) {
        let answerer = planned.to.filter(|&to| to != planned.who);
        if planned.to == Some(planned.who) {
            self.replies_to_self(planned);
        }
        let (span, tool) = (&planned.span, planned.manner.with.as_deref());
        let partner = planned.to.or(planned.manner.aimed);
        let takes = action.is_some_and(|row| row.effects.contains(&Effect::TakesWeapon));
        self.occupy(planned.who, planned.at, Doing { partner, answers: false, with_attack: false, tool, takes, span });
        if let Some(to) = answerer {
            let with_attack = reply.is_some_and(|row| row.with_attack);
            let tool = planned.reply_with.as_deref();
            let partner = Some(planned.who);
            self.occupy(to, planned.at, Doing { partner, answers: true, with_attack, tool, takes: false, span });
        }
        if let Some(row) = action {
            self.demand(&Demand {
                fighter: planned.who,
                doing: &planned.action,
                needs_weapon: row.needs_weapon,
                posture: row.posture,
                needs: &row.needs,
                partner,
                with: tool,
                span,
            });
        }
        if let (Some(row), Some(to), Some(doing)) = (reply, planned.to, &planned.reply) {
            self.demand(&Demand {
                fighter: to,
                doing,
                needs_weapon: row.needs_weapon,
                posture: row.posture,
                needs: &row.needs,
                partner: Some(planned.who),
                with: planned.reply_with.as_deref(),
                span,
            });
        }
        if let (Some(action), Some(reply), Some(to)) = (action, reply, answerer) {
            self.stops(planned, action, reply, to);
            self.touches(planned, action, to);
            self.crosses(planned, action, reply, to);
        }
        self.change(planned, action, reply);
        if let Some(row) = action {
            self.blades_move(planned, row, reply);
        }
    }

    /// B201: two things on one tick that one body cannot do at once.
    fn occupy(&mut self, fighter: FighterId, at: Ticks, doing: Doing<'s>) {
        let Some(busy) = self.busy.get_mut(fighter.0) else { return };
        if busy.at != Some(at) {
            busy.at = Some(at);
            busy.doing.clear();
        }
        if let Some(other) = busy.doing.iter().rev().find(|other| !doing.goes_with(other)) {
            let message = format!("{} does two things at once", self.scene.fighter(fighter));
            let problem = Problem::error("B201", doing.span.clone(), message)
                .help("move one of them to another beat, or give it to somebody else");
            self.problems.push(if other.span == doing.span {
                problem
            } else {
                problem.related(other.span.clone(), "the other is here")
            });
        }
        busy.doing.push(doing);
    }

    /// B202.
    fn replies_to_self(&mut self, planned: &PlannedMove) {
        let message = format!("{} replies to their own {}", self.scene.fighter(planned.who), planned.action_word);
        self.problems
            .push(Problem::error("B202", planned.span.clone(), message).help("name the one who answers after the `/`"));
    }

    /// A109: a light blade, or a hand, in the way of a heavy blow. What comes straight in is only turned aside.
    fn stops(&mut self, planned: &PlannedMove, action: &Action, reply: &Reply, to: FighterId) {
        let blade = matches!(reply.kind, ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Meet);
        if !blade || !action.needs_weapon || action.straight {
            return;
        }
        let Some(heavy) = self.bodies.in_hand(planned.who, planned.manner.with.as_deref()) else { return };
        let hand = planned.reply_with.as_deref() == Some(FREE_HAND);
        let light = if hand { Some((FREE_HAND, 0)) } else { None };
        let own = || self.bodies.in_hand(to, planned.reply_with.as_deref()).map(|it| (it.word.as_str(), it.weight));
        let Some((word, weight)) = light.or_else(own) else { return };
        if heavy.weight < weight + 2 {
            return;
        }
        let (who, other) = (self.scene.fighter(planned.who), self.scene.fighter(to));
        let message = format!("{other}'s {word} does not stop the {} of {who}'s {}", planned.action, heavy.word);
        let help = format!("let {other} get out of its way, or parry with something heavier");
        self.problems.push(Problem::new(Severity::Warning, "A109", planned.span.clone(), message).help(help));
    }

    /// Does what the rows of a move say they do.
    fn change(&mut self, planned: &PlannedMove, action: Option<&Action>, reply: Option<&Reply>) {
        let answered = reply.map(|reply| reply.kind);
        let succeeds = matches!(answered, Some(ReplyKind::Yield | ReplyKind::Take));
        if let Some(row) = action {
            let other = planned.to.filter(|_| succeeds);
            let named = planned.manner.with.as_deref().or(planned.target.as_deref().filter(|_| row.names_weapon));
            row.effects.iter().for_each(|&effect| self.apply(effect, planned.who, other, &row.makes, named, planned));
            row.makes.iter().for_each(|&makes| self.make(makes, planned.who, other, planned));
        }
        if let (Some(row), Some(to)) = (reply, planned.to) {
            let (other, named) = (Some(planned.who), planned.reply_with.as_deref());
            row.effects.iter().for_each(|&effect| self.apply(effect, to, other, &row.makes, named, planned));
            row.makes.iter().for_each(|&makes| self.make(makes, to, other, planned));
        }
    }

    /// B206: takes a weapon from somebody who has none. B212, B213: takes one from where there is none.
    fn apply(
        &mut self,
        effect: Effect,
        own: FighterId,
        other: Option<FighterId>,
        makes: &[Makes],
        named: Option<&str>,
        planned: &PlannedMove,
    ) {
        let span = &planned.span;
        match effect {
            Effect::DisarmsOther => {
                let Some(other) = other else { return };
                if !self.bodies.lose(other, None, false, (planned.time, span)) {
                    let message = format!("{} has no weapon to lose", self.scene.fighter(other));
                    self.problems.push(
                        Problem::warning("B206", span.clone(), message).help("let them draw or pick one up first"),
                    );
                }
            }
            Effect::DisarmsSelf => match planned.manner.aimed.filter(|_| makes.contains(&Makes::HandsOver)) {
                Some(to) => self.catches(own, to, named, planned),
                None => drop(self.bodies.lose(own, named, makes.contains(&Makes::ToSheath), (planned.time, span))),
            },
            Effect::TakesWeapon => self.takes(own, makes, named, planned),
            Effect::DownsOther => {
                if let Some(other) = other {
                    self.held_by_another(other, own, planned);
                    self.bodies.stand(other, Stance::Floor, span);
                }
            }
            Effect::GoesDown => {
                // Whoever is strangled to death is let down by the one who does it.
                if !makes.contains(&Makes::Dies) {
                    self.held_by_another(own, other.unwrap_or(own), planned);
                }
                self.bodies.stand(own, Stance::Floor, span);
            }
            Effect::GetsUp => self.bodies.stand(own, Stance::Feet, span),
        }
    }

    fn takes(&mut self, own: FighterId, makes: &[Makes], named: Option<&str>, planned: &PlannedMove) {
        let who = self.scene.fighter(own);
        let (sheath, floor) = (makes.contains(&Makes::FromSheath), makes.contains(&Makes::FromFloor));
        let from = if sheath { Place::Sheath(own) } else { Place::Floor };
        self.hands_for(own, named, from, planned);
        if (sheath && self.bodies.take(own, named, Place::Sheath(own)))
            || (floor && (self.bodies.take(own, named, Place::Floor) || self.bodies.tossed(own, named).is_some()))
        {
            return;
        }
        let what = named.unwrap_or("weapon");
        let problem = if sheath {
            let in_hand = self.bodies.in_hand(own, named).map(|it| it.word.clone());
            let message = match &in_hand {
                Some(word) => format!("{who} has the {word} in hand already: there is nothing to draw"),
                None => format!("{who} has no {what} in a sheath to draw"),
            };
            let help =
                format!("write `sheathed` behind the hand in {who}'s line under `fighters`, or delete this line");
            Some(Problem::warning("B212", planned.span.clone(), message).help(help))
        } else if floor {
            let message = format!("no {what} lies on the floor for {who} to pick up");
            let help = "let somebody drop it first, or let them draw";
            Some(Problem::warning("B213", planned.span.clone(), message).help(help))
        } else {
            None
        };
        self.problems.extend(problem);
        self.bodies.give(own, named);
    }

    fn make(&mut self, makes: Makes, own: FighterId, other: Option<FighterId>, planned: &PlannedMove) {
        let span = &planned.span;
        match makes {
            Makes::Holds => {
                let breaks =
                    planned.reply_word.as_ref().and_then(|word| self.scene.vocabulary.replies.get(word.as_str()));
                let breaks = breaks.is_some_and(|row| row.makes.contains(&Makes::Frees));
                if let Some(held) = other.filter(|_| !breaks) {
                    let target =
                        planned.target.as_ref().and_then(|word| self.scene.vocabulary.targets.get(word.as_str()));
                    let (body, leg) = target.map_or((true, false), |row| (row.body, row.leg));
                    let pins = self.pins(planned, held);
                    let hands = if self.takes_both_hands(planned) { 2 } else { 1 };
                    self.bodies.hold(Grip { holder: own, held, pins, body, leg, hands, span: span.clone() });
                }
            }
            Makes::Releases => self.bodies.release(own),
            Makes::Frees => self.bodies.free(own),
            Makes::Closes => other.into_iter().for_each(|other| self.bodies.close_in(own, other, span)),
            Makes::Parts => match other {
                Some(other) => self.bodies.part(own, other),
                None => self.bodies.step_away(own),
            },
            Makes::Kneels => self.bodies.stand(own, Stance::Knee, span),
            Makes::Dies => self.bodies.die(own, span),
            Makes::FromSheath | Makes::FromFloor | Makes::ToSheath | Makes::HandsOver => {}
        }
    }

    /// Whether a grip keeps the held from using a weapon: by its place, and on an arm by the hand.
    fn pins(&self, planned: &PlannedMove, held: FighterId) -> bool {
        let target = planned.target.as_ref().and_then(|word| self.scene.vocabulary.targets.get(word.as_str()));
        let hand = self.scene.score.fighters.get(held.0).map(|fighter| fighter.hand);
        let other_arm = match (hand, planned.side) {
            (Some(hand), Some(side)) => is_other_hand(hand, side),
            _ => false,
        };
        target.is_none_or(|row| row.pins) && !other_arm
    }

    /// Marks at the beginning of a phrase: whoever has one is no longer body to body with anybody.
    fn take_places(&mut self, phrase: usize) {
        let places = self.scene.plan.places();
        // Places stand in order of their phrases.
        let first = places.partition_point(|place| place.phrase_in_range < phrase);
        let own = places.iter().skip(first).take_while(|place| place.phrase_in_range == phrase);
        for place in own {
            if let Person::Fighter(fighter) = place.who {
                self.bodies.step_away(fighter);
            }
        }
    }

    fn walk(&mut self, walk: &PlannedWalk) {
        let before = self.problems.len();
        self.walks(walk);
        point_at_use(self.problems.get_mut(before..).unwrap_or_default(), walk.used.as_ref());
    }

    /// B207: two walks at once. B208: walks while on the floor. Who is held walks with the holder or not at all.
    fn walks(&mut self, walk: &PlannedWalk) {
        let who = self.scene.person(walk.who);
        let last = self.walking.insert(walk.who, (walk.until, walk.span.clone()));
        if let Some((until, span)) = last.filter(|(until, _)| *until > walk.at) {
            let message = format!("{who} sets off before the last walk is over, {} too early", beats(until - walk.at));
            let problem =
                Problem::error("B207", walk.span.clone(), message).help("end the last walk sooner, or set off later");
            self.problems.push(if span == walk.span { problem } else { problem.related(span, "the last walk") });
        }
        let Person::Fighter(own) = walk.who else { return };
        if self.is_dead(own, "walk", &walk.span) {
            return;
        }
        let Some(body) = self.bodies.body(own) else { return };
        let (code, how) = match body.stance {
            Stance::Feet => return self.walks_free(own, walk),
            Stance::Knee => ("B215", "on a knee"),
            Stance::Floor => ("B208", "on the floor"),
        };
        let message = format!("{who} is {how} and cannot walk");
        self.problems.push(Problem::error(code, walk.span.clone(), message).help("let them rise first"));
    }

    fn walks_free(&mut self, own: FighterId, walk: &PlannedWalk) {
        self.bodies.step_away(own);
        let grip = self.bodies.held_by(own).or(self.bodies.holding(own)).cloned();
        let Some(grip) = grip else { return };
        let partner = if grip.holder == own { grip.held } else { grip.holder };
        let together =
            |it: &&PlannedWalk| it.who == Person::Fighter(partner) && it.at < walk.until && it.until > walk.at;
        if self.scene.plan.walks().iter().any(|it| together(&it)) {
            return;
        }
        let (who, with) = (self.scene.fighter(own), self.scene.fighter(partner));
        let (how, help) =
            (if grip.held == own { "is held by" } else { "holds" }, self.letting_go(grip.holder, grip.held));
        let message = format!("{who} {how} {with} and walks off alone");
        let help = format!("{help}, or let both walk");
        self.problems.push(
            Problem::error("B210", walk.span.clone(), message).help(help).related(grip.span.clone(), "held since here"),
        );
        self.bodies.part(grip.holder, grip.held);
    }

    /// B214: grips that are never let go.
    fn end(&mut self) {
        for grip in self.bodies.grips() {
            let (holder, held) = (self.scene.fighter(grip.holder), self.scene.fighter(grip.held));
            let message = format!("{holder} takes hold of {held} here and never lets go");
            let help = self.letting_go(grip.holder, grip.held).replace("end the grip first", "say how it ends");
            self.problems.push(Problem::warning("B214", grip.span.clone(), message).help(help));
        }
    }
}
