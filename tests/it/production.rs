//! The production folder: `holdfast new` makes a sound one, what is wrong with one is told in sentences, one bad score
//! keeps no other from use, and no bytes make it panic.

use std::fs;
use std::path::Path;
use std::process::Command;

use holdfast::call::Role;
use holdfast::production::invitations::{self, Invitation, Secret};
use holdfast::production::{Config, OnLostLink, Production, ProductionError, start};
use holdfast::score::problem::Severity;
use holdfast::sound::{HoldCall, HoldSettings};
use holdfast::units::{Decibels, Micros};
use proptest::prelude::*;
use tempfile::TempDir;

#[test]
fn a_new_production_is_sound_and_named_after_its_folder() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("The Lamp \"Room\"");
    let made = Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("new").arg(&folder).output().unwrap();
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    assert!(String::from_utf8_lossy(&made.stdout).contains("is ready"));

    let production = Production::open(&folder).unwrap();
    assert_eq!(production.config.name, "The Lamp Room");
    assert_eq!((production.fights.len(), production.unread.len()), (1, 0));
    let fight = &production.fights[0];
    assert_eq!((fight.name.as_str(), fight.file.as_str()), ("First Steps", "scores/first-steps.fight"));
    assert_eq!(fight.problems().count(), 0, "{}", fight.reading.render(false));
    assert!(fight.score().is_some());
    assert_eq!(holdfast::score::format(fight.text()).unwrap(), fight.text(), "the example is as fmt writes it");
    assert_eq!(names(place.path()), ["The Lamp \"Room\""], "nothing is left beside it");
    assert!(fs::read_to_string(folder.join("README.md")).unwrap().contains("not a certified emergency stop"));
}

/// What agreements and guides ask of fight calls stands in the new folder, each with where it is asked: rows 10d of the
/// project's list of published values. The usual speeds begin at half (Theatrefolk, "How to run a fight call") and end at
/// performance speed; a row without a source says so.
#[test]
fn what_is_asked_of_fight_calls_is_told_with_its_source() {
    let told = include_str!("../../configs/new/README.md");
    for (asked, source) in [
        ("runs the fights before each performance", "(A)(3)"),
        ("before the half-hour", "Stage Fighting/Stunts"),
        ("first week of fight rehearsals", "(C) and (D)"),
        ("one rehearsal with the real weapons", "(4) and (5)"),
        ("overrules the fight director", "AGMA agreement 2012 to 2015, exhibit 2"),
        ("half speed", "Theatrefolk"),
        ("Whoever is hit decides", "weak"),
        ("Weapons on stage", "ABTT Code of Practice 06"),
        ("call hold", "no source"),
        ("from the audience", "no published number"),
    ] {
        let row = told.lines().find(|line| line.starts_with("| ") && line.contains(asked));
        assert!(row.is_some_and(|row| row.contains(source)), "{asked}: {row:?}");
    }
    let ladder = Config::read("name = 'a'", "production.toml").unwrap().ladder;
    assert_eq!((ladder.steps.first(), ladder.steps.last()), (Some(&50), Some(&100)));
}

#[test]
fn what_new_says_of_a_value_left_out_is_what_holds() {
    let teaches = include_str!("../../configs/new/production.toml").replace("@NAME@", "a");
    let mut taught = Config::read(&teaches, "production.toml").unwrap();
    let usual = Config::read("name = 'a'", "production.toml").unwrap();
    // Two values are written because they are better than what holds without them.
    assert_eq!(taught.sound.click_level, Decibels(-6.0));
    taught.sound.click_level = usual.sound.click_level;
    taught.vocabulary.file = None;
    assert_eq!(taught, usual);
}

