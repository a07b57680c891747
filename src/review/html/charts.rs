//! The charts: plain SVG without a script. Each stands in or beside the table that says the same in figures, so each is
//! hidden from screen readers. Shape and place tell everything; the one colour only helps.

use maud::{Markup, html};

use crate::review::estimate::Share;
use crate::review::history::Outcome;
use crate::review::house::Ladder;
use crate::review::ladder::Standing;
use crate::review::phrase::{PhraseReview, VisitReview};
use crate::review::story::{LATELY_MS, Phone};
use crate::review::timing::{LATE_MS, MemberTiming};

/// The width of a strip, and the space left of and right of its first and last beat.
const STRIP: f64 = 760.0;
const EDGE: f64 = 12.0;
/// The height of the bars above a strip's line, and the depth of the deepest wedge below it.
const ABOVE: f64 = 34.0;
const BELOW: f64 = 20.0;
/// How wide a mark is for a finger or a pointer.
const TOUCH: f64 = 28.0;

/// A phrase as a strip. Above the line a bar at each move, as high as it was often reached; below it a wedge, as deep as
/// it often broke there, with the number. `anchor` makes the link of a move.
pub(super) fn strip(phrase: &PhraseReview, most: (u64, u64), anchor: impl Fn(usize) -> String) -> Markup {
    let beats = phrase.beats.max(1.0);
    let x = |at: f64| EDGE + at / beats * (STRIP - 2.0 * EDGE);
    let width = ((STRIP - 2.0 * EDGE) / beats * 0.35).clamp(1.5, 7.0);
    let part = |count: u64, of: u64| if of == 0 { 0.0 } else { count as f64 / of as f64 };
    let every = if beats > 40.0 { 8 } else { 4 };
    let marks = (0..=(beats as u64)).step_by(every);
    html! {
        svg viewBox=(format!("0 0 {STRIP} {}", ABOVE + BELOW + 30.0)) width=(STRIP) aria-hidden="true" focusable="false" {
            @for beat in marks {
                line.grid x1=(n(x(beat as f64))) x2=(n(x(beat as f64))) y1=(n(ABOVE - 2.0)) y2=(n(ABOVE + 4.0)) {}
            }
            @for it in &phrase.moves {
                @let high = part(it.reached, most.0) * (ABOVE - 4.0);
                rect.reached x=(n(x(it.at) - width / 2.0)) y=(n(ABOVE - high)) width=(n(width)) height=(n(high)) {}
            }
            line.axis x1=(n(EDGE)) x2=(n(STRIP - EDGE)) y1=(n(ABOVE)) y2=(n(ABOVE)) {}
            @for it in phrase.moves.iter().filter(|it| it.broke > 0) {
                @let deep = 5.0 + part(it.broke, most.1) * (BELOW - 5.0);
                @let (at, half) = (x(it.at), 3.5 + part(it.broke, most.1) * 3.0);
                a href=(format!("#{}", anchor(it.number))) tabindex="-1" aria-label=(format!("Beat {}, {}: broke {} times", it.beat, it.words, it.broke)) {
                    rect.touch x=(n(at - TOUCH / 2.0)) y=(n(ABOVE)) width=(n(TOUCH)) height=(n(BELOW + 16.0)) {}
                    path.broke d=(format!("M{} {}L{} {}L{} {}Z", n(at), n(ABOVE + 2.0), n(at - half), n(ABOVE + 2.0 + deep), n(at + half), n(ABOVE + 2.0 + deep))) {}
                    text.count x=(n(at)) y=(n(ABOVE + deep + 13.0)) text-anchor="middle" { (it.broke) }
                }
            }
            @for beat in (0..beats as u64).step_by(every * 2) {
                text.soft x=(n(x(beat as f64))) y=(n(ABOVE + BELOW + 26.0)) text-anchor="middle" { (beat + 1) }
            }
        }
    }
}

/// A share with its interval, from 0 to 100 %.
pub(super) fn whisker(share: &Share) -> Markup {
    let x = |part: f64| 4.0 + part * 152.0;
    let (low, high) = (share.interval.low, share.interval.high.unwrap_or(1.0));
    html! {
        svg viewBox="0 0 160 20" width="160" height="20" aria-hidden="true" focusable="false" {
            @for part in [0.0, 0.5, 1.0] {
                line.grid x1=(n(x(part))) x2=(n(x(part))) y1="2" y2="18" {}
            }
            @if let Some(estimate) = share.estimate {
                line.whisker x1=(n(x(low))) x2=(n(x(high))) y1="10" y2="10" {}
                circle.dot cx=(n(x(estimate))) cy="10" r="4.5" {}
            }
        }
    }
}

/// A part of some: a bar of all of them with a dark part. A part of many is drawn as wide as one of few.
pub(super) fn part(count: u64, of: u64) -> Markup {
    let wide = if of == 0 { 0.0 } else { count as f64 / of as f64 * 56.0 };
    html! {
        svg.part viewBox="0 0 60 10" width="60" height="10" aria-hidden="true" focusable="false" {
            rect.hollow x="2" y="1" width="56" height="8" {}
            rect.dot x="2" y="1" width=(n(wide)) height="8" {}
        }
    }
}

