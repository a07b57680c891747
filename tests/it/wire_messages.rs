//! Every message of the wire comes back as it was sent. The list below must have one of each kind: a kind that is added
//! to the wire does not compile here until it has its number.

use std::collections::BTreeSet;

use holdfast::call::{NearMisses, Role, Way};
use holdfast::wire::*;

use crate::net_messages::{cue, event_id, held, state, welcome, you};

#[test]
fn every_message_to_the_server_comes_back() {
    let mut kinds = BTreeSet::new();
    for message in to_server() {
        kinds.insert(server_kind(&message));
        assert_eq!(decode::<ToServer>(&encode(&message).unwrap()).unwrap(), message);
    }
    assert_eq!(kinds, (0..32).collect());
}

#[test]
fn every_message_to_a_member_comes_back() {
    let mut kinds = BTreeSet::new();
    for message in to_member() {
        kinds.insert(member_kind(&message));
        assert_eq!(decode::<ToMember>(&encode(&message).unwrap()).unwrap(), message);
    }
    assert_eq!(kinds, (0..19).collect());
}

/// A page of another version is told so, and never half understood.
#[test]
fn no_message_to_the_server_may_have_a_field_that_it_does_not_know() {
    for message in to_server() {
        let mut fields: serde_json::Value = rmp_serde::from_slice(&encode(&message).unwrap()).unwrap();
        assert_eq!(decode::<ToServer>(&rmp_serde::to_vec_named(&fields).unwrap()).unwrap(), message);
        fields["extra"] = 1.into();
        let more = rmp_serde::to_vec_named(&fields).unwrap();
        assert!(decode::<ToServer>(&more).is_err(), "{message:?} is read with something else in it");
    }
}

/// Frames are maps with named fields, which is what lets a field be added without breaking a reader.
#[test]
fn frames_are_maps_with_names() {
    let bytes = encode(&ToServer::Clock { sent_us: 5 }).unwrap();
    assert_eq!(bytes, b"\x82\xa4kind\xa5clock\xa7sent_us\x05");
}

fn server_kind(message: &ToServer) -> u32 {
    match message {
        ToServer::Look { .. } => 0,
        ToServer::Join { .. } => 1,
        ToServer::Return { .. } => 2,
        ToServer::Clock { .. } => 3,
        ToServer::Pulse { .. } => 4,
        ToServer::Hold(_) => 5,
        ToServer::Release { .. } => 6,
        ToServer::Stop { .. } => 7,
        ToServer::Ready { .. } => 8,
        ToServer::TakePart { .. } => 9,
        ToServer::Places { .. } => 10,
        ToServer::Start { .. } => 11,
        ToServer::Step { .. } => 12,
        ToServer::Speed { .. } => 13,
        ToServer::Note { .. } => 14,
        ToServer::EndCall { .. } => 15,
        ToServer::Report(_) => 16,
        ToServer::Invitations {} => 17,
        ToServer::Revoke { .. } => 18,
        ToServer::Leave {} => 19,
        ToServer::Sound { .. } => 20,
        ToServer::Sign { .. } => 21,
        ToServer::Attend { .. } => 22,
        ToServer::Show { .. } => 23,
        ToServer::TryHold {} => 24,
        ToServer::Tried { .. } => 25,
        ToServer::Door { .. } => 26,
        ToServer::Reason { .. } => 27,
        ToServer::NearMiss { .. } => 28,
        ToServer::PlacesFor { .. } => 29,
        ToServer::Order { .. } => 30,
        ToServer::Cast { .. } => 31,
    }
}

