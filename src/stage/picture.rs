//! The stage from above at an instant, as an SVG that stands alone: what is on it, everybody with their way of looking, reach
//! and blade, and what is being swept. Told apart in grey; everything that it shows is in its description, too, in words.

use maud::{Markup, PreEscaped, html};

use super::body::Pose;
use super::outline::Outline;
use super::plan::{Layout, StagePlan};
use super::track::{Presence, Tracks};
use super::vec2::Vec2;
use crate::safe_text;
use crate::score::vocabulary::Vocabulary;
use crate::score::{self, model::Score};
use crate::timeline::{PhraseRange, Plan};
use crate::units::{Speed, Ticks};

/// How much is shown around the playing area, metres.
const AROUND: f64 = 1.5;

/// The picture of a score's stage at an instant of its performance: `at` is a phrase, by name or number, and a beat in it, as
/// the score writes it: `Across the quay:4+1/2`.
///
/// # Errors
/// A sentence: no such phrase, no beat, or a beat that the phrase has not.
pub fn picture(fight: &Score, vocabulary: &Vocabulary, stage: &StagePlan, at: &str) -> Result<String, String> {
    let plan = whole(fight)?;
    let instant = Instant::of(fight, &plan, at)?;
    let tracks = Tracks::of(fight, vocabulary, &plan, stage);
    let people = people(fight, &tracks, instant.time);
    let drawn = Drawn { layout: instant.layout(&tracks, stage), tracks: &tracks, people: &people, time: instant.time };
    Ok(safe_text::page(drawn.svg(&instant.title, &Over::default())) + "\n")
}

/// The plan of a whole fight at performance tempo.
pub(super) fn whole(fight: &Score) -> Result<Plan, String> {
    let whole = PhraseRange::whole(fight).ok_or_else(|| "The score has no phrases".to_owned())?;
    Ok(Plan::new(fight, whole, Speed::FULL, 0))
}

/// Everybody's name, and where they are at a time.
pub(super) fn people<'f>(fight: &'f Score, tracks: &Tracks<'_>, time: f64) -> Vec<(&'f str, Option<Presence>)> {
    let fighters = fight.fighters.iter().map(|it| it.name.as_str());
    let names = fighters.chain(fight.bystanders.iter().map(|it| it.name.as_str()));
    names.enumerate().map(|(person, name)| (name, tracks.presence(person, time))).collect()
}

/// An instant that somebody names.
pub(super) struct Instant {
    /// Its phrase, counted from 0.
    phrase: usize,
    /// When, from the first beat of the fight.
    pub(super) at: Ticks,
    /// The same, seconds.
    pub(super) time: f64,
    /// What a picture of it is called.
    pub(super) title: String,
}

impl Instant {
    pub(super) fn of(fight: &Score, plan: &Plan, at: &str) -> Result<Instant, String> {
        let wanted = "write a phrase's name or number, a colon, and a beat: \"2:4+1/2\"";
        let (name, beat) = at.rsplit_once(':').ok_or_else(|| format!("“{at}” has no colon; {wanted}"))?;
        let (name, beat) = (name.trim(), beat.trim());
        let numbered = || name.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let by_name = fight.phrases.iter().position(|phrase| phrase.name == name);
        let phrase = by_name.or_else(numbered).filter(|&phrase| phrase < fight.phrases.len());
        let phrase = phrase.ok_or_else(|| {
            let names: Vec<String> = fight.phrases.iter().map(|phrase| format!("“{}”", phrase.name)).collect();
            format!("There is no phrase “{name}”; there is {}", names.join(", "))
        })?;
        let planned = plan.phrases().get(phrase).ok_or_else(|| "The score has no phrases".to_owned())?;
        let ticks = score::beat(beat).ok_or_else(|| format!("“{beat}” is no beat; {wanted}"))?;
        if ticks < Ticks::ZERO || ticks > planned.length {
            let last = planned.length.beat_label();
            return Err(format!("“{}” has no beat {beat}: it goes from 1 to {last}", planned.name));
        }
        let time = plan.tempo().exact_time_of((planned.at + ticks).0 as f64) / 1e6;
        let title = format!("{}, “{}”, beat {}", fight.name, planned.name, ticks.beat_label());
        Ok(Instant { phrase, at: planned.at + ticks, time, title })
    }

