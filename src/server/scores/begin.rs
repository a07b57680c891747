//! A fight is begun: a small score that everything can be changed in, in a file of its own.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;

use super::save::{Done, Wanted, keep_and_tell, name_is_free, writer};
use super::{Scores, fight_of};
use crate::production::Production;
use crate::production::saving::{NotSaved, make};
use crate::score;
use crate::server::answer::{Answer, No, json, off_the_loop};
use crate::server::asker::asked;
use crate::server::reload::Shelf;
use crate::wire::{NewAsked, ScoreText};

/// The longest name of a fight, in letters.
const LONGEST: usize = 60;
/// So many files whose names would be the same are looked for.
const MOST: u32 = 1_000;

pub(super) async fn begin(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (asker, NewAsked { fight }) = asked(&scores.house, from, request).await?;
    writer(&asker)?;
    let name = named(&fight)?;
    let shelf = scores.shelf()?;
    let one_at_a_time = scores.saving.lock().await;
    let (doing, text) = (Arc::clone(&shelf), begun(&name));
    let written = text.clone();
    let file = off_the_loop(move || put(&doing, &name, &written)).await??;
    let wanted = Wanted { file, base: String::new(), text: text.clone(), why: "Begun.".to_owned() };
    keep_and_tell(&scores, &shelf, &asker, &wanted, &Done::Saved(text)).await?;
    drop(one_at_a_time);
    let production = shelf.get();
    let fight = fight_of(&production, &wanted.file)?;
    let (revision, text) = (fight.sha256.clone(), fight.text().to_owned());
    Ok(json(&ScoreText { file: wanted.file, fight: fight.name.clone(), revision, text }))
}

/// The name as the score has it.
fn named(typed: &str) -> Result<String, No> {
    let name = typed.split_whitespace().collect::<Vec<_>>().join(" ");
    let no = |reason: String| Err(No::new(StatusCode::UNPROCESSABLE_ENTITY, reason));
    if name.is_empty() {
        return no("Write what the fight is called.".to_owned());
    }
    if name.chars().count() > LONGEST {
        return no(format!("The name of a fight may have {LONGEST} letters at the most. Write a shorter one."));
    }
    if name.chars().any(|letter| letter == '"' || crate::safe_text::acts(letter)) {
        return no("A name has no quotation marks and nothing that is not seen. Type it letter by letter.".to_owned());
    }
    Ok(name)
}

/// A fight of that name, as small as one can be: two people at the distance of their swords, who know where they stand.
fn begun(name: &str) -> String {
    let text = format!(
        "fight \"{name}\"\nbeats 4\ntempo 60\n\nfighters\nFIRST rapier right\nSECOND rapier right\n\n\
         phrase \"First phrase\"\nplace FIRST -1.2,3.0 facing SECOND\nplace SECOND 1.2,3.0 facing FIRST\n\
         1 FIRST thrust belly / SECOND parry 4 ! steel\nrest 2\n"
    );
    score::format(&text).unwrap_or(text)
}

/// Makes the file, under a name that is free. Waits for the disk.
fn put(shelf: &Shelf, name: &str, text: &str) -> Result<String, No> {
    // As the folder is now: what somebody put there a moment ago counts.
    let production =
        Production::open(&shelf.get().folder).map_err(|error| No::new(StatusCode::CONFLICT, error.to_string()))?;
    name_is_free(&production, "", text)?;
    for number in 1..=MOST {
        let file = file_of(name, number);
        match make(&production.folder, &file, text) {
            Ok(()) => return Ok(file),
            Err(NotSaved::Overtaken(_)) => {}
            Err(error) => return Err(No::new(StatusCode::INSUFFICIENT_STORAGE, error.to_string())),
        }
    }
    let reason = "There are too many files of that name in the scores folder already. Choose another name.";
    Err(No::new(StatusCode::CONFLICT, reason))
}

/// The file of a fight: its name in small letters that every system takes, with a number where there is one already.
fn file_of(name: &str, number: u32) -> String {
    let plain = |letter: char| if letter.is_ascii_alphanumeric() { letter.to_ascii_lowercase() } else { ' ' };
    let plain: String = name.chars().map(plain).collect();
    let mut stem = plain.split_whitespace().collect::<Vec<_>>().join("-");
    if stem.is_empty() {
        stem = "fight".to_owned();
    }
    match number {
        1 => format!("scores/{stem}.fight"),
        _ => format!("scores/{stem}-{number}.fight"),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::score::vocabulary::Vocabulary;

    proptest! {
        /// Whatever a fight is called, its first text is one that can be run, is laid out, and has that name.
        #[test]
        fn a_fight_that_is_begun_can_be_run(typed in "\\PC{1,70}") {
            if let Ok(name) = named(&typed) {
                let text = begun(&name);
                let read = score::read(text.as_bytes(), "new", &Vocabulary::built_in());
                prop_assert!(read.problems.is_empty(), "{:?}", read.problems);
                prop_assert_eq!(read.score.map(|score| score.name), Some(name.clone()));
                prop_assert_eq!(score::format(&text).ok(), Some(text));
                let file = file_of(&name, 2);
                prop_assert!(file.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"/-.".contains(&byte)), "{file}");
            }
        }
    }
}
