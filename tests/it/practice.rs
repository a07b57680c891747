//! `holdfast practice` as a performer meets it: the file is read by other libraries, and everything in it begins at the
//! very sample that `holdfast timeline` says.

use std::fs::{self, File};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::TrackType;
use symphonia::core::formats::probe::Hint;
use symphonia::core::io::MediaSourceStream;
use tempfile::{TempDir, tempdir};

/// Slow enough that every sound has died away before the next begins.
const FIGHT: &str = r#"fight "The Quay"
beats 3
tempo 30
fighters
  MARET rapier right
  OSK   rapier right
  PELL  none    none
phrase "Across the quay"
  1      MARET thrust belly / OSK parry 4 ! steel +500 ms
  2+1/2  OSK cut head / MARET parry 5 ! heavy-steel -3 dB
  4      MARET thrust belly / OSK parry 4 ! wood +777 ms
  5      MARET walk 1.0,2.0 by 6
  6      ! slap +333 ms
phrase "The end"
  1      PELL rise
"#;

struct Desk {
    room: TempDir,
}

impl Desk {
    /// A folder with the score, and with a voice that says everything in a fifth of a second, when it has one.
    fn new(voice: bool) -> Desk {
        let room = tempdir().unwrap();
        fs::write(room.path().join("quay.fight"), FIGHT).unwrap();
        fs::create_dir(room.path().join("bin")).unwrap();
        if voice {
            let hum: Vec<f32> = (0..4_410).map(|n| 0.3 * (n as f32 * 0.1).sin()).collect();
            let clip = room.path().join("bin/clip.wav");
            holdfast::sound::practice::write(&clip, holdfast::sound::practice::Kind::Wav, &hum, 22_050).unwrap();
            // It takes the arguments that the voice is given: -v en-gb -s 160 -w FILE -- TEXT, and notes the text.
            let script = "#!/bin/sh\n[ \"$1\" = --version ] && exit 0\n/bin/cp \"$(/usr/bin/dirname \"$0\")/clip.wav\" \"$6\"\necho \"$8\" >> \"$(/usr/bin/dirname \"$0\")/said\"\n";
            let program = room.path().join("bin/espeak-ng");
            fs::write(&program, script).unwrap();
            fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
        }
        Desk { room }
    }

    fn run(&self, arguments: &[&str]) -> Output {
        let path = self.room.path().join("bin");
        let mut command = Command::new(env!("CARGO_BIN_EXE_holdfast"));
        command.current_dir(self.room.path()).env("PATH", path).args(arguments).output().unwrap()
    }

    fn at(&self, name: &str) -> std::path::PathBuf {
        self.room.path().join(name)
    }

    /// Seconds from the first beat of every beat and sound.
    fn timeline(&self, arguments: &[&str]) -> Vec<(f64, Value)> {
        let output = self.run(&[&["timeline", "quay.fight", "--format", "json"], arguments].concat());
        let rows: Vec<Value> = serde_json::from_slice(&output.stdout).unwrap();
        let heard = rows.into_iter().filter(|row| row["kind"] == "beat" || row["kind"] == "sound");
        heard.map(|row| (row["seconds"].as_f64().unwrap(), row)).collect()
    }
}

/// The place of the first beat in the file, microseconds, as the command prints it.
fn first_beat(output: &Output) -> i64 {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.split('(').nth(1).and_then(|rest| rest.split(" µs").next()).and_then(|us| us.parse().ok()).expect(&text)
}

/// Where sound begins after at least ten milliseconds of exact silence.
fn onsets(samples: &[i32]) -> Vec<i64> {
    let (mut silent, mut found) = (480, Vec::new());
    for (n, sample) in samples.iter().enumerate() {
        if *sample == 0 {
            silent += 1;
        } else {
            if silent >= 480 {
                found.push(n as i64);
            }
            silent = 0;
        }
    }
    found
}

fn wav(path: &Path) -> (u32, Vec<i32>) {
    let mut reader = hound::WavReader::open(path).unwrap();
    assert_eq!((reader.spec().channels, reader.spec().bits_per_sample), (1, 24));
    (reader.spec().sample_rate, reader.samples::<i32>().map(Result::unwrap).collect())
}

pub(crate) fn flac(path: &Path) -> (u32, Vec<i32>) {
    let source = MediaSourceStream::new(Box::new(File::open(path).unwrap()), Default::default());
    let probe = symphonia::default::get_probe();
    let mut format = probe.probe(&Hint::new(), source, Default::default(), Default::default()).unwrap();
    let track = format.default_track(TrackType::Audio).unwrap();
    let parameters = track.codec_params.as_ref().unwrap().audio().unwrap();
    let options = AudioDecoderOptions::default();
    let mut decoder = symphonia::default::get_codecs().make_audio_decoder(parameters, &options).unwrap();
    let (mut samples, mut part, mut rate) = (Vec::new(), Vec::<i32>::new(), 0);
    while let Some(packet) = format.next_packet().unwrap() {
        let decoded = decoder.decode(&packet).unwrap();
        rate = decoded.spec().rate();
        decoded.copy_to_vec_interleaved(&mut part);
        // It gives 24 bits in the upper part of 32.
        samples.extend(part.iter().map(|sample| sample >> 8));
    }
    (rate, samples)
}

