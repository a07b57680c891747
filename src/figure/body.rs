//! Bodies: skeletons by numbers, one for each posture, and how a skeleton is painted. No face, no outline; limbs are eight
//! to ten units wide. The numbers are drawn by hand on the square of 120; a body that stands is 100 high.

use super::point::{Pt, pt};
use super::shape::{Shape, Whose, disc, line, soft_area};

/// A body. Of two limbs the second is the one on the side that the blow comes from (front), or the near one (profile).
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Skeleton {
    pub(super) head: Pt,
    pub(super) radius: f64,
    pub(super) shoulders: [Pt; 2],
    pub(super) elbows: [Pt; 2],
    pub(super) hands: [Pt; 2],
    pub(super) hips: [Pt; 2],
    pub(super) knees: [Pt; 2],
    pub(super) feet: [Pt; 2],
    /// Whether the legs are drawn: a body that is shown from the waist up has none.
    pub(super) legs: bool,
    /// How much larger than a whole body it is drawn.
    pub(super) scale: f64,
}

type Row = [f64; 2];

/// A skeleton from its joints: head, then shoulders, elbows, hands, hips, knees, feet, the far one first.
const fn skeleton(head: Row, joints: [[Row; 2]; 6]) -> Skeleton {
    const fn both(row: [Row; 2]) -> [Pt; 2] {
        [pt(row[0][0], row[0][1]), pt(row[1][0], row[1][1])]
    }
    Skeleton {
        head: pt(head[0], head[1]),
        radius: 9.5,
        shoulders: both(joints[0]),
        elbows: both(joints[1]),
        hands: both(joints[2]),
        hips: both(joints[3]),
        knees: both(joints[4]),
        feet: both(joints[5]),
        legs: true,
        scale: 1.0,
    }
}

/// On both feet, from the front.
pub(super) const fn stand() -> Skeleton {
    skeleton(
        [60.0, 25.0],
        [
            [[48.0, 42.0], [72.0, 42.0]],
            [[41.0, 57.0], [79.0, 57.0]],
            [[38.0, 72.0], [82.0, 72.0]],
            [[54.0, 73.0], [66.0, 73.0]],
            [[51.0, 92.0], [69.0, 92.0]],
            [[49.0, 110.0], [71.0, 110.0]],
        ],
    )
}

/// Deep in the knees.
pub(super) const fn crouch() -> Skeleton {
    skeleton(
        [60.0, 63.0],
        [
            [[48.0, 79.0], [72.0, 79.0]],
            [[38.0, 89.0], [82.0, 89.0]],
            [[46.0, 99.0], [74.0, 99.0]],
            [[54.0, 96.0], [66.0, 96.0]],
            [[34.0, 92.0], [86.0, 92.0]],
            [[40.0, 110.0], [80.0, 110.0]],
        ],
    )
}

/// Off the floor, the knees drawn up.
pub(super) const fn jump() -> Skeleton {
    skeleton(
        [60.0, 17.0],
        [
            [[48.0, 32.0], [72.0, 32.0]],
            [[35.0, 26.0], [85.0, 26.0]],
            [[27.0, 12.0], [93.0, 12.0]],
            [[55.0, 56.0], [65.0, 56.0]],
            [[38.0, 64.0], [82.0, 64.0]],
            [[48.0, 78.0], [72.0, 78.0]],
        ],
    )
}

/// On one leg, the one on the side of the blow drawn up.
pub(super) const fn lifted_leg() -> Skeleton {
    let mut body = stand();
    body.knees[1] = pt(84.0, 62.0);
    body.feet[1] = pt(72.0, 79.0);
    body.hands[1] = pt(87.0, 20.0);
    body.elbows[1] = pt(82.0, 34.0);
    body.hands[0] = pt(27.0, 60.0);
    body.elbows[0] = pt(38.0, 55.0);
    body
}

/// Upright on one knee.
pub(super) const fn kneel() -> Skeleton {
    skeleton(
        [60.0, 46.0],
        [
            [[48.0, 62.0], [72.0, 62.0]],
            [[42.0, 75.0], [78.0, 75.0]],
            [[42.0, 89.0], [80.0, 88.0]],
            [[54.0, 90.0], [66.0, 90.0]],
            [[50.0, 110.0], [80.0, 92.0]],
            [[38.0, 111.0], [79.0, 110.0]],
        ],
    )
}

/// Flat on the floor.
pub(super) const fn fallen() -> Skeleton {
    skeleton(
        [18.0, 102.0],
        [
            [[33.0, 99.0], [33.0, 107.0]],
            [[46.0, 91.0], [42.0, 110.0]],
            [[57.0, 99.0], [30.0, 111.0]],
            [[62.0, 102.0], [62.0, 108.0]],
            [[80.0, 96.0], [82.0, 109.0]],
            [[94.0, 109.0], [104.0, 110.0]],
        ],
    )
}

