//! Writes what is chosen of the sets into the text of a plan that people annotate: a set is begun, called something else, is for one
//! fight more or fewer, or is taken away. Notes, order and everything else of the text stay as they are.

use toml_edit::{Array, DocumentMut, Item, RawString, Table, TableLike, Value};

use super::write::{NotWritten, new_entry, put, sound_name};

/// The tables of the sets.
const SETS: &str = "sets";
/// What a set is for.
const FIGHTS: &str = "fights";

/// A change of one set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SetEdit {
    /// A set is begun, with nothing on it yet.
    Begin {
        /// What it is called.
        set: String,
        /// What it is for: a fight's name, or `Fight: Phrase`.
        fights: Vec<String>,
    },
    /// A set is called something else. What stands on it stays.
    Rename {
        /// What it is called so far.
        set: String,
        /// What it is to be called.
        to: String,
    },
    /// A set is for one fight more. Where it is already, nothing changes.
    Add {
        /// The set.
        set: String,
        /// The fight's name, or `Fight: Phrase`.
        fight: String,
    },
    /// A set is for one fight fewer. Where it is not, nothing changes.
    Remove {
        /// The set.
        set: String,
        /// The fight's name, or `Fight: Phrase`.
        fight: String,
    },
    /// A set is taken away with all that stands on it, and with the notes in it.
    TakeAway {
        /// The set.
        set: String,
    },
}

/// The text with that change; the same text where nothing changes.
///
/// # Errors
/// [`NotWritten`], with the text as it was.
pub fn set_edited(text: &str, edit: &SetEdit) -> Result<String, NotWritten> {
    let mut document: DocumentMut = text.parse().map_err(|_| NotWritten::NoToml)?;
    if !document.contains_key(SETS) {
        let mut none = Table::new();
        none.set_implicit(true);
        document.insert(SETS, Item::Table(none));
    }
    let sets = document.get_mut(SETS).and_then(Item::as_table_like_mut);
    let sets = sets.ok_or_else(|| NotWritten::Other(SETS.to_owned()))?;
    match edit {
        SetEdit::Begin { set, fights } => begin(sets, set.trim(), fights)?,
        SetEdit::Rename { set, to } => rename(sets, set, to.trim())?,
        SetEdit::Add { set, fight } => add(sets, set, fight.trim())?,
        SetEdit::Remove { set, fight } => {
            if let Some(fights) = own(sets, set)?.get_mut(FIGHTS).and_then(Item::as_array_mut) {
                remove(fights, fight.trim());
            }
        }
        SetEdit::TakeAway { set } => drop(sets.remove(set).ok_or_else(|| NotWritten::Gone(set.clone()))?),
    }
    Ok(document.to_string())
}

fn begin(sets: &mut dyn TableLike, set: &str, fights: &[String]) -> Result<(), NotWritten> {
    is_free(sets, set)?;
    sets.insert(set, new_entry(sets.is_dotted()));
    // Written even where it is empty: whoever opens the file sees where the fights belong.
    put(own(sets, set)?, FIGHTS, Value::Array(Array::new()));
    fights.iter().try_for_each(|fight| add(sets, set, fight.trim()))
}

fn rename(sets: &mut dyn TableLike, set: &str, to: &str) -> Result<(), NotWritten> {
    if set == to {
        return own(sets, set).map(drop);
    }
    is_free(sets, to)?;
    // What is noted before a line belongs to its key.
    let noted = sets.key(set).map(|key| (key.leaf_decor().clone(), key.dotted_decor().clone()));
    let kept = sets.remove(set).ok_or_else(|| NotWritten::Gone(set.to_owned()))?;
    sets.insert(to, kept);
    if let Some((mut key, (leaf, dotted))) = sets.key_mut(to).zip(noted) {
        *key.leaf_decor_mut() = leaf;
        *key.dotted_decor_mut() = dotted;
    }
    Ok(())
}