#[test]
fn every_beat_and_sound_begins_at_the_sample_of_the_timeline() {
    let desk = Desk::new(false);
    let library = holdfast::sound::Library::built_in();
    for (name, rate) in [("maret.wav", 48_000), ("maret.flac", 44_100)] {
        let arguments = ["--speed", "77%", "--count-in", "2"];
        let rate_text = rate.to_string();
        let all = [&["practice", "quay.fight", "--for", "maret", "--out", name, "--rate", &rate_text], &arguments[..]];
        let output = desk.run(&all.concat());
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(String::from_utf8_lossy(&output.stderr).contains("espeak-ng is not installed"));
        let (found_rate, samples) = if rate == 48_000 { wav(&desk.at(name)) } else { flac(&desk.at(name)) };
        assert_eq!(found_rate, rate);
        let first = first_beat(&output);
        let sample_of = |us: i64| (us * i64::from(rate) * 2 + 1_000_000).div_euclid(2_000_000);
        let of_kind = |kind: &str| -> Vec<i64> {
            let rows = desk.timeline(&arguments).into_iter().filter(|(_, row)| row["kind"] == kind);
            rows.map(|(seconds, _)| first + (seconds * 1e6).round() as i64).collect()
        };
        let (beats, sounds) = (of_kind("beat"), of_kind("sound"));
        let mut expected: Vec<i64> = beats.iter().chain(&sounds).map(|us| sample_of(*us)).collect();
        expected.sort_unstable();
        expected.dedup();
        // A sound is begun by its attack before its time, so that it is heard on it; no attack is longer than this.
        let earliest = library.names().map(|name| library.earliest(name)).min().unwrap();
        let begins = |onset: &i64| {
            let of_beat = beats.iter().any(|us| sample_of(*us) == *onset);
            of_beat || sounds.iter().any(|us| (sample_of(us + earliest.0)..=sample_of(*us)).contains(onset))
        };
        // Sounds that ring into the next beat have no silence before that: those beats are left out of both lists.
        let found = onsets(&samples);
        assert!(found.iter().all(begins), "{found:?}\n{expected:?}");
        assert!(found.len() + 3 >= expected.len() && found[0] == expected[0], "{found:?}\n{expected:?}");
        assert!(samples.iter().all(|sample| sample.abs() < 8_388_607), "nothing is at full scale");
    }
}

#[test]
fn moves_are_called_ahead_and_phrases_by_name() {
    let desk = Desk::new(true);
    let output = desk.run(&["practice", "quay.fight", "--for", "OSK", "--out", "osk.wav"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let said = fs::read_to_string(desk.at("bin/said")).unwrap();
    assert_eq!(said.lines().collect::<Vec<_>>(), ["Across the quay. parry 4", "cut head", "parry 4", "The end."]);
    assert!(String::from_utf8_lossy(&output.stdout).contains("4 calls"));
    // Beats last two seconds: a call begins a beat and its own length before its move.
    let (_, samples) = wav(&desk.at("osk.wav"));
    let found = onsets(&samples);
    let first = first_beat(&output);
    let sample = |seconds: f64| first * 48 / 1_000 + (seconds * 48_000.0) as i64;
    for (what, seconds) in [("the first phrase and move", 0.0), ("the end", 12.0)] {
        let call = sample(seconds - 2.0 - 0.2);
        assert!(found.iter().any(|onset| (onset - call).abs() < 480), "{what}: {call} in {found:?}");
    }
}

#[test]
fn the_set_for_the_cast_is_a_file_for_each() {
    let desk = Desk::new(true);
    let output = desk.run(&[
        "practice",
        "quay.fight",
        "--all",
        "--out",
        "set",
        "--format",
        "flac",
        "--from",
        "2",
        "--count-in",
        "0",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let mut files: Vec<String> =
        fs::read_dir(desk.at("set")).unwrap().map(|it| it.unwrap().file_name().into_string().unwrap()).collect();
    files.sort();
    assert_eq!(files, ["MARET.flac", "OSK.flac", "PELL.flac"]);
    assert!(!flac(&desk.at("set/PELL.flac")).1.is_empty());
    assert_eq!(fs::metadata(desk.at("set/PELL.flac")).unwrap().permissions().mode() & 0o400, 0o400);
}

#[test]
fn what_cannot_be_made_is_refused_in_a_sentence() {
    let desk = Desk::new(false);
    fs::write(desk.at("kept.wav"), "mine").unwrap();
    for (arguments, says) in [
        (&["--for", "MARTE", "--out", "x.wav"][..], "nobody in The Quay is called MARTE; there are MARET, OSK, PELL"),
        (&["--for", "MARET", "--out", "x.mp3"], "has to end in .wav or .flac"),
        (&["--for", "MARET", "--out", "nowhere/x.wav"], "cannot be written"),
        (&["--for", "MARET", "--out", "kept.wav", "--from", "nine"], "nine"),
        (&["--out", "x.wav"], "--for"),
        (&["--all", "--out", "kept.wav"], "cannot be made"),
        (&["--for", "MARET", "--out", "x.wav", "--rate", "7"], "7"),
    ] {
        let output = desk.run(&[&["practice", "quay.fight"], arguments].concat());
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(said.contains(says), "{arguments:?}: {said}");
    }
    assert_eq!(fs::read_to_string(desk.at("kept.wav")).unwrap(), "mine");
    assert!(!desk.at("x.wav").exists());
}
