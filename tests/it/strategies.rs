//! Generators that the property tests share: the text of arbitrary sound scores, written as untidily as the grammar
//! allows. They are sound to read, not sound to fight: the checks may find what they like in them.

use holdfast::score::vocabulary::{ReplyArgument, Vocabulary};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// The cast that every generated score has: three fighters and a bystander, one name with a space.
const FIGHTERS: [(&str, &str, &str); 3] =
    [("MARET", "rapier", "right"), ("OSK", "dagger", "left"), ("\"OLD TAM\"", "none", "none")];
const BYSTANDER: &str = "PELL";

/// The text of a sound score.
pub(crate) fn score_text() -> impl Strategy<Value = String> {
    let header = (1u32..=12, proptest::option::of(tempo()));
    (header, vec(phrase(), 1..4), spelling()).prop_map(|((beats, tempo), phrases, spelling)| {
        let mut lines = vec!["fight \"The # Stair\"".to_owned(), format!("beats {beats}")];
        lines.extend(tempo.map(|tempo| format!("tempo {tempo}")));
        lines.push("fighters".to_owned());
        lines.extend(FIGHTERS.iter().map(|(name, weapon, hand)| format!("{name} {weapon} {hand}")));
        lines.extend(["bystanders".to_owned(), BYSTANDER.to_owned()]);
        for (number, phrase) in phrases.into_iter().enumerate() {
            lines.push(format!(
                "phrase \"Phrase {number}\"{}",
                phrase.tempo.map_or(String::new(), |t| format!(" tempo {t}"))
            ));
            lines.extend(phrase.lines);
        }
        spelling.apply(&lines)
    })
}

/// How untidily the lines are written; cycled through.
#[derive(Clone, Debug)]
struct Spelling {
    spaces: Vec<&'static str>,
    after: Vec<&'static str>,
    line_end: &'static str,
    bom: bool,
}

fn spelling() -> impl Strategy<Value = Spelling> {
    let spaces = vec(select(vec!["", " ", "  ", "\t", "      "]), 1..6);
    let after = vec(select(vec!["", "", "", "  # slow", " # \"quoted\" ! / ", "#", "\n", "\n\n# alone\n"]), 1..6);
    (spaces, after, select(vec!["\n", "\r\n"]), any::<bool>()).prop_map(|(spaces, after, line_end, bom)| Spelling {
        spaces,
        after,
        line_end,
        bom,
    })
}

impl Spelling {
    fn apply(&self, lines: &[String]) -> String {
        let mut out = String::from(if self.bom { "\u{feff}" } else { "" });
        for (number, line) in lines.iter().enumerate() {
            out.push_str(self.spaces[number % self.spaces.len()]);
            out.push_str(line);
            out.push_str(&self.after[number % self.after.len()].replace('\n', self.line_end));
            out.push_str(self.line_end);
        }
        out
    }
}

#[derive(Clone, Debug)]
struct Phrase {
    tempo: Option<String>,
    lines: Vec<String>,
}

fn phrase() -> impl Strategy<Value = Phrase> {
    (proptest::option::of(tempo()), places(), vec(timed(24), 0..8), repeats(), tempos(), proptest::option::of(1u32..4))
        .prop_map(|(tempo, places, timed, repeats, tempos, rest)| {
            let mut lines = places;
            lines.extend(timed);
            lines.extend(repeats);
            lines.extend(tempos);
            lines.extend(rest.map(|beats| format!("rest {beats}")));
            Phrase { tempo, lines }
        })
        .prop_map(|phrase| Phrase { lines: phrase.lines.into_iter().flat_map(into_lines).collect(), ..phrase })
}

fn into_lines(text: String) -> Vec<String> {
    text.split('\n').map(str::to_owned).collect()
}

fn tempo() -> impl Strategy<Value = String> {
    prop_oneof![(10u32..=400).prop_map(|bpm| bpm.to_string()), (10u32..400).prop_map(|bpm| format!("{bpm}.5"))]
}

/// Tempo changes that cannot contradict each other: each has four beats of its own, from beat 2 on.
fn tempos() -> impl Strategy<Value = Vec<String>> {
    vec((tempo(), proptest::option::of(tempo())), 0..3).prop_map(|changes| {
        let line = |(number, (tempo, end)): (usize, (String, Option<String>))| {
            let at = 2 + number * 4;
            match end {
                Some(end) => format!("tempo {tempo} -> {end} from {at} to {}", at + 3),
                None => format!("tempo {tempo} at {at}+1/3"),
            }
        };
        changes.into_iter().enumerate().map(line).collect()
    })
}

fn places() -> impl Strategy<Value = Vec<String>> {
    let facing = select(vec!["", " facing PELL", " facing -90", " facing 12.5"]);
    vec((point(), facing), 0..=FIGHTERS.len()).prop_map(|marks| {
        let mark = |((name, _, _), (point, facing)): (&(&str, &str, &str), (String, &str))| {
            format!("place {name} {point}{facing}")
        };
        FIGHTERS.iter().zip(marks).map(mark).collect()
    })
}

