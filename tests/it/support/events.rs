//! Events of every kind, with anything in them.

use holdfast::event::{
    Called, Cast, DoorChange, Event, EventId, HoldId, Maker, OfItem, OrderLine, Planned, Role, RunBegun, SavedRevision,
    Saving, SoundChange, SoundTest, Spot, UnderWay, Unread, What, Who,
};
use holdfast::units::{Decibels, Micros, ServerTime};
use proptest::option::of;
use proptest::prelude::*;

type Words = Option<String>;

/// Any event whatever.
pub(crate) fn any_event() -> BoxedStrategy<Event> {
    (id(), any::<i64>(), any::<Option<u32>>(), of(who()), of(spot()), any::<Option<u16>>(), any_what())
        .prop_map(|(id, at, run, who, spot, percent, what)| Event {
            id,
            at: ServerTime(at),
            run,
            who,
            spot,
            percent,
            what,
        })
        .boxed()
}

fn id() -> BoxedStrategy<EventId> {
    let maker = prop::sample::select(vec![Maker::Call, Maker::Server, Maker::Journal]);
    (any::<u32>(), maker, any::<u64>()).prop_map(|(session, maker, number)| EventId { session, maker, number }).boxed()
}

fn role() -> BoxedStrategy<Role> {
    prop::sample::select(Role::ALL.to_vec()).boxed()
}

/// Somebody has a name.
fn who() -> BoxedStrategy<Who> {
    (any::<String>(), any::<Option<u32>>(), of(role()))
        .prop_map(|(name, member, role)| {
            let name = if name.is_empty() { "Bea Lund".to_owned() } else { name };
            Who { name, member, role }
        })
        .boxed()
}

fn spot() -> BoxedStrategy<Spot> {
    let place = (any::<Option<u32>>(), any::<u32>(), any::<String>(), any::<String>());
    (place, any::<Option<u32>>(), any::<Words>())
        .prop_map(|((cue, phrase, phrase_name, beat), number, words)| Spot {
            cue,
            phrase,
            phrase_name,
            beat,
            number,
            words,
        })
        .boxed()
}

fn hold() -> BoxedStrategy<HoldId> {
    any::<u32>().prop_map(HoldId).boxed()
}

fn called() -> BoxedStrategy<Called> {
    (hold(), any::<Words>(), any::<Words>(), of(spot()))
        .prop_map(|(hold, tap, reason, screen)| Called { hold, tap, reason, screen })
        .boxed()
}

fn under_way() -> BoxedStrategy<Vec<UnderWay>> {
    let pair = prop::collection::vec(any::<String>(), 1..3);
    let one = (pair, any::<u32>(), any::<String>()).prop_map(|(pair, number, words)| UnderWay { pair, number, words });
    prop::collection::vec(one, 0..4).boxed()
}

fn begun() -> BoxedStrategy<Box<RunBegun>> {
    let cast = (any::<String>(), any::<String>(), any::<Option<u32>>(), any::<Words>())
        .prop_map(|(part, person, member, covers)| Cast { part, person, member, covers });
    let names = (any::<String>(), any::<String>(), any::<String>(), any::<String>());
    let numbers = (any::<u32>(), any::<u32>(), any::<u32>(), any::<u32>(), any::<i64>());
    let drive = prop::sample::select(vec!["clock", "step"]);
    (names, numbers, any::<Option<u16>>(), drive, (prop::collection::vec(cast, 0..3), any::<Words>()))
        .prop_map(
            |(
                (revision, fight, from_name, to_name),
                (run, from_phrase, to_phrase, count_in, at),
                percent,
                drive,
                (cast, weapons),
            )| {
                Box::new(RunBegun {
                    run,
                    revision,
                    fight,
                    weapons,
                    from_phrase,
                    from_name,
                    from_move: (run % 2 == 1).then_some(run % 7),
                    to_phrase,
                    to_name,
                    percent,
                    count_in,
                    drive: drive.to_owned(),
                    server_us: at,
                    item: (run % 3 == 1).then_some(OfItem { item: count_in, to_its_end: run % 2 == 0 }),
                    cast,
                })
            },
        )
        .boxed()
}

fn order_line() -> BoxedStrategy<OrderLine> {
    let phrases = (any::<Words>(), any::<Words>(), any::<Words>());
    (any::<u32>(), any::<String>(), phrases, any::<Option<u16>>(), any::<Option<u32>>(), any::<Option<bool>>())
        .prop_map(|(item, fight, (weapons, from, to), percent, count_in, word)| OrderLine {
            item,
            planned: Planned { fight, weapons, from, to, percent, count_in },
            word,
        })
        .boxed()
}

fn any_what() -> BoxedStrategy<What> {
    prop_oneof![of_holds(), of_runs(), of_people(), of_sound(), of_the_journal(), unknown()].boxed()
}

fn of_holds() -> BoxedStrategy<What> {
    prop_oneof![
        (called(), under_way()).prop_map(|(call, under_way)| What::Hold { call, under_way }),
        called().prop_map(What::HoldJoined),
        (any::<Words>(), any::<Words>()).prop_map(|(tap, reason)| What::HoldLate { tap, reason }),
        hold().prop_map(|hold| What::Release { hold }),
        (of(hold()), any::<Words>()).prop_map(|(hold, text)| What::Note { hold, text }),
        (id(), of(hold()), any::<String>()).prop_map(|(of, hold, reason)| What::Reason { of, hold, reason }),
        (any::<Words>(), any::<Words>()).prop_map(|(reason, note)| What::NearMiss { reason, note }),
    ]
    .boxed()
}