/// The last runs, in order: as high as they were fast; a dot is clean, a cross broke, a ring is unfinished.
pub(super) fn climb(visits: &[VisitReview]) -> Markup {
    let shown = visits.get(visits.len().saturating_sub(24)..).unwrap_or_default();
    let x = |at: usize| 6.0 + at as f64 * 7.6;
    let y = |speed: Option<u16>| 28.0 - f64::from(speed.unwrap_or(20).min(110)) / 110.0 * 23.0;
    html! {
        svg viewBox="0 0 190 34" width="190" height="34" aria-hidden="true" focusable="false" {
            line.grid x1="2" x2="188" y1=(n(y(Some(100)))) y2=(n(y(Some(100)))) {}
            @for (at, visit) in shown.iter().enumerate() {
                @let (cx, cy) = (x(at), y(visit.speed));
                @match visit.outcome {
                    Outcome::Clean => { circle.dot cx=(n(cx)) cy=(n(cy)) r="2.6" {} },
                    Outcome::Broke => { path.broke-line d=(format!("M{} {}l6 6m0 -6l-6 6", n(cx - 3.0), n(cy - 3.0))) {} },
                    Outcome::Part | Outcome::Unfinished => { circle.hollow cx=(n(cx)) cy=(n(cy)) r="2.6" {} },
                }
            }
        }
    }
}

/// The ladder: a rising bar for each step; those up to where the phrase stands are full.
pub(super) fn rungs(ladder: &Ladder, standing: &Standing) -> Markup {
    steps(ladder, standing.step)
}

/// The same of a step alone.
pub(super) fn steps(ladder: &Ladder, step: Option<u16>) -> Markup {
    let place = step.map_or(0, |step| ladder.steps.iter().filter(|it| **it <= step).count());
    let count = ladder.steps.len().max(1) as f64;
    let wide = (150.0 / count).min(30.0);
    html! {
        svg.rungs viewBox="0 0 160 30" width="160" height="30" aria-hidden="true" focusable="false" {
            @for (at, _) in ladder.steps.iter().enumerate() {
                @let high = 6.0 + (at as f64 + 1.0) / count * 20.0;
                rect class=(if at < place { "dot" } else { "hollow" }) x=(n(2.0 + at as f64 * wide)) y=(n(28.0 - high)) width=(n(wide - 4.0)) height=(n(high)) {}
            }
        }
    }
}

/// Lateness of a phone: from its middle to the one in twenty; the line is where late begins.
pub(super) fn lateness(member: &MemberTiming) -> Markup {
    let x = |ms: f64| 4.0 + (ms.clamp(0.0, 150.0)) / 150.0 * 172.0;
    html! {
        svg viewBox="0 0 180 20" width="180" height="20" aria-hidden="true" focusable="false" {
            line.grid x1="4" x2="176" y1="10" y2="10" {}
            line.axis x1=(n(x(LATE_MS))) x2=(n(x(LATE_MS))) y1="2" y2="18" {}
            @if let (Some(middle), Some(high)) = (member.late_median_ms, member.late_p95_ms) {
                line.whisker x1=(n(x(middle))) x2=(n(x(high))) y1="10" y2="10" {}
                circle.dot cx=(n(x(middle))) cy="10" r="4.5" {}
            }
        }
    }
}

/// What each phone showed in the seconds before a hold or stop: a line a phone, a mark for each cue when it was shown, tall
/// where it was late; the upright line at the right is the hold. `data-shown` has the marks, milliseconds before it.
pub(super) fn before(phones: &[&Phone]) -> Markup {
    let x = |ms: f64| 96.0 + (1.0 - ms / LATELY_MS) * 330.0;
    let high = 20.0 * phones.len() as f64 + 22.0;
    html! {
        svg.before viewBox=(format!("0 0 436 {}", n(high))) width="436" height=(n(high)) aria-hidden="true" focusable="false" {
            @for second in 0..=(LATELY_MS / 1_000.0) as u32 {
                line.grid x1=(n(x(f64::from(second) * 1e3))) x2=(n(x(f64::from(second) * 1e3))) y1="2" y2=(n(high - 18.0)) {}
            }
            @for (at, phone) in phones.iter().enumerate() {
                @let y = 12.0 + at as f64 * 20.0;
                g data-shown=(phone.lately.iter().map(|it| format!("{:.0}", it.before_ms)).collect::<Vec<_>>().join(" ")) {
                    text x="0" y=(n(y + 4.0)) { (phone.who.chars().take(13).collect::<String>()) }
                    @for it in &phone.lately {
                        @let tall = if it.late_ms > LATE_MS { 8.0 } else { 4.0 };
                        rect class=(if it.late_ms > LATE_MS { "broke" } else { "dot" }) x=(n(x(it.before_ms) - 1.5)) y=(n(y - tall)) width="3" height=(n(tall * 2.0)) {}
                    }
                }
            }
            line.axis x1=(n(x(0.0))) x2=(n(x(0.0))) y1="0" y2=(n(high - 16.0)) {}
            text.soft x=(n(x(LATELY_MS))) y=(n(high - 3.0)) text-anchor="middle" { "8 s before" }
            text.soft x=(n(x(0.0))) y=(n(high - 3.0)) text-anchor="end" { "the call" }
        }
    }
}

/// A coordinate: a tenth of a point is finer than any printer.
fn n(value: f64) -> String {
    format!("{value:.1}")
}
