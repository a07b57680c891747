//! A fight as a table, out for a spreadsheet and in from one. Out: a row a move, repeats and patterns laid out. In: each
//! row becomes a line of a score, if it is understood as one; what is not becomes a comment at its place, and is listed
//! for a person to look at. Which column says what is told by its heading and never guessed.

use super::lex::needs_quotes;
use super::problem::Severity;
use super::reading::read;
use super::vocabulary::Vocabulary;

/// The headings of a table that comes from here, in their order.
pub const HEADINGS: [&str; 6] = ["phrase", "beat", "attack", "reply", "sounds", "words"];

/// A row of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TableRow {
    /// The phrase's name; empty for the one above.
    pub phrase: String,
    /// The beat; empty for the whole beat after the one above.
    pub beat: String,
    /// Who acts, and what they do.
    pub attack: String,
    /// Who answers, and how; empty when nobody does.
    pub reply: String,
    /// What is heard.
    pub sounds: String,
    /// The director's words.
    pub words: String,
}

/// What the table does not say.
#[derive(Clone, Debug)]
pub struct Header {
    /// The fight's name.
    pub fight: String,
    /// Beats a minute, as a score writes it.
    pub tempo: String,
    /// The fighters, each as a score writes it: `MARET rapier right`.
    pub fighters: Vec<String>,
}

/// A score that was made of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FromTable {
    /// The score's text.
    pub text: String,
    /// How many rows became moves.
    pub moves: usize,
    /// Rows that a person has to look at: their number, from 1, and why.
    pub to_look_at: Vec<(usize, String)>,
}

/// Makes a score of a table.
///
/// # Errors
/// A sentence: what was said of the fight or its fighters is not understood.
pub fn from_table(header: &Header, rows: &[TableRow], vocabulary: &Vocabulary) -> Result<FromTable, String> {
    let head = head_of(header);
    let trial = format!("{head}phrase \"x\"\n");
    if let Some(problem) =
        read(&trial, "the header", vocabulary).problems.iter().find(|it| it.severity == Severity::Error)
    {
        let help = problem.help.as_ref().map_or(String::new(), |help| format!("; {help}"));
        return Err(format!("{}{help}", problem.message));
    }
    let mut made = FromTable { text: head, moves: 0, to_look_at: Vec::new() };
    let (mut phrase, mut next_beat) = (None, 1_u64);
    for (number, row) in rows.iter().enumerate().map(|(at, row)| (at + 1, row)) {
        let named = row.phrase.trim();
        if phrase.is_none() || (!named.is_empty() && phrase.as_deref() != Some(named)) {
            let name = if named.is_empty() { "From the table" } else { named };
            made.text += &format!("\nphrase \"{}\"\n", plain(name));
            (phrase, next_beat) = (Some(name.to_owned()), 1);
        }
        if [&row.beat, &row.attack, &row.reply, &row.sounds, &row.words].iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let beat = if row.beat.trim().is_empty() { next_beat.to_string() } else { row.beat.trim().to_owned() };
        let line = line_of(&beat, row);
        match wrong_with(&trial, &line, vocabulary) {
            None => {
                made.text += &format!("  {line}\n");
                made.moves += 1;
                let whole: String = beat.chars().take_while(char::is_ascii_digit).collect();
                next_beat = whole.parse().map_or(next_beat, |beat: u64| beat.saturating_add(1));
            }
            Some(why) => {
                let cells = [&row.beat, &row.attack, &row.reply, &row.sounds, &row.words];
                let said: Vec<String> = cells.iter().map(|cell| plain(cell)).filter(|cell| !cell.is_empty()).collect();
                made.text += &format!("  # row {number}: {}\n", said.join(" | "));
                made.to_look_at.push((number, why));
            }
        }
    }
    if phrase.is_none() {
        return Err("the table has no rows under its headings".to_owned());
    }
    Ok(made)
}

fn head_of(header: &Header) -> String {
    let mut text = format!("fight \"{}\"\ntempo {}\n\nfighters\n", plain(&header.fight), plain(&header.tempo));
    header.fighters.iter().for_each(|fighter| text += &format!("  {}\n", plain_line(fighter)));
    text
}

