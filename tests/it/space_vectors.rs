//! Geometry against shapely 2.2.0 (GEOS 3.14.1) and scipy 1.17.1 on 4,500 cases made by chance (`tests/vectors/space.py`).

use holdfast::score::model::{Arc, Point, Way as Turning};
use holdfast::stage::nearest::{Vec3, least_below, passing, segment_to_segment, segments_in_space};
use holdfast::stage::sight::{Eye, Gap, Screen, Shape};
use holdfast::stage::{Outline, Sweep, Vec2, Way};
use holdfast::units::Metres;

const CASES: &str = include_str!("../vectors/space.txt");

/// The numbers of a kind's cases, and what is expected.
fn cases(kind: &str) -> impl Iterator<Item = (Vec<f64>, Vec<f64>)> {
    let numbers = |text: &str| text.split_whitespace().map(|it| it.parse().unwrap()).collect::<Vec<f64>>();
    let own = CASES.lines().filter_map(move |line| line.strip_prefix(kind)?.strip_prefix(' '));
    own.map(move |line| line.split_once('|').unwrap()).map(move |(given, expected)| (numbers(given), numbers(expected)))
}

fn points(numbers: &[f64]) -> Vec<Vec2> {
    numbers.chunks(2).map(|pair| Vec2::new(pair[0], pair[1])).collect()
}

fn near(found: f64, expected: f64, tolerance: f64, case: &[f64]) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected}: {case:?}");
}

#[test]
fn segments_are_as_far_apart_as_geos_says() {
    let mut seen = 0;
    for (given, expected) in cases("segments") {
        let at = points(&given);
        near(segment_to_segment((at[0], at[1]), (at[2], at[3])), expected[0], 1e-7, &given);
        // The same as two who walk: one stands, the other goes past.
        if at[0] == at[1] {
            near(passing(at[2] - at[0], at[3] - at[0], 0.0, 1.0).value, expected[0], 1e-7, &given);
        }
        seen += 1;
    }
    assert_eq!(seen, 600);
}

#[test]
fn segments_in_space_are_as_far_apart_as_scipy_says() {
    for (given, expected) in cases("space") {
        let at: Vec<Vec3> = given.chunks(3).map(|it| [it[0], it[1], it[2]]).collect();
        near(segments_in_space((at[0], at[1]), (at[2], at[3])), expected[0], 2e-4, &given);
    }
}

#[test]
fn a_point_is_in_an_outline_and_as_far_from_it_as_geos_says() {
    for (given, expected) in cases("point") {
        let at = points(&given);
        let outline = Outline::new(at[1..].to_vec()).unwrap();
        assert_eq!(outline.contains(at[0]), expected[0] == 1.0, "{given:?}");
        near(outline.distance(at[0]), expected[1], 1e-7, &given);
        near(outline.rim(at[0]), expected[2], 1e-7, &given);
        assert!(outline.distance_at_least(at[0]) <= expected[1] + 1e-9, "{given:?}");
    }
}

#[test]
fn two_outlines_are_as_far_apart_as_geos_says() {
    for (given, expected) in cases("outlines") {
        let count = given[0] as usize * 2;
        let (one, other) = given[1..].split_at(count);
        let outline = Outline::new(points(one)).unwrap();
        near(outline.distance_of(&points(other)), expected[0], 1e-7, &given);
    }
}

#[test]
fn an_outline_that_crosses_itself_is_none() {
    let (mut sound, mut crossed) = (0, 0);
    for (given, expected) in cases("simple") {
        let simple = Outline::new(points(&given)).is_ok();
        assert_eq!(simple, expected[0] == 1.0, "{given:?}");
        if simple { sound += 1 } else { crossed += 1 }
    }
    assert!(sound > 20 && crossed > 20, "{sound} and {crossed}");
}

