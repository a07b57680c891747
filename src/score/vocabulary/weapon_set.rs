//! Other weapons for the same fights: practice props at noon, steel at night. A set says for weapons of the vocabulary
//! which other weapon of it they are; what a score says stays as it is.

use std::collections::BTreeMap;

use super::rows::Weapon;
use super::{Vocabulary, file};
use crate::suggest::did_you_mean;

/// A set of weapons.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeaponSet {
    /// What people call it.
    pub name: String,
    /// What each weapon is in it, both by their words; weapons that are not among them are themselves.
    pub instead: BTreeMap<String, String>,
}

impl Vocabulary {
    /// The vocabulary with the weapons of a set: each word has the row of the weapon that it stands for. Its texts are
    /// those of this one and one more, so that whoever keeps them can read it again.
    ///
    /// # Errors
    /// A sentence for each word that is not a weapon, with the nearest that is.
    pub fn with_weapons(&self, set: &WeaponSet) -> Result<Vocabulary, Vec<String>> {
        let words = set.instead.iter().flat_map(|(word, other)| [word, other]);
        let unknown = words.filter(|word| !self.weapons.contains_key(*word));
        let sentences: Vec<String> = unknown.map(|word| self.no_weapon(&set.name, word)).collect();
        if !sentences.is_empty() {
            return Err(sentences);
        }
        let read = file::read(&self.rows_of(set), "the weapon set", Some(self));
        let with = read.map_err(|error| vec![format!("The weapon set “{}” cannot be used: {error}", set.name)])?;
        Ok(Vocabulary { patterns: self.patterns.clone(), ..with })
    }

    fn no_weapon(&self, set: &str, word: &str) -> String {
        let near = did_you_mean(word, self.weapons.keys().map(String::as_str));
        let end = near.map_or_else(|| ".".to_owned(), |near| format!("; {near}"));
        format!("The weapon set “{set}” cannot be used: “{word}” is not a weapon of the vocabulary{end}")
    }

    /// The rows of a set as a vocabulary's file has them, whole.
    fn rows_of(&self, set: &WeaponSet) -> String {
        let mut rows = toml::Table::new();
        for (word, other) in &set.instead {
            if let Some(row) = self.weapons.get(other) {
                rows.insert(word.clone(), toml::Value::Table(table(row)));
            }
        }
        toml::Table::from_iter([("weapons".to_owned(), toml::Value::Table(rows))]).to_string()
    }
}

/// A row, whole.
fn table(row: &Weapon) -> toml::Table {
    let Weapon { blade, total, hands, weight, slower, sharp, armed, source } = row;
    toml::Table::from_iter([
        ("blade_m".to_owned(), blade.0.into()),
        ("total_m".to_owned(), total.0.into()),
        ("hands".to_owned(), i64::from(*hands).into()),
        ("weight".to_owned(), i64::from(*weight).into()),
        ("slower_percent".to_owned(), i64::from(*slower).into()),
        ("sharp".to_owned(), (*sharp).into()),
        ("armed".to_owned(), (*armed).into()),
        ("source".to_owned(), source.clone().into()),
    ])
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn any_weapon() -> impl Strategy<Value = String> {
        let words: Vec<String> = Vocabulary::built_in().weapons.into_keys().collect();
        prop::sample::select(words)
    }

    proptest! {
        /// Each word is what it stands for, every other word what it was, and the texts alone say the same.
        #[test]
        fn a_word_is_what_it_stands_for(instead in prop::collection::btree_map(any_weapon(), any_weapon(), 0..5)) {
            let built_in = Vocabulary::built_in();
            let set = WeaponSet { name: "wood".into(), instead };
            let with = built_in.with_weapons(&set).unwrap();
            for (word, row) in &with.weapons {
                let other = set.instead.get(word).unwrap_or(word);
                prop_assert_eq!(row, &built_in.weapons[other]);
            }
            prop_assert_eq!(&with.actions, &built_in.actions);
            prop_assert_eq!(&with.replies, &built_in.replies);
            prop_assert_eq!(Vocabulary::from_texts(&with.texts).unwrap(), with);
        }
    }

    #[test]
    fn a_word_that_is_no_weapon_is_told_with_the_nearest() {
        let instead = BTreeMap::from([("rapier".to_owned(), "dagge".to_owned()), ("ladle".into(), "club".into())]);
        let told = Vocabulary::built_in().with_weapons(&WeaponSet { name: "wood".into(), instead }).unwrap_err();
        assert_eq!(told.len(), 2);
        assert!(told.iter().any(|it| it.contains("“dagge”") && it.contains("dagger")), "{told:?}");
        assert!(told.iter().any(|it| it.contains("“ladle”")), "{told:?}");
    }
}
