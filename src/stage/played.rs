//! The fight played through once, so that everybody has their way. Marks and walks say where people are; between them moves
//! carry them as the vocabulary says. What the score does not write (a step in, a stagger) is kept apart from what it does: it
//! counts as [`Cause::Move`] and adds to how far off the track may be ([`Track::slack`]).

use super::blow::{self, Blow};
use super::body::{Build, CHEST, Pose};
use super::leg::{Cause, Leg, Way};
use super::plan::StagePlan;
use super::sweep::FOLLOWS;
use super::track::{Fall, Seam, Track, Tracks};
use super::vec2::Vec2;
use crate::score::model::{Facing, FighterId, Person, Score};
use crate::score::vocabulary::{Action, Effect};
use crate::score::vocabulary::{Goes, Makes, Posture, Reply, ReplyKind, STEP_IN, Touch, Vocabulary};
use crate::timeline::{Plan, PlannedMove};

/// How near to a partner somebody steps of their own accord, metres. Assumption: an arm's length, elbow bent.
const NEAREST_STEP: f64 = 0.6;
/// Where two who are body to body stand, metres between the middles of their bodies. Assumption: chest to chest.
const BODY_TO_BODY: f64 = 0.4;
/// How long footwork that no line gives a time to takes, seconds, before a blow and after it. Assumption.
const FOOTWORK: f64 = 0.4;

impl<'p> Tracks<'p> {
    /// Everybody's ways through a fight at the plan's speed.
    pub fn of(score: &Score, vocabulary: &Vocabulary, plan: &Plan, stage: &'p StagePlan) -> Tracks<'p> {
        let mut builder = Builder::new(score, vocabulary, plan, stage);
        builder.play();
        builder.done()
    }
}

struct Builder<'b, 'p> {
    score: &'b Score,
    vocabulary: &'b Vocabulary,
    plan: &'b Plan,
    tracks: Tracks<'p>,
    /// Since when each has had nothing to do.
    idle: Vec<f64>,
    /// The phrase that each seam's person needs to stand in, until their first line in it.
    waiting: Vec<Option<usize>>,
    /// How each is when nothing passes over or under them.
    base: Vec<Pose>,
}

enum Event {
    Place(usize),
    Walk(usize),
    Move(usize),
}

impl<'b, 'p> Builder<'b, 'p> {
    fn new(score: &'b Score, vocabulary: &'b Vocabulary, plan: &'b Plan, stage: &'p StagePlan) -> Builder<'b, 'p> {
        let fighters = score.fighters.iter().enumerate();
        let fighters = fighters.map(|(at, it)| (Person::Fighter(FighterId(at)), it.name.as_str()));
        let bystanders = score.bystanders.iter().enumerate();
        let bystanders =
            bystanders.map(|(at, it)| (Person::Bystander(crate::score::model::BystanderId(at)), it.name.as_str()));
        let mut base = Vec::new();
        let people: Vec<Track> = fighters
            .chain(bystanders)
            .map(|(who, name)| {
                let pose = stage.poses.get(name).copied().unwrap_or_default();
                base.push(pose);
                let (build, poses) = (stage.build(name), vec![(f64::NEG_INFINITY, pose)]);
                Track { who, build, legs: Vec::new(), poses, faces: Vec::new(), slacks: Vec::new() }
            })
            .collect();
        let names = || score.phrases.iter().map(|phrase| phrase.name.as_str());
        let layouts = plan.phrases().iter().map(|phrase| {
            let time = seconds(plan, phrase.at.0);
            (time, stage.layout(&score.name, names().take(phrase.phrase + 1).collect::<Vec<_>>().into_iter()))
        });
        let mut weapons: Vec<Vec<(f64, f64)>> = score
            .fighters
            .iter()
            .map(|fighter| {
                let length = vocabulary.weapons.get(&fighter.weapon).map_or(0.0, |row| row.blade.0);
                vec![(f64::NEG_INFINITY, if fighter.sheathed { 0.0 } else { length })]
            })
            .collect();
        weapons.resize(people.len(), Vec::new());
        let count = people.len();
        let tracks = Tracks {
            people,
            blows: Vec::new(),
            sweeps: Vec::new(),
            falls: Vec::new(),
            seams: Vec::new(),
            layouts: layouts.collect(),
            fighters: score.fighters.len(),
            weapons,
        };
        Builder { score, vocabulary, plan, tracks, idle: vec![0.0; count], waiting: vec![None; count], base }
    }

