//! Another device is chosen while sound plays, and everything is muted, over a real sound daemon.

use std::process::Child;

use holdfast::sound::{DeviceChange, Sound, SoundSettings, Voice, VoiceKind};
use holdfast::time::ServerClock;
use holdfast::units::{Decibels, Generation, Micros};

use crate::sound_live::audio::{House, wait_for};

#[test]
fn a_device_is_chosen_while_another_plays() {
    let house = House::new();
    let _daemon = house.start_daemon();
    let mut child: Child = house.child("sound_live_choice::child_chooses");
    assert!(child.wait().unwrap().success(), "the child failed:\n{}", house.child_log());
}

#[test]
#[ignore = "a child of a_device_is_chosen_while_another_plays"]
fn child_chooses() {
    let clock = ServerClock::new();
    let sound = Sound::open(SoundSettings::default(), clock);
    wait_for("the machine's own choice plays", || sound.status().well);
    let heard = |audible: bool| {
        let due = clock.now() + Micros::millis(400);
        sound.plan(Voice { due, kind: VoiceKind::Click, level: Decibels(0.0), generation: Generation(0) });
        sound.take_sent().iter().any(|sent| sent.audible == audible)
    };
    wait_for("a click is heard", || heard(true));
    wait_for("the meter moves", || heard(true) && sound.take_level().peak.0 > -60.0);
    sound.mute(true);
    wait_for("nobody hears anything", || heard(false) && sound.take_level().peak.0 <= -120.0);
    sound.mute(false);
    let elsewhere = DeviceChange { device: Some("Balcony speakers".into()), ..DeviceChange::default() };
    sound.choose(elsewhere);
    wait_for("it is said that there is no such device", || sound.status().says.contains("“Balcony speakers”"));
    assert_eq!(sound.chosen_device().as_deref(), Some("Balcony speakers"));
    wait_for("clicks go to the null device", || heard(false));
    sound.choose(DeviceChange { buffer_frames: Some(2_048), ..DeviceChange::default() });
    wait_for("the machine's own choice plays again", || sound.status().well);
    assert_eq!(sound.status().buffer, 2_048);
    wait_for("a click is heard again", || heard(true));
}
