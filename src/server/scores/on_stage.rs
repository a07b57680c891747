//! A draft on the stage's plan: everybody's ways as the checks have them, and where each mark and walk stands in the text, so
//! that a page can set it by hand and change nothing else of the text.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::StatusCode;

use super::{Scores, checked_text};
use crate::production::{Fight, Production, STAGE_FILE};
use crate::score::position::Lines;
use crate::score::raw::{RawPoint, RawScore, Statement, Text};
use crate::score::read_with_lines;
use crate::server::answer::{Answer, No, json};
use crate::server::asker::asked;
use crate::server::floor::{floor_sheet, thing};
use crate::server::request::Asker;
use crate::stage::{self, Edit, Kind, NotWritten, SetEdit, StageSet, Thing, Vec2};
use crate::toml_table::TomlProblem;
use crate::wire::{
    Draft, DraftFloor, DraftMark, DraftReport, FindingSeverity, FindingView, SetChange, SetFor, StageAsked,
    StageChange, StageSetView, StageTold, ThingChange, ThingKind, ThingView, small,
};

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

pub(super) async fn stage(
    State(scores): State<Arc<Scores>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Answer {
    let (_, asked): (Asker, StageAsked) = asked(&scores.house, from, request).await?;
    checked_text(&asked.text)?;
    let production = scores.shelf()?.get();
    let changed = scores.in_turn(move || changed(&production, asked)).await?;
    let told = changed.map_err(|why| No::new(StatusCode::UNPROCESSABLE_ENTITY, why.to_string()))?;
    checked_text(&told.text)?;
    Ok(json(&told))
}

fn changed(production: &Production, StageAsked { text, change }: StageAsked) -> Result<StageTold, NotWritten> {
    let for_sets = for_sets(production);
    let text = match change {
        None => text,
        Some(StageChange::Thing(ThingChange { set, kind, was, now })) => {
            let now = now.map(|now| Thing { kind: kind_of(now.kind), ..thing_of(now) });
            stage::edited(&text, &Edit { set, kind: kind_of(kind), was, now })?
        }
        Some(StageChange::Set(change)) => {
            is_known(&change, &for_sets)?;
            stage::set_edited(&text, &set_edit(change))?
        }
    };
    let (plan, _) = stage::read(&text, STAGE_FILE);
    let Some(plan) = plan else { return Ok(StageTold { text, feet: false, sets: Vec::new(), for_sets }) };
    let view = |set: Option<&StageSet>| {
        let name = set.map(|it| it.name.clone());
        let layout = set.map_or(&plan.bare, |it| &it.layout);
        StageSetView {
            fights: set.map(|it| it.fights.clone()).unwrap_or_default(),
            things: stage::things(layout).iter().map(thing).collect(),
            own: stage::own_things(&plan, name.as_deref()).iter().map(thing).collect(),
            set: name,
        }
    };
    let sets = std::iter::once(view(None)).chain(plan.sets.iter().map(|set| view(Some(set)))).collect();
    Ok(StageTold { text, feet: plan.feet, sets, for_sets })
}

fn for_sets(production: &Production) -> Vec<SetFor> {
    let of = |fight: &Fight| {
        let each = fight.for_sets();
        let each =
            each.map(|(named, phrase)| SetFor { named, fight: fight.name.clone(), phrase: phrase.map(str::to_owned) });
        each.collect::<Vec<_>>()
    };
    production.fights.iter().flat_map(of).collect()
}

/// A set is begun for what there is, and for nothing else.
fn is_known(change: &SetChange, for_sets: &[SetFor]) -> Result<(), NotWritten> {
    let wanted = match change {
        SetChange::Begin { fights, .. } => fights.as_slice(),
        SetChange::Add { fight, .. } => std::slice::from_ref(fight),
        SetChange::Rename { .. } | SetChange::Remove { .. } | SetChange::TakeAway { .. } => &[],
    };
    match wanted.iter().find(|wanted| for_sets.iter().all(|it| it.named != **wanted)) {
        None => Ok(()),
        Some(unknown) => Err(NotWritten::NoFight(unknown.clone())),
    }
}

fn set_edit(change: SetChange) -> SetEdit {
    match change {
        SetChange::Begin { set, fights } => SetEdit::Begin { set, fights },
        SetChange::Rename { set, to } => SetEdit::Rename { set, to },
        SetChange::Add { set, fight } => SetEdit::Add { set, fight },
        SetChange::Remove { set, fight } => SetEdit::Remove { set, fight },
        SetChange::TakeAway { set } => SetEdit::TakeAway { set },
    }
}

fn thing_of(ThingView { kind, name, corners, height, eyes }: ThingView) -> Thing {
    let corners = corners.into_iter().map(|[x, y]| Vec2::new(x, y)).collect();
    Thing { kind: kind_of(kind), name: name.trim().to_owned(), corners, height, eyes }
}

const fn kind_of(kind: ThingKind) -> Kind {
    match kind {
        ThingKind::Area => Kind::Area,
        ThingKind::Wing => Kind::Wing,
        ThingKind::Seats => Kind::Seats,
        ThingKind::Level => Kind::Level,
        ThingKind::Steps => Kind::Steps,
        ThingKind::Piece => Kind::Piece,
        ThingKind::Door => Kind::Door,
        ThingKind::Edge => Kind::Edge,
    }
}

/// What is wrong with the text of a stage's plan, as of a score.
pub(super) fn report(text: &str) -> DraftReport {
    let (plan, problems) = stage::read(text, STAGE_FILE);
    let lines: Vec<&str> = text.lines().collect();
    let finding = |problem: &TomlProblem| {
        let long = problem.line.checked_sub(1).and_then(|at| lines.get(at)).map_or(0, |line| line.chars().count());
        let key = problem.key.as_ref().map(|key| format!("{key} ")).unwrap_or_default();
        FindingView {
            code: "stage".to_owned(),
            severity: if plan.is_some() { FindingSeverity::Warning } else { FindingSeverity::Error },
            line: small(problem.line.max(1)),
            column: 1,
            end_line: small(problem.line.max(1)),
            end_column: small(long + 1),
            message: format!("{key}{}", problem.says),
            expected: None,
            help: None,
        }
    };
    DraftReport {
        findings: problems.iter().map(finding).collect(),
        left_out: 0,
        phrases: Vec::new(),
        runs: plan.is_some(),
        unchecked: UNCHECKED.to_owned(),
    }
}

/// What is said beside the findings of a stage's plan.
const UNCHECKED: &str = "Whether the plan is that of your stage nobody can see here: measure it. What it changes for the \
     fights is found with them once it is saved.";

fn draft_floor(production: &Production, Draft { file, text }: &Draft) -> DraftFloor {
    let (reading, raw) = read_with_lines(text.as_bytes(), file, &production.vocabulary);
    let (marks, phrases) = marks(&raw, &reading.text);
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
            who: who.value.to_string(),
            beat: beat.map(|beat| beat.value.to_string()),
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
