//! A figure as SVG text. Colours are the page's: each shape has a class, and the classes take the page's variables, with
//! others behind them for a file that stands alone. Numbers have one decimal; the same figure is the same text.

use std::fmt::Write as _;

use super::point::{Pt, SIDE, pt};
use super::shape::{Ends, Form, Shape, Whose};
use super::view::View;

/// The rules that figures need, once for a page. Body, ink, you and ground are the tokens `--line`, `--ink`, `--you` and
/// `--ground` of the page; without them they are right in light and in dark.
pub const STYLE: &str = ".figure .body{color:var(--line,#66717e)}.figure .ink{color:var(--ink,#14171c)}\
.figure .you{color:var(--you,#00507d)}.figure .ground{color:var(--ground,#faf8f4)}\
@media(prefers-color-scheme:dark){.figure .body{color:var(--line,#6b7787)}.figure .ink{color:var(--ink,#f3f0e8)}\
.figure .you{color:var(--you,#7fd4ff)}.figure .ground{color:var(--ground,#0b0e13)}}\
.figure *{fill:currentColor;stroke:none;stroke-linejoin:round}\
.figure .l{fill:none;stroke:currentColor;stroke-linecap:round}.figure .c{stroke-linecap:butt;stroke-linejoin:miter}\
.figure .d{stroke-dasharray:4.2 3.4}.figure .o{stroke-dasharray:2.6 2.8}.figure .r{stroke:currentColor}\
.figure .own{filter:grayscale(1);mix-blend-mode:multiply}\
@media(prefers-color-scheme:dark){.figure .own{filter:grayscale(1) invert(1);mix-blend-mode:screen}}";

/// The part of the square that is shown: its upper left corner, and its side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cut {
    pub(super) corner: Pt,
    pub(super) side: f64,
}

/// The whole square.
pub(super) const WHOLE: Cut = Cut { corner: pt(0.0, 0.0), side: SIDE };

/// The figure as a whole; `alone` brings its rules with it.
pub(super) fn svg(shapes: &[Shape], words: &str, view: View, cut: Cut, alone: bool) -> String {
    let mut out = head(words, cut, alone);
    let mut open = "";
    for shape in shapes {
        let class = class(shape.whose, view);
        if class != open {
            let end = if open.is_empty() { "" } else { "</g>" };
            let _ = write!(out, "{end}<g class=\"{class}\">");
            open = class;
        }
        form(&mut out, &shape.form);
    }
    out.push_str(if open.is_empty() { "</svg>" } else { "</g></svg>" });
    out
}

/// What every figure begins with; `alone` brings the rules with it.
fn head(words: &str, cut: Cut, alone: bool) -> String {
    let rules = if alone { format!("<style>{STYLE}</style>") } else { String::new() };
    let (view_box, words) = (view_box(cut), escaped(words));
    let open = "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"figure\" role=\"img\"";
    format!("{open} viewBox=\"{view_box}\"><title>{words}</title>{rules}")
}

/// A company's own drawing in the figure's square. What it is drawn in is the page's: dark lines on a light ground, or on none,
/// become light lines in the dark.
pub(super) fn image(address: &str, words: &str, alone: bool) -> String {
    let mut out = head(words, WHOLE, alone);
    let _ = write!(out, "<image class=\"own\" width=\"{SIDE}\" height=\"{SIDE}\" href=\"{address}\"/></svg>");
    out
}

/// A view box as SVG writes it.
pub(super) fn view_box(cut: Cut) -> String {
    format!("{} {side} {side}", p(cut.corner), side = n(cut.side))
}

fn class(whose: Whose, view: View) -> &'static str {
    match (whose, view) {
        (Whose::Body, _) => "body",
        (Whose::Ground, _) => "ground",
        (Whose::Doer, View::Doer) | (Whose::Partner, View::Partner) => "you",
        (Whose::Doer | Whose::Partner | Whose::Sign, _) => "ink",
    }
}

fn form(out: &mut String, form: &Form) {
    // Writing to a string does not fail.
    let _ = match form {
        Form::Line { points, width, ends } => {
            let class = match ends {
                Ends::Round => "l",
                Ends::Cut => "l c",
                Ends::Dotted => "l c o",
            };
            write!(out, "<path class=\"{class}\" stroke-width=\"{}\" d=\"{}\"/>", n(*width), path(points))
        }
        Form::Area { points, round } if *round > 0.0 => {
            write!(out, "<path class=\"r\" stroke-width=\"{}\" d=\"{}Z\"/>", n(*round), path(points))
        }
        Form::Area { points, .. } => write!(out, "<path d=\"{}Z\"/>", path(points)),
        Form::Disc { centre, radius } => {
            write!(out, "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>", n(centre.x), n(centre.y), n(*radius))
        }
        Form::Ring { centre, radius, width, dashed } => {
            let class = if *dashed { "l c d" } else { "l" };
            let (x, y, r, width) = (n(centre.x), n(centre.y), n(*radius), n(*width));
            write!(out, "<circle class=\"{class}\" stroke-width=\"{width}\" cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>")
        }
        Form::Curve { from, curves, width } => {
            let curves: String = curves.iter().map(|[a, b, c]| format!("C{} {} {}", p(*a), p(*b), p(*c))).collect();
            match width {
                Some(width) => {
                    write!(out, "<path class=\"l c\" stroke-width=\"{}\" d=\"M{}{curves}\"/>", n(*width), p(*from))
                }
                None => write!(out, "<path d=\"M{}{curves}Z\"/>", p(*from)),
            }
        }
    };
}

fn path(points: &[Pt]) -> String {
    let points: Vec<String> = points.iter().map(|point| p(*point)).collect();
    format!("M{}", points.join("L"))
}

fn p(point: Pt) -> String {
    format!("{} {}", n(point.x), n(point.y))
}

/// A number with one decimal at most, and no minus before nothing.
fn n(number: f64) -> String {
    let tenths = (number * 10.0).round() / 10.0;
    if tenths == 0.0 { "0".to_owned() } else { tenths.to_string() }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
