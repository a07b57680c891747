//! A draft on the stage's plan: everybody's ways as the checks have them, and where each mark and walk stands in the text, so
//! that a page can set it by hand and change nothing else of the text.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};

use super::{Scores, checked_text};
use crate::production::Production;
use crate::score::position::Lines;
use crate::score::raw::{RawPoint, RawScore, Statement, Text};
use crate::score::read;
use crate::server::answer::{Answer, json};
use crate::server::asker::asked;
use crate::server::floor::floor_sheet;
use crate::server::request::Asker;
use crate::wire::{Draft, DraftFloor, DraftMark, small};

pub(super) async fn floor(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, draft): (Asker, Draft) = asked(&scores.house, from, request).await?;
    checked_text(&draft.text)?;
    let production = scores.shelf()?.get();
    scores.in_turn(move || json(&draft_floor(&production, &draft))).await
}

fn draft_floor(production: &Production, Draft { file, text }: &Draft) -> DraftFloor {
    let reading = read(text.as_bytes(), file, &production.vocabulary);
    let (marks, phrases) = marks(&reading.raw, &reading.text);
    let found = match (&production.rules.stage, &reading.score) {
        (None, _) => Err("This production has no plan of its stage: there is no stage.toml that can be used."),
        (_, None) => Err("The text has errors of reading. Mend them, and the picture follows."),
        (Some(stage), Some(score)) => {
            floor_sheet(score, &production.vocabulary, stage).ok_or("The fight has no phrase yet.")
        }
    };
    let (floor, why) = match found {
        Ok(floor) => (Some(floor), None),
        Err(why) => (None, Some(why.to_owned())),
    };
    DraftFloor { floor, why, marks, phrases }
}

/// The marks and walks of the phrases, and the lines of the phrases' heads. A walk that is counted from where somebody stands
/// leads to no place that is written.
fn marks(raw: &RawScore, text: &str) -> (Vec<DraftMark>, Vec<u32>) {
    let lines = Lines::new(text);
    let line_of = |byte: usize| small(lines.position(byte).line);
    let (mut marks, mut heads, mut in_phrase) = (Vec::new(), Vec::new(), false);
    let mut units = Units { text, byte: 0, units: 0 };
    for line in &raw.lines {
        let (who, beat, point): (&Text, Option<&Text>, &RawPoint) = match &line.statement {
            Some(Statement::Phrase(_)) => {
                in_phrase = true;
                heads.push(line_of(line.span.start));
                continue;
            }
            Some(Statement::Pattern(_)) => {
                in_phrase = false;
                continue;
            }
            Some(Statement::Place(place)) if in_phrase => (&place.who, None, &place.point),
            Some(Statement::Walk(walk)) if in_phrase && !walk.further => (&walk.who, Some(&walk.at), &walk.to),
            _ => continue,
        };
        marks.push(DraftMark {
            phrase: small(heads.len() - 1),
            who: who.value.clone(),
            beat: beat.map(|beat| beat.value.clone()),
            line: line_of(line.span.start),
            from: units.at(point.x.span.start),
            to: units.at(point.y.span.end),
            x: point.x.value.0,
            y: point.y.value.0,
        });
    }
    (marks, heads)
}

/// Places of a text in UTF-16 units, as pages count them, asked for from its beginning to its end.
struct Units<'t> {
    text: &'t str,
    byte: usize,
    units: usize,
}

impl Units<'_> {
    fn at(&mut self, byte: usize) -> u32 {
        let between = self.text.get(self.byte..byte).unwrap_or_default();
        self.units += between.encode_utf16().count();
        self.byte = byte.max(self.byte);
        small(self.units)
    }
}