fn member_kind(message: &ToMember) -> u32 {
    match message {
        ToMember::Invited { .. } => 0,
        ToMember::Welcome(_) => 1,
        ToMember::Clock { .. } => 2,
        ToMember::Pulse { .. } => 3,
        ToMember::State(_) => 4,
        ToMember::Run(_) => 5,
        ToMember::Cue(_) => 6,
        ToMember::Held(_) => 7,
        ToMember::TapAnswer { .. } => 8,
        ToMember::Refused { .. } => 9,
        ToMember::Invitations { .. } => 10,
        ToMember::Goodbye { .. } => 11,
        ToMember::Sound { .. } => 12,
        ToMember::You(_) => 13,
        ToMember::Subject { .. } => 14,
        ToMember::Stop { .. } => 15,
        ToMember::Piece { .. } => 16,
        ToMember::Trial { .. } => 17,
        ToMember::Taken { .. } => 18,
    }
}

fn planned() -> PlannedView {
    PlannedView {
        fight: "The Salt Stair".into(),
        weapons: Some("wood".into()),
        from: Some("First pass".into()),
        to: None,
        percent: Some(65),
        count_in: Some(4),
    }
}

fn setup() -> Setup {
    Setup {
        fight: "The Salt Stair".into(),
        weapons: Some("wood".into()),
        from: 0,
        from_move: None,
        to: 2,
        percent: 50,
        count_in: 4,
        drive: DriveKind::Clock,
    }
}

fn hold_tap() -> HoldTap {
    HoldTap {
        tap: "0f".into(),
        generation: 1 << 40,
        queued: true,
        tapped_us: Some(i64::MAX),
        screen_cue: Some(0),
        reason: Some("Ünruhe \u{1F5E1} \"".to_owned()),
    }
}

