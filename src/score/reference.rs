//! The reference of the format: every form of line with an example, and every word of a vocabulary. The forms stand beside
//! the words that the parser knows, each example is read by a test, and the words come from the vocabulary, so that
//! nothing here can say what is not so.

use std::fmt::Write as _;

use super::vocabulary::{
    Action, Effect, Limb, Makes, Need, OwnPicture, Posture, Reply, ReplyArgument, Target, Touch, Vital, Vocabulary,
    Words,
};
use crate::units::Micros;

/// A form of line.
pub struct Form {
    /// The word it begins with; nothing for lines that begin with a beat or a name.
    pub word: Option<&'static str>,
    /// How it is written. Words in capitals stand for what is chosen; what stands in brackets can be left out.
    pub form: &'static str,
    /// What it means.
    pub means: &'static str,
    /// A line that is written so.
    pub example: &'static str,
}

const fn form(word: &'static str, form: &'static str, means: &'static str, example: &'static str) -> Form {
    Form { word: Some(word), form, means, example }
}

const fn line(form: &'static str, means: &'static str, example: &'static str) -> Form {
    Form { word: None, form, means, example }
}

/// The lines of the header.
pub const HEADER: &[Form] = &[
    form(
        "fight",
        "fight NAME",
        "The fight's name, first of all. Names with spaces are quoted.",
        "fight \"The Salt Stair\"",
    ),
    form("beats", "beats NUMBER", "Beats in a bar; 4 without it.", "beats 4"),
    form("tempo", "tempo NUMBER", "Performance tempo, beats a minute.", "tempo 84"),
    form("fighters", "fighters", "Whoever fights stands on the lines under it.", "fighters"),
    line(
        "NAME WEAPON HAND [sheathed] [WEAPON HAND [sheathed]]",
        "A fighter: the weapon and its hand (right, left, none), and perhaps a second one.",
        "MARET rapier right dagger left sheathed",
    ),
    form(
        "bystanders",
        "bystanders",
        "Whoever only has to be safe, and may walk: a name on each line under it. Whoever ducks, falls or dies stands under `fighters`, with `none none` for bare hands.",
        "bystanders",
    ),
];

/// The lines of a phrase.
pub const PHRASE: &[Form] = &[
    form(
        "phrase",
        "phrase NAME [tempo NUMBER]",
        "A new phrase. Its beats count from 1.",
        "phrase \"Across the quay\" tempo 90",
    ),
    form(
        "place",
        "place NAME X,Y [facing NAME or DEGREES]",
        "Where somebody stands when the phrase begins: metres to audience right, and upstage.",
        "place MARET -1.5,3.0 facing OSK",
    ),
    line(
        "BEAT NAME ACTION [TARGET] [left or right] / NAME REPLY [WHICH] [! SOUNDS] [\"WORDS\"]",
        "A move: who does what where, and after the / who answers how. Sides are those of the one who is hit.",
        "4+1/2 MARET cut flank right / OSK parry 3 ! steel \"low\"",
    ),
    line("BEAT NAME ACTION … at NAME", "Whom an action without an answer is meant for.", "5 MARET feint head at OSK"),
    line(
        "BEAT NAME ACTION … with WEAPON",
        "Which weapon, or `hand`, does it; a reply can say it too.",
        "5 MARET thrust belly / OSK parry 4 with hand",
    ),
    line(
        "BEAT NAME ACTION … contact, placed or clear",
        "What touches, where it is otherwise than the words below say.",
        "6 MARET thrust chest placed / OSK take chest",
    ),
    line(
        "BEAT NAME ACTION … hidden upstage, downstage, stage-left or stage-right",
        "On which side of the bodies a wound or a blow that must not land has its gap: the seats across are not to see it. It is checked on the stage's plan.",
        "6 MARET thrust flank left hidden upstage / OSK take flank left",
    ),
    line(
        "BEAT NAME bind from PARRY to PARRY",
        "Lines that a blade is carried from and to, by the parries of the one who does it.",
        "7 MARET bind from 4 to 8 / OSK yield",
    ),
    line("BEAT NAME walk X,Y by BEAT", "Footwork: there by that beat.", "8 MARET walk 0.5,2.0 by 10"),
    line(
        "BEAT NAME walk further X,Y by BEAT",
        "So much further than where they stand; in a repeat, each round again.",
        "8 MARET walk further 0.5,0 by 10",
    ),
    line(
        "BEAT NAME walk … by BEAT around X,Y [clockwise or anticlockwise]",
        "Along a circle about that point; the shorter way, unless one is written.",
        "8 MARET walk 1,2 by 10 around 0,2 clockwise",
    ),
    line("BEAT ! SOUNDS", "A sound of its own: NAME+NAME +20ms -3dB.", "11 ! bell -3dB"),
    form("tempo", "tempo NUMBER [at BEAT]", "Another tempo from a beat on.", "tempo 90 at 12"),
    form(
        "tempo",
        "tempo NUMBER -> NUMBER from BEAT to BEAT",
        "A tempo that changes, linear in beats.",
        "tempo 90 -> 108 from 13 to 17",
    ),
    form(
        "repeat",
        "repeat NUMBER every BEATS at BEAT",
        "Lines up to `end`, so many times; inside, beats count from 1.",
        "repeat 3 every 2 at 18",
    ),
    form("end", "end", "The end of a repeat.", "end"),
    form(
        "use",
        "use PATTERN at BEAT by NAME, NAME",
        "A pattern, done by these people in the order of its roles.",
        "use \"Square\" at 25 by MARET, OSK",
    ),
    form(
        "use",
        "use … [with WORD, WORD] [times NUMBER] [mirrored] [swapped] [other-height] [stage NAME]",
        "The words it leaves open; how often; left and right, the first two roles, high and low exchanged; up to which stage (without it, all). In a mirror each parry becomes the one across the body; a left-hander, who is a mirror already, keeps the number.",
        "use \"Square\" at 29 by OSK, MARET times 2 mirrored swapped",
    ),
    form(
        "use",
        "use … [about X,Y] [turned DEGREES] [travel X,Y] [turn DEGREES]",
        "Where its own 0,0 lies, how it is turned, and how much further each round is or is turned.",
        "use \"Square\" at 37 by MARET, OSK about 0,3 turn 90",
    ),
    form("rest", "rest BEATS", "The phrase lasts so much longer.", "rest 2"),
];

