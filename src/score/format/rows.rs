//! How each kind of line is written, and the columns of a block's lines.

use super::columns::{Row, widest, width};
use crate::score::lex::needs_quotes;
use crate::score::model::Hand;
use crate::score::raw::{
    RawFacing, RawFighter, RawHalf, RawLine, RawMove, RawPattern, RawPhrase, RawPlace, RawPoint, RawScore, RawSound,
    RawSounds, RawTempo, RawTempoWhen, RawUse, RawWalk, Statement, Text,
};
use crate::score::sounds;

/// The widest that a name, and any other cell, makes its column.
const WIDEST_NAME: usize = 24;
const WIDEST: usize = 40;

/// The widths of a block's columns.
pub(super) struct Columns {
    /// Where beats end, counted from the margin, so that names stand under each other inside and outside repeats.
    beat: usize,
    name: usize,
    action: usize,
    reply: usize,
    sounds: usize,
    placed: usize,
    x: usize,
    cast: usize,
    weapon: usize,
}

/// The column of names in moves: the same in all phrases.
pub(super) fn name_column(raw: &RawScore) -> usize {
    let statements = raw.lines.iter().filter_map(|line| line.statement.as_ref());
    let names = statements.filter_map(|statement| match statement {
        Statement::Fighter(fighter) => Some(width(&name(&fighter.name.value))),
        Statement::Bystander(bystander) => Some(width(&name(&bystander.value))),
        _ => None,
    });
    widest(names, 0, WIDEST_NAME)
}

impl Columns {
    /// The columns that these lines need.
    pub(super) fn of(block: &[RawLine], indents: &[usize], name_column: usize) -> Columns {
        let lines = || block.iter().zip(indents).filter_map(|(line, indent)| Some((line.statement.as_ref()?, *indent)));
        let over = |least, most, cell: &dyn Fn(&Statement, usize) -> Option<usize>| {
            widest(lines().filter_map(|(statement, indent)| cell(statement, indent)), least, most)
        };
        Columns {
            beat: over(7, WIDEST, &|statement, indent| beat(statement).map(|beat| indent + width(beat))),
            name: name_column,
            action: over(18, WIDEST, &|statement, _| match statement {
                Statement::Move(line) if line.reply.is_some() || !line.sounds.is_empty() || line.text.is_some() => {
                    Some(width(&words(&line.action)))
                }
                _ => None,
            }),
            reply: over(15, WIDEST, &|statement, _| match statement {
                Statement::Move(line) if !line.sounds.is_empty() || line.text.is_some() => {
                    line.reply.as_ref().map(|reply| width(&words(reply)))
                }
                _ => None,
            }),
            sounds: over(9, WIDEST, &|statement, _| match statement {
                Statement::Move(line) if line.text.is_some() => Some(width(&cues(&line.sounds)).saturating_sub(2)),
                Statement::Sound(line) if line.text.is_some() => Some(width(&cues(&line.sounds)).saturating_sub(2)),
                _ => None,
            }),
            placed: over(0, WIDEST_NAME, &|statement, _| match statement {
                Statement::Place(line) => Some(width(&name(&line.who.value))),
                _ => None,
            }),
            x: over(0, WIDEST_NAME, &|statement, _| match statement {
                Statement::Place(line) => Some(width(&line.point.x.value.1)),
                _ => None,
            }),
            cast: over(6, WIDEST_NAME, &|statement, _| match statement {
                Statement::Fighter(line) => Some(width(&name(&line.name.value))),
                _ => None,
            }),
            weapon: over(6, WIDEST_NAME, &|statement, _| match statement {
                Statement::Fighter(line) => Some(width(&line.weapon.value)),
                _ => None,
            }),
        }
    }
}

/// True for a line that begins with a beat.
pub(super) fn is_timed(line: &RawLine) -> bool {
    line.statement.as_ref().is_some_and(|statement| beat(statement).is_some())
}

