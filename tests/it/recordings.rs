//! A company's recordings, good and bad: each bad file gets its sentence, and everything else is in use.

use std::f32::consts::TAU;
use std::fs::{self, File};
use std::path::Path;

use holdfast::sound::practice::{Kind, write};
use holdfast::sound::recordings::{LARGEST, load, read};
use holdfast::sound::{Library, VoiceKind};
use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::*;
use tempfile::tempdir;

/// Made of the program's own wood, by sox with libvorbis and libmp3lame: half a second at most, one channel.
const WOOD_OGG: &[u8] = include_bytes!("data/wood.ogg");
const WOOD_MP3: &[u8] = include_bytes!("data/wood.mp3");

fn tone(rate: u32, samples: usize) -> Vec<f32> {
    (0..samples).map(|n| 0.5 * (TAU * 440.0 * n as f32 / rate as f32).sin()).collect()
}

fn float_wav(path: &Path, rate: u32, channels: u16, samples: &[f32]) {
    let spec = WavSpec { channels, sample_rate: rate, bits_per_sample: 32, sample_format: SampleFormat::Float };
    let mut writer = WavWriter::create(path, spec).unwrap();
    samples.iter().for_each(|sample| writer.write_sample(*sample).unwrap());
    writer.finalize().unwrap();
}

fn wav_bytes(rate: u32, samples: usize) -> Vec<u8> {
    let room = tempdir().unwrap();
    let path = room.path().join("tone.wav");
    write(&path, Kind::Wav, &tone(rate, samples), rate).unwrap();
    fs::read(path).unwrap()
}

#[test]
fn wav_flac_ogg_and_mp3_are_read_and_all_are_one_sound() {
    let room = tempdir().unwrap();
    let folder = room.path();
    write(&folder.join("thud.wav"), Kind::Wav, &tone(48_000, 4_800), 48_000).unwrap();
    write(&folder.join("bong.flac"), Kind::Flac, &tone(44_100, 4_410), 44_100).unwrap();
    fs::write(folder.join("knock.ogg"), WOOD_OGG).unwrap();
    fs::write(folder.join("tap.MP3"), WOOD_MP3).unwrap();
    fs::create_dir(folder.join("clang")).unwrap();
    for n in 0..3 {
        let name = folder.join("clang").join(format!("{n}.wav"));
        write(&name, Kind::Wav, &tone(48_000, 1_000 + n), 48_000).unwrap();
    }
    fs::write(folder.join("README.md"), "notes").unwrap();
    let (recordings, troubles) = load(folder);
    assert!(troubles.is_empty(), "{troubles:?}");
    let found: Vec<(&str, usize)> = recordings.iter().map(|it| (it.name.as_str(), it.takes.len())).collect();
    assert_eq!(found, [("bong", 1), ("clang", 3), ("knock", 1), ("tap", 1), ("thud", 1)]);
    // 24 bits keep a tone to a ten-millionth.
    for (clip, expected) in
        [(&recordings[0].takes[0], tone(44_100, 4_410)), (&recordings[4].takes[0], tone(48_000, 4_800))]
    {
        assert_eq!(clip.samples.len(), expected.len());
        assert!(clip.samples.iter().zip(&expected).all(|(found, expected)| (found - expected).abs() < 1e-6));
    }
    for recording in &recordings[2..4] {
        let seconds = recording.takes[0].samples.len() as f64 / f64::from(recording.takes[0].rate);
        assert!((0.17..0.30).contains(&seconds), "{}: {seconds} s", recording.name);
    }
    let library = Library::new(recordings, &Default::default());
    let shelf = library.shelf(96_000);
    for name in ["bong", "clang", "knock", "tap", "thud", "steel"] {
        assert!(!shelf.sound(library.effect(name, 1, 0).unwrap().kind).is_empty(), "{name}");
    }
}

/// A recording goes before the effect of its name, and channels become one.
#[test]
fn a_recording_replaces_an_effect_and_two_channels_become_their_mean() {
    let room = tempdir().unwrap();
    let both: Vec<f32> = (0..2_000).flat_map(|n| [0.5, if n % 2 == 0 { 0.5 } else { -0.25 }]).collect();
    float_wav(&room.path().join("steel.wav"), 48_000, 2, &both);
    let (recordings, troubles) = load(room.path());
    assert!(troubles.is_empty());
    assert_eq!(recordings[0].takes[0].samples[..4], [0.5, 0.125, 0.5, 0.125]);
    let library = Library::new(recordings, &Default::default());
    assert_eq!(library.names().filter(|name| *name == "steel").count(), 1);
    assert_eq!(library.shelf(48_000).sound(library.effect("steel", 1, 0).unwrap().kind).len(), 2_000);
    assert!(matches!(library.effect("steel", 1, 5).unwrap().kind, VoiceKind::Effect(id) if id.take == 0));
}