/// The lines of a pattern.
pub const PATTERN: &[Form] = &[
    form(
        "pattern",
        "pattern NAME for ROLE, ROLE [with WORD, WORD] [every BEATS]",
        "A pattern, written once with roles for names. Under it moves, walks, sounds, repeats, and uses of other patterns.",
        "pattern \"Square\" for A, B",
    ),
    line("BEAT ROLE ACTION … / ROLE REPLY …", "A move of the pattern.", "1 A cut head / B parry 5 ! steel"),
    form(
        "stage",
        "stage NAME",
        "What follows comes with this stage, on top of the ones before.",
        "stage \"travelling\"",
    ),
    form("travel", "travel X,Y", "Each round is so much further than the one before.", "travel 0.5,0"),
    form("turn", "turn DEGREES", "Each round is turned so much further about 0,0, with the clock.", "turn 45"),
];

/// The widest line that is written, in characters.
const WIDEST: usize = 96;

/// The whole reference as plain text.
pub fn reference(vocabulary: &Vocabulary) -> String {
    let mut out = String::from(
        "HOW A FIGHT IS WRITTEN\n\nOne line is one thing. `#` begins a comment. Beats are 3, 3.5 or 3+1/2; numbers have a point, never a comma.\nWords are written small, names as they stand under `fighters`. The side stands behind the target: flank left.\n",
    );
    forms(&mut out, "The header", HEADER);
    forms(&mut out, "A pattern", PATTERN);
    forms(&mut out, "A phrase", PHRASE);
    out.push_str("\nTHE WORDS\n\nTimes are planning values, never permission: the fight director decides.\nWhat is done is done on the feet or a knee, where nothing else is said.\n");
    section(&mut out, "Actions, with their targets", vocabulary.actions.iter().map(|(word, row)| (word, action(row))));
    section(
        &mut out,
        "Replies, with the actions they answer",
        vocabulary.replies.iter().map(|(word, row)| (word, reply(vocabulary, row))),
    );
    let parries = vocabulary.parries.iter().map(|(number, row)| {
        let also: String = row.also_closes.iter().map(|line| format!(", in some schools {}", line.word())).collect();
        (number, format!("{}: closes {}{also}", row.names.join(", "), row.closes.word()))
    });
    section(&mut out, "Parries (inside is away from the weapon hand)", parries);
    section(&mut out, "Targets", vocabulary.targets.iter().map(|(word, row)| (word, target(row))));
    let weapons = vocabulary.weapons.iter().map(|(word, row)| {
        let weight = ["", "light", "middling", "heavy"].get(usize::from(row.weight)).copied().unwrap_or_default();
        let said = if row.armed {
            format!("{} m long, {weight}, for {} hand(s)", row.total.0, row.hands)
        } else {
            "the bare hand".to_owned()
        };
        (word, said)
    });
    section(&mut out, "Weapons", weapons);
    section(&mut out, "Sounds", vocabulary.sounds.iter().map(|(word, row)| (word, row.about.clone())));
    out
}