#[test]
fn an_empty_folder_is_taken_and_any_other_is_refused() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("empty");
    fs::create_dir(&folder).unwrap();
    let made = Command::new(env!("CARGO_BIN_EXE_holdfast")).args(["new", "."]).current_dir(&folder).status().unwrap();
    assert!(made.success());
    assert_eq!(Production::open(&folder).unwrap().config.name, "empty");

    let before = names(&folder);
    let refused = start(&folder).unwrap_err();
    assert!(matches!(refused, ProductionError::Taken(_)));
    assert!(refused.to_string().contains("is not empty: a new production needs a folder of its own"), "{refused}");
    let file = place.path().join("a-file");
    fs::write(&file, "mine").unwrap();
    assert!(matches!(start(&file), Err(ProductionError::Taken(_))));
    for impossible in [file.join("in-a-file"), place.path().join("no/such/place")] {
        let said = Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("new").arg(impossible).output().unwrap();
        assert_eq!(said.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&said.stderr).contains("cannot be written"), "{said:?}");
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
    assert_eq!((names(&folder), names(place.path())), (before, vec!["a-file".to_owned(), "empty".to_owned()]));
}

#[test]
fn whatever_is_wrong_with_production_toml_is_a_sentence() {
    let rows = [
        ("", "production.toml, line 1: `name` is missing; add it near the top, in quotes."),
        ("name = ''", "line 1: `name` is empty; write something between the quotes, or leave the key out."),
        ("name = 7", "line 1: `name` is a number; it has to be text in quotes."),
        ("name = 'a'\nname = 'b'", "line 2: this is not TOML: duplicate key"),
        (
            "name = 'a'\n[invitations]\nlast_days = 0",
            "line 3: `invitations.last_days` is 0; it has to be a number from 1 to 366 days.",
        ),
        (
            "name = 'a'\nlast_day = 'soon'",
            "line 2: `last_day` is \"soon\"; it has to be a day as year, month and day: \"2027-03-14\".",
        ),
        (
            "name = 'a'\n[limits]\nmessages_a_second = 20",
            "line 3: `limits.messages_a_second` is 20; it has to be a number from 50 to 10000 a second.",
        ),
        ("name = 'a'\nnmae = 'b'", "line 2: `nmae` is not known here; did you mean `name`?"),
        (
            "name = 'a'\nzzzz = 1",
            "line 2: `zzzz` is not known here; there is checks, choke, covers, cues, drills, hold, invitations, ladder, last_day, limits, midi, name, network, on_lost_link, osc, rules, sound, tonight, vocabulary, weapon_sets or why.",
        ),
        ("name = 'a'\n[tonight]\nfight = 'b'", "line 2: `tonight` has to be tables in a row: write [[tonight]]"),
        ("name = 'a'\n[[tonight]]\nspeed = 50", "line 2: `tonight.fight` is missing"),
        (
            "name = 'a'\n[[tonight]]\nfight = 'b'\nspeed = 5",
            "line 4: `tonight.speed` is 5; it has to be a number from 10 to 150 percent.",
        ),
        ("name = 'a'\n[[tonight]]\nfight = 'b'\nphrase = 'c'", "line 4: `tonight.phrase` is not known here"),
        ("name = 'a'\n[covers]\nOSK = 'Ode'", "line 3: `covers.OSK` is text; it has to be a list in square brackets."),
        (
            "name = 'a'\n[why]\nnear_misses = 'maybe'",
            "line 3: `why.near_misses` is \"maybe\"; it has to be either, named, unnamed or no.",
        ),
        ("name = 'a'\n[why]\nreasons = ['grip', 'grip']", "line 2: `why.reasons` has “grip” twice."),
        (
            "name = 'a'\n[drills]\nrounds = 0",
            "line 3: `drills.rounds` is 0; it has to be a number from 1 to 64 rounds.",
        ),
        (
            "name = 'a'\n[weapon_sets]\nwood = 'dowel'",
            "line 3: `weapon_sets.wood` is text; it has to be a table in braces.",
        ),
        (
            "name = 'a'\n[weapon_sets.wood]\nrapier = ''",
            "line 3: `weapon_sets.wood.rapier` is text; it has to be a word in quotes.",
        ),
        ("name = 'a'\n[weapon_sets.'']\nrapier = 'dowel'", "has a name that is empty or longer than 40 letters."),
        ("name = 'a\n", "line 1: this is not TOML: "),
        (
            "name = 'a'\nrules = 3",
            "line 2: `rules` is a number; it has to be a table: write [rules] on a line of its own",
        ),
        (
            "name = 'a'\n[rules]\n\nmax_tempo = 401",
            "line 4: `rules.max_tempo` is 401; it has to be a number from 10 to 400 beats a minute.",
        ),
        ("name = 'a'\n[rules]\nmax_tempo = nan", "line 3: `rules.max_tempo` is nan; it has to be a number"),
        ("name = 'a'\n[rules]\nmax_tempo = -inf", "line 3: `rules.max_tempo` is -inf; it has to be a number"),
        (
            "name = 'a'\n[rules]\nmax_flashes = 4",
            "line 3: `rules.max_flashes` is 4; it has to be a number from 0 to 3 in a second.",
        ),
        (
            "name = 'a'\n[rules]\nmax_tempo = \"fast\"",
            "line 3: `rules.max_tempo` is text; it has to be a number from 10 to 400",
        ),
        (
            "name = 'a'\n[rules]\nmax_temp = 100",
            "line 3: `rules.max_temp` is not known here; did you mean `max_tempo`?",
        ),
        (
            "name = 'a'\n[on_lost_link]\ncaptain = 'hodl'",
            "line 3: `on_lost_link.captain` is \"hodl\"; it has to be tell or hold; did you mean `hold`?",
        ),
        (
            "name = 'a'\n[on_lost_link]\nperfomer = 'hold'",
            "line 3: `on_lost_link.perfomer` is not known here; did you mean `performer`?",
        ),
        (
            "name = 'a'\n[cues]\nhorizon_ms = 1.5",
            "line 3: `cues.horizon_ms` is 1.5; it has to be a number from 200 to 10000 milliseconds.",
        ),
        (
            "name = 'a'\n[cues]\ncount_in = 2.5",
            "line 3: `cues.count_in` is 2.5; it has to be a whole number from 0 to 64 beats.",
        ),
        (
            "name = 'a'\n[cues]\ncount_in = -1",
            "line 3: `cues.count_in` is -1; it has to be a number from 0 to 64 beats.",
        ),
        ("name = 'a'\n[cues]\ncount_in = 99999999999999999999", "line 3: "),
        (
            "name = 'a'\n[vocabulary]\nmode = 'merge'",
            "line 3: `vocabulary.mode` is \"merge\"; it has to be extend or replace",
        ),
        (
            "name = 'a'\n[sound]\nrate = true",
            "line 3: `sound.rate` is true or false; it has to be a number from 8000 to 192000",
        ),
        (
            "name = 'a'\n[sound]\nclick_level_db = 3",
            "line 3: `sound.click_level_db` is 3; it has to be a number from -60 to 0 dB.",
        ),
        (
            "name = 'a'\n[hold]\ncall = 'sounds/halt.WAV'",
            "line 3: `hold.call` is \"sounds/halt.WAV\"; it has to be \"tone\", \"off\" or a recording as a score names it: without the folder, without the ending",
        ),
        (
            "name = 'a'\n[hold]\nlevel_db = 40",
            "line 3: `hold.level_db` is 40; it has to be a number from -20 to 24 dB.",
        ),
        (
            "name = 'a'\n[choke]\nbells = ['bell', 'gong']\nmetal = ['gong']",
            "line 2: `choke.metal` has “gong”, which is in another group too; a sound is in one group or in none.",
        ),
        (
            "name = 'a'\n[choke]\nbells = 'bell'",
            "line 3: `choke.bells` is text; it has to be a list in square brackets.",
        ),
    ];
    for (text, sentence) in rows {
        let problems = Config::read(text, "production.toml").unwrap_err();
        let said = ProductionError::Config(problems).to_string();
        assert!(said.contains(sentence), "{text:?}\n  said     {said}\n  expected {sentence}");
        assert!(said.starts_with("production.toml, line "));
    }
}

