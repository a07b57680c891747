//! `production.toml`, checked: what a company decides for itself. Nothing after this asks again whether a value is sound.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::limits::Limits;
use super::{evening, limits, outputs};
use crate::call::{NearMisses, Role, UsualEvening, Why};
use crate::check::HouseRules;
use crate::outputs::OutputSettings;
use crate::review::Ladder;
use crate::score::vocabulary::{Mode, WeaponSet};
use crate::sound::recordings::ENDINGS;
use crate::sound::{HoldCall, HoldSettings};
use crate::toml_table::{self, Table, TomlFile, TomlProblem};
use crate::units::{Bpm, Decibels, Metres, Micros};

/// What a company decides.
#[derive(Clone, Debug, PartialEq)]
pub struct Config {
    /// The production's name.
    pub name: String,
    /// The house's own limits; the production's recordings are not among them yet (see [`super::Production`]).
    pub rules: HouseRules,
    /// What a lost link does to a run, by role.
    pub links: Links,
    /// How far ahead of its time a cue is sent.
    pub horizon: Micros,
    /// Beats of count-in unless the desk asks for another; nothing is one bar.
    pub count_in: Option<u32>,
    /// The production's own words.
    pub vocabulary: VocabularyChoice,
    /// Other weapons for the same fights, in order of name.
    pub weapon_sets: Vec<WeaponSet>,
    /// How many rounds a pattern that is run by itself has.
    pub drill_rounds: u32,
    /// The loudspeakers.
    pub sound: SoundChoice,
    /// What the loudspeakers say when a hold is called.
    pub hold: HoldSettings,
    /// The choke group of each sound that is in one: a sound cuts off what still sounds of its own group.
    pub choke: BTreeMap<String, u8>,
    /// How phrases climb to performance tempo.
    pub ladder: Ladder,
    /// What is checked and signed before a call.
    pub before_call: Vec<String>,
    /// Why holds are called, and whether near misses are reported.
    pub why: Why,
    /// The order in which a fight call usually goes, and who covers whom.
    pub evening: UsualEvening,
    /// For how many days an invitation lets people in.
    pub invitation_days: u32,
    /// By which names this machine is called, besides its own.
    pub names: Vec<String>,
    /// The production's last day, where it is known: its HTTPS authority ends thirty days later.
    pub last_day: Option<Date>,
    /// How much is taken from those who come.
    pub limits: Limits,
    /// MIDI and OSC.
    pub outputs: OutputSettings,
}

/// What happens to a run when a member's link is lost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OnLostLink {
    /// The desk is told, and the run goes on.
    #[default]
    Tell,
    /// The run is held.
    Hold,
}

/// What a lost link does, by role.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Links([OnLostLink; Role::ALL.len()]);

impl Links {
    /// What a lost link of that role does.
    pub fn of(&self, role: Role) -> OnLostLink {
        let at = Role::ALL.iter().position(|other| *other == role);
        at.and_then(|at| self.0.get(at)).copied().unwrap_or_default()
    }
}

/// The production's own words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct VocabularyChoice {
    /// The file in the production folder; nothing is `vocabulary.toml` if that is there.
    pub file: Option<String>,
    /// Laid over the built-in words, or instead of them.
    pub mode: Mode,
}

/// The loudspeakers.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundChoice {
    /// The device's name; nothing is the machine's own choice.
    pub device: Option<String>,
    /// Samples per second; nothing is what the device prefers.
    pub rate: Option<u32>,
    /// Samples mixed at a time; nothing is the usual.
    pub buffer_frames: Option<u32>,
    /// The level of click and accent.
    pub click_level: Decibels,
    /// How much later than the device knows a sound is heard; sounds are sent early by it.
    pub latency: Micros,
    /// From the loudspeaker to the place for which sounds are to be in time.
    pub distance: Metres,
    /// How warm the air between is, degrees Celsius.
    pub celsius: f64,
}

/// The choke groups that a production can have; the program uses the numbers above.
pub(super) const MOST_GROUPS: u8 = 199;
/// So many weapon sets, each judged for every score that it concerns, and the letters of a set's name.
const MOST_SETS: usize = 8;
const LONGEST_SET_NAME: usize = 40;
/// So many reasons can be told apart by a thumb, and the letters of each.
const MOST_REASONS: usize = 16;
const LONGEST_REASON: usize = 40;
/// The rounds of a pattern that is run by itself unless the production says otherwise (common practice, no source).
const USUAL_ROUNDS: u32 = 8;
/// How far ahead of its time a cue is sent unless the production says otherwise.
const USUAL_HORIZON_MS: u32 = 1500;
/// For how many days an invitation lets people in unless the production says otherwise: about as long as rehearsals take.
const USUAL_INVITATION_DAYS: u32 = 30;

