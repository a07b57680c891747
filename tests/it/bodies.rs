//! Fights that a school would call correct, and each of them made dangerous by one change. The correct ones give no
//! finding at all; a dangerous one gives the finding that names its danger. All were written by the author of the checks,
//! from common practice without a source; those of readers who know nothing of them are in `read_by_directors`.

use holdfast::check::{HouseRules, check};
use holdfast::score::problem::Problem;
use holdfast::score::read;
use holdfast::score::vocabulary::{Mode, Vocabulary};

/// MARET has a dagger in a sheath; TAM a heavy sword; BEN nothing; WREN is left-handed.
const HEAD: &str = "fight \"Little\"\ntempo 60\nfighters\n  MARET rapier right dagger left sheathed\n  OSK rapier right\n  TAM longsword right\n  BEN none none\n  WREN dagger left\nphrase \"One\"\n";

/// A correct fight, a change to it (what is written there, what is written instead), and the finding it makes.
type Case = (&'static str, &'static str, &'static str, &'static str);

/// S3: what was found wrong though it is right, beside what is wrong of the same kind.
const RIGHT_AND_WRONG: &[Case] = &[
    // Time is asked after a fall and a death, and not before.
    (
        "1 OSK stab belly / MARET take belly ! cloth\n2 MARET die ! fall",
        "2 MARET die ! fall",
        "2 MARET die ! fall\n5 MARET breathe",
        "B209",
    ),
    ("1 OSK push / MARET fall ! cloth+fall\n4 MARET rise", "4 MARET rise", "1+1/2 MARET rise", "T301"),
    ("1 MARET fall ! fall\n4 MARET rise", "4 MARET rise", "1+3/4 MARET rise", "T301"),
    ("1 MARET kneel\n3 MARET rise", "3 MARET rise", "1+1/2 MARET rise", "T301"),
    // A thrust to the middle is swept to either side; a cut is not.
    ("1 MARET thrust chest / OSK parry 3 ! steel", "parry 3", "parry 2", "A104"),
    ("1 MARET lunge belly / OSK parry 8 ! steel", "lunge", "cut", "A104"),
    ("1 MARET thrust heart / OSK circle 6 ! steel", "circle 6", "circle 8", "A104"),
    // Steel is not asked of a blow that lands.
    ("1 MARET cut thigh left / OSK take thigh left ! cloth", "OSK take thigh left ! cloth", "OSK parry 7", "H405"),
    ("1 MARET thrust side left / OSK take side left", "take side left", "take head", "A106"),
    // A wounded hand drops the sword.
    ("1 MARET cut wrist right / OSK drop ! steel+fall", "cut wrist right", "cut head", "A103"),
    ("1 MARET cut hand right / OSK drop ! fall\n4 OSK pick-up\n7 OSK salute", "4 OSK pick-up\n", "", "B205"),
    // A double kill, and two who attack at once and meet.
    (
        "1 MARET thrust belly / OSK take belly ! cloth\n1 OSK thrust belly / MARET take belly ! cloth",
        "MARET take belly",
        "MARET parry 4",
        "B201",
    ),
    ("1 MARET cut head / OSK meet ! steel", "OSK meet", "BEN meet", "B205"),
    ("1 MARET cut head / OSK meet ! steel\n1 OSK cut head / MARET meet ! steel", "MARET meet", "MARET duck", "B201"),
    ("1 MARET cut cheek left / OSK meet ! steel", "cut cheek left", "slash cheek left", "A102"),
    // Parry and riposte on half beats are one thing.
    (
        "tempo 84\n1 MARET thrust belly / OSK parry 4 ! steel\n1+1/2 OSK riposte belly / MARET parry 4 ! steel",
        "1+1/2 OSK riposte belly / MARET parry 4",
        "1+1/2 MARET thrust belly / OSK parry 4",
        "T301",
    ),
    (
        "tempo 60\n1 MARET cut head / OSK parry 5 ! steel\n1+1/2 OSK cut head / MARET parry 5 ! steel",
        "1+1/2",
        "1+1/4",
        "T301",
    ),
];

