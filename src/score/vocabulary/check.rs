//! Whether a vocabulary holds together: every word that a row names exists, every word can be written in a score, and
//! every figure is one a body or a blade can have.

use std::collections::BTreeMap;

use super::Vocabulary;
use super::places::{Fault, Places};
use super::rows::{ReplyArgument, Words};
use crate::score::lex::needs_quotes;
use crate::score::suggest::did_you_mean;
use crate::units::Micros;

/// The longest time that a single action can be given.
const LONGEST: Micros = Micros::seconds(60);
/// The longest weapon, in metres.
const LONGEST_WEAPON: f64 = 10.0;

/// Reports the first row that is not sound, at its place in the file.
pub(super) fn check(vocabulary: &Vocabulary, places: &Places) -> Result<(), Fault> {
    let checker = Checker { vocabulary, places };
    checker.reaction()?;
    checker.spelling()?;
    checker.sources()?;
    checker.actions()?;
    checker.targets()?;
    checker.replies()?;
    checker.parries()?;
    checker.weapons()
}

struct Checker<'a> {
    vocabulary: &'a Vocabulary,
    places: &'a Places,
}

impl Checker<'_> {
    fn at(&self, table: &'static str, word: &str, message: String) -> Fault {
        let byte = self.places.get(&(table, word.to_owned())).copied().unwrap_or(0);
        (byte, format!("`{table}.{word}` {message}"))
    }

    fn known<T>(
        &self,
        row: (&'static str, &str),
        rows: &BTreeMap<String, T>,
        kind: &str,
        word: &str,
    ) -> Result<(), Fault> {
        if rows.contains_key(word) {
            return Ok(());
        }
        let near =
            did_you_mean(word, rows.keys().map(String::as_str)).map_or(String::new(), |near| format!("; {near}"));
        Err(self.at(row.0, row.1, format!("names the {kind} `{word}`, which has no row{near}")))
    }

    fn reaction(&self) -> Result<(), Fault> {
        let reaction = &self.vocabulary.reaction;
        let rising =
            Micros::ZERO < reaction.least && reaction.least <= reaction.usual && reaction.usual <= reaction.most;
        if rising && reaction.most <= LONGEST {
            return Ok(());
        }
        Err((0, "[reaction] must rise from least_ms by usual_ms to most_ms, above 0 and at most 60000".to_owned()))
    }

    fn spelling(&self) -> Result<(), Fault> {
        let vocabulary = self.vocabulary;
        self.words("actions", vocabulary.actions.keys())?;
        self.words("targets", vocabulary.targets.keys())?;
        self.words("replies", vocabulary.replies.keys())?;
        self.words("weapons", vocabulary.weapons.keys())?;
        self.words("sounds", vocabulary.sounds.keys())
    }

    fn words<'w>(&self, table: &'static str, words: impl Iterator<Item = &'w String>) -> Result<(), Fault> {
        for word in words {
            let keyword = word != "walk" && needs_quotes(word);
            if keyword {
                return Err(self.at(table, word, "cannot be written in a score; use letters and hyphens".to_owned()));
            }
        }
        Ok(())
    }

    fn sources(&self) -> Result<(), Fault> {
        let vocabulary = self.vocabulary;
        let rows = (vocabulary.actions.iter().map(|(word, row)| ("actions", word, &row.source)))
            .chain(vocabulary.targets.iter().map(|(word, row)| ("targets", word, &row.source)))
            .chain(vocabulary.replies.iter().map(|(word, row)| ("replies", word, &row.source)))
            .chain(vocabulary.parries.iter().map(|(word, row)| ("parries", word, &row.source)))
            .chain(vocabulary.weapons.iter().map(|(word, row)| ("weapons", word, &row.source)))
            .chain(vocabulary.sounds.iter().map(|(word, row)| ("sounds", word, &row.source)));
        for (table, word, source) in rows {
            if source.trim().is_empty() {
                let message = "says no source; write where it comes from, or \"common practice, no source\"";
                return Err(self.at(table, word, message.to_owned()));
            }
        }
        Ok(())
    }

    fn actions(&self) -> Result<(), Fault> {
        for (word, action) in &self.vocabulary.actions {
            for target in &action.targets {
                self.known(("actions", word), &self.vocabulary.targets, "target", target)?;
            }
            if let Some(sound) = &action.sound {
                self.known(("actions", word), &self.vocabulary.sounds, "sound", sound)?;
            }
            self.length("actions", word, action.least)?;
            self.length("actions", word, action.after)?;
        }
        Ok(())
    }

    fn length(&self, table: &'static str, word: &str, length: Micros) -> Result<(), Fault> {
        if length > LONGEST {
            return Err(self.at(table, word, "has a least_ms or after_ms of more than a minute (60000)".to_owned()));
        }
        Ok(())
    }

    fn targets(&self) -> Result<(), Fault> {
        for (word, target) in &self.vocabulary.targets {
            for place in &target.takes {
                self.known(("targets", word), &self.vocabulary.targets, "target", place)?;
            }
            if let Some(other) = &target.other_height {
                self.known(("targets", word), &self.vocabulary.targets, "target", other)?;
            }
        }
        Ok(())
    }

    fn replies(&self) -> Result<(), Fault> {
        for (word, reply) in &self.vocabulary.replies {
            if let Words::These(actions) = &reply.actions {
                for action in actions {
                    self.known(("replies", word), &self.vocabulary.actions, "action", action)?;
                }
            }
            if let Words::These(targets) = &reply.targets {
                for target in targets {
                    self.known(("replies", word), &self.vocabulary.targets, "target", target)?;
                }
            }
            if reply.kind.argument() == ReplyArgument::Parry && self.vocabulary.parries.is_empty() {
                return Err(self.at("replies", word, "is a parry, but the table [parries] is empty".to_owned()));
            }
            self.length("replies", word, reply.least)?;
            self.length("replies", word, reply.after)?;
            if let Some(other) = &reply.other_height {
                self.known(("replies", word), &self.vocabulary.replies, "reply", other)?;
            }
        }
        Ok(())
    }

    fn parries(&self) -> Result<(), Fault> {
        let mut taken = BTreeMap::new();
        for (number, parry) in &self.vocabulary.parries {
            for name in std::iter::once(number).chain(&parry.names) {
                if let Some(other) = taken.insert(name, number).filter(|other| *other != number) {
                    return Err(self.at(
                        "parries",
                        number,
                        format!("has the name `{name}`, which is also that of {other}"),
                    ));
                }
                if name.contains(char::is_whitespace) || name == "left" || name == "right" {
                    return Err(self.at("parries", number, format!("has the name `{name}`, which is not one word")));
                }
            }
        }
        Ok(())
    }

    fn weapons(&self) -> Result<(), Fault> {
        for (word, weapon) in &self.vocabulary.weapons {
            let (blade, total) = (weapon.blade.0, weapon.total.0);
            if !(0.0..=total).contains(&blade) || !(0.0..=LONGEST_WEAPON).contains(&total) {
                let message = "needs a blade_m from 0 to its total_m, and that at most 10 metres".to_owned();
                return Err(self.at("weapons", word, message));
            }
            if weapon.hands > 2 {
                return Err(self.at("weapons", word, "fills 0, 1 or 2 hands".to_owned()));
            }
        }
        Ok(())
    }
}
