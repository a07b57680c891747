//! The fight sheet: a score as two columns, attack and reply, to be printed; the whole of it or one performer's own.
//! What the checks find stands at the line it is about.

mod html;
mod lines;
mod text;

pub use html::html;
pub use text::text;

use serde::Serialize;

use self::lines::Writer;
use crate::check::{Checked, HouseRules, check, unchecked};
use crate::hex;
use crate::score::Reading;
use crate::score::model::{BystanderId, Fighter, FighterId, Hand, Person, Score};
use crate::score::position::Lines;
use crate::score::problem::Problem;
use crate::score::vocabulary::Vocabulary;
use crate::stage::at_the_marks;
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;

/// A sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sheet {
    /// The fight's name.
    pub fight: String,
    /// Whose sheet it is; nothing for everybody's.
    pub of: Option<String>,
    /// The production's name, where it is one's.
    pub production: Option<String>,
    /// The first digits of the text's SHA-256: its revision.
    pub revision: String,
    /// The day it was made, year, month and day; nothing when nobody says.
    pub date: Option<String>,
    /// Beats in a bar and performance tempo, in words.
    pub tempo: String,
    /// The fighters with their weapons.
    pub fighters: Vec<String>,
    /// Everybody else on the stage.
    pub bystanders: Vec<String>,
    /// What is to be known before anything else.
    pub cautions: Vec<String>,
    /// The phrases.
    pub phrases: Vec<SheetPhrase>,
}

/// A phrase of a sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetPhrase {
    /// Its number, from 1.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// Its length in beats and seconds, in words.
    pub length: String,
    /// Where people stand when it begins, a sentence each.
    pub places: Vec<String>,
    /// The stage from above at its beginning, as SVG, and what its letters stand for; nothing where no stage is known.
    pub plan: Option<(String, String)>,
    /// What passes near whoever only stands by, a sentence each: on everybody's sheet, and on their own.
    pub near: Vec<String>,
    /// Its lines, in order of performance, repeats as they are written.
    pub lines: Vec<SheetLine>,
    /// The fastest tempo that the checks allow, in words.
    pub fastest: Option<String>,
    /// What the checks found about the phrase as a whole.
    pub findings: Vec<String>,
}

/// A line of a sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SheetLine {
    /// The numbers of the move, one for each round of a repeat; empty for what is no move.
    pub numbers: String,
    /// The beat as the score writes it, counted in the phrase or in its round.
    pub beat: String,
    /// The left column: who attacks and how; or what else happens, across both columns.
    pub attack: String,
    /// The right column: who replies and how.
    pub reply: String,
    /// True when the line goes across both columns.
    pub across: bool,
    /// How deep in repeats it is.
    pub depth: usize,
    /// What is heard.
    pub sounds: String,
    /// The director's words.
    pub text: String,
    /// Beats since the performer's last move in this phrase or round; on one performer's sheet only.
    pub after: Option<String>,
    /// True where it is the performer who attacks, or replies; on one performer's sheet only.
    pub own: (bool, bool),
    /// What the checks found here.
    pub findings: Vec<String>,
    /// The picture of the move, as SVG, from the performer's side where it is theirs.
    pub picture: Option<String>,
}

