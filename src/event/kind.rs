//! The kinds of events by their words, for those who choose by kind: `holdfast log --kind`, and whoever asks the journal
//! for some. The words are public and stay as they are; a kind may be added.

use super::What;

// One list makes the kinds, their words and the list of all kinds, so that none of them can be forgotten.
macro_rules! event_kinds {
    ($($(#[doc = $doc:literal])+ $kind:ident = $word:literal,)+) => {
        /// Which variant of [`What`] an event has.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum EventKind { $($(#[doc = $doc])+ $kind,)+ }

        impl EventKind {
            /// Every kind.
            pub const ALL: &'static [EventKind] = &[$(EventKind::$kind,)+];

            /// The word in the journal and in `log --format json`.
            pub const fn word(self) -> &'static str {
                match self { $(EventKind::$kind => $word,)+ }
            }
        }

        impl What {
            /// Its kind; nothing for what this build cannot read.
            pub const fn kind(&self) -> Option<EventKind> {
                match self {
                    $(What::$kind { .. } => Some(EventKind::$kind),)+
                    What::Unknown(_) => None,
                }
            }
        }
    };
}

event_kinds! {
    /// A server started on this journal; written by the journal itself.
    Session = "session",
    /// Somebody joined.
    Joined = "joined",
    /// Somebody left for good.
    Left = "left",
    /// Nothing was heard of a member for a second.
    LinkLost = "link-lost",
    /// The member is heard again.
    LinkBack = "link-back",
    /// A member's part changed.
    Part = "part",
    /// Places were called.
    Places = "places",
    /// The order of the evening, as it is from then on.
    Order = "order",
    /// Somebody was cast for a part of a fight for the evening.
    Cast = "cast",
    /// A member said ready.
    Ready = "ready",
    /// The run was started: the count-in begins.
    Start = "start",
    /// A phrase began.
    Phrase = "phrase",
    /// A hold: everything stands.
    Hold = "hold",
    /// Another member called the hold that stands.
    HoldJoined = "hold-joined",
    /// A hold that arrived when the run it was meant for was over.
    HoldLate = "hold-late",
    /// A hold was released.
    Release = "release",
    /// The run was stopped.
    Stop = "stop",
    /// Another speed was asked for.
    Speed = "speed",
    /// A walk-through went on by one move.
    Step = "step",
    /// Something was noted, usually to a hold.
    Note = "note",
    /// A reason was given for something that had happened before.
    Reason = "reason",
    /// Something nearly went wrong, and nobody called a hold.
    NearMiss = "near-miss",
    /// The run came to its end.
    Complete = "complete",
    /// The call was ended from the desk.
    End = "end",
    /// The server went away in the middle of this run; written by the journal when it is opened next.
    CutOff = "cut-off",
    /// Something that was asked for was refused.
    Refused = "refused",
    /// The sound device was chosen, or one of the outputs was switched.
    Sound = "sound",
    /// The time or the level of one of the production's sounds was chosen.
    Trim = "trim",
    /// A sound was tried out, or a phrase's sounds began or ended to go round: it belongs to no run.
    SoundTest = "sound-test",
    /// Sound, MIDI and OSC were muted or unmuted.
    Mute = "mute",
    /// A check before a call was signed.
    Check = "check",
    /// The desk noted whether somebody is there.
    Attendance = "attendance",
    /// An invitation was handed out again, and the old one is worth nothing.
    Invitation = "invitation",
    /// The desk has changed who may come in, or whose notes are taken.
    Door = "door",
    /// A score was saved from a page, or a draft was kept beside the score because both changed the same lines.
    Revision = "revision",
    /// Lateness reports were dropped because the disk could not keep up; written by the journal itself.
    ReportsLost = "reports-lost",
    /// The journal was shorter than it had been when it was opened: something removed its last rows.
    RowsLost = "rows-lost",
    /// A record that did not fit into its table, written whole by the journal itself.
    Misrecorded = "misrecorded",
}

impl EventKind {
    /// The kind with that [`EventKind::word`].
    pub fn from_word(word: &str) -> Option<EventKind> {
        EventKind::ALL.iter().copied().find(|kind| kind.word() == word)
    }
}

impl What {
    /// The word of its kind, also for one that this build cannot read.
    pub fn word(&self) -> &str {
        match (self, self.kind()) {
            (What::Unknown(unread), _) => &unread.word,
            (_, kind) => kind.map_or("", EventKind::word),
        }
    }
}