    fn play(&mut self) {
        let plan = self.plan;
        let phrase_at = |phrase: usize| plan.phrases().get(phrase).map_or(0, |it| it.at.0);
        let places = plan.places().iter().enumerate();
        let mut events: Vec<(i64, Event)> =
            places.map(|(at, it)| (phrase_at(it.phrase_in_range), Event::Place(at))).collect();
        events.extend(plan.walks().iter().enumerate().map(|(at, it)| (it.at.0, Event::Walk(at))));
        events.extend(plan.moves().iter().enumerate().map(|(at, it)| (it.at.0, Event::Move(at))));
        events.sort_by_key(|(at, event)| {
            (*at, matches!(event, Event::Walk(_)) as u8 + 2 * u8::from(matches!(event, Event::Move(_))))
        });
        for (at, event) in events {
            let time = seconds(plan, at);
            match event {
                Event::Place(place) => self.place(place, time),
                Event::Walk(walk) => self.walk(walk, time),
                Event::Move(index) => self.perform(index, time),
            }
        }
    }

    fn done(mut self) -> Tracks<'p> {
        let end = seconds(self.plan, self.plan.length().0);
        for person in 0..self.tracks.people.len() {
            self.busy(person, end, end);
        }
        for track in &mut self.tracks.people {
            track.poses.sort_by(|one, other| one.0.total_cmp(&other.0));
            track.faces.sort_by(|one, other| one.0.total_cmp(&other.0));
        }
        self.tracks.sweeps.sort_by(|one, other| one.1.beat.total_cmp(&other.1.beat));
        self.tracks
    }

    /// Somebody has something to do from one time to another.
    fn busy(&mut self, person: usize, from: f64, until: f64) {
        if let Some(seam) = self.waiting.get_mut(person).and_then(Option::take)
            && let Some(seam) = self.tracks.seams.get_mut(seam)
        {
            seam.free.1 = from.max(seam.free.0);
        }
        if let Some(idle) = self.idle.get_mut(person) {
            *idle = idle.max(until);
        }
    }

    fn place(&mut self, index: usize, time: f64) {
        let Some(place) = self.plan.places().get(index) else { return };
        let (person, to) = (self.tracks.place_of(place.who), Vec2::from(place.point));
        let free = self.idle.get(person).copied().unwrap_or(0.0);
        let Some(track) = self.tracks.people.get_mut(person) else { return };
        if let Some(from) = track.at(time) {
            let slack = track.slacks.last().copied().unwrap_or(0.0);
            self.tracks.seams.push(Seam { person, place: index, from, to, slack, free: (free, time) });
            if let Some(waiting) = self.waiting.get_mut(person) {
                *waiting = Some(self.tracks.seams.len() - 1);
            }
        }
        // What would still be under way there is not: a mark is where a phrase begins.
        while track.legs.pop_if(|leg| leg.begin >= time).is_some() {
            track.slacks.pop();
        }
        track.legs.push(Leg { begin: time, end: time, way: Way::Stand(to), cause: Cause::Mark(index) });
        track.slacks.push(0.0);
        track.faces.extend(place.facing.map(|facing| (time, facing)));
    }

    fn walk(&mut self, index: usize, time: f64) {
        let Some(walk) = self.plan.walks().get(index) else { return };
        let (person, until) = (self.tracks.place_of(walk.who), seconds(self.plan, walk.until.0));
        self.busy(person, time, until);
        let Some(track) = self.tracks.people.get_mut(person) else { return };
        let (course, to) = (walk.course, Vec2::from(walk.course.to));
        let way = match track.at(time) {
            Some(from) => {
                let base = if course.further { from } else { Vec2::default() };
                Way::of_walk(from, base + to, course.around.map(|arc| (base + Vec2::from(arc.centre), arc)))
            }
            // Where they set off is not known; where they come to is.
            None if !course.further => {
                track.legs.push(Leg { begin: until, end: until, way: Way::Stand(to), cause: Cause::Walk(index) });
                track.slacks.push(0.0);
                return;
            }
            None => return,
        };
        let slack = if course.further { track.slacks.last().copied().unwrap_or(0.0) } else { 0.0 };
        while track.legs.pop_if(|leg| leg.begin >= time).is_some() {
            track.slacks.pop();
        }
        track.legs.push(Leg { begin: time, end: until, way, cause: Cause::Walk(index) });
        track.slacks.push(slack);
    }

