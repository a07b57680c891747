//! One line of text into words. Spaces part words and mean nothing else; `#` begins a comment unless it is quoted; a
//! slash between two digits belongs to a fraction, any other stands between the halves of a move.

use super::model::Span;
use super::problem::{Problem, Problems};
use super::raw::{Located, Text};

/// What sort of word it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Word,
    Quoted,
    Slash,
    Bang,
    Comma,
    Arrow,
}

/// As many words as most lines have.
const USUAL_WORDS: usize = 16;

/// One word.
#[derive(Clone, Debug)]
pub(crate) struct Token<'l> {
    pub(crate) kind: Kind,
    /// The text, without quotes.
    pub(crate) text: &'l str,
    pub(crate) span: Span,
}

/// A line's words and its comment.
pub(crate) struct Lexed<'l> {
    pub(crate) tokens: Vec<Token<'l>>,
    pub(crate) comment: Option<Text>,
    /// False when some characters could not be read.
    pub(crate) sound: bool,
}

/// Reads the words of `line`, which begins at byte `start` of the text.
pub(crate) fn lex<'l>(line: &'l str, start: usize, problems: &mut Problems) -> Lexed<'l> {
    let tokens = Vec::with_capacity(if line.is_empty() { 0 } else { USUAL_WORDS });
    let mut lexer = Lexer { line, start, at: 0, problems, out: Lexed { tokens, comment: None, sound: true } };
    while let Some(letter) = lexer.peek() {
        lexer.step(letter);
    }
    lexer.out
}

/// True when a name has to be quoted to be read as one word that is a name.
pub(crate) fn needs_quotes(name: &str) -> bool {
    const KEYWORDS: [&str; 24] = [
        "fight",
        "beats",
        "tempo",
        "fighters",
        "bystanders",
        "phrase",
        "place",
        "facing",
        "walk",
        "by",
        "repeat",
        "every",
        "at",
        "end",
        "rest",
        "from",
        "to",
        "left",
        "right",
        "with",
        "contact",
        "placed",
        "clear",
        "hidden",
    ];
    let special = |letter: char| letter.is_whitespace() || letter.is_control() || "\"#/!,+“”".contains(letter);
    name.is_empty()
        || KEYWORDS.contains(&name)
        || name.contains("->")
        || name.contains(special)
        || name.starts_with(|letter: char| letter.is_ascii_digit() || "-.".contains(letter))
}

struct Lexer<'l, 'p> {
    line: &'l str,
    start: usize,
    at: usize,
    problems: &'p mut Problems,
    out: Lexed<'l>,
}

/// True for what ends a word, a slash in a fraction apart.
fn ends_word(letter: char) -> bool {
    letter.is_whitespace() || letter.is_control() || matches!(letter, '"' | '#' | '!' | ',' | '/' | '“' | '”' | '„')
}

