//! The scenarios of a member that are written by hand: what has gone wrong once, or would be the worst.

use holdfast::wire::Back;

use crate::member_director::{AHEAD, Scenario};
use crate::member_model::Step;

/// All of them.
pub(crate) fn by_hand() -> Vec<Scenario> {
    [taps(), lines(), cues()].into_iter().flatten().collect()
}

/// A tap is never lost.
fn taps() -> Vec<Scenario> {
    vec![
        linked(
            "a tap is held and then written",
            [
                (100_200, tap("a")),
                (110_000, answer("a", "held")),
                (120_000, answer("a", "written")),
                (900_000, pulse()),
            ],
        ),
        linked(
            "a tap that is held and not written comes with the next link",
            [(100_200, tap("a")), (110_000, answer("a", "held")), (200_300, Step::Close)]
                .into_iter()
                .chain(again(500_700))
                .chain([(510_000, answer("a", "written")), (900_000, pulse())]),
        ),
        linked(
            "a tap that nobody answers is sent again and said to be untold",
            [
                (100_200, tap("a")),
                (900_000, pulse()),
                (1_700_000, pulse()),
                (1_800_000, answer("a", "held")),
                (2_500_000, pulse()),
            ],
        ),
        linked(
            "five taps in a fright are one",
            (0..5).map(|n| (100_200 + n * 60_000, tap(&format!("a{n}")))).chain([(500_000, answer("a0", "held"))]),
        ),
        linked(
            "a tap without a link dials at once and comes with the key",
            [
                (200_300, Step::Close),
                (210_200, tap("a")),
                (230_700, Step::Open),
                (240_000, Step::Welcome { generation: 1, stage: "running", moved: 0 }),
                (250_000, answer("a", "late")),
            ],
        ),
        linked(
            "a tap outlives the page",
            [
                (100_200, tap("a")),
                (150_400, Step::Reload),
                (200_700, Step::Open),
                (210_000, answer("a", "held")),
                (220_000, Step::Welcome { generation: 2, stage: "held", moved: 0 }),
                (230_000, answer("a", "written")),
            ],
        ),
    ]
}

/// What becomes of a line, and of a key.
fn lines() -> Vec<Scenario> {
    vec![
        linked(
            "a page that was closed for another keeps what is not written and holds when it is tapped",
            [
                (100_000, tap("a")),
                (150_000, answer("a", "held")),
                (200_000, Step::Goodbye { back: Back::WhenAsked }),
                (2_000_200, tap("b")),
                (2_050_700, Step::Open),
                (2_060_000, answer("a", "written")),
                (2_061_000, answer("b", "held")),
                (2_070_000, Step::Welcome { generation: 2, stage: "held", moved: 0 }),
                (2_080_000, answer("b", "written")),
            ],
        ),
        linked(
            "a key that was replaced holds once more",
            [
                (100_000, Step::Goodbye { back: Back::Never }),
                (200_200, tap("a")),
                (250_700, Step::Open),
                (260_000, answer("a", "held")),
                (900_000, Step::Refused),
                (2_000_200, tap("b")),
                (2_050_700, Step::Open),
                (2_100_000, Step::Refused),
                (9_000_000, Step::Freeze),
            ],
        ),
        linked(
            "a refusal that is held back for five seconds is heard",
            [(200_300, Step::Close), (400_700, Step::Open), (5_400_000, Step::Refused), (20_000_000, Step::Freeze)],
        ),
        linked(
            "a line that does not open and one that does not answer",
            [
                (200_300, Step::Close),
                (5_000_700, Step::Open),
                (16_000_700, Step::Open),
                (16_100_000, Step::Welcome { generation: 1, stage: "idle", moved: 0 }),
            ],
        ),
        linked(
            "seven reasons are seven taps, and the seventh follows the key",
            (0..7)
                .map(|n| {
                    (
                        100_200 + n * 10_000,
                        Step::Tap {
                            tap: format!("a{n}"),
                            reason: Some(
                                ["one", "two", "three", "four", "five", "six", "seven"]
                                    [usize::try_from(n).unwrap_or(0)],
                            ),
                        },
                    )
                })
                .chain([(400_300, Step::Close)])
                .chain(again(700_700))
                .chain([(800_000, answer("a6", "held"))]),
        ),
    ]
}