fn point() -> impl Strategy<Value = String> {
    (-99i32..99, 0i32..99, any::<bool>())
        .prop_map(|(x, y, wide)| format!("{}.{}{}{y}", x / 10, (x % 10).abs(), if wide { " , " } else { "," }))
}

/// A beat from 1 up to, and without, `1 + length`, in any spelling.
fn beat(length: u32) -> impl Strategy<Value = String> {
    (1..=length, select(vec!["", "+1/2", "+2/3", ".5", ".25", "+7/960", "+0/1", ".000"]))
        .prop_map(|(whole, part)| format!("{whole}{part}"))
}

/// One repeat with moves, perhaps with another inside it.
fn repeats() -> impl Strategy<Value = Vec<String>> {
    let inner = (1u32..3, vec(timed(2), 0..3));
    proptest::option::of((1u32..4, vec(timed(8), 0..3), proptest::option::of(inner), beat(20))).prop_map(|repeat| {
        let Some((times, lines, inner, at)) = repeat else { return Vec::new() };
        let mut all = vec![format!("repeat {times} every 8+1/2 at {at}")];
        all.extend(lines);
        if let Some((times, lines)) = inner {
            all.push(format!("repeat {times} every 3 at 1+1/2"));
            all.extend(lines);
            all.push("end".to_owned());
        }
        all.push("end".to_owned());
        all
    })
}

/// A move, a walk or a sound whose beats lie in `length` beats.
fn timed(length: u32) -> impl Strategy<Value = String> {
    prop_oneof![
        6 => (beat(length), a_move(), sounds(), words()).prop_map(|(at, line, sounds, words)| format!("{at} {line}{sounds}{words}")),
        1 => (1..=length, person(), point(), course()).prop_map(move |(at, who, point, (further, around))| {
            format!("{at} {who} walk {further}{point} by {at}+1/2{around}")
        }),
        1 => (beat(length), words()).prop_map(|(at, words)| format!("{at} ! bell{words}")),
    ]
}

/// What a walk can say besides its mark; nobody's mark lies as far away as the middle of the circle.
fn course() -> impl Strategy<Value = (&'static str, &'static str)> {
    let around = vec!["", " around 99,99", " around -99,99.5 clockwise", "  around 99 , -99 anticlockwise"];
    (select(vec!["", "further "]), select(around))
}

fn person() -> impl Strategy<Value = &'static str> {
    select(FIGHTERS.iter().map(|(name, _, _)| *name).chain([BYSTANDER]).collect::<Vec<_>>())
}

fn fighter() -> impl Strategy<Value = &'static str> {
    select(FIGHTERS.map(|(name, _, _)| name).to_vec())
}

/// Any action of the built-in vocabulary with a target it may take, and perhaps any reply.
fn a_move() -> impl Strategy<Value = String> {
    let vocabulary = Vocabulary::built_in();
    let mut actions = Vec::new();
    for (word, action) in vocabulary.actions.iter().filter(|(word, _)| *word != "walk") {
        if !action.target_needed {
            actions.push(word.clone());
        }
        for target in &action.targets {
            actions.push(format!("{word} {target}"));
            if vocabulary.targets[target].sided {
                actions.extend([format!("{word} {target} left"), format!("{word} {target} right")]);
            }
        }
    }
    let hidden =
        select(vec!["", "", "", " hidden upstage", " hidden downstage", " hidden stage-left", " hidden stage-right"]);
    (fighter(), select(actions), hidden, proptest::option::of((fighter(), select(replies(&vocabulary))))).prop_map(
        |(who, action, hidden, reply)| {
            let reply = reply.map_or(String::new(), |(other, reply)| format!(" / {other} {reply}"));
            format!("{who} {action}{hidden}{reply}")
        },
    )
}

fn replies(vocabulary: &Vocabulary) -> Vec<String> {
    let mut replies = Vec::new();
    for (word, reply) in &vocabulary.replies {
        match reply.kind.argument() {
            ReplyArgument::None => replies.push(word.clone()),
            ReplyArgument::Parry => replies.extend(vocabulary.parry_words().map(|parry| format!("{word} {parry}"))),
            ReplyArgument::Target => replies.extend(vocabulary.targets.keys().map(|target| format!("{word} {target}"))),
        }
    }
    replies
}

fn sounds() -> impl Strategy<Value = &'static str> {
    select(vec![
        "",
        " ! steel",
        "!steel+heavy-steel + grunt +20ms",
        " ! cloth -15 ms -3.5 dB",
        " ! swish 2dB",
        " ! steel+1ms ! grunt +1ms",
        " ! \"3 bells\"+\"take-2\" -0dB",
    ])
}

fn words() -> impl Strategy<Value = &'static str> {
    select(vec!["", "", " \"let the blades talk\"", "\"# not a comment ! / 4\"", " \"\""])
}