    /// What stands where then.
    pub(super) fn layout<'t>(&self, tracks: &Tracks<'t>, stage: &'t StagePlan) -> &'t Layout {
        tracks.layout_of_phrase(self.phrase).unwrap_or(&stage.bare)
    }
}

/// What is drawn over a picture besides.
#[derive(Default)]
pub(super) struct Over {
    /// As SVG, in metres, upstage up.
    pub(super) drawn: String,
    /// In words.
    pub(super) said: String,
    /// What has to be in the picture, too.
    pub(super) around: Vec<Vec2>,
}

pub(super) struct Drawn<'d> {
    pub(super) layout: &'d Layout,
    pub(super) tracks: &'d Tracks<'d>,
    pub(super) people: &'d [(&'d str, Option<Presence>)],
    pub(super) time: f64,
}

/// What a picture of a stage shows: from left to right, and from downstage to upstage, metres.
pub(super) struct Frame {
    left: f64,
    right: f64,
    down: f64,
    up: f64,
}

impl Frame {
    /// The playing area and these places, and a little around them.
    pub(super) fn around(layout: &Layout, more: &[Vec2]) -> Frame {
        let all = || layout.area.corners().iter().chain(more);
        let least = |of: fn(&Vec2) -> f64| all().map(of).fold(f64::INFINITY, f64::min) - AROUND;
        let most = |of: fn(&Vec2) -> f64| all().map(of).fold(f64::NEG_INFINITY, f64::max) + AROUND;
        Frame { left: least(|it| it.x), right: most(|it| it.x), down: least(|it| it.y), up: most(|it| it.y) }
    }

    pub(super) fn view_box(&self) -> String {
        let Frame { left, right, down, up } = self;
        format!("{left:.2} {:.2} {:.2} {:.2}", -up, right - left, up - down)
    }

    /// The ground.
    pub(super) fn ground(&self) -> Markup {
        let Frame { left, right, down, up } = self;
        html! {
            rect x=(number(*left)) y=(number(-up)) width=(number(right - left)) height=(number(up - down)) fill="#fff" {}
        }
    }
}

impl Drawn<'_> {
    pub(super) fn svg(&self, title: &str, over: &Over) -> Markup {
        let frame = Frame::around(self.layout, &over.around);
        let said = format!("{} {}", self.words(), over.said);
        html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(frame.view_box()) role="img" aria-labelledby="title desc"
                font-family="sans-serif" font-size="0.3" stroke-width="0.04" {
                title id="title" { (title) }
                desc id="desc" { (said.trim()) }
                (frame.ground())
                (things(self.layout, true))
                (self.sweeps())
                (PreEscaped(&over.drawn))
                @for (name, presence) in self.people { @if let Some(presence) = presence { (person(name, presence)) } }
                text x=(number(frame.left + 0.2)) y=(number(0.0_f64.max(-frame.down) - 0.2)) fill="#555" { "audience" }
                text x=(number(frame.left + 0.2)) y=(number(0.4 - frame.up)) fill="#000" { (title) }
            }
        }
    }

    fn sweeps(&self) -> Markup {
        let goes = |it: &&(usize, super::Sweep)| it.1.span.0 <= self.time && self.time <= it.1.span.1;
        let polygons = self.tracks.sweeps.iter().filter(goes).filter_map(|(person, sweep)| {
            let presence = self.people.get(*person)?.1.as_ref()?;
            let corners = sweep.corners(presence.at, presence.facing?);
            Some(html! { polygon points=(points(&corners)) fill="#000" fill-opacity="0.12" {} })
        });
        html! { @for polygon in polygons { (polygon) } }
    }

    /// What is shown, in words: a sentence a person.
    fn words(&self) -> String {
        let said = self.people.iter().map(|(name, presence)| match presence {
            None => format!("{name} has no mark."),
            Some(it) => {
                let facing = it.facing.map_or(String::new(), |facing| format!(", facing {facing:.0} degrees"));
                let blade = if it.blade.is_some() { ", with a blade" } else { "" };
                format!("{name} {} at {:.2},{:.2}{facing}{blade}.", says(it.pose), it.at.x, it.at.y)
            }
        });
        said.collect::<Vec<_>>().join(" ")
    }
}

