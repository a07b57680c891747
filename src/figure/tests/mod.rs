//! What must hold of every picture, and a contact sheet to look at (`src/figure_sheet.rs` writes it).

mod company;
mod every;
mod geometry;
mod meaning;
mod score;
pub(crate) mod sheet;
