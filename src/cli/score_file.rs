//! What commands that read scores share: the one loader of the production, the file's text, and a sentence for each
//! reason why one cannot be read.

use std::fs::File;
use std::io::{self, IsTerminal, Read};
use std::path::Path;
use std::process::ExitCode;

use holdfast::production::{Fight, Judge};
use holdfast::score::Reading;
use holdfast::score::model::Score;
use holdfast::score::vocabulary::{Mode, Vocabulary};

use super::output;

/// The exit code of a command that could not do what it was asked.
pub(crate) const UNUSABLE: u8 = 2;

/// How much of a file is read at most, in bytes: far more than any score or vocabulary has.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// What a score is judged by: the production that it lies in, or nobody's; with other words when a file of them is named.
///
/// # Errors
///
/// A sentence: which file of the production cannot be used, what is wrong with it, what to do.
pub(crate) fn judge(score: &Path, words: Option<&Path>) -> Result<Judge, String> {
    with_words(Judge::of_file(score).map_err(|error| error.to_string())?, words)
}

/// A judge with other words, when a file of them is named: the built-in ones with that file laid over them.
///
/// # Errors
///
/// A sentence: what is wrong with the file, what to do.
pub(crate) fn with_words(mut judge: Judge, words: Option<&Path>) -> Result<Judge, String> {
    if let Some(path) = words {
        let text = text(path)?;
        let patterns = judge.vocabulary.patterns;
        let words = Vocabulary::from_toml(&text, &path.display().to_string(), Mode::Extend)
            .map_err(|error| error.to_string())?;
        judge.vocabulary = Vocabulary { patterns, ..words };
    }
    Ok(judge)
}

/// Reads and judges a score, whatever may be wrong with it.
///
/// # Errors
///
/// A sentence when the file cannot be read or holds no text.
pub(crate) fn fight(path: &Path, judge: &Judge) -> Result<Fight, String> {
    Ok(judge.fight(text(path)?.as_bytes(), &path.display().to_string()))
}

/// Reads a score that has to be sound. What is wrong with it is printed.
///
/// # Errors
///
/// A sentence when it cannot be read or has errors.
pub(crate) fn sound_score(path: &Path, vocabulary: &Vocabulary) -> Result<Score, String> {
    let reading: Reading = holdfast::score::read(text(path)?, &path.display().to_string(), vocabulary);
    let rendered = reading.render(std::io::stderr().is_terminal());
    output::complain_drawn(&rendered);
    let name = path.display();
    reading.score.ok_or_else(|| format!("{name} has errors; mend them, then try again"))
}

/// Prints the output of a command for a person. A reader that has seen enough and closed the pipe is no fault.
pub(crate) fn print(text: &str) -> ExitCode {
    printed(output::print(text))
}

/// The same for JSON.
pub(crate) fn print_json(json: &str) -> ExitCode {
    printed(output::print_json(json))
}

/// The same for a table, a page, or what was drawn in colour: safe already.
pub(crate) fn print_file(file: &str) -> ExitCode {
    printed(output::print_bytes(file.as_bytes()))
}

fn printed(printed: io::Result<()>) -> ExitCode {
    match printed {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            refuse(&format!("the output cannot be written ({error}); is the disk full?"))
        }
        _ => ExitCode::SUCCESS,
    }
}

/// Says why a command could not be done.
pub(crate) fn refuse(sentence: &str) -> ExitCode {
    output::complain(&format!("holdfast: {sentence}"));
    ExitCode::from(UNUSABLE)
}

/// The text of a file.
///
/// # Errors
///
/// A sentence: there is none, it may not be read, it is too long or no text.
pub(crate) fn text(path: &Path) -> Result<String, String> {
    let name = path.display();
    if path.is_dir() {
        return Err(format!("{name} is a folder; name a file in it"));
    }
    let mut bytes = Vec::new();
    File::open(path).and_then(|file| file.take(MOST_BYTES).read_to_end(&mut bytes)).map_err(|error| {
        match error.kind() {
            std::io::ErrorKind::NotFound => format!("there is no file {name}; look at the name and the folder"),
            std::io::ErrorKind::PermissionDenied => {
                format!("{name} may not be read; change its permissions or copy it")
            }
            _ => format!("{name} cannot be read ({error})"),
        }
    })?;
    if bytes.len() as u64 >= MOST_BYTES {
        return Err(format!("{name} has more than {MOST_BYTES} bytes; is it the right file?"));
    }
    String::from_utf8(bytes).map_err(|error| {
        let good = error.as_bytes().get(..error.utf8_error().valid_up_to()).unwrap_or_default();
        let line = good.iter().filter(|byte| **byte == b'\n').count() + 1;
        format!("{name} is not text in UTF-8 (line {line}); save it as UTF-8 in your text editor")
    })
}