/// Scores come and go: what tonight's order and the covers name and no score has is said at the desk, and the rest is used.
#[test]
fn an_order_and_covers_of_what_is_not_there_are_said() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    let file = dir.join("production.toml");
    let tonight = "\n[[tonight]]\nfight = \"First Steps\"\n\n[[tonight]]\nfight = \"Last Steps\"\nspeed = 50\n";
    let covers = "[covers]\nALDER = [\"Ode\"]\nALDR = [\"Zan\"]\n";
    let text = std::fs::read_to_string(&file).unwrap().replace("[covers]\n", covers);
    std::fs::write(&file, text + tonight).unwrap();
    let production = Production::open(&dir).unwrap();
    let evening = &production.config.evening;
    assert_eq!((evening.order.len(), evening.order[1].percent, evening.covers["ALDER"].len()), (2, Some(50), 1));
    let troubles = production.troubles();
    assert_eq!(
        troubles,
        [
            "production.toml: number 2 of [[tonight]]: There is no fight called “Last Steps” in this production. Choose one that \
             there is.",
            "production.toml: [covers] names ALDR, and nobody called that is in any score. did you mean `ALDER`?",
        ]
    );
}

#[test]
fn everything_wrong_is_told_at_once() {
    let text = "nmae = 'a'\n[rules]\nmax_tempo = 0\n[sound]\nrate = 1\nlatency = 3\n";
    let lines: Vec<usize> = Config::read(text, "production.toml").unwrap_err().iter().map(|p| p.line).collect();
    assert_eq!(lines, [1, 1, 3, 5, 6]);
}

