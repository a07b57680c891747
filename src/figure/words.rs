//! The sentence of a figure, from the same scene as its shapes, so that the two cannot differ.

use super::drawn::Drawn;
use super::scene::{Aim, Blow, Closing, Guard, Meeting, Own, Pair, Pose, Scene};
use crate::score::model::Side;
use crate::score::vocabulary::{Goes, Limb, Line, Touch};

/// The sentence: what is done where and which way, what is answered, what touches.
pub(super) fn words(scene: &Scene, drawn: &Drawn) -> String {
    let mut parts = vec![format!("{}{}", plain(&drawn.action), place(scene, drawn))];
    match scene {
        Scene::Front(front) => {
            parts.push(way(&front.blow));
            parts.extend(guard(&front.guard, drawn));
            parts.extend(body(front.pose, drawn));
            parts.extend(touch(&front.blow, front.pose, &front.guard));
            parts.extend(falls(front.drops));
        }
        Scene::Edge(edge) => {
            parts.push(way(&edge.blow));
            parts.extend(edge.behind.then(|| "from behind".to_owned()));
            parts.extend(body(edge.pose, drawn));
            parts.extend(touch(&edge.blow, edge.pose, &Guard::None));
            parts.extend(falls(edge.drops));
        }
        Scene::Pair(pair) => {
            parts.extend(meeting(pair));
            parts.extend(body(pair.pose, drawn));
            parts.extend(falls(pair.drops));
        }
        Scene::Own(own, _) => parts.push(alone(*own).to_owned()),
    }
    parts.join(", ")
}

/// The words of a move alone, where nobody says what its picture shows.
pub(super) fn named(drawn: &Drawn) -> String {
    let reply = drawn.answer.as_ref().map(|answer| format!(", answered by {}", plain(&answer.reply)));
    plain(&drawn.action) + &reply.unwrap_or_default()
}

/// The side that is hit.
fn side(aim: Aim) -> &'static str {
    match aim.side {
        Some(Side::Left) => "left ",
        Some(Side::Right) => "right ",
        None => "",
    }
}

fn place(scene: &Scene, drawn: &Drawn) -> String {
    let Some(target) = drawn.target.as_deref() else { return String::new() };
    match scene {
        Scene::Front(front) => format!(" to the {}{}", side(front.aim), plain(target)),
        Scene::Edge(edge) => format!(" to the {}{}", side(edge.aim), plain(target)),
        Scene::Pair(pair) => format!(" to the {}{}", pair.aim.map_or("", side), plain(target)),
        Scene::Own(..) => format!(" {}", plain(target)),
    }
}

fn way(blow: &Blow) -> String {
    let goes = blow.goes.map_or("", Goes::says);
    match blow.limb {
        _ if blow.feint => "only shown".to_owned(),
        Limb::Blade => goes.to_owned(),
        limb => format!("{} {goes}", limb.says()),
    }
}

fn guard(guard: &Guard, drawn: &Drawn) -> Option<String> {
    let number = drawn.answer.as_ref().and_then(|answer| answer.arg.as_deref()).unwrap_or_default();
    match guard {
        Guard::None => None,
        Guard::Arm => Some("blocked with the arm".to_owned()),
        Guard::Closing(Closing { line, round, weapon, .. }) => {
            let circle = if *round { " with a circle" } else { "" };
            let hand = if weapon.is_some() { "" } else { " with the hand" };
            Some(format!("parried{circle}{hand} in {}, {}", plain(number), of_line(*line)))
        }
    }
}

const fn of_line(line: Line) -> &'static str {
    match line {
        Line::HighInside => "high, inside",
        Line::HighOutside => "high, outside",
        Line::LowInside => "low, inside",
        Line::LowOutside => "low, outside",
        Line::Overhead => "overhead",
    }
}

fn body(pose: Pose, drawn: &Drawn) -> Option<String> {
    let answer = drawn.answer.as_ref()?;
    pose.says().map(|says| format!("{}: {says}", plain(&answer.reply)))
}

fn touch(blow: &Blow, pose: Pose, guard: &Guard) -> Option<String> {
    let says = match blow.touch {
        _ if *guard != Guard::None || blow.feint => return None,
        _ if pose.is_elsewhere() && !matches!(pose, Pose::Kneel | Pose::Fallen) => "nobody is there",
        Touch::Placed => "laid on",
        Touch::Nothing => "it does not touch",
        Touch::Blades | Touch::Bodies => return None,
    };
    Some(says.to_owned())
}

fn falls(drops: bool) -> Option<String> {
    drops.then(|| "the weapon falls".to_owned())
}

fn meeting(pair: &Pair) -> Option<String> {
    let goes = pair.blow.goes.map_or("holds", Goes::says);
    let says = match pair.meeting {
        Meeting::BothAttack => "both attack, the blades meet".to_owned(),
        Meeting::Blades => match pair.carried {
            Some((from, to)) => format!("the blades are together, from {} to {}", from.word(), to.word()),
            None => format!("the blades are together, {goes}"),
        },
        Meeting::BladesApart => format!("the blades do not touch, {goes}"),
        Meeting::AtWeapon => format!("{} at the weapon", pair.blow.limb.says()),
        Meeting::Bodies => format!("{} {goes}", pair.blow.limb.says()),
        Meeting::Closes => "body to body".to_owned(),
        Meeting::LetsGo => "the hand lets go".to_owned(),
    };
    Some(says)
}

const fn alone(own: Own) -> &'static str {
    match own {
        Own::Draw => "the weapon comes from the sheath",
        Own::Sheathe => "the weapon goes into the sheath",
        Own::PickUp => "the weapon comes from the floor",
        Own::Drop => "the weapon falls",
        Own::Toss => "the weapon is thrown",
        Own::Kneel => "down on a knee",
        Own::Fall => "down on the floor",
        Own::Die => "dead on the floor",
        Own::Rise => "up on the feet",
        Own::Show(Goes::Up, Some(_)) => "the weapon up",
        Own::Show(Goes::Forward, Some(_)) => "the weapon towards the partner",
        Own::Show(_, Some(_)) => "the weapon at rest before the body",
        Own::Show(Goes::Up, None) => "the hand up",
        Own::Show(Goes::Forward, None) => "the hand towards the partner",
        Own::Show(_, None) => "the hand at rest before the body",
        Own::Feet(goes) => match goes {
            Goes::Around => "steps around the partner",
            Goes::Turn => "a turn about oneself",
            Goes::Pass => "a step forward, one foot past the other",
            Goes::Back => "steps back",
            Goes::Aside => "steps aside",
            _ => "steps forward",
        },
        Own::Crawl(Goes::Back) => "back along the floor",
        Own::Crawl(_) => "along the floor",
        Own::Leap => "off the floor",
        Own::Crouch => "low on the feet",
        Own::Roll => "over oneself along the floor",
        Own::Reel => "out of balance",
    }
}

/// A word of the vocabulary as it is read aloud.
fn plain(word: &str) -> String {
    word.replace('-', " ")
}
