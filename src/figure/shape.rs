//! What a figure consists of: lines, areas, discs, rings and curves, each with whose it is. Nothing here knows a colour.

use super::point::{Pt, pt};

/// Whose a shape is. The page gives it its colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// The body, and the floor it stands on.
    Body,
    /// The ground of the page, between two shapes that must stay apart.
    Ground,
    /// What the one does who acts.
    Doer,
    /// What the one does who answers.
    Partner,
    /// What belongs to neither: the target, the gap, the meeting of blades.
    Sign,
}

/// A form with its points.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Form {
    /// Straight lines from point to point, so wide, with round ends or cut off.
    Line { points: Vec<Pt>, width: f64, ends: Ends },
    /// A filled area; `round` is how wide its edge is drawn, so that its corners are round.
    Area { points: Vec<Pt>, round: f64 },
    /// A filled disc.
    Disc { centre: Pt, radius: f64 },
    /// A ring.
    Ring { centre: Pt, radius: f64, width: f64, dashed: bool },
    /// Cubic curves from a point on: filled without a width.
    Curve { from: Pt, curves: Vec<[Pt; 3]>, width: Option<f64> },
}

/// How a line ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// In half a circle.
    Round,
    /// Cut off.
    Cut,
    /// Cut off, and the line is dotted.
    Dotted,
}

/// A form, and whose it is.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Shape {
    pub(super) whose: Whose,
    pub(super) form: Form,
}

/// A line with round ends.
pub(super) fn line(whose: Whose, width: f64, points: &[Pt]) -> Shape {
    Shape { whose, form: Form::Line { points: points.to_vec(), width, ends: Ends::Round } }
}

/// A line that is cut off at its ends.
pub(super) fn bar(whose: Whose, width: f64, points: &[Pt]) -> Shape {
    Shape { whose, form: Form::Line { points: points.to_vec(), width, ends: Ends::Cut } }
}

/// A dotted line.
pub(super) fn dots(whose: Whose, width: f64, points: &[Pt]) -> Shape {
    Shape { whose, form: Form::Line { points: points.to_vec(), width, ends: Ends::Dotted } }
}

/// An area with sharp corners.
pub(super) fn area(whose: Whose, points: &[Pt]) -> Shape {
    Shape { whose, form: Form::Area { points: points.to_vec(), round: 0.0 } }
}

/// An area with round corners.
pub(super) fn soft_area(whose: Whose, round: f64, points: &[Pt]) -> Shape {
    Shape { whose, form: Form::Area { points: points.to_vec(), round } }
}

/// A disc.
pub(super) fn disc(whose: Whose, centre: Pt, radius: f64) -> Shape {
    Shape { whose, form: Form::Disc { centre, radius } }
}

/// A ring.
pub(super) fn ring(whose: Whose, centre: Pt, radius: f64, width: f64, dashed: bool) -> Shape {
    Shape { whose, form: Form::Ring { centre, radius, width, dashed } }
}

/// A curve that is drawn as a line.
pub(super) fn arc(whose: Whose, width: f64, from: Pt, curves: &[[Pt; 3]]) -> Shape {
    Shape { whose, form: Form::Curve { from, curves: curves.to_vec(), width: Some(width) } }
}

/// A curve that encloses an area.
pub(super) fn blade_of_curves(whose: Whose, from: Pt, curves: &[[Pt; 3]]) -> Shape {
    Shape { whose, form: Form::Curve { from, curves: curves.to_vec(), width: None } }
}

impl Shape {
    /// The same with every point in another place.
    pub(super) fn map(self, at: impl Fn(Pt) -> Pt) -> Shape {
        let all = |points: Vec<Pt>| points.into_iter().map(&at).collect();
        let form = match self.form {
            Form::Line { points, width, ends } => Form::Line { points: all(points), width, ends },
            Form::Area { points, round } => Form::Area { points: all(points), round },
            Form::Disc { centre, radius } => Form::Disc { centre: at(centre), radius },
            Form::Ring { centre, radius, width, dashed } => Form::Ring { centre: at(centre), radius, width, dashed },
            Form::Curve { from, curves, width } => {
                Form::Curve { from: at(from), curves: curves.into_iter().map(|curve| curve.map(&at)).collect(), width }
            }
        };
        Shape { form, ..self }
    }

    /// In the mirror of the square's upright middle.
    pub(super) fn mirrored(self) -> Shape {
        self.map(Pt::mirrored)
    }

    /// Its points.
    #[cfg(test)]
    pub(super) fn points(&self) -> Vec<Pt> {
        match &self.form {
            Form::Line { points, .. } | Form::Area { points, .. } => points.clone(),
            Form::Disc { centre, .. } | Form::Ring { centre, .. } => vec![*centre],
            Form::Curve { from, curves, .. } => {
                std::iter::once(*from).chain(curves.iter().flatten().copied()).collect()
            }
        }
    }
}

/// The floor.
pub(super) fn floor() -> Shape {
    bar(Whose::Body, 2.4, &[pt(8.0, 116.0), pt(112.0, 116.0)])
}