#[test]
fn a_bad_score_keeps_no_other_from_use() {
    let folder = production("name = 'a'");
    write(&folder, "scores/broken.fight", b"fight \"The Broken\"\ntempo fast\n\xff\n");
    write(&folder, "scores/nameless.fight", b"");
    write(&folder, "scores/.hidden.fight", b"");
    fs::create_dir(folder.path().join("scores/folder.fight")).unwrap();
    let opened = Production::open(folder.path()).unwrap();
    let seen: Vec<_> = opened.fights.iter().map(|f| (f.name.as_str(), f.score().is_some())).collect();
    assert_eq!(seen, [("The Broken", false), ("First Steps", true), ("nameless", false)]);
    assert!(opened.fights[0].count(Severity::Error) >= 2);
    assert!(
        opened.unread.len() == 1 && opened.unread[0].starts_with("scores/folder.fight cannot be read"),
        "{:?}",
        opened.unread
    );
    assert!(opened.fight("First Steps").is_some() && opened.fight("first steps").is_none());
}

#[test]
fn the_revision_is_sha_256_of_the_bytes() {
    let folder = production("name = 'a'");
    write(&folder, "scores/abc.fight", b"abc");
    // FIPS 180-4 examples (csrc.nist.gov, SHA256.pdf), one-block message "abc".
    let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(Production::open(folder.path()).unwrap().fight("abc").unwrap().sha256, expected);
}

#[test]
fn two_fights_of_one_name_are_refused_by_both_files() {
    let folder = production("name = 'a'");
    write(&folder, "scores/again.fight", b"fight \"FIRST steps\"\n");
    let refused = Production::open(folder.path()).unwrap_err().to_string();
    assert!(refused.starts_with("scores/again.fight and scores/first-steps.fight are both named"), "{refused}");
}

#[test]
fn a_folder_that_is_no_production_and_files_that_cannot_be_used_are_said() {
    let empty = tempfile::tempdir().unwrap();
    assert!(said(&empty).contains("`holdfast new` makes one"), "{}", said(&empty));

    let folder = production("name = 'a'\n[vocabulary]\nfile = 'words.toml'");
    assert!(said(&folder).contains("words.toml cannot be read"), "{}", said(&folder));
    write(&folder, "words.toml", b"[weapons.rapier]\nblade_m = 'long'\n");
    assert!(said(&folder).starts_with("words.toml, line 2: "), "{}", said(&folder));
    write(&folder, "production.toml", b"name = 'a'\nx = '\xff'\n");
    assert!(said(&folder).contains("line 2 is not UTF-8"), "{}", said(&folder));

    let bare = tempfile::tempdir().unwrap();
    write(&bare, "production.toml", b"name = 'a'");
    let opened = Production::open(bare.path()).unwrap();
    assert!(opened.fights.is_empty() && opened.unread[0].contains("put *.fight files in it"));
}

#[test]
fn the_vocabulary_extends_or_replaces() {
    let folder = production("name = 'a'");
    write(&folder, "vocabulary.toml", b"[weapons.rapier]\nblade_m = 1.02\n");
    let opened = Production::open(folder.path()).unwrap();
    assert!(opened.vocabulary.weapons.len() > 1 && opened.fights[0].score().is_some());
    write(&folder, "production.toml", b"name = 'a'\n[vocabulary]\nmode = 'replace'");
    match Production::open(folder.path()) {
        Err(ProductionError::Vocabulary(_)) => {}
        other => panic!("a vocabulary of one patch cannot stand alone: {other:?}"),
    }
}

