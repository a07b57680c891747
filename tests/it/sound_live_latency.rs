//! `holdfast latency` over a real sound daemon, whose null sink is heard by its own monitor: what is set already
//! does not change what is measured, and every accent is heard.

use std::fs;
use std::path::Path;

use crate::sound_live::audio::House;

/// What the command tells to write, milliseconds.
fn measured(house: &House, production: &Path, latency_ms: f64) -> f64 {
    let file = production.join("production.toml");
    let text = fs::read_to_string(&file).unwrap();
    let own: String = text.lines().take_while(|line| !line.starts_with('[')).map(|line| format!("{line}\n")).collect();
    fs::write(&file, format!("{own}[sound]\nlatency_ms = {latency_ms}\nbuffer_frames = 2048\n")).unwrap();
    let mut command = house.command(env!("CARGO_BIN_EXE_holdfast"));
    let done = command.arg("latency").arg(production).args(["--impulses", "5"]).output().unwrap();
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    assert!(done.status.success(), "{said}{}", String::from_utf8_lossy(&done.stderr));
    assert!(said.contains("5 of 5 accents"), "{said}");
    let figure = said.split("latency_ms = ").nth(1).and_then(|rest| rest.split_whitespace().next()).unwrap();
    figure.parse().unwrap()
}

#[test]
fn what_was_set_before_changes_nothing() {
    let house = House::new();
    let _daemon = house.start_daemon();
    let production = house.path().join("quay");
    let made = house.command(env!("CARGO_BIN_EXE_holdfast")).arg("new").arg(&production).status().unwrap();
    assert!(made.success());
    let (none, some) = (measured(&house, &production, 0.0), measured(&house, &production, 120.0));
    // Both ask for the same in the end; a busy machine scatters each by some milliseconds.
    assert!((none - some).abs() < 25.0, "{none} ms and {some} ms");
}

#[test]
fn what_cannot_hear_is_said() {
    let house = House::new();
    let _daemon = house.start_daemon();
    let production = house.path().join("quay");
    let made = house.command(env!("CARGO_BIN_EXE_holdfast")).arg("new").arg(&production).status().unwrap();
    assert!(made.success());
    let mut command = house.command(env!("CARGO_BIN_EXE_holdfast"));
    let done = command.arg("latency").arg(&production).args(["--input", "Balcony microphone"]).output().unwrap();
    assert_eq!(done.status.code(), Some(2));
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(said.contains("there is no input “Balcony microphone”"), "{said}");
}