fn line_of(beat: &str, row: &TableRow) -> String {
    let mut line = format!("{} {}", plain_line(beat), plain_line(&row.attack));
    if !row.reply.trim().is_empty() {
        line += &format!(" / {}", plain_line(&row.reply));
    }
    if !row.sounds.trim().is_empty() {
        line += &format!(" ! {}", plain_line(&row.sounds));
    }
    if !row.words.trim().is_empty() {
        line += &format!(" \"{}\"", plain(&row.words));
    }
    line
}

/// Why a line cannot stand in the score; nothing when it can.
fn wrong_with(trial: &str, line: &str, vocabulary: &Vocabulary) -> Option<String> {
    let reading = read(format!("{trial}{line}\n"), "the row", vocabulary);
    let problem = reading.problems.iter().find(|it| it.severity == Severity::Error)?;
    let help = problem.help.as_ref().map_or(String::new(), |help| format!("; {help}"));
    Some(format!("{}{help}", problem.message))
}

/// A cell as a name or text in quotes: on one line, without quotes of its own.
fn plain(cell: &str) -> String {
    cell.chars()
        .map(|letter| if letter.is_control() { ' ' } else { letter })
        .filter(|letter| !"\"“”„".contains(*letter))
        .collect::<String>()
        .trim()
        .to_owned()
}

/// A cell as words of a line: on one line, and without what would begin a comment.
fn plain_line(cell: &str) -> String {
    let line: String = cell.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    line.replace('#', " ").trim().to_owned()
}

/// A name as a line of a score writes it.
pub fn name(name: &str) -> String {
    if needs_quotes(name) { format!("\"{name}\"") } else { name.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::model::Item;

    fn header() -> Header {
        Header {
            fight: "Quay".into(),
            tempo: "60".into(),
            fighters: vec!["MARET rapier right".into(), "OSK rapier right".into()],
        }
    }

    fn row(phrase: &str, beat: &str, attack: &str, reply: &str) -> TableRow {
        TableRow {
            phrase: phrase.into(),
            beat: beat.into(),
            attack: attack.into(),
            reply: reply.into(),
            ..TableRow::default()
        }
    }

    #[test]
    fn what_is_understood_is_a_move_and_the_rest_a_comment_at_its_place() {
        let rows = [
            row("One", "", "MARET cut head", "OSK parry 5"),
            row("", "", "they circle # slowly", ""),
            row("", "3+1/2", "OSK thrust belly", "MARET parry 4"),
            row("", "", "MARET cut left flank", "OSK parry 3"),
            row("Two", "", "OSK salute", ""),
            TableRow { words: "say \"when\"".into(), ..row("", "4", "MARET salute", "") },
        ];
        let made = from_table(&header(), &rows, &Vocabulary::built_in()).unwrap();
        assert_eq!(made.moves, 4);
        assert_eq!(made.to_look_at.iter().map(|it| it.0).collect::<Vec<_>>(), [2, 4]);
        assert!(made.to_look_at[1].1.contains("flank left"), "{:?}", made.to_look_at);
        let score = read(&made.text, "a.fight", &Vocabulary::built_in()).score.unwrap();
        let beats: Vec<Vec<String>> = score.phrases.iter().map(|it| it.items.iter().map(beat_of).collect()).collect();
        assert_eq!(beats, [vec!["1", "3+1/2"], vec!["1", "4"]]);
        let lines: Vec<&str> = made.text.lines().map(str::trim).collect();
        let at = |part: &str| lines.iter().position(|line| line.contains(part)).unwrap();
        assert!(at("cut head") < at("# row 2: they circle") && at("# row 2") < at("thrust belly"), "{}", made.text);
    }

    fn beat_of(item: &Item) -> String {
        if let Item::Move(it) = item { it.at.beat_label() } else { String::new() }
    }

    #[test]
    fn a_header_that_is_not_understood_is_refused() {
        let wrong = Header { fighters: vec!["MARET rapir right".into()], ..header() };
        assert!(
            from_table(&wrong, &[row("", "", "MARET salute", "")], &Vocabulary::built_in())
                .unwrap_err()
                .contains("rapir")
        );
        assert!(from_table(&header(), &[], &Vocabulary::built_in()).is_err());
    }
}