/// What is on a stage, as SVG; with the names of things or without.
pub(super) fn things(layout: &Layout, named: bool) -> Markup {
    let Layout { area, edges, levels, steps, pieces, doors, wings, seats } = layout;
    let name = |name| Some(name).filter(|_| named);
    html! {
        @for it in wings { (outline(&it.outline, "#fff", "#bbb", name(&it.name))) }
        @for it in seats { (outline(&it.outline, "#ddd", "#999", name(&it.name))) }
        (outline(area, "#f7f7f7", "#000", None))
        @for it in levels { (outline(&it.outline, "#e6e6e6", "#777", name(&it.name))) }
        @for it in steps { (outline(&it.outline, "#cfcfcf", "#777", None)) }
        @for it in pieces { (outline(&it.outline, "#8a8a8a", "#333", name(&it.name))) }
        @for it in doors { (outline(&it.outline, "#fff", "#333", None)) }
        @for it in edges { (line(it.from, it.to, "0.1", "#000", Some("0.3 0.15"))) }
    }
}

const fn says(pose: Pose) -> &'static str {
    match pose {
        Pose::Standing => "stands",
        Pose::Ducking => "ducks",
        Pose::Jumping => "jumps",
        Pose::Kneeling => "kneels",
        Pose::Seated => "sits",
        Pose::Lying => "lies",
    }
}

fn person(name: &str, presence: &Presence) -> Markup {
    let (at, reach) = (presence.at, number(presence.reach));
    let low = matches!(presence.pose, Pose::Kneeling | Pose::Seated | Pose::Lying);
    let fill = if low { "#fff" } else { "#000" };
    html! {
        circle cx=(number(at.x)) cy=(number(-at.y)) r=(reach) fill="none" stroke="#999" stroke-dasharray="0.1 0.1" {}
        @if let Some(facing) = presence.facing {
            (line(at, at + Vec2::along(facing) * 0.45, "0.08", "#000", None))
        }
        @if let Some((hand, point)) = presence.blade {
            (line(Vec2::new(hand[0], hand[1]), Vec2::new(point[0], point[1]), "0.05", "#000", None))
        }
        circle cx=(number(at.x)) cy=(number(-at.y)) r=(number(super::BODY_RADIUS)) fill=(fill) stroke="#000" {}
        text x=(number(at.x)) y=(number(0.6 - at.y)) text-anchor="middle" fill="#000" { (name) }
    }
}

fn outline(outline: &Outline, fill: &str, stroke: &str, name: Option<&String>) -> Markup {
    let corners = outline.corners();
    let middle = corners.iter().fold(Vec2::default(), |sum, it| sum + *it) * (1.0 / corners.len() as f64);
    html! {
        polygon points=(points(corners)) fill=(fill) stroke=(stroke) {}
        @if let Some(name) = name {
            text x=(number(middle.x)) y=(number(-middle.y)) text-anchor="middle" font-size="0.25" fill="#333" { (name) }
        }
    }
}

pub(super) fn line(from: Vec2, to: Vec2, width: &str, stroke: &str, dashes: Option<&str>) -> Markup {
    html! {
        line x1=(number(from.x)) y1=(number(-from.y)) x2=(number(to.x)) y2=(number(-to.y)) stroke=(stroke)
            stroke-width=(width) stroke-dasharray=[dashes] {}
    }
}

fn points(corners: &[Vec2]) -> String {
    corners.iter().map(|it| format!("{},{}", number(it.x).0, number(-it.y).0)).collect::<Vec<_>>().join(" ")
}

/// A number as SVG writes it, to the millimetre.
pub(super) fn number(value: f64) -> PreEscaped<String> {
    PreEscaped(format!("{:.3}", value + 0.0))
}
