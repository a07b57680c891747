//! Text into a raw score: cuts the text into lines, knows which part of the score it is in, and hands each line to
//! its grammar. Every line is read whatever was wrong in the lines before.

use super::lex::{Kind, Token, lex};
use super::line::{self, Cursor, shown};
use super::problem::{Problem, Problems};
use super::quantity::looks_like_a_beat;
use super::raw::{Broken, Located, RawLine, RawScore, Statement};
use super::suggest::did_you_mean;

/// The part of the score that a line stands in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Header,
    Fighters,
    Bystanders,
    Phrase,
}

const HEADER_WORDS: [&str; 6] = ["fight", "beats", "tempo", "fighters", "bystanders", "phrase"];
const PHRASE_WORDS: [&str; 6] = ["place", "tempo", "repeat", "end", "rest", "phrase"];

/// Reads every line of `text`.
pub(crate) fn parse(text: &str, problems: &mut Problems) -> RawScore {
    let mut part = Part::Header;
    let mut raw = RawScore::default();
    // Where every repeat that is not yet ended was opened.
    let mut open = Vec::new();
    let mut start = 0;
    let body = text.strip_prefix('\u{feff}').unwrap_or(text);
    start += text.len() - body.len();
    for with_break in body.split_inclusive('\n') {
        let content = with_break.strip_suffix('\n').unwrap_or(with_break);
        let content = content.strip_suffix('\r').unwrap_or(content);
        raw.lines.push(read_line(content, start, &mut part, &mut open, problems));
        start += with_break.len();
    }
    close_all(&mut open, problems);
    raw
}

fn read_line(
    content: &str,
    start: usize,
    part: &mut Part,
    open: &mut Vec<std::ops::Range<usize>>,
    problems: &mut Problems,
) -> RawLine {
    let errors = problems.errors();
    let lexed = lex(content, start, problems);
    let in_part = *part;
    let mut statement = statement(&lexed.tokens, part, problems);
    if problems.errors() > errors {
        statement = Some(Statement::Broken(broken(&lexed.tokens, in_part)));
    }
    let span = match (lexed.tokens.first(), lexed.tokens.last()) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        _ => start..start,
    };
    match lexed.tokens.first().filter(|head| head.kind == Kind::Word).map_or("", |head| head.text.as_str()) {
        // A repeat or end that is written wrongly still opens or closes one: otherwise its partner would be blamed too.
        "repeat" if in_part == Part::Phrase => open.push(span.clone()),
        "end" if in_part == Part::Phrase && open.pop().is_none() => problems.push(
            Problem::error("S112", span.clone(), "this `end` ends nothing")
                .help("delete it, or open a repeat above it"),
        ),
        "phrase" => close_all(open, problems),
        _ => {}
    }
    RawLine { span, statement, comment: lexed.comment }
}

/// What is left of a line that could not be understood.
fn broken(tokens: &[Token], part: Part) -> Broken {
    let Some(head) = tokens.first() else { return Broken::Other };
    let bare = head.kind == Kind::Word;
    match (part, head.text.as_str()) {
        (_, "phrase") if bare => Broken::Phrase,
        (Part::Phrase, "repeat") if bare => Broken::Repeat,
        (Part::Fighters | Part::Bystanders, word) if !(bare && HEADER_WORDS.contains(&word)) => {
            Broken::Person(Located { value: word.to_owned(), span: head.span.clone() })
        }
        _ => Broken::Other,
    }
}

fn close_all(open: &mut Vec<std::ops::Range<usize>>, problems: &mut Problems) {
    for span in open.drain(..) {
        problems.push(
            Problem::error("S111", span, "this repeat has no `end`")
                .help("write `end` on a line of its own after its last line"),
        );
    }
}

fn statement(tokens: &[Token], part: &mut Part, problems: &mut Problems) -> Option<Statement> {
    let head = tokens.first()?;
    let keyword = if head.kind == Kind::Word { head.text.as_str() } else { "" };
    let mut cursor = Cursor::new(tokens, problems);
    if HEADER_WORDS.contains(&keyword) && !(keyword == "tempo" && *part == Part::Phrase) {
        cursor.take();
        return section(keyword, head, &mut cursor, part);
    }
    match *part {
        Part::Fighters => line::fighter(&mut cursor),
        Part::Bystanders => line::bystander(&mut cursor),
        Part::Header => unknown(head, "expected fight, beats, tempo, fighters or phrase", &HEADER_WORDS, problems),
        Part::Phrase if head.kind == Kind::Word && looks_like_a_beat(keyword) => line::timed(&mut cursor),
        Part::Phrase => {
            cursor.take();
            match keyword {
                "place" => line::place(&mut cursor),
                "tempo" => line::tempo(&mut cursor, false),
                "repeat" => line::repeat(&mut cursor),
                "end" => line::end(&mut cursor),
                "rest" => line::rest(&mut cursor),
                _ => {
                    unknown(head, "expected a beat, place, tempo, repeat, end, rest or phrase", &PHRASE_WORDS, problems)
                }
            }
        }
    }
}

/// The lines that open a part of the score or stand in its header.
fn section(keyword: &str, head: &Token, cursor: &mut Cursor<'_>, part: &mut Part) -> Option<Statement> {
    if *part == Part::Phrase && keyword != "phrase"
        || *part != Part::Header && matches!(keyword, "fight" | "beats" | "tempo")
    {
        let place = if matches!(keyword, "fighters" | "bystanders") { "the first phrase" } else { "the fighters" };
        cursor.problems.push(
            Problem::error("S110", head.span.clone(), format!("`{keyword}` is too late here"))
                .help(format!("write it before {place}; a character of this name is written in quotes")),
        );
        return None;
    }
    match keyword {
        "fight" => line::fight(cursor),
        "beats" => line::beats(cursor),
        "tempo" => line::tempo(cursor, true),
        "phrase" => {
            *part = Part::Phrase;
            line::phrase(cursor)
        }
        _ => {
            let fighters = keyword == "fighters";
            *part = if fighters { Part::Fighters } else { Part::Bystanders };
            if cursor.peek().is_some() {
                return cursor.wrong("the names on the lines below");
            }
            Some(if fighters { Statement::FightersHead } else { Statement::BystandersHead })
        }
    }
}

fn unknown(head: &Token, expected: &str, words: &[&str], problems: &mut Problems) -> Option<Statement> {
    let message = format!("a line cannot begin with `{}` here", shown(&head.text));
    problems.push(
        Problem::error("S104", head.span.clone(), message)
            .expected(expected)
            .help_if(did_you_mean(&head.text, words.iter().copied())),
    );
    None
}