#[test]
fn everything_that_is_wrong_with_the_words_is_told() {
    let folder = production("name = 'a'");
    write(&folder, "vocabulary.toml", b"[weapons.rapier]\nblade = 1.02\n[targets.head]\nheights = ['heigh']\n");
    let told = Production::open(folder.path()).unwrap_err().to_string();
    let weapon = "vocabulary.toml, line 2: `weapons.rapier.blade` is not known here; there is";
    let target =
        "line 4: `targets.head.heights` has “heigh” in it; there has to be high, low or overhead; did you mean `high`?";
    assert!(told.starts_with(weapon) && told.ends_with(target) && told.lines().count() == 2, "{told}");
}

#[test]
fn the_house_rules_and_recordings_reach_the_checks() {
    let folder = production("name = 'a'\n[rules]\nmax_tempo = 50");
    let codes = |folder: &TempDir| {
        let opened = Production::open(folder.path()).unwrap();
        opened.fights.iter().flat_map(|f| f.problems().map(|p| p.code).collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    assert_eq!(codes(&folder), ["H401"], "60 is faster than 50");
    let score = include_str!("../../configs/new/scores/first-steps.fight").replace("! swish", "! thud");
    write(&folder, "scores/first-steps.fight", score.as_bytes());
    assert_eq!(codes(&folder), ["H401", "H403"], "nobody knows a thud");
    write(&folder, "sounds/thud.WAV", b"");
    assert_eq!(codes(&folder), ["H401"]);
}

#[test]
fn what_the_loudspeakers_say_of_a_hold_is_the_houses_choice() {
    let read = |table: &str| Config::read(&format!("name = 'a'\n{table}"), "production.toml").unwrap().hold;
    assert_eq!(read(""), HoldSettings { call: HoldCall::Tone, level: Decibels(12.0) });
    assert_eq!(read("[hold]\ncall = 'off'").call, HoldCall::Off);
    let own = read("[hold]\ncall = 'halt'\nlevel_db = -3");
    assert_eq!(own, HoldSettings { call: HoldCall::Recording("halt".into()), level: Decibels(-3.0) });

    // An effect of the same name is no voice, and a recording that is missing is said.
    let folder = production("name = 'a'\n[hold]\ncall = 'steel'");
    let troubles = || Production::open(folder.path()).unwrap().library().troubles().join("\n");
    assert!(troubles().contains("[hold] asks for the recording “steel”, and none is called that."), "{}", troubles());
    std::fs::create_dir_all(folder.path().join("sounds")).unwrap();
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(folder.path().join("sounds/steel.wav"), spec).unwrap();
    (0..8_000).for_each(|n| file.write_sample(if n % 20 < 10 { 8_000i16 } else { -8_000 }).unwrap());
    file.finalize().unwrap();
    assert_eq!(troubles(), "");
}

#[test]
fn the_demo_is_a_production() {
    let demo = Production::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("configs/demo")).unwrap();
    assert_eq!((demo.config.name.as_str(), demo.config.count_in), ("The Salt Stair", Some(4)));
    assert!(!demo.fights.is_empty() && demo.unread.is_empty());
    for fight in &demo.fights {
        assert_eq!(fight.count(Severity::Error), 0, "{}: {}", fight.file, fight.reading.render(false));
    }
}

#[test]
fn invitations_are_kept_for_their_owner_only() {
    let place = tempfile::tempdir().unwrap();
    let data = place.path().join("data");
    let made = "2026-03-01T19:30:00Z".parse().unwrap();
    let later = "2026-04-01T19:30:00Z".parse().unwrap();
    assert!(invitations::load(&data, later).unwrap().is_empty());
    let kept = [(Role::Desk, "d".repeat(22)), (Role::Captain, "aB3-_".repeat(6))];
    let kept = kept
        .map(|(role, secret)| {
            let secret = Secret::new(&secret).unwrap();
            (role, Invitation { secret, made, closed: role == Role::Captain })
        })
        .into_iter()
        .collect();
    for _ in 0..2 {
        invitations::save(&data, &kept).unwrap();
        assert_eq!(invitations::load(&data, later).unwrap(), kept);
    }
    assert_eq!(names(&data), ["invitations.toml"]);
    assert!(!format!("{kept:?}").contains("ddd"), "a secret gets into no log");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(data.join("invitations.toml")).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let rows = [
        ("captain = 'short'", "`captain` is no secret"),
        ("capitan = 'x'", "did you mean `captain`?"),
        ("=", "not TOML"),
    ];
    for (text, sentence) in rows {
        fs::write(data.join("invitations.toml"), text).unwrap();
        let said = invitations::load(&data, later).unwrap_err().to_string();
        assert!(said.starts_with("invitations.toml, line 1: ") && said.contains(sentence), "{said}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let folder = tempfile::tempdir().unwrap();
        write(&folder, "production.toml", &bytes);
        let _ = Production::open(folder.path()).map_err(|error| error.to_string());
    }

    #[test]
    fn no_half_right_text_makes_it_panic(cut in any::<prop::sample::Index>(), other in "\\PC{0,12}|[\\[\\]{}=.'\"\n#0-9a-z_-]{0,12}") {
        let whole = include_str!("../../configs/new/production.toml");
        let mut at = cut.index(whole.len());
        while !whole.is_char_boundary(at) { at -= 1; }
        let text = format!("{}{other}{}", &whole[..at], &whole[at..]);
        if let Err(problems) = Config::read(&text, "production.toml") {
            let lines = text.lines().count().max(1) + 1;
            prop_assert!(!problems.is_empty() && problems.iter().all(|p| (1..=lines).contains(&p.line)));
        }
    }

    #[test]
    fn every_value_in_range_is_taken(
        tempo in 10.0..=400f64, level in -60.0..=12f64, flashes in 0u32..=3, margin in 1.0..=10f64,
        hold in prop::sample::select(Role::ALL.to_vec()), horizon in 200i64..=10_000, count_in in prop::option::of(0u32..=64),
        rate in prop::option::of(8_000u32..=192_000), buffer in 16u32..=16_384, click in -60.0..=0f64, latency in -500i64..=500,
    ) {
        let count = count_in.map_or(String::new(), |n| format!("count_in = {n}\n"));
        let speed = rate.map_or(String::new(), |n| format!("rate = {n}\n"));
        let text = format!(
            "name = 'a'\n[rules]\nmax_tempo = {tempo:?}\nmax_level_db = {level:?}\nmax_flashes = {flashes}\nact_margin = {margin:?}\n\
             [on_lost_link]\n{} = 'hold'\n[cues]\nhorizon_ms = {horizon}\n{count}[sound]\n{speed}\
             device = 'd'\nbuffer_frames = {buffer}\nclick_level_db = {click:?}\nlatency_ms = {latency}\n",
            hold.word()
        );
        let config = Config::read(&text, "production.toml").unwrap();
        prop_assert_eq!((config.rules.max_bpm, config.rules.max_level_db), (tempo, level));
        prop_assert_eq!((config.rules.max_flashes, config.rules.act_margin), (f64::from(flashes), margin));
        for role in Role::ALL {
            prop_assert_eq!(config.links.of(role), if role == hold { OnLostLink::Hold } else { OnLostLink::Tell });
        }
        prop_assert_eq!((config.horizon, config.count_in), (Micros::millis(horizon), count_in));
        prop_assert_eq!((config.sound.rate, config.sound.buffer_frames), (rate, Some(buffer)));
        prop_assert_eq!((config.sound.click_level, config.sound.latency), (Decibels(click), Micros::millis(latency)));
        prop_assert_eq!(config.sound.device.as_deref(), Some("d"));
    }
}

/// A production with the score of a new one and this `production.toml`.
fn production(config: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "production.toml", config.as_bytes());
    write(&folder, "scores/first-steps.fight", include_bytes!("../../configs/new/scores/first-steps.fight"));
    folder
}

fn write(folder: &TempDir, name: &str, bytes: &[u8]) {
    let path = folder.path().join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

fn said(folder: &TempDir) -> String {
    Production::open(folder.path()).unwrap_err().to_string()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}