    fn perform(&mut self, index: usize, time: f64) {
        let Some(planned) = self.plan.moves().get(index) else { return };
        let Some(action) = self.vocabulary.actions.get(planned.action_word.as_str()) else { return };
        let reply = planned.reply_word.as_ref().and_then(|word| self.vocabulary.replies.get(word.as_str()));
        let least = action.least.0 as f64 / 1e6;
        let own = planned.who.0;
        self.busy(own, time - least, time + action.after.0 as f64 / 1e6);
        let only_other = (self.score.fighters.len() == 2).then(|| 1 - own.min(1));
        // Where no line says whom it is meant for, it is whom they look at.
        let faced = || match self.tracks.people.get(own)?.faces(time)? {
            Facing::Person(person) => Some(self.tracks.place_of(person)),
            Facing::Degrees(_) => None,
        };
        let named = planned.to.or(planned.manner.aimed).map(|it| it.0).or(only_other);
        let partner = named.or_else(faced).filter(|&it| it != own);
        if let (Some(row), Some(to)) = (reply, planned.to.filter(|to| to.0 != own)) {
            let before = row.least.0 as f64 / 1e6;
            self.busy(to.0, time - before, time + row.after.0 as f64 / 1e6);
            self.face(to.0, own, time - before);
            self.evade(to.0, row, (time - before, time));
        }
        if action.attack || !action.targets.is_empty() {
            partner.into_iter().for_each(|partner| self.face(own, partner, time - least));
        }
        let places =
            partner.and_then(|partner| Some((partner, self.position(own, time)?, self.position(partner, time)?)));
        if let Some((partner, from, to)) = places {
            self.blow((index, planned, action, reply), (own, partner), (from, to), time);
        }
        self.goes_own_way(index, action, own, (partner, time));
        if let (Some(row), Some(to), Some((_, from, _))) = (reply, planned.to.filter(|to| to.0 != own), places) {
            self.answers(index, action, row, (to.0, from), time);
        }
        let lay = self.lying(planned);
        self.change_poses(planned, action, reply, time);
        self.falls(index, planned, lay, time);
        self.change_weapons(planned, action, time);
    }

    fn position(&self, person: usize, time: f64) -> Option<Vec2> {
        self.tracks.people.get(person)?.at(time)
    }

    fn face(&mut self, person: usize, other: usize, from: f64) {
        if let Some(track) = self.tracks.people.get_mut(person) {
            track.faces.push((from, Facing::Person(Person::Fighter(FighterId(other)))));
        }
    }

    /// A blow: what it needs, what it sweeps, and the step that carries it in.
    fn blow(
        &mut self,
        (index, planned, action, reply): (usize, &PlannedMove, &Action, Option<&Reply>),
        (own, partner): (usize, usize),
        (from, to): (Vec2, Vec2),
        time: f64,
    ) {
        let (Some(build), Some(other)) = (self.build(own), self.build(partner)) else { return };
        let found = blow::Found {
            index,
            planned,
            action,
            reply,
            vocabulary: self.vocabulary,
            weapon: self.weapon(planned, action),
            longest: self.longest(own).max(self.longest(partner)),
            builds: (build, other),
            partner_high: self.tracks.people.get(partner).map_or(1.0, |track| {
                let pose = self.base.get(partner).copied().unwrap_or_default();
                track.build.room(pose).high
            }),
        };
        let apart = from.distance(to);
        if let Some(sweep) = found.sweep(time) {
            self.tracks.sweeps.push((own, sweep));
        }
        let Some(needs) = found.needs() else { return };
        let slack = [own, partner].map(|it| self.tracks.people.get(it).and_then(|track| track.slacks.last().copied()));
        let slack = slack.into_iter().flatten().sum();
        self.tracks.blows.push(Blow { of_move: index, own, partner, time, apart, slack, needs, at: (from, to) });
        let least = action.least.0 as f64 / 1e6;
        if action.makes.contains(&Makes::Closes) {
            // Both come in, as far as two steps carry them.
            let each = (apart - BODY_TO_BODY).clamp(0.0, 2.0 * STEP_IN + CHEST) / 2.0;
            self.step(own, to - from, each, index, (time - least, time));
            self.step(partner, from - to, each, index, (time - least, time));
            return;
        }
        let more = (apart - needs.believed).max(0.0);
        if action.reaches_out() > 0.0 {
            let out = more.min(action.reaches_out());
            if let Some(back) = self.step(own, to - from, out, index, (time - least, time)) {
                self.step(own, from - to, back, index, (time, time + FOOTWORK));
            }
        } else {
            let most = needs.farthest - needs.believed;
            self.step(own, to - from, more.min(most), index, (time - least.min(FOOTWORK), time));
        }
    }

