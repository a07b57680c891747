//! A file for home: one page that carries a part, or the whole cast's, with pictures and sounds, and asks nobody for
//! anything. It opens from a mail or a memory stick in a phone's browser.
//!
//! The page is built from `clients/home/` as one piece (`home.html` among the built pages). What it shows is put into it as
//! JSON, compressed (gzip, RFC 1952) and in base64 (RFC 4648): every browser since 2023 unpacks that by itself
//! (Compression Streams, W3C). Where scripts do not run, in the preview of a mail say, the part stands in it in words.

use std::fmt::Write as _;
use std::io::Write as _;
use std::sync::Arc;

use data_encoding::BASE64;
use flate2::Compression;
use flate2::write::GzEncoder;
use maud::{Markup, html};

use super::clips::clips;
use super::lesson::lesson;
use crate::call::Fight;
use crate::server::pages;
use crate::sound::Library;
use crate::wire::{HomeFight, HomeFile, MoveView, PictureView};

/// No file with its sounds is longer, bytes: it goes with any mail. A longer one goes without them.
pub const MOST_BYTES: usize = 500_000;

/// Where what it shows stands in the built page.
const DATA_HERE: &str = "@@part@@";
/// Where the words stand for whoever has no scripts.
const WORDS_HERE: &str = "@@words@@";
/// Where its title stands.
const TITLE_HERE: &str = "@@title@@";

/// What a file for home is made of.
#[derive(Clone, Copy, Debug)]
pub struct Home<'h> {
    /// The production's name.
    pub production: &'h str,
    /// The day: `2026-11-27`.
    pub made: &'h str,
    /// Whose part; nothing for the whole cast's.
    pub part: Option<&'h str>,
    /// The fights; of a part, those that it is in.
    pub fights: &'h [Arc<Fight>],
    /// The sounds.
    pub library: &'h Library,
}

/// The file.
///
/// # Errors
/// A sentence: nobody of that name fights, or there is nothing to learn.
pub fn page(home: Home<'_>) -> Result<String, String> {
    let mut file = HomeFile {
        production: home.production.to_owned(),
        made: home.made.to_owned(),
        part: home.part.map(str::to_owned),
        fights: fights(&home),
        clips: Vec::new(),
        mute: false,
    };
    if file.fights.is_empty() {
        return Err(match home.part {
            Some(part) => format!("There is no fight here in which {part} fights. Choose another part."),
            None => "There is no fight here to take home. Put a .fight file into the production's folder.".to_owned(),
        });
    }
    file.clips = clips(file.fights.iter().map(|fight| &fight.lesson), home.library)?;
    let whole = written(&file)?;
    if whole.len() <= MOST_BYTES || file.clips.is_empty() {
        return Ok(whole);
    }
    written(&HomeFile { clips: Vec::new(), mute: true, ..file })
}

/// A name for the file that every system takes: `Alder - The Weir.html` without what some refuse.
pub fn file_name(part: Option<&str>, production: &str) -> String {
    let safe = |name: &str| -> String {
        let letters = name.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '_' });
        letters.take(60).collect()
    };
    match part {
        Some(part) => format!("{}-{}.html", safe(part), safe(production)),
        None => format!("{}-everybody.html", safe(production)),
    }
}

fn fights(home: &Home<'_>) -> Vec<HomeFight> {
    let wanted = |fight: &&Arc<Fight>| home.part.is_none_or(|part| fight.person(part).is_some());
    let fights = home.fights.iter().filter(wanted);
    let one = |fight: &Arc<Fight>| {
        let pictures = fight.pictures.all().iter().map(PictureView::of).collect();
        Some(HomeFight { lesson: lesson(fight)?, pictures })
    };
    fights.filter_map(one).collect()
}

fn written(file: &HomeFile) -> Result<String, String> {
    let template = pages::home().ok_or("this Holdfast was built without the page for home")?;
    let unpacked = |error: std::io::Error| format!("the part cannot be packed ({error})");
    let json = serde_json::to_vec(file).map_err(|error| format!("the part cannot be written ({error})"))?;
    let mut packed = GzEncoder::new(Vec::new(), Compression::best());
    packed.write_all(&json).map_err(unpacked)?;
    let packed = packed.finish().map_err(unpacked)?;
    let title = html! { (title(file)) }.into_string();
    let page = template.replacen(TITLE_HERE, &title, 1);
    let page = page.replacen(WORDS_HERE, &words(file).into_string(), 1);
    Ok(page.replacen(DATA_HERE, &BASE64.encode(&packed), 1))
}

fn title(file: &HomeFile) -> String {
    match &file.part {
        Some(part) => format!("{part}, {}", file.production),
        None => file.production.clone(),
    }
}

/// The part in words.
fn words(file: &HomeFile) -> Markup {
    let part = file.part.as_deref();
    html! {
        h1 { (title(file)) }
        @for HomeFight { lesson, .. } in &file.fights {
            h2 { (lesson.sheet.fight) }
            p { "Revision " (lesson.sheet.revision) ", made on " (file.made) "." }
            @for phrase in &lesson.sheet.phrases {
                h3 { (phrase.phrase + 1) ". " (phrase.name) }
                ol {
                    @for it in lesson.sheet.moves.iter().filter(|it| it.phrase == phrase.phrase && is_own(it, part)) {
                        li { "Beat " (it.beat) ": " (said(it)) }
                    }
                }
            }
        }
    }
}

fn is_own(it: &MoveView, part: Option<&str>) -> bool {
    part.is_none_or(|part| it.who == part || it.to.as_deref() == Some(part))
}

fn said(it: &MoveView) -> String {
    let mut said = format!("{} {}", it.who, it.action);
    if let (Some(to), Some(reply)) = (&it.to, &it.reply) {
        // Writing to a string cannot fail.
        let _ = write!(said, " / {to} {reply}");
    }
    said
}
