//! What must hold of every picture, and a contact sheet to look at: `HOLDFAST_WRITE=1 cargo test --lib figure` writes
//! `target/figures.html`.

mod company;
mod every;
mod geometry;
mod meaning;
mod sheet;