/// One line, without its comment.
pub(super) fn write(statement: &Statement, indent: usize, columns: &Columns) -> String {
    let row = Row::indented(indent);
    let row = match statement {
        Statement::Fight(name) => row.text(&format!("fight {}", quoted(&name.value))),
        Statement::Beats(beats) => row.text(&format!("beats {}", beats.value)),
        Statement::FightersHead => row.text("fighters"),
        Statement::Fighter(fighter) => cast(row, fighter, columns),
        Statement::BystandersHead => row.text("bystanders"),
        Statement::Bystander(bystander) => row.text(&name(&bystander.value)),
        Statement::Phrase(phrase) => row.text(&phrase_head(phrase)),
        Statement::Tempo(tempo) => row.text(&tempo_words(tempo)),
        Statement::Place(place) => placed(row, place, columns),
        Statement::Move(line) => moved(row, line, indent, columns),
        Statement::Walk(walk) => walked(row, walk, indent, columns),
        Statement::Sound(sound) => sounded(row, sound, indent, columns),
        Statement::Repeat(line) => {
            row.text(&format!("repeat {} every {} at {}", line.times.value, line.every.value, line.at.value))
        }
        Statement::End => row.text("end"),
        Statement::Rest(length) => row.text(&format!("rest {}", length.value)),
        Statement::Pattern(pattern) => row.text(&pattern_head(pattern)),
        Statement::Stage(stage) => row.text(&format!("stage {}", quoted(&stage.value))),
        Statement::Travel(by) => row.text(&format!("travel {}", point(by))),
        Statement::Turn(by) => row.text(&format!("turn {}", by.value.1)),
        Statement::Use(used) => row.text(&use_words(used)),
        // A score with a broken line is refused before it comes here.
        Statement::Broken(_) => row,
    };
    row.finish()
}

