//! Where the commands write: the only file here that names standard output and standard error, beside `terminal.rs` for
//! the commands that serve. Text for a person is made safe for a terminal on its way out, whatever is in it, so that no
//! command can forget it. `.ci/guide` fails on a command that writes past it.

use std::io::{self, BufWriter, StdoutLock, Write};

use holdfast::safe_text;

/// Prints text for a person, as it stands. Whoever reads it may have seen enough and closed the pipe: that is no error.
pub(crate) fn say(text: &str) {
    let _ = print(text);
}

/// The same with a line end.
pub(crate) fn say_line(text: &str) {
    say(&format!("{text}\n"));
}

/// Prints text for a person.
///
/// # Errors
/// It cannot be written.
pub(crate) fn print(text: &str) -> io::Result<()> {
    let mut out = Output::begin();
    out.text(text).and_then(|()| out.end())
}

/// Prints JSON; its values stay what they are.
///
/// # Errors
/// It cannot be written.
pub(crate) fn print_json(json: &str) -> io::Result<()> {
    let mut out = Output::begin();
    out.json(json).and_then(|()| out.end())
}

/// Prints what was made safe by those who made it: a table, a page, a score for a file, problems drawn in colour.
///
/// # Errors
/// It cannot be written.
pub(crate) fn print_bytes(bytes: &[u8]) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(bytes).and_then(|()| out.flush())
}

/// Standard output of a command that prints piece by piece.
pub(crate) struct Output(BufWriter<StdoutLock<'static>>);

impl Output {
    /// Takes standard output.
    pub(crate) fn begin() -> Output {
        Output(BufWriter::new(io::stdout().lock()))
    }

    /// Text for a person.
    pub(crate) fn text(&mut self, text: &str) -> io::Result<()> {
        self.0.write_all(safe_text::terminal(text).as_bytes())
    }

    /// A piece of JSON.
    pub(crate) fn json(&mut self, json: &str) -> io::Result<()> {
        self.0.write_all(safe_text::json(json).as_bytes())
    }

    /// What waits is written.
    pub(crate) fn end(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// Says something on standard error, with a line end. With nowhere left to complain to, the exit code still tells.
pub(crate) fn complain(sentence: &str) {
    complain_drawn(&format!("{}\n", safe_text::terminal(sentence)));
}

/// Problems as `score::render` has drawn them: it makes safe what it draws, and its colours are its own.
pub(crate) fn complain_drawn(drawn: &str) {
    let mut err = io::stderr().lock();
    let _ = err.write_all(drawn.as_bytes()).and_then(|()| err.flush());
}
