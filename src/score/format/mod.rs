//! `fmt`: a score in canonical columns. It changes spaces, quotes that are not needed and line ends, and nothing
//! else: order, comments, and numbers as they were written stay. Formatting twice changes nothing.

mod columns;
mod layout;
mod rows;

use super::parse::parse;
use super::problem::{Problem, Problems};
use super::reading::decode;
use super::render;

pub(super) use layout::lay_out;

/// A score that was not formatted, because a line of it could not be understood. Mend the lines and format again.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the score has lines that cannot be understood, so it was left as it is")]
pub struct Refused {
    /// The text that the problems' spans count in.
    pub text: String,
    /// What could not be understood.
    pub problems: Vec<Problem>,
}

impl Refused {
    /// The problems for people.
    pub fn render(&self, file_name: &str, colour: bool) -> String {
        render::render(&self.problems, &self.text, file_name, colour)
    }
}

/// The score in canonical columns, with `\n` at the end of every line. Words are not looked up: a score with an
/// unknown weapon can be formatted, one with a line that is no line cannot.
///
/// # Errors
///
/// Refuses text in which a line cannot be understood, or in which repeats and ends do not pair.
pub fn format(source: impl AsRef<[u8]>) -> Result<String, Box<Refused>> {
    let mut problems = Problems::new();
    let text = decode(source.as_ref(), &mut problems);
    let raw = parse(&text, &mut problems);
    if problems.has_errors() {
        return Err(Box::new(Refused { text, problems: problems.into_sorted() }));
    }
    Ok(lay_out(&raw))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WRITTEN: &str = "\u{feff}fight Quay # the first\r\ntempo  84\r\n\r\n\r\nfighters\r\n \"MARET\" rapier right\r\nOSK rapier left # new\r\n\
        # Down by the water.\r\nphrase \"A b\" tempo 90\r\nplace MARET -1.5 , 3.0 facing OSK\r\nplace OSK 11,3\r\n\
        1 MARET cut flank right/OSK parry 3!steel+ grunt +20 ms -3.50dB \"now\"\r\n4+1/2 OSK walk 1,2 by 7\r\n\
        repeat 2 every 2 at 9\r\n# within\r\n1 ! bell\r\nend\r\nrest 2";

    const CANONICAL: &str = r#"fight "Quay"                  # the first
tempo 84

fighters
  MARET   rapier  right
  OSK     rapier  left        # new

# Down by the water.
phrase "A b"  tempo 90
  place MARET -1.5,3.0 facing OSK
  place OSK     11,3
  1      MARET  cut flank right     / OSK    parry 3          ! steel+grunt +20ms -3.50dB  "now"
  4+1/2  OSK    walk 1,2 by 7
  repeat 2 every 2 at 9
    # within
    1                                                         ! bell
  end
  rest 2
"#;

    #[test]
    fn a_score_is_put_into_columns() {
        assert_eq!(format(WRITTEN).unwrap(), CANONICAL);
        assert_eq!(format(CANONICAL).unwrap(), CANONICAL);
    }

    #[test]
    fn a_score_with_a_broken_line_is_left_alone() {
        let refused = format("fight A\nphrase B\n1 A cut head / \nrest 2").unwrap_err();
        assert_eq!(refused.problems.iter().map(|problem| problem.code).collect::<Vec<_>>(), ["S105"]);
        assert!(format("phrase B\nend").is_err() && format("phrase B\nrepeat 1 every 1 at 1").is_err());
    }

    #[test]
    fn deep_and_long_text_does_not_grow() {
        let deep = format!("phrase A\n{}{}", "repeat 2 every 1 at 1\n".repeat(2_000), "end\n".repeat(2_000));
        assert!(format(&deep).unwrap().len() < deep.len() * 4);
        let long = format!("phrase A\n1 {} cut head ! x\n{}", "n".repeat(100_000), "1 A cut ! x\n".repeat(1_000));
        assert!(format(&long).unwrap().len() < 100_000 + 200 * 1_001);
    }
}
