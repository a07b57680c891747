//! The tables `[midi]` and `[osc]` of `production.toml`: where sounds, clock and cues go besides the loudspeakers.

use std::collections::BTreeMap;

use crate::midi::settings::{MidiSettings, PortChoice, ShowControl, SoundNote, TimecodeSettings};
use crate::midi::show_control::{Device, Format};
use crate::midi::timecode::{Rate, Timecode};
use crate::midi::trigger::Trigger;
use crate::midi::{Channel, Note, SevenBits};
use crate::osc::OscTarget;
use crate::outputs::OutputSettings;
use crate::toml_table::{Table, TomlFile};
use crate::units::Micros;

/// The channel that General MIDI gives to percussion.
const PERCUSSION: u32 = 10;
/// Notes are held so long unless the production says otherwise, milliseconds.
const USUAL_LENGTH_MS: u32 = 200;
/// And struck so hard.
const USUAL_VELOCITY: u32 = 100;
/// The first beat is at this hour of timecode, so that a count-in before it needs no negative time (common practice,
/// no source).
const USUAL_START: &str = "01:00:00:00";

/// Reads both tables.
pub(super) fn read(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> OutputSettings {
    let midi = midi(file, top);
    let mut table = top.table(file, "osc");
    let osc = table.read_text(file, "target", OscTarget::parse);
    table.finish(file);
    OutputSettings { midi, osc }
}

fn midi(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> MidiSettings {
    let mut table = top.table(file, "midi");
    let latency = table.number(file, "latency_ms", -500.0..=500.0, " milliseconds").unwrap_or(0.0);
    let settings = MidiSettings {
        out: table.text(file, "out").map(port),
        input: table.text(file, "in").map(port),
        notes: notes(file, &mut table),
        click: click(file, &mut table),
        clock: switched_on(file, &mut table, "clock"),
        timecode: timecode(file, &mut table),
        show_control: show_control(file, &mut table),
        // At most half a second, so nothing is cut off.
        latency: Micros((latency * 1e3).round() as i64),
        hold: table.read_text(file, "hold", Trigger::parse),
        step: table.read_text(file, "step", Trigger::parse),
    };
    table.finish(file);
    settings
}

fn port(name: String) -> PortChoice {
    if name.eq_ignore_ascii_case("virtual") { PortChoice::Virtual } else { PortChoice::Named(name) }
}

fn switched_on(file: &mut TomlFile<'_>, table: &mut Table<'_>, key: &'static str) -> bool {
    table.word(file, key, &[("on", true), ("off", false)]).unwrap_or(false)
}

fn notes(file: &mut TomlFile<'_>, table: &mut Table<'_>) -> BTreeMap<String, SoundNote> {
    let named = table.table(file, "notes").named_tables(file);
    named.into_iter().filter_map(|(name, table)| Some((name, note(file, table)?))).collect()
}

fn click(file: &mut TomlFile<'_>, table: &mut Table<'_>) -> Option<(SoundNote, SoundNote)> {
    let mut read = |key| table.says(key).then(|| table.table(file, key)).and_then(|table| note(file, table));
    let (accent, click) = (read("accent"), read("click"));
    Some((accent.or(click)?, click.or(accent)?))
}

fn note(file: &mut TomlFile<'_>, mut table: Table<'_>) -> Option<SoundNote> {
    let channel = table.whole(file, "channel", 1..=16, "").unwrap_or(PERCUSSION);
    let key = table.needed_whole(file, "note", 0..=127);
    let velocity = table.whole(file, "velocity", 1..=127, "").unwrap_or(USUAL_VELOCITY);
    let length = table.whole(file, "length_ms", 1..=60_000, " milliseconds").unwrap_or(USUAL_LENGTH_MS);
    table.finish(file);
    let seven = |value: u32| u8::try_from(value).ok().and_then(SevenBits::new);
    Some(SoundNote {
        note: Note { channel: u8::try_from(channel).ok().and_then(Channel::number)?, key: seven(key?)? },
        velocity: seven(velocity)?,
        length: Micros::millis(i64::from(length)),
    })
}

fn timecode(file: &mut TomlFile<'_>, table: &mut Table<'_>) -> Option<TimecodeSettings> {
    let mut words = vec![("off", None)];
    words.extend(Rate::WORDS.map(|(word, rate)| (word, Some(rate))));
    let rate = table.word(file, "timecode", &words).flatten();
    // The start is read at every rate, so that what is wrong with it is told while timecode is still off.
    let read = |text: &str| Timecode::parse(text, rate.unwrap_or(Rate::Whole30)).map_err(|why| format!("it {why}"));
    let start = table.read_text(file, "timecode_start", read);
    let rate = rate?;
    let start = start.or_else(|| Timecode::parse(USUAL_START, rate).ok())?;
    Some(TimecodeSettings { start })
}

fn show_control(file: &mut TomlFile<'_>, table: &mut Table<'_>) -> Option<ShowControl> {
    let on = switched_on(file, table, "show_control");
    let device = table.whole(file, "show_control_device", 0..=127, "").and_then(|number| u8::try_from(number).ok());
    let control = ShowControl {
        device: device.and_then(Device::new).unwrap_or(Device::ALL),
        format: table.word(file, "show_control_format", &Format::WORDS).unwrap_or_default(),
        resumes: table.word(file, "show_control_restart", &[("go", false), ("resume", true)]).unwrap_or(false),
    };
    on.then_some(control)
}
