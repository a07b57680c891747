//! Whether a vocabulary holds together: every word that a row names exists, every word can be written in a score, no
//! two parries share a name, and no blade is longer than its weapon.

use std::collections::BTreeMap;
use std::ops::Range;

use super::Vocabulary;
use super::places::Places;
use super::rows::{ReplyArgument, Words};
use crate::score::lex::needs_quotes;
use crate::suggest::did_you_mean;
use crate::toml_table::TomlFile;

/// Tells the file about every row that is not sound, at its place.
pub(super) fn check(file: &mut TomlFile<'_>, vocabulary: &Vocabulary, places: &Places) {
    let mut checker = Checker { file, vocabulary, places };
    checker.spelling();
    checker.actions();
    checker.targets();
    checker.replies();
    checker.parries();
    checker.weapons();
}

struct Checker<'c, 'f> {
    file: &'c mut TomlFile<'f>,
    vocabulary: &'c Vocabulary,
    places: &'c Places,
}

impl<'c> Checker<'c, '_> {
    fn tell(&mut self, (span, key): (Range<usize>, String), says: impl Into<String>) {
        self.file.problem(span, &key, says);
    }

    /// Words of `table` that the field of a row names. A row that is there and not sound has been told about.
    fn known<'w, T>(
        &mut self,
        (row, field): ((&'static str, &str), &str),
        (table, kind): (&'static str, &str),
        rows: &BTreeMap<String, T>,
        words: impl IntoIterator<Item = &'w String>,
    ) {
        for word in words {
            if rows.contains_key(word) || self.places.has(table, word) {
                continue;
            }
            let near = did_you_mean(word, rows.keys().map(String::as_str));
            let near = near.map_or_else(String::new, |near| format!("; {near}"));
            let says = format!("names the {kind} `{word}`, which has no row{near}");
            self.tell(self.places.field(row.0, row.1, field), says);
        }
    }

    /// The words of the rows that the file gives; the others were read before.
    fn spelling(&mut self) {
        for (table, word) in self.places.rows() {
            let keyword = word != "walk" && needs_quotes(word);
            if !["parries", "drawings"].contains(&table) && keyword {
                self.tell(self.places.row(table, word), "cannot be written in a score; use letters and hyphens");
            }
        }
    }

    fn actions(&mut self) {
        let vocabulary = self.vocabulary;
        for (word, action) in &vocabulary.actions {
            let row = ("actions", word.as_str());
            self.known((row, "targets"), ("targets", "target"), &vocabulary.targets, &action.targets);
            self.known((row, "sound"), ("sounds", "sound"), &vocabulary.sounds, &action.sound);
        }
    }

    fn targets(&mut self) {
        let vocabulary = self.vocabulary;
        for (word, target) in &vocabulary.targets {
            let row = ("targets", word.as_str());
            self.known((row, "takes"), ("targets", "target"), &vocabulary.targets, &target.takes);
            self.known((row, "other_height"), ("targets", "target"), &vocabulary.targets, &target.other_height);
        }
    }

    fn replies(&mut self) {
        let vocabulary = self.vocabulary;
        let no_parries = vocabulary.parries.is_empty() && self.places.rows().all(|(table, _)| table != "parries");
        for (word, reply) in &vocabulary.replies {
            let row = ("replies", word.as_str());
            if let Words::These(actions) = &reply.actions {
                self.known((row, "actions"), ("actions", "action"), &vocabulary.actions, actions);
            }
            if let Words::These(targets) = &reply.targets {
                self.known((row, "targets"), ("targets", "target"), &vocabulary.targets, targets);
            }
            if reply.kind.argument() == ReplyArgument::Parry && no_parries {
                self.tell(self.places.field(row.0, row.1, "kind"), "is a parry, but the table [parries] is empty");
            }
            self.known((row, "other_height"), ("replies", "reply"), &vocabulary.replies, &reply.other_height);
        }
    }

    fn parries(&mut self) {
        let mut taken: BTreeMap<&str, &str> = BTreeMap::new();
        for (number, parry) in &self.vocabulary.parries {
            for name in std::iter::once(number).chain(&parry.names) {
                if let Some(other) = taken.insert(name, number).filter(|other| other != number) {
                    // The row that the file gives is the one that can be mended.
                    let here = self.places.has("parries", number);
                    let (row, other) = if here { (number.as_str(), other) } else { (other, number.as_str()) };
                    let says = format!("has the name `{name}`, which is also that of {other}");
                    self.tell(self.places.field("parries", row, "names"), says);
                }
                if name.contains(char::is_whitespace) || name == "left" || name == "right" {
                    let says = format!("has the name `{name}`, which is not one word");
                    self.tell(self.places.field("parries", number, "names"), says);
                }
            }
        }
    }

    fn weapons(&mut self) {
        for (word, weapon) in &self.vocabulary.weapons {
            if weapon.blade.0 > weapon.total.0 {
                let says = "is longer than its total_m; the blade is a part of the whole length";
                self.tell(self.places.field("weapons", word, "blade_m"), says);
            }
        }
    }
}
