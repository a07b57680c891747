//! Problems for people, with the line underlined, and for programs, as one flat record each.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use serde::Serialize;

use super::model::Span;
use super::position::Lines;
use super::problem::{Problem, Severity};
use crate::safe_text;

/// One problem for a program. The fields are public and stable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Report {
    /// The file.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// The column in characters, counted from 1.
    pub column: usize,
    /// The line of the end.
    pub end_line: usize,
    /// The column after the last character.
    pub end_column: usize,
    /// The code.
    pub code: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What is wrong.
    pub message: String,
    /// What should stand there.
    pub expected: Option<String>,
    /// What to do.
    pub help: Option<String>,
}

/// The problems of one text as records, in the order given.
pub fn reports(problems: &[Problem], text: &str, file_name: &str) -> Vec<Report> {
    let lines = Lines::new(text);
    let report = |problem: &Problem| {
        let (start, end) = (lines.position(problem.span.start), lines.position(problem.span.end));
        Report {
            file: file_name.to_owned(),
            line: start.line,
            column: start.column,
            end_line: end.line,
            end_column: end.column,
            code: problem.code,
            severity: problem.severity,
            message: problem.message.clone(),
            expected: problem.expected.clone(),
            help: problem.help.clone(),
        }
    };
    problems.iter().map(report).collect()
}

/// The problems of one text for a terminal, in the order given: file, line and column, the line underlined, help. What
/// was typed is made safe before it is drawn, so the only commands to a terminal in it are those of its colours.
pub fn render(problems: &[Problem], text: &str, file_name: &str, colour: bool) -> String {
    let lines = Lines::new(text);
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() }.decor_style(DecorStyle::Ascii);
    let mut out = String::new();
    for problem in problems {
        out.push_str(&renderer.render(&[group(problem, &lines, text, file_name)]));
        out.push_str("\n\n");
    }
    out
}

fn group<'a>(problem: &'a Problem, lines: &Lines<'a>, text: &'a str, file_name: &'a str) -> Group<'a> {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Advice => Level::INFO.with_name("advice"),
    };
    let title = level.primary_title(safe_text::terminal(&problem.message)).id(problem.code);
    let label = problem.expected.as_deref().unwrap_or("");
    let mut group = title.element(snippet(&problem.span, label, AnnotationKind::Primary, lines, text, file_name));
    for (span, what) in &problem.related {
        group = group.element(snippet(span, what, AnnotationKind::Context, lines, text, file_name));
    }
    match &problem.help {
        Some(help) => group.element(Level::HELP.message(safe_text::terminal(help))),
        None => group,
    }
}

/// The line in which `span` begins, with the part of the span that lies in it underlined. Only that line is given to
/// the renderer, so that a long score costs no more than a short one.
fn snippet<'a>(
    span: &Span,
    label: &'a str,
    kind: AnnotationKind,
    lines: &Lines<'a>,
    text: &'a str,
    file_name: &'a str,
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let start = lines.floor(span.start);
    let number = lines.position(start).line;
    let line = lines.bytes_of(number);
    let start = start.clamp(line.start, line.end);
    let end = lines.floor(span.end).clamp(start, line.end);
    // What would act on a terminal is longer when it is shown, so the marks move along.
    let shown = |from: usize, to: usize| safe_text::terminal(text.get(from..to).unwrap_or("")).len();
    let (before, width) = (shown(line.start, start), shown(start, end));
    let underlined = kind.span(before..before + width).label(safe_text::terminal(label));
    let source = safe_text::terminal(text.get(line).unwrap_or(""));
    Snippet::source(source).line_start(number).path(safe_text::terminal(file_name)).annotation(underlined)
}