fn beat(statement: &Statement) -> Option<&str> {
    match statement {
        Statement::Move(line) => Some(&line.at.value),
        Statement::Walk(line) => Some(&line.at.value),
        Statement::Sound(line) => Some(&line.at.value),
        _ => None,
    }
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

fn name(name: &str) -> String {
    if needs_quotes(name) { quoted(name) } else { name.to_owned() }
}

fn cast(row: Row, fighter: &RawFighter, columns: &Columns) -> Row {
    row.cell(&name(&fighter.name.value), columns.cast)
        .space(2)
        .cell(&fighter.weapon.value, columns.weapon)
        .space(2)
        .text(&hand(fighter.hand.value, fighter.sheathed))
        .text(
            &fighter
                .second
                .as_ref()
                .map_or(String::new(), |it| format!("  {}  {}", it.weapon.value, hand(it.hand.value, it.sheathed))),
        )
}

fn hand(hand: Hand, sheathed: bool) -> String {
    let hand = match hand {
        Hand::Right => "right",
        Hand::Left => "left",
        Hand::None => "none",
    };
    if sheathed { format!("{hand} sheathed") } else { hand.to_owned() }
}

fn phrase_head(phrase: &RawPhrase) -> String {
    let tempo = phrase.tempo.as_ref().map_or(String::new(), |tempo| format!("  tempo {}", tempo.value));
    format!("phrase {}{tempo}", quoted(&phrase.name.value))
}

fn pattern_head(pattern: &RawPattern) -> String {
    let mut head = format!("pattern {} for {}", quoted(&pattern.name.value), listed(&pattern.roles));
    if !pattern.parameters.is_empty() {
        head += &format!(" with {}", listed(&pattern.parameters));
    }
    if let Some(every) = &pattern.every {
        head += &format!(" every {}", every.value);
    }
    head
}

fn use_words(used: &RawUse) -> String {
    let mut said = format!("use {} at {} by {}", quoted(&used.pattern.value), used.at.value, listed(&used.by));
    if !used.with.is_empty() {
        said += &format!(" with {}", listed(&used.with));
    }
    if let Some(times) = &used.times {
        said += &format!(" times {}", times.value);
    }
    for (is_so, word) in [(used.mirrored, "mirrored"), (used.swapped, "swapped"), (used.other_height, "other-height")] {
        if is_so {
            said += &format!(" {word}");
        }
    }
    if let Some(stage) = &used.stage {
        said += &format!(" stage {}", quoted(&stage.value));
    }
    for (word, place) in [("about", &used.about), ("travel", &used.travel)] {
        if let Some(place) = place {
            said += &format!(" {word} {}", point(place));
        }
    }
    for (word, degrees) in [("turned", &used.turned), ("turn", &used.turn)] {
        if let Some(degrees) = degrees {
            said += &format!(" {word} {}", degrees.value.1);
        }
    }
    said
}

fn listed(names: &[Text]) -> String {
    names.iter().map(|it| name(&it.value)).collect::<Vec<_>>().join(", ")
}

fn tempo_words(tempo: &RawTempo) -> String {
    let value = &tempo.value.value;
    match &tempo.when {
        RawTempoWhen::Start => format!("tempo {value}"),
        RawTempoWhen::At(beat) => format!("tempo {value} at {}", beat.value),
        RawTempoWhen::Ramp { end, from, to } => {
            format!("tempo {value} -> {} from {} to {}", end.value, from.value, to.value)
        }
    }
}

fn placed(row: Row, place: &RawPlace, columns: &Columns) -> Row {
    let row = row
        .text("place ")
        .cell(&name(&place.who.value), columns.placed)
        .space(1)
        .cell_right(&place.point.x.value.1, columns.x)
        .text(&format!(",{}", place.point.y.value.1));
    match &place.facing {
        None => row,
        Some(RawFacing::Person(person)) => row.text(&format!(" facing {}", name(&person.value))),
        Some(RawFacing::Degrees(degrees)) => row.text(&format!(" facing {}", degrees.value.1)),
    }
}

fn beat_cell(row: Row, beat: &str, indent: usize, columns: &Columns) -> Row {
    row.cell(beat, columns.beat.saturating_sub(indent)).space(2)
}

fn moved(row: Row, line: &RawMove, indent: usize, columns: &Columns) -> Row {
    let row = beat_cell(row, &line.at.value, indent, columns)
        .cell(&name(&line.action.who.value), columns.name)
        .space(2)
        .cell(&words(&line.action), columns.action)
        .space(2);
    let row = match &line.reply {
        Some(reply) => row
            .text("/ ")
            .cell(&name(&reply.who.value), columns.name)
            .space(2)
            .cell(&words(reply), columns.reply)
            .space(2),
        None => row.space(columns.reply_half()),
    };
    heard(row, &line.sounds, line.text.as_ref().map(|text| text.value.as_str()), columns)
}

impl Columns {
    fn reply_half(&self) -> usize {
        2 + self.name + 2 + self.reply + 2
    }
}

fn walked(row: Row, walk: &RawWalk, indent: usize, columns: &Columns) -> Row {
    let further = if walk.further { "further " } else { "" };
    let mut words = format!("  walk {further}{} by {}", point(&walk.to), walk.by.value);
    if let Some(arc) = &walk.around {
        words += &format!(" around {}", point(&arc.centre));
        words.extend(arc.way.iter().flat_map(|way| [" ", way.value.word()]));
    }
    beat_cell(row, &walk.at.value, indent, columns).cell(&name(&walk.who.value), columns.name).text(&words)
}

fn sounded(row: Row, sound: &RawSound, indent: usize, columns: &Columns) -> Row {
    let row = beat_cell(row, &sound.at.value, indent, columns)
        .space(columns.name + 2 + columns.action + 2 + columns.reply_half());
    heard(row, &sound.sounds, sound.text.as_ref().map(|text| text.value.as_str()), columns)
}

fn heard(row: Row, sounds: &[RawSounds], text: Option<&str>, columns: &Columns) -> Row {
    let row = row.cell(&cues(sounds), columns.sounds + 2);
    match text {
        Some(text) => row.space(2).text(&quoted(text)),
        None => row,
    }
}

fn point(point: &RawPoint) -> String {
    format!("{},{}", point.x.value.1, point.y.value.1)
}

fn words(half: &RawHalf) -> String {
    let arg = half.arg.as_ref().map(|arg| arg.value.as_str());
    let side = half.side.as_ref().map(|side| side.value.word());
    let mut said = [Some(half.word.value.as_str()), arg, side].into_iter().flatten().collect::<Vec<_>>().join(" ");
    let manner = half.manner();
    if let Some((from, to)) = &manner.carried {
        said += &format!(" from {} to {}", from.value, to.value);
    }
    if let Some(touch) = &manner.touch {
        said += &format!(" {}", touch.value.word());
    }
    if let Some(hidden) = &manner.hidden {
        said += &format!(" hidden {}", hidden.value.word());
    }
    if let Some(with) = &manner.with {
        said += &format!(" with {}", with.value);
    }
    if let Some(aimed) = &manner.aimed {
        said += &format!(" at {}", name(&aimed.value));
    }
    said
}

fn cues(cues: &[RawSounds]) -> String {
    cues.iter().map(cue).collect::<Vec<_>>().join(" ")
}

fn cue(cue: &RawSounds) -> String {
    let sound = |name: &str| if sounds::needs_quotes(name) { quoted(name) } else { name.to_owned() };
    let names: Vec<String> = cue.names.iter().map(|name| sound(&name.value)).collect();
    let trim = cue.trim.as_ref().map_or(String::new(), |trim| format!(" {:+}ms", trim.value));
    let level = cue.level.as_ref().map_or(String::new(), |level| format!(" {}dB", level.value.1));
    format!("! {}{trim}{level}", names.join("+"))
}