impl Config {
    /// Reads the text of a `production.toml`. `file` is what the file is called in sentences.
    ///
    /// # Errors
    /// Everything that is wrong with it, in order of line. Never panics, whatever the text.
    pub fn read(text: &str, file: &str) -> Result<Config, Vec<TomlProblem>> {
        toml_table::read(file, text, |file, top| {
            let name = top.needed_text(file, "name");
            let rules = rules(file, top);
            let links = links(file, top);
            let (horizon, count_in) = cues(file, top);
            let vocabulary = vocabulary(file, top);
            let weapon_sets = weapon_sets(file, top);
            let drill_rounds = drill_rounds(file, top);
            let sound = sound(file, top);
            let hold = hold(file, top);
            let choke = choke(file, top);
            let ladder = ladder(file, top);
            let before_call = before_call(file, top);
            let why = why(file, top);
            let evening = evening::read(file, top, count_in);
            let invitation_days = invitation_days(file, top);
            let names = names(file, top);
            let last_day = top.read_text(file, "last_day", last_day);
            let limits = limits::read(file, top);
            let outputs = outputs::read(file, top);
            Some(Config {
                name: name?,
                rules,
                links,
                horizon,
                count_in,
                vocabulary,
                weapon_sets,
                drill_rounds,
                sound,
                hold,
                choke,
                ladder,
                before_call,
                why,
                evening,
                invitation_days,
                names,
                last_day,
                limits,
                outputs,
            })
        })
    }
}