/// A cue comes out once, at its time, or says that it is late.
fn cues() -> Vec<Scenario> {
    vec![
        linked(
            "a cue is shown at its time, once, and corrected",
            [
                (20_000, cue_due(1, 300_500)),
                (30_000, cue_due(1, 300_500)),
                (40_000, cue_due(1, 400_500)),
                (800_000, pulse()),
                (900_000, cue_due(1, 400_500)),
            ],
        ),
        linked(
            "a cue that comes late is shown late, and not over a newer one",
            [(600_000, pulse()), (700_000, cue_due(2, 699_500)), (710_000, cue_due(1, 500_500))],
        ),
        linked(
            "a stop kills what waits, before and after it",
            [
                (20_000, cue_due(1, 300_500)),
                (100_000, Step::Stop { generation: 1 }),
                (110_000, cue_due(2, 400_500)),
                (900_000, Step::Pulse { generation: 2 }),
            ],
        ),
        linked(
            "a tap silences what waits until it is answered, a step too",
            [
                (20_000, cue_due(1, 300_500)),
                (100_200, tap("a")),
                (110_000, Step::Cue { generation: 1, cue: 2, due: None, step: Some(2) }),
                (500_000, answer("a", "late")),
            ],
        ),
        linked(
            "what was shown is shown again in silence over a new link, but anew by another server",
            [(20_000, Step::Cue { generation: 1, cue: 1, due: None, step: Some(1) }), (100_300, Step::Close)]
                .into_iter()
                .chain(again(400_700))
                .chain([
                    (420_000, Step::Cue { generation: 1, cue: 1, due: None, step: Some(1) }),
                    (500_300, Step::Close),
                    (900_700, Step::Open),
                    (910_000, Step::Welcome { generation: 1, stage: "running", moved: -400_000_000 }),
                    (920_000, Step::Cue { generation: 1, cue: 1, due: None, step: Some(1) }),
                ]),
        ),
        linked(
            "a frozen page is late, and lost when it was silent for too long",
            [
                (20_000, cue_due(1, 300_500)),
                (700_000, Step::Freeze),
                (710_000, cue_due(2, 1_000_500)),
                (2_500_000, Step::Freeze),
                (2_600_200, tap("a")),
            ],
        ),
        linked(
            "a machine that slept finds the time again",
            [(20_000, cue_due(1, 800_500)), (100_600, Step::Sleep { length: 400_000 }), (900_000, pulse())],
        ),
    ]
}

/// A scenario that begins with a good link in generation 1, 10 ms after the page was opened.
fn linked(name: &str, steps: impl IntoIterator<Item = (i64, Step)>) -> Scenario {
    let begin = [(5_700, Step::Open), (10_000, Step::Welcome { generation: 1, stage: "running", moved: 0 })];
    Scenario { name: name.into(), chance: 0.5, steps: begin.into_iter().chain(steps).collect() }
}

fn tap(name: &str) -> Step {
    Step::Tap { tap: name.into(), reason: None }
}

fn answer(tap: &str, outcome: &'static str) -> Step {
    Step::Answer { tap: tap.into(), outcome }
}

fn cue_due(cue: u32, due: i64) -> Step {
    Step::Cue { generation: 1, cue, due: Some(due + AHEAD), step: None }
}

/// The pulse of a server in generation 1.
fn pulse() -> Step {
    Step::Pulse { generation: 1 }
}

/// The line opens again, and the server lets the member in.
fn again(at: i64) -> [(i64, Step); 2] {
    [(at, Step::Open), (at + 300, Step::Welcome { generation: 1, stage: "running", moved: 0 })]
}
