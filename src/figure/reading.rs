//! From the rows of a vocabulary to what a picture shows. No word is known here: what a word means is in its row. Where
//! the rows do not say enough, or what they say cannot be seen in one picture, there is none, and why.

use super::drawn::{Armed, Drawn, DrawnReply};
use super::scene::{Aim, Blow, Closing, Edge, Front, Guard, Held, Meeting, Own, Pair, Pose, Scene};
use crate::score::model::{Hand, Side, StatedTouch};
use crate::score::vocabulary::{
    Across, Action, Effect, Goes, Height, Limb, Line, Makes, Part, Posture, Reply, ReplyKind, Spot, Target, Touch,
    Vocabulary,
};

/// Why there is no picture.
pub(super) type Why = &'static str;

/// The weapon of which the score tells no length, in metres; common practice, no source.
const USUAL: Held = Held { blade: 0.85, grip: 0.2 };
/// Where a push goes of which no place is said.
const CHEST: Spot = Spot { part: Part::Trunk, along: 72 };

/// What is read of one move.
struct Read<'v> {
    vocabulary: &'v Vocabulary,
    drawn: &'v Drawn,
    action: &'v Action,
    target: Option<&'v Target>,
    reply: Option<(&'v Reply, &'v DrawnReply)>,
}

/// What the picture of a move shows.
pub(super) fn read(vocabulary: &Vocabulary, drawn: &Drawn) -> Result<Scene, Why> {
    let action = vocabulary.actions.get(drawn.action.as_str()).ok_or("the action has no row")?;
    let target = match drawn.target.as_deref() {
        Some(word) if action.names_weapon && vocabulary.weapons.contains_key(word) => None,
        Some(word) => Some(vocabulary.targets.get(word).ok_or("the target has no row")?),
        None => None,
    };
    let reply = match drawn.answer.as_ref() {
        Some(answer) => Some((vocabulary.replies.get(answer.reply.as_str()).ok_or("the reply has no row")?, answer)),
        None => None,
    };
    Read { vocabulary, drawn, action, target, reply }.scene()
}

