//! What is heard falls on the beat: the perceived attack of every effect, whatever its first sample does, in the one rule by
//! which live sound and practice tracks are placed (`holdfast::sound::cued`). How near it has to be: of sounds that answer
//! an action, an unevenness of 3 ms beside a delay of 10 ms is rated worse (Jack, Mehrabi, Stockman and McPherson, a study
//! with percussion), and delays between players are not heard as such below some 11.5 ms (Chafe, Gurevich, Leslie and Tyan,
//! ISMA 2004).

use std::collections::BTreeMap;

use holdfast::clock::GOOD_ENOUGH;
use holdfast::midi::export::export;
use holdfast::review::LATE_MS;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::attack::loudest_moment;
use holdfast::sound::effects::{Effect, TAKES};
use holdfast::sound::recordings::{Clip, Recording};
use holdfast::sound::{InRun, Library, cued, render_on};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::{Generation, Micros, ServerTime, Speed};

const RATE: u32 = 48_000;

/// A plan with one sound, on the second beat of a bar at 60 a minute: one second after the first beat.
fn plan(sound: &str) -> Plan {
    let text = format!(
        "fight \"One\"\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier left\nphrase \"A\"\n  2 MARET cut head / OSK parry 5 ! {sound}\n"
    );
    let score = read(&text, "one.fight", &Vocabulary::built_in()).score.unwrap();
    Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 4)
}

/// The samples of a run with that sound, and at which of them its time is.
fn heard(library: &Library, sound: &str, run: u32) -> (Vec<f32>, usize) {
    let plan = plan(sound);
    let start = ServerTime(4_000_000);
    let run = InRun { number: run, start, begins: ServerTime(0), generation: Generation(0) };
    let time = start + plan.sounds()[0].time;
    let voice = cued(library, &plan, 0, run).unwrap().voice;
    let samples = render_on(library.shelf(RATE), &[voice], Micros(time.0 + 3_000_000));
    (samples, (time.0 * i64::from(RATE) / 1_000_000) as usize)
}

/// Where the loudest `width` samples are, their middle: another way to say when something is heard.
fn loudest(samples: &[f32], width: usize) -> usize {
    let energies: Vec<f32> = samples.windows(width).map(|window| window.iter().map(|s| s * s).sum()).collect();
    let greatest = energies.iter().enumerate().max_by(|one, other| one.1.total_cmp(other.1)).unwrap().0;
    greatest + width / 2
}

/// What begins with a contact begins on its time, to the sample; what swells is heard on it.
#[test]
fn every_effect_is_heard_on_its_time() {
    let library = Library::built_in();
    for effect in Effect::ALL {
        for run in 0..u32::from(TAKES) {
            let (samples, time) = heard(&library, effect.name(), run);
            let first = samples.iter().position(|sample| *sample != 0.0).unwrap();
            if !effect.swells() {
                assert_eq!(first, time, "{effect:?} in run {run}");
                continue;
            }
            let attack = loudest_moment(&samples, RATE).unwrap();
            let off = attack.0 - (time as i64 * 1_000_000 / i64::from(RATE));
            assert!(off.abs() <= 5_000 && first < time, "{effect:?} in run {run}: heard {off} µs from its time");
        }
    }
}

/// The blade passes on the beat, and that is when the swish is loudest (it was 60 ms late). It is made of noise, so that
/// where it is loudest is looked for over 80 ms.
#[test]
fn a_swish_is_loudest_when_the_blade_passes() {
    let library = Library::built_in();
    for run in 0..20 {
        let (samples, time) = heard(&library, "swish", run);
        let off = (loudest(&samples, RATE as usize * 80 / 1_000) as f64 - time as f64) / f64::from(RATE) * 1e3;
        assert!(off.abs() <= 15.0, "run {run}: loudest {off:.1} ms from the beat");
    }
}

/// A recording that swells for 120 ms is begun so much earlier; its trim is kept on top of that.
#[test]
fn a_recording_is_heard_on_its_time_and_trimmed_from_there() {
    let shape = |n: usize| {
        let at = n as f64 / f64::from(RATE);
        ((-((at - 0.12) / 0.03).powi(2)).exp() * (at * 4_000.0).sin()) as f32
    };
    let take = Clip { rate: RATE, samples: (0..24_000).map(shape).collect::<Vec<_>>().into() };
    let recording = || vec![Recording { name: "whirl".into(), takes: vec![take.clone()] }];
    let library = Library::new(recording(), &BTreeMap::new());
    assert_eq!(library.listing().find(|it| it.name == "whirl").unwrap().attack, None, "not measured yet");
    let (samples, time) = heard(&library, "whirl", 1);
    let off = (loudest(&samples, 960) as f64 - time as f64) / f64::from(RATE) * 1e3;
    assert!(off.abs() <= 12.0, "{off:.1} ms");
    let attack = library.listing().find(|it| it.name == "whirl").unwrap().attack.unwrap();
    assert!((Micros::millis(105)..Micros::millis(125)).contains(&attack), "{attack:?}");
    let trimmed = BTreeMap::from([(
        "whirl".to_owned(),
        holdfast::sound::Adjustment { trim: Micros::millis(40), ..Default::default() },
    )]);
    let library = library.adjusted(&trimmed);
    assert_eq!(library.earliest("whirl"), Micros::millis(40) - attack);
    let (later, _) = heard(&library, "whirl", 1);
    let moved = (loudest(&later, 960) - loudest(&samples, 960)) as f64 / f64::from(RATE) * 1e3;
    assert!((moved - 40.0).abs() < 0.1, "{moved} ms");
}

/// Live sound and practice tracks, which have one rule, mean the moment that the note of a MIDI file stands at, as `midly`
/// reads it: a sound begins so much before it as its attack takes.
#[test]
fn live_sound_practice_tracks_and_midi_mean_the_same_moment() {
    let library = Library::built_in();
    for effect in Effect::ALL {
        let plan = plan(effect.name());
        let start = ServerTime(4_000_000);
        let run = InRun { number: 1, start, begins: ServerTime(0), generation: Generation(0) };
        let voice = cued(&library, &plan, 0, run).unwrap().voice;
        let attack = library.effect(effect.name(), 1, 0).unwrap().attack;
        let heard = (voice.due + attack).since(start);
        let file = export("One", &plan, &BTreeMap::new()).unwrap().bytes;
        let file = midly::Smf::parse(&file).unwrap();
        let mut notes = Vec::new();
        for track in &file.tracks {
            let mut at = 0;
            for event in track {
                at += i64::from(event.delta.as_int());
                if let midly::TrackEventKind::Midi { message: midly::MidiMessage::NoteOn { .. }, .. } = event.kind {
                    notes.push(at);
                }
            }
        }
        // At 60 a minute a beat of 960 ticks is a second; four beats are counted in.
        assert_eq!(notes, [(4_000_000 + heard.0) * 960 / 1_000_000], "{effect:?}");
        assert_eq!(heard, plan.sounds()[0].time, "{effect:?}");
    }
}

/// What the program calls late, and a clock too bad to be cued by, are within what the studies of ensembles found: above 30
/// ms players slow down (Chafe and others, ISMA 2004), and a strategy of leading holds the tempo up to 50 to 70 ms (Schuett,
/// Stanford 2002).
#[test]
fn what_is_called_late_is_what_ensembles_call_late() {
    assert!((Micros::millis(20)..=Micros::millis(30)).contains(&GOOD_ENOUGH));
    assert!((50.0..=70.0).contains(&LATE_MS));
}
