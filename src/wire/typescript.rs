//! The TypeScript types of the pages, generated from the message types. `tests/typescript.rs` keeps
//! `clients/core/wire.ts` equal to what this returns.

use ts_rs::{Config, TS};

use super::*;
use crate::call::Role;

/// The text of `clients/core/wire.ts`.
pub fn typescript() -> String {
    let config = Config::default();
    let mut text = String::from(
        "// Generated from src/wire by `cargo test`; do not edit. HOLDFAST_WRITE=1 cargo test typescript writes it anew.\n\n",
    );
    text.push_str(&format!("export const PROTOCOL = {PROTOCOL};\n\n"));
    text.push_str(&format!("export const TICKS_PER_BEAT = {};\n", crate::units::TICKS_PER_BEAT));
    text.push_str(&format!("export const MAX_DRAFT = {MAX_DRAFT};\n"));
    macro_rules! declare {
        ($($name:ty),* $(,)?) => { $( text.push_str(&format!("\nexport {}\n", <$name as TS>::decl(&config))); )* };
    }
    declare!(
        ToServer,
        HoldTap,
        Setup,
        DriveKind,
        Fired,
        ToMember,
        TapOutcome,
        PartChoice,
        InvitationView,
        SecureLink,
        Welcome,
        You,
        Stage,
        State,
        ReadyCount,
        Health,
        NextSpeed,
        Spot,
        HoldView,
        Caller,
        Subject,
        SubjectTold,
        MemberView,
        DeviceView,
        Link,
        HoldRecord,
        AttendanceView,
        FightChoice,
        CheckView,
        SignatureView,
        MissingPart,
        Lack,
        RunSheet,
        PhraseView,
        TempoView,
        CastView,
        MoveView,
        Part,
        CueMove,
        Cue,
        Click,
        Role,
        ScoreList,
        ScoreChoice,
        ScoreWords,
        ActionWord,
        TargetWord,
        ReplyWord,
        ReplyNeeds,
        ScoreAsked,
        ScoreText,
        ScoreNews,
        ScoreReader,
        Draft,
        DraftReport,
        FindingView,
        FindingSeverity,
        DraftPhrase,
        SafeTempo,
        Formatted,
        PreviewAsked,
        Preview,
        PreviewMoment,
        SaveAsked,
        SaveAnswer,
        SavedScore,
        SaveConflict,
        MergePiece,
        RevisionAsked,
        Revisions,
        RevisionView,
        RevisionKind,
        NotDone,
        SoundAsk,
        SoundTold,
        SoundView,
        SoundNow,
        LoopView,
        SpeakersView,
        JudgementView,
        OutputView,
        SentView,
        SoundOutput,
        SoundLane,
        SoundCues,
        SoundPhrase,
        SoundCueView,
        ReviewAsked,
        ReviewPage,
        ReviewChoice,
        ReviewPartAsked,
        ReviewEventAsked,
        ReviewPiece,
        ReviewFileAsked,
        ReviewFile,
    );
    text
}