fn is_free(sets: &dyn TableLike, name: &str) -> Result<(), NotWritten> {
    sound_name(name)?;
    if sets.contains_key(name) {
        return Err(NotWritten::Name(format!("There is a set “{name}” already. Choose another name.")));
    }
    Ok(())
}

/// A fight is on one set: on two, nobody could say which of them stands there.
fn add(sets: &mut dyn TableLike, set: &str, fight: &str) -> Result<(), NotWritten> {
    if fight.is_empty() || fight.chars().any(char::is_control) {
        return Err(NotWritten::Name("A fight is named by its name, in one line.".to_owned()));
    }
    let on = sets.iter().find(|(_, item)| item.as_table_like().is_some_and(|it| is_for(it, fight)));
    match on.map(|(name, _)| name.to_owned()) {
        Some(there) if there == set => Ok(()),
        Some(there) => Err(NotWritten::Taken { fight: fight.to_owned(), set: there }),
        None => {
            let own = own(sets, set)?;
            match own.get_mut(FIGHTS).and_then(Item::as_array_mut) {
                Some(fights) => push(fights, fight),
                None => put(own, FIGHTS, Value::Array([fight].into_iter().collect())),
            }
            Ok(())
        }
    }
}

fn own<'s>(sets: &'s mut dyn TableLike, set: &str) -> Result<&'s mut dyn TableLike, NotWritten> {
    let missing = || NotWritten::Gone(set.to_owned());
    sets.get_mut(set).and_then(Item::as_table_like_mut).ok_or_else(missing)
}

fn is_for(set: &dyn TableLike, fight: &str) -> bool {
    set.get(FIGHTS).and_then(Item::as_array).is_some_and(|fights| fights.iter().any(|it| is(it, fight)))
}

fn is(named: &Value, fight: &str) -> bool {
    named.as_str().is_some_and(|named| named.trim() == fight)
}

/// Adds a fight at the end, laid out as the last one is. A note behind the last one stays behind it.
fn push(fights: &mut Array, fight: &str) {
    let last = fights.len().checked_sub(1).and_then(|last| fights.get_mut(last));
    let (before, mut behind) = match last {
        None => (String::new(), String::new()),
        Some(last) => {
            let before = text(last.decor().prefix());
            let line = before.rfind('\n').map_or(" ", |line| before.split_at(line).1).to_owned();
            let behind = text(last.decor().suffix()).to_owned();
            last.decor_mut().set_suffix("");
            (line, behind)
        }
    };
    behind += text(Some(fights.trailing()));
    let mut new = Value::from(fight);
    if behind.contains('#') {
        let noted = behind.trim_end_matches([' ', '\t']);
        new.decor_mut().set_prefix(format!("{noted}{}", before.trim_start_matches('\n')));
        fights.set_trailing("\n");
    } else {
        new.decor_mut().set_prefix(before);
        fights.set_trailing(behind);
    }
    fights.push_formatted(new);
}

/// Takes a fight out. Notes beside it stay where they were.
fn remove(fights: &mut Array, fight: &str) {
    let found = |fights: &Array| fights.iter().position(|it| is(it, fight));
    while let Some(at) = found(fights) {
        let gone = fights.remove(at);
        let (before, behind) = (text(gone.decor().prefix()), text(gone.decor().suffix()));
        let noted = format!("{before}{behind}");
        let keeps = noted.contains('#');
        match fights.get_mut(at) {
            Some(next) if keeps => {
                let all = noted + text(next.decor().prefix());
                next.decor_mut().set_prefix(all);
            }
            Some(next) if at == 0 && !text(next.decor().prefix()).contains('#') => {
                next.decor_mut().set_prefix(before);
            }
            None if keeps => {
                let noted = noted.trim_end_matches([' ', '\t']).trim_end_matches('\n');
                let all = format!("{noted}\n{}", text(Some(fights.trailing())).trim_start_matches('\n'));
                fights.set_trailing(all);
            }
            Some(_) | None => {}
        }
    }
}

fn text(raw: Option<&RawString>) -> &str {
    raw.and_then(RawString::as_str).unwrap_or_default()
}
