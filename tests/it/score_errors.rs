//! What is said about bad scores: for each kind of mistake the code, the line and the column, and nothing else beside it.

use holdfast::score::problem::Severity;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;

/// A sound score of eleven lines; a case's lines follow under its phrase, from line 12 on.
const SOUND: &str = "fight \"Stair\"\nbeats 4\ntempo 84\n\nfighters\n  A  rapier  right\n  B  rapier  left\nbystanders\n  C\n\nphrase \"One\"\n";

/// Lines for the phrase, and what must be said of them: code, line, column.
type Case = (&'static str, &'static [(&'static str, usize, usize)]);

const IN_THE_PHRASE: &[Case] = &[
    ("  1 A cut head / B parry 5 ! \u{7}steel", &[("S102", 12, 30)]),
    ("  1 A cut head \"no end", &[("S103", 12, 16)]),
    ("  1 A cut head “soft”", &[("S103", 12, 16)]),
    ("  plaze A 1,2", &[("S104", 12, 3)]),
    ("  1 A cut head / ", &[("S105", 12, 17)]),
    ("  1 / B parry 4", &[("S105", 12, 5)]),
    ("  1 A cut head hidden upstge / B parry 5", &[("S105", 12, 23)]),
    ("  1 A cut head hidden", &[("S105", 12, 22)]),
    ("  1 A cut head / B take head hidden upstage", &[("S223", 12, 37)]),
    ("  4 +1/2 A cut head", &[("S105", 12, 5)]),
    ("  place A 1", &[("S105", 12, 12)]),
    ("  1 A cut head twice", &[("S106", 12, 16)]),
    ("  rest 2 3", &[("S106", 12, 10)]),
    ("  1/2 A cut head", &[("S107", 12, 3)]),
    ("  1.2.3 A cut head", &[("S107", 12, 3)]),
    ("  place A x,2", &[("S109", 12, 11)]),
    ("  place A 1e400,2", &[("S109", 12, 11)]),
    ("  place A 99999,2", &[("S109", 12, 11)]),
    ("  place A 1,2 facing 9999", &[("S109", 12, 22)]),
    ("  99999999999999999999 A cut head", &[("S109", 12, 3)]),
    ("  repeat 99999999999 every 1 at 1\n  end", &[("S109", 12, 10)]),
    ("  repeat -1 every 1 at 1\n  end", &[("S109", 12, 10)]),
    ("  fighters", &[("S110", 12, 3)]),
    ("  repeat 2 every 2 at 1\n    1 A cut head", &[("S111", 12, 3)]),
    ("  end", &[("S112", 12, 3)]),
    ("  1 A cut head ! steel 20ms", &[("S114", 12, 24)]),
    ("  1 A cut head ! steel +", &[("S114", 12, 24)]),
    ("  1 A cut head ! steel +9999ms", &[("S114", 12, 24)]),
    ("  1 A cut head ! steel 40dB", &[("S114", 12, 24)]),
    ("  1 A cut head ! steel 4 cm", &[("S114", 12, 24)]),
    ("  1 A cut head ! steel +5ms ! grunt", &[("S114", 12, 29)]),
    ("  1 A cut head !", &[("S105", 12, 17)]),
    ("  1.3333 A cut head", &[("S115", 12, 3)]),
    ("  1+1/7 A cut head", &[("S115", 12, 3)]),
    ("  1 D cut head", &[("S207", 12, 5)]),
    ("  1 A cut head / D duck", &[("S207", 12, 18)]),
    ("  1 D walk 1,2 by 3", &[("S207", 12, 5)]),
    ("  place A 1,2 facing D", &[("S207", 12, 22)]),
    ("  1 C cut head", &[("S208", 12, 5)]),
    ("  1 A cut head / C duck", &[("S208", 12, 18)]),
    ("  1 A trust belly", &[("S210", 12, 5 + 2)]),
    ("  1 A thrust bely", &[("S211", 12, 14)]),
    ("  1 A thrust feet", &[("S212", 12, 14)]),
    ("  1 A salute head", &[("S212", 12, 14)]),
    ("  1 A thrust", &[("S213", 12, 7)]),
    ("  1 A cut head / B pary 4", &[("S214", 12, 20)]),
    ("  1 A cut head / B parry", &[("S215", 12, 20)]),
    ("  1 A cut head / B parry 9", &[("S215", 12, 26)]),
    ("  1 A cut head / B parry 4 left", &[("S215", 12, 28)]),
    ("  1 A cut head / B duck head", &[("S215", 12, 25)]),
    ("  1 A cut head / B take", &[("S215", 12, 20)]),
    ("  1 A cut head / B take hed", &[("S211", 12, 25)]),
    ("  1 A cut head left", &[("S216", 12, 16)]),
    ("  1 A thrust belly / B take belly left", &[("S216", 12, 35)]),
    ("  place A 1,2 facing A", &[("S217", 12, 22)]),
    ("  place A 1,2\n  place A 1,3", &[("S218", 13, 9)]),
    ("  0 A cut head", &[("S301", 12, 3)]),
    ("  -1 A cut head", &[("S301", 12, 3)]),
    ("  0+959/960 A cut head", &[("S301", 12, 3)]),
    ("  tempo 90 at 0", &[("S301", 12, 15)]),
    ("  repeat 2 every 2 at 1\n    3 A cut head\n  end", &[("S302", 13, 5)]),
    ("  repeat 2 every 2 at 1\n    1 A walk 1,2 by 3+1/2\n  end", &[("S302", 13, 21)]),
    ("  repeat 2 every 2 at 1\n    repeat 3 every 1 at 1\n    end\n  end", &[("S302", 13, 5)]),
    ("  4 A walk 1,2 by 4", &[("S303", 12, 19)]),
    ("  tempo 84 -> 90 from 5 to 4", &[("S303", 12, 28)]),
    ("  tempo 0", &[("S304", 12, 9)]),
    ("  tempo -84", &[("S304", 12, 9)]),
    ("  tempo NaN", &[("S304", 12, 9)]),
    ("  tempo 1e3", &[("S304", 12, 9)]),
    ("  tempo 84 -> 4000 from 1 to 4", &[("S304", 12, 15)]),
    ("  tempo 84 -> 90 from 1 to 5\n  tempo 90 -> 96 from 4 to 8", &[("S305", 13, 3)]),
    ("  tempo 84 -> 90 from 1 to 5\n  tempo 90 at 3", &[("S305", 13, 3)]),
    ("  tempo 84 at 2\n  tempo 90 at 2", &[("S305", 13, 3)]),
    ("  tempo 84 -> 90 from 1 to 9\n  repeat 3 every 2 at 1\n    tempo 60 at 2\n  end", &[("S305", 14, 5)]),
    ("  repeat 0 every 1 at 1\n  end", &[("S306", 12, 10)]),
    ("  repeat 1 every 0 at 1\n  end", &[("S307", 12, 18)]),
    ("  rest 0", &[("S307", 12, 8)]),
    ("  rest -2", &[("S307", 12, 8)]),
    ("  repeat 2 every 2 at 1\n    rest 1\n  end", &[("S308", 13, 5)]),
    ("  repeat 2 every 2 at 1\n    place A 1,2\n  end", &[("S309", 13, 5)]),
    ("  repeat 100000 every 2 at 1\n  end", &[("S310", 12, 3)]),
    ("  repeat 100000 every 1/2 at 1\n  end", &[("S107", 12, 23)]),
    ("  repeat 60000 every 0.5 at 1\n    1 A cut head\n    1 B cut head\n  end", &[("S311", 12, 3)]),
    ("phrase \"One\"", &[("S206", 12, 8)]),
    ("phrase", &[("S105", 12, 7)]),
    ("phrse Two\n  1 A cut head\n  place A 1,2", &[("S104", 12, 1)]),
    ("  repaet 2 every 2 at 1\n    9 A cut head\n  end", &[("S104", 12, 3)]),
    ("  repeat 2 evry 2 at 1\n    9 A cut head\n  end", &[("S105", 12, 12)]),
    // Everything wrong with a line is said at once.
    (
        "  0 D thrust bely / E pary 4",
        &[("S301", 12, 3), ("S207", 12, 5), ("S211", 12, 14), ("S207", 12, 21), ("S214", 12, 23)],
    ),
];

/// Whole files.
const WHOLE: &[Case] = &[
    ("", &[("S201", 1, 1), ("S203", 1, 1), ("S204", 1, 1)]),
    ("fight A\nfight B\nfighters\nA none none\nphrase P", &[("S202", 2, 7)]),
    ("fight A\ntempo 60\ntempo 70\nfighters\nA none none\nphrase P", &[("S202", 3, 1)]),
    ("fight A\nfighters\nA none none\nA none none\nphrase P", &[("S205", 4, 1)]),
    ("fight A\nfighters\nA none none\nbystanders\nA\nphrase P", &[("S205", 5, 1)]),
    ("fight A\nfighters\nA rapir right\nphrase P", &[("S209", 3, 3)]),
    ("fight A\nfighters\nA rapier rigth\nphrase P\n1 A cut head", &[("S105", 3, 10)]),
    ("fight A\nbeats 0\nfighters\nA none none\nphrase P", &[("S312", 2, 7)]),
    ("fight A\nbeats 33\nfighters\nA none none\nphrase P", &[("S312", 2, 7)]),
    ("fight A\nbeats four\nfighters\nA none none\nphrase P", &[("S109", 2, 7)]),
    ("fight A\ntempo 60 at 2\nfighters\nA none none\nphrase P", &[("S106", 2, 10)]),
    ("fight A\nfighters\nA none none\ntempo 60\nphrase P", &[("S110", 4, 1)]),
    ("fihgt A\nfighters\nA none none\nphrase P", &[("S104", 1, 1)]),
    ("fight A\nfigthers\nA none none\nphrase P\n1 A breathe", &[("S104", 2, 1)]),
    ("fight A\nfighters\nA none none\nphrase \"P\n1 A breathe", &[("S103", 4, 8)]),
    ("fight A\nfighters\nA none none\nphrse P\n1 A breathe", &[("S104", 4, 1)]),
    ("fight \"\"\nfighters\nA none none\nphrase P", &[("S105", 1, 7)]),
];

fn found(text: &str) -> Vec<(&'static str, usize, usize)> {
    let reading = read(text, "bad.fight", &Vocabulary::built_in());
    assert!(reading.score.is_none(), "{text} was read");
    let reports = reading.reports();
    reports.iter().filter(|r| r.severity == Severity::Error).map(|r| (r.code, r.line, r.column)).collect()
}

fn sorted(expected: &[(&'static str, usize, usize)]) -> Vec<(&'static str, usize, usize)> {
    let mut expected = expected.to_vec();
    expected.sort_by_key(|(code, line, column)| (*line, *column, *code));
    expected
}

#[test]
fn every_mistake_is_named_where_it_stands() {
    for (lines, expected) in IN_THE_PHRASE {
        assert_eq!(found(&format!("{SOUND}{lines}\n")), sorted(expected), "{lines}");
    }
    for (text, expected) in WHOLE {
        let mut found = found(text);
        found.sort_by_key(|(code, line, column)| (*line, *column, *code));
        assert_eq!(found, sorted(expected), "{text}");
    }
}

#[test]
fn every_mistake_of_a_file_is_found_in_one_reading() {
    let lines: Vec<&str> =
        vec!["  0 A cut head", "  1 A cutt head", "  tempo 0", "  2 A thrust", "  huh", "  3 A cut head / B parry 9"];
    let codes: Vec<&str> = found(&format!("{SOUND}{}", lines.join("\n"))).into_iter().map(|(code, ..)| code).collect();
    assert_eq!(codes, ["S301", "S210", "S304", "S213", "S104", "S215"]);
}

#[test]
fn the_nearest_word_is_suggested() {
    for (line, near) in [
        ("1 A trust belly", "thrust"),
        ("1 A thrust bely", "belly"),
        ("1 A cut head / B pary 5", "parry"),
        ("1 A cut head / B parry quart", "quarte"),
        ("1 a cut head", "A"),
        ("plase A 1,2", "place"),
    ] {
        let reading = read(format!("{SOUND}{line}"), "bad.fight", &Vocabulary::built_in());
        let help = reading.problems[0].help.clone().unwrap_or_default();
        assert_eq!(help, format!("did you mean `{near}`?"), "{line}");
    }
}

#[test]
fn bytes_that_are_no_text_are_named_with_their_place() {
    let mut bytes = SOUND.as_bytes().to_vec();
    bytes.extend(b"  1 A cut head # \xff\xfe\n  0 A cut head\n");
    let reading = read(&bytes, "bad.fight", &Vocabulary::built_in());
    let reports = reading.reports();
    let found: Vec<_> = reports.iter().map(|r| (r.code, r.line, r.column)).collect();
    assert_eq!(found, [("S100", 12, 18), ("S100", 12, 19), ("S301", 13, 3)]);
    assert!(reports[0].message.contains("FF"));
}

#[test]
fn repeats_may_stand_sixteen_deep_and_no_deeper() {
    let nested = |depth: usize| {
        let open = "repeat 1 every 4 at 1\n".repeat(depth);
        format!("{SOUND}{open}1 A cut head\n{}", "end\n".repeat(depth))
    };
    assert!(read(nested(16), "deep.fight", &Vocabulary::built_in()).score.is_some());
    assert_eq!(found(&nested(17)), [("S113", 28, 1)]);
    assert_eq!(found(&nested(5_000)), [("S113", 28, 1)]);
}

#[test]
fn a_missing_tempo_is_assumed_and_said() {
    let text = "fight A\nfighters\nA none none\nphrase P\n";
    let reading = read(text, "a.fight", &Vocabulary::built_in());
    assert_eq!(reading.problems.iter().map(|p| (p.code, p.severity)).collect::<Vec<_>>(), [("S314", Severity::Advice)]);
    let score = reading.score.unwrap();
    assert_eq!((score.tempo.get(), score.beats_per_bar), (60.0, 4));
    for line in ["tempo 84", "tempo 84 at 1", "tempo 84 -> 90 from 1 to 3"] {
        let reading = read(format!("{text}{line}"), "a.fight", &Vocabulary::built_in());
        assert_eq!((reading.problems.len(), reading.score.unwrap().tempo.get()), (0, 84.0), "{line}");
    }
}

#[test]
fn a_weapon_without_a_hand_is_a_warning() {
    let reading = read("fight A\ntempo 60\nfighters\nA rapier none\nphrase P", "a.fight", &Vocabulary::built_in());
    assert_eq!(
        reading.problems.iter().map(|p| (p.code, p.severity)).collect::<Vec<_>>(),
        [("S219", Severity::Warning)]
    );
    assert!(reading.score.is_some());
}

#[test]
fn tempos_that_agree_are_no_mistake() {
    for lines in [
        "tempo 84\ntempo 84 -> 90 from 1 to 5\ntempo 90 at 5",
        "tempo 84 -> 90 from 1 to 5\ntempo 90 -> 84 from 5 to 9",
        "repeat 3 every 4 at 1\ntempo 84 -> 90 from 1 to 5\nend",
    ] {
        let reading = read(format!("{SOUND}{lines}"), "a.fight", &Vocabulary::built_in());
        assert_eq!(reading.problems, [], "{lines}");
    }
}

#[test]
fn reports_show_the_line_and_point_into_it() {
    let reading = read(format!("{SOUND}  1 A trust belly\n"), "stair.fight", &Vocabulary::built_in());
    let rendered = reading.render(false);
    for part in
        ["error[S210]", "stair.fight:12:7", "1 A trust belly", "^^^^^ expected an action", "did you mean `thrust`?"]
    {
        assert!(rendered.contains(part), "{part} is missing in:\n{rendered}");
    }
    assert!(!rendered.contains('\u{1b}') && reading.render(true).contains('\u{1b}'));
    let json = serde_json::to_value(reading.reports()).unwrap();
    let record = &json[0];
    assert_eq!(
        (&record["file"], &record["code"], &record["severity"]),
        (&"stair.fight".into(), &"S210".into(), &"error".into())
    );
    assert_eq!((&record["line"], &record["column"], &record["end_column"]), (&12.into(), &7.into(), &12.into()));
}

/// The commonest slips get the sentence that mends them.
#[test]
fn the_commonest_slips_are_understood() {
    let rows = [
        ("  1 A cut left flank / B parry 3", "S106", "the side stands behind the target: flank left"),
        ("  1 A cut flank left B parry 3", "S106", "write a slash before the name: / B"),
        ("  1 A cut head / B take left flank", "S106", "the side stands behind the target: flank left"),
        ("  1,5 A cut head", "S105", "numbers have a point, never a comma"),
        ("  place A -1,5,3,0", "S106", "numbers have a point, never a comma"),
        ("  tempo 84,5", "S106", "numbers have a point, never a comma"),
        ("  1 A Cut head", "S210", "did you mean `cut`?"),
        ("  1 A cut Head", "S211", "did you mean `head`?"),
        ("  Repeat 2 every 2 at 1\n    1 A cut head / B parry 5\n  end", "S104", "did you mean `repeat`?"),
    ];
    for (line, code, help) in rows {
        let reading = read(format!("{SOUND}{line}\n"), "bad.fight", &Vocabulary::built_in());
        let said: Vec<_> =
            reading.problems.iter().filter(|it| it.code == code).filter_map(|it| it.help.clone()).collect();
        assert!(said.iter().any(|it| it.contains(help)), "{line}: {:?}", reading.problems);
    }
}
