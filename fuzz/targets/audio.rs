//! A company's recording, whatever its bytes: a sound of bounded length whose samples are all numbers, at its own rate
//! and at a device's, or a sentence.

use std::io::Write;

use holdfast::sound::recordings::{LONGEST, read};

/// The rate of most devices, samples a second.
const DEVICE: u32 = 48_000;

pub(crate) fn run(bytes: &[u8]) {
    let mut file = tempfile::Builder::new().suffix(".wav").tempfile().unwrap();
    file.write_all(bytes).unwrap();
    match read(file.path()) {
        Ok((clip, note)) => {
            assert!((8_000..=192_000).contains(&clip.rate), "{}", clip.rate);
            assert!(clip.samples.len() as u64 <= u64::from(LONGEST) * u64::from(clip.rate));
            assert!(clip.samples.iter().all(|sample| sample.is_finite() && sample.abs() <= 1_000.0));
            assert!(clip.samples.iter().any(|sample| *sample != 0.0), "silence is no sound");
            assert!(note.is_none_or(|note| note.len() > 20));
            let heard = clip.at_rate(DEVICE);
            let exact = (clip.samples.len() as u64 * u64::from(DEVICE)).div_ceil(u64::from(clip.rate));
            assert_eq!(heard.len() as u64, exact, "{} samples at {}", clip.samples.len(), clip.rate);
            assert!(heard.iter().all(|sample| sample.is_finite()));
        }
        Err(says) => assert!(says.len() > 10 && !says.ends_with('.'), "{says}"),
    }
}