/// S4: acting as if one stood free.
const BODIES: &[Case] = &[
    (
        "1 OSK stab belly / MARET take belly ! cloth\n3 MARET die ! fall\n6 OSK guard",
        "6 OSK guard",
        "6 MARET guard",
        "B209",
    ),
    ("1 MARET die ! fall\n5 OSK walk 1,1 by 8", "OSK walk", "MARET walk", "B209"),
    ("1 MARET die ! fall\n5 OSK stab belly / TAM take belly ! cloth", "TAM take", "MARET take", "B209"),
    ("1 MARET die ! fall\nphrase \"Two\"\n1 OSK salute", "OSK salute", "MARET salute", "B209"),
    (
        "1 OSK trip leg left / MARET fall ! fall\n4 MARET rise\n7 MARET cut head / OSK parry 5 ! steel",
        "4 MARET rise\n",
        "",
        "B203",
    ),
    ("1 MARET fall ! fall\n4 OSK slash head / MARET roll-away ! swish", "roll-away", "duck", "B203"),
    (
        "1 MARET kneel\n4 OSK cut head / MARET parry 5 ! steel",
        "OSK cut head / MARET parry 5 ! steel",
        "OSK slash feet / MARET jump ! swish",
        "B215",
    ),
    ("1 MARET kneel\n4 MARET rise\n7 MARET lunge belly / OSK parry 4 ! steel", "4 MARET rise\n", "", "B215"),
    ("1 MARET kneel\n4 MARET rise\n7 MARET walk 1,1 by 9", "4 MARET rise\n", "", "B215"),
    (
        "1 OSK grab hair / MARET kneel ! cloth\n3 OSK release-grip\n5 MARET rise\n7 MARET advance",
        "5 MARET rise\n",
        "",
        "B215",
    ),
    ("1 OSK slash feet / MARET jump ! swish\n3 OSK cut head / MARET parry 5 ! steel", "3 OSK", "1+1/2 OSK", "T301"),
    ("1 MARET leap\n3 MARET cut head / OSK parry 5 ! steel", "3 MARET", "1+3/4 MARET", "T301"),
    (
        "1 BEN grab wrist right / OSK resist ! cloth\n3 BEN release-grip\n5 OSK cut head / MARET parry 5 ! steel",
        "3 BEN release-grip\n",
        "",
        "B210",
    ),
    (
        "1 BEN grab arm left / OSK resist ! cloth\n3 OSK cut head / MARET parry 5 ! steel\n5 BEN release-grip",
        "grab arm left",
        "grab arm right",
        "B210",
    ),
    ("1 BEN grab shoulder right / OSK break-free ! cloth\n3 OSK walk 1,1 by 5", "break-free", "resist", "B210"),
    (
        "1 BEN choke throat / OSK yield ! grunt\n3 OSK elbow ribs left / BEN stagger ! grunt",
        "3 OSK elbow ribs left / BEN stagger ! grunt",
        "3 OSK pommel ribs left / BEN take ribs left ! grunt",
        "B214",
    ),
    ("1 BEN strangle throat / OSK resist ! grunt\n4 BEN release-grip", "\n4 BEN release-grip", "", "B214"),
    ("1 BEN strangle throat / OSK take throat ! grunt\n4 OSK die ! fall", "4 OSK die ! fall", "4 OSK breathe", "B214"),
    ("1 BEN head-lock / OSK kneel ! grunt\n4 BEN release-grip", "4 BEN release-grip", "4 BEN breathe", "B214"),
    (
        "1 BEN grab chest / OSK yield ! cloth\n3 BEN walk 1,1 by 6\n3 OSK walk 1,2 by 6\n7 BEN release-grip",
        "3 OSK walk 1,2 by 6\n",
        "",
        "B210",
    ),
    ("1 BEN grab chest / OSK resist ! cloth\n3 BEN release-grip\n5 BEN circle", "3 BEN release-grip\n", "", "B210"),
    (
        "1 BEN grab weapon / OSK resist ! cloth\n3 BEN release-grip\n5 OSK cut head / MARET parry 5 ! steel",
        "3 BEN release-grip\n",
        "",
        "B210",
    ),
    (
        "1 OSK corps-a-corps / MARET yield ! steel\n3 MARET throw-off / OSK stagger ! grunt\n6 OSK cut head / MARET parry 5 ! steel",
        "3 MARET throw-off / OSK stagger ! grunt\n",
        "",
        "B211",
    ),
    (
        "1 OSK corps-a-corps / MARET resist ! steel\n3 OSK retire\n5 MARET lunge belly / OSK parry 4 ! steel",
        "3 OSK retire\n",
        "",
        "B211",
    ),
    (
        "1 OSK corps-a-corps / MARET yield ! steel\n3 MARET pommel belly / OSK stagger ! grunt\n6 MARET slash belly / OSK away ! swish",
        "pommel belly / OSK stagger",
        "pommel belly / OSK take belly",
        "B211",
    ),
    (
        "1 BEN grab arm left / OSK yield ! cloth\n3 BEN release-grip",
        "1 BEN grab arm left / OSK yield ! cloth\n",
        "",
        "B217",
    ),
    (
        "1 BEN grab arm left / OSK yield ! cloth\n3 BEN release-grip\n5 OSK slash feet / BEN jump ! swish",
        "3 BEN release-grip\n",
        "",
        "B210",
    ),
];