/// Of a run, without those of a hold.
pub(crate) fn of_runs() -> BoxedStrategy<What> {
    prop_oneof![
        any::<Words>().prop_map(|set_up| What::Places { set_up }),
        (any::<Words>(), of(begun())).prop_map(|(anyway, begun)| What::Start { anyway, begun }),
        (any::<Words>(), under_way()).prop_map(|(reason, under_way)| What::Stop { reason, under_way }),
        any::<Words>().prop_map(|from| What::Speed { from }),
        prop::sample::select(vec![
            What::Ready,
            What::Phrase,
            What::Step { back: false },
            What::Step { back: true },
            What::Complete
        ]),
    ]
    .boxed()
}

/// Of people, their parts, links and papers.
fn door() -> BoxedStrategy<What> {
    let change = prop_oneof![
        any::<String>().prop_map(|name| DoorChange::Removed { name }),
        any::<String>().prop_map(|name| DoorChange::NotesRefused { name }),
        any::<String>().prop_map(|name| DoorChange::NotesTaken { name }),
        role().prop_map(|role| DoorChange::Closed { role }),
        role().prop_map(|role| DoorChange::Opened { role }),
    ];
    change.prop_map(What::Door).boxed()
}

pub(crate) fn of_people() -> BoxedStrategy<What> {
    let saving = prop::sample::select(vec![Saving::Saved, Saving::Merged, Saving::Kept]);
    let texts = (any::<String>(), any::<String>(), any::<String>());
    let saved =
        (texts, any::<Words>(), any::<Words>(), saving).prop_map(|((file, revision, base), fight, why, saving)| {
            What::Revision(Box::new(SavedRevision { file, fight, saving, revision, base, why }))
        });
    let part = prop_oneof![any::<Words>(), Just(Some("none".to_owned()))];
    prop_oneof![
        any::<Words>().prop_map(|part| What::Joined { part }),
        part.prop_map(|part| What::Part { part }),
        prop::sample::select(vec![What::LinkLost, What::LinkBack]),
        any::<Words>().prop_map(|part| What::Left { part }),
        (any::<String>(), any::<bool>(), any::<Words>(), any::<Words>())
            .prop_map(|(check, in_order, note, by)| What::Check { check, in_order, note, by }),
        (any::<String>(), any::<bool>(), any::<Words>()).prop_map(|(person, present, part)| What::Attendance {
            person,
            present,
            part
        }),
        (any::<String>(), any::<String>(), any::<Words>(), any::<Option<u32>>(), any::<Words>())
            .prop_map(|(fight, part, person, member, covers)| What::Cast { fight, part, person, member, covers }),
        prop::collection::vec(order_line(), 0..4).prop_map(|order| What::Order { order }),
        role().prop_map(|role| What::Invitation { role }),
        door(),
        any::<Words>().prop_map(|reason| What::Refused { reason }),
        any::<Words>().prop_map(|signed_by| What::End { signed_by }),
        saved,
    ]
    .boxed()
}

pub(crate) fn of_sound() -> BoxedStrategy<What> {
    let tenths = || (-600..240_i32).prop_map(|tenths| Decibels(f64::from(tenths) / 10.0));
    prop_oneof![
        (any::<Words>(), any::<Option<u32>>(), any::<Option<u32>>()).prop_map(|(device, rate, buffer_frames)| {
            What::Sound(SoundChange::Device { device, rate, buffer_frames })
        }),
        (any::<String>(), any::<String>(), any::<bool>())
            .prop_map(|(lane, named, on)| What::Sound(SoundChange::Switch { lane, named, on })),
        (any::<String>(), -500_000..=500_000_i64, tenths()).prop_map(|(sound, trim, gain)| What::Trim {
            sound,
            trim: Micros(trim),
            gain
        }),
        (any::<String>(), tenths(), any::<bool>())
            .prop_map(|(sound, level, during_run)| What::SoundTest(SoundTest::Sound { sound, level, during_run })),
        (any::<String>(), any::<String>(), any::<u16>())
            .prop_map(|(fight, phrase, percent)| What::SoundTest(SoundTest::Loop { fight, phrase, percent })),
        any::<String>().prop_map(|phrase| What::SoundTest(SoundTest::LoopEnd { phrase })),
        any::<bool>().prop_map(|muted| What::Mute { muted }),
    ]
    .boxed()
}

fn of_the_journal() -> BoxedStrategy<What> {
    prop_oneof![
        (any::<String>(), any::<bool>()).prop_map(|(server, closed_well)| What::Session { server, closed_well }),
        any::<String>().prop_map(|found| What::CutOff { found }),
        any::<u64>().prop_map(|reports| What::ReportsLost { reports }),
        (any::<i64>(), any::<i64>()).prop_map(|(rows, last)| What::RowsLost { rows, last }),
        (any::<String>(), any::<String>()).prop_map(|(why, record)| What::Misrecorded { why, record }),
    ]
    .boxed()
}

/// What a newer Holdfast writes.
pub(crate) fn unknown() -> BoxedStrategy<What> {
    let word = "x-[a-z]{1,12}";
    (word, any::<Words>(), of(hold()), any::<Words>(), of(spot()), any::<Words>())
        .prop_map(|(word, reason, hold, tap, screen, said)| {
            let detail = said.map(|said| ("said".to_owned(), said.into())).into_iter().collect();
            What::Unknown(Box::new(Unread { word, reason, hold, tap, screen, detail }))
        })
        .boxed()
}
