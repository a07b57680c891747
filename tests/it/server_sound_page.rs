//! The sound page at a real server: who may do what, trims that are kept and heard, tests that stay out of a run, a
//! phrase that goes round until somebody calls hold, and silence for everybody.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use holdfast::call::{Fight, Role};
use holdfast::journal::{EventFilter, EventRow, Reader};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::recordings::{Clip, Recording};
use holdfast::sound::{Library, Sent};
use holdfast::units::Micros;
use holdfast::wire::{PROTOCOL, SoundAsk, SoundLane, SoundTold, SoundView, Stage, ToMember, ToServer};
use tempfile::TempDir;

use crate::support::house::House;
use crate::support::raw::Raw;

/// Twelve beats of half a second, each with a hit that the score puts 20 ms after it.
const FIGHT: &str = r#"fight "The Quay"
beats 4
tempo 120
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  repeat 12 every 1 at 1
    1  MARET cut head / OSK parry 5 ! knock +20ms
  end
"#;

async fn open(data: &Path) -> House {
    let score = read(FIGHT, "quay.fight", &Vocabulary::built_in()).score.unwrap();
    let fight = Fight::unchecked(score, "0".repeat(64), FIGHT.into());
    let clip = |level| Clip { rate: 48_000, samples: vec![level; 2_400].into() };
    let knock = Recording { name: "knock".into(), takes: vec![clip(0.2), clip(0.3)] };
    let library = Library::of(vec![knock], &BTreeMap::new(), |name| name == "knock");
    library.shelf(48_000);
    House::open_stocked(data, vec![Arc::new(fight)], library).await
}

/// The sound operator at a page of their own.
struct Operator(Raw);

impl Operator {
    async fn join(house: &House, role: Role, name: &str) -> (Operator, String) {
        let (raw, key) = Raw::join(&house.address(role), name).await;
        (Operator(raw), key)
    }

    async fn ask(&mut self, ask: SoundAsk) {
        self.0.say(&ToServer::Sound { ask }).await;
    }

    /// What the page is told, the first that is so.
    async fn told<T>(&mut self, found: impl Fn(SoundTold) -> Option<T>) -> T {
        let wanted = async {
            loop {
                let message = self.0.hear_until(|message| matches!(message, ToMember::Sound { .. })).await;
                let Some(ToMember::Sound { tells }) = message else { panic!("the link ended") };
                if let Some(found) = found(tells) {
                    return found;
                }
            }
        };
        tokio::time::timeout(Duration::from_secs(20), wanted).await.expect("told in vain")
    }

    async fn knock(&mut self) -> SoundView {
        self.told(|told| match told {
            SoundTold::Sounds { sounds, .. } => sounds.into_iter().find(|view| view.sound == "knock"),
            _ => None,
        })
        .await
    }

    async fn refusal(&mut self) -> String {
        let refused = self.0.hear_until(|message| matches!(message, ToMember::Refused { .. }));
        let refused = tokio::time::timeout(Duration::from_secs(20), refused).await.expect("refused in vain");
        let Some(ToMember::Refused { reason, .. }) = refused else { panic!("{refused:?}") };
        reason
    }

    async fn refused(&mut self, ask: SoundAsk) -> String {
        self.ask(ask).await;
        self.refusal().await
    }
}

fn trim(sound: &str, trim_ms: i64, gain_db: f64) -> SoundAsk {
    SoundAsk::Trim { sound: sound.into(), trim_us: trim_ms * 1_000, gain_db }
}

fn test(during_run: bool) -> SoundAsk {
    SoundAsk::Test { sound: "knock".into(), level_db: 0.0, during_run }
}

fn going_round() -> SoundAsk {
    SoundAsk::Loop { fight: "The Quay".into(), phrase: 0, percent: 100 }
}

fn events(data: &Path, kind: &str) -> Vec<EventRow> {
    let all = Reader::open(data).unwrap().events(EventFilter::default()).unwrap();
    all.into_iter().filter(|row| row.event.what.word() == kind).collect()
}