/// S4: weapons.
const WEAPONS: &[Case] = &[
    ("1 OSK sheathe\n4 OSK draw\n7 OSK guard", "1 OSK sheathe\n", "", "B212"),
    // Lifted with a blade in hand, also where the score does not say by what.
    ("1 OSK drop ! fall\n4 BEN throw / OSK fall ! fall\n8 OSK rise", "1 OSK drop ! fall\n", "", "B232"),
    ("1 MARET draw dagger\n4 MARET guard", "4 MARET guard", "4 MARET draw dagger", "B212"),
    ("1 OSK drop ! fall\n4 OSK pick-up\n7 OSK guard", "1 OSK drop ! fall\n", "", "B213"),
    ("1 OSK drop ! fall\n4 BEN pick-up\n7 BEN salute", "4 BEN pick-up\n", "", "B205"),
    ("1 OSK drop ! fall\n4 BEN pick-up rapier\n7 BEN guard", "pick-up rapier", "pick-up dagger", "B213"),
    ("1 MARET draw dagger\n4 OSK cut head / MARET parry 5 with dagger ! steel", "1 MARET draw dagger\n", "", "B205"),
    (
        "1 MARET draw dagger\n4 OSK thrust belly / MARET parry 4 with dagger ! steel\n4 MARET thrust belly with rapier / OSK take belly ! cloth",
        "thrust belly with rapier",
        "thrust belly with dagger",
        "B201",
    ),
    ("1 OSK thrust belly / BEN parry 4 with hand ! cloth", "BEN parry 4 with hand", "TAM parry 4 with hand", "B218"),
    ("1 BEN disarm / OSK yield ! fall\n4 OSK pick-up\n7 OSK salute", "4 OSK pick-up\n", "", "B205"),
    ("1 TAM cut head / OSK parry 5 ! heavy-steel", "OSK parry 5", "WREN parry 5", "A109"),
    (
        "1 TAM thrust belly / WREN parry 6 ! steel",
        "thrust belly / WREN parry 6",
        "cut flank left / WREN parry 2",
        "A109",
    ),
    ("1 TAM cut head / WREN duck", "duck", "meet ! steel", "A109"),
];

/// S4: blows at vital places, sweeps that are parried, sounds far from their blow.
const TOUCHES: &[Case] = &[
    ("1 MARET cut head clear / OSK take head ! grunt", "cut head clear", "cut head", "A107"),
    ("1 MARET cut head / OSK parry 5 ! steel", "parry 5 ! steel", "take head", "A107"),
    (
        "1 MARET thrust belly / OSK take belly ! cloth",
        "thrust belly / OSK take belly",
        "thrust heart / OSK take heart",
        "A107",
    ),
    ("1 MARET thrust heart placed / OSK take heart ! cloth", " placed", "", "A107"),
    ("1 MARET stab heart / OSK take heart ! cloth", "stab heart", "stab heart contact", "A107"),
    ("1 MARET thrust throat clear / OSK take throat", "clear", "placed", "A107"),
    ("1 MARET lunge throat / OSK parry 6 ! steel", "parry 6 ! steel", "take throat", "A107"),
    ("1 MARET thrust face / OSK parry 4 ! steel", "parry 4 ! steel", "take face", "A107"),
    ("1 TAM strike head clear / OSK fall ! fall", "strike head clear", "strike head", "A107"),
    ("1 MARET slash belly / OSK away ! swish", "away", "parry 4", "A108"),
    ("1 MARET slash head / OSK duck ! swish", "duck", "parry 5", "A108"),
    ("1 MARET cut flank right / OSK parry 3 ! steel", "cut flank right", "cut flank right clear", "A108"),
    ("1 MARET punch jaw left / OSK take jaw left ! punch +20ms", "+20ms", "+400ms", "H406"),
    ("1 MARET cut head / OSK parry 5 ! steel -50ms", "-50ms", "-150ms", "H406"),
    (
        "1 OSK push / MARET fall ! fall +700ms",
        "OSK push / MARET fall ! fall",
        "OSK cut head / MARET parry 5 ! steel",
        "H406",
    ),
];

