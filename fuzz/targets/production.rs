//! A production's own file. Everything that is wrong is told with its line and key; what is read is within the limits
//! that the sentences name.

use std::fs;

use holdfast::production::{CONFIG_FILE, Config, Judge, ProductionError};
use holdfast::units::{Bpm, Micros};

use super::toml_problems::{are_told_well, line_that_is_not_utf8, moved_by_a_line, with_a_line_before};

pub(crate) fn run(bytes: &[u8]) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(CONFIG_FILE), bytes).unwrap();
    let judged = Judge::of_production(folder.path());
    let Ok(text) = std::str::from_utf8(bytes) else {
        let said = judged.expect_err("read, and is no text").to_string();
        let line = line_that_is_not_utf8(bytes).unwrap();
        assert!(said.contains(&format!("{CONFIG_FILE} cannot be read: line {line} is not UTF-8")), "{said}");
        return;
    };
    let moved = with_a_line_before(text).map(|text| Config::read(&text, CONFIG_FILE));
    match Config::read(text, CONFIG_FILE) {
        Ok(config) => {
            within_limits(&config);
            assert!(moved.is_none_or(|moved| moved.as_ref() == Ok(&config)), "a comment changes what is read");
            match judged {
                Ok(judge) => assert_eq!(judge.home.map(|home| home.config), Some(config)),
                // A vocabulary of another name is not there.
                Err(error) => {
                    assert!(config.vocabulary.file.is_some(), "{error}");
                    assert!(error.to_string().len() > 20);
                }
            }
        }
        Err(problems) => {
            are_told_well(&problems, CONFIG_FILE, text);
            assert!(matches!(judged, Err(ProductionError::Config(same)) if same == problems));
            if let Some(moved) = moved {
                moved_by_a_line(&problems, &moved.expect_err("a comment makes it right"));
            }
        }
    }
}

fn within_limits(config: &Config) {
    let Config { name, rules, horizon, count_in, sound, invitation_days, .. } = config;
    assert!(!name.trim().is_empty());
    assert!((Bpm::SLOWEST..=Bpm::FASTEST).contains(&rules.max_bpm) && (1.0..=10.0).contains(&rules.act_margin));
    assert!((-60.0..=12.0).contains(&rules.max_level_db) && (0.0..=3.0).contains(&rules.max_flashes));
    assert!((Micros::millis(200)..=Micros::millis(10_000)).contains(horizon));
    assert!(count_in.is_none_or(|beats| beats <= 64) && (1..=366).contains(invitation_days));
    assert!(sound.rate.is_none_or(|rate| (8_000..=192_000).contains(&rate)));
    assert!(sound.buffer_frames.is_none_or(|frames| (16..=16_384).contains(&frames)));
    assert!((-60.0..=0.0).contains(&sound.click_level.0) && sound.latency.0.abs() <= 500_000);
    assert!((-20.0..=50.0).contains(&sound.celsius) && (0.0..=100.0).contains(&sound.distance.0));
}
