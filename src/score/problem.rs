//! What is wrong with a score, or could be better: one type for the reader and for the checks, so that both are
//! shown, counted and sorted alike.

use serde::Serialize;

use super::model::Span;

/// How much a problem matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// The score cannot be used, or somebody could be hurt.
    Error,
    /// It can be used, but somebody should look.
    Warning,
    /// It is sound; it could be said better.
    Advice,
}

impl Severity {
    /// The severity as reports name it.
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Advice => "advice",
        }
    }
}

/// One problem, at one place in the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// A code that never changes its meaning, such as `S207`. A letter for who found it, three digits for what.
    pub code: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// Where it is, in bytes of the text.
    pub span: Span,
    /// What is wrong: one sentence without its full stop.
    pub message: String,
    /// What should stand there instead; shown at the underlined place.
    pub expected: Option<String>,
    /// What to do about it: the nearest known word, or the way to write it.
    pub help: Option<String>,
    /// Other places that belong to it, each with what it is.
    pub related: Vec<(Span, String)>,
}

impl Problem {
    /// A problem of any severity.
    pub fn new(severity: Severity, code: &'static str, span: Span, message: impl Into<String>) -> Problem {
        Problem { code, severity, span, message: message.into(), expected: None, help: None, related: Vec::new() }
    }

    /// An error.
    pub fn error(code: &'static str, span: Span, message: impl Into<String>) -> Problem {
        Problem::new(Severity::Error, code, span, message)
    }

    /// A warning.
    pub fn warning(code: &'static str, span: Span, message: impl Into<String>) -> Problem {
        Problem::new(Severity::Warning, code, span, message)
    }

    /// A piece of advice.
    pub fn advice(code: &'static str, span: Span, message: impl Into<String>) -> Problem {
        Problem::new(Severity::Advice, code, span, message)
    }

    /// Says what should stand there.
    #[must_use]
    pub fn expected(mut self, what: impl Into<String>) -> Problem {
        self.expected = Some(what.into());
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn help(mut self, what: impl Into<String>) -> Problem {
        self.help = Some(what.into());
        self
    }

    /// Says what to do, when there is something to say.
    #[must_use]
    pub fn help_if(mut self, what: Option<String>) -> Problem {
        self.help = what.or(self.help);
        self
    }

    /// Points at another place.
    #[must_use]
    pub fn related(mut self, span: Span, what: impl Into<String>) -> Problem {
        self.related.push((span, what.into()));
        self
    }
}

/// The most problems that one reading reports: more would only hide the first ones.
pub const MOST_PROBLEMS: usize = 1_000;

/// Problems as they are found. It keeps the first [`MOST_PROBLEMS`] and says when it is worth no more reading, so that
/// a large file that is no score at all costs neither memory nor time.
#[derive(Debug, Default)]
pub struct Problems {
    kept: Vec<Problem>,
    overflowed: bool,
    errors: usize,
}

impl Problems {
    /// None yet.
    pub fn new() -> Problems {
        Problems::default()
    }

    /// One more.
    pub fn push(&mut self, problem: Problem) {
        if problem.severity == Severity::Error {
            self.errors += 1;
        }
        if self.kept.len() < MOST_PROBLEMS {
            self.kept.push(problem);
        } else {
            self.overflowed = true;
        }
    }

    /// True when one of them is an error.
    pub fn has_errors(&self) -> bool {
        self.errors > 0
    }

    /// True when there are more problems than are kept and one is an error: reading on would tell nobody anything.
    pub fn enough(&self) -> bool {
        self.overflowed && self.has_errors()
    }

    /// How many errors there are by now.
    pub fn errors(&self) -> usize {
        self.errors
    }

    /// All of them in the order of the text. When some were not kept, the last one says so.
    pub fn into_sorted(self) -> Vec<Problem> {
        let mut problems = self.kept;
        problems.sort_by_key(|problem| (problem.span.start, problem.span.end, problem.code));
        if self.overflowed {
            let end = problems.last().map_or(0, |last| last.span.start);
            let severity = if self.errors > 0 { Severity::Error } else { Severity::Advice };
            let message = format!("there are more problems than these {MOST_PROBLEMS}");
            problems.push(Problem::new(severity, "S199", end..end, message).help("mend these first, then check again"));
        }
        problems
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_of_problems_is_cut_off_and_said() {
        let mut problems = Problems::new();
        for at in 0..=MOST_PROBLEMS {
            assert!(!problems.enough());
            problems.push(Problem::error("S104", at..at + 1, "no"));
        }
        assert!(problems.enough());
        let sorted = problems.into_sorted();
        assert_eq!(sorted.len(), MOST_PROBLEMS + 1);
        assert_eq!(sorted.last().map(|last| last.code), Some("S199"));
    }
}