impl<'l> Lexer<'l, '_> {
    fn rest(&self) -> &'l str {
        self.line.get(self.at..).unwrap_or("")
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn span(&self, from: usize, to: usize) -> Span {
        self.start + from..self.start + to
    }

    fn step(&mut self, letter: char) {
        match letter {
            _ if letter.is_whitespace() && letter != '\r' => self.at += letter.len_utf8(),
            '#' => self.comment(),
            '"' => self.quoted(),
            '/' => self.mark(Kind::Slash, 1),
            '!' => self.mark(Kind::Bang, 1),
            ',' => self.mark(Kind::Comma, 1),
            '-' if self.rest().starts_with("->") => self.mark(Kind::Arrow, 2),
            '“' | '”' | '„' => self.typeset_quote(),
            _ if letter.is_control() => {
                self.refuse(letter, "S102", "a control character cannot stand in a score", "delete it");
            }
            _ => self.word(),
        }
    }

    fn refuse(&mut self, letter: char, code: &'static str, message: &str, help: &str) {
        let end = self.at + letter.len_utf8();
        self.problems.push(Problem::error(code, self.span(self.at, end), message).help(help));
        self.out.sound = false;
        self.at = end;
    }

    fn comment(&mut self) {
        let text = self.rest().trim_end().to_owned();
        if let Some(bad) = text.char_indices().find(|(_, letter)| letter.is_control() && *letter != '\t') {
            let from = self.at + bad.0;
            let span = self.span(from, from + bad.1.len_utf8());
            self.problems
                .push(Problem::error("S102", span, "a control character cannot stand in a score").help("delete it"));
            self.out.sound = false;
        }
        let span = self.span(self.at, self.at + text.len());
        self.out.comment = Some(Located { value: text.into(), span });
        self.at = self.line.len();
    }

    /// A word processor's quotation mark: reported once, up to its partner.
    fn typeset_quote(&mut self) {
        let quoted = self.rest().char_indices().skip(1).find(|(_, letter)| "“”\"".contains(*letter));
        let rest = self.rest().trim_end().len();
        let end = self.at + quoted.map_or(rest, |(at, letter)| at + letter.len_utf8());
        self.problems.push(
            Problem::error("S103", self.span(self.at, end), "these are a word processor's quotation marks")
                .help("write straight ones: \""),
        );
        self.out.sound = false;
        self.at = end;
    }

    fn quoted(&mut self) {
        let open = self.at;
        let inside = open + 1;
        let body = self.line.get(inside..).unwrap_or("");
        let Some(length) = body.find('"') else {
            let span = self.span(open, open + self.rest().trim_end().len());
            self.problems.push(
                Problem::error("S103", span, "the quotation mark is not closed")
                    .help("close it with \" on the same line"),
            );
            self.out.sound = false;
            self.at = self.line.len();
            return;
        };
        let text = body.get(..length).unwrap_or("");
        let span = self.span(open, inside + length + 1);
        if text.contains(char::is_control) {
            self.problems.push(
                Problem::error(
                    "S102",
                    span.clone(),
                    "a control character or a tab cannot stand in a quoted name or text",
                )
                .help("write it with spaces"),
            );
            self.out.sound = false;
        }
        self.out.tokens.push(Token { kind: Kind::Quoted, text, span });
        self.at = inside + length + 1;
    }

    fn mark(&mut self, kind: Kind, length: usize) {
        let text = self.rest().get(..length).unwrap_or("");
        self.out.tokens.push(Token { kind, text, span: self.span(self.at, self.at + length) });
        self.at += length;
    }

    fn word(&mut self) {
        let from = self.at;
        let rest = self.rest();
        let mut letters = rest.char_indices().peekable();
        let mut length = rest.len();
        let mut before = ' ';
        while let Some((at, letter)) = letters.next() {
            let after = letters.peek().map_or(' ', |(_, letter)| *letter);
            let fraction = letter == '/' && before.is_ascii_digit() && after.is_ascii_digit();
            if (ends_word(letter) && !fraction) || (letter, after) == ('-', '>') {
                length = at;
                break;
            }
            before = letter;
        }
        self.at += length;
        let text = rest.get(..length).unwrap_or("");
        self.out.tokens.push(Token { kind: Kind::Word, text, span: self.span(from, self.at) });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(line: &str) -> Vec<&str> {
        let mut problems = Problems::new();
        lex(line, 0, &mut problems).tokens.into_iter().map(|token| token.text).collect()
    }

    #[test]
    fn marks_part_words_and_fractions_do_not() {
        assert_eq!(words("4+1/2 A cut/B parry 4! x"), ["4+1/2", "A", "cut", "/", "B", "parry", "4", "!", "x"]);
        assert_eq!(words("tempo 84->108"), ["tempo", "84", "->", "108"]);
        assert_eq!(words("place A -1.5,3.0"), ["place", "A", "-1.5", ",", "3.0"]);
        assert_eq!(words("\"a # b\" # c"), ["a # b"]);
    }

    #[test]
    fn names_that_would_be_read_otherwise_are_quoted() {
        for name in ["", "A B", "end", "right", "9", "-x", "a,b", "a->b", "a#"] {
            assert!(needs_quotes(name), "{name}");
        }
        for name in ["MARET", "Žofie", "corps-a-corps", "O'Dea"] {
            assert!(!needs_quotes(name), "{name}");
        }
    }
}
