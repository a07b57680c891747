//! The voice that calls: the program `espeak-ng`, where it is installed. It is asked for one file a sentence and pace.

use std::collections::HashMap;
use std::process::{Command, Stdio};

use tempfile::TempDir;

use crate::sound::recordings::{Clip, read};

/// How fast it speaks, words a minute: at leisure, and faster where a call would not fit.
pub const PACES: [u32; 3] = [160, 220, 300];

/// The longest text that is spoken, characters: no call is longer, and a program is not handed a book.
const LONGEST: usize = 400;
/// What is softer than this at either end of a clip is cut off, so that a call takes no more time than it needs.
const UNHEARD: f32 = 0.003;

/// A voice that can be asked to speak.
#[derive(Debug)]
pub struct Speaker {
    program: String,
    room: TempDir,
    said: HashMap<(String, u32), Clip>,
}

impl Speaker {
    /// The voice of this machine.
    ///
    /// # Errors
    /// A sentence when there is none.
    pub fn find() -> Result<Speaker, String> {
        Speaker::with("espeak-ng")
    }

    /// The voice of a program that takes the arguments of `espeak-ng`.
    ///
    /// # Errors
    /// A sentence when it is not there.
    pub fn with(program: &str) -> Result<Speaker, String> {
        let there = Command::new(program).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status();
        if !there.is_ok_and(|status| status.success()) {
            return Err(format!(
                "moves are not called out, because {program} is not installed; install it (apt-get install espeak-ng) and make the tracks again"
            ));
        }
        let room = tempfile::tempdir().map_err(|error| format!("no temporary folder can be made ({error})"))?;
        Ok(Speaker { program: program.to_owned(), room, said: HashMap::new() })
    }

    /// Says a text at a pace, words a minute.
    ///
    /// # Errors
    /// A sentence when the program fails.
    pub fn say(&mut self, text: &str, pace: u32) -> Result<Clip, String> {
        let key = (text.to_owned(), pace);
        if let Some(clip) = self.said.get(&key) {
            return Ok(clip.clone());
        }
        let clip = self.spoken(text, pace).map_err(|why| format!("{} could not say “{text}”: {why}", self.program))?;
        self.said.insert(key, clip.clone());
        Ok(clip)
    }

    fn spoken(&self, text: &str, pace: u32) -> Result<Clip, String> {
        let file = self.room.path().join("call.wav");
        // `-w` and not its output: the lengths in the header of that are wrong.
        let done = Command::new(&self.program)
            .args(["-v", "en-gb", "-s", &pace.to_string(), "-w"])
            .arg(&file)
            .arg("--")
            .arg(text.chars().take(LONGEST).filter(|c| !c.is_control()).collect::<String>())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        match done {
            Ok(status) if status.success() => read(&file).map(|(clip, _)| trimmed(&clip)),
            Ok(status) => Err(format!("it ended with {status}")),
            Err(error) => Err(error.to_string()),
        }
    }
}

/// The clip without the silence around it.
fn trimmed(clip: &Clip) -> Clip {
    let heard = |sample: &f32| sample.abs() > UNHEARD;
    let first = clip.samples.iter().position(heard).unwrap_or(0);
    let last = clip.samples.iter().rposition(heard).unwrap_or(0);
    Clip { rate: clip.rate, samples: clip.samples.get(first..=last).unwrap_or_default().into() }
}
