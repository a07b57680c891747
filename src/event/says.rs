//! What an event says in words: why, or what exactly. It stands in the journal beside the event, and is what a person
//! reads in `holdfast log` and in the terminal. The sentences stay as they are, because they are read back.

use super::{DoorChange, OrderLine, Planned, SoundChange, SoundTest, What};

/// What stands in front of somebody's words or a name, and what behind it.
pub(crate) const ANYWAY: &str = "started anyway: ";
/// What a step to the move before says.
pub(crate) const BACK: &str = "back to the move before";
pub(crate) const FROM: &str = "from ";
pub(crate) const INVITATION: &str = "a new invitation for the ";
pub(crate) const LOOP_ENDS: &str = "” goes round no more";
/// The part of whoever has none.
pub(crate) const NO_PART: &str = "none";

impl What {
    /// Why, or what exactly; nothing when its kind says it all.
    pub fn says(&self) -> Option<String> {
        match self {
            What::Hold { call, .. } | What::HoldJoined(call) => call.reason.clone(),
            What::HoldLate { reason, .. } | What::Stop { reason, .. } | What::Refused { reason } => reason.clone(),
            What::Joined { part } | What::Left { part } => part.clone(),
            What::Part { part } => Some(part.clone().unwrap_or_else(|| NO_PART.to_owned())),
            What::Places { set_up } => set_up.clone(),
            What::Start { anyway, .. } => anyway.as_ref().map(|why| format!("{ANYWAY}{why}")),
            What::Order { order } => Some(order_says(order)),
            What::Cast { fight, part, person, .. } => Some(match person {
                Some(person) => format!("{person} plays {part} in “{fight}” tonight"),
                None => format!("{part} in “{fight}” as usual"),
            }),
            What::Speed { from } => from.as_ref().map(|phrase| format!("{FROM}{phrase}")),
            What::Note { text, .. } => text.clone(),
            What::Reason { reason, .. } => Some(reason.clone()),
            What::NearMiss { reason, .. } => reason.clone(),
            What::Check { check, .. } => Some(check.clone()),
            What::Invitation { role } => Some(format!("{INVITATION}{}", role.title())),
            What::Door(change) => Some(change.says()),
            What::Revision(saved) => saved.why.clone(),
            What::Sound(change) => Some(change.says()),
            What::Trim { sound, trim, gain } => Some(format!("{sound}: {} ms, {} dB", trim.as_millis(), gain.0)),
            What::SoundTest(test) => Some(test.says()),
            What::Step { back } => back.then(|| BACK.to_owned()),
            What::Mute { muted: true } => Some("sound, MIDI and OSC muted".to_owned()),
            What::Mute { muted: false } => Some("sound, MIDI and OSC heard again".to_owned()),
            What::CutOff { .. } => Some("The server went away in the middle of this run.".to_owned()),
            What::ReportsLost { reports } => {
                Some(format!("The disk was too slow: {reports} lateness reports were dropped."))
            }
            What::RowsLost { rows, .. } => Some(format!("The last {rows} rows of the journal are missing.")),
            What::Misrecorded { why, .. } => Some(why.clone()),
            What::Unknown(unread) => unread.reason.clone(),
            What::Session { .. }
            | What::LinkLost
            | What::LinkBack
            | What::Ready
            | What::Phrase
            | What::Release { .. }
            | What::Complete
            | What::End { .. }
            | What::Attendance { .. } => None,
        }
    }
}

/// The order in a line: `1. The Quay, 50 %; 2. The Stair, Up to the door, walk-through`.
fn order_says(order: &[OrderLine]) -> String {
    if order.is_empty() {
        return "nothing is in the order".to_owned();
    }
    let line = |(at, line): (usize, &OrderLine)| format!("{}. {}", at + 1, line.planned.says());
    order.iter().enumerate().map(line).collect::<Vec<_>>().join("; ")
}

impl Planned {
    /// What is to be done, in words.
    pub fn says(&self) -> String {
        let phrases = match (&self.from, &self.to) {
            (Some(from), Some(to)) if from == to => format!(", {from}"),
            (Some(from), Some(to)) => format!(", {from} to {to}"),
            (Some(from), None) => format!(", from {from} on"),
            (None, Some(to)) => format!(", up to {to}"),
            (None, None) => String::new(),
        };
        let weapons = self.weapons.as_ref().map_or_else(String::new, |weapons| format!(", with {weapons}"));
        let speed = self.percent.map_or_else(|| "walk-through".to_owned(), |percent| format!("{percent} %"));
        format!("{}{phrases}{weapons}, {speed}", self.fight)
    }
}

impl DoorChange {
    fn says(&self) -> String {
        match self {
            DoorChange::Removed { name } => format!("{name} taken out of the call"),
            DoorChange::Closed { role } => format!("nobody new as {}", role.title()),
            DoorChange::Opened { role } => format!("newcomers as {} again", role.title()),
            DoorChange::NotesRefused { name } => format!("no more notes from {name}"),
            DoorChange::NotesTaken { name } => format!("notes from {name} again"),
            DoorChange::Same { newcomer, name } => format!("{newcomer} is {name}"),
            DoorChange::Other { newcomer, name } => format!("{newcomer} is not {name}"),
        }
    }
}

impl SoundChange {
    fn says(&self) -> String {
        match self {
            SoundChange::Device { device, .. } => {
                format!("loudspeakers: {}", device.as_deref().unwrap_or("the machine's own choice"))
            }
            SoundChange::Switch { named, on, .. } => format!("{named}{}", on_or_off(*on)),
        }
    }
}

/// What stands behind the name of an output that was switched.
pub(crate) fn on_or_off(on: bool) -> &'static str {
    if on { " on" } else { " off" }
}

impl SoundTest {
    fn says(&self) -> String {
        match self {
            SoundTest::Sound { sound, .. } => format!("test of {sound}"),
            SoundTest::Loop { phrase, percent, .. } => format!("“{phrase}” goes round at {percent} %"),
            SoundTest::LoopEnd { phrase } => format!("“{phrase}{LOOP_ENDS}"),
        }
    }
}
