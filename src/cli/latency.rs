//! `holdfast latency`: how late the loudspeakers of a production really are, measured by ear.

use std::path::PathBuf;
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use holdfast::production::Production;
use holdfast::sound::loopback::Recording;
use holdfast::sound::{Sound, SoundSettings, Voice, VoiceKind};
use holdfast::time::ServerClock;
use holdfast::units::{Decibels, Generation, Metres, Micros, ServerTime};

use super::terminal::Terminal;
use super::{EXIT_UNUSABLE, serve};

/// Measures how late the loudspeakers are.
///
/// Accents are played through the production's loudspeakers, and an input of this machine hears them: a microphone held
/// at the loudspeaker, or a cable from the output. How much later than their times they are heard is what latency_ms
/// under [sound] in production.toml has to be. What a device says of its own delay is taken off already; the way
/// through the air is not measured: that is distance_m.
///
/// Stop every server of this production first: two programs cannot always share a device.
///
/// Exit code: 0 measured; 2 could not be measured, with the reason.
#[derive(clap::Args)]
pub(crate) struct Latency {
    /// The production's folder.
    dir: PathBuf,
    /// The input that hears, by its name; without it the machine's own choice.
    #[arg(long, value_name = "NAME")]
    input: Option<String>,
    /// How many accents are played.
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(3..=50))]
    impulses: u32,
}

/// From one accent to the next.
const EVERY: Micros = Micros::millis(800);
/// The time stamps of a device settle in some three seconds.
const SETTLE: Micros = Micros::millis(3_500);
/// A device that is not there by then is not there.
const PATIENCE: Micros = Micros::seconds(10);

impl Latency {
    pub(crate) fn run(self) -> ExitCode {
        let terminal = Terminal::begin();
        match self.measured() {
            Ok(said) => {
                terminal.say(&said);
                ExitCode::SUCCESS
            }
            Err(reason) => {
                terminal.complain(&format!("holdfast latency: {reason}."));
                ExitCode::from(EXIT_UNUSABLE)
            }
        }
    }

    fn measured(&self) -> Result<String, String> {
        let production =
            Production::open(&self.dir).map_err(|error| error.to_string().trim_end_matches('.').to_owned())?;
        let settings = serve::sound_settings(&production);
        // What is measured is the whole: without what was set before, and without the air, for the microphone is at the
        // loudspeaker.
        let clock = ServerClock::new();
        let settings = SoundSettings { distance: Metres(0.0), latency: Micros::ZERO, ..settings };
        let sound = Sound::open(settings, clock);
        wait(clock, PATIENCE, || sound.status().well);
        let status = sound.status();
        if !status.well {
            return Err(status.says.trim_end_matches('.').to_owned());
        }
        let recording = Recording::begin(self.input.as_deref(), clock)?;
        let heard_by = recording.device.clone();
        wait(clock, SETTLE, || false);
        let first = clock.now() + Micros::millis(500);
        let due = |n: u32| ServerTime(first.0 + EVERY.0 * i64::from(n));
        for n in 0..self.impulses {
            let (level, generation) = (Decibels::default(), Generation(0));
            sound.plan(Voice { due: due(n), kind: VoiceKind::Accent, level, generation });
        }
        let end = due(self.impulses);
        wait(clock, end.since(clock.now()) + EVERY, || false);
        let recorded = recording.finish();
        let mut late: Vec<Micros> = (0..self.impulses).filter_map(|n| recorded.lateness(due(n))).collect();
        late.sort_unstable();
        let (Some(least), Some(middle), Some(most)) = (late.first(), late.get(late.len() / 2), late.last()) else {
            return Err(format!(
                "“{heard_by}” heard none of {} accents; turn the loudspeaker up, hold the microphone to it, or name another input with --input",
                self.impulses
            ));
        };
        let mut said = format!(
            "Loudspeakers: “{}”. Heard by “{heard_by}”: {} of {} accents,\n{:.1} ms later than their times (middle of {:.1} to {:.1} ms).\n\nWrite latency_ms = {:.1} under [sound] in production.toml.",
            status.device,
            late.len(),
            self.impulses,
            middle.as_millis(),
            least.as_millis(),
            most.as_millis(),
            middle.as_millis().max(0.0),
        );
        if (*most - *least) > Micros::millis(5) || late.len() < usize::try_from(self.impulses).unwrap_or(0) {
            said += "\nThe accents do not agree: measure again when the room and this machine are quiet.";
        }
        Ok(said)
    }
}

/// Waits until something is so, or the time is over.
fn wait(clock: ServerClock, most: Micros, mut is_so: impl FnMut() -> bool) {
    let until = clock.now() + most;
    while clock.now() < until && !is_so() {
        thread::sleep(Duration::from_millis(20));
    }
}