/// Every kind of bad file: is it in use all the same, and what is said.
#[test]
fn every_bad_file_gets_a_sentence_and_the_rest_is_in_use() {
    let room = tempdir().unwrap();
    let at = |name: &str| room.path().join(name);
    write(&at("good.wav"), Kind::Wav, &tone(48_000, 4_800), 48_000).unwrap();
    fs::write(at("empty.wav"), b"").unwrap();
    fs::write(at("letter.wav"), "Dear all, the duel is cut. ".repeat(400)).unwrap();
    fs::write(at("head.wav"), &wav_bytes(48_000, 48_000)[..68]).unwrap();
    fs::write(at("short.wav"), &wav_bytes(48_000, 48_000)[..72_000]).unwrap();
    File::create(at("enormous.flac")).unwrap().set_len(LARGEST + 1).unwrap();
    float_wav(&at("long.wav"), 8_000, 1, &vec![0.1; 8_000 * 31]);
    float_wav(&at("silent.wav"), 8_000, 1, &[0.0; 800]);
    float_wav(&at("slow.wav"), 1_000, 1, &tone(1_000, 800));
    float_wav(&at("nan.wav"), 48_000, 1, &[&tone(48_000, 800)[..], &[f32::NAN, f32::INFINITY, 1e30]].concat());
    write(&at("really.mp3"), Kind::Flac, &tone(48_000, 4_800), 48_000).unwrap();
    fs::write(at("other.aiff"), b"FORM").unwrap();
    let rows = [
        ("empty.wav", false, "is empty"),
        ("enormous.flac", false, "more than 64 MB"),
        ("head.wav", false, "holds no sound"),
        ("letter.wav", false, "no WAV, FLAC, OGG (Vorbis) or MP3 file"),
        ("long.wav", false, "longer than 30 seconds"),
        ("nan.wav", true, "3 of its samples are no sound levels"),
        ("other.aiff", false, "are not read; save it as"),
        ("really.mp3", true, "really a .flac file"),
        ("short.wav", true, "cut short: 0.50 of 1.00 seconds"),
        ("silent.wav", false, "silent from beginning to end"),
        ("slow.wav", false, "no rate for sound"),
    ];
    let (recordings, mut troubles) = load(room.path());
    troubles.sort_by(|a, b| a.file.cmp(&b.file));
    assert_eq!(troubles.len(), rows.len(), "{troubles:#?}");
    for (trouble, (file, used, says)) in troubles.iter().zip(rows) {
        assert_eq!(trouble.file, file);
        assert!(trouble.says.contains(says), "{file}: {}", trouble.says);
        let stem = file.split('.').next().unwrap();
        assert_eq!(recordings.iter().any(|it| it.name == stem), used, "{file}");
    }
    assert!(recordings.iter().any(|it| it.name == "good"));
    assert!(
        recordings.iter().flat_map(|it| &it.takes).flat_map(|it| it.samples.iter()).all(|sample| sample.is_finite())
    );
    // A folder that is not there is no trouble.
    assert!(load(&at("nowhere")).1.is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Files of every kind, damaged anywhere: a sound of numbers or a sentence, and never a fall.
    #[test]
    fn a_damaged_file_is_read_or_refused(
        which in 0usize..4,
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..12),
        cut in any::<prop::sample::Index>(),
    ) {
        let room = tempdir().unwrap();
        let path = room.path().join("x.wav");
        let mut bytes = match which {
            0 => wav_bytes(8_000, 900),
            1 => WOOD_OGG.to_vec(),
            2 => WOOD_MP3.to_vec(),
            _ => {
                write(&path, Kind::Flac, &tone(8_000, 900), 8_000).unwrap();
                fs::read(&path).unwrap()
            }
        };
        for (place, value) in damage {
            let place = place.index(bytes.len());
            bytes[place] = value;
        }
        bytes.truncate(cut.index(bytes.len()) + 1);
        fs::write(&path, bytes).unwrap();
        match read(&path) {
            Ok((clip, _)) => prop_assert!(!clip.samples.is_empty() && clip.samples.iter().all(|sample| sample.is_finite())),
            Err(says) => prop_assert!(says.len() > 20),
        }
    }
}