impl Read<'_> {
    fn scene(&self) -> Result<Scene, Why> {
        let meets = self.kind() == Some(ReplyKind::Meet);
        let disarms = self.action.effects.contains(&Effect::DisarmsOther);
        match self.target {
            _ if meets && self.limb() == Limb::Blade => self.blades(Meeting::BothAttack),
            _ if meets => Err("both attack, but not with blades"),
            _ if disarms && self.limb() != Limb::Blade => self.at_weapon(),
            Some(target) if !target.body => self.weapon(),
            Some(_) if self.touch() == Touch::Bodies => self.bodies(),
            Some(target) => self.blow(target),
            None if self.touch() == Touch::Blades => self.weapon(),
            None if self.touch() == Touch::Bodies => self.bodies(),
            None if self.action.makes.contains(&Makes::Releases) => self.lets_go(),
            None if self.limb() == Limb::Blade && self.action.goes == Some(Goes::Wind) => {
                self.blades(Meeting::BladesApart)
            }
            None if self.reply.is_some() => Err("an act without a target is answered"),
            None => self.own().map(|own| Scene::Own(own, self.drawn.doer.hand == Hand::Left)),
        }
    }

    fn kind(&self) -> Option<ReplyKind> {
        self.reply.map(|(row, _)| row.kind)
    }

    fn limb(&self) -> Limb {
        match self.action.limb() {
            Limb::Blade | Limb::Hilt if self.drawn.free_hand => Limb::Hand,
            limb => limb,
        }
    }

    fn touch(&self) -> Touch {
        match self.drawn.touch {
            Some(StatedTouch::Contact) if self.action.needs_weapon => Touch::Blades,
            Some(StatedTouch::Contact) => Touch::Bodies,
            Some(StatedTouch::Placed) => Touch::Placed,
            Some(StatedTouch::Clear) => Touch::Nothing,
            None => self.action.touch,
        }
    }

    // ---- What is done ----

    fn blow_of(&self, goes: Option<Goes>) -> Blow {
        let held = held(self.vocabulary, &self.drawn.doer).unwrap_or(USUAL);
        let (limb, touch) = (self.limb(), self.touch());
        let feint = !self.action.attack && touch == Touch::Nothing && limb == Limb::Blade;
        Blow { limb, goes, feint, reach: held.blade + held.grip, touch }
    }

    /// The way of what goes to a body. What touches goes no further; what passes clear goes on.
    fn way(&self, target: &Target) -> Result<Goes, Why> {
        let goes = self.action.goes().ok_or("the row does not say which way it goes")?;
        let (is_blade, touches) = (self.limb() == Limb::Blade, self.touch() != Touch::Nothing);
        Ok(match goes {
            // Nothing goes straight in on the crown of somebody who stands.
            Goes::Thrust if is_blade && target.heights == [Height::Overhead] => Goes::Cut,
            Goes::Sweep if is_blade && touches => Goes::Cut,
            Goes::Cut if is_blade && !touches && self.action.attack => Goes::Sweep,
            goes => goes,
        })
    }

    /// Where it goes. A place with two sides must have one.
    fn aim(&self, target: &Target) -> Result<Aim, Why> {
        let spot = target.spot().ok_or("the row of the target does not say where it is")?;
        let answered = self.reply.filter(|(row, _)| row.kind == ReplyKind::Take).and_then(|(_, answer)| answer.side);
        match (target.sided, self.drawn.side.or(answered)) {
            (false, _) => Ok(Aim { spot, side: None }),
            (true, Some(side)) => Ok(Aim { spot, side: Some(side) }),
            (true, None) => Err("left or right is not said"),
        }
    }

    fn blow(&self, target: &Target) -> Result<Scene, Why> {
        let (aim, pose) = (self.aim(target)?, self.pose()?);
        let goes = match self.way(target)? {
            // It is not laid on where a blade, an arm, or nobody is.
            Goes::Drawn if self.guards() || pose.is_elsewhere() => Goes::Cut,
            goes => goes,
        };
        if goes == Goes::Down && aim.spot.part != Part::Leg {
            return Err("it is on the floor only of somebody who lies, which the move does not say");
        }
        let blow = self.blow_of(Some(goes));
        let behind = aim.spot.part == Part::Back;
        if behind && (self.guards() || !pose.is_seen_from_behind()) {
            return Err("what comes from behind is answered in a way that is seen from the front");
        }
        if matches!(pose, Pose::Along | Pose::Braced | Pose::Free) {
            return Err("which way a body goes with a blow is not said");
        }
        if behind || pose.is_seen_from_the_side() {
            let mirrored = self.is_mirrored(aim.side);
            return Ok(Scene::Edge(Edge { blow, aim, behind, pose, drops: self.drops(), mirrored }));
        }
        self.front(target, blow, aim, pose)
    }

    fn front(&self, target: &Target, blow: Blow, aim: Aim, pose: Pose) -> Result<Scene, Why> {
        let guard = self.guard(target, aim)?;
        let line = match &guard {
            Guard::Closing(closing) => Some(closing.line),
            Guard::None | Guard::Arm => None,
        };
        let from_right = self.comes_from_right(target, aim, line);
        let partner_right = self.drawn.partner.hand != Hand::Left;
        Ok(Scene::Front(Front {
            weapon_there: partner_right != from_right,
            overhead: line.map_or(target.heights.contains(&Height::Overhead), |line| line == Line::Overhead),
            high: line.map_or(target.heights.contains(&Height::High), |line| {
                matches!(line, Line::HighInside | Line::HighOutside)
            }),
            drops: self.drops(),
            blow,
            aim,
            from_right,
            guard,
            pose,
        }))
    }

    /// The side of the picture that it comes from, as the one who acts sees it: the partner's right is on the left.
    fn comes_from_right(&self, target: &Target, aim: Aim, line: Option<Line>) -> bool {
        let outside = match line {
            Some(Line::HighOutside | Line::LowOutside) => Across::Outside,
            Some(Line::HighInside | Line::LowInside) => Across::Inside,
            Some(Line::Overhead) | None if target.sided || self.action.straight => Across::Either,
            Some(Line::Overhead) | None => target.across,
        };
        let partner_right = self.drawn.partner.hand != Hand::Left;
        match (aim.side, outside) {
            (Some(side), _) => side == Side::Left,
            (None, Across::Inside) => partner_right,
            (None, Across::Outside) => !partner_right,
            (None, Across::Either) => self.drawn.doer.hand != Hand::Left,
        }
    }

    /// Both sides are seen from the side: the one that is hit is the near one. Else the hand of the one who acts is.
    fn is_mirrored(&self, side: Option<Side>) -> bool {
        side.map_or(self.drawn.doer.hand == Hand::Left, |side| side == Side::Right)
    }

    // ---- What is answered ----

    fn guards(&self) -> bool {
        matches!(self.kind(), Some(ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Block))
    }

    fn guard(&self, target: &Target, aim: Aim) -> Result<Guard, Why> {
        match (self.kind(), self.reply) {
            (Some(ReplyKind::Block), _) if aim.spot.part == Part::Leg && aim.spot.along < 50 => {
                Err("an arm does not reach below the knee of somebody who stands")
            }
            (Some(ReplyKind::Block), _) => Ok(Guard::Arm),
            (Some(kind @ (ReplyKind::Parry | ReplyKind::CircularParry)), Some((_, answer))) => {
                if self.touch() == Touch::Nothing {
                    return Err("what touches nothing is not parried");
                }
                let closing = self.closing(target, aim, answer, kind == ReplyKind::CircularParry)?;
                Ok(Guard::Closing(closing))
            }
            _ => Ok(Guard::None),
        }
    }

    fn closing(&self, target: &Target, aim: Aim, answer: &DrawnReply, round: bool) -> Result<Closing, Why> {
        let parry = answer.arg.as_deref().and_then(|word| self.vocabulary.parry(word));
        let (_, parry) = parry.ok_or("the parry has no row")?;
        let hand = if self.drawn.partner.hand == Hand::Left { Hand::Left } else { Hand::Right };
        let lines = target.lines_of(aim.side, hand, self.action.straight);
        let mut closed = std::iter::once(&parry.closes).chain(&parry.also_closes);
        let line = *closed.find(|line| lines.contains(line)).ok_or("the parry does not close the line")?;
        let by_hand = self.drawn.answers_with_free_hand;
        let weapon = (!by_hand).then(|| held(self.vocabulary, &self.drawn.partner).unwrap_or(USUAL));
        Ok(Closing { line, usual: parry.closes, turn: parry.hand, round, weapon })
    }

    fn pose(&self) -> Result<Pose, Why> {
        let Some((row, _)) = self.reply else { return Ok(Pose::Stand) };
        let goes = self.vocabulary.reply_goes(row);
        let gives = matches!(row.kind, ReplyKind::Take | ReplyKind::Yield);
        let downed = gives && self.action.effects.contains(&Effect::DownsOther);
        match row.kind {
            ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Block | ReplyKind::Meet => Ok(Pose::Stand),
            _ if row.effects.contains(&Effect::GoesDown) => Ok(Pose::Fallen),
            _ if row.makes.contains(&Makes::Kneels) => Ok(Pose::Kneel),
            _ if downed && row.makes.is_empty() => Ok(Pose::Fallen),
            ReplyKind::Avoid => goes.and_then(pose_of).ok_or("the row does not say which way the body goes"),
            _ if row.makes.contains(&Makes::Frees) => Ok(Pose::Free),
            ReplyKind::Take => Ok(goes.and_then(pose_of).unwrap_or(Pose::Hit)),
            // What is given up is the weapon.
            ReplyKind::Yield if goes.is_none() && row.effects.contains(&Effect::DisarmsSelf) => Ok(Pose::Stand),
            ReplyKind::Yield => Ok(goes.and_then(pose_of).unwrap_or(Pose::Along)),
        }
    }

    fn drops(&self) -> bool {
        let Some((row, _)) = self.reply else { return false };
        let gives = matches!(row.kind, ReplyKind::Take | ReplyKind::Yield);
        row.effects.contains(&Effect::DisarmsSelf) || (gives && self.action.effects.contains(&Effect::DisarmsOther))
    }

    // ---- Both bodies ----

    fn pair(&self, blow: Blow, aim: Option<Aim>, meeting: Meeting) -> Result<Scene, Why> {
        let line = |word: &str| self.vocabulary.parries.get(word).map(|parry| parry.closes);
        let carried = self.drawn.carried.as_ref().and_then(|(from, to)| Some((line(from)?, line(to)?)));
        let mirrored = self.is_mirrored(aim.and_then(|aim| aim.side));
        let pose = self.pose()?;
        let stays = !matches!(meeting, Meeting::Bodies | Meeting::AtWeapon);
        if !pose.is_seen_in_a_pair() || (stays && pose == Pose::Back) {
            return Err("the body gets out of it in a way that is not seen beside the other one");
        }
        if self.guards() {
            return Err("a parry or a block of what is done to the weapon or the body as a whole has no line");
        }
        let spot = aim.map_or_else(|| self.usual_spot(), |aim| aim.spot);
        Ok(Scene::Pair(Pair { blow, aim, spot, meeting, pose, drops: self.drops(), mirrored, carried }))
    }

    /// Where it goes when the move does not say it: to the first place that its row names.
    fn usual_spot(&self) -> Spot {
        let first = self.action.targets.iter().find_map(|word| self.vocabulary.targets.get(word)?.spot());
        first.unwrap_or(CHEST)
    }

    fn blades(&self, meeting: Meeting) -> Result<Scene, Why> {
        let meant = self.target.filter(|target| target.body && meeting == Meeting::BothAttack);
        let aim = meant.map(|target| self.aim(target)).transpose()?;
        let goes = match meeting {
            Meeting::BothAttack => self.action.goes(),
            _ => Some(self.action.goes_at_weapon()),
        };
        self.pair(self.blow_of(goes), aim, meeting)
    }

    fn weapon(&self) -> Result<Scene, Why> {
        match self.limb() {
            Limb::Blade if self.touch() == Touch::Nothing => self.blades(Meeting::BladesApart),
            Limb::Blade => self.blades(Meeting::Blades),
            // What holds the weapon's hand, or pushes it, is seen like a grip.
            _ => self.at_weapon(),
        }
    }

    fn at_weapon(&self) -> Result<Scene, Why> {
        match self.limb() {
            Limb::Body => Err("the row does not say what goes to the weapon"),
            _ => {
                let meant = self.target.filter(|target| target.body);
                let aim = meant.map(|target| self.aim(target)).transpose()?;
                self.pair(self.blow_of(self.action.goes), aim, Meeting::AtWeapon)
            }
        }
    }

    fn bodies(&self) -> Result<Scene, Why> {
        let aim = self.target.map(|target| self.aim(target)).transpose()?;
        let pose = self.pose()?;
        let blow = self.blow_of(self.action.goes());
        let aside = matches!(pose, Pose::Duck | Pose::Jump | Pose::LiftLeg | Pose::Aside | Pose::Ball);
        let stroke = matches!(blow.limb, Limb::Fist | Limb::Elbow | Limb::Knee | Limb::Hilt | Limb::Blade);
        match self.target {
            Some(target) if stroke => self.blow(target),
            Some(target) if aside && target.spot().is_some_and(|spot| spot.part != Part::Back) => {
                self.front(target, blow, aim.unwrap_or(Aim { spot: CHEST, side: None }), pose)
            }
            _ if aside => Err("the body goes out of the plane of both bodies"),
            _ if self.action.makes.contains(&Makes::Closes) => self.pair(blow, aim, Meeting::Closes),
            _ => self.pair(blow, aim, Meeting::Bodies),
        }
    }

    fn lets_go(&self) -> Result<Scene, Why> {
        self.pair(Blow { limb: Limb::Hand, ..self.blow_of(Some(Goes::Back)) }, None, Meeting::LetsGo)
    }

    // ---- Alone ----

    fn own(&self) -> Result<Own, Why> {
        let makes = |makes| self.action.makes.contains(&makes);
        let effect = |effect| self.action.effects.contains(&effect);
        let goes = self.action.goes();
        match () {
            () if effect(Effect::TakesWeapon) && makes(Makes::FromFloor) => Ok(Own::PickUp),
            () if effect(Effect::TakesWeapon) && makes(Makes::FromSheath) => Ok(Own::Draw),
            () if effect(Effect::DisarmsSelf) && makes(Makes::ToSheath) => Ok(Own::Sheathe),
            () if effect(Effect::DisarmsSelf) && makes(Makes::HandsOver) => Ok(Own::Toss),
            () if effect(Effect::DisarmsSelf) => Ok(Own::Drop),
            () if makes(Makes::Dies) => Ok(Own::Die),
            () if effect(Effect::GoesDown) => Ok(Own::Fall),
            () if makes(Makes::Kneels) => Ok(Own::Kneel),
            () if effect(Effect::GetsUp) => Ok(Own::Rise),
            () => self.motion(goes.ok_or("nothing in its row says what moves")?),
        }
    }

    fn motion(&self, goes: Goes) -> Result<Own, Why> {
        let low = matches!(self.action.posture, Posture::Low | Posture::Down);
        let shows = matches!(goes, Goes::Up | Goes::Forward | Goes::Rest);
        match goes {
            _ if self.limb() == Limb::Blade && shows => Ok(Own::Show(goes, held(self.vocabulary, &self.drawn.doer))),
            Goes::Forward | Goes::Back if low => Ok(Own::Crawl(goes)),
            Goes::Forward | Goes::Back | Goes::Aside | Goes::Around | Goes::Turn | Goes::Pass => Ok(Own::Feet(goes)),
            Goes::Up => Ok(Own::Leap),
            Goes::Down => Ok(Own::Crouch),
            Goes::Roll => Ok(Own::Roll),
            Goes::Reel => Ok(Own::Reel),
            _ => Err("what its row says is not done alone"),
        }
    }
}

/// The pose of a body that goes that way to answer.
const fn pose_of(goes: Goes) -> Option<Pose> {
    Some(match goes {
        Goes::Down => Pose::Duck,
        Goes::Up => Pose::Jump,
        Goes::Aside => Pose::Aside,
        Goes::Back => Pose::Back,
        Goes::Lean => Pose::Lean,
        Goes::Hollow => Pose::Hollow,
        Goes::Lift => Pose::LiftLeg,
        Goes::Roll => Pose::Ball,
        Goes::Reel => Pose::Reel,
        Goes::Rest => Pose::Braced,
        _ => return None,
    })
}

/// The weapon that somebody has in hand, as the vocabulary measures it.
fn held(vocabulary: &Vocabulary, armed: &Armed) -> Option<Held> {
    let row = armed.weapon.as_deref().and_then(|word| vocabulary.weapons.get(word)).filter(|row| row.armed)?;
    let (blade, total) = (row.blade.0.clamp(0.0, 3.0), row.total.0.clamp(0.0, 3.0));
    Some(Held { blade, grip: (total - blade).max(0.0) })
}