fn found(vocabulary: &Vocabulary, lines: &str) -> Vec<Problem> {
    let reading = read(format!("{HEAD}{lines}\n"), "little.fight", vocabulary);
    let score = reading.score.unwrap_or_else(|| panic!("{lines}\n{:?}", reading.problems));
    check(&score, vocabulary, &HouseRules::default()).findings
}

fn judge(cases: &[Case]) {
    let vocabulary = Vocabulary::built_in();
    let mut wrong = Vec::new();
    for (correct, from, to, code) in cases.iter().filter(|(_, _, _, code)| !code.is_empty()) {
        assert!(correct.contains(from), "{correct}\nhas no {from}");
        let alarms = found(&vocabulary, correct);
        if !alarms.is_empty() {
            wrong.push(format!("false alarm on\n{correct}\n{alarms:?}"));
        }
        let dangerous = correct.replacen(from, to, 1);
        let findings = found(&vocabulary, &dangerous);
        if !findings.iter().any(|finding| finding.code == *code) {
            wrong.push(format!("no {code} on\n{dangerous}\n{findings:?}"));
        }
        for finding in &findings {
            assert!(finding.help.is_some(), "{} has no remedy", finding.message);
        }
    }
    assert!(wrong.is_empty(), "{} of {} are wrong:\n{}", wrong.len(), cases.len(), wrong.join("\n\n"));
}

#[test]
fn what_was_called_wrong_is_right_and_its_neighbour_is_not() {
    judge(RIGHT_AND_WRONG);
}

#[test]
fn nobody_acts_as_if_they_stood_free() {
    judge(BODIES);
}

#[test]
fn weapons_are_where_they_were_left() {
    judge(WEAPONS);
}

#[test]
fn what_must_not_land_does_not() {
    judge(TOUCHES);
}

/// A company whose school does it otherwise says so in its vocabulary, and the checks follow.
#[test]
fn a_company_may_say_otherwise() {
    let rows = [
        (
            "1 MARET kneel\n4 MARET lunge belly / OSK parry 4 ! steel",
            "B215",
            "[actions.lunge]\nposture = \"standing\"\n",
        ),
        ("1 MARET slash belly / OSK parry 4 ! steel", "A108", "[actions.slash]\ntouch = \"blades\"\n"),
        ("1 MARET thrust heart / OSK take heart ! cloth", "A107", "[targets.heart]\nvital = \"no\"\n"),
        ("1 TAM cut head / WREN parry 5 ! steel", "A109", "[weapons.dagger]\nweight = 2\n"),
        (
            "1 OSK corps-a-corps / MARET yield ! steel\n3 MARET cut head / OSK parry 5 ! steel",
            "B211",
            "[actions.corps-a-corps]\nmakes = []\n",
        ),
        ("1 BEN grab chest / OSK yield ! cloth", "B214", "[actions.grab]\nmakes = []\n"),
        ("1 MARET fall ! fall\n2 MARET rise", "T301", "[actions.fall]\nafter_ms = 0\n"),
    ];
    for (lines, code, words) in rows {
        let has = |vocabulary: &Vocabulary| found(vocabulary, lines).iter().any(|it| it.code == code);
        assert!(has(&Vocabulary::built_in()), "{lines}");
        assert!(!has(&Vocabulary::from_toml(words, "ours.toml", Mode::Extend).unwrap()), "{words}{lines}");
    }
}