pub(crate) fn to_server() -> Vec<ToServer> {
    let words = || "Ünruhe \u{1F5E1} \"".to_owned();
    vec![
        ToServer::Look { protocol: PROTOCOL, invitation: words() },
        ToServer::Join {
            protocol: u32::MAX,
            invitation: String::new(),
            name: words(),
            part: Some("OSK".into()),
            page: Some(words()),
        },
        ToServer::Join { protocol: 0, invitation: words(), name: words(), part: None, page: None },
        ToServer::Return { protocol: 1, key: words(), page: None, taps: vec![] },
        ToServer::Return { protocol: 2, key: words(), page: None, taps: vec![hold_tap()] },
        ToServer::Clock { sent_us: i64::MIN },
        ToServer::Pulse { visible: true, bound_us: Some(1), round_trip_us: None },
        ToServer::Hold(hold_tap()),
        ToServer::Release { hold: 3, seen: event_id() },
        ToServer::Stop { reason: words() },
        ToServer::Ready { ready: false, generation: 1 },
        ToServer::TakePart { member: Some(4), part: None },
        ToServer::TakePart { member: None, part: Some("MARET".into()) },
        ToServer::Places { setup: setup(), seen: event_id() },
        ToServer::Start { generation: 2, anyway: true, seen: event_id() },
        ToServer::Step { generation: 2, from: 3, way: Way::Back },
        ToServer::Speed { percent: 150 },
        ToServer::Note { hold: 1, text: words() },
        ToServer::Reason { hold: 1, reason: words() },
        ToServer::NearMiss {
            run: Some(3),
            place: Some(MovePlace { phrase: 0, r#move: 4 }),
            named: false,
            reason: Some(words()),
            note: None,
        },
        ToServer::NearMiss { run: None, place: None, named: true, reason: None, note: Some(words()) },
        ToServer::PlacesFor { item: 4, seen: event_id() },
        ToServer::Order {
            items: vec![
                OrderItem { item: Some(4), planned: planned(), done: Some(true) },
                OrderItem { item: None, planned: PlannedView { percent: None, ..planned() }, done: None },
            ],
            seen: 3,
        },
        ToServer::Cast { fight: words(), part: words(), member: Some(2) },
        ToServer::Cast { fight: words(), part: words(), member: None },
        ToServer::EndCall { signed_by: Some(words()) },
        ToServer::Sign { check: words(), in_order: false, note: Some(words()), by: None },
        ToServer::Attend { person: words(), present: true },
        ToServer::Report(Fired { generation: 1, cue: 300, due_us: -1, fired_us: None, bound_us: Some(900) }),
        ToServer::Show { subjects: Subject::ALL.to_vec() },
        ToServer::Show { subjects: vec![] },
        ToServer::TryHold {},
        ToServer::Tried { trial: u32::MAX, shown: false, felt: true },
        ToServer::Invitations {},
        ToServer::Revoke { role: Role::Sound, members: true },
        ToServer::Door { ask: DoorAsk::Remove { member: 3 } },
        ToServer::Door { ask: DoorAsk::Notes { member: 3, taken: false } },
        ToServer::Door { ask: DoorAsk::Role { role: Role::Captain, open: true } },
        ToServer::Door { ask: DoorAsk::Same { member: 3, same: true } },
        ToServer::Door { ask: DoorAsk::SameAll {} },
        ToServer::Leave {},
    ]
    .into_iter()
    .chain(sound_asks().into_iter().map(|ask| ToServer::Sound { ask }))
    .collect()
}

fn sound_asks() -> Vec<SoundAsk> {
    let (fight, sound) = ("The Salt Stair".to_owned(), "steel".to_owned());
    vec![
        SoundAsk::Watch { on: true },
        SoundAsk::Cues { fight: fight.clone(), percent: 50 },
        SoundAsk::Devices {},
        SoundAsk::Test { sound: sound.clone(), level_db: -3.5, during_run: false },
        SoundAsk::Loop { fight, phrase: 2, percent: 100 },
        SoundAsk::EndLoop {},
        SoundAsk::Trim { sound, trim_us: -12_000, gain_db: 0.5 },
        SoundAsk::Choose { device: None, rate: Some(48_000), buffer_frames: None },
        SoundAsk::Mute { on: false },
        SoundAsk::Switch { lane: SoundLane::Timecode, on: false },
    ]
}

fn sound_told() -> Vec<SoundTold> {
    let speakers = SpeakersView {
        well: true,
        says: "Sound goes to “Stage left”.".into(),
        device: "Stage left".into(),
        rate: 48_000,
        buffer: 1_024,
        device_us: 42_667,
        calibrated_us: 0,
        air_us: 29_137,
        whole_us: 71_804,
        left_us: Some(-310),
        judgement: JudgementView::InTime,
        sounded: 9,
        late: 0,
        silenced: 2,
        dropped: 0,
        underruns: 1,
        peak_db: -6.25,
        rms_db: -120.0,
    };
    let output = OutputView { well: false, says: "OSC is off.".into(), sent: 3, late: 0, lost: 1 };
    let sent = [SoundOutput::Speakers, SoundOutput::Midi, SoundOutput::Osc].map(|output| SentView {
        output,
        label: "steel".into(),
        due_us: 5,
        late_us: -2,
        audible: true,
    });
    let looping = LoopView {
        fight: "The Salt Stair".into(),
        phrase: 1,
        percent: 50,
        start_us: 9,
        length_us: 2_000_000,
        by: "Nia".into(),
    };
    let cue = SoundCueView {
        sound: "steel".into(),
        at_us: 500_000,
        score_trim_us: -20_000,
        level_db: -3.0,
        beat: "2".into(),
        r#move: Some(1),
        words: Some("MARET cut head / OSK parry 5".into()),
        known: true,
    };
    let phrase = SoundPhrase {
        name: "Across the quay".into(),
        length_us: 2_000_000,
        beats_us: vec![0, 500_000],
        cues: vec![cue],
    };
    let view = SoundView {
        sound: "steel".into(),
        takes: 5,
        recorded: false,
        trim_us: 1_000,
        attack_us: Some(3_000),
        gain_db: -0.5,
        choke: Some(201),
        who: Some("Nia".into()),
        when: Some("2026-03-01T19:30:00Z".into()),
    };
    let (fight, revision) = ("The Salt Stair".to_owned(), "0123456789ab".to_owned());
    vec![
        SoundTold::Now(Box::new(SoundNow {
            now_us: 77,
            muted_by: Some("Nia".into()),
            off: SoundLane::ALL.to_vec(),
            prepared: true,
            looping: Some(looping),
            speakers,
            midi: output.clone(),
            osc: output,
            sent: sent.into(),
        })),
        SoundTold::Sounds { sounds: vec![view], troubles: vec!["sounds/thud.wav: it is empty.".into()] },
        SoundTold::Cues(Box::new(SoundCues { fight, revision, percent: 50, phrases: vec![phrase], left_out: 0 })),
        SoundTold::Scores,
        SoundTold::Devices { devices: vec!["pulse".into()], chosen: None },
    ]
}

pub(crate) fn to_member() -> Vec<ToMember> {
    let words = || "Ünruhe \u{1F5E1} \"".to_owned();
    let mut answers = vec![
        ToMember::Invited {
            production: words(),
            role: Role::Performer,
            parts: vec![PartChoice { part: "OSK".into(), taken_by: Some(words()) }],
        },
        ToMember::Clock { sent_us: -5, received_us: i64::MAX, answered_us: 0 },
        ToMember::Pulse { now_us: 1 << 40, generation: 1 << 52, stood_us: Some(90_000_000) },
        ToMember::Stop { generation: 1 << 52, at_us: -1 },
        ToMember::Trial { trial: u32::MAX, by: words() },
        ToMember::Piece { of: u32::MAX, part: 2, last: true, bytes: vec![0, 255, 3] },
        ToMember::Refused { asked: "start".into(), reason: words() },
        ToMember::Taken { asked: "near-miss".into(), named: false },
        ToMember::Goodbye { reason: words(), back: Back::WhenAsked },
        ToMember::Invitations {
            invitations: vec![InvitationView {
                role: Role::Desk,
                link: words(),
                qr_svg: "<svg/>".into(),
                secure: Some(SecureLink { link: words(), qr_svg: "<svg/>".into() }),
                joined: 2,
                until: "2026-03-01T19:30:00Z".into(),
                ran_out: true,
                closed: true,
            }],
            fingerprint: Some("A5:0C".to_owned()),
        },
    ];
    for outcome in [TapOutcome::Held, TapOutcome::Written, TapOutcome::Late] {
        answers.push(ToMember::TapAnswer { tap: "0f".into(), outcome, hold: Some(1) });
    }
    for stage in
        [Stage::Idle, Stage::Places, Stage::CountIn, Stage::Running, Stage::Held, Stage::Stopped, Stage::Complete]
    {
        answers.push(ToMember::State(Box::new(full_state(stage))));
    }
    let mut welcome = welcome(9, 3);
    (welcome.key, welcome.run) = (Some(words()), Some(run()));
    answers.push(ToMember::Welcome(Box::new(welcome)));
    answers.push(ToMember::Run(Box::new(run())));
    answers.push(ToMember::Held(Box::new(full_hold())));
    answers.push(ToMember::You(you()));
    answers.push(ToMember::You(You { part: Some("OSK".into()), ready: true, ..you() }));
    let newcomer = Newcomer { member: 4, name: "Ode (2)".into(), device: Some("iPhone, Safari".into()) };
    answers.push(ToMember::You(You { newcomers: vec![newcomer], waits: Some("Ode".into()), ..you() }));
    answers.extend(subjects().into_iter().map(|tells| ToMember::Subject { tells }));
    answers.extend(sound_told().into_iter().map(|tells| ToMember::Sound { tells }));
    answers.extend([Part::Act, Part::Answer, Part::Watch].map(|part| ToMember::Cue(Box::new(full_cue(part)))));
    answers
}

fn full_state(stage: Stage) -> State {
    let mut state = state(77, 4);
    state.stage = stage;
    state.because = Some("A hold stands.".into());
    state.setup = Some(Setup { drive: DriveKind::Step, ..setup() });
    state.run = Some(3);
    state.next_speed = Some(NextSpeed { percent: 75, phrase: "The wound".into() });
    state.ready = Some(ReadyCount { ready: 1, of: 2 });
    state.hold = Some(full_hold());
    state.released = Some(HoldView { reason: None, ..full_hold() });
    state.spot = Some(spot());
    state
}

/// Every subject, whole and changed, and every word of what they can say.
fn subjects() -> Vec<SubjectTold> {
    let member = |role| MemberView {
        member: 1,
        name: "Ode".into(),
        role,
        part: Some("OSK".into()),
        link: if role == Role::Desk { Link::Linked } else { Link::Lost },
        ready: true,
        joined: "2026-03-01T19:30:00Z".into(),
        device: Some("iPad".into()),
        notes_taken: false,
        claims: (role == Role::Performer).then_some(2),
    };
    let device = DeviceView { member: 1, visible: false, bound_us: Some(1_200), late_us: None };
    let record = HoldRecord { hold: full_hold(), notes: vec!["grip".into()], earlier_notes: 3 };
    let signed = SignatureView { by: "Ana".into(), at_us: -1, in_order: false, note: Some("wet".into()) };
    let lacks = [Lack::Nobody, Lack::Lost, Lack::Hidden, Lack::NotReady];
    vec![
        SubjectTold::Roster { whole: true, members: Role::ALL.map(member).into(), gone: vec![] },
        SubjectTold::Devices { whole: false, devices: vec![device], gone: vec![2] },
        SubjectTold::Holds { whole: false, holds: vec![record], gone: vec![1] },
        SubjectTold::Attendance {
            whole: false,
            people: vec![AttendanceView { person: "Lotte".into(), present: false }],
            gone: vec!["Ayo".into()],
        },
        SubjectTold::Fights {
            fights: vec![FightChoice {
                fight: "The Salt Stair".into(),
                revision: "0123456789ab".into(),
                phrases: vec!["Across the quay".into()],
                fighters: vec!["MARET".into(), "OSK".into()],
                bystanders: vec!["PELL".into()],
                beats_per_bar: 4,
                count_in: 4,
                errors: 0,
                warnings: 1,
                sets: vec![WeaponsChoice { weapons: "wood".into(), errors: 0, warnings: 2 }],
                drill: false,
            }],
        },
        SubjectTold::Troubles { troubles: vec!["The file salt.fight cannot be read.".into()] },
        SubjectTold::Checks {
            checks: vec![
                CheckView { check: "floor".into(), trial: true, signed: Some(signed) },
                CheckView { check: "marks".into(), trial: false, signed: None },
            ],
        },
        SubjectTold::Missing {
            generation: 5,
            parts: lacks.map(|lack| MissingPart { part: "OSK".into(), name: Some("Ode".into()), lack }).into(),
        },
        SubjectTold::Tonight {
            version: 3,
            items: [ItemStands::ToDo, ItemStands::Now, ItemStands::Done]
                .map(|stands| ItemView {
                    item: 4,
                    planned: planned(),
                    stands,
                    cannot: Some("There is no such fight.".into()),
                    players: vec![2, 9],
                    open: vec!["OSK".into()],
                    about_s: Some(240),
                })
                .into(),
        },
        SubjectTold::Casts {
            fights: vec![FightCastView {
                fight: "The Salt Stair".into(),
                parts: vec![PartCastView {
                    part: "OSK".into(),
                    stands_by: false,
                    member: Some(2),
                    person: Some("Ode".into()),
                    chosen: true,
                    usually: Some("Lotte".into()),
                    covers: vec!["Ode".into(), "Zan".into()],
                }],
            }],
        },
        SubjectTold::NearMisses {
            count: 30,
            misses: vec![
                NearMissView {
                    at_us: -1,
                    by: Some("Ode".into()),
                    spot: Some(spot()),
                    reason: Some("distance".into()),
                    note: None,
                },
                NearMissView { at_us: 9, by: None, spot: None, reason: None, note: Some("wet".into()) },
            ],
        },
    ]
    .into_iter()
    .chain(
        [NearMisses::Either, NearMisses::Named, NearMisses::Unnamed, NearMisses::No]
            .map(|near_misses| SubjectTold::Why { reasons: vec!["distance".into()], near_misses }),
    )
    .collect()
}

fn spot() -> Spot {
    Spot {
        cue: 12,
        phrase: 0,
        phrase_name: "Across the quay".into(),
        beat: "4+1/2".into(),
        r#move: Some(4),
        words: Some("MARET bind, OSK yield".into()),
    }
}

fn full_hold() -> HoldView {
    let mut hold = held(2, 5);
    hold.spot = Some(spot());
    hold.percent = Some(50);
    hold.also = vec!["OSK cut head / MARET parry 5".into()];
    let lost = Caller {
        member: None,
        name: "Zan".into(),
        role: Role::Observer,
        times: 2,
        reason: Some("link lost".into()),
        screen: Some(spot()),
    };
    hold.callers.push(lost);
    hold.reason = Some(ReasonView { says: "distance".into(), by: "Ode".into() });
    hold.written = true;
    hold.released_by = Some("Ivo".into());
    hold
}

fn a_walk() -> FeetView {
    FeetView {
        phrase: 2,
        at_ticks: 1_920,
        beat: Some("3".into()),
        who: "OSK".into(),
        to: PointView { x: -0.5, y: 2.0 },
        further: true,
        around: Some(AroundView { centre: PointView { x: 0.0, y: 1.0 }, way: Some(WayView::Anticlockwise) }),
        facing: None,
        bearing: Some(-45.0),
        until_ticks: Some(3_840),
        until: Some("5".into()),
    }
}

fn a_move() -> MoveView {
    MoveView {
        phrase: 0,
        number: 4,
        at_ticks: 3_360,
        beat: "4+1/2".into(),
        who: "MARET".into(),
        action: "bind".into(),
        to: Some("OSK".into()),
        reply: Some("yield".into()),
        sounds: vec!["scrape".into()],
        text: Some("let the blades talk".into()),
        picture: Some(7),
    }
}

fn full_cue(part: Part) -> Cue {
    let mut cue = cue(1, 2, Some(3));
    cue.click = if part == Part::Watch { Click::None } else { Click::Accent };
    cue.count_in = Some(2);
    cue.moves = vec![CueMove { part, r#move: a_move() }];
    cue.next = cue.moves.clone();
    cue.next_in_beats = Some(1.5);
    cue
}

fn run() -> RunSheet {
    RunSheet {
        run: 3,
        generation: 5,
        revision: "0123456789ab".into(),
        fight: "The Salt Stair".into(),
        weapons: Some("wood".into()),
        drive: DriveKind::Clock,
        beats_per_bar: 4,
        count_in: 4,
        start_us: Some(1),
        length_ticks: 16_320,
        phrases: vec![PhraseView {
            phrase: 0,
            name: "Across the quay".into(),
            at_ticks: 0,
            length_ticks: 16_320,
            at_us: 0,
            percent: 50,
        }],
        tempo: vec![TempoView { at_ticks: 0, length_ticks: 960, at_us: 0, from_bpm: 84.0, to_bpm: 108.5 }],
        begins: Some(BeginView {
            number: 3,
            beat: "4".into(),
            stands: vec![StandView {
                fighter: "OSK".into(),
                on_mark: false,
                x: Some(-0.5),
                y: None,
                posture: PostureView::Kneeling,
                hands: vec![InHandView { weapon: "rapier".into(), hand: Some(HandView::Left) }],
            }],
        }),
        moves: vec![a_move()],
        feet: vec![a_walk()],
        near: vec![NearView {
            phrase: 0,
            at_ticks: 960,
            beat: "2".into(),
            who: "PELL".into(),
            by: "OSK".into(),
            action: Some("cut flank left".into()),
            metres: 1.25,
            side: BesideView::StageLeft,
        }],
        fighters: vec!["OSK".into()],
        bystanders: vec!["PELL".into()],
        pictures: Some("0123456789abcdef01234567".into()),
        floor: Some("89abcdef0123456789abcdef".into()),
    }
}