/// Along a circle there is no closed form for two who both move: the bound is below what scipy finds by at most what it may.
#[test]
fn whoever_goes_round_is_as_near_as_scipy_says_and_never_missed() {
    for (given, expected) in cases("round") {
        let at = points(&given[..4]);
        let (middle, first, turn, long) = (at[0], at[1], given[4], given[5]);
        let ends = points(&given[6..]);
        let last = middle + Vec2::along((first - middle).bearing() + turn) * middle.distance(first);
        let centre = Point { x: Metres(middle.x), y: Metres(middle.y) };
        let way = Way::of_walk(first, last, Some((middle, Arc { centre, way: Some(Turning::Clockwise) })));
        let apart = |time: f64| way.at(time / long).distance(ends[0].toward(ends[1], time / long));
        let rate = (way.length() + ends[0].distance(ends[1])) / long;
        let least = least_below((0.0, long), rate * 1.000_001, 1e9, 0.005, apart).unwrap().value;
        assert!(least <= expected[0] + 1e-6 && least >= expected[0] - 0.006, "{least} for {}: {given:?}", expected[0]);
        near(way.length(), middle.distance(first) * turn.to_radians(), 1e-9, &given);
    }
}

#[test]
fn what_a_blow_sweeps_is_as_far_away_as_geos_says() {
    for (given, expected) in cases("swept") {
        let (from, at) = (Vec2::new(given[0], given[1]), Vec2::new(given[6], given[7]));
        let sweep = Sweep {
            of_move: 0,
            span: (0.0, 1.0),
            beat: 0.5,
            radius: given[5],
            angles: (given[3], given[4]),
            heights: (0.0, 1.0),
            armed: true,
        };
        near(sweep.distance(from, given[2], at), expected[0], 1e-4, &given);
        // The polygon around it leaves nothing of it out, and is a hair larger.
        let around = Outline::new(vec![at, at + Vec2::new(0.002, 0.0), at + Vec2::new(0.0, 0.002)]).unwrap();
        let by_corners = around.distance_of(&sweep.corners(from, given[2]));
        assert!(by_corners <= expected[0] + 1e-4 && by_corners >= expected[0] - 0.022, "{by_corners}: {given:?}");
    }
}

/// What of a gap is seen past bodies and a piece of the set, against the cut of shapely's polygons with the triangle of the lines
/// of sight; a circle there has 2,048 corners.
#[test]
fn a_gap_is_seen_as_wide_as_geos_says() {
    let (mut seen, mut partly) = (0, 0);
    for (given, expected) in cases("sight") {
        let at = points(&given[..4]);
        let gap = Gap { body: at[0], blade: at[1], high: given[4] };
        let eye = Eye { at: Vec2::new(given[5], given[6]), high: given[7] };
        let (bodies, rest) = given[9..].split_at(given[8] as usize * 5);
        let mut screens: Vec<Screen<'_>> = bodies
            .chunks(5)
            .map(|it| {
                let shape = Shape::Round { middle: Vec2::new(it[0], it[1]), radius: it[2] };
                Screen { shape, low: it[3], high: it[4] }
            })
            .collect();
        let piece = (rest.len() > 1).then(|| Outline::new(points(&rest[1..])).unwrap());
        screens.extend(piece.iter().map(|it| Screen { shape: Shape::Outline(it), low: 0.0, high: rest[0] }));
        let wide = gap.seen(eye, &screens);
        near(wide, expected[0], 2e-4, &given);
        seen += 1;
        partly += i32::from(wide > 1e-3 && wide < gap.seen(eye, &[]) * 0.99);
        // A taller body never shows more.
        for taller in 0..screens.len() {
            let mut screens = screens.clone();
            screens[taller].high += 0.3;
            assert!(gap.seen(eye, &screens) <= wide + 1e-9, "{given:?}");
        }
        // Turned, and seen from the other end, it is the same.
        let turned = |it: Vec2| {
            let (sin, cos) = given[0].sin_cos();
            Vec2::new(it.x * cos - it.y * sin + 3.0, it.x * sin + it.y * cos)
        };
        let outline =
            piece.as_ref().map(|it| Outline::new(it.corners().iter().map(|at| turned(*at)).collect()).unwrap());
        let screens: Vec<Screen<'_>> = screens
            .iter()
            .map(|it| match it.shape {
                Shape::Round { middle, radius } => {
                    Screen { shape: Shape::Round { middle: turned(middle), radius }, ..*it }
                }
                Shape::Outline(_) => Screen { shape: Shape::Outline(outline.as_ref().unwrap()), ..*it },
            })
            .collect();
        let gap = Gap { body: turned(gap.blade), blade: turned(gap.body), high: gap.high };
        near(gap.seen(Eye { at: turned(eye.at), high: eye.high }, &screens), wide, 1e-9, &given);
    }
    assert!(seen == 1200 && partly > 200, "{seen} and {partly}");
}