/// On both feet, from the side, looking to the picture's left.
pub(super) const fn profile() -> Skeleton {
    skeleton(
        [58.0, 25.0],
        [
            [[60.0, 43.0], [60.0, 43.0]],
            [[52.0, 58.0], [63.0, 58.0]],
            [[45.0, 69.0], [56.0, 71.0]],
            [[63.0, 73.0], [63.0, 73.0]],
            [[69.0, 92.0], [54.0, 91.0]],
            [[76.0, 110.0], [52.0, 110.0]],
        ],
    )
}

/// From the side on one knee, looking to the picture's left.
pub(super) const fn profile_kneel() -> Skeleton {
    skeleton(
        [58.0, 46.0],
        [
            [[60.0, 63.0], [60.0, 63.0]],
            [[52.0, 76.0], [55.0, 77.0]],
            [[44.0, 84.0], [47.0, 86.0]],
            [[63.0, 90.0], [63.0, 90.0]],
            [[64.0, 110.0], [46.0, 92.0]],
            [[80.0, 111.0], [45.0, 110.0]],
        ],
    )
}

/// Somebody who rolls: the knees drawn to the chest, the head down.
pub(super) fn rolled(centre: Pt) -> Vec<Shape> {
    let head = centre + pt(14.0, -4.0);
    vec![
        disc(Whose::Body, centre, 19.0),
        disc(Whose::Ground, head, 11.5),
        disc(Whose::Body, head, 9.5),
        line(Whose::Body, 9.0, &[centre + pt(-8.0, 12.0), centre + pt(6.0, 17.0), centre + pt(20.0, 14.0)]),
    ]
}

impl Skeleton {
    /// Every joint in another place.
    pub(super) fn map(mut self, at: impl Fn(Pt) -> Pt) -> Skeleton {
        self.head = at(self.head);
        for pair in
            [&mut self.shoulders, &mut self.elbows, &mut self.hands, &mut self.hips, &mut self.knees, &mut self.feet]
        {
            *pair = pair.map(&at);
        }
        self
    }

    /// Moved as a whole.
    pub(super) fn moved(self, x: f64, y: f64) -> Skeleton {
        self.map(|joint| joint + pt(x, y))
    }

    /// Drawn larger: `from` of it comes to lie at `to`.
    pub(super) fn scaled(mut self, scale: f64, from: Pt, to: Pt) -> Skeleton {
        self.radius *= scale;
        self.scale *= scale;
        self.map(|joint| to + (joint - from) * scale)
    }

    /// Everything above the feet turned about them, in degrees with the clock.
    pub(super) fn tilted(self, about: Pt, degrees: f64) -> Skeleton {
        let feet = self.feet;
        let mut tilted = self.map(|joint| joint.turned(about, degrees));
        tilted.feet = feet;
        tilted
    }

    /// The middle between the hips.
    pub(super) fn hip(&self) -> Pt {
        self.hips[0].towards(self.hips[1], 0.5)
    }

    /// The middle between the shoulders.
    pub(super) fn collar(&self) -> Pt {
        self.shoulders[0].towards(self.shoulders[1], 0.5)
    }

    /// The shapes of the body. The arm that is `led` is drawn by whoever leads it.
    pub(super) fn painted(&self, led: [bool; 2]) -> Vec<Shape> {
        let (limb, arm) = (10.0 * self.scale, 8.0 * self.scale);
        let mut shapes = vec![disc(Whose::Body, self.head, self.radius), self.trunk()];
        for side in [0, 1] {
            if self.legs {
                let leg = [self.hips[side], self.knees[side], self.feet[side]];
                shapes.push(line(Whose::Body, limb, &leg));
            }
            if !led[side] {
                shapes.push(self.arm(side, arm));
            }
        }
        shapes
    }

    fn trunk(&self) -> Shape {
        let [left, right] = self.shoulders;
        let [low_left, low_right] = self.hips;
        if (right - left).length() < 1.0 {
            return line(Whose::Body, 16.0 * self.scale, &[left, low_left]);
        }
        soft_area(Whose::Body, 8.0 * self.scale, &[left, right, low_right, low_left])
    }

    fn arm(&self, side: usize, width: f64) -> Shape {
        line(Whose::Body, width, &[self.shoulders[side], self.elbows[side], self.hands[side]])
    }

    /// An arm that reaches for a point, with the ground of the page about it, so that it is seen before the trunk.
    pub(super) fn reaching(&self, side: usize, hand: Pt, bend: Pt) -> Vec<Shape> {
        let shoulder = self.shoulders[side];
        let points = [shoulder, shoulder.towards(hand, 0.5) + bend, hand];
        let width = 8.0 * self.scale;
        vec![line(Whose::Ground, width + 3.0, &points[1..]), line(Whose::Body, width, &points)]
    }
}
