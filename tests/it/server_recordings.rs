//! Recordings that are put into the folder while the server runs: they are there without a restart, a bad one has its
//! sentence and the rest is in use, a run keeps the sounds it began with, and trims outlive a revised score. A server
//! that finds its port taken says so.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use holdfast::call::Role;
use holdfast::production::Production;
use holdfast::units::Micros;
use holdfast::wire::{SoundAsk, SoundTold, SoundView, Stage, ToMember, ToServer};
use tempfile::TempDir;

use crate::support::house::House;
use crate::support::raw::Raw;

const FIGHT: &str = "fight \"The Well\"\nbeats 4\ntempo 240\nfighters\n  A rapier right\n  B rapier right\nphrase \"one\"\n  repeat 12 every 1 at 1\n    1 A thrust belly / B parry 4 ! knock +20ms\n  end\n";

fn record(path: &Path, level: f32) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut file = hound::WavWriter::create(path, spec).unwrap();
    (0..2_400).for_each(|n| file.write_sample(level * (n as f32 * 0.1).sin()).unwrap());
    file.finalize().unwrap();
}

/// The first list of sounds that is so, with its troubles.
async fn told(nia: &mut Raw, is_so: impl Fn(&[SoundView], &[String]) -> bool) -> (Vec<SoundView>, Vec<String>) {
    loop {
        let message = nia.hear_until(|message| matches!(message, ToMember::Sound { .. })).await;
        let Some(ToMember::Sound { tells }) = message else { panic!("the link ended") };
        if let SoundTold::Sounds { sounds, troubles } = tells
            && is_so(&sounds, &troubles)
        {
            return (sounds, troubles);
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn recordings_are_taken_up_while_the_server_runs() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    fs::remove_file(dir.join("scores/first-steps.fight")).unwrap();
    fs::write(dir.join("scores/well.fight"), FIGHT).unwrap();
    let house = House::of_folder(&dir).await;
    house.sound.stock(Arc::new(Production::open(&dir).unwrap().library()));
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut nia, _) = Raw::join(&house.address(Role::Sound), "Nia").await;
    nia.say(&ToServer::Sound { ask: SoundAsk::Watch { on: true } }).await;
    told(&mut nia, |sounds, _| sounds.iter().all(|sound| sound.sound != "knock")).await;

    record(&dir.join("sounds/knock.wav"), 0.3);
    fs::write(dir.join("sounds/letter.wav"), "Dear all, the duel is cut. ".repeat(40)).unwrap();
    let knock = |sounds: &[SoundView]| sounds.iter().find(|sound| sound.sound == "knock").cloned();
    let (sounds, troubles) = told(&mut nia, |sounds, troubles| knock(sounds).is_some() && !troubles.is_empty()).await;
    assert!(knock(&sounds).unwrap().recorded && sounds.iter().any(|sound| sound.sound == "steel"));
    assert!(troubles.len() == 1 && troubles[0].starts_with("sounds/letter.wav: "), "{troubles:?}");
    desk.until("sees the trouble", |seen| {
        seen.known.troubles.iter().flatten().any(|trouble| trouble.contains("letter.wav"))
    })
    .await;

    let ask = SoundAsk::Trim { sound: "knock".into(), trim_us: -12_000, gain_db: -3.5 };
    nia.say(&ToServer::Sound { ask }).await;
    told(&mut nia, |sounds, _| knock(sounds).is_some_and(|knock| knock.trim_us == -12_000)).await;

    desk.call_places(100).await;
    desk.start_anyway().await;
    desk.until_stage(Stage::Running).await;
    // Now the score is revised, and the sound gets two takes, one of them in a folder.
    fs::create_dir(dir.join("sounds/knock")).unwrap();
    record(&dir.join("sounds/knock/2.wav"), 0.5);
    fs::write(dir.join("scores/well.fight"), FIGHT.replace("repeat 12", "repeat 8")).unwrap();
    let (sounds, _) = told(&mut nia, |sounds, _| knock(sounds).is_some_and(|knock| knock.takes == 2)).await;
    let seen = desk.until("has seen the run's end", |seen| seen.state.as_ref().unwrap().stage != Stage::Running).await;
    assert_eq!(seen.state.unwrap().stage, Stage::Complete, "the recordings waited for the end of the run");
    let status = house.sound.status();
    assert_eq!((status.dropped, status.late, status.silenced), (0, 0, 0), "the run kept its sounds: {status:?}");
    let kept = knock(&sounds).unwrap();
    assert_eq!((kept.trim_us, kept.gain_db, kept.who.as_deref()), (-12_000, -3.5, Some("Nia")));
    let named = house.sound.library().unwrap().effect("knock", 1, 0).unwrap();
    assert_eq!((named.trim, named.gain.0), (Micros::millis(-12), -3.5));

    fs::remove_dir_all(dir.join("sounds/knock")).unwrap();
    fs::remove_file(dir.join("sounds/letter.wav")).unwrap();
    told(&mut nia, |sounds, troubles| troubles.is_empty() && knock(sounds).is_some_and(|knock| knock.takes == 1)).await;
    house.stop().await;
}

#[test]
fn a_port_that_is_taken_is_said() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let at = taken.local_addr().unwrap().to_string();
    let mut serve = Command::new(env!("CARGO_BIN_EXE_holdfast"));
    let done = serve.arg("serve").arg(&dir).args(["--listen", &at]).output().unwrap();
    assert_eq!(done.status.code(), Some(2));
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(said.contains(&format!("{at} is in use")) && said.contains("choose another port"), "{said}");
}
