//! Pictures of moves: small plain figures, computed from what the vocabulary says of each word. A figure shows the body
//! that is attacked, what comes and which way, where it goes, what stands in its way or how the body gets out of it; where
//! both bodies matter, both from the side; where somebody acts alone, that body or its feet.
//!
//! Nothing here knows one word from another but by its row, so the words of a company's own vocabulary have pictures as
//! well. What cannot be computed has none: never a wrong picture. Where the places and proportions of the drawing come
//! from: common practice of notation and instruction sheets, no source; they are numbers of taste.
//!
//! A move goes through three hands: `reading` makes of its rows a `scene`, what is shown; `front`, `edge`, `pair`
//! and `own` give it places in a square of 120 units; `svg` writes that down, and `words` says the scene as a sentence.

mod blade;
mod body;
mod drawn;
mod edge;
mod feet;
mod front;
mod many;
mod marks;
mod own;
mod pair;
mod place;
mod point;
mod reading;
mod scene;
mod shape;
mod stroke;
mod svg;
#[cfg(test)]
pub(crate) mod tests;
mod view;
mod words;

use crate::score::vocabulary::{Drawing, OwnPicture, Vocabulary};
use point::{SIDE, pt};
use scene::Scene;
use shape::Shape;
use svg::{Cut, WHOLE};

pub use drawn::{Armed, Drawn, DrawnReply};
pub use many::Pictures;
pub use svg::STYLE;
pub use view::View;

/// The picture of one move.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    shown: Shown,
    drawn: Drawn,
}

/// What a picture shows.
#[derive(Clone, Debug, PartialEq)]
enum Shown {
    /// What was computed.
    Scene(Scene),
    /// What the company has drawn, and its words for it.
    Company(Drawing, Option<String>),
}

impl Picture {
    /// The picture of a move in the words of that vocabulary; nothing when its rows do not say enough for one, or what
    /// they say cannot be seen in one: then there is only the word.
    pub fn of(vocabulary: &Vocabulary, planned: &Drawn) -> Option<Picture> {
        Picture::or_why(vocabulary, planned).ok()
    }

    /// The same.
    ///
    /// # Errors
    ///
    /// Why there is none: half a sentence, for whoever writes a vocabulary.
    pub fn or_why(vocabulary: &Vocabulary, planned: &Drawn) -> Result<Picture, &'static str> {
        let shown = match company(vocabulary, planned) {
            Some((drawing, own)) => Shown::Company(drawing.clone(), own.words.clone()),
            None => Shown::Scene(reading::read(vocabulary, planned)?),
        };
        Ok(Picture { shown, drawn: planned.clone() })
    }

    /// An SVG file that stands alone: its `<title>` is [`Picture::words`], its colours follow the reader's light or dark.
    /// The view box is `0 0 120 120`; it has no size of its own. The same picture is the same text, to the byte.
    pub fn svg(&self, view: View) -> String {
        self.drawn_as(view, WHOLE, true)
    }

    /// The same for a page that has [`STYLE`] among its rules, where many figures stand: without rules of its own.
    pub fn inline(&self, view: View) -> String {
        self.drawn_as(view, WHOLE, false)
    }

    /// As [`Picture::inline`], for sizes under some 60 pixels: where one place of a body matters, only what is about it is
    /// shown, so much larger.
    pub fn small(&self, view: View) -> String {
        self.drawn_as(view, self.cut(view), false)
    }

    /// The view box of [`Picture::small`], for a page that has the whole figure.
    pub fn near(&self, view: View) -> String {
        svg::view_box(self.cut(view))
    }

    fn cut(&self, view: View) -> Cut {
        let Shown::Scene(Scene::Front(front)) = &self.shown else { return WHOLE };
        let Some(cut) = front::cut(front) else { return WHOLE };
        let across = SIDE - cut.side - cut.corner.x;
        if view == View::Partner { Cut { corner: pt(across, cut.corner.y), ..cut } } else { cut }
    }

    /// The picture in words, for whoever hears the page: "cut to the right flank, in an arc, parried in 3, high, outside".
    pub fn words(&self) -> String {
        match &self.shown {
            Shown::Scene(scene) => words::words(scene, &self.drawn),
            Shown::Company(_, Some(words)) => words.clone(),
            Shown::Company(_, None) => words::named(&self.drawn),
        }
    }

    fn drawn_as(&self, view: View, cut: Cut, alone: bool) -> String {
        let words = self.words();
        match &self.shown {
            Shown::Scene(scene) => svg::svg(&shapes(scene, view), &words, view, cut, alone),
            Shown::Company(drawing, _) => svg::image(&drawing.address(), &words, alone),
        }
    }

    #[cfg(test)]
    fn scene(&self) -> &Scene {
        match &self.shown {
            Shown::Scene(scene) => scene,
            Shown::Company(..) => panic!("no built-in word has a drawing of a company"),
        }
    }

    #[cfg(test)]
    fn shapes(&self, view: View) -> Vec<Shape> {
        shapes(self.scene(), view)
    }
}

/// The company's own picture of a move: that of its action or, where that has none, of its reply.
fn company<'v>(vocabulary: &'v Vocabulary, planned: &Drawn) -> Option<(&'v Drawing, &'v OwnPicture)> {
    let action = vocabulary.actions.get(planned.action.as_str()).and_then(|row| row.picture.as_ref());
    let reply =
        planned.answer.as_ref().and_then(|answer| vocabulary.replies.get(answer.reply.as_str())?.picture.as_ref());
    let found = |own: &'v OwnPicture| Some((vocabulary.drawings.get(&own.file)?, own));
    action.and_then(found).or_else(|| reply.and_then(found))
}

fn shapes(scene: &Scene, view: View) -> Vec<Shape> {
    match scene {
        Scene::Front(front) if view == View::Partner => front::shapes(front).into_iter().map(Shape::mirrored).collect(),
        Scene::Front(front) => front::shapes(front),
        Scene::Edge(edge) => edge::shapes(edge),
        Scene::Pair(pair) => pair::shapes(pair),
        Scene::Own(own, mirrored) => own::shapes(*own, *mirrored),
    }
}