    /// Footwork of somebody's own: to the partner, away, aside, or the way they look.
    fn goes_own_way(&mut self, index: usize, action: &Action, own: usize, (partner, time): (Option<usize>, f64)) {
        let far = action.travels();
        let Some(from) = self.position(own, time).filter(|_| far > 0.0 && !action.attack) else { return };
        let to = partner.and_then(|partner| self.position(partner, time));
        let way = match to {
            Some(to) => to - from,
            None => match self.look(own, time) {
                Some(way) => way,
                None => return,
            },
        };
        let (way, far) = match action.goes() {
            Some(Goes::Forward | Goes::Pass) => {
                (way, to.map_or(far, |to| far.min((from.distance(to) - NEAREST_STEP).max(0.0))))
            }
            Some(Goes::Aside | Goes::Roll) => (Vec2::new(way.y, -way.x), far),
            _ => (-way, far),
        };
        self.step(own, way, far, index, (time - FOOTWORK, time));
    }

    /// What a reply and what it answers make of where the one who answers stands.
    fn answers(&mut self, index: usize, action: &Action, row: &Reply, (own, from): (usize, Vec2), time: f64) {
        let Some(at) = self.position(own, time) else { return };
        let goes = self.vocabulary.reply_goes(row);
        let mut far = self.vocabulary.reply_travels(row);
        let yields = row.kind == ReplyKind::Yield && goes != Some(Goes::Rest);
        if far == 0.0 && yields {
            far = action.sends_away();
        }
        let away = (at - from).unit().unwrap_or(Vec2::along(0.0));
        let way = if matches!(goes, Some(Goes::Aside | Goes::Roll)) { Vec2::new(away.y, -away.x) } else { away };
        let span = if row.kind == ReplyKind::Avoid { (time - FOOTWORK, time) } else { (time, time + FOOTWORK) };
        self.step(own, way, far, index, span);
    }

    /// Takes somebody so far a way, where they stand then; gives how far. Who walks is where the walk says.
    fn step(&mut self, own: usize, way: Vec2, far: f64, index: usize, span: (f64, f64)) -> Option<f64> {
        let unit = way.unit().filter(|_| far > 1e-6)?;
        let track = self.tracks.people.get_mut(own)?;
        let last = track.legs.last()?;
        let begin = span.0.max(last.end);
        if begin >= span.1 {
            return None;
        }
        let from = last.to();
        let slack = track.slacks.last().copied().unwrap_or(0.0) + far;
        let way = Way::Straight { from, to: from + unit * far };
        track.legs.push(Leg { begin, end: span.1, way, cause: Cause::Move(index) });
        track.slacks.push(slack);
        Some(far)
    }

    fn look(&self, own: usize, time: f64) -> Option<Vec2> {
        self.tracks.facing(own, time).map(Vec2::along)
    }

    fn build(&self, person: usize) -> Option<Build> {
        self.tracks.people.get(person).map(|track| track.build)
    }

    /// The length of blade that a move is done with, and whether it takes both hands.
    fn weapon(&self, planned: &PlannedMove, action: &Action) -> (f64, bool) {
        let cast = || self.score.fighters.get(planned.who.0).map(|it| it.weapon.as_str());
        let named = planned.manner.with.as_deref();
        let word = named.or_else(|| cast().filter(|_| action.needs_weapon));
        word.and_then(|word| self.vocabulary.weapons.get(word)).map_or((0.0, false), |row| (row.blade.0, row.hands > 1))
    }

    /// The longest blade that somebody came with, in hand or in its sheath, metres.
    fn longest(&self, person: usize) -> f64 {
        let Some(fighter) = self.score.fighters.get(person) else { return 0.0 };
        let words = [Some(&fighter.weapon), fighter.second.as_ref().map(|second| &second.weapon)];
        let rows = words.into_iter().flatten().filter_map(|word| self.vocabulary.weapons.get(word));
        rows.map(|row| row.blade.0).fold(0.0, f64::max)
    }

    /// Somebody is under a blow or over it for a moment.
    fn evade(&mut self, own: usize, row: &Reply, (from, time): (f64, f64)) {
        let pose = match self.vocabulary.reply_goes(row) {
            Some(Goes::Down) if row.kind == ReplyKind::Avoid => Pose::Ducking,
            Some(Goes::Up) if row.kind == ReplyKind::Avoid => Pose::Jumping,
            _ => return,
        };
        let base = self.base.get(own).copied().unwrap_or_default();
        if let Some(track) = self.tracks.people.get_mut(own).filter(|_| base == Pose::Standing) {
            track.poses.extend([(from, pose), (time + FOLLOWS, base)]);
        }
    }