fn rules(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> HouseRules {
    let mut table = top.table(file, "rules");
    let usual = HouseRules::default();
    let rules = HouseRules {
        max_bpm: table
            .number(file, "max_tempo", Bpm::SLOWEST..=Bpm::FASTEST, " beats a minute")
            .unwrap_or(usual.max_bpm),
        max_level_db: table.number(file, "max_level_db", -60.0..=12.0, " dB").unwrap_or(usual.max_level_db),
        // More than three would be against WCAG 2.2, success criterion 2.3.1 (Three Flashes or Below Threshold).
        max_flashes: table.number(file, "max_flashes", 0.0..=3.0, " in a second").unwrap_or(usual.max_flashes),
        act_margin: table.number(file, "act_margin", 1.0..=10.0, "").unwrap_or(usual.act_margin),
        sounds: usual.sounds,
        stage: usual.stage,
    };
    table.finish(file);
    rules
}

fn links(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Links {
    let mut table = top.table(file, "on_lost_link");
    let words = [("tell", OnLostLink::Tell), ("hold", OnLostLink::Hold)];
    let links = Role::ALL.map(|role| table.word(file, role.word(), &words).unwrap_or_default());
    table.finish(file);
    Links(links)
}

fn cues(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> (Micros, Option<u32>) {
    let mut table = top.table(file, "cues");
    let horizon = table.whole(file, "horizon_ms", 200..=10_000, " milliseconds").unwrap_or(USUAL_HORIZON_MS);
    let count_in = table.whole(file, "count_in", 0..=64, " beats");
    table.finish(file);
    (Micros::millis(i64::from(horizon)), count_in)
}

fn vocabulary(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> VocabularyChoice {
    let mut table = top.table(file, "vocabulary");
    let choice = VocabularyChoice {
        file: table.text(file, "file"),
        mode: table.word(file, "mode", &[("extend", Mode::Extend), ("replace", Mode::Replace)]).unwrap_or_default(),
    };
    table.finish(file);
    choice
}

/// `[weapon_sets.NAME]`: sets by names that the company chose. Whether there are such weapons is seen with the vocabulary.
fn weapon_sets(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Vec<WeaponSet> {
    let table = top.table(file, "weapon_sets");
    let mut sets = Vec::new();
    for (name, weapons) in table.named_tables(file) {
        let (place, path) = (weapons.place(), weapons.path().to_owned());
        let instead = weapons.named_texts(file).into_iter().collect();
        let name = name.trim().to_owned();
        match name.chars().count() {
            1..=LONGEST_SET_NAME if sets.len() < MOST_SETS => sets.push(WeaponSet { name, instead }),
            1..=LONGEST_SET_NAME => file.problem(place, &path, format!("is one set too many; {MOST_SETS} are enough")),
            _ => file.problem(
                place,
                &path,
                format!("has a name that is empty or longer than {LONGEST_SET_NAME} letters"),
            ),
        }
    }
    sets
}

fn drill_rounds(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> u32 {
    let mut table = top.table(file, "drills");
    let rounds = table.whole(file, "rounds", 1..=64, " rounds");
    table.finish(file);
    rounds.unwrap_or(USUAL_ROUNDS)
}

fn sound(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> SoundChoice {
    let mut table = top.table(file, "sound");
    let latency = table.number(file, "latency_ms", -500.0..=500.0, " milliseconds").unwrap_or(0.0);
    let choice = SoundChoice {
        device: table.text(file, "device"),
        rate: table.whole(file, "rate", 8_000..=192_000, " samples a second"),
        buffer_frames: table.whole(file, "buffer_frames", 16..=16_384, " samples"),
        click_level: Decibels(table.number(file, "click_level_db", -60.0..=0.0, " dB").unwrap_or(0.0)),
        // At most half a second, so nothing is cut off.
        latency: Micros((latency * 1e3).round() as i64),
        distance: Metres(table.number(file, "distance_m", 0.0..=100.0, " metres").unwrap_or(0.0)),
        celsius: table.number(file, "temperature_c", -20.0..=50.0, " degrees Celsius").unwrap_or(20.0),
    };
    table.finish(file);
    choice
}

fn hold(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> HoldSettings {
    let mut table = top.table(file, "hold");
    let settings = HoldSettings {
        call: table.read_text(file, "call", hold_call).unwrap_or_default(),
        level: table.number(file, "level_db", HoldSettings::LEVELS, " dB").map_or(HoldSettings::USUAL_LEVEL, Decibels),
    };
    table.finish(file);
    settings
}

/// Whether there is such a recording is seen when the recordings are read.
fn hold_call(text: &str) -> Result<HoldCall, &'static str> {
    let ending = text.rsplit_once('.').map(|(_, ending)| ending.to_lowercase());
    match text {
        "tone" => Ok(HoldCall::Tone),
        "off" => Ok(HoldCall::Off),
        _ if text.contains(['/', '\\']) || ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str())) => Err(
            "it has to be \"tone\", \"off\" or a recording as a score names it: without the folder, without the ending",
        ),
        name => Ok(HoldCall::Recording(name.to_owned())),
    }
}

/// `[choke]`: groups by names that the company chose, each a list of sounds; the names are for people alone.
fn choke(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> BTreeMap<String, u8> {
    let table = top.table(file, "choke");
    let place = table.place();
    let mut groups = BTreeMap::new();
    for (number, (name, sounds)) in (1..=MOST_GROUPS).zip(table.named_lists(file)) {
        for sound in sounds {
            if groups.insert(sound.clone(), number).is_some_and(|before| before != number) {
                let says = format!("has “{sound}”, which is in another group too; a sound is in one group or in none");
                file.problem(place.clone(), &format!("choke.{name}"), says);
            }
        }
    }
    groups
}

fn ladder(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Ladder {
    let mut table = top.table(file, "ladder");
    let usual = Ladder::default();
    let ladder = Ladder {
        steps: table.rising(file, "steps", 10..=150).filter(|steps| !steps.is_empty()).unwrap_or(usual.steps),
        up_after: table.whole(file, "up_after", 1..=100, " clean runs").unwrap_or(usual.up_after),
        down_after: table.whole(file, "down_after", 1..=100, " broken runs").unwrap_or(usual.down_after),
    };
    table.finish(file);
    ladder
}

fn invitation_days(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> u32 {
    let mut table = top.table(file, "invitations");
    let days = table.whole(file, "last_days", 1..=366, " days");
    table.finish(file);
    days.unwrap_or(USUAL_INVITATION_DAYS)
}

fn names(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Vec<String> {
    let mut table = top.table(file, "network");
    let names = table.texts(file, "names").unwrap_or_default();
    table.finish(file);
    names
}

fn last_day(text: &str) -> Result<Date, &'static str> {
    text.parse().map_err(|_| "it has to be a day as year, month and day: \"2027-03-14\"")
}

fn before_call(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Vec<String> {
    let mut table = top.table(file, "checks");
    let list = table.texts(file, "before_call").unwrap_or_default();
    table.finish(file);
    list
}

/// `[why]`: a list of reasons with nothing in it offers none.
fn why(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Why {
    let mut table = top.table(file, "why");
    let (place, usual) = (table.place(), Why::default());
    let reasons = table.texts(file, "reasons").unwrap_or(usual.reasons);
    if reasons.len() > MOST_REASONS {
        let says = format!("has {} reasons; {MOST_REASONS} are the most that are found by thumb", reasons.len());
        file.problem(place.clone(), "why.reasons", says);
    }
    for (number, reason) in reasons.iter().enumerate() {
        if reason.chars().count() > LONGEST_REASON {
            let says = format!("has “{reason}”, which is longer than {LONGEST_REASON} letters");
            file.problem(place.clone(), "why.reasons", says);
        }
        if reasons.iter().take(number).any(|before| before == reason) {
            file.problem(place.clone(), "why.reasons", format!("has “{reason}” twice"));
        }
    }
    let words = [
        ("either", NearMisses::Either),
        ("named", NearMisses::Named),
        ("unnamed", NearMisses::Unnamed),
        ("no", NearMisses::No),
    ];
    let near_misses = table.word(file, "near_misses", &words).unwrap_or(usual.near_misses);
    table.finish(file);
    Why { reasons, near_misses }
}
