//! What the sound page and the server say to each other. Only those who work the sound may ask; everybody else is
//! refused. Levels are decibels; a meter's are of full scale, and -120 is silence.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

/// What the sound page asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "what", rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum SoundAsk {
    /// Send me [`SoundTold::Now`] five times a second, and [`SoundTold::Sounds`] now and when they change; or no more.
    Watch {
        /// Send or not.
        on: bool,
    },
    /// The sound cues of a fight at a speed: answered by [`SoundTold::Cues`].
    Cues {
        /// The fight's name.
        fight: String,
        /// Percent of performance tempo, 10 to 150.
        percent: u16,
    },
    /// The devices that can be chosen: answered by [`SoundTold::Devices`].
    Devices {},
    /// Lets one sound be heard now, on every output, with its trim and gain as in the fight.
    Test {
        /// Its name.
        sound: String,
        /// The level of the cue, dB.
        level_db: f64,
        /// Also while a run is going.
        during_run: bool,
    },
    /// Lets a phrase's click and sounds go round until somebody ends it, or calls hold, or calls places.
    Loop {
        /// The fight's name.
        fight: String,
        /// The phrase, counted from 0.
        phrase: u32,
        /// Percent of performance tempo, 10 to 150.
        percent: u16,
    },
    /// Ends the loop.
    EndLoop {},
    /// Chooses when and how loud a sound is heard; kept, with who and when.
    Trim {
        /// Its name.
        sound: String,
        /// Later, or, negative, earlier, microseconds; half a second at the most.
        #[ts(type = "number")]
        trim_us: i64,
        /// Louder or softer, dB, -60 to 12.
        gain_db: f64,
    },
    /// Chooses the loudspeakers; kept.
    Choose {
        /// The device's name; nothing is the machine's own choice.
        device: Option<String>,
        /// Samples per second; nothing is what the device prefers.
        rate: Option<u32>,
        /// Samples mixed at a time; nothing is the usual.
        buffer_frames: Option<u32>,
    },
    /// Mutes sound, MIDI and OSC, or lets them be heard again.
    Mute {
        /// Mute or not.
        on: bool,
    },
    /// Switches one of what goes out on or off, from the next cue on; until the server is stopped.
    Switch {
        /// Which.
        lane: SoundLane,
        /// On or off.
        on: bool,
    },
}

/// What the server tells the sound page.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "what", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum SoundTold {
    /// How the outputs are, five times a second.
    Now(Box<SoundNow>),
    /// The sounds there are.
    Sounds {
        /// In order of name.
        sounds: Vec<SoundView>,
        /// What is wrong with recordings and with what is kept, a sentence each.
        troubles: Vec<String>,
    },
    /// The scores were read anew: cues that were told may be others now.
    Scores,
    /// The sound cues of a fight.
    Cues(Box<SoundCues>),
    /// The devices that can be chosen.
    Devices {
        /// Their names.
        devices: Vec<String>,
        /// The one that was chosen; nothing is the machine's own choice.
        chosen: Option<String>,
    },
}

/// A sound of the production.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundView {
    /// Its name in scores.
    pub sound: String,
    /// How many takes it has.
    pub takes: u32,
    /// True for the company's own recordings.
    pub recorded: bool,
    /// Later, or, negative, earlier, microseconds.
    #[ts(type = "number")]
    pub trim_us: i64,
    /// How long after its first sample it is heard as "now", microseconds: so much before its time it is begun. Nothing
    /// until it has been measured.
    #[ts(type = "number | null")]
    pub attack_us: Option<i64>,
    /// Louder or softer, dB.
    pub gain_db: f64,
    /// The group in which a new sound cuts off the one before.
    pub choke: Option<u32>,
    /// Who chose it.
    pub who: Option<String>,
    /// When, UTC, as RFC 3339 writes it.
    pub when: Option<String>,
}

/// How the outputs are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundNow {
    /// Server time.
    #[ts(type = "number")]
    pub now_us: i64,
    /// Who muted everything, while it is muted.
    pub muted_by: Option<String>,
    /// What is switched off.
    pub off: Vec<SoundLane>,
    /// False while the sounds are still being computed: until then only the click is heard.
    pub prepared: bool,
    /// The phrase that goes round.
    pub looping: Option<LoopView>,
    /// The loudspeakers.
    pub speakers: SpeakersView,
    /// MIDI.
    pub midi: OutputView,
    /// OSC.
    pub osc: OutputView,
    /// What went out in the last seconds, newest first.
    pub sent: Vec<SentView>,
}

/// A phrase that goes round.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct LoopView {
    /// The fight.
    pub fight: String,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Percent of performance tempo.
    pub percent: u16,
    /// Server time of its first beat, the first time round.
    #[ts(type = "number")]
    pub start_us: i64,
    /// How long a round is.
    #[ts(type = "number")]
    pub length_us: i64,
    /// Who let it go round.
    pub by: String,
}