    /// Whether the one who does a move lies on the floor, and whether the other does.
    fn lying(&self, planned: &PlannedMove) -> [bool; 2] {
        [Some(planned.who), planned.to].map(|who| who.and_then(|who| self.base.get(who.0)) == Some(&Pose::Lying))
    }

    /// Who lies now and did not before this move.
    fn falls(&mut self, index: usize, planned: &PlannedMove, lay: [bool; 2], time: f64) {
        let (own, other) = (Some(planned.who.0), planned.to.filter(|to| *to != planned.who).map(|to| to.0));
        let lie = self.lying(planned);
        for (at, (person, with)) in [(own, other), (other, own)].into_iter().enumerate() {
            let (Some(person), [true, false]) = (person, [lie[at], lay[at]]) else { continue };
            if let Some(at) = self.position(person, time) {
                self.tracks.falls.push(Fall { person, of_move: index, with, time, at });
            }
        }
    }

    fn change_poses(&mut self, planned: &PlannedMove, action: &Action, reply: Option<&Reply>, time: f64) {
        let kind = reply.map(|row| row.kind);
        let succeeds = matches!(kind, Some(ReplyKind::Yield | ReplyKind::Take));
        let own = planned.who.0;
        let other = planned.to.map(|to| to.0).filter(|_| succeeds);
        self.pose_after(&action.effects, &action.makes, own, other, time);
        if let (Some(row), Some(to)) = (reply, planned.to) {
            self.pose_after(&row.effects, &row.makes, to.0, Some(own), time);
        }
        // Whoever does on their feet what only those can do who stand is on their feet again.
        if action.posture == Posture::Feet && action.touch != Touch::Bodies {
            self.pose_from(own, Pose::Standing, time);
        }
    }

    fn pose_after(&mut self, effects: &[Effect], makes: &[Makes], own: usize, other: Option<usize>, time: f64) {
        for effect in effects {
            match effect {
                Effect::GoesDown => self.pose_from(own, Pose::Lying, time),
                Effect::GetsUp => self.pose_from(own, Pose::Standing, time),
                Effect::DownsOther => other.into_iter().for_each(|other| self.pose_from(other, Pose::Lying, time)),
                Effect::DisarmsOther | Effect::DisarmsSelf | Effect::TakesWeapon => {}
            }
        }
        if makes.contains(&Makes::Kneels) {
            self.pose_from(own, Pose::Kneeling, time);
        }
        if makes.contains(&Makes::Dies) {
            self.pose_from(own, Pose::Lying, time);
        }
    }

    fn pose_from(&mut self, person: usize, pose: Pose, time: f64) {
        let Some(base) = self.base.get_mut(person).filter(|base| **base != pose) else { return };
        *base = pose;
        if let Some(track) = self.tracks.people.get_mut(person) {
            // What was to follow a moment under a blow does not any more.
            while track.poses.pop_if(|(from, _)| *from > time).is_some() {}
            track.poses.push((time, pose));
        }
    }

    fn change_weapons(&mut self, planned: &PlannedMove, action: &Action, time: f64) {
        let cast = || self.score.fighters.get(planned.who.0).map(|it| it.weapon.as_str());
        let named = planned.manner.with.as_deref().or(planned.target.as_deref().filter(|_| action.names_weapon));
        let word = named.or_else(cast).and_then(|word| self.vocabulary.weapons.get(word));
        for effect in &action.effects {
            let (person, length) = match effect {
                Effect::TakesWeapon => (planned.who.0, word.map_or(0.0, |row| row.blade.0)),
                Effect::DisarmsSelf => (planned.who.0, 0.0),
                Effect::DisarmsOther => match planned.to {
                    Some(to) => (to.0, 0.0),
                    None => continue,
                },
                Effect::DownsOther | Effect::GoesDown | Effect::GetsUp => continue,
            };
            if let Some(weapons) = self.tracks.weapons.get_mut(person) {
                weapons.push((time, length));
            }
        }
    }
}

/// The time of a tick in seconds at the plan's speed.
fn seconds(plan: &Plan, ticks: i64) -> f64 {
    plan.tempo().exact_time_of(ticks as f64) / 1e6
}