/// Makes a sheet of a score that has been read; `of` is the name of somebody on the stage, in any capitals.
///
/// # Errors
/// A sentence: the score has errors, or nobody of that name is in it.
pub fn sheet(
    reading: &Reading,
    vocabulary: &Vocabulary,
    rules: &HouseRules,
    of: Option<&str>,
) -> Result<Sheet, String> {
    let file = &reading.file_name;
    let score = reading.score.as_ref().ok_or_else(|| format!("{file} has errors; mend them, then try again"))?;
    let own = of.map(|name| person(score, name)).transpose()?;
    let checked = check(score, vocabulary, rules);
    let whole = PhraseRange { first: 0, last: score.phrases.len().saturating_sub(1) };
    let plan = Plan::new(score, whole, Speed::FULL, 0);
    let positions = Lines::new(&reading.text);
    let findings: Vec<&Problem> = reading.problems.iter().chain(&checked.findings).collect();
    let plans = rules.stage.as_deref().map_or_else(Vec::new, |stage| at_the_marks(score, vocabulary, stage));
    let writer = Writer::new((score, vocabulary), &plan, own, &positions, &findings);
    Ok(Sheet {
        fight: score.name.clone(),
        of: own.map(|own| writer.person(own).to_owned()),
        production: None,
        revision: revision(&reading.text),
        date: None,
        tempo: format!("{} beats in a bar, {} beats a minute at first", score.beats_per_bar, score.tempo),
        fighters: score.fighters.iter().map(armed).collect(),
        bystanders: score.bystanders.iter().map(|it| it.name.clone()).collect(),
        cautions: cautions(&findings, &writer, unchecked(rules)),
        phrases: (0..score.phrases.len())
            .map(|at| SheetPhrase {
                plan: plans.get(at).cloned().flatten().map(|it| (it.svg, it.key)),
                near: writer.near(&checked.passages, at),
                ..writer.phrase(at, fastest(&checked, at))
            })
            .collect(),
    })
}

/// The revision as people are shown it everywhere.
fn revision(text: &str) -> String {
    hex::sha256(text).chars().take(8).collect()
}

impl Sheet {
    /// What every page of it says: production, fight, revision, date.
    pub fn head(&self) -> String {
        let mut said = self.production.as_ref().map_or(String::new(), |name| format!("{name}, "));
        said += &format!("{}, revision {}", self.fight, self.revision);
        if let Some(date) = &self.date {
            said += &format!(", {date}");
        }
        said
    }
}

fn person(score: &Score, name: &str) -> Result<Person, String> {
    let fighters = score.fighters.iter().enumerate().map(|(at, it)| (Person::Fighter(FighterId(at)), &it.name));
    let bystanders = score.bystanders.iter().enumerate().map(|(at, it)| (Person::Bystander(BystanderId(at)), &it.name));
    let all: Vec<(Person, &String)> = fighters.chain(bystanders).collect();
    let found = all.iter().find(|(_, it)| it.to_lowercase() == name.trim().to_lowercase());
    let names: Vec<&str> = all.iter().map(|(_, it)| it.as_str()).collect();
    found
        .map(|(person, _)| *person)
        .ok_or_else(|| format!("nobody called {name} is in {}; there are {}", score.name, names.join(", ")))
}

/// A fighter and what they have.
fn armed(it: &Fighter) -> String {
    let sheath = |sheathed| if sheathed { ", in its sheath" } else { "" };
    let mut said = format!("{}: {}{}{}", it.name, it.weapon, hand(it.hand), sheath(it.sheathed));
    if let Some(second) = &it.second {
        said += &format!(" and {}{}{}", second.weapon, hand(second.hand), sheath(second.sheathed));
    }
    said
}

fn hand(hand: Hand) -> &'static str {
    match hand {
        Hand::Right => ", right hand",
        Hand::Left => ", left hand",
        Hand::None => "",
    }
}

fn fastest(checked: &Checked, phrase: usize) -> Option<String> {
    let limit = checked.fastest.phrases.iter().find(|it| it.phrase == phrase)?.limit.as_ref()?;
    let percent = (limit.factor * 100.0).floor();
    let beat = &limit.beat;
    Some(format!(
        "By the planning values of the checks no faster than {percent:.0} % of performance tempo; beat {beat} limits it."
    ))
}

/// What the checks found, counted, and whatever they found that belongs to no line of a phrase.
fn cautions(findings: &[&Problem], writer: &Writer<'_>, unchecked: &str) -> Vec<String> {
    use crate::score::problem::Severity::{Error, Warning};
    let count = |severity| findings.iter().filter(|it| it.severity == severity).count();
    let mut cautions = Vec::new();
    if count(Error) + count(Warning) > 0 {
        cautions.push(format!(
            "The checks found {} errors and {} warnings; they stand at their lines.",
            count(Error),
            count(Warning)
        ));
    }
    cautions.extend(writer.outside_phrases());
    cautions.push(unchecked.to_owned());
    cautions
}