/// Waits for what the loudspeakers were sent, clicks left out, until there are so many.
async fn hits(house: &House, wanted: usize) -> Vec<Sent> {
    let mut hits = Vec::new();
    for _ in 0..2_000 {
        hits.extend(house.sound.take_sent().into_iter().filter(|sent| sent.kind.choke_group() != Some(0)));
        if hits.len() >= wanted {
            return hits;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("waited in vain for {wanted} hits: {hits:?}")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_trim_is_kept_with_who_and_when_and_only_those_who_work_the_sound_choose_it() {
    let folder = TempDir::new().unwrap();
    let house = open(folder.path()).await;
    let (mut watcher, _) = Operator::join(&house, Role::Observer, "Pim").await;
    for ask in [trim("knock", 5, 0.0), test(false), going_round(), SoundAsk::Mute { on: true }, SoundAsk::Devices {}] {
        let reason = watcher.refused(ask).await;
        assert!(reason.contains("A observer has no power to work the sound."), "{reason}");
    }
    let (mut nia, key) = Operator::join(&house, Role::Sound, "Nia").await;
    for (ask, says) in [
        (trim("knock", 501, 0.0), "A trim of 501 ms is out of range. Choose -500 to 500 ms."),
        (trim("knock", 0, f64::NAN), "is out of range. Choose -60 to 12 dB."),
        (trim("gong", 0, 0.0), "There is no sound called gong."),
        (SoundAsk::Choose { device: None, rate: Some(7), buffer_frames: None }, "8000 to 192000 Hz"),
        (SoundAsk::Cues { fight: "Elsewhere".into(), percent: 100 }, "no such fight"),
        (SoundAsk::Cues { fight: "The Quay".into(), percent: 5 }, "out of range"),
    ] {
        let reason = nia.refused(ask).await;
        assert!(reason.contains(says), "{reason}");
    }
    nia.ask(SoundAsk::Watch { on: true }).await;
    assert_eq!(
        (nia.knock().await.trim_us, nia.0.say(&ToServer::Sound { ask: trim("knock", -12, -3.5) }).await),
        (0, ())
    );
    let chosen = nia.knock().await;
    assert_eq!((chosen.trim_us, chosen.gain_db, chosen.who.as_deref()), (-12_000, -3.5, Some("Nia")));
    assert!(chosen.when.is_some());
    house.stop().await;

    let event = events(folder.path(), "trim").pop().unwrap();
    let event = event.event;
    assert_eq!((event.name(), event.run), (Some("Nia"), None));
    assert_eq!(event.what.says().as_deref(), Some("knock: -12 ms, -3.5 dB"));

    // Another server on the same folder, and the sounds stocked anew.
    let house = open(folder.path()).await;
    let mut again = Operator(Raw::connect(&house.address(Role::Sound)).await);
    again.0.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![] }).await;
    again.ask(SoundAsk::Watch { on: true }).await;
    assert_eq!(again.knock().await, chosen);
    let named = house.sound.library().unwrap().effect("knock", 1, 0).unwrap();
    assert_eq!((named.trim, named.gain.0), (Micros::millis(-12), -3.5));
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_kept_and_cannot_be_read_is_said_and_never_written_over() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("sounds.toml");
    std::fs::write(&file, "[sound.knock]\ntrim_ms = \"soon\"\n").unwrap();
    let house = open(folder.path()).await;
    let (mut nia, _) = Operator::join(&house, Role::Sound, "Nia").await;
    nia.ask(SoundAsk::Watch { on: true }).await;
    let troubles = nia.told(|told| match told {
        SoundTold::Sounds { troubles, .. } => Some(troubles),
        _ => None,
    });
    let troubles = troubles.await;
    assert!(troubles[0].contains("sounds.toml, line 2: `sound.knock.trim_ms` is text"), "{troubles:?}");
    let reason = nia.refused(trim("knock", 3, 0.0)).await;
    assert!(reason.contains("Mend data/sounds.toml"), "{reason}");
    house.stop().await;
    assert!(std::fs::read_to_string(&file).unwrap().contains("soon"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_trim_is_heard_in_a_run_and_tests_stay_out_of_it_unless_asked_for() {
    let folder = TempDir::new().unwrap();
    let house = open(folder.path()).await;
    let (mut nia, _) = Operator::join(&house, Role::Sound, "Nia").await;
    // 20 ms of the score, and 45 ms earlier by the production: 25 ms before the beat.
    nia.ask(trim("knock", -45, -6.0)).await;
    nia.ask(test(false)).await;
    hits(&house, 1).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let _maret = house.join(Role::Performer, "Lotte", Some("MARET")).await;
    let osk = house.join(Role::Performer, "Yusuf", Some("OSK")).await;
    desk.run_the_fight(100).await;
    desk.until_stage(Stage::Running).await;
    let reason = nia.refused(test(false)).await;
    assert!(reason.contains("A run is going"), "{reason}");
    let reason = nia.refused(going_round()).await;
    assert!(reason.contains("A run is going"), "{reason}");
    let mut sent = house.sound.take_sent();
    nia.ask(test(true)).await;
    osk.until("has seen five beats", |seen| seen.cue.is_some_and(|cue| cue >= 5)).await;
    sent.extend(house.sound.take_sent());
    osk.hand.hold(None);
    desk.until_stage(Stage::Held).await;
    for during_run in [false, true] {
        let reason = nia.refused(test(during_run)).await;
        assert!(reason.contains("A hold stands"), "{reason}");
    }
    let clicks: Vec<&Sent> = sent.iter().filter(|sent| sent.kind.choke_group() == Some(0)).collect();
    let hits: Vec<&Sent> = sent.iter().filter(|sent| sent.kind.choke_group() != Some(0)).collect();
    let early = |hit: &&&Sent| clicks.iter().any(|click| click.due.since(hit.due) == Micros::millis(25));
    let of_the_run = hits.iter().filter(early).count();
    assert!(of_the_run >= 2, "{hits:?} with {clicks:?}");
    assert!(hits.len() > of_the_run, "the test was heard as well: {hits:?}");
    house.stop().await;
    let tests = events(folder.path(), "sound-test");
    let told: Vec<_> = tests.iter().map(|row| (row.event.name(), row.event.run, row.event.what.says())).collect();
    assert_eq!(told, vec![(Some("Nia"), None, Some("test of knock".to_owned())); 2]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_phrase_goes_round_in_time_and_any_hold_silences_it() {
    let folder = TempDir::new().unwrap();
    let house = open(folder.path()).await;
    let (mut nia, _) = Operator::join(&house, Role::Sound, "Nia").await;
    let pim = house.join(Role::Observer, "Pim", None).await;
    nia.ask(going_round()).await;
    let heard = hits(&house, 4).await;
    for pair in heard.windows(2) {
        assert_eq!(pair[1].due.since(pair[0].due), Micros::millis(500), "{heard:?}");
        assert!(pair[0].heard.since(pair[0].due).0.abs() < 1_000, "{pair:?}");
    }
    pim.hand.hold(None);
    let held = pim.until_stage(Stage::Held).await.state.unwrap();
    let at = held.hold.as_ref().unwrap().at_us;
    // As long again as the loop plans ahead, and a round more.
    tokio::time::sleep(Duration::from_millis(1_500)).await;
    for sent in house.sound.take_sent() {
        assert!(sent.heard.0 <= at + 100_000, "nothing begins after the hold: {sent:?}, held at {at}");
    }
    assert!(house.sound.status().silenced > 0, "{:?}", house.sound.status());
    let reason = nia.refused(going_round()).await;
    assert!(reason.contains("A hold stands"), "{reason}");
    house.stop().await;
    let told: Vec<_> =
        events(folder.path(), "sound-test").into_iter().filter_map(|row| row.event.what.says()).collect();
    assert_eq!(told, ["“One” goes round at 100 %", "“One” goes round no more"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_switched_off_is_not_heard_in_a_run() {
    let folder = TempDir::new().unwrap();
    let house = open(folder.path()).await;
    let (mut nia, _) = Operator::join(&house, Role::Sound, "Nia").await;
    nia.ask(SoundAsk::Switch { lane: SoundLane::Effects, on: false }).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let _maret = house.join(Role::Performer, "Lotte", Some("MARET")).await;
    let osk = house.join(Role::Performer, "Yusuf", Some("OSK")).await;
    desk.run_the_fight(100).await;
    osk.until("has seen five beats", |seen| seen.cue.is_some_and(|cue| cue >= 5)).await;
    let clicks = |sent: &Sent| sent.kind.choke_group() == Some(0);
    let sent = house.sound.take_sent();
    assert!(sent.len() >= 4 && sent.iter().all(clicks), "clicks and nothing else: {sent:?}");
    nia.ask(SoundAsk::Switch { lane: SoundLane::Effects, on: true }).await;
    nia.ask(SoundAsk::Switch { lane: SoundLane::Click, on: false }).await;
    hits(&house, 1).await;
    house.stop().await;
    let said: Vec<String> =
        events(folder.path(), "sound").into_iter().filter_map(|row| row.event.what.says()).collect();
    assert_eq!(said, ["effects off", "effects on", "click off"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn muting_is_shown_to_everybody_and_what_goes_out_is_told_to_the_page() {
    let folder = TempDir::new().unwrap();
    let house = open(folder.path()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut nia, _) = Operator::join(&house, Role::Sound, "Nia").await;
    nia.ask(SoundAsk::Watch { on: true }).await;
    nia.ask(SoundAsk::Cues { fight: "The Quay".into(), percent: 50 }).await;
    let cues = nia.told(|told| match told {
        SoundTold::Cues(cues) => Some(cues),
        _ => None,
    });
    let cues = cues.await;
    let [phrase] = cues.phrases.as_slice() else { panic!("{cues:?}") };
    // Beats of half a second last a whole one at half the speed.
    let at: Vec<i64> = phrase.cues.iter().map(|cue| cue.at_us).collect();
    assert_eq!(at, (0..12).map(|beat| beat * 1_000_000 + 20_000).collect::<Vec<_>>());
    assert_eq!(phrase.cues[3].words.as_deref(), Some("MARET cut head / OSK parry 5"));
    assert_eq!((phrase.beats_us.len(), phrase.cues[3].r#move, phrase.cues[3].known), (12, Some(4), true));

    nia.ask(test(false)).await;
    let now = nia.told(|told| match told {
        SoundTold::Now(now) if !now.sent.is_empty() && now.speakers.peak_db > -60.0 => Some(now),
        _ => None,
    });
    let now = now.await;
    assert_eq!(now.sent[0].label, "knock");
    assert!(now.sent[0].late_us.abs() < 1_000, "{:?}", now.sent);
    // A rectangle's RMS is no higher than its peak, and the meter saw both.
    assert!(now.speakers.rms_db <= now.speakers.peak_db, "{:?}", now.speakers);

    nia.ask(SoundAsk::Switch { lane: SoundLane::Click, on: false }).await;
    let off = |seen: &holdfast::member::Seen| {
        seen.state.as_ref().is_some_and(|state| state.sound.says.starts_with("Switched off on the sound page: click."))
    };
    desk.until("sees that the click is off", off).await;
    let lanes = nia.told(|told| match told {
        SoundTold::Now(now) if !now.off.is_empty() => Some(now.off),
        _ => None,
    });
    assert_eq!(lanes.await, [SoundLane::Click]);
    nia.ask(SoundAsk::Switch { lane: SoundLane::Click, on: true }).await;

    nia.ask(SoundAsk::Mute { on: true }).await;
    let health = |seen: &holdfast::member::Seen| {
        seen.state.as_ref().is_some_and(|state| state.sound.says.contains("Nia has muted"))
    };
    desk.until("sees that everything is muted", health).await;
    let reason = nia.refused(test(false)).await;
    assert!(reason.contains("Nia has muted everything"), "{reason}");
    nia.ask(SoundAsk::Mute { on: false }).await;
    desk.until("sees that it is heard again", |seen| seen.state.as_ref().is_some_and(|state| state.sound.well)).await;
    house.stop().await;
    assert_eq!(events(folder.path(), "mute").len(), 2);
}
