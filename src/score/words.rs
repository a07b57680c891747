//! A move's halves in the words that performers use: `cut flank right`, `parry 4`.

use compact_str::format_compact;

use super::model::{Answer, Arc, Course, Facing, Move, Person, Point, Side, Word};

impl Side {
    /// The side as a score writes it.
    pub const fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// What the one who acts does: action, target, side.
pub fn action(r#move: &Move) -> Word {
    let mut said = join(&r#move.action, r#move.target.as_deref(), r#move.side);
    let manner = &r#move.manner;
    if let Some((from, to)) = &manner.carried {
        said += &format!(" from {from} to {to}");
    }
    if let Some(touch) = manner.touch {
        said += &format!(" {}", touch.word());
    }
    if let Some(hidden) = manner.hidden {
        said += &format!(" hidden {}", hidden.word());
    }
    with(said, manner.with.as_deref())
}

/// The same with the name of whom it is meant for, where nobody answers and the score says so.
pub fn action_for(r#move: &Move, names: &[String]) -> Word {
    let aimed = r#move.manner.aimed.and_then(|who| names.get(who.0));
    aimed.map_or_else(|| action(r#move), |name| format_compact!("{} at {name}", action(r#move)))
}

/// How the other answers: reply, which, side.
pub fn reply(answer: &Answer) -> Word {
    with(join(&answer.reply, answer.arg.as_deref(), answer.side), answer.with.as_deref())
}

/// The way of a walk, its points as `point` says them: `to 1,2 clockwise around 0,2`.
pub fn course(course: &Course, point: impl Fn(Point) -> String) -> String {
    let to = point(course.to);
    let mut said = if course.further { format!("{to} further") } else { format!("to {to}") };
    if let Some(Arc { centre, way }) = course.around {
        let way = way.map_or_else(String::new, |way| format!("{} ", way.word()));
        said += &format!(" {way}around {}", point(centre));
        said += if course.further { " from there" } else { "" };
    }
    said
}

/// A mark on the floor, as the company says it: `1 m stage left, 2 m upstage`. Stage left is audience right.
pub fn mark(Point { x, y }: Point) -> String {
    let across = match x.0 {
        0.0 => "centre".to_owned(),
        x => format!("{} m stage {}", x.abs(), if x > 0.0 { "left" } else { "right" }),
    };
    let along = match y.0 {
        0.0 => "on the setting line".to_owned(),
        y => format!("{} m {}stage", y.abs(), if y > 0.0 { "up" } else { "down" }),
    };
    format!("{across}, {along}")
}

/// Which way somebody looks, to be put behind where they stand: `, facing Osk`; nothing where the score does not say.
pub fn facing(facing: Option<Facing>, name: impl Fn(Person) -> String) -> String {
    match facing {
        Some(Facing::Person(other)) => format!(", facing {}", name(other)),
        Some(Facing::Degrees(degrees)) => format!(", facing {degrees}°"),
        None => String::new(),
    }
}

fn with(mut said: Word, weapon: Option<&str>) -> Word {
    if let Some(weapon) = weapon {
        add(&mut said, "with");
        add(&mut said, weapon);
    }
    said
}

fn join(first: &str, second: Option<&str>, side: Option<Side>) -> Word {
    let mut said = Word::from(first);
    for word in second.into_iter().chain(side.map(Side::word)) {
        add(&mut said, word);
    }
    said
}

fn add(said: &mut Word, word: &str) {
    said.push(' ');
    said.push_str(word);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::model::FighterId;
    use crate::units::Metres;

    #[test]
    fn words_are_those_of_the_score() {
        let answer = Answer {
            who: FighterId(1),
            reply: "parry".into(),
            arg: Some("4".into()),
            side: None,
            with: None,
            span: 0..0,
        };
        assert_eq!(reply(&answer), "parry 4");
        let answer = Answer { reply: "take".into(), arg: Some("flank".into()), side: Some(Side::Left), ..answer };
        assert_eq!(reply(&answer), "take flank left");
    }

    /// Stage left is the left of somebody who faces the audience (common usage of the stage, from memory).
    #[test]
    fn marks_are_said_from_the_stage() {
        let said = |x: f64, y: f64| mark(Point { x: Metres(x), y: Metres(y) });
        assert_eq!(said(-1.5, 3.0), "1.5 m stage right, 3 m upstage");
        assert_eq!(said(1.0, -0.5), "1 m stage left, 0.5 m downstage");
        assert_eq!(said(0.0, 0.0), "centre, on the setting line");
    }
}