fn forms(out: &mut String, title: &str, forms: &[Form]) {
    let _ = write!(out, "\n{title}\n\n");
    for form in forms {
        // Writing to a string does not fail.
        let _ = write!(out, "  {}\n{}      for example:  {}\n", form.form, wrapped(form.means, "      "), form.example);
    }
}

fn section<'w>(out: &mut String, title: &str, rows: impl Iterator<Item = (&'w String, String)>) {
    let _ = write!(out, "\n{title}\n\n");
    for (word, said) in rows {
        let body = wrapped(&said, "                  ");
        let _ = write!(out, "  {word:<16}{}{}", if word.len() < 16 { "" } else { "  " }, body.trim_start_matches(' '));
    }
}

/// Words in lines of at most [`WIDEST`] characters, each indented.
fn wrapped(text: &str, indent: &str) -> String {
    let mut lines = vec![indent.to_owned()];
    for word in text.split(' ') {
        let full = lines
            .last()
            .is_some_and(|line| line.len() > indent.len() && line.chars().count() + word.chars().count() > WIDEST);
        if full {
            lines.push(indent.to_owned());
        }
        if let Some(line) = lines.last_mut() {
            if line.len() > indent.len() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.into_iter().map(|line| line + "\n").collect()
}

fn action(row: &Action) -> String {
    let touch = match row.touch {
        Touch::Blades => "blades meet",
        Touch::Bodies => "bodies touch",
        Touch::Placed => "the blade is laid on",
        Touch::Nothing if row.needs_weapon && row.attack => "passes clear",
        Touch::Nothing => "touches nothing",
    };
    let targets = match (row.targets.is_empty(), row.target_needed) {
        (true, _) if row.names_weapon => "[a weapon]".to_owned(),
        (true, _) => "no target".to_owned(),
        (false, true) => row.targets.join(", "),
        (false, false) => format!("[{}]", row.targets.join(", ")),
    };
    let answer = if row.attack { "needs an answer" } else { "needs none" };
    let body = body(row.posture, &row.needs, &row.makes, &row.effects);
    let way = row.goes().map_or_else(String::new, |goes| match row.limb() {
        Limb::Body => format!("; goes {}", goes.says()),
        limb => format!("; with {}, {}", limb.says(), goes.says()),
    });
    let own = own(row.picture.as_ref());
    format!("{targets}; {touch}; {answer}; {}{body}{way}{own}", lasts(row.least, row.after))
}

/// The company's own picture.
fn own(picture: Option<&OwnPicture>) -> String {
    picture.map_or_else(String::new, |picture| format!("; drawn in pictures/{}", picture.file))
}

fn lasts(least: Micros, after: Micros) -> String {
    let after = if after.0 > 0 { format!(" and {:.2} s after", after.as_seconds()) } else { String::new() };
    format!("{:.2} s before its beat{after}", least.as_seconds())
}

/// What a word needs of a body and makes of it.
fn body(posture: Posture, needs: &[Need], makes: &[Makes], effects: &[Effect]) -> String {
    let posture = match posture {
        Posture::Standing => None,
        Posture::Feet => Some("on the feet"),
        Posture::Down => Some("lying"),
        Posture::Low => Some("lying or on a knee"),
        Posture::Any => Some("standing, kneeling or lying"),
    };
    let needs = needs.iter().map(|need| match need {
        Need::Unheld => "not held",
        Need::HoldsNobody => "holding nobody",
        Need::Room => "not body to body",
        Need::Grip => "holding somebody",
        Need::Hand => "a hand free",
        Need::BothHands => "both hands free",
        Need::WeaponArm => "the weapon's arm not held",
        Need::Legs => "no leg held",
        Need::Blades => "blades together",
    });
    let makes = makes.iter().filter_map(|makes| match makes {
        Makes::Holds => Some("takes hold"),
        Makes::Releases => Some("lets go"),
        Makes::Frees => Some("gets free"),
        Makes::Closes => Some("brings them body to body"),
        Makes::Parts => Some("parts them"),
        Makes::Kneels => Some("ends on a knee"),
        Makes::Dies => Some("ends dead"),
        Makes::HandsOver => Some("whom it is meant for catches it"),
        Makes::FromSheath | Makes::FromFloor | Makes::ToSheath => None,
    });
    let effects = effects.iter().filter_map(|effect| match effect {
        Effect::DisarmsOther => Some("the partner's weapon falls when they yield or take it"),
        Effect::DownsOther => Some("the partner is on the floor when they yield or take it"),
        Effect::GoesDown => Some("ends on the floor"),
        Effect::GetsUp => Some("ends on the feet"),
        Effect::DisarmsSelf | Effect::TakesWeapon => None,
    });
    let said: Vec<&str> = posture.into_iter().chain(needs).chain(makes).chain(effects).collect();
    if said.is_empty() { String::new() } else { format!("; {}", said.join(", ")) }
}

fn reply(vocabulary: &Vocabulary, row: &Reply) -> String {
    let written = match row.kind.argument() {
        ReplyArgument::None => "alone",
        ReplyArgument::Parry => "with the number or name of a parry",
        ReplyArgument::Target => "with the place that was hit",
    };
    let list = |words: &Words, all: &str| match words {
        Words::Any => all.to_owned(),
        Words::These(words) => words.join(", "),
    };
    let targets = match &row.targets {
        Words::Any => String::new(),
        Words::These(words) => format!(", at {}", words.join(", ")),
    };
    let body = body(row.posture, &row.needs, &row.makes, &row.effects);
    let (answers, lasts) = (list(&row.actions, "every action"), lasts(row.least, row.after));
    let way = vocabulary.reply_goes(row).map_or_else(String::new, |goes| format!("; the body: {}", goes.says()));
    format!("written {written}; answers {answers}{targets}; {lasts}{body}{way}{}", own(row.picture.as_ref()))
}

fn target(row: &Target) -> String {
    let sides = if row.sided { "left or right" } else { "without sides" };
    let vital = match row.vital {
        Vital::No => "",
        Vital::Placed => "; no full blow may land",
        Vital::Never => "; no blade may touch it",
    };
    let place = row.spot().map_or_else(String::new, |spot| format!("; shown on the {}", spot.part.says()));
    format!("{sides}{vital}{place}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::read;

    /// Every form of line is read as it is shown, and every word that a line can begin with is shown.
    #[test]
    fn every_example_is_read() {
        let lines = |forms: &[Form]| forms.iter().map(|form| format!("{}\n", form.example)).collect::<String>();
        let header = lines(HEADER).replace("bystanders", "OSK rapier right\nbystanders\nPELL");
        let phrase = lines(PHRASE).replace("end\n", "1 MARET cut head / OSK parry 5\nend\n");
        let text = format!("{header}{}{phrase}", lines(PATTERN));
        let reading = read(&text, "reference.fight", &Vocabulary::built_in());
        assert!(reading.score.is_some(), "{text}\n{}", reading.render(false));
        for form in HEADER.iter().chain(PHRASE).chain(PATTERN) {
            assert!(form.word.is_none_or(|word| form.form.starts_with(word) && form.example.starts_with(word)));
        }
        let shown = |word: &&&str| HEADER.iter().chain(PHRASE).chain(PATTERN).any(|form| form.word == Some(**word));
        let known = crate::score::parse::first_words();
        let missing: Vec<&&str> = known.iter().filter(|word| !shown(word)).collect();
        assert!(missing.is_empty(), "{missing:?} have no form");
    }

    #[test]
    fn every_word_is_in_it() {
        let vocabulary = Vocabulary::built_in();
        let text = reference(&vocabulary);
        let words = vocabulary.actions.keys().chain(vocabulary.replies.keys()).chain(vocabulary.targets.keys());
        let words = words.chain(vocabulary.weapons.keys()).chain(vocabulary.sounds.keys());
        for word in words.map(String::as_str).chain(vocabulary.parry_words()) {
            assert!(text.contains(word), "{word}");
        }
        assert!(text.lines().all(|line| line.chars().count() <= 120), "{text}");
    }
}
