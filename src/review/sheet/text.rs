//! A sheet for a terminal or a text editor.

use std::fmt::Write as _;

use super::{Sheet, SheetLine, SheetPhrase};
use crate::review::caution::CAUTION;

/// The sheet as plain text, in two columns.
pub fn text(sheet: &Sheet) -> String {
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = write(sheet, &mut out);
    out
}

fn write(sheet: &Sheet, out: &mut String) -> std::fmt::Result {
    let whose = sheet.of.as_ref().map_or_else(String::new, |of| format!(", for {of}"));
    writeln!(out, "{}{whose}\n{}\n{}", sheet.fight, sheet.head(), sheet.tempo)?;
    writeln!(out, "Fighters: {}", sheet.fighters.join("; "))?;
    if !sheet.bystanders.is_empty() {
        writeln!(out, "On the stage besides: {}", sheet.bystanders.join(", "))?;
    }
    for caution in &sheet.cautions {
        writeln!(out, "! {caution}")?;
    }
    for phrase in &sheet.phrases {
        write_phrase(phrase, out)?;
    }
    writeln!(out, "\n{CAUTION}")
}

fn write_phrase(phrase: &SheetPhrase, out: &mut String) -> std::fmt::Result {
    writeln!(out, "\n{}. {} ({})", phrase.number, phrase.name, phrase.length)?;
    for said in phrase.places.iter().chain(&phrase.near) {
        writeln!(out, "   {said}")?;
    }
    for finding in phrase.findings.iter().chain(&phrase.fastest) {
        writeln!(out, "   ! {finding}")?;
    }
    let width = |of: fn(&SheetLine) -> &str| {
        phrase.lines.iter().filter(|it| !it.across).map(|it| of(it).chars().count() + 2 * it.depth).max().unwrap_or(0)
    };
    let (attack, reply) = (width(|it| &it.attack), width(|it| &it.reply));
    for it in &phrase.lines {
        let indent = "  ".repeat(it.depth);
        let mut line = if it.across {
            format!("{:>9}  {indent}-- {}", it.beat, it.attack)
        } else {
            let (left, rest) = (format!("{indent}{}", it.attack), it.after.as_deref().unwrap_or(""));
            format!("{:>9}  {left:attack$} | {:reply$}  {rest:>6}  {}", it.beat, it.reply, it.sounds)
        };
        if !it.text.is_empty() {
            write!(line, "  “{}”", it.text)?;
        }
        writeln!(out, "{}", line.trim_end())?;
        for finding in &it.findings {
            writeln!(out, "           ! {finding}")?;
        }
    }
    Ok(())
}