/// The loudspeakers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SpeakersView {
    /// True when everything is as it was asked for.
    pub well: bool,
    /// A sentence.
    pub says: String,
    /// The device's name; empty while there is none.
    pub device: String,
    /// Samples per second.
    pub rate: u32,
    /// Samples mixed at a time; 0 when the device chooses.
    pub buffer: u32,
    /// What the device says of its own delay, microseconds.
    #[ts(type = "number")]
    pub device_us: i64,
    /// What was measured besides: amplifier, radio, processor.
    #[ts(type = "number")]
    pub calibrated_us: i64,
    /// Through the air.
    #[ts(type = "number")]
    pub air_us: i64,
    /// All of it: sounds are sent early by so much.
    #[ts(type = "number")]
    pub whole_us: i64,
    /// What is left: how much later than their times the last sounds were heard, the median; nothing before the first.
    #[ts(type = "number | null")]
    pub left_us: Option<i64>,
    /// What a viewer makes of that (ITU-R BT.1359-1).
    pub judgement: JudgementView,
    /// Sounds that were heard.
    pub sounded: u32,
    /// Sounds that came too late and were dropped.
    pub late: u32,
    /// Sounds that died with a hold.
    pub silenced: u32,
    /// Sounds for which there was no room.
    pub dropped: u32,
    /// Gaps: times the device ran dry.
    pub underruns: u32,
    /// The largest sample since the last message.
    pub peak_db: f64,
    /// The root mean square since the last message.
    pub rms_db: f64,
}

/// What a viewer makes of a sound and a sight that are not at one time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum JudgementView {
    /// Nobody notices.
    InTime,
    /// Noticed: heard before it is seen.
    Early,
    /// Noticed: heard after it is seen.
    Late,
}

/// MIDI or OSC.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct OutputView {
    /// True when it is as it was asked for, or off on purpose.
    pub well: bool,
    /// A sentence.
    pub says: String,
    /// Messages that went out.
    pub sent: u32,
    /// Messages that went out noticeably late.
    pub late: u32,
    /// Messages for which there was nobody to take them, or no time.
    pub lost: u32,
}

/// Something that went out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SentView {
    /// To where.
    pub output: SoundOutput,
    /// What: the sound's name, or the kind of message.
    pub label: String,
    /// When it was due, server time.
    #[ts(type = "number")]
    pub due_us: i64,
    /// How much later it went out, or was heard, microseconds.
    #[ts(type = "number")]
    pub late_us: i64,
    /// False when nobody could hear it: there was no device, or everything was muted.
    pub audible: bool,
}

/// An output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum SoundOutput {
    /// The loudspeakers.
    Speakers,
    /// MIDI.
    Midi,
    /// OSC.
    Osc,
}

/// What goes out and can be switched off by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum SoundLane {
    /// Click and accent through the loudspeakers.
    Click,
    /// The fight's sounds through the loudspeakers.
    Effects,
    /// MIDI notes, the click's too, and show control's cues.
    Midi,
    /// MIDI clock and timecode, from the next run on.
    Timecode,
    /// OSC's cues and sounds; its states and holds are always told.
    Osc,
}

impl SoundLane {
    /// Every one.
    pub const ALL: [SoundLane; 5] =
        [SoundLane::Click, SoundLane::Effects, SoundLane::Midi, SoundLane::Timecode, SoundLane::Osc];

    /// Its word on the wire and in the journal.
    pub const fn word(self) -> &'static str {
        match self {
            SoundLane::Click => "click",
            SoundLane::Effects => "effects",
            SoundLane::Midi => "midi",
            SoundLane::Timecode => "timecode",
            SoundLane::Osc => "osc",
        }
    }

    /// Its name in a sentence.
    pub const fn phrase(self) -> &'static str {
        match self {
            SoundLane::Click => "click",
            SoundLane::Effects => "effects",
            SoundLane::Midi => "MIDI notes and cues",
            SoundLane::Timecode => "MIDI clock and timecode",
            SoundLane::Osc => "OSC cues and sounds",
        }
    }
}

/// The sound cues of a fight at a speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundCues {
    /// The fight.
    pub fight: String,
    /// The score's revision: the first 12 hexadecimal digits of the SHA-256 of its text.
    pub revision: String,
    /// Percent of performance tempo.
    pub percent: u16,
    /// Its phrases.
    pub phrases: Vec<SoundPhrase>,
    /// Cues that are left out, when there are more than can be shown.
    pub left_out: u32,
}

/// A phrase, with its sounds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundPhrase {
    /// Its name.
    pub name: String,
    /// How long it is.
    #[ts(type = "number")]
    pub length_us: i64,
    /// The times of its beats, from its first.
    #[ts(type = "number[]")]
    pub beats_us: Vec<i64>,
    /// Its cues, in order.
    pub cues: Vec<SoundCueView>,
}

/// A sound cue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundCueView {
    /// The sound's name.
    pub sound: String,
    /// When, from the first beat of the phrase, with the score's trim and without the production's.
    #[ts(type = "number")]
    pub at_us: i64,
    /// How much later than its beat the score wants it.
    #[ts(type = "number")]
    pub score_trim_us: i64,
    /// Louder or softer, dB, as the score has it.
    pub level_db: f64,
    /// The beat as the score writes it.
    pub beat: String,
    /// The number of the move that makes it, in its phrase, counted from 1; nothing for a sound on a line of its own.
    #[serde(rename = "move")]
    pub r#move: Option<u32>,
    /// That move in words, or the director's words on a sound's own line.
    pub words: Option<String>,
    /// False when the production has no such sound: then nothing is heard.
    pub known: bool,
}
