//! What the pages are given of the wire: the rules that they share with the Rust member and the server
//! (`src/rules.rs`), the list of message kinds, and the TypeScript types of the messages. `tests/it/typescript.rs` keeps
//! `clients/core/wire.ts` equal to what this returns.

use serde::Deserialize;
use serde::de::value::{Error, StrDeserializer};

use ts_rs::{Config, TS};

use super::*;
use crate::call::{NearMisses, Role, Way, Why};
use crate::rules::{self, Rule};

/// The text of `clients/core/wire.ts`.
pub fn typescript() -> String {
    let config = Config::default();
    let mut text = String::from(
        "// Generated from src/wire and src/rules.rs by `cargo test`; do not edit. HOLDFAST_WRITE=1 cargo test typescript \
         writes it anew.\n\n",
    );
    text.push_str(&format!("export const PROTOCOL = {PROTOCOL};\n\n"));
    rules::all().iter().for_each(|rule| text.push_str(&declared(rule)));
    text.push_str(&list("TO_MEMBER_KINDS", "ToMember['kind']", &kinds(&ToMember::decl(&config))));
    text.push_str(&list("NEEDS_THE_CLOCK", "Stage", &stages_that_need_the_clock(&Stage::decl(&config))));
    text.push_str(&format!("export const TICKS_PER_BEAT = {};\n", crate::units::TICKS_PER_BEAT));
    text.push_str(&format!("export const MAX_DRAFT = {MAX_DRAFT};\n"));
    // The reasons of a house that has chosen none of its own, which the pages have in their languages.
    text.push_str(&format!("export const USUAL_REASONS = {:?} as const;\n", Why::USUAL));
    macro_rules! declare {
        ($($name:ty),* $(,)?) => { $( text.push_str(&format!("\nexport {}\n", <$name as TS>::decl(&config))); )* };
    }
    declare!(
        ToServer,
        HoldTap,
        Setup,
        DriveKind,
        DoorAsk,
        Fired,
        ToMember,
        Back,
        TapOutcome,
        PartChoice,
        InvitationView,
        SecureLink,
        Welcome,
        You,
        Newcomer,
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
        DraftPicture,
        PictureAsked,
        PartAsked,
        PartSheet,
        FightToRead,
        Lesson,
        FeetView,
        NearView,
        BesideView,
        PointView,
        CueWalk,
        AroundView,
        WayView,
        SoundAt,
        FloorSheet,
        FloorPhrase,
        GroundView,
        ThingView,
        ThingKind,
        WayThrough,
        PoseView,
        PoseAt,
        LookAt,
        SweepView,
        ApproachView,
        DraftFloor,
        DraftMark,
        StageAsked,
        StageBegun,
        StageChange,
        ThingChange,
        SetChange,
        SetFor,
        StageTold,
        StageSetView,
        Since,
        GoneView,
        SoundClips,
        SoundClip,
        HomeFile,
        HomeFight,
        PictureSet,
        PictureView,
        WeaponsChoice,
        CheckView,
        SignatureView,
        MissingPart,
        Lack,
        NearMisses,
        NearMissView,
        ItemView,
        ItemStands,
        PlannedView,
        OrderItem,
        FightCastView,
        PartCastView,
        ReasonView,
        MovePlace,
        RunSheet,
        PhraseView,
        BeginView,
        StandView,
        PostureView,
        InHandView,
        HandView,
        TempoView,
        MoveView,
        Part,
        CueMove,
        Cue,
        Click,
        Role,
        Way,
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
        NewAsked,
        CompareAsked,
        Compared,
        ComparedRow,
        ComparedLine,
        DraftReport,
        FindingView,
        FindingSeverity,
        DraftPhrase,
        SafeTempo,
        SafeWithSet,
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
        ReviewOrder,
        ReviewProposed,
        ReviewPartAsked,
        ReviewEventAsked,
        ReviewPiece,
        ReviewFileAsked,
        ReviewFile,
    );
    text
}

/// A rule as the pages read it.
fn declared(rule: &Rule) -> String {
    let doc: String = rule.doc.iter().map(|line| format!(" *{}\n", plain(line))).collect();
    format!("/**\n{doc} */\nexport const {}{} = {};\n", rule.name, rule.unit, rule.value)
}

/// A line of documentation without the brackets that mark a link.
fn plain(line: &str) -> String {
    line.replace("[`", "`").replace("`]", "`")
}

/// A list of names of a type.
fn list(name: &str, of: &str, names: &[String]) -> String {
    let names: Vec<String> = names.iter().map(|name| format!("'{name}'")).collect();
    format!("\nexport const {name}: readonly {of}[] = [{}];\n", names.join(", "))
}

/// The kinds of a tagged enum, from its declaration.
fn kinds(declaration: &str) -> Vec<String> {
    declaration.split("\"kind\": \"").skip(1).filter_map(|rest| Some(rest.split_once('"')?.0.to_owned())).collect()
}

/// The stages in a declaration of all of them for which [`Stage::needs_the_clock`] is true.
fn stages_that_need_the_clock(declaration: &str) -> Vec<String> {
    let words = declaration.split('"').skip(1).step_by(2);
    let needs = |word: &&str| {
        let stage = Stage::deserialize(StrDeserializer::<Error>::new(word));
        stage.is_ok_and(Stage::needs_the_clock)
    };
    words.filter(needs).map(str::to_owned).collect()
}
